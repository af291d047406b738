"""Robust least squares: lines in which far-off values weigh less (Huber 1964)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from soiltrend.slopes.batch import Fits, Points

TUNING = 1.345
"""Residuals beyond so many standard deviations lose weight; 95 % efficient for normal errors (Huber 1981)."""

NORMAL_MAD = 0.6744897501960817
"""Median of the absolute value of a standard normal."""

ROUNDS = 50


def robustly(points: Points, fits: Fits) -> Fits:
    """Return the fits with slope, standard error and centre by Huber's weights instead of least squares.

    Parameters
    ----------
    points : Points
        The tests.
    fits : Fits
        Their fits; series with values beyond a limit have no ``df`` and are left as they are.

    Notes
    -----
    The scale is the median absolute residual, found anew in every round. The variance is Huber's
    ``[sum psi^2 / df] / [mean psi']^2 / Sxx`` with his correction for few values (1981, 7.6).

    Examples
    --------
    >>> from soiltrend.slopes.batch import fit
    >>> t, y = np.arange(7.0), np.array([0.1, 1.0, 1.9, 3.1, 9.0, 5.0, 6.1])
    >>> one = Points(np.zeros(7, int), np.zeros(7, int), t, y, y)
    >>> robustly(one, fit(one, count=1)).slope.round(2)
    array([1.01])
    """
    count = len(fits.n)
    usable = fits.df > 0
    mine = usable[points.series]
    at, season = points.series[mine], points.season[mine]
    t, y = points.time[mine] - fits.middle[at], points.low[mine]
    cell = at * (int(season.max(initial=0)) + 1) + season
    weight = np.ones(len(t))
    slope = fits.slope.copy()
    for _ in range(ROUNDS):
        rest = _residual(t, y, (at, cell), weight, count)
        scale = _scale(rest, at, count)
        size = np.abs(rest) / np.where(scale > 0, scale, 1.0)[at]
        weight = np.where(size > TUNING, TUNING / np.maximum(size, TUNING), 1.0)
        before, slope = slope, _slope(t, y, (at, cell), weight, count)
        if np.nanmax(np.abs(slope - before), initial=0.0) < 1e-12:
            break
    rest = _residual(t, y, (at, cell), weight, count)
    se = _error(rest, _scale(rest, at, count), at, fits)
    level = np.bincount(at, weights=weight * (y - slope[at] * t), minlength=count)
    centre = level / np.maximum(np.bincount(at, weights=weight, minlength=count), 1e-300)
    return replace(
        fits,
        slope=np.where(usable, slope, fits.slope),
        se=np.where(usable, se, fits.se),
        centre=np.where(usable, centre, fits.centre),
    )


def _weighted(values: np.ndarray, cell: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Return values less the weighted mean of their season."""
    total = np.bincount(cell, weights=weight)
    return np.asarray(
        values - (np.bincount(cell, weights=weight * values) / np.where(total > 0, total, 1.0))[cell]
    )


def _slope(
    t: np.ndarray, y: np.ndarray, groups: tuple[np.ndarray, np.ndarray], weight: np.ndarray, count: int
) -> np.ndarray:
    """Return the weighted slope of each series."""
    at, cell = groups
    tc, yc = _weighted(t, cell, weight), _weighted(y, cell, weight)
    sxx = np.bincount(at, weights=weight * tc**2, minlength=count)
    sxy = np.bincount(at, weights=weight * tc * yc, minlength=count)
    return np.asarray(np.divide(sxy, sxx, out=np.full(count, np.nan), where=sxx > 0))


def _residual(
    t: np.ndarray, y: np.ndarray, groups: tuple[np.ndarray, np.ndarray], weight: np.ndarray, count: int
) -> np.ndarray:
    """Return the residuals about the weighted lines."""
    slope = _slope(t, y, groups, weight, count)
    return _weighted(np.asarray(y - slope[groups[0]] * t), groups[1], weight)


def _scale(rest: np.ndarray, at: np.ndarray, count: int) -> np.ndarray:
    """Return the median absolute residual of each series as a standard deviation."""
    size = np.abs(rest)
    order = np.lexsort((size, at))
    n = np.bincount(at, minlength=count)
    start = np.cumsum(n) - n
    sized = np.append(size[order], 0.0)
    low, high = (sized[np.minimum(start + half, len(size))] for half in (np.maximum(n - 1, 0) // 2, n // 2))
    return np.asarray((low + high) / 2 / NORMAL_MAD)


def _error(rest: np.ndarray, scale: np.ndarray, at: np.ndarray, fits: Fits) -> np.ndarray:
    """Return Huber's standard error of the slope."""
    count = len(fits.n)
    unit = rest / np.where(scale > 0, scale, 1.0)[at]
    inner = np.bincount(at, weights=np.abs(unit) <= TUNING, minlength=count) / np.maximum(fits.n, 1)
    psi = np.bincount(at, weights=np.clip(unit, -TUNING, TUNING) ** 2, minlength=count)
    used = fits.seasons + 1
    with np.errstate(divide="ignore", invalid="ignore"):
        correction = 1 + used / fits.n * (1 - inner) / inner
        return np.asarray(correction * scale * np.sqrt(psi / fits.df / fits.sxx) / inner)
