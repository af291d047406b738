"""Bars, always from zero, with whiskers; and the marks and lines that rows of bars share."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from soiltrend import story
from soiltrend.charts.chart import chart_of
from soiltrend.charts.style import BLUE, INK, QUIET, VERMILION, text_width

THICK = 0.55
"""Height of a bar, in rows."""

FILLED, OPEN, HATCHED = "filled", "open", "hatched"
LOOKS = {
    FILLED: {"facecolor": BLUE, "edgecolor": BLUE, "hatch": ""},
    OPEN: {"facecolor": "white", "edgecolor": BLUE, "hatch": ""},
    HATCHED: {"facecolor": "white", "edgecolor": VERMILION, "hatch": "////"},
}
"""How bars are told apart without colour: filled, open, hatched."""


def for_reader(table: pd.DataFrame, *columns: str, unit: str) -> pd.DataFrame:
    """Return a table to be drawn, columns of one unit in the reader's; data that are written keep theirs."""
    return table.assign(**{column: table[column] * story.factor_of(unit) for column in columns})


def bar(axes: Axes, value: float, y: float, *, look: str = FILLED, thick: float = THICK) -> None:
    """Draw a bar from zero to a value."""
    if not np.isfinite(value):
        return
    width = chart_of(axes).size.body / 12
    fill = LOOKS[look]
    axes.barh(
        [y],
        [value],
        left=0.0,
        height=thick,
        facecolor=fill["facecolor"],
        edgecolor=fill["edgecolor"],
        hatch=fill["hatch"] or None,
        lw=width,
        zorder=3,
    )


def whisker(axes: Axes, low: float, high: float, y: float) -> None:
    """Draw an interval, cut at the edges of the scale, with a stop at each end that is not cut."""
    left, right = axes.get_xlim()
    if not (np.isfinite(low) or np.isfinite(high)):
        return
    ends = np.clip(np.nan_to_num([low, high], nan=left, posinf=right, neginf=left), left, right)
    size = chart_of(axes).size.body
    axes.plot(ends, [y, y], color=INK, lw=size / 11, solid_capstyle="butt", zorder=5)
    stops = [end for end in ends if left < end < right]
    axes.plot(stops, [y] * len(stops), ls="", marker="|", ms=0.4 * size, mew=size / 11, color=INK, zorder=5)


def dot(axes: Axes, x: float, y: float, *, filled: bool, ink: str = INK, shape: str = "o") -> None:
    """Draw a mark; one that lies beyond the scale stands at its edge and points out."""
    if not np.isfinite(x):
        return
    low, high = axes.get_xlim()
    size = 0.45 * chart_of(axes).size.body
    room = 0.02 * (high - low)
    if not low <= x <= high:
        shape, x = (">", high - room) if x > high else ("<", low + room)
    axes.plot(
        [x],
        [y],
        ls="",
        marker=shape,
        ms=size,
        mfc=ink if filled else "white",
        mec=ink,
        mew=size / 5,
        clip_on=False,
        zorder=6,
    )


def zero(axes: Axes) -> None:
    """Draw the line that bars start from."""
    axes.axvline(0, color=QUIET, lw=chart_of(axes).size.body / 12, zorder=4)


def named_places(axes: Axes, low: tuple[float, str], high: tuple[float, str]) -> None:
    """Name two places on the scale under it, to their outer sides where there is no room between them."""
    chart = chart_of(axes)
    left, right = axes.get_xlim()
    inch = axes.get_position().width * chart.get_size_inches()[0] / (right - left)
    wide = sum(text_width(chart, name, chart.size.body) for _, name in (low, high)) / 2
    axes.set_xticks([low[0], high[0]], [low[1], high[1]])
    if wide + 0.5 * chart.size.body / 72 > (high[0] - low[0]) * inch:
        first, second = axes.get_xticklabels()
        first.set_horizontalalignment("right")
        second.set_horizontalalignment("left")


def span(values: Iterable[float], *, zero: bool = True, edge: float = 0.06) -> tuple[float, float]:
    """Return the scale that holds all finite values, and zero where bars start there.

    Examples
    --------
    >>> span([2.0, 10.0, float("inf")], edge=0.0)
    (0.0, 10.0)
    """
    known = [float(value) for value in values if np.isfinite(value)] + ([0.0] if zero else [])
    low, high = (min(known), max(known)) if known else (0.0, 1.0)
    room = edge * (high - low) or 0.5
    return (
        low if zero and low == 0 else low - room * (edge > 0),
        high if zero and high == 0 else high + room * (edge > 0),
    )
