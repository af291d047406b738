"""The trend chart: one measure over the years, a panel a bed, all on one scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.dates import YearLocator, date2num

from soiltrend import frames, scales, story, vocabulary
from soiltrend.charts.chart import MARGIN, Chart, header, only, panel
from soiltrend.charts.style import BAND, BLUE, INK, QUIET, Size, line_height, size_of, text_width
from soiltrend.errors import SoiltrendError
from soiltrend.trend import TOO_FEW, Trend

PANEL = {"web": (3, 2.0), "talk": (3, 2.4), "newsletter": (1, 1.25), "print": (3, 1.6)}
"""Panels side by side, and the least height of the drawing part of one [inches], by size."""

DAYS = 365.25


def _records(table: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows of a table, each by its columns' names."""
    return [{str(key): value for key, value in row.items()} for row in table.to_dict("records")]


def _line(row: dict[str, Any], slope: float, days: np.ndarray) -> np.ndarray:
    """Return a trend's line on the days given, through its level at the middle of its record."""
    middle = (date2num(row["first"]) + date2num(row["last"])) / 2
    years = (days - middle) / DAYS
    level = float(row["level"])
    if row["scale"] == scales.LOG:
        return np.asarray(level * np.exp(slope / level * years))
    return np.asarray(level + slope * years)


def _draw_series(axes: Axes, row: dict[str, Any], points: pd.DataFrame, *, main: bool, size: float) -> None:
    """Draw one series: its tests, its line and the fan of slopes its interval allows."""
    ink = INK if main else QUIET
    days = date2num(points["sampled"])
    for open_mark, part in points.groupby("open"):
        at = date2num(part["sampled"])
        censored = (part["qualifier"] != "").to_numpy()
        shape = "o" if main else "s"
        face = "white" if open_mark else ink
        axes.plot(
            at[~censored], part["value"][~censored], ls="", marker=shape, ms=size, mfc=face, mec=ink, zorder=4
        )
        axes.plot(
            at[censored], part["value"][censored], ls="", marker="v", ms=size, mfc="white", mec=ink, zorder=4
        )
    if row["verdict"] == TOO_FEW or not len(days):
        return
    along = np.linspace(days.min(), days.max(), 60)
    ends = np.nan_to_num([row["low"], row["high"]], posinf=np.nan, neginf=np.nan)
    if np.isfinite(ends).all() and main:
        axes.fill_between(
            along, _line(row, ends[0], along), _line(row, ends[1], along), color=BAND, lw=0, zorder=1
        )
    axes.plot(
        along,
        _line(row, float(row["slope_per_year"]), along),
        color=BLUE if main else QUIET,
        zorder=3,
        lw=size / 3,
        ls="-" if main else "--",
    )


def _panel(axes: Axes, bed: str, rows: pd.DataFrame, points: pd.DataFrame, *, size: Size) -> None:
    """Draw one bed: every series of the measure, the longest in full ink, and its verdict above."""
    ordered = _records(rows.sort_values("n", ascending=False))
    mark = 0.4 * size.body
    for number, row in enumerate(ordered):
        same = (
            (points["method"] == row["method"])
            & (points["lab"] == row["lab"])
            & (points["bottom_cm"].eq(row["bottom_cm"]) | points["bottom_cm"].isna())
        )
        _draw_series(axes, row, points[same].sort_values("sampled"), main=number == 0, size=mark)
    axes.spines["bottom"].set_visible(True)
    axes.spines["bottom"].set_color(QUIET)
    axes.grid(axis="y", color=BAND, lw=0.8)
    axes.set_axisbelow(True)
    told = story.trend_said(ordered[0])
    for line, (text, weight) in enumerate(((bed, "bold"), (told, "normal"))):
        axes.annotate(
            text,
            (0, 1),
            xycoords="axes fraction",
            xytext=(0, 1.3 * size.body * (1.15 - line)),
            textcoords="offset points",
            size=size.body,
            weight=weight,
            color=INK,
            va="bottom",
            annotation_clip=False,
            parse_math=False,
        )


def _years(axes: Axes, *, width: float, size: Size) -> None:
    """Put as many years under a panel as its width holds."""
    low, high = axes.get_xlim()
    room = max(1, int(width / (3.4 * size.body / 72)))
    axes.xaxis.set_major_locator(YearLocator(max(1, int(np.ceil((high - low) / DAYS / room)))))
    axes.xaxis.set_major_formatter(lambda x, _: f"{pd.Timestamp(x, unit='D').year}")


def _limits(values: pd.Series) -> tuple[float, float]:
    low, high = float(values.min()), float(values.max())
    edge = 0.08 * (high - low) or 0.5
    return low - edge, high + edge


@dataclass(frozen=True)
class Grid:
    """How the panels stand, all in inches: panels side by side, their width, height, and where they begin."""

    across: int
    gap: float
    width: float
    deep: float
    top: float
    head: float
    foot: float

    def edges(self, number: int, chart: Chart) -> dict[str, float]:
        """Return the distances of one panel from the figure's edges."""
        row, column = divmod(number, self.across)
        width, height = chart.get_size_inches()
        left = MARGIN * width + self.gap + column * (self.width + self.gap)
        top = self.top + row * self.deep + self.head
        return {
            "left": left,
            "right": width - left - self.width,
            "top": top,
            "bottom": height - top - (self.deep - self.head - self.foot),
        }


