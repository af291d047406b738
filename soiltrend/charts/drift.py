"""The drift chart: every ratio and share of a bed against its band."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from soiltrend import present, scales, story
from soiltrend.charts.bars import named_places
from soiltrend.charts.change import mark
from soiltrend.charts.chart import Chart, chart_of
from soiltrend.charts.rows import Rows, draw_rows
from soiltrend.charts.style import BAND, INK, size_of
from soiltrend.drift import STEADY, TOO_FEW, Drift, told_last
from soiltrend.errors import SoiltrendError

LIMITS = (-1.0, 2.0)
"""The scale: the band lies from 0 to 1, with its own width to each side."""

EDGE = 0.97


def _place(value: pd.Series, table: pd.DataFrame) -> pd.Series:
    """Return where values lie between the edges of their bands, on the scale of each measure."""
    on = table["scale"].to_numpy()
    at, low, high = (
        scales.forward(column.to_numpy(dtype=float), on)
        for column in (value, table["low_edge"], table["high_edge"])
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        return pd.Series((at - low) / (high - low), index=table.index)


def _said(row: pd.Series) -> str:
    """Return a row's flag, its level and its band in words."""
    if row["flag"] == TOO_FEW:
        return TOO_FEW
    unit = f" {row['unit']}" if row["unit"] == "%" else ""
    return f"{row['flag']}  {present.number(row['now'])}{unit} ({_band(row['low_edge'], row['high_edge'])})"


def _band(low: float, high: float) -> str:
    """Return a band in words, open at one end or at both."""
    ends = [present.number(edge) for edge in (low, high)]
    if np.isfinite(low) and np.isfinite(high):
        return f"band {ends[0]} to {ends[1]}"
    if np.isfinite(low) or np.isfinite(high):
        return f"band from {ends[0]}" if np.isfinite(low) else f"band up to {ends[1]}"
    return "no band"


def _draw(axes: Axes, part: pd.DataFrame) -> None:
    """Draw the band and each ratio's level with its interval."""
    low, high = axes.get_xlim()
    axes.axvspan(0, 1, color=BAND, zorder=0)
    size = 0.45 * chart_of(axes).size.body
    for at, row in enumerate(part.to_dict("records")):
        if row["flag"] == TOO_FEW or not np.isfinite(row["place"]):
            continue
        ends = np.clip([row["place_low"], row["place_high"]], EDGE * low, EDGE * high)
        axes.plot(ends, [-at, -at], color=INK, lw=size / 5, solid_capstyle="butt", zorder=3)
        mark(axes, row["place"], -at, verdict="" if row["flag"] == STEADY else "rose", size=size)
    named_places(axes, (0.0, "low edge"), (1.0, "high edge"))


def chart_drift(drift: Drift, *, bed: str, size: str = "web") -> Chart:
    """Draw every ratio and share of one bed against its band.

    Parameters
    ----------
    drift : Drift
        What :func:`soiltrend.drift` gave.
    bed : str
        The bed.
    size : str
        As for :func:`chart_change`.

    Returns
    -------
    Chart
        The grey band is the ratio's own; a filled mark is outside it, heading out or shifted,
        an open one is steady. Of a ratio with several records the one tested last is drawn.

    Raises
    ------
    SoiltrendError
        When the bed is not in the result, or the rows do not fit.
    """
    table = drift.table[drift.table["bed"] == bed]
    if table.empty and not drift.table.empty:
        known = ", ".join(f"'{name}'" for name in drift.table["bed"].unique())
        raise SoiltrendError(f"the drift holds no bed '{bed}'", remedy=f"It holds: {known}")
    table = told_last(table)
    places = {
        name: _place(table[column], table)
        for name, column in (("place", "now"), ("place_low", "now_low"), ("place_high", "now_high"))
    }
    said = table.apply(_said, axis=1) if len(table) else pd.Series(dtype="str")
    table = table.assign(**places, label=table["ratio"], said=said, short=table["flag"], weight="normal")
    rows = Rows(table, LIMITS, "place between the edges of its band", _draw)
    return draw_rows(rows, words=story.drift_words(drift, bed=bed), size=size_of(size))
