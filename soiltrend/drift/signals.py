"""Where a ratio stands now, how it moves, and whether it left the place of its first tests."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import composites, frames, scales, series
from soiltrend.chances import stdtr, stdtrit
from soiltrend.noise import Noise
from soiltrend.slopes import lines
from soiltrend.slopes.batch import LEAST, Fits, Points, fit
from soiltrend.slopes.control import next_half_width

WEIGHT = 0.3
"""Weight of the newest test in the running mean (NIST/SEMATECH handbook 6.3.2.4: 0.2 to 0.3)."""

STEP = 0.5
"""Years between tests to which that weight belongs: spring and autumn."""

WATCHED = 6
"""Tests from which the first of them can serve as a baseline for the others."""

BASE = (4, 8)
"""Least and most tests of the baseline, half of the record between."""

BEYOND = 0.01
"""Chance that one test of an unmoved ratio lies outside its own band."""

TRUSTED = 6
"""Degrees of freedom from which the garden's own scatter, when larger than the table's, is taken."""

KEY = list(frames.POOLED)
OWN = "the bed's own first tests"
ALPHA = 0.05


@dataclass(frozen=True, eq=False)
class Tests:
    """The measured tests of the ratios in order of time, their season's level taken off."""

    series: np.ndarray
    time: np.ndarray
    y: np.ndarray
    place: np.ndarray
    n: np.ndarray
    end: np.ndarray

    __test__ = False


def signals(laid: series.Laid, mine: pd.DataFrame, model: Noise, *, earlier: bool = False) -> pd.DataFrame:
    """Return the level now, the slope and the three chances of each ratio, on its analysis scale.

    Parameters
    ----------
    laid : Laid
        All series.
    mine : DataFrame
        The rows of ``laid.series`` that are ratios, with their edges ``low_edge`` and ``high_edge``.
    model : Noise
        How far results move by themselves.
    earlier : bool
        Leave out the last test of each season, to see what stood before it.
    """
    count = len(mine)
    points = _chosen(laid.points, mine["at"].to_numpy(), len(laid.series), earlier=earlier)
    fits = fit(points, count=count)
    floor = series.rounded(laid, np.isin(np.arange(len(laid.series)), mine["at"]))[mine["at"]]
    line = lines.choose(fits, floor=floor)
    tests = _tests(points, fits, count)
    out = mine.assign(
        n=tests.n,
        span=fits.end - fits.start,
        slope=line.slope,
        slope_low=line.low,
        slope_high=line.high,
        p_slope=line.p,
        **_spread(mine, fits, model),
    )
    _level(out, tests, line, fits)
    _shift(out, tests)
    _edges(out)
    return out


def _chosen(points: Points, at: np.ndarray, count: int, *, earlier: bool) -> Points:
    """Return the points of some series, numbered anew."""
    new = np.full(count, -1)
    new[at] = np.arange(len(at))
    keep = new[points.series] >= 0
    if earlier:
        last = np.ones(len(points.series), dtype=bool)
        last[:-1] = (points.series[1:] != points.series[:-1]) | (points.season[1:] != points.season[:-1])
        keep &= ~last
    part = series.some(points, keep)
    return Points(new[part.series], part.season, part.time, part.low, part.high)


def _tests(points: Points, fits: Fits, count: int) -> Tests:
    """Return the measured tests, each less what its season differs from the mean of the seasons."""
    exact = series.some(points, points.low == points.high)
    slope = np.nan_to_num(np.where(np.isfinite(fits.slope), fits.slope, fits.middle_slope))
    wide = int(exact.season.max(initial=0)) + 1
    cell = exact.series * wide + exact.season
    rest = exact.low - slope[exact.series] * exact.time
    size = np.bincount(cell, minlength=count * wide)
    level = np.bincount(cell, weights=rest, minlength=count * wide) / np.maximum(size, 1)
    seasons = (size > 0).reshape(count, wide).sum(axis=1)
    middle = np.where(size > 0, level, 0.0).reshape(count, wide).sum(axis=1) / np.maximum(seasons, 1)
    y = exact.low - level[cell] + middle[exact.series]
    order = np.lexsort((exact.time, exact.series))
    at, time = exact.series[order], exact.time[order]
    n = np.bincount(at, minlength=count)
    start = np.cumsum(n) - n
    end = np.where(n > 0, time[np.maximum(start + n - 1, 0)] if len(time) else 0.0, np.nan)
    return Tests(at, time, y[order], np.arange(len(at)) - start[at], n, end)


def _spread(mine: pd.DataFrame, fits: Fits, model: Noise) -> dict[str, np.ndarray]:
    """Return the standard deviation of one test and its degrees of freedom: all beds and the table together.

    The larger of that and the garden's own scatter is taken once the latter is known well enough, so that
    a garden noisier than the table is not flagged for it.
    """
    known = model.of(mine)
    prior = (known["sd"] ** 2 + known["occasion"] ** 2).to_numpy()
    trust = np.minimum(known["df"].to_numpy(dtype=float), 100.0)
    usable = np.nan_to_num(fits.df) > 0
    squares = np.where(usable, np.nan_to_num(fits.se**2 * fits.sxx * fits.df), 0.0)
    key = composites.codes(mine, KEY)
    total = np.bincount(key, weights=squares)[key]
    df = np.bincount(key, weights=np.where(usable, np.nan_to_num(fits.df), 0.0))[key]
    mixed = (trust * prior + total) / (trust + df)
    own = total / np.maximum(df, 1.0)
    return {"sd": np.sqrt(np.where(df >= TRUSTED, np.maximum(mixed, own), mixed)), "dof": trust + df}


