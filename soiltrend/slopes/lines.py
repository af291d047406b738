"""Which line is drawn through a series, by how many tests it has, and what may be said of it.

Three or four tests give a least-squares line with a wide interval, called rough. Five to seven give the
same line with the rank test beside it. Eight and more give the median of the pairwise slopes with its
exact interval and chance. Where a limit hides values, ranks serve from three tests on.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from soiltrend.chances import stdtr, stdtrit
from soiltrend.slopes.batch import LEAST, Fits, Points

AUTO, LEAST_SQUARES, RANKS, ROBUST = "by length", "least squares", "ranks", "robust"
MODELS = (AUTO, LEAST_SQUARES, RANKS, ROBUST)
"""Lines that can be asked for by name."""

FULL = 8
"""Tests from which the rank interval is the headline (before that it is far wider than the one of least
squares: 2.4 times at six tests, 1.4 at eight, by simulation)."""

SUGGESTIVE = 5
"""Tests from which the rank test can reach 5 % at all (two-sided, 2/120 at five)."""

NOTHING, LINE, MEDIAN = 0, 1, 2
"""Codes of the line drawn: none, least squares, median of pairwise slopes."""

TINY = 1e-10
"""A change over the record below this, on the analysis scale, is rounding of the machine."""

_FINEST = 6
"""Decimals looked for in reported values."""


@dataclass(frozen=True, eq=False)
class Lines:
    """The line of each series on its analysis scale.

    Attributes
    ----------
    kind : array of int
        :data:`NOTHING`, :data:`LINE` or :data:`MEDIAN`.
    slope, low, high : array of float
        Per year, with its interval (infinite where none exists).
    tight_low, tight_high : array of float
        The narrower interval of two one-sided tests.
    p : array of float
        Two-sided.
    centre : array of float
        The line at the middle of the record.
    """

    kind: np.ndarray
    slope: np.ndarray
    low: np.ndarray
    high: np.ndarray
    tight_low: np.ndarray
    tight_high: np.ndarray
    p: np.ndarray
    centre: np.ndarray


def choose(
    fits: Fits, *, model: str = AUTO, floor: np.ndarray | None = None, confidence: float = 0.95
) -> Lines:
    """Return the line of each series.

    Parameters
    ----------
    fits : Fits
        What :func:`soiltrend.slopes.batch.fit` found.
    model : str
        One of :data:`MODELS`; "robust" replaces least squares beforehand (:mod:`soiltrend.slopes.robust`).
    floor : array of float, optional
        Least standard deviation that a least-squares residual may have, on the analysis scale: that
        of rounding, because three rounded values that lie on a line are no proof of one.
    confidence : float
        Of the intervals.

    Examples
    --------
    >>> from soiltrend.slopes.batch import Points, fit
    >>> years = np.array([0.0, 1.0, 2.0, 3.0])
    >>> y = np.array([6.0, 6.3, 6.5, 6.8])
    >>> line = choose(fit(Points(np.zeros(4, int), np.zeros(4, int), years, y, y), count=1))
    >>> line.slope.round(3), line.low.round(3), line.high.round(3)
    (array([0.26]), array([0.199]), array([0.321]))
    """
    limited = fits.censored > 0
    enough = fits.n >= LEAST
    by_rank = limited | ((fits.n >= FULL) & (model == AUTO)) | (model == RANKS)
    kind = np.where(enough & by_rank, MEDIAN, np.where(enough & ~by_rank & (fits.df > 0), LINE, NOTHING))
    span = fits.end - fits.start
    slope = _still(fits.slope, span)
    se = fits.se if floor is None else np.maximum(fits.se, floor / np.sqrt(fits.sxx))
    se = np.where(se * span > TINY, se, 0.0)
    df = np.where(kind == LINE, fits.df, 1.0)
    half, tight = stdtrit(df, 0.5 + confidence / 2) * se, stdtrit(df, confidence) * se
    with np.errstate(divide="ignore", invalid="ignore"):
        away = np.where(slope == 0, 0.0, np.abs(slope) / se)
    ranked = kind == MEDIAN
    chosen = {
        "slope": (_still(fits.middle_slope, span), slope),
        "low": (_still(fits.rank_low, span), slope - half),
        "high": (_still(fits.rank_high, span), slope + half),
        "tight_low": (_still(fits.tight_low, span), slope - tight),
        "tight_high": (_still(fits.tight_high, span), slope + tight),
        "p": (fits.chance, 2 * stdtr(df, -away)),
        "centre": (fits.rank_centre, fits.centre),
    }
    return Lines(
        kind,
        **{name: np.where(kind == NOTHING, np.nan, np.where(ranked, *pair)) for name, pair in chosen.items()},
    )


def _still(slope: np.ndarray, span: np.ndarray) -> np.ndarray:
    """Return slopes, with 0 for those that are rounding of the machine."""
    return np.where(np.abs(slope) * span > TINY, slope, np.where(np.isnan(slope), np.nan, 0.0))


def rounding(points: Points, value: np.ndarray, steepness: np.ndarray, *, count: int) -> np.ndarray:
    """Return the standard deviation that rounding alone gives each series, on its analysis scale.

    Parameters
    ----------
    points : Points
        The tests.
    value : array of float
        Their values as reported.
    steepness : array of float
        Units of the value per unit of the analysis scale, for each test.
    count : int
        Number of series.

    Returns
    -------
    array of float
        The step is that of the last decimal that a series uses; an error even within one step has a
        standard deviation of the step over the square root of 12.

    Examples
    --------
    >>> y = np.array([6.1, 6.2, 6.3])
    >>> one = Points(np.zeros(3, int), np.zeros(3, int), np.arange(3.0), y, y)
    >>> rounding(one, y, np.ones(3), count=1).round(4)
    array([0.0289])
    """
    decimals = np.full(len(value), _FINEST)
    for places in range(_FINEST - 1, -1, -1):
        near = np.abs(np.round(value, places) - value) <= 1e-9 * np.maximum(np.abs(value), 1.0)
        decimals[near] = places
    finest = np.zeros(count, dtype=int)
    np.maximum.at(finest, points.series, decimals)
    step = np.where(finest >= _FINEST, 0.0, 10.0**-finest)[points.series] / steepness
    total = np.bincount(points.series, weights=np.nan_to_num(step), minlength=count)
    return np.asarray(total / np.maximum(np.bincount(points.series, minlength=count), 1) / np.sqrt(12))
