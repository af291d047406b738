"""One trend for several series that share their days: the day, not the bed, is what is repeated.

Everything sampled on one day shares weather, moisture, corer and batch, so twelve beds of one day are
not twelve witnesses. The mean of each occasion is one value, and the trend is judged by how such
values scatter about their line; more beds make each value steadier but do not add occasions.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import permutations

import numpy as np

from soiltrend.chances import stdtr, stdtrit

ENUMERATED = 7
"""Occasions in one season up to which every order of the dates is tried (5,040 of them)."""

DRAWS = 1999
"""Orders drawn where there are more."""

BEDS_FOR_SPREAD = 6
"""Beds below which the spread of their slopes is not told: too few to know it."""


@dataclass(frozen=True, eq=False)
class Shared:
    """A trend shared by series.

    Attributes
    ----------
    slope, se, df, p : float
        Of the occasions' means, with a level for each season.
    centre : float
        Their line at the middle of the record.
    se_beds, p_beds : float
        The same slope judged by how the beds' own slopes scatter.
    spread : float
        Standard deviation of the beds' true slopes; NaN when too few beds.
    own : array of float
        Slope of each bed, NaN where it has too few tests.
    shrunk : array of float
        Those drawn toward the shared slope by how unsure each is.
    """

    slope: float
    se: float
    df: int
    p: float
    centre: float
    se_beds: float
    p_beds: float
    spread: float
    own: np.ndarray
    shrunk: np.ndarray


def occasion_effects(y: np.ndarray) -> np.ndarray | None:
    """Return the level of each occasion after the beds' own levels are taken off.

    Parameters
    ----------
    y : array of float
        One row a bed, one column an occasion, NaN where there was no test.

    Returns
    -------
    array of float or None
        Least-squares effects, averaging to the mean of all; None when the beds fall into groups that
        never met on one occasion, so that dates cannot be told from beds.

    Examples
    --------
    >>> occasion_effects(np.array([[1.0, 2.0, np.nan], [3.0, 4.0, 6.0]])).round(2)
    array([2., 3., 5.])
    """
    seen = np.isfinite(y)
    if seen.all():
        return np.asarray(y.mean(axis=0))
    filled, per_bed = np.where(seen, y, 0.0), seen.sum(axis=1)
    share = seen / np.maximum(per_bed, 1)[:, None]
    normal = np.diag(seen.sum(axis=0)) - seen.T @ share
    right = filled.sum(axis=0) - share.T @ filled.sum(axis=1)
    if np.linalg.matrix_rank(normal) < len(normal) - 1:
        return None
    effect = np.linalg.lstsq(normal, right, rcond=None)[0]
    bed = (filled - effect * seen).sum(axis=1) / np.maximum(per_bed, 1)
    return np.asarray(effect + bed[per_bed > 0].mean())


def _within(values: np.ndarray, season: np.ndarray) -> np.ndarray:
    """Return values less the mean of their season."""
    sums = np.bincount(season, weights=values)
    return np.asarray(values - (sums / np.maximum(np.bincount(season), 1))[season])


def bed_slopes(y: np.ndarray, t: np.ndarray, season: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the least-squares slope of each bed, its sum of squares of time, and residuals.

    Parameters
    ----------
    y : array of float
        One row a bed, one column an occasion.
    t, season : array
        Time and season of the occasions.
    """
    seen = np.isfinite(y)
    tc, yc = np.where(seen, t, 0.0), np.where(seen, y, 0.0)
    for code in range(int(season.max(initial=0)) + 1):
        part = season == code
        n = np.maximum(seen[:, part].sum(axis=1, keepdims=True), 1)
        tc[:, part] -= tc[:, part].sum(axis=1, keepdims=True) / n
        yc[:, part] -= yc[:, part].sum(axis=1, keepdims=True) / n
    tc, yc = np.where(seen, tc, 0.0), np.where(seen, yc, 0.0)
    sxx = (tc**2).sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.where(sxx > 0, (tc * yc).sum(axis=1) / sxx, np.nan)
    return slope, sxx, yc - np.nan_to_num(slope)[:, None] * tc


