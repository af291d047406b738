"""What a change and its error allow to be said: interval, verdict, and how many were looked at."""

from __future__ import annotations

import numpy as np
import pandas as pd

from soiltrend.chances import stdtr, stdtrit

ROSE, FELL, HELD, UNCLEAR, NOT_COMPARABLE = "rose", "fell", "held", "unclear", "not comparable"


def discovery_rate(p: np.ndarray) -> np.ndarray:
    """Return the p-values adjusted after Benjamini & Hochberg (1995), missing ones left out.

    A row may be counted among the discoveries at a false discovery rate of 5 % when its
    adjusted value is 0.05 or less.

    Examples
    --------
    >>> discovery_rate(np.array([0.01, 0.04, np.nan, 0.03])).round(3)
    array([0.03, 0.04,  nan, 0.04])
    """
    out = np.full(len(p), np.nan)
    known = np.flatnonzero(~np.isnan(p))
    order = known[np.argsort(p[known], kind="stable")]
    count = len(order)
    raised = p[order] * count / np.arange(1, count + 1)
    out[order] = np.minimum(np.minimum.accumulate(raised[::-1])[::-1], 1.0)
    return out


def judge(change: pd.DataFrame, *, confidence: float) -> pd.DataFrame:
    """Return interval, verdict and p of changes on their analysis scale.

    Parameters
    ----------
    change : DataFrame
        ``d_low`` and ``d_high``: the least and greatest change that the results allow (equal,
        unless a result lies below or above a limit); ``se``: its standard error; ``df``;
        ``margin``: the change that matters.
    confidence : float
        Of the interval, such as 0.95.

    Returns
    -------
    DataFrame
        ``half`` (half-width of the noise band), ``low``, ``high``, ``p`` (two-sided, for the
        least favourable change allowed) and ``verdict``: "held" when the interval of two
        one-sided tests (90 % for a confidence of 95 %) lies inside the margin, "rose" and
        "fell" when the whole interval lies on one side of nothing, else "unclear".

    Examples
    --------
    >>> row = pd.DataFrame({"d_low": [0.5], "d_high": [0.5], "se": [0.1], "df": [np.inf], "margin": [0.2]})
    >>> judge(row, confidence=0.95).round(3).to_dict("records")
    [{'half': 0.196, 'low': 0.304, 'high': 0.696, 'p': 0.0, 'verdict': 'rose'}]
    """
    least, most, se, df = (change[name].to_numpy(dtype=float) for name in ("d_low", "d_high", "se", "df"))
    half = stdtrit(df, 0.5 + confidence / 2) * se
    one_sided = stdtrit(df, confidence) * se
    low, high = least - half, most + half
    nearest = np.where((least <= 0) & (most >= 0), 0.0, np.minimum(np.abs(least), np.abs(most)))
    exact = np.where(nearest > 0, np.inf, nearest)  # where nothing moves by itself any change is sure
    p = 2 * stdtr(df, -np.divide(nearest, se, out=exact, where=se != 0))
    margin = change["margin"].to_numpy(dtype=float)
    held = (least - one_sided > -margin) & (most + one_sided < margin)
    verdict = np.select([held, low > 0, high < 0], [HELD, ROSE, FELL], UNCLEAR)
    said = {"half": half, "low": low, "high": high, "p": p, "verdict": verdict}
    return pd.DataFrame(said, index=change.index)
