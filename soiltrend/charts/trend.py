"""The trend chart: one measure over the years, a panel a bed, all on one scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.dates import date2num

from soiltrend import frames, scales, story, vocabulary
from soiltrend.charts.chart import MARGIN, Chart, chart_of, measured, only, only_words
from soiltrend.charts.panels import Panels, draw_panels
from soiltrend.charts.strips import Strips, draw_strips, strips_of
from soiltrend.charts.style import BAND, BLUE, INK, QUIET, Size, size_of
from soiltrend.garden import Garden
from soiltrend.story.core import layer
from soiltrend.trend import TOO_FEW, Trend

_SERIES = [name for name in frames.POOLED if name != "analyte"]
"""What tells the series of a measure in one bed apart; a layer that is not told is one of its own."""


def _records(table: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows of a table, each by its columns' names."""
    return [{str(key): value for key, value in row.items()} for row in table.to_dict("records")]


def _line(row: dict[str, Any], slope: float, days: np.ndarray) -> np.ndarray:
    """Return a trend's line on the days given, through its level at the middle of the tests fitted."""
    years = (days - date2num(row["middle"])) / frames.YEAR
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


def _panel(axes: Axes, rows: pd.DataFrame, points: pd.DataFrame, *, size: Size) -> None:
    """Draw one bed: every series of the measure, the longest in full ink."""
    for number, row in enumerate(_records(rows.sort_values("n", ascending=False, kind="stable"))):
        mine = [points[name].eq(row[name]) | (points[name].isna() & pd.isna(row[name])) for name in _SERIES]
        tests = points[np.logical_and.reduce(mine)].sort_values("sampled", kind="stable")
        _draw_series(axes, row, tests, main=number == 0, size=0.4 * size.body)


def _years(axes: Axes, *, width: float, size: Size) -> None:
    """Put as many years under a panel as its width holds."""
    low, high = axes.get_xlim()
    letter = size.body / 72
    room = max(1, int(width / (3.4 * letter)))
    step = max(1, int(np.ceil((high - low) / frames.YEAR / room)))
    first, last = (pd.Timestamp(day, unit="D").year for day in (low, high))
    years = [year for year in range(first, last + 1) if year % step == 0]
    at = {float(date2num(pd.Timestamp(year, 1, 1))): f"{year}" for year in years}
    edge = high - max(0.0, 1.4 * letter - MARGIN * size.width) * (high - low) / width
    kept = {day: year for day, year in at.items() if low <= day <= edge}
    axes.set_xticks(list(kept), list(kept.values()))


def _limits(values: pd.Series) -> tuple[float, float]:
    low, high = float(values.min()), float(values.max())
    edge = 0.08 * (high - low) or 0.5
    return low - edge, high + edge


@dataclass(frozen=True)
class Records:
    """Which mark is which record, where a bed has more than one: by method, laboratory or layer.

    Attributes
    ----------
    key : str
        What round and square marks are, to stand beside what is measured; empty where all are round.
    by_bed : dict of str to str
        The same under the name of each panel, where the beds differ in it.
    """

    key: str
    by_bed: dict[str, str]


APART = ("method", "lab", "layer")
"""What makes records of a measure two, in the order in which it is named."""

BRIEF = 90
"""Letters up to which marks are named under the headline; what is longer stands in the caption alone."""


def _parts(table: pd.DataFrame) -> pd.DataFrame:
    """Return method, laboratory and layer of each record in words, that of the most tests first."""
    layers = [layer(table.iloc[[at]]) for at in range(len(table))]
    method = table["method"].replace("", story.PLAIN.say("method.unknown"))
    lab = table["lab"].replace("", story.PLAIN.say("lab.unknown"))
    parts = pd.DataFrame({"bed": table["bed"], "method": method, "lab": lab, "layer": layers})
    return parts.loc[table.sort_values("n", ascending=False, kind="stable").index]


def _told_by(parts: pd.DataFrame, shapes: tuple[str, str]) -> str:
    """Return what round marks are, and square ones by the first thing in which each differs."""
    first = parts.iloc[0]
    names: dict[str, str] = {}
    for row in parts.to_dict("records"):
        differ = next((name for name in APART if row[name] != first[name]), "")
        names |= {row[differ]: differ} if differ else {}
    if not names:
        return ""
    by = min(names.values(), key=APART.index)
    return f"; {shapes[0]}\u00a0{first[by]}, {shapes[1]}\u00a0{story.listed(list(names))}"


