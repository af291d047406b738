"""Into how many dressings a need of lime is split, and how far apart."""

from __future__ import annotations

import numpy as np
import pandas as pd

from soiltrend import aims, present

NONE = "none needed"


def dressings(grams: float, material: pd.Series) -> tuple[float, str]:
    """Return into how many dressings so much of a lime is split, and why.

    Parameters
    ----------
    grams : float
        g/m2 of the material as it lies; missing where no need is known.
    material : Series
        A row of :func:`soiltrend.known_materials`.

    Returns
    -------
    count : float
        0 where nothing is needed, missing where no need is known.
    words : str
        How much at a time and how far apart, with the rule and its source; blank where no need is known.
        Tables: splitting, ceilings.

    Examples
    --------
    >>> from soiltrend.materials import known_materials
    >>> count, words = dressings(600.0, known_materials().loc["calcitic limestone"])
    >>> count, words[:66]
    (2.0, '2 dressings of 300 g/m2: in two dressings, half a year apart (Penn')
    """
    if not grams > 0:
        return (np.nan, "") if np.isnan(grams) else (0.0, NONE)
    name, kind = str(material.name), str(material["kind"])
    held = [rule for rule in aims.splitting(name, kind=kind).to_dict("records") if grams > rule["above"]]
    most = aims.dressing_limits(name, kind=kind)
    most = most[(most["per"] == "dressing") & (most["unit"] == "g/m2")]
    at_once = float(most["limit"].min())
    count = aims.least_parts(grams, held=held, at_once=at_once)
    if count == 1:
        return 1.0, f"1 dressing of {present.number(grams)} g/m2"
    told = [f"{rule['words']} ({rule['source']})" for rule in held if rule["parts"] == count]
    if not told:
        source = most["source"].iloc[0]
        told = [f"at most {present.number(at_once)} g/m2 at a time, half a year apart ({source})"]
    return float(count), f"{count} dressings of {present.number(grams / count)} g/m2: {'; '.join(told)}"
