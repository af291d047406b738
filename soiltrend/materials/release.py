"""How much of the total has come free after some years: ranges by class of material."""

from __future__ import annotations

import re
from functools import lru_cache

import numpy as np
import pandas as pd

from soiltrend import tables
from soiltrend.errors import SoiltrendError
from soiltrend.frames import YEAR
from soiltrend.materials.reference import ENDS, NUTRIENTS

CARBONATE = "carbonate"
UNKNOWN = "unknown"
EVERY = "*"
STAGES = ("first", "second", "later")
RELEASED = (*(n for n in NUTRIENTS if n != "C"), "CCE")
"""What comes free: every nutrient but carbon, and the liming value."""


@lru_cache(maxsize=None)
def _classes() -> dict[str, dict[str, tuple[tuple[float, float, float], ...]]]:
    """Return, by class and nutrient, low, likely and high as shares of the three stages."""
    numbers = tuple(f"{stage}{end}" for end in ENDS for stage in STAGES)
    table = tables.load("release", numbers=numbers)
    shares = table[list(numbers)].to_numpy().reshape(len(table), len(ENDS), len(STAGES)).tolist()
    found: dict[str, dict[str, tuple[tuple[float, float, float], ...]]] = {}
    for named, nutrient, each in zip(table["release"], table["nutrient"], shares, strict=True):
        found.setdefault(named, {})[nutrient] = tuple((first, second, later) for first, second, later in each)
    return found


@lru_cache(maxsize=None)
def _within() -> dict[str, dict[str, float]]:
    """Return, by class and nutrient, the years after which the share of the first year is out."""
    found: dict[str, dict[str, float]] = {}
    for line in tables.load("release", numbers=("within_days",)).to_dict("records"):
        days = float(line["within_days"])
        years = days / YEAR if days > 0 else 1.0
        found.setdefault(str(line["release"]), {})[str(line["nutrient"])] = years
    return found


@lru_cache(maxsize=None)
def _grinds() -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Return each grind with a pattern of the words that mean it."""
    table = tables.load("grinds")
    alternatives = ("|".join(map(re.escape, listed.split(";"))) for listed in table["words"])
    words = [rf"(?<![\w.])(?:{listed})" for listed in alternatives]
    return tuple((name, re.compile(pattern)) for name, pattern in zip(table["grind"], words, strict=True))


def grind(fineness: str) -> str:
    """Return the grind that the grower's words for a carbonate mean, or "" when they say none.

    Examples
    --------
    >>> grind("through a 1 mm kitchen sieve"), grind("crushed by hand"), grind("as it came")
    ('sieved', 'crushed', '')
    """
    text = " ".join(fineness.casefold().split())
    return next((name for name, pattern in _grinds() if pattern.search(text)), "")


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
    if named not in _classes():
        raise SoiltrendError(
            f"'{named}' is no class of release",
            file="materials.csv",
            place=f"material '{row.name}'",
            remedy=f"Use one of: {', '.join(_classes())}",
        )
    ground = grind(str(row["fineness"])) if named == CARBONATE else ""
    return f"{named}, {ground}" if ground else named


def ripe(row: pd.Series, years: np.ndarray, *, nutrient: str) -> np.ndarray:
    """Return the ages at which, by the straight lines from year to year, as much has come free as at these.

    What dissolves gives the share of its first year within days or weeks and is then as old as a year
    until it is one; what comes free evenly is as old as it is.

    Parameters
    ----------
    row : Series
        A row of :func:`known_materials`.
    years : array
        Years since it was put on.
    nutrient : str
        One of those of :func:`released`.

    Examples
    --------
    >>> from soiltrend.materials import known_materials
    >>> ages = np.array([14 / YEAR, 0.5, 1.5])
    >>> ripe(known_materials().loc["sulphate of potash"], ages, nutrient="K").round(2).tolist()
    [0.5, 1.0, 1.5]
    """
    each = _within()[release_class(row)]
    return np.where(years < 1.0, np.minimum(years / each.get(nutrient, each[EVERY]), 1.0), years)


def _share(stages: tuple[float, float, float], years: float) -> float:
    """Return the share that has come free at an age: evenly from year to year, never more than all."""
    first, second, later = stages
    total = first * min(years, 1.0) + second * min(max(years - 1, 0.0), 1.0) + later * max(years - 2.0, 0.0)
    return min(total, 1.0)


def released(row: pd.Series, *, years: float) -> dict[str, tuple[float, float, float]]:
    """Return the share of each nutrient's total that has come free after some years.

    Parameters
    ----------
    row : Series
        A row of :func:`known_materials`.
    years : float
        Years since it was put on; within a year the share grows evenly, but that of the first year of what
        dissolves is out in days or weeks (``within_days`` of the table), and then waits for the second year.

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
    >>> released(known_materials().loc["sulphate of potash"], years=0.1)["K"]
    (0.95, 1.0, 1.0)
    """
    if not years >= 0:
        raise SoiltrendError(
            f"{years} years is no time after", remedy="Give the years since it was put on, 0 or more"
        )
    stages = _classes()[release_class(row)]
    found = {}
    for nutrient in RELEASED:
        age = float(ripe(row, np.asarray(years, dtype=float), nutrient=nutrient))
        low, likely, high = (_share(three, age) for three in stages.get(nutrient, stages[EVERY]))
        found[nutrient] = (low, likely, high)
    return found