def _records_of(table: pd.DataFrame, *, filled: bool) -> Records:
    """Return which mark is which record; ``filled`` where filled marks are drawn beside open ones."""
    parts, shapes = _parts(table), ("\u25cb\u25cf", "\u25a1\u25a0") if filled else ("\u25cb", "\u25a1")
    general = f"; {shapes[0]}\u00a0a bed's longest record, {shapes[1]}\u00a0others"
    if len(parts.drop_duplicates("bed")[[*APART]].drop_duplicates()) == 1:
        key = _told_by(parts, shapes)
        return Records(key if len(key) <= BRIEF else general, {})
    by_bed = {str(bed): _told_by(rows, shapes) for bed, rows in parts.groupby("bed", sort=False)}
    by_bed = {bed: key if len(key) <= BRIEF else "" for bed, key in by_bed.items()}
    return Records(general if table["bed"].duplicated().any() else "", by_bed)


def _panels(
    table: pd.DataFrame,
    points: pd.DataFrame,
    *,
    label: str,
    strips: Strips | None,
    confidence: float,
    marks: dict[str, str],
) -> Panels:
    """Return the panels of a measure, a bed each, all on one scale; ``marks`` ends what is said of each."""
    span, days = _limits(points["value"]), _limits(pd.Series(date2num(points["sampled"])))
    first = table.sort_values("n", ascending=False, kind="stable").drop_duplicates("bed").set_index("bed")
    titles = {
        bed: story.trend_said(_records(first.loc[[bed]])[0], confidence=confidence) + marks.get(bed, "")
        for bed in dict.fromkeys(table["bed"])
    }

    def draw(axes: Axes, bed: str, width: float) -> None:
        """Draw one bed's tests and trend."""
        size = chart_of(axes).size
        axes.set_xlim(days)
        axes.set_ylim(span)
        axes.locator_params(axis="y", nbins=4)
        _years(axes, width=width, size=size)
        _panel(axes, table[table["bed"] == bed], points[points["bed"] == bed], size=size)
        if strips is not None:
            draw_strips(axes, strips, bed=bed, size=size)

    return Panels(titles, _marks(table, points), label, draw, strips=0 if strips is None else strips.lines)


def _marks(table: pd.DataFrame, points: pd.DataFrame) -> pd.DataFrame:
    """Return what is drawn, one row a test, with the trend of its series beside it."""
    fitted = table[["bed", *_SERIES, "n", "slope_per_year", "low", "high", "q", "verdict", "why"]]
    kept = ["bed", "sampled", "season", "analyte", "method", "lab", "top_cm", "bottom_cm", "value", "unit"]
    return points[[*kept, "qualifier", "sample"]].merge(fitted, on=["bed", *_SERIES], how="left")


def chart_trend(
    trend: Trend,
    *,
    results: pd.DataFrame,
    analyte: str,
    beds: Sequence[str] | None = None,
    garden: Garden | None = None,
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
    garden : Garden, optional
        Its dressings and harvests are then marked under the axis of each bed: a triangle for a
        dressing of whatever kind, an upright for a harvest, by its crop where there is room.
    size : str
        As for :func:`chart_change`.

    Returns
    -------
    Chart
        Open marks are spring, filled marks the other seasons; squares and dashed lines are
        another method, laboratory or layer, which is not joined and is named beside its mark. The
        blue line is the trend, the grey fan what its interval allows.

    Raises
    ------
    SoiltrendError
        When a bed is not known, or the panels do not fit the size.
    """
    name = vocabulary.analytes().get(vocabulary.key(analyte), analyte)
    table = trend.table[(trend.table["analyte"] == name) & (trend.table["bed"] != frames.GARDEN)]
    table, shown = only(table, beds)
    points = frames.in_time(results)
    points = points[(points["analyte"] == name) & points["sampled"].notna()]
    points = points[points["bed"].isin(table["bed"])]
    words = story.with_note(story.trend_words(trend, analyte=name), shown)
    points, key = _opened(points)
    if table.empty or points.empty:
        return only_words(story.untested_words(name), size_of(size))
    strips = None if garden is None else strips_of(garden, within=points["sampled"])
    records = _records_of(table, filled=not points["open"].all())
    methods = table["method"].unique()
    methods = methods[:0] if records.key and len(methods) > 1 else methods  # the key names them then
    label = measured(name, units=table["unit"], methods=methods) + records.key + key
    label += "" if strips is None else strips.key
    panels = _panels(
        table, points, label=label, strips=strips, confidence=trend.confidence, marks=records.by_bed
    )
    return draw_panels(panels, words=words, size=size_of(size))


def _opened(points: pd.DataFrame) -> tuple[pd.DataFrame, str]:
    """Return the tests with which of them are drawn open, and the key to it in words."""
    names = points["season"].map(frames.season_name)
    seasons = [name for name in frames.SEASONS if (names == name).any()]
    first = "spring" if "spring" in seasons else next(iter(seasons), "")
    others = story.listed([name for name in seasons if name != first])
    key = f"; \u25cb\u00a0{first}, \u25cf\u00a0{others}" if others else ""
    return points.assign(open=names == first), key
