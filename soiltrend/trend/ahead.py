"""The band in which the next test is to be expected, if the soil goes on as it did."""

from __future__ import annotations

import numpy as np

from soiltrend.chances import stdtrit
from soiltrend.series import Laid
from soiltrend.slopes.batch import Fits
from soiltrend.slopes.joined import influence


def next_test(laid: Laid, fits: Fits, *, confidence: float) -> dict[str, np.ndarray]:
    """Return the bounds of the next test, a year after the last and in its season, on the analysis scale.

    By least squares with a level for each season, for series without limits that are at least a year
    long and leave two degrees of freedom; NaN for others. Where a bridge joins the series, the next test is
    taken to be of the side that was not moved, and the bridge's error is in the band.

    Parameters
    ----------
    laid : Laid
        The series in time.
    fits : Fits
        Their fits.
    confidence : float
        That the next test lies inside.
    """
    count, points = len(laid.series), laid.points
    last = np.full(count, -np.inf)
    np.maximum.at(last, points.series, points.time)
    final = points.time == last[points.series]
    season = np.full(count, -1)
    season[points.series[final]] = points.season[final]
    mine = (points.season == season[points.series]) & (points.low == points.high)
    at = points.series[mine]
    n = np.maximum(np.bincount(at, minlength=count), 1)
    time, value = (
        np.bincount(at, weights=part[mine], minlength=count) / n for part in (points.time, points.low)
    )
    usable = (np.nan_to_num(fits.df) >= 2) & (fits.censored == 0) & (fits.end - fits.start >= 1)
    ahead = np.where(usable, last + 1 - time, np.nan)
    df = np.where(usable, fits.df, 1.0)
    spread = fits.se**2 * (fits.sxx * (1 + 1 / n) + ahead**2)
    for step in laid.moved.values():
        shift = np.bincount(at, weights=step[laid.place][mine], minlength=count) / n
        spread = spread + (shift + influence(points, step[laid.place], count=count) * ahead) ** 2
    half = stdtrit(df, 0.5 + confidence / 2) * np.sqrt(spread)
    middle = value + fits.slope * ahead
    return {"next_low": middle - half, "next_high": middle + half}
