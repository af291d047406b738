"""Beds that were extreme before: how far they come back by themselves.

Of several beds the highest is, as a rule, high partly in truth and partly by the noise of that test.
The noise does not come again, so that the next test lies nearer to the other beds with no change in the
soil: regression to the mean.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from soiltrend import composites
from soiltrend.compare.parts import GARDEN_KEY

FEWEST = 4
"""Beds needed before one is called extreme; with fewer their spread is not known. Judgement."""


def by_itself(distance: np.ndarray, *, noise: np.ndarray, total: np.ndarray) -> np.ndarray:
    """Return the movement to be expected of values that lie so far from the mean of their kind.

    Parameters
    ----------
    distance : array of float
        Value less the mean of all.
    noise : array of float
        Variance of the value by noise alone (of the mean, where several tests were averaged).
    total : array of float
        Variance among all values, noise included.

    Returns
    -------
    array of float
        Minus the distance times noise / total, in units of ``distance``; never more than the whole distance.

    Notes
    -----
    Barnett, van der Pols & Dobson 2005, "Regression to the mean: what it is and how to deal with it", Int.
    J. Epidemiol. 34:215. Averaged over all values beyond a cut z of the total standard deviation it is their
    noise / sqrt(total) * phi(z) / (1 - Phi(z)).

    The spread of a handful of beds is itself little known: with it taken from four to twelve beds the mean
    movement foretold lies within a quarter of one noise standard deviation of that of simulated beds.

    Examples
    --------
    >>> by_itself(np.array([2.0, -1.0]), noise=np.array([0.5, 3.0]), total=np.array([1.0, 2.0])).tolist()
    [-1.0, 1.0]
    """
    return np.asarray(-distance * np.minimum(1.0, noise / total))


def extremes(beds: pd.DataFrame) -> pd.DataFrame:
    """Return for each bed row what of its change is to be expected because it was extreme before.

    Parameters
    ----------
    beds : DataFrame
        Rows of a comparison with ``comparable``, the keys of the garden, ``b_low`` and ``b_high`` (bounds
        before, on the analysis scale), ``b_variance`` (of noise, without what the beds share) and ``step``.

    Returns
    -------
    DataFrame
        ``back`` (on the analysis scale, NaN where there is nothing to say) and ``extreme`` ("highest of 6
        beds"), with the index of ``beds``. Nothing is said where a bed moved away from the others, or where
        the value of some bed is only known to lie beyond a limit.

    Examples
    --------
    >>> rows = pd.DataFrame({name: "" for name in GARDEN_KEY}, index=range(4)).assign(
    ...     comparable=True, b_low=[6.0, 6.0, 6.0, 6.4], b_variance=0.01, step=-0.2)
    >>> extremes(rows.assign(b_high=rows["b_low"])).round(3).loc[3].astype(str).tolist()
    ['-0.075', 'highest of 4 beds']
    """
    out = pd.DataFrame({"back": np.nan, "extreme": ""}, index=beds.index)
    rows = beds[beds["comparable"].astype(bool)]
    if not len(rows):
        return out
    value = rows["b_low"].where(rows["b_low"] == rows["b_high"])
    group = value.groupby(composites.codes(rows, GARDEN_KEY))
    size, known = (group.transform(name).to_numpy() for name in ("size", "count"))
    total = group.transform("var").to_numpy()
    distance = (value - group.transform("mean")).to_numpy()
    high, low = ((value == group.transform(name)).to_numpy() for name in ("max", "min"))
    told = (high | low) & (size == known) & (size >= FEWEST) & (total > 0)
    told &= rows["step"].to_numpy() * distance < 0
    noise = rows["b_variance"].to_numpy()[told]
    where = rows.index[told]
    out.loc[where, "back"] = by_itself(distance[told], noise=noise, total=total[told])
    which = np.where(high[told], "highest", "lowest")
    out.loc[where, "extreme"] = [f"{name} of {n} beds" for name, n in zip(which, size[told], strict=True)]
    return out
