"""The chart of a change of exchange capacity, taken apart."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from soiltrend import composites, present, story
from soiltrend.charts.bars import FILLED, HATCHED, OPEN, bar, span, whisker, zero
from soiltrend.charts.chart import Chart, chart_of, only_words, rule
from soiltrend.charts.rows import Rows, draw_rows
from soiltrend.charts.style import QUIET, size_of
from soiltrend.errors import SoiltrendError
from soiltrend.present import Listing
from soiltrend.why import WhyCEC

LOOK = {"can explain": OPEN, "can fake": HATCHED, "left over": OPEN}
"""What the test measured is filled; what can explain it is open, what can fake it is hatched."""


def _draw(axes: Axes, part: pd.DataFrame) -> None:
    """Draw each part as a bar from zero, a line where another kind of part begins."""
    rule(axes)
    kind = ""
    for at, row in enumerate(part.to_dict("records")):
        bar(axes, row["change"], -at, look=LOOK.get(row["kind"], FILLED))
        whisker(axes, row["low"], row["high"], -at)
        if kind not in ("", row["kind"]):
            axes.axhline(-at + 0.5, color=QUIET, lw=chart_of(axes).size.body / 12)
        kind = row["kind"]
    zero(axes)


def chart_why(why: WhyCEC | Listing, *, bed: str, size: str = "web") -> Chart:
    """Draw a change of summed exchange capacity in its parts.

    Parameters
    ----------
    why : WhyCEC or Listing
        What :func:`soiltrend.why_cec` gave, or the empty listing of :func:`soiltrend.why_latest`.
    bed : str
        The bed; of its layers the uppermost is drawn.
    size : str
        As for :func:`chart_change`.

    Returns
    -------
    Chart
        Bars from zero [cmol/kg] with their intervals: filled what the tests say, open what organic
        matter can explain, hatched what undissolved lime, shell or gypsum can fake.

    Raises
    ------
    SoiltrendError
        When the bed is not in the result.
    """
    if isinstance(why, Listing):
        return only_words(story.nothing_words(bed, why=_reason(why)), size_of(size))
    table = composites.topsoil(why.table[why.table["bed"] == bed], by=["bed"])
    if table.empty and len(why.table):
        known = ", ".join(f"'{name}'" for name in why.table["bed"].unique())
        raise SoiltrendError(f"the result holds no bed '{bed}'", remedy=f"It holds: {known}")
    if table.empty:
        words = story.why_nothing_words(bed, before=why.before, after=why.after)
        return only_words(words, size_of(size))
    change, unit = [_signed(value) for value in table["change"]], story.unit_of("cmol/kg")
    table = table.assign(
        label=table["part"],
        said=[f"{text} {unit}" if text else "not known" for text in change],
        short=change,
        weight=np.where(table["kind"] == "sum", "bold", "normal"),
        season_after=why.after,
    )
    rows = Rows(table, span([*table["change"], *table["low"], *table["high"]]), f"change [{unit}]", _draw)
    return draw_rows(rows, words=story.why_words(why, bed=bed), size=size_of(size))


def _reason(answer: Listing) -> str:
    """Return why an answer without rows has none, as a clause."""
    reason = answer.title.rpartition(": ")[0] or answer.title
    return reason[:1].lower() + reason[1:]


def _signed(value: float) -> str:
    """Return a change with its sign, or "" when it is not known."""
    if not np.isfinite(value):
        return ""
    return ("+" if value >= 0 else "\u2212") + present.number(abs(value), digits=2)
