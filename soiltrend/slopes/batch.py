"""Slopes of many short series at once, one path for a single series and for a million.

Series are laid end to end, each ordered by season and time. All series with the same numbers of tests
in each season form a block, a matrix of one row a series, and only pairs within a season are formed:
spring with spring, autumn with autumn. A block is worked in chunks, so memory does not grow with it.

A value below its limit is an interval. Its pairwise slopes are intervals too: the slope is the median
of all their ends (where the count of certainly rising less certainly falling pairs is even, after
Akritas, Murphy & LaValley 1995), and the bounds are those of the least favourable ends. For the chance,
everything below the highest lower limit is one tie (Helsel 2012), so that a limit that falls over the
years makes no trend.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from soiltrend.slopes import ranks

CELLS = 1 << 17
"""Pairs worked on at once; they and their copies fit a processor's cache."""

LEAST = 3
"""Tests below which a series has no trend, only a difference."""

Block = tuple[tuple[int, ...], float]


@dataclass(frozen=True, eq=False)
class Points:
    """Tests of many series, ordered by series, season and time.

    Attributes
    ----------
    series : array of int
        Which series each test belongs to, from 0.
    season : array of int
        Its season within the series, from 0; one season only if all are 0.
    time : array of float
        Years; no two tests of one series and season at one time.
    low, high : array of float
        Bounds of the value on its analysis scale, equal where it was measured.
    """

    series: np.ndarray
    season: np.ndarray
    time: np.ndarray
    low: np.ndarray
    high: np.ndarray


@dataclass(frozen=True, eq=False)
class Fits:
    """What was found, one entry a series; NaN where there is none.

    Attributes
    ----------
    n, censored, seasons : array of float
        Tests, those beyond a limit, and seasons.
    s, chance : array of float
        The Mann-Kendall count over all seasons and its exact two-sided chance.
    middle_slope, rank_low, rank_high, rank_level : array of float
        Median of the pairwise slopes (Theil-Sen), the order-statistic interval of it and the confidence
        that has; infinite where none exists.
    tight_low, tight_high : array of float
        The interval of two one-sided tests (of 90 % for a confidence of 95 %).
    rank_centre : array of float
        The line at the middle of the record (median of the values less the slope).
    slope, se, df, centre : array of float
        The same by least squares with a level for each season: slope, its standard error, degrees of
        freedom, and the mean level at the middle of the record.
    sxx, middle, start, end : array of float
        Sum of squares of time within seasons; middle, first and last time.
    """

    n: np.ndarray
    censored: np.ndarray
    seasons: np.ndarray
    s: np.ndarray
    chance: np.ndarray
    middle_slope: np.ndarray
    rank_low: np.ndarray
    rank_high: np.ndarray
    rank_level: np.ndarray
    tight_low: np.ndarray
    tight_high: np.ndarray
    rank_centre: np.ndarray
    slope: np.ndarray
    se: np.ndarray
    df: np.ndarray
    centre: np.ndarray
    sxx: np.ndarray
    middle: np.ndarray
    start: np.ndarray
    end: np.ndarray


