"""A line through points of which both coordinates carry errors, and how well its slope is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

ROUNDS = 500
"""Rounds within which a slope has settled, or there is none."""


@dataclass(frozen=True)
class Points:
    """Points with errors on both sides.

    Attributes
    ----------
    x, y : array
        The points.
    x_variance, y_variance : array
        Variance of the error of each coordinate; where both are 0 they count as equal.
    """

    x: np.ndarray
    y: np.ndarray
    x_variance: np.ndarray
    y_variance: np.ndarray

    def keep(self, which: np.ndarray) -> Points:
        """Return some of the points."""
        return Points(self.x[which], self.y[which], self.x_variance[which], self.y_variance[which])


def line(points: Points) -> tuple[float, float]:
    """Return intercept and slope of the line that lies nearest to the points.

    Returns
    -------
    tuple of float
        Of the line that makes the sum of (y - a - b x)^2 / (y_variance + b^2 x_variance) least (Deming
        1943; Ripley & Thompson 1987), found by the rounds of York (1966); NaN where there is none.

    Examples
    --------
    >>> a, b = line(Points(np.array([1.0, 2.0, 3.0]), np.array([3.0, 5.0, 7.0]), np.ones(3), np.ones(3)))
    >>> round(a, 6), round(b, 6)
    (1.0, 2.0)
    """
    x, y = points.x, points.y
    even = (points.x_variance + points.y_variance) == 0
    vx, vy = np.where(even, 1.0, points.x_variance), np.where(even, 1.0, points.y_variance)
    slope = float(np.sign(np.cov(x, y)[0, 1]) * np.std(y) / np.std(x)) if np.std(x) > 0 else np.nan
    a = 0.0
    for _ in range(ROUNDS):
        weight = 1 / (vy + slope**2 * vx)
        middle = np.average(x, weights=weight), np.average(y, weights=weight)
        u, v = x - middle[0], y - middle[1]
        lean = weight**2 * (u * vy + slope * v * vx)
        below = float((lean * u).sum())
        last, slope = slope, float((lean * v).sum()) / below if below else np.nan
        a = float(middle[1] - slope * middle[0])
        if np.isnan(slope) or abs(slope - last) <= 1e-13 * abs(slope):
            break
    return a, slope


def left_out(points: Points) -> tuple[float, float]:
    """Return the standard errors of intercept and slope, by leaving out each point in turn (jackknife).

    Squares are summed about the line through all points, which is a little on the wide side.

    Examples
    --------
    >>> one = np.ones(3)
    >>> a, b = left_out(Points(np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0, 4.0]), 0 * one, one))
    >>> round(b, 4)
    1.4142
    """
    n = len(points.x)
    found = np.array([line(points.keep(np.arange(n) != i)) for i in range(n)])
    spread = np.sqrt(((found - line(points)) ** 2).sum(axis=0))
    return float(spread[0]), float(spread[1])


def slope_error(points: Points, *, slope: float, scatter: float) -> float:
    """Return the standard error of the slope: by leaving out points, or by the scatter where that is more.

    With few points, one of them far from the rest, leaving out tells too little.

    Parameters
    ----------
    points : Points
        The points of the line.
    slope : float
        Its slope.
    scatter : float
        Variance of y about the line.

    Examples
    --------
    >>> points = Points(np.arange(4.0), 1 + 2 * np.arange(4.0), np.zeros(4), np.ones(4))
    >>> round(slope_error(points, slope=2.0, scatter=5.0), 6)
    1.0
    """
    true = np.sum((points.x - points.x.mean()) ** 2) - (len(points.x) - 1) * points.x_variance.mean()
    expected = np.sqrt(scatter / true) if true > 0 else np.inf
    return float(max(left_out(points)[1], expected)) if np.isfinite(slope) else np.nan
