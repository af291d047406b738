"""Series over time: the tests of one bed, analyte, method, laboratory and layer, in order of their days.

A test is one day: bags split from one bucket are averaged first, then the buckets of the day. Seasons
are told apart, because spring stands with spring. When a series has more than two seasons, or one with
a single test, winter joins spring and summer joins autumn; a test that is still alone in its season
has nothing to be compared with and is left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import composites, frames, scales, vocabulary
from soiltrend.series import remarks
from soiltrend.series.moved import moved
from soiltrend.slopes import lines
from soiltrend.slopes.batch import Points

SERIES = list(frames.SERIES)
TEXT = [name for name in SERIES if name in frames.TEXT]
NONE = len(frames.SEASONS)
"""Code of a test whose season is not known."""

_HALF = np.array([1, 1, 3, 3, NONE])
"""Winter joins spring, summer joins autumn."""


@dataclass(frozen=True, eq=False)
class Laid:
    """Series laid out in time.

    Attributes
    ----------
    series : DataFrame
        One row a series: the columns of ``frames.SERIES``, ``scale``, ``n`` (tests), ``n_censored``,
        ``first`` and ``last`` (the days on which the tests stand), ``last_low`` and
        ``last_high`` (bounds of the last test on the analysis scale), ``undated`` (tests
        whose day is lost, placed by :func:`soiltrend.frames.in_time`), ``left`` (what was left out),
        ``breaks`` and ``warning`` (in words).
    tests : Entries
        All tests, ordered by series and time; time is in years from ``origin``.
    points : Points
        Those that have a fellow in their season, by series, season and time.
    origin : Timestamp
        The day from which time counts.
    moved : dict
        Name of each bridge that moved tests, to how far each of ``tests`` would go if its offset were wrong
        by one standard deviation; empty when nothing was moved.
    place : array of int
        Which of ``tests`` each of ``points`` is.
    """

    series: pd.DataFrame
    tests: Entries
    points: Points
    origin: pd.Timestamp
    moved: dict[str, np.ndarray]
    place: np.ndarray


@dataclass(frozen=True, eq=False)
class Entries:
    """Tests end to end, an array each.

    Attributes
    ----------
    series : array of int
        Which series.
    day : array of int
        Days since the origin.
    occasion : array of int
        Season and year in one number, equal for all beds.
    low, high : array of float
        Bounds on the analysis scale; one array where nothing lies beyond a limit.
    dated : array of bool
        Whether the day is known.
    """

    series: np.ndarray
    day: np.ndarray
    occasion: np.ndarray
    low: np.ndarray
    high: np.ndarray
    dated: np.ndarray

    @property
    def name(self) -> np.ndarray:
        """The season of each test as a place in ``frames.SEASONS``, or :data:`NONE`."""
        return self.occasion % (NONE + 1)

    @property
    def time(self) -> np.ndarray:
        """Years since the origin."""
        return self.day / frames.YEAR

    def at(self, which: np.ndarray) -> Entries:
        """Return some of the tests, by place or mask."""
        low = self.low[which]
        high = low if self.high is self.low else self.high[which]
        return Entries(
            self.series[which], self.day[which], self.occasion[which], low, high, self.dated[which]
        )


def lay_out(results: pd.DataFrame, *, sampling: pd.DataFrame | None = None) -> Laid:
    """Return the series of a tidy frame, each ordered in time.

    Parameters
    ----------
    results : DataFrame
        A tidy frame.
    sampling : DataFrame, optional
        The record from :func:`soiltrend.composites.record`, by which splits are known.

    Raises
    ------
    FrameError
        When the frame is not tidy.

    Examples
    --------
    >>> days = pd.to_datetime(["2020-04-01", "2021-04-01", "2021-04-01", "2022-04-02"])
    >>> rows = pd.DataFrame({"bed": "East", "analyte": "pH", "unit": "pH", "sampled": days,
    ...                      "value": [6.0, 6.1, 6.3, 6.4]})
    >>> laid = lay_out(frames.results(rows))
    >>> laid.series[["bed", "n"]].to_numpy().tolist(), laid.points.low.round(2).tolist()
    ([['East', 3]], [6.0, 6.2, 6.4])
    """
    _check_columns(results)
    rows = results.reset_index(drop=True)
    if sampling is not None and len(sampling):
        rows = composites.mark(rows, sampling)
    code = composites.codes(rows, SERIES)
    first = np.flatnonzero(np.diff(np.maximum.accumulate(code), prepend=-1)) if len(code) else code
    series = rows.iloc[first][SERIES].reset_index(drop=True)
    _check(rows, series)
    series["scale"] = scales.scales(series["analyte"])
    tests, origin, timeless = _dated(rows, code)
    raw, reason = _bounded(tests, rows, series)
    notes = remarks.Notes.of(rows["note"])
    for prefix, why in ((frames.INFLATED, 3), (frames.QUESTIONED, 5)):
        reason[notes.bear(prefix, first=True)] = why
    reason[timeless] = 4
    left = _count(code[reason > 0], reason[reason > 0], len(series))
    tests = _averaged(raw, rows, np.flatnonzero(reason == 0) if reason.any() else None)
    season, lone = season_groups(tests.series, tests.name, count=len(series))
    left[:, len(remarks.LEFT)] += np.bincount(tests.series[lone], minlength=len(series))
    _describe(series, tests, origin)
    series["left"], series["breaks"] = remarks.left_out(left), remarks.breaks(series)
    series["warning"] = remarks.warnings(notes, code, reason == 0, len(series))
    series["joined"] = remarks.joined(notes, code, reason == 0, len(series))
    points, place = _points(tests, season, lone)
    return Laid(series, tests, points, origin, moved(rows, raw, reason == 0, tests), place)


def _check_columns(results: pd.DataFrame) -> None:
    """Refuse a frame without the columns, or whose columns are of the wrong kind."""
    kinds = results.dtypes
    if (
        any(name not in results for name in frames.RESULTS)
        or not (kinds[list(frames.NUMBER)] == "float64").all()
        or not (kinds[list(frames.TEXT)] == "str").all()
        or not frames.is_day(results["sampled"])
    ):
        frames.check(results)


def _check(rows: pd.DataFrame, series: pd.DataFrame) -> None:
    """Refuse what is not tidy, with all its faults; sound frames are looked at quickly."""
    top, bottom = series["top_cm"].to_numpy(), series["bottom_cm"].to_numpy()
    sound = bool(np.isfinite(rows["value"].to_numpy()).all()) and not bool(
        ((bottom <= top) | (top < 0)).any()
    )
    sign = rows["qualifier"]
    sound &= _blank(sign) or bool(sign.isin(frames.QUALIFIERS).all())
    sound &= not {"", frames.GARDEN} & set(series["bed"].unique())
    sound &= bool(series[TEXT].notna().to_numpy().all() and rows[["season", "note"]].notna().to_numpy().all())
    kinds = series[["analyte", "unit"]].drop_duplicates()
    wanted = kinds["analyte"].map(vocabulary.canonical_unit)
    if not sound or bool(((wanted != "") & (wanted != kinds["unit"])).any()):
        frames.check(rows)


def _blank(column: pd.Series) -> bool:
    """Return whether a column of text holds nothing."""
    return composites.constant(column) and column.iloc[0] == ""


def _labels(season: pd.Series) -> tuple[np.ndarray, np.ndarray]:
    """Return year and season code of each season label; NaN and NONE where it does not say."""
    code, labels = pd.factorize(season)
    names = [frames.season_name(text) for text in labels]
    name = np.array([frames.SEASONS.index(n) if n in frames.SEASONS else NONE for n in names], dtype=int)
    year = np.array([float(text[-4:]) if text[-4:].isdigit() else np.nan for text in labels], dtype=float)
    return year[code], name[code]


def _dated(rows: pd.DataFrame, code: np.ndarray) -> tuple[Entries, pd.Timestamp, np.ndarray]:
    """Return day and occasion of each result, the first day, and which bear no time at all.

    A test without a day stands where :func:`soiltrend.frames.in_time` puts it.
    """
    sampled = rows["sampled"]
    dated = sampled.notna().to_numpy()
    day = sampled.to_numpy().astype("datetime64[D]").astype(np.int64)
    year, name = _labels(rows["season"])
    told = dated & ((name == NONE) | np.isnan(year))
    if told.any():
        month = sampled[told].dt.month.to_numpy()
        name[told], year[told] = month % 12 // 3, sampled[told].dt.year.to_numpy() + (month == 12)
    timeless = ~dated & np.isnan(year)
    if not dated.all():
        placed = frames.in_time(rows)["sampled"].fillna(pd.Timestamp(0))
        day = placed.to_numpy().astype("datetime64[D]").astype(np.int64)
    origin = int(day[~timeless].min()) if not timeless.all() else 0
    occasion = (np.nan_to_num(year) * (NONE + 1) + name).astype(np.int64)
    none = np.empty(0)
    return Entries(code, day - origin, occasion, none, none, dated), pd.Timestamp(origin, unit="D"), timeless


def _bounded(tests: Entries, rows: pd.DataFrame, series: pd.DataFrame) -> tuple[Entries, np.ndarray]:
    """Return the tests with their bounds, and why a result is left out (0 where it is not)."""
    value, sign = rows["value"].to_numpy(), rows["qualifier"]
    y, plain, share = value.copy(), series["scale"] == scales.PLAIN, series["scale"] == scales.SHARE
    for scale in series["scale"].unique():
        if scale != scales.PLAIN:
            mine = (series["scale"] == scale).to_numpy()[tests.series]
            y[mine] = scales.forward(value[mine], np.array(scale))
    low = high = y
    if not _blank(sign):
        floor = np.where(plain.to_numpy()[tests.series], np.minimum(value, 0.0), -np.inf)
        low, high = np.where(sign == "<", floor, y), np.where(sign == ">", np.inf, y)
    lost = np.isnan(y)
    reason = np.where(lost, np.where(share.to_numpy()[tests.series], 2, 1), 0)
    return Entries(tests.series, tests.day, tests.occasion, low, high, tests.dated), reason


def _averaged(tests: Entries, rows: pd.DataFrame, used: np.ndarray | None) -> Entries:
    """Return one test per series and day: splits averaged into composites, composites into days."""
    place = np.arange(len(rows)) if used is None else used
    tests = tests if used is None else tests.at(used)
    key = tests.series * (int(tests.day.max(initial=0)) + 1) + tests.day
    if (key[1:] < key[:-1]).any():
        order = np.argsort(key, kind="stable")
        tests, place, key = tests.at(order), place[order], key[order]
    if not (key[1:] == key[:-1]).any():
        return tests
    bag = (
        rows["composite"] if "composite" in rows else composites.mark(rows, composites.record())["composite"]
    )
    bucket = bag.to_numpy()[place]
    inner = np.lexsort((bucket, key))
    tests, bucket = tests.at(inner), bucket[inner]
    tests = _mean(tests, _again(tests.series, tests.day, bucket))
    return _mean(tests, _again(tests.series, tests.day))


def _again(*keys: np.ndarray) -> np.ndarray:
    """Return which entries repeat the one before in all keys."""
    same = np.ones(len(keys[0]), dtype=bool)
    same[:1] = False
    for key in keys:
        same[1:] &= key[1:] == key[:-1]
    return same


def _mean(tests: Entries, again: np.ndarray) -> Entries:
    """Return the tests with each run of repeats averaged; a single one is left as it is."""
    starts = np.flatnonzero(~again)
    size = np.diff(np.append(starts, len(again)))
    out = tests.at(starts)
    with np.errstate(invalid="ignore"):
        low, high = (np.add.reduceat(part, starts) / size for part in (tests.low, tests.high))
    low, high = (np.where(size == 1, one, mean) for one, mean in ((out.low, low), (out.high, high)))
    return Entries(out.series, out.day, out.occasion, low, high, out.dated)


def season_groups(series: np.ndarray, name: np.ndarray, *, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the season group of each test within its series, and which tests are alone in theirs.

    Parameters
    ----------
    series, name : array of int
        Series and season of each test, the season as a place in ``frames.SEASONS`` or :data:`NONE`.
    count : int
        Number of series.

    Examples
    --------
    >>> season_groups(np.zeros(4, int), np.array([1, 3, 1, 1]), count=1)
    (array([0, 1, 0, 0]), array([False,  True, False, False]))
    """
    per = _count(series, name, count)
    several = (per > 0).sum(axis=1)
    untidy = (several > 2) | ((several > 1) & (per == 1).any(axis=1))
    if untidy.any():
        name = np.where(untidy[series], _HALF[name], name)
        per = _count(series, name, count)
        several = (per > 0).sum(axis=1)
    if (several <= 1).all():
        return np.zeros_like(series), np.zeros(len(series), dtype=bool)
    lone = (per[series, name] == 1) & (several[series] > 1)
    rank = np.argsort(np.argsort(-per, axis=1, kind="stable"), axis=1, kind="stable")
    return rank[series, name], lone


