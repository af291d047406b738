"""The right ratio of a mixture beside the averages of ratios that look like it."""

from __future__ import annotations

import numpy as np
import pandas as pd

from soiltrend.present import number

TOLD = 1.0
"""An average of ratios is worth a word when it is off by so much; C:N is known no better than that."""

RIGHT = "carbon over nitrogen"


def averages(table: pd.DataFrame) -> pd.DataFrame:
    """Return the C:N of a mixture by adding carbon and nitrogen, and by averaging ratios.

    Parameters
    ----------
    table : DataFrame
        With kg, litres, dry_kg, C_kg, N_kg and CN of each ingredient, as in ``Blend.table``.

    Returns
    -------
    DataFrame
        way, C_N, off, why.

    Examples
    --------
    >>> two = pd.DataFrame({"kg": [2.0, 1.0], "litres": [2.0, 1.0], "dry_kg": [2.0, 1.0],
    ...                     "C_kg": [0.8, 0.4], "N_kg": [0.04, 0.4 / 60], "CN": [20.0, 60.0]})
    >>> averages(two)["C_N"].round(1).tolist()[:2]
    [25.7, 33.3]
    """
    used = table[np.isfinite(table["CN"]) & (table["kg"] > 0)]
    nitrogen = table["N_kg"].sum()
    right = table["C_kg"].sum() / nitrogen if nitrogen > 0 else np.inf
    ways = [
        (RIGHT, right, "right: all the carbon over all the nitrogen"),
        *(
            (f"ratios averaged by {words}", _mean(used, column), "wrong: a ratio counts by its nitrogen")
            for column, words in (("kg", "wet weight"), ("litres", "volume"), ("dry_kg", "dry weight"))
        ),
        ("ratios averaged by nitrogen", _mean(used, "N_kg"), "right again: this is the same sum"),
    ]
    out = pd.DataFrame(ways, columns=["way", "C_N", "why"])
    return out.assign(off=out["C_N"] - right)[["way", "C_N", "off", "why"]]


def _mean(used: pd.DataFrame, weight: str) -> float:
    total = used[weight].sum(skipna=False)
    return float((used[weight] * used["CN"]).sum() / total) if total > 0 else np.nan


def lesson(compared: pd.DataFrame) -> str:
    """Return one sentence on the average of ratios, where it is off enough to mislead.

    Examples
    --------
    >>> lesson(pd.DataFrame({"way": [RIGHT, "ratios averaged by wet weight"], "C_N": [25.7, 33.3],
    ...                      "off": [0.0, 7.6]}))
    'Averaging the ratios by wet weight would have said 33.3 instead of 25.7.'
    """
    right, wet = compared.iloc[0], compared.iloc[1]
    if not np.isfinite(wet["off"]) or abs(wet["off"]) < TOLD:
        return ""
    return (
        f"Averaging the ratios by wet weight would have said {number(wet['C_N'])} "
        f"instead of {number(right['C_N'])}."
    )
