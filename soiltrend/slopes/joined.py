"""Lines through series that a bridge joins: the bridge's own error, shared by all it moved.

A bridge moves some tests of a series by one offset that is known with an error. If the offset is wrong by d,
every moved test is wrong by d, and the slope by d times the slope of the moved tests' indicator on time. That
error neither averages away with more tests nor shows in how they scatter about their line, so it is added to
what the scatter tells: in full for least squares, and by the same least-squares weight, as an approximation,
for the median of pairwise slopes. A step of the offset also shows as scatter, the more so for the median: by
simulation (tests/test_bridged_trend.py) the intervals of 95 % then cover rather more than that.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from soiltrend.chances import ndtri, stdtr, stdtrit
from soiltrend.slopes.batch import Fits, Points
from soiltrend.slopes.lines import MEDIAN, NOTHING, Lines


def influence(points: Points, step: np.ndarray, *, count: int) -> np.ndarray:
    """Return by how much each series' slope moves when its tests move by the given steps.

    Parameters
    ----------
    points : Points
        The tests.
    step : array of float
        How far each test moves.
    count : int
        Number of series.

    Examples
    --------
    >>> years = np.arange(4.0)
    >>> one = Points(np.zeros(4, int), np.zeros(4, int), years, years, years)
    >>> influence(one, np.array([0.1, 0.1, 0.0, 0.0]), count=1).round(3)
    array([-0.04])
    """
    seasons = int(points.season.max(initial=0)) + 1
    cell = points.series * seasons + points.season
    size = np.maximum(np.bincount(cell, minlength=count * seasons), 1)
    time = points.time - (np.bincount(cell, weights=points.time, minlength=len(size)) / size)[cell]
    sxx = np.bincount(points.series, weights=time * time, minlength=count)
    moved = np.bincount(points.series, weights=time * step, minlength=count)
    return np.divide(moved, sxx, out=np.zeros(count), where=sxx > 0)


def error(points: Points, steps: Iterable[np.ndarray], *, count: int) -> np.ndarray:
    """Return the standard error that bridges add to each slope; several bridges err independently.

    Examples
    --------
    >>> years = np.arange(4.0)
    >>> one = Points(np.zeros(4, int), np.zeros(4, int), years, years, years)
    >>> moved = np.array([0.1, 0.1, 0.0, 0.0])
    >>> error(one, [moved, moved], count=1).round(4)
    array([0.0566])
    """
    squares = [influence(points, step, count=count) ** 2 for step in steps]
    return np.asarray(np.sqrt(np.sum(squares, axis=0))) if squares else np.zeros(count)


def added(se: float, df: float, more: float) -> tuple[float, float]:
    """Return a standard error with a known one added, and its degrees of freedom after Satterthwaite.

    Examples
    --------
    >>> added(3.0, 4.0, 4.0)
    (5.0, 30.864197530864196)
    """
    square = se**2 + more**2
    return float(np.sqrt(square)), (df * square**2 / se**4 if se > 0 else np.inf)


def _ranked(half: float, more: float, level: float) -> float:
    """Return the half-width of a rank interval with a known error added; an infinite one stays."""
    return float(np.hypot(half, ndtri(level) * more))


def _chance(slope: float, p: float, more: float) -> float:
    """Return a chance with a known error added, by the normal error that the chance stands for."""
    if slope == 0 or np.isnan(p) or p >= 1:
        return p
    with np.errstate(divide="ignore"):
        own = abs(slope) / -float(ndtri(p / 2))
    return float(2 * stdtr(np.inf, -abs(slope) / np.hypot(own, more)))


def _own(line: Lines, fits: Fits, at: int, confidence: float) -> tuple[float, float]:
    """Return the standard error of a least-squares line, rounding's floor in it, and its df."""
    free = float(fits.df[at])
    return float(line.high[at] - line.slope[at]) / float(stdtrit(free, 0.5 + confidence / 2)), free


def widened(line: Lines, fits: Fits, more: np.ndarray, *, confidence: float) -> Lines:
    """Return the lines with a bridge's error in their intervals and chances; others stay to the bit.

    Parameters
    ----------
    line : Lines
        The lines by scatter alone.
    fits : Fits
        Where they come from.
    more : array of float
        The error that bridges add to each slope (:func:`error`).
    confidence : float
        Of the intervals.

    Examples
    --------
    >>> from soiltrend.slopes.batch import fit
    >>> from soiltrend.slopes.lines import choose
    >>> years, y = np.arange(4.0), np.array([6.0, 6.3, 6.5, 6.8])
    >>> found = fit(Points(np.zeros(4, int), np.zeros(4, int), years, y, y), count=1)
    >>> line = widened(choose(found), found, np.array([0.1]), confidence=0.95)
    >>> line.slope.round(3), line.low.round(3), line.high.round(3)
    (array([0.26]), array([0.062]), array([0.458]))
    """
    mine = np.flatnonzero((more > 0) & (line.kind != NOTHING))
    out = {name: getattr(line, name).copy() for name in ("low", "high", "tight_low", "tight_high", "p")}
    for at in mine.tolist():
        slope, extra = line.slope[at], more[at]
        for name, level in (("", 0.5 + confidence / 2), ("tight_", confidence)):
            low, high = f"{name}low", f"{name}high"
            if line.kind[at] == MEDIAN:
                out[low][at] = slope - _ranked(slope - out[low][at], extra, level)
                out[high][at] = slope + _ranked(out[high][at] - slope, extra, level)
            else:
                se, df = added(*_own(line, fits, at, confidence), extra)
                half = float(stdtrit(df, level)) * se
                out[low][at], out[high][at] = slope - half, slope + half
        if line.kind[at] == MEDIAN:
            out["p"][at] = _chance(slope, out["p"][at], extra)
        else:
            se, df = added(*_own(line, fits, at, confidence), extra)
            out["p"][at] = float(2 * stdtr(df, -abs(slope) / se))
    return replace(line, **out)