def _count(series: np.ndarray, code: np.ndarray, count: int) -> np.ndarray:
    """Return how often each code from 0 to 5 occurs in each series."""
    width = len(remarks.LEFT) + 1
    return np.bincount(series * width + code, minlength=count * width).reshape(count, width)


def _describe(series: pd.DataFrame, tests: Entries, origin: pd.Timestamp) -> None:
    """Write numbers of tests, first and last day and the last values into the series."""
    count = len(series)
    n = np.bincount(tests.series, minlength=count)
    ends = np.cumsum(n)
    some, start, none = n > 0, origin.to_datetime64().astype("datetime64[D]"), np.datetime64("NaT", "D")
    series["n"] = n
    series["n_censored"] = np.bincount(tests.series[tests.low < tests.high], minlength=count)
    series["undated"] = np.bincount(tests.series[~tests.dated], minlength=count)
    for name, at in (("first", ends - n), ("last", ends - 1)):
        day = np.full(count, none)
        day[some] = start + tests.day[at[some]]
        year = day.astype("datetime64[Y]").astype(float) + 1970
        series[f"{name}_year"] = np.where(some, year, np.nan)
        series[name] = day.astype("datetime64[s]")
    for name in ("low", "high"):
        value = np.full(count, np.nan)
        value[some] = getattr(tests, name)[ends[some] - 1]
        series[f"last_{name}"] = value


def _points(tests: Entries, season: np.ndarray, lone: np.ndarray) -> tuple[Points, np.ndarray]:
    """Return the tests that are not alone in their season, in the order of work, and where they are."""
    used = np.flatnonzero(~lone)
    if season.any():
        used = used[np.lexsort((tests.time[used], season[used], tests.series[used]))]
    points = Points(tests.series[used], season[used], tests.time[used], tests.low[used], tests.high[used])
    return points, used


def rounded(laid: Laid, wanted: np.ndarray) -> np.ndarray:
    """Return the error that rounding alone gives the wanted series on their scale, 0 for the others."""
    points = some(laid.points, wanted[laid.points.series] & (laid.points.low == laid.points.high))
    on = laid.series["scale"].to_numpy()[points.series]
    value = scales.back(points.low, on)
    return lines.rounding(points, value, scales.steepness(value, on), count=len(wanted))


def some(points: Points, which: np.ndarray) -> Points:
    """Return some of the points, by mask."""
    return Points(*(getattr(points, name)[which] for name in ("series", "season", "time", "low", "high")))
