"""The chart of a plan: each measure now, its aim, and what is expected after the doses."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from soiltrend import present, story
from soiltrend.charts.bars import dot
from soiltrend.charts.chart import Chart, chart_of, only_words
from soiltrend.charts.rows import Rows, draw_rows
from soiltrend.charts.style import BAND, BLUE, INK, QUIET, VERMILION, size_of
from soiltrend.errors import SoiltrendError
from soiltrend.story.shapes import HasPlan

NUMBERS = ("now", "now_low", "now_high", "aim", "aim_high", "after", "low", "high")
REACH = 0.92
"""How far from the middle the farthest number of a row lies, on a scale from -1 to 1."""


def _places(row: dict[str, Any]) -> dict[str, float]:
    """Return where the numbers of a row lie: its aim in the middle, its farthest number near the edge."""
    values = {name: float(row.get(name, np.nan)) for name in NUMBERS}
    aims = [values[name] for name in ("aim", "aim_high") if np.isfinite(values[name])]
    middle = float(np.mean(aims)) if aims else values["now"]
    far = max((abs(value - middle) for value in values.values() if np.isfinite(value)), default=0.0)
    return {
        f"at_{name}": (value - middle) / far * REACH if far else value - middle
        for name, value in values.items()
    }


def _aim(axes: Axes, row: dict[str, Any], y: float) -> None:
    """Draw the aim: a grey bar from its low to its high edge with a line at each; open where it has none."""
    low, high = row["at_aim"], row["at_aim_high"]
    edges = [end for end in (low, high) if np.isfinite(end)]
    if not edges:
        return
    left, right = (
        end if np.isfinite(end) else edge for end, edge in zip((low, high), axes.get_xlim(), strict=True)
    )
    axes.barh([y], [right - left], left=left, height=0.66, color=BAND, zorder=1)
    axes.vlines(edges, y - 0.33, y + 0.33, color=QUIET, lw=chart_of(axes).size.body / 8, zorder=2)


def _line(axes: Axes, ends: tuple[float, float], y: float, ink: str) -> None:
    if np.isfinite(ends).all():
        axes.plot(ends, [y, y], color=ink, lw=chart_of(axes).size.body / 9, solid_capstyle="butt", zorder=4)


def _draw(axes: Axes, part: pd.DataFrame) -> None:
    """Draw aim, now (open, above) and after (filled, below) of each measure."""
    for at, named in enumerate(part.to_dict("records")):
        row = {str(key): value for key, value in named.items()}
        _aim(axes, row, -at)
        _line(axes, (row["at_now_low"], row["at_now_high"]), -at + 0.17, QUIET)
        _line(axes, (row["at_low"], row["at_high"]), -at - 0.17, INK)
        dot(axes, row["at_now"], -at + 0.17, filled=False, ink=BLUE)
        dot(axes, row["at_after"], -at - 0.17, filled=True, ink=VERMILION)
    axes.set_xticks([])


def _aimed(row: dict[str, Any]) -> str:
    """Return the aim of a row in words."""
    low, high = (present.number(row.get(name, np.nan)) for name in ("aim", "aim_high"))
    if low and high:
        return low if low == high else f"{low} to {high}"
    return f"from {low}" if low else f"up to {high}" if high else "none"


def _said(row: dict[str, Any]) -> str:
    """Return a row in words: now, after, and the aim."""
    return f"{_moved(row, unknown='not known')}; aim {_aimed(row)}"


def _moved(row: dict[str, Any], *, unknown: str) -> str:
    """Return where a row stands and where it comes to, the unit after the last number."""
    unit = f" {story.unit_of(row['unit'])}".rstrip()
    sign = row.get("qualifier", "")
    now, after = (f"{sign}{told}" if (told := present.number(row[name])) else "" for name in ("now", "after"))
    return f"{now} \u2192 {after}{unit}" if after else f"{now}{unit} \u2192 {unknown}"


def chart_plan(plan: HasPlan, *, bed: str, size: str = "web") -> Chart:
    """Draw what one bed's plan is expected to do.

    Parameters
    ----------
    plan : Plan
        What :func:`soiltrend.plan` gave.
    bed : str
        The bed.
    size : str
        As for :func:`chart_change`.

    Returns
    -------
    Chart
        A line a measure, each on its own scale with its aim (grey) in the middle: the open mark is where
        it stands now by the whole record, the filled one what is expected after the doses, with its interval.

    Raises
    ------
    SoiltrendError
        When the bed is not in the plan.
    """
    table = plan.expected[plan.expected["bed"] == bed]
    if table.empty and len(plan.expected):
        known = ", ".join(f"'{name}'" for name in plan.expected["bed"].unique())
        raise SoiltrendError(f"the plan expects nothing of bed '{bed}'", remedy=f"It holds: {known}")
    if table.empty:
        return only_words(story.unplanned_words(bed), size_of(size))
    records = [{str(key): value for key, value in row.items()} for row in table.to_dict("records")]
    places = pd.DataFrame([_places(row) for row in records], index=table.index)
    twice = table["analyte"].duplicated(keep=False)
    method = table["method"].replace("", "method not stated")
    table = table.join(places).assign(
        label=table["analyte"].where(~twice, table["analyte"] + ", " + method),
        said=[_said(row) for row in records],
        short=[_moved(row, unknown="?") for row in records],
        weight="normal",
    )
    label = "each line on its own scale, its aim (grey) in the middle; \u25cb\u00a0now, \u25cf\u00a0after"
    rows = Rows(table, (-1.0, 1.0), label, _draw)
    return draw_rows(rows, words=story.plan_words(plan, bed=bed), size=size_of(size))
