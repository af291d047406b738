"""The plan on paper: CSV files, a calendar in the open iCalendar format, and the forecast kept for review."""

from __future__ import annotations

from pathlib import Path
from zlib import crc32

import pandas as pd

from soiltrend import writing
from soiltrend.errors import SoiltrendError
from soiltrend.plan.core import Plan

PARTS = ("hold", "doses", "expected", "cautions", "binding", "purchase")
FORECAST = "expected"
OUT = "out"
LINE = 73
"""Octets of a line before it is folded; RFC 5545 allows 75 with the line's end."""

CONTROL = {**dict.fromkeys((*range(9), 11, 12, *range(14, 32), *range(127, 160))), 13: "\n"}
"""Signs that no text of a calendar may hold (RFC 5545, 3.1), and what stands in their place."""


def stem(season: str) -> str:
    """Return the beginning of the plan's file names.

    Examples
    --------
    >>> stem("spring 2027")
    'plan-spring-2027'
    """
    return f"plan-{season.replace(' ', '-')}"


def _escaped(text: str) -> str:
    """Return a text as RFC 5545 (3.3.11) wants it; signs that steer a device are none of it."""
    text = text.translate(CONTROL)
    for plain in ("\\", ";", ","):
        text = text.replace(plain, f"\\{plain}")
    return text.replace("\n", "\\n")


def _folded(line: str) -> str:
    """Return a content line folded after 73 octets, whole letters kept together (RFC 5545, 3.1)."""
    parts, size = [""], 0
    for letter in line:
        width = len(letter.encode("utf-8"))
        if size + width > LINE:
            parts.append("")
            size = 1
        parts[-1] += letter
        size += width
    return "\r\n ".join(parts)


def _event(dose: dict[str, object], number: int, plan: Plan) -> list[str]:
    day = pd.Timestamp(str(dose["date"]))
    own = f"{plan.garden}|{dose['bed']}|{dose['material']}|{day:%Y%m%d}"
    head = f"{dose['bed']}: {dose['material']}, {dose['kitchen']}"
    told = f"{float(str(dose['g_per_m2'])):.3g} g/m2. {dose['why']}"
    return [
        "BEGIN:VEVENT",
        f"UID:{stem(plan.season)}-{number}-{crc32(own.encode()):08x}@soiltrend",
        f"DTSTAMP:{plan.days.dressing:%Y%m%d}T000000Z",
        f"DTSTART;VALUE=DATE:{day:%Y%m%d}",
        f"DTEND;VALUE=DATE:{day + pd.Timedelta(days=1):%Y%m%d}",
        f"SUMMARY:{_escaped(head)}",
        f"DESCRIPTION:{_escaped(told)}",
        "END:VEVENT",
    ]


def calendar(plan: Plan) -> str:
    """Return the doses as a calendar that any calendar program reads (RFC 5545), one whole day each.

    Parameters
    ----------
    plan : Plan
        What :func:`soiltrend.plan` gave.
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//soiltrend//plan//EN", "CALSCALE:GREGORIAN"]
    for number, dose in enumerate(plan.doses.to_dict("records"), start=1):
        lines += _event({str(name): value for name, value in dose.items()}, number, plan)
    return "\r\n".join(map(_folded, [*lines, "END:VCALENDAR"])) + "\r\n"


def save_plan(plan: Plan, folder: str | Path) -> None:
    """Write a plan: each of its tables as CSV, unrounded, and the doses as a calendar.

    Parameters
    ----------
    plan : Plan
        What :func:`soiltrend.plan` gave.
    folder : str or Path
        Where to; made when it is not there. :func:`soiltrend.review` looks in the garden's
        ``out/plans``.

    Raises
    ------
    SoiltrendError
        When the place is a file, lies in a garden and not under its ``out/``, or cannot be written.
    """
    folder = Path(folder)
    if folder.is_file():
        raise SoiltrendError(f"'{folder.name}' is a file and no folder", remedy="Name a folder to write to")
    for part in PARTS:
        table: pd.DataFrame = getattr(plan, part)
        writing.table(folder / f"{stem(plan.season)}-{part}.csv", table)
    writing.lines(folder / f"{stem(plan.season)}.ics", calendar(plan))