def _level(out: pd.DataFrame, tests: Tests, line: lines.Lines, fits: Fits) -> None:
    """Write the level now: where the line ends if there is a slope, otherwise a running mean."""
    count = len(out)
    weight = (1 - WEIGHT) ** ((tests.end[tests.series] - tests.time) / STEP)
    total = np.bincount(tests.series, weights=weight, minlength=count).astype(float)
    total[total == 0] = np.nan
    mean = np.bincount(tests.series, weights=weight * tests.y, minlength=count) / total
    part = np.bincount(tests.series, weights=weight**2, minlength=count) / total**2
    size = np.maximum(tests.n, 1)
    average = np.bincount(tests.series, weights=tests.y, minlength=count) / size
    middle = np.bincount(tests.series, weights=tests.time, minlength=count) / size
    away = tests.end - middle
    sloped = (line.kind != lines.NOTHING) & (line.p <= ALPHA) & np.isfinite(line.slope)
    out["level"] = np.where(sloped, average + np.nan_to_num(line.slope) * away, mean)
    with np.errstate(divide="ignore", invalid="ignore"):
        ended = 1 / size + away**2 / fits.sxx
    out["se"] = out["sd"] * np.sqrt(np.where(sloped, ended, part))
    half = stdtrit(out["dof"], 1 - ALPHA / 2) * out["se"]
    out["level_low"], out["level_high"] = out["level"] - half, out["level"] + half


def _shift(out: pd.DataFrame, tests: Tests) -> None:
    """Write the mean of the first tests and how surely the running mean of the others left it."""
    count = len(out)
    base = np.where(tests.n >= WATCHED, np.clip(tests.n // 2, *BASE), 0)
    first = tests.place < base[tests.series]
    size = np.maximum(base, 1)
    start = np.bincount(tests.series[first], weights=tests.y[first], minlength=count) / size
    gap = np.diff(tests.time, prepend=0.0)
    later = ~first & (base[tests.series] > 0)
    left = (1 - WEIGHT) ** (gap / STEP)
    weight = (1 - left) * (1 - WEIGHT) ** ((tests.end[tests.series] - tests.time) / STEP)
    at, weight, y = tests.series[later], weight[later], tests.y[later]
    total = np.bincount(at, weights=weight, minlength=count)
    moved = np.bincount(at, weights=weight * (y - start[at]), minlength=count)
    part = np.bincount(at, weights=weight**2, minlength=count) + total**2 / size
    with np.errstate(divide="ignore", invalid="ignore"):
        t = np.abs(moved) / (out["sd"].to_numpy() * np.sqrt(part))
    out["base"], out["start"] = base, np.where(base > 0, start, np.nan)
    out["moved"] = np.where(base > 0, moved, np.nan)
    out["p_shift"] = np.where(base > 0, 2 * stdtr(out["dof"], -np.nan_to_num(t)), np.nan)


def _edges(out: pd.DataFrame) -> None:
    """Write the edges on the analysis scale and the chance that the level lies inside them."""
    on = out["scale"].to_numpy()
    ends = {}
    for name in ("low_edge", "high_edge"):
        edge = out[name].to_numpy(dtype=float)
        inner = scales.forward(np.where(np.isfinite(edge), edge, 1.0), on)
        ends[name] = np.where(np.isfinite(edge), inner, edge)
    out["p_outside"] = _outside(out, ends["low_edge"], ends["high_edge"])
    free = ~np.isfinite(ends["low_edge"]) & ~np.isfinite(ends["high_edge"]) & (out["base"] > 0).to_numpy()
    half = next_half_width(
        out["base"].to_numpy(), sd=out["sd"].to_numpy(), df=out["dof"].to_numpy(), chance=BEYOND
    )
    out["inner_low"] = np.where(free, out["start"] - half, ends["low_edge"])
    out["inner_high"] = np.where(free, out["start"] + half, ends["high_edge"])
    out["own"] = free
    out["band"] = np.where(free, OWN, out["band"])


def _outside(out: pd.DataFrame, low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """Return the one-sided chance that the level lies inside; NaN without an edge."""
    level, se = out["level"].to_numpy(), out["se"].to_numpy()
    with np.errstate(divide="ignore", invalid="ignore"):
        beyond = np.maximum(low - level, level - high) / se
    p = np.where(beyond > 0, stdtr(out["dof"].to_numpy(), -np.nan_to_num(beyond)), 1.0)
    none = (~np.isfinite(low) & ~np.isfinite(high)) | np.isnan(level)
    return np.where(none, np.nan, p)


def enough(out: pd.DataFrame) -> np.ndarray:
    """Return which ratios have tests enough to be judged."""
    return np.asarray((out["n"] >= LEAST) & out["level"].notna())