def _grid(chart: Chart, titles: list[str], *, count: int, top: float) -> Grid:
    """Set the panels out: as many side by side as the preset allows and the widest title leaves room for."""
    size, (width, height) = chart.size, chart.get_size_inches()
    line, gap = line_height(size.body), 3.2 * size.body / 72
    most, least = PANEL[size.name]
    room = width * (1 - 2 * MARGIN)
    widest = max(text_width(chart, title, size.body, bold=True) for title in titles) + gap
    across = max(1, min(most, count, int(room / widest)))
    down = -(-count // across)
    head, foot = 2.9 * line, 1.7 * line
    deep = (height - top - 0.5 * line) / down if size.height else head + least + foot
    if deep - head - foot < 0.6 * least:
        raise SoiltrendError(
            f"{count} beds do not fit a picture of size '{size.name}' in type of {size.body:g} pt",
            remedy="Choose size 'web', or name the beds to show (beds=)",
        )
    return Grid(across, gap, room / across - gap, deep, top, head, foot)


def _draw(table: pd.DataFrame, points: pd.DataFrame, *, words: story.Words, size: Size, label: str) -> Chart:
    """Lay the panels out and draw them."""
    beds = list(dict.fromkeys(table["bed"]))
    titles = [*beds, *(story.trend_said(row) for row in _records(table))]

    def blank(height: float) -> tuple[Chart, float]:
        chart = Chart(
            size,
            height=height,
            words=words,
            data=table,
            again=lambda other: _draw(table, points, words=words, size=other, label=label),
        )
        return chart, header(chart, extra=label)

    chart, top = blank(size.height or size.width)
    grid = _grid(chart, titles, count=len(beds), top=top)
    if not size.height:
        chart, _ = blank(top + -(-len(beds) // grid.across) * grid.deep + line_height(size.body))
    span, days = _limits(points["value"]), _limits(pd.Series(date2num(points["sampled"])))
    for number, bed in enumerate(beds):
        axes = panel(chart, **grid.edges(number, chart))
        axes.set_xlim(days)
        axes.set_ylim(span)
        axes.locator_params(axis="y", nbins=4)
        _years(axes, width=grid.width, size=size)
        _panel(axes, bed, table[table["bed"] == bed], points[points["bed"] == bed], size=size)
    return chart


def chart_trend(
    trend: Trend,
    *,
    results: pd.DataFrame,
    analyte: str,
    beds: Sequence[str] | None = None,
    size: str = "web",
) -> Chart:
    """Draw one measure over the years, a panel a bed.

    Parameters
    ----------
    trend : Trend
        What :func:`soiltrend.trend` gave.
    results : DataFrame
        The tidy frame it was made of: its tests are the marks.
    analyte : str
        The measure drawn.
    beds : sequence of str, optional
        Beds to show, in this order; the picture says how many of all they are.
    size : str
        As for :func:`chart_change`.

    Returns
    -------
    Chart
        Open marks are spring, filled marks the other seasons; squares and dashed lines are
        another method or laboratory, which is not joined. The blue line is the trend, the grey
        fan what its interval allows.

    Raises
    ------
    SoiltrendError
        When a bed is not known, or the panels do not fit the size.
    """
    name = vocabulary.analytes().get(vocabulary.key(analyte), analyte)
    table = trend.table[(trend.table["analyte"] == name) & (trend.table["bed"] != frames.GARDEN)]
    table, shown = only(table, beds)
    points = results[(results["analyte"] == name) & results["sampled"].notna()]
    points = points[points["bed"].isin(table["bed"])]
    words = story.with_note(story.trend_words(trend, analyte=name), shown)
    points, key = _opened(points)
    methods = ", ".join(dict.fromkeys(method for method in table["method"] if method))
    unit = next((text for text in table["unit"] if text not in ("", name)), "")
    label = story.spoken(name) + (f" [{unit}]" if unit else "") + (f", {methods}" if methods else "") + key
    if table.empty or points.empty:
        return _blank(story.nothing_words(story.spoken(name)), size_of(size))
    return _draw(table, points, words=words, size=size_of(size), label=label)


def _opened(points: pd.DataFrame) -> tuple[pd.DataFrame, str]:
    """Return the tests with which of them are drawn open, and the key to it in words."""
    names = points["season"].map(frames.season_name)
    seasons = [name for name in frames.SEASONS if (names == name).any()]
    first = "spring" if "spring" in seasons else next(iter(seasons), "")
    others = story.listed([name for name in seasons if name != first])
    key = f"; \u25cb {first}, \u25cf {others}" if others else ""
    return points.assign(open=names == first), key


def _blank(words: story.Words, size: Size) -> Chart:
    """Return a chart that bears words alone."""
    chart = Chart(
        size,
        height=size.height or 1.5,
        words=words,
        data=pd.DataFrame(),
        again=lambda other: _blank(words, other),
    )
    header(chart)
    return chart
