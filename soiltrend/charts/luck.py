"""The chart of luck: how many measures move in gardens in which nothing changed, and how many did here."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from soiltrend import present, story
from soiltrend.charts.chart import Chart, chart_of, only_words
from soiltrend.charts.panels import Panels, draw_panels
from soiltrend.charts.style import BAND, INK, QUIET, VERMILION, size_of
from soiltrend.errors import SoiltrendError
from soiltrend.luck import ALL, Luck


def _columns(luck: Luck, bed: str) -> pd.DataFrame:
    """Return how often so many measures moved by luck: bed, measures, gardens [%], seen."""
    row = luck.table[luck.table["bed"] == bed].iloc[0]
    counts = luck.counts[bed]
    most = int(max(counts.max(), row["seen"])) + 1
    often = np.bincount(counts, minlength=most + 1)[: most + 1] / len(counts)
    return pd.DataFrame(
        {"bed": bed, "measures": np.arange(most + 1), "gardens": 100 * often, "seen": int(row["seen"])}
    )


def _draw(axes: Axes, table: pd.DataFrame) -> None:
    """Draw the columns of luck from zero, and the mark of what was seen."""
    size = chart_of(axes).size.body
    top = float(table["gardens"].max())
    axes.bar(table["measures"], table["gardens"], width=0.8, color=BAND, edgecolor=QUIET, lw=size / 14)
    seen = int(table["seen"].iloc[0])
    axes.plot([seen, seen], [0, 1.12 * top], color=INK, lw=size / 9, zorder=4)
    axes.plot(
        [seen], [1.12 * top], marker="v", ms=0.6 * size, color=VERMILION, mec=INK, clip_on=False, zorder=5
    )
    axes.set_ylim(0, 1.25 * top)
    axes.set_xlim(-0.7, float(table["measures"].max()) + 0.7)
    axes.locator_params(axis="y", nbins=4)
    axes.locator_params(axis="x", integer=True, nbins=8)


def chart_luck(luck: Luck, *, bed: str = ALL, size: str = "web") -> Chart:
    """Draw how many measures would have moved by luck alone, and how many did.

    Parameters
    ----------
    luck : Luck
        What :func:`soiltrend.luck` gave.
    bed : str
        One bed, "(all beds)" or "(garden)" (the beds pooled).
    size : str
        As for :func:`chart_change`.

    Returns
    -------
    Chart
        Columns from zero: in how many of 100 gardens without any change so many measures rise or
        fall. The mark above them is what was seen here.

    Raises
    ------
    SoiltrendError
        When the bed is not in the result.
    """
    words = story.luck_words(luck)
    if luck.table.empty:
        return only_words(words, size_of(size))
    if bed not in luck.counts:
        known = ", ".join(f"'{name}'" for name in luck.counts)
        raise SoiltrendError(f"there is no bed '{bed}' in the drawn gardens", remedy=f"There are: {known}")
    table = _columns(luck, bed)
    row = luck.table[luck.table["bed"] == bed].iloc[0]
    said = (
        f"\u25bc\u00a0seen: {row['seen']} of {row['measures']} rose or fell; by luck "
        f"{present.number(row['expected_by_luck'], digits=2)} on average"
    )
    panels = Panels(
        {bed.strip("()"): said},
        table,
        "measures that rise or fall (across), in how many of 100 such gardens (up)",
        lambda axes, name, width: _draw(axes, table),  # noqa: ARG005 (one panel, as wide as it is)
    )
    return draw_panels(panels, words=words, size=size_of(size))
