"""The strip of a season: when residues and dressings let nitrogen go, when they tie it up, and the crops."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.dates import date2num

from soiltrend import story
from soiltrend.blend import NitrogenSeason
from soiltrend.charts.bars import FILLED, HATCHED, LOOKS, for_reader, span
from soiltrend.charts.chart import Chart, chart_of, only_words
from soiltrend.charts.panels import Panels, draw_panels
from soiltrend.charts.strips import Strips, draw_strips
from soiltrend.charts.style import INK, QUIET, Size, size_of, text_width
from soiltrend.present import Listing

TOGETHER = "(together)"
WIDE = 22.0
"""Width of a month's column [days]."""


def _strips(season: NitrogenSeason) -> Strips:
    """Return the crops picked in the season as a strip under its months."""
    crops = season.calendar.assign(bed=season.bed)
    return Strips(crops.head(0), crops, "; |\u00a0harvest" if len(crops) else "")


def _months(axes: Axes, days: pd.Series, *, width: float, size: Size) -> None:
    """Name the months under the axis: by three letters where they fit, else by one."""
    names = [f"{day:%b}" for day in days]
    room = width / len(names) - 0.4 * size.body / 72
    short = max(text_width(chart_of(axes), name, size.body) for name in names) > room
    axes.set_xticks(date2num(days), [name[0] if short else name for name in names])


def _column(axes: Axes, day: float, row: dict[str, Any], *, size: Size) -> None:
    """Draw one month: a column from zero, and its interval."""
    look = LOOKS[FILLED if row["likely"] >= 0 else HATCHED]
    axes.bar(
        [day],
        [row["likely"]],
        width=WIDE,
        facecolor=look["facecolor"],
        edgecolor=look["edgecolor"],
        hatch=look["hatch"] or None,
        lw=size.body / 12,
        zorder=3,
    )
    axes.plot([day, day], [row["low"], row["high"]], color=INK, lw=size.body / 11, zorder=4)
    ends = [row["low"], row["high"]]
    axes.plot(
        [day, day], ends, ls="", marker="_", ms=0.4 * size.body, mew=size.body / 11, color=INK, zorder=4
    )


def _draw(axes: Axes, table: pd.DataFrame, strips: Strips, *, bed: str, width: float) -> None:
    """Draw the months of a season, what it lets go above the line and what it ties up below."""
    size = chart_of(axes).size
    table = for_reader(table, "low", "likely", "high", unit="g/m2")
    days = table["month"] + pd.Timedelta(days=14)
    axes.set_xlim(date2num(days.min()) - 15, date2num(days.max()) + 17)
    axes.set_ylim(span([*table["low"], *table["high"], *table["likely"]]))
    axes.locator_params(axis="y", nbins=5)
    for day, row in zip(date2num(days), table.to_dict("records"), strict=True):
        _column(axes, float(day), {str(key): value for key, value in row.items()}, size=size)
    axes.axhline(0, color=QUIET, lw=chart_of(axes).size.body / 12, zorder=2)
    _months(axes, days, width=width, size=size)
    if strips.lines:
        draw_strips(axes, strips, bed=bed, size=size)


def chart_season(season: NitrogenSeason, *, size: str = "web") -> Chart:
    """Draw when residues and dressings let nitrogen go and when they tie it up, month by month.

    Parameters
    ----------
    season : NitrogenSeason
        What :func:`soiltrend.nitrogen_season` gave.
    size : str
        As for :func:`chart_change`.

    Returns
    -------
    Chart
        Columns from zero [g N/m2 in the month] with their intervals: filled above the line what is let
        go, hatched below what is tied up; the crops picked stand under the months.
    """
    table = season.table[season.table["what"] == TOGETHER].reset_index(drop=True)
    if table.empty:
        return only_words(story.no_season_words(season.bed, why=season.why), size_of(size))
    words = story.season_words(Listing("", table.assign(month=table["month"].dt.strftime("%B"))))
    strips = _strips(season)
    numbers = ["low", "likely", "high"]
    table = table.assign(bed=season.bed, **{name: table[name].astype(float) for name in numbers})
    even = np.isclose(table[numbers].abs().max().max(), 0.0)
    said = "nothing moves" if even else "\u25a0\u00a0lets go, \u25a8\u00a0ties up"
    panels = Panels(
        {season.bed: f"{season.year}: {said}"},
        table,
        strips.key.removeprefix("; "),
        lambda axes, bed, width: _draw(axes, table, strips, bed=bed, width=width),
        strips=strips.lines,
    )
    return draw_panels(panels, words=words, size=size_of(size))
