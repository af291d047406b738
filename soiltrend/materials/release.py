"""How much of the total has come free after some years: ranges by class of material."""

from __future__ import annotations

import re
from functools import lru_cache

import pandas as pd

from soiltrend import tables
from soiltrend.errors import SoiltrendError
from soiltrend.materials.reference import ENDS, NUTRIENTS

CARBONATE = "carbonate"
UNKNOWN = "unknown"
EVERY = "*"
STAGES = ("first", "second", "later")
RELEASED = (*(n for n in NUTRIENTS if n != "C"), "CCE")
"""What comes free: every nutrient but carbon, and the liming value."""


@lru_cache(maxsize=None)
def _classes() -> pd.DataFrame:
    numbers = tuple(f"{stage}{end}" for stage in STAGES for end in ENDS)
    table = tables.load("release", numbers=numbers)
    return table.set_index(["release", "nutrient"])[list(numbers)]


def grind(fineness: str) -> str:
    """Return the grind that the grower's words for a carbonate mean, or "" when they say none.

    Examples
    --------
    >>> grind("through a 1 mm kitchen sieve"), grind("crushed by hand"), grind("as it came")
    ('sieved', 'crushed', '')
    """
    text = " ".join(fineness.casefold().split())
    for name, words in zip(*(tables.load("grinds")[column] for column in ("grind", "words")), strict=True):
        if any(re.search(rf"(?<![\w.]){re.escape(word)}", text) for word in words.split(";")):
            return str(name)
    return ""


def release_class(row: pd.Series) -> str:
    """Return the class of tables/release.csv that a material follows; a carbonate by its grind.

    Raises
    ------
    SoiltrendError
        When the material names a class that is not there.

    Examples
    --------
    >>> release_class(pd.Series({"release": "carbonate", "fineness": "powder"}))
    'carbonate, powder'
    """
    named = str(row["release"]) or UNKNOWN
    known = _classes().index.get_level_values("release")
    if named not in known:
        raise SoiltrendError(
            f"'{named}' is no class of release",
            file="materials.csv",
            place=f"material '{row.name}'",
            remedy=f"Use one of: {', '.join(dict.fromkeys(known))}",
        )
    ground = grind(str(row["fineness"])) if named == CARBONATE else ""
    return f"{named}, {ground}" if ground else named


def _share(table: pd.DataFrame, nutrient: str, end: str, years: float) -> float:
    """Return one end of the share that has come free, from the rows of a class."""
    first, second, later = (float(table[f"{stage}{end}"].loc[nutrient]) for stage in STAGES)
    total = first * min(years, 1.0) + second * min(max(years - 1, 0.0), 1.0) + later * max(years - 2.0, 0.0)
    return min(total, 1.0)


def released(row: pd.Series, *, years: float) -> dict[str, tuple[float, float, float]]:
    """Return the share of each nutrient's total that has come free after some years.

    Parameters
    ----------
    row : Series
        A row of :func:`known_materials`.
    years : float
        Years since it was put on; within a year the share grows evenly.

    Returns
    -------
    dict of str to (low, likely, high)
        Shares of the total, 0 to 1, for every nutrient but carbon and for "CCE", the liming
        value. Classes and their years: tables/release.csv.

    Raises
    ------
    SoiltrendError
        When years is below 0, or the material's class is not known.

    Examples
    --------
    >>> from soiltrend.materials import known_materials
    >>> released(known_materials().loc["basalt dust"], years=2)["Ca"]
    (0.01, 0.04, 0.1)
    """
    if not years >= 0:
        raise SoiltrendError(
            f"{years} years is no time after", remedy="Give the years since it was put on, 0 or more"
        )
    named = release_class(row)
    table = _classes()
    table = table[table.index.get_level_values("release") == named].droplevel("release")
    shares = {
        end: [_share(table, n if n in table.index else EVERY, end, years) for n in RELEASED] for end in ENDS
    }
    return dict(zip(RELEASED, zip(*shares.values(), strict=True), strict=True))