def shrink(slope: np.ndarray, variance: np.ndarray) -> tuple[np.ndarray, float]:
    """Return slopes drawn toward their mean, and the spread of the true ones.

    Parameters
    ----------
    slope, variance : array of float
        Slopes and the variances of their errors.

    Returns
    -------
    tuple
        Weighted means w b + (1 - w) mean(b) with w = spread^2 / (spread^2 + variance), and the spread:
        the square root of what the variance of the slopes exceeds the mean variance of their
        errors by, 0 when it does not.

    Examples
    --------
    >>> drawn, spread = shrink(np.array([1.0, 2.0, 3.0]), np.full(3, 0.25))
    >>> drawn.round(3), round(spread, 3)
    (array([1.25, 2.  , 2.75]), 0.866)
    """
    spread = max(0.0, float(np.var(slope, ddof=1) - variance.mean()))
    weight = np.divide(spread, spread + variance, out=np.zeros_like(variance), where=spread + variance > 0)
    return weight * slope + (1 - weight) * slope.mean(), float(np.sqrt(spread))


def share(y: np.ndarray, t: np.ndarray, season: np.ndarray) -> Shared | None:
    """Return the trend that beds share.

    Parameters
    ----------
    y : array of float
        One row a bed, one column an occasion, on the analysis scale; NaN where there was no test.
    t, season : array
        Time [years] and season of the occasions.

    Returns
    -------
    Shared or None
        None when dates cannot be told from beds, or too few occasions are left to judge.

    Examples
    --------
    >>> t = np.arange(5.0)
    >>> beds = np.array([[0.0], [1.0]]) + 0.2 * t + np.array([0.1, -0.1, 0.0, -0.1, 0.1])
    >>> found = share(beds, t, np.zeros(5, int))
    >>> round(found.slope, 3), round(found.p, 3)
    (0.2, 0.012)
    """
    effect = occasion_effects(y)
    df = len(t) - len(np.unique(season)) - 1
    tc = _within(t, season)
    sxx = float(tc @ tc)
    if effect is None or df < 1 or sxx <= 0:
        return None
    oc = _within(effect, season)
    slope = float(tc @ oc) / sxx
    rest = oc - slope * tc
    se = float(np.sqrt(float(rest @ rest) / df / sxx))
    middle = float(np.add(t.min(), t.max())) / 2
    own, se_beds, shrunk, spread = _beds(y, t, season, slope)
    count = int(np.isfinite(own).sum())
    return Shared(
        slope,
        se,
        df,
        _chance(slope, se, df),
        float((effect - slope * (t - middle)).mean()),
        se_beds,
        _chance(slope, se_beds, count - 1),
        spread,
        own,
        shrunk,
    )


def _chance(slope: float, se: float, df: int) -> float:
    """Return the two-sided chance by t; 1 when nothing moved, NaN when it cannot be judged."""
    if df < 1 or np.isnan(se):
        return np.nan
    return float(2 * stdtr(df, -abs(slope) / se)) if se > 0 else float(slope == 0)


def half_width(se: float, df: float, confidence: float) -> float:
    """Return the half-width of a t interval.

    Examples
    --------
    >>> round(half_width(1.0, 10, 0.95), 3)
    2.228
    """
    return float(stdtrit(df, 0.5 + confidence / 2) * se)


def _beds(
    y: np.ndarray, t: np.ndarray, season: np.ndarray, shared: float
) -> tuple[np.ndarray, float, np.ndarray, float]:
    """Return the beds' slopes, the error of their mean, and the shrunken slopes with their spread."""
    own, sxx, _ = bed_slopes(y, t, season)
    enough = np.isfinite(own) & (np.isfinite(y).sum(axis=1) >= 3)
    own = np.where(enough, own, np.nan)
    count = int(enough.sum())
    if count < 2:
        return own, np.nan, np.full(len(own), np.nan), np.nan
    se = float(np.std(own[enough], ddof=1) / np.sqrt(count))
    drawn, spread = np.full(len(own), np.nan), np.nan
    if count >= BEDS_FOR_SPREAD:
        error = _interaction(y[enough], t, own[enough])
        drawn[enough], spread = shrink(own[enough], error / sxx[enough])
        drawn += shared - np.nanmean(own)
    return own, se, drawn, spread