def fit(points: Points, *, count: int, confidence: float = 0.95) -> Fits:
    """Return slopes, exact chances and intervals of many series.

    Parameters
    ----------
    points : Points
        The tests.
    count : int
        Number of series.
    confidence : float
        Of the intervals.

    Examples
    --------
    >>> years, values = np.arange(5.0), np.array([6.1, 6.1, 6.2, 6.3, 6.3])
    >>> one = Points(np.zeros(5, int), np.zeros(5, int), years, values, values)
    >>> found = fit(one, count=1)
    >>> found.chance.round(4), found.middle_slope.round(3)
    (array([0.0667]), array([0.058]))
    """
    out = Fits(*(np.full(count, np.nan) for _ in fields(Fits)))
    out.n[:] = np.bincount(points.series, minlength=count)
    out.censored[:] = np.bincount(points.series, weights=points.low < points.high, minlength=count)
    starts = np.concatenate([[0], np.cumsum(out.n)]).astype(int)
    for counts, rows in _blocks(points, count):
        n = sum(counts)
        if n >= LEAST:
            size = max(1, CELLS // (n * n // 2))
            for begin in range(0, len(rows), size):
                part = rows[begin : begin + size]
                at = starts[part][:, None] + np.arange(n)
                _chunk(points, at, out, part, (counts, confidence))
    return out


def _blocks(points: Points, count: int) -> list[tuple[tuple[int, ...], np.ndarray]]:
    """Return the numbers of tests by season that occur, each with the series that have them."""
    seasons = int(points.season.max(initial=0)) + 1
    cell = points.series * seasons + points.season
    table = np.bincount(cell, minlength=count * seasons).reshape(count, seasons)
    key = table @ (int(table.max(initial=0)) + 1) ** np.arange(seasons)
    order = np.argsort(key, kind="stable")
    edges = np.flatnonzero(np.diff(key[order], prepend=-1))
    return [
        (tuple(int(c) for c in table[rows[0]] if c), rows) for rows in np.split(order, edges[1:]) if len(rows)
    ]


def _segments(counts: tuple[int, ...]) -> list[slice]:
    """Return the columns of each season."""
    ends = np.cumsum(counts)
    return [slice(int(end - n), int(end)) for n, end in zip(counts, ends, strict=True)]


def _chunk(points: Points, at: np.ndarray, out: Fits, rows: np.ndarray, block: Block) -> None:
    """Write the fits of some series of one block."""
    counts = block[0]
    t, low, high = points.time[at], points.low[at], points.high[at]
    start, end = t.min(axis=1), t.max(axis=1)
    middle = (start + end) / 2
    out.start[rows], out.end[rows], out.middle[rows], out.seasons[rows] = start, end, middle, len(counts)
    beyond = (low < high).any(axis=1)
    for limited in (False, True):
        mine = np.flatnonzero(beyond == limited)
        if len(mine):
            part = t[mine], low[mine], high[mine]
            _ranked(part, out, rows[mine], block, limited=limited)
            _least_squares(part, out, rows[mine], counts, limited=limited)
            _centred(part, out, rows[mine], middle[mine])


def differences(later: np.ndarray, earlier: np.ndarray, counts: tuple[int, ...]) -> np.ndarray:
    """Return later less earlier for every pair within a season, one row a series.

    Examples
    --------
    >>> y = np.array([[1.0, 3.0, 10.0, 15.0]])
    >>> differences(y, y, (2, 2))
    array([[2., 5.]])
    """
    out = np.empty((len(later), sum(n * (n - 1) // 2 for n in counts)))
    at = 0
    for part in _segments(counts):
        for lag in range(1, part.stop - part.start):
            width = part.stop - part.start - lag
            left, right = slice(part.start, part.stop - lag), slice(part.start + lag, part.stop)
            np.subtract(later[:, right], earlier[:, left], out=out[:, at : at + width])
            at += width
    return out


def _ranked(
    part: tuple[np.ndarray, ...], out: Fits, rows: np.ndarray, block: Block, *, limited: bool
) -> None:
    """Write what pairs tell: S and its chance, the median slope and its intervals."""
    t, low, high = part
    counts, confidence = block
    step = differences(t, t, counts)
    if limited:
        value = _tied(low, high)
        rise = differences(value, value, counts)
        least, most = differences(low, high, counts) / step, differences(high, low, counts) / step
        both = np.sort(np.concatenate([least, most], axis=1), axis=1)
        least.sort(axis=1)
        most.sort(axis=1)
    else:
        value = low
        rise = differences(low, low, counts)
        both = np.divide(rise, step, out=step)
        both.sort(axis=1)
        least = most = both
    s = (rise > 0).sum(axis=1) - (rise < 0).sum(axis=1)
    out.s[rows] = s
    out.chance[rows] = _chances(value, rise, s, counts)
    pairs = both.shape[1]
    with np.errstate(invalid="ignore"):
        out.middle_slope[rows] = (both[:, (pairs - 1) // 2] + both[:, pairs // 2]) / 2
    for level, names in (
        (confidence, ("rank_low", "rank_high")),
        (2 * confidence - 1, ("tight_low", "tight_high")),
    ):
        rank, true = ranks.order(counts, level)
        getattr(out, names[0])[rows] = least[:, rank - 1] if rank else -np.inf
        getattr(out, names[1])[rows] = most[:, -rank] if rank else np.inf
        if level == confidence:
            out.rank_level[rows] = true


def _tied(low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """Return values with everything below the highest lower limit one tie, and above the lowest upper limit.

    Finite stand-ins mark the two ties, so that differences stay numbers.
    """
    below, above = np.isneginf(low) | ((low < high) & np.isfinite(high)), np.isposinf(high)
    floor = np.where(below, high, -np.inf).max(axis=1, keepdims=True)
    roof = np.where(above, low, np.inf).min(axis=1, keepdims=True)
    known = low == high
    bottom, top = np.where(known, low, np.inf).min() - 1, np.where(known, low, -np.inf).max() + 1
    bottom, top = (bottom, top) if np.isfinite(bottom) else (0.0, 1.0)
    value = np.where(known, low, 0.0)
    value = np.where(below | (known & (low < floor)), bottom, value)
    value = np.where(above | (known & (low > roof)), top, value)
    return np.where(floor > roof, 0.0, value)


def _chances(value: np.ndarray, rise: np.ndarray, s: np.ndarray, counts: tuple[int, ...]) -> np.ndarray:
    """Return the exact chance of each S, by its pattern of equal values."""
    out = np.empty(len(s))
    ties = (rise == 0).any(axis=1)
    plain = np.flatnonzero(~ties)
    out[plain] = ranks.chance(s[plain], tuple((1,) * n for n in counts))
    tied = np.flatnonzero(ties)
    if len(tied):
        same = [
            (value[tied][:, part, None] == value[tied][:, None, part]).sum(axis=2)
            for part in _segments(counts)
        ]
        sizes = np.concatenate([np.sort(found, axis=1) for found in same], axis=1).astype(np.int16)
        patterns, which = np.unique(sizes, axis=0, return_inverse=True)
        which = which.ravel()
        for code, pattern in enumerate(patterns):
            mine = tied[which == code]
            out[mine] = ranks.chance(s[mine], tuple(_groups(pattern[part]) for part in _segments(counts)))
    return out


def _groups(sizes: np.ndarray) -> ranks.Ties:
    """Return the groups of equals from the size of the group that each value stands in."""
    size, values = np.unique(sizes, return_counts=True)
    return tuple(int(u) for u, n in zip(size, values, strict=True) for _ in range(int(n) // int(u)))


def _least_squares(
    part: tuple[np.ndarray, ...], out: Fits, rows: np.ndarray, counts: tuple[int, ...], *, limited: bool
) -> None:
    """Write the least-squares slope with a level for each season; none where limits hide values."""
    t = part[0].copy()
    y = part[1].copy()
    for columns in _segments(counts):
        t[:, columns] -= t[:, columns].mean(axis=1, keepdims=True)
        if not limited:
            y[:, columns] -= y[:, columns].mean(axis=1, keepdims=True)
    sxx = np.einsum("ij,ij->i", t, t)
    out.sxx[rows] = sxx
    if limited:
        return
    slope = np.einsum("ij,ij->i", t, y) / sxx
    y -= slope[:, None] * t
    df = sum(counts) - len(counts) - 1
    out.slope[rows], out.df[rows] = slope, df
    if df > 0:
        out.se[rows] = np.sqrt(np.einsum("ij,ij->i", y, y) / df / sxx)


def _centred(part: tuple[np.ndarray, ...], out: Fits, rows: np.ndarray, middle: np.ndarray) -> None:
    """Write where the lines stand at the middle of the record; a limit stands for what lies beyond it."""
    t, low, high = part
    away = t - middle[:, None]
    y = np.where(np.isfinite(high), np.where(low < high, high, low), low)
    slope = np.where(np.isfinite(out.middle_slope[rows]), out.middle_slope[rows], 0.0)
    out.rank_centre[rows] = np.median(y - slope[:, None] * away, axis=1)
    out.centre[rows] = (y - out.slope[rows][:, None] * away).mean(axis=1)
