"""Grams in the measures of a kitchen and a shed, in metric or US units."""

from __future__ import annotations

import numpy as np
import pandas as pd

from soiltrend import present

US = "US"
LITRE = 1000.0
CUP, SPOON = 250.0, 5.0
US_CUP, US_SPOON = 236.5882365, 4.92892159375
"""Millilitres: the metric cup and teaspoon (common practice), and those of the US gallon of 231 cubic
inches (NIST Handbook 44 appendix C)."""

POUND, OUNCES = 453.59237, 16.0
"""Grams in a pound (exact), and ounces in it."""

BUCKET = 10.0
"""Litres."""

US_BUCKET = 18.92705892
"""Litres in five US gallons (NIST Handbook 44 appendix C)."""

MANY_CUPS = 24
"""Cups beyond which one takes a bucket."""

ROUGH = 0.1
"""Share by which a measure told to the quarter may be off before a smaller one is taken."""


WHOSE = {"table": "the density in the table", "own": "the density in materials.csv"}
"""Where a density stands, by the origin of a material; where its figures are of both, it is not told."""


def grams_per_ml(row: pd.Series) -> tuple[float, str]:
    """Return how heavy a material lies, and from where: the grower's own cup, or the table.

    Examples
    --------
    >>> grams_per_ml(pd.Series({"cup_g": 250.0, "density": 1.2}))
    (1.0, 'your own cup')
    """
    if np.isfinite(row["cup_g"]):
        return float(row["cup_g"]) / CUP, "your own cup"
    if np.isfinite(row["density"]):
        whose = WHOSE.get(str(row.get("origin", "table")), "its density")
        return float(row["density"]), f"{whose}; weigh one level cup to be sure"
    return np.nan, ""


def _to_the_quarter(count: float) -> bool:
    """Return whether a number of measures may be told to the quarter: it then errs by a tenth at most."""
    return abs(round(count * 4) / 4 - count) <= ROUGH * count


def _counted(count: float, name: str) -> str:
    """Return a number of spoons, cups or buckets to the quarter."""
    whole, part = divmod(round(count * 4), 4)
    told = {0: "", 1: "1/4", 2: "1/2", 3: "3/4"}[part]
    number = " ".join(filter(None, (str(int(whole)) if whole or not told else "", told)))
    if number == "0":
        return f"less than 1/4 {name}"
    return f"{number} {name}{'s' if whole > 1 or (whole == 1 and part) else ''}"


def mass(grams: float, *, system: str) -> str:
    """Return an amount by weight.

    Examples
    --------
    >>> mass(1250.0, system="metric"), mass(1250.0, system="US"), mass(8.0, system="US")
    ('1.25 kg', '2.76 lb', '0.28 oz')
    """
    if system == US:
        pounds = grams / POUND
        return (
            f"{present.number(pounds)} lb"
            if pounds >= 1
            else f"{present.number(pounds * OUNCES, digits=2)} oz"
        )
    return f"{present.number(grams / 1000)} kg" if grams >= 1000 else f"{present.number(grams)} g"


def _cups(ml: float, cup: float, spoon: float) -> str:
    """Return level cups to the quarter, and the rest in teaspoons where a quarter would err too far."""
    if _to_the_quarter(ml / cup):
        return _counted(ml / cup, "level cup")
    quarters = ml // (cup / 4) / 4
    rest = _counted((ml - quarters * cup) / spoon, "level teaspoon")
    return f"{_counted(quarters, 'level cup')} and {rest}"


def kitchen(row: pd.Series, *, grams: float, system: str) -> str:
    """Return an amount in level cups, teaspoons or buckets, and where the weight of one is from.

    In US units the weight in pounds or ounces stands before it, for the table gives grams. Where a quarter
    of a teaspoon errs by more than a tenth, the weight is what to go by.

    Parameters
    ----------
    row : Series
        The material, with ``cup_g`` (the grower's own cup of 250 ml) and ``density`` [kg/L].
    grams : float
        As it lies.
    system : str
        "metric" or "US".

    Examples
    --------
    >>> gypsum = pd.Series({"cup_g": 238.0, "density": 0.95})
    >>> kitchen(gypsum, grams=600.0, system="metric")
    '2 1/2 level cups (your own cup)'
    >>> kitchen(gypsum, grams=0.9, system="metric")
    '0.900 g on a fine scale (1/4 level teaspoon or so; your own cup)'
    >>> kitchen(pd.Series({"cup_g": float("nan"), "density": float("nan")}), grams=50.0, system="metric")
    '50.0 g: no density known, weigh one level cup and write it under [cups]'
    """
    heavy, told = grams_per_ml(row)
    if not np.isfinite(heavy):
        return (
            f"{mass(grams, system=system)}: no density known, weigh one level cup and write it under [cups]"
        )
    lead = f"{mass(grams, system=system)}: " if system == US else ""
    cup, spoon, bucket = (US_CUP, US_SPOON, US_BUCKET) if system == US else (CUP, SPOON, BUCKET)
    ml = grams / heavy
    if ml < cup / 4:
        spoons = _counted(ml / spoon, "level teaspoon")
        if _to_the_quarter(ml / spoon):
            return f"{lead}{spoons} ({told})"
        return f"{mass(grams, system=system)} on a fine scale ({spoons} or so; {told})"
    buckets = ml / LITRE / bucket
    if ml <= MANY_CUPS * cup or not _to_the_quarter(buckets):
        return f"{lead}{_cups(ml, cup, spoon)} ({told})"
    name = "5-gallon bucket" if system == US else "10-litre bucket"
    return f"{lead}{_counted(buckets, name)} ({told})"