def _interaction(y: np.ndarray, t: np.ndarray, own: np.ndarray) -> float:
    """Return the error variance of one bed on one day, after beds, days and the beds' slopes."""
    rest = y - own[:, None] * (t - t.mean())
    effect = occasion_effects(rest)
    if effect is None:
        return np.nan
    seen = np.isfinite(rest)
    rest = rest - effect
    rest = rest - np.nanmean(rest, axis=1, keepdims=True)
    df = seen.sum() - 2 * len(y) - y.shape[1] + 2
    return float(np.nansum(rest**2) / df) if df > 0 else np.nan


def date_chance(low: np.ndarray, high: np.ndarray, season: np.ndarray) -> tuple[int, float]:
    """Return the count of rises less falls over all beds, and its chance when dates are shuffled.

    Whole occasions change places within their season, all beds together, so that what beds share on a
    day cannot pass for a trend.

    Parameters
    ----------
    low, high : array of float
        Bounds of the values, one row a bed, one column an occasion in order of time; NaN for no test.
    season : array of int
        Season of each occasion.

    Returns
    -------
    tuple
        The count, and its two-sided chance: over all orders where a season has at most
        :data:`ENUMERATED` occasions, otherwise over :data:`DRAWS` orders drawn.

    Examples
    --------
    >>> y = np.array([[1.0, 2.0, 3.0], [5.0, 6.0, 8.0]])
    >>> date_chance(y, y, np.zeros(3, int))
    (6, 0.3333333333333333)
    """
    parts = [_signs(low[:, season == code], high[:, season == code]) for code in np.unique(season)]
    found = sum(int(sign.sum()) for sign, _ in parts)
    if max(n for _, n in parts) <= ENUMERATED:
        return found, _every_order(parts, abs(found))
    drawn = np.zeros(DRAWS)
    for seed, (sign, n) in enumerate(parts):
        drawn += _drawn_turns(n, seed) @ sign
    return found, float((1 + (np.abs(drawn) >= abs(found)).sum()) / (DRAWS + 1))


def _signs(low: np.ndarray, high: np.ndarray) -> tuple[np.ndarray, int]:
    """Return for each pair of occasions how many beds rise less how many fall, and how many occasions."""
    n = low.shape[1]
    later = [(low[:, i + 1 :], high[:, i + 1 :], low[:, [i]], high[:, [i]]) for i in range(n)]
    rows = [(a > d).sum(axis=0) - (b < c).sum(axis=0) for a, b, c, d in later]
    return np.concatenate(rows).astype(np.float32), n


def _every_order(parts: list[tuple[np.ndarray, int]], found: int) -> float:
    """Return how many of all orders of dates within seasons give a count as far from 0, as a share."""
    total, low = np.ones(1), 0
    for sign, n in parts:
        counts = np.round(_all_turns(n) @ sign).astype(np.int64)
        total = np.convolve(total, np.bincount(counts - counts.min()) / len(counts))
        low += int(counts.min())
    far = np.abs(np.arange(len(total)) + low) >= found
    return min(1.0, float(total[far].sum()))


def _turns(orders: np.ndarray) -> np.ndarray:
    """Return 1 where an order of the dates keeps a pair as it is and -1 where it turns it."""
    place = np.argsort(orders, axis=1)
    i, j = np.triu_indices(orders.shape[1], 1)
    return np.where(place[:, j] > place[:, i], 1, -1).astype(np.float32)


@lru_cache(maxsize=ENUMERATED + 1)
def _all_turns(n: int) -> np.ndarray:
    """Return the turns of every order of n dates."""
    return _turns(np.array(list(permutations(range(n))), dtype=np.int64).reshape(-1, n))


@lru_cache(maxsize=16)
def _drawn_turns(n: int, seed: int) -> np.ndarray:
    """Return the turns of orders of n dates drawn by chance, always the same ones."""
    rng = np.random.default_rng(seed)
    return _turns(rng.permuted(np.tile(np.arange(n), (DRAWS, 1)), axis=1))
