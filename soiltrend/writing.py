"""What the tool writes: aside first and then moved into place, and nowhere but under ``out/``.

A reader never sees half a file, and when the disk is full or the work is stopped what was there
stays as it was. Two runs at once write beside each other, and the last one's whole files stay.
Inside a garden's folder nothing is written but under its ``out/``: the other files are the
grower's own.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pandas as pd

from soiltrend.errors import SoiltrendError

FORMULA = re.compile(r"\s*[=+\-@＝＋－＠]|[\t\n]")
"""How a text begins that spreadsheet programs take for a formula (OWASP, "CSV Injection")."""

NUMBER = re.compile(r"[+-]?\d[\d.,]*(?:[eE][+-]?\d+)?\s?%?|-+|\+")
"""Texts that begin like a formula and are none: signed numbers, and marks of a missing value."""

PORTS = tuple(f"{port}{number}" for port in ("com", "lpt") for number in range(10))
RESERVED = ("con", "prn", "aux", "nul", *PORTS)
"""Names that no file may have on some systems, whatever its ending."""

LONGEST_NAME = 50
"""Letters of a file's name; systems allow 255 bytes, and a letter may take four."""


def file_name(name: str) -> str:
    """Return a name that every system takes as a file's: letters, digits and hyphens, not too long.

    Examples
    --------
    >>> file_name("K:Mg (charge), Brûlé"), file_name("../NUL"), file_name("?")
    ('k-mg-charge-brûlé', 'nul-', 'unnamed')
    """
    stem = re.sub(r"[\W_]+", "-", name.casefold())[:LONGEST_NAME].strip("-") or "unnamed"
    return f"{stem}-" if stem in RESERVED else stem


def file_names(names: list[str]) -> list[str]:
    """Return a file name for each name, numbered where names come out alike, so that all differ.

    Examples
    --------
    >>> file_names(["Bed", "bed", "bed 2"])
    ['bed', 'bed-2', 'bed-2-2']
    """
    taken: list[str] = []
    for stem in map(file_name, names):
        tries = (stem if turn == 1 else f"{stem}-{turn}" for turn in range(1, len(names) + 2))
        taken.append(next(name for name in tries if name not in taken))
    return taken


def plain_text(text: str) -> str:
    r"""Return a text as it goes into a table for spreadsheet programs: no formula.

    A text that would be taken for one gets an apostrophe before it, which such programs read as
    the sign of a text. Numbers are left as they are; every line break becomes a plain one, so that
    none can end a row.

    Examples
    --------
    >>> print(plain_text("=A1+1"), plain_text("-0.5"), plain_text("Hill"))
    '=A1+1 -0.5 Hill
    """
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    return f"'{plain}" if FORMULA.match(plain) and not NUMBER.fullmatch(plain.strip(" ")) else plain


def _garden_of(place: Path) -> Path | None:
    """Return the nearest folder above a place that is a garden's, links followed, or None."""
    return next((above.resolve() for above in place.parents if (above / "garden.toml").exists()), None)


def _within(path: Path) -> None:
    """Refuse a path in a garden's folder that does not lie under its ``out/``, links followed."""
    place = path.parent.resolve() / path.name
    for garden in (_garden_of(place), _garden_of(path.absolute())):
        if garden and not place.is_relative_to(garden / "out"):
            raise SoiltrendError(
                f"'{path}' does not lie under '{garden / 'out'}', and nothing else in a garden is written",
                remedy="Name a path under out/; if out/ is a link to another place, make it a folder",
            )


@contextmanager
def aside(path: str | Path) -> Iterator[Path]:
    """Give a path to write to, which becomes ``path`` when all went well and vanishes otherwise.

    Parameters
    ----------
    path : str or Path
        The file to be written; its folder is made when it is not there.

    Raises
    ------
    SoiltrendError
        When the path lies in a garden's folder and not under its ``out/``, or cannot be written:
        the disk is full, the folder may not be written to.

    Examples
    --------
    >>> path = Path(tempfile.mkdtemp()) / "a.txt"
    >>> with aside(path) as fresh:
    ...     _ = fresh.write_text("whole")
    >>> path.read_text()
    'whole'
    """
    path = Path(path)
    _within(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".part-", dir=path.parent) as folder:
            fresh = Path(folder) / path.name
            yield fresh
            fresh.replace(path)
    except OSError as error:
        raise SoiltrendError(
            f"'{path}' cannot be written ({error.strerror or error})",
            remedy="What was there is unchanged. Make room or allow writing there, and run it again",
        ) from error


def text(path: str | Path, words: str) -> None:
    """Write a text file in UTF-8, whole or not at all."""
    with aside(path) as fresh:
        fresh.write_text(words, encoding="utf-8", newline="\n")


def table(path: str | Path, frame: pd.DataFrame) -> None:
    """Write a table as CSV, unrounded, whole or not at all; texts are no formulas (:func:`plain_text`)."""
    words = frame.select_dtypes(include=["object", "str", "category"]).columns
    safe = frame.copy()
    for name in words:
        safe[name] = frame[name].astype(object).map(_cell)
    with aside(path) as fresh:
        safe.rename(columns=_cell).to_csv(fresh, index=False, lineterminator="\n")


def _cell(value: object) -> object:
    return plain_text(value) if isinstance(value, str) else value
