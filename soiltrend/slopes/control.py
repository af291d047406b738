"""Limits for the next test of a level that may have left its place.

Limits estimated from four tests lie: they raise a false alarm within eight tests in 30 of 100 steady
series. The standard deviation must come from many series together or from outside.
"""

from __future__ import annotations

import numpy as np

from soiltrend.chances import stdtrit


def next_half_width(count: np.ndarray, *, sd: np.ndarray, df: np.ndarray, chance: float) -> np.ndarray:
    """Return the half-width of the limits for one more test beside the mean of earlier ones.

    Parameters
    ----------
    count : array
        Earlier tests.
    sd, df : array
        Standard deviation of one test and its degrees of freedom.
    chance : float
        That a test of an unmoved level lies beyond, on both sides together.

    Examples
    --------
    >>> next_half_width(np.array([4]), sd=np.array([1.0]), df=np.array([3]), chance=0.05).round(2)
    array([3.56])
    """
    return np.asarray(stdtrit(df, 1 - chance / 2) * sd * np.sqrt(1 + 1 / np.maximum(count, 1)))
