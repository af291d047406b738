"""The scale on which a value's noise is even: as it is, its logarithm, or the odds of a share.

``tables/analytes.csv`` names the scale of every analyte. A concentration moves by a share of
itself, so it is compared on natural logarithms and a difference there is a ratio. pH is a
logarithm already; organic matter and the saturations whose noise comes from the buffer pH
move by points. The share of one cation in the exchange capacity is compared as the logarithm
of its ratio to all the rest, because one part of a whole cannot rise alone.
"""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from soiltrend import vocabulary

PLAIN, LOG, SHARE = "plain", "log", "share"
WHOLE = 100.0
"""The whole of which a share is a part [%]."""

_RATIO = re.compile(r"^(.+?):(.+?) \((?:charge|mass)\)$")


def ratio_parts(analyte: str) -> tuple[str, str] | None:
    """Return the two analytes whose ratio a name stands for, or None.

    Examples
    --------
    >>> ratio_parts("Ca:Mg (charge)"), ratio_parts("Ca")
    (('Ca', 'Mg'), None)
    """
    match = _RATIO.match(analyte)
    return (match.group(1), match.group(2)) if match else None


def scale(analyte: str) -> str:
    """Return the scale of an analyte; a ratio is on logarithms, an unknown name as it is.

    Examples
    --------
    >>> scale("K"), scale("pH"), scale("K saturation"), scale("K:Mg (charge)"), scale("beetles")
    ('log', 'plain', 'share', 'log', 'plain')
    """
    return LOG if ratio_parts(analyte) else vocabulary.facts(analyte).get("scale") or PLAIN


def scales(analytes: pd.Series) -> pd.Series:
    """Return the scale of each analyte of a column."""
    known = {name: scale(name) for name in analytes.unique()}
    return analytes.map(known).astype("str")


def forward(value: np.ndarray, on: np.ndarray) -> np.ndarray:
    """Return values on their analysis scale.

    Parameters
    ----------
    value : array of float
        Values in their own unit (shares in %).
    on : array of str
        The scale of each.

    Returns
    -------
    array of float
        NaN where the scale does not reach: a concentration of 0 or less, a share of 0 or less
        or of 100 % or more.

    Examples
    --------
    >>> forward(np.array([6.5, 1.0, 50.0]), np.array(["plain", "log", "share"]))
    array([6.5, 0. , 0. ])
    """
    out = np.array(value, dtype=float)
    logs, shares = np.asarray(on) == LOG, np.asarray(on) == SHARE
    with np.errstate(divide="ignore", invalid="ignore"):
        out[logs] = np.log(out[logs])
        out[shares] = np.log(out[shares] / (WHOLE - out[shares]))
    return np.where(np.isfinite(out), out, np.nan)


def back(value: np.ndarray, on: np.ndarray) -> np.ndarray:
    """Return values of the analysis scale in their own unit; infinities stay limits.

    Examples
    --------
    >>> back(np.array([6.5, 0.0, 0.0, -np.inf]), np.array(["plain", "log", "share", "log"]))
    array([ 6.5,  1. , 50. ,  0. ])
    """
    out = np.array(value, dtype=float)
    logs, shares = np.asarray(on) == LOG, np.asarray(on) == SHARE
    with np.errstate(over="ignore"):
        out[logs] = np.exp(out[logs])
        out[shares] = WHOLE / (1 + np.exp(-out[shares]))
    return out


def steepness(value: np.ndarray, on: np.ndarray) -> np.ndarray:
    """Return how many units a value moves per unit of its analysis scale, at that value.

    Examples
    --------
    >>> steepness(np.array([6.5, 120.0, 20.0]), np.array(["plain", "log", "share"]))
    array([  1., 120.,  16.])
    """
    value = np.asarray(value, dtype=float)
    logs, shares = np.asarray(on) == LOG, np.asarray(on) == SHARE
    out = np.where(np.isnan(value), np.nan, 1.0)
    out[logs] = value[logs]
    out[shares] = value[shares] * (WHOLE - value[shares]) / WHOLE
    return out
