"""Signals of a level that leaves its place: weighted averages, running sums and limits for the next test.

Limits estimated from four tests lie: they raise a false alarm within eight tests in 30 of 100 steady
series. The standard deviation must come from many series together or from outside.
"""

from __future__ import annotations

import numpy as np

from soiltrend.chances import stdtrit


def ewma(x: np.ndarray, *, start: float, weight: float) -> np.ndarray:
    """Return the exponentially weighted averages of successive tests.

    Parameters
    ----------
    x : array of float
        Tests in order.
    start : float
        The target, or the mean of earlier tests.
    weight : float
        Of the newest test, 0.2 to 0.3 by custom.

    Examples
    --------
    >>> ewma(np.array([52.0, 47.0, 53.0]), start=50.0, weight=0.3).round(2)
    array([50.6 , 49.52, 50.56])
    """
    out = np.empty(len(x))
    for i, value in enumerate(x):
        start = weight * value + (1 - weight) * start
        out[i] = start
    return out


def ewma_half_width(count: int, *, sd: float, weight: float, times: float = 3.0) -> np.ndarray:
    """Return the half-widths of the limits after 1, 2, ... tests; they widen toward their last value.

    Examples
    --------
    >>> ewma_half_width(200, sd=2.0539, weight=0.3)[[0, -1]].round(3)
    array([1.849, 2.588])
    """
    k = np.arange(1, count + 1)
    return np.asarray(times * sd * np.sqrt(weight / (2 - weight) * (1 - (1 - weight) ** (2 * k))))


def cusum(x: np.ndarray, *, target: float, slack: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the running sums above and below a target, each kept from falling below 0.

    Parameters
    ----------
    x : array of float
        Tests in order.
    target : float
        The level that is watched.
    slack : float
        Half the shift that should be found, in the unit of the tests.

    Examples
    --------
    >>> high, low = cusum(np.array([10.0, 12.0, 13.0]), target=10.0, slack=0.5)
    >>> high, low
    (array([0. , 1.5, 4. ]), array([0., 0., 0.]))
    """
    high, low = np.zeros(len(x)), np.zeros(len(x))
    up = down = 0.0
    for i, value in enumerate(x):
        up, down = max(0.0, up + value - target - slack), max(0.0, down + target - slack - value)
        high[i], low[i] = up, down
    return high, low


def began(x: np.ndarray, *, target: float, slack: float) -> int:
    """Return the first test of the longer running sum that still stands: where a shift began, or -1.

    Examples
    --------
    >>> began(np.array([10.0, 9.0, 12.0, 13.0]), target=10.0, slack=0.5)
    2
    """
    sums = max(cusum(x, target=target, slack=slack), key=lambda part: part[-1])
    if not sums[-1] > 0:
        return -1
    zeros = np.flatnonzero(sums == 0)
    return int(zeros[-1]) + 1 if len(zeros) else 0


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
