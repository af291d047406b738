"""How much of it, really: seeded draws of an analysis, and buckets turned into kilograms."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pandas as pd

from soiltrend import tables
from soiltrend.errors import SoiltrendError
from soiltrend.materials.reference import QUANTITIES, ends, key, row_of

Draws = np.ndarray
WHOLE = 100.0
CUP = "cup"


@lru_cache(maxsize=None)
def _spreads() -> dict[tuple[str, str], tuple[float, float]]:
    """Return (low, high) as shares of a value, by quantity and whether it was measured."""
    table = tables.load("spreads", numbers=("low", "high"))
    columns = (table[name] for name in ("quantity", "measured", "low", "high"))
    return {(quantity, measured): (low, high) for quantity, measured, low, high in zip(*columns, strict=True)}


@lru_cache(maxsize=None)
def _measures() -> pd.DataFrame:
    table = tables.load("measures", numbers=("factor", "cv")).set_index("measure", drop=False)
    spelled = {
        spelling: name
        for name, listed in zip(table.index, table["spellings"], strict=True)
        for spelling in (name, *listed.split(";"))
        if spelling
    }
    return table.loc[list(spelled.values())].set_axis(pd.Index(map(_spelling, spelled)))


def _spelling(unit: str) -> str:
    return key(unit.replace("\u00b2", "2").replace("\u00b3", "3")).replace(" ", "")


def limits(row: pd.Series, *, quantity: str) -> tuple[float, float, float] | None:
    """Return low, likely and high of a quantity, with the stated spread where only one is given.

    Parameters
    ----------
    row : Series
        A row of :func:`known_materials`.
    quantity : str
        A nutrient, "moisture", "CCE" or "density".

    Returns
    -------
    tuple of float, or None
        None when the quantity is not known. Spreads: tables/spreads.csv, as shares of the
        value; for moisture of what is the smaller, the water or the dry matter.

    Examples
    --------
    >>> limits(pd.Series({"P_low": None, "P": 2.0, "P_high": None, "measured": "yes"}), quantity="P")
    (1.7, 2.0, 2.3)
    """
    given = [float(value) if pd.notna(value) else None for value in map(row.get, ends(quantity))]
    known = [value for value in given if value is not None]
    if not known:
        return None
    low, likely, high = given
    middle = sum(known) / len(known) if likely is None else likely
    spreads, measured = _spreads(), "yes" if row.get("measured") == "yes" else "no"
    shares = spreads.get((quantity, measured), spreads["*", measured])
    room = min(middle, WHOLE - middle) if quantity == "moisture" else middle
    around = sorted(middle + room * (share - 1) for share in shares)
    top = np.inf if quantity in ("CCE", "density") else WHOLE
    lowest = around[0] if low is None else low
    return lowest, middle, max(middle, min(around[1] if high is None else high, top))


def _triangular(low: float, likely: float, high: float, *, draws: int, rng: np.random.Generator) -> Draws:
    return rng.triangular(low, likely, high, draws) if low < high else np.full(draws, likely)


def drawn(row: pd.Series, *, draws: int, rng: np.random.Generator) -> dict[str, Draws]:
    """Return seeded draws of every known quantity of one material.

    Parameters
    ----------
    row : Series
        A row of :func:`known_materials`.
    draws : int
        How many draws.
    rng : Generator
        The seeded generator; the same one draws quantity after quantity.

    Returns
    -------
    dict of str to array
        Nutrients [% of dry matter], moisture [% as it lies], CCE [% of CaCO3, dry] and
        density [kg/L]; what is not known is left out. Triangular between low and high with
        the likely value at its peak.

    Examples
    --------
    >>> from soiltrend.materials import known_materials
    >>> found = drawn(known_materials().loc["gypsum"], draws=4, rng=np.random.default_rng(1))
    >>> found["Ca"].round(1), "density" in found
    (array([21.1, 22.3, 19.9, 22.3]), True)
    """
    known = {quantity: limits(row, quantity=quantity) for quantity in QUANTITIES}
    return {
        quantity: _triangular(*three, draws=draws, rng=rng)
        for quantity, three in known.items()
        if three is not None
    }


def _refuse(row: pd.Series, problem: str, *, file: str, remedy: str) -> SoiltrendError:
    return SoiltrendError(problem, file=file, place=f"material '{row.name}'", remedy=remedy)


def _measure(unit: str, row: pd.Series) -> pd.Series:
    """Return the row of a measure; an unknown one is refused."""
    table = _measures()
    if _spelling(unit) not in table.index:
        listed = ", ".join(tables.load("measures")["measure"])
        raise _refuse(
            row,
            f"'{unit}' is no measure known here",
            file="applications.csv",
            remedy=f"Write one of: {listed}",
        )
    return row_of(table, _spelling(unit))


def by_volume(unit: str, row: pd.Series) -> bool:
    """Return whether a measure is of volume, so that a density stands between it and a weight.

    Examples
    --------
    >>> by_volume("bucket", pd.Series(name="gypsum")), by_volume("kg", pd.Series(name="gypsum"))
    (True, False)
    """
    return "volume" in str(_measure(unit, row)["of"])


def _litre(row: pd.Series, of: pd.Series) -> tuple[float, float, float]:
    """Return low, likely and high kg in a litre: for cups the weighed one first, else the density."""
    three = limits(row, quantity="density")
    weighed = float(row.get("cup_g", np.nan)) / 1000 / float(_measures()["factor"].loc[CUP])
    if not np.isnan(weighed) and (three is None or CUP in str(of["measure"])):
        low, high = _spreads()["density", "yes"]
        three = (weighed * low, weighed, weighed * high)
    if three is None:
        raise _refuse(
            row,
            "its density is not known, so a volume cannot be turned into kilograms",
            file="materials.csv",
            remedy="Weigh one level cup and write it under [cups] in garden.toml, or give its density (kg/L)",
        )
    return three


def laid(amount: float, unit: str, row: pd.Series, *, area_m2: float, litres: bool = False) -> float:
    """Return about how much of a material an amount is, as it lies on the bed [kg, or L].

    Parameters
    ----------
    amount : float
        The number of measures.
    unit : str
        A measure of tables/measures.csv.
    row : Series
        A row of :func:`known_materials`.
    area_m2 : float
        The bed [m2], for measures per area.
    litres : bool
        Whether it is wanted by volume.

    Raises
    ------
    SoiltrendError
        When the unit is no known measure, or the density that is needed is not known.

    Examples
    --------
    >>> from soiltrend.materials import known_materials
    >>> laid(200, "g/m2", known_materials().loc["wood ash"], area_m2=10)
    2.0
    """
    of = _measure(unit, row)
    volume = "volume" in of["of"]
    whole = amount * float(of["factor"]) * (area_m2 if "area" in of["of"] else 1.0)
    if volume == litres:
        return whole
    return whole * _litre(row, of)[1] if volume else whole / _litre(row, of)[1]


def dry_kg(
    amount: float,
    unit: str,
    row: pd.Series,
    *,
    area_m2: float,
    draws: int,
    rng: np.random.Generator,
) -> Draws:
    """Return draws of the dry matter in an amount as the grower wrote it [kg].

    Parameters
    ----------
    amount : float
        The number of measures, wet as it was put on.
    unit : str
        A measure of tables/measures.csv: "kg", "g", "L", "bucket", "cup", "g/m2", "cm" ...
    row : Series
        A row of :func:`known_materials`; its ``cup_g`` is the grower's weighed cup.
    area_m2 : float
        The bed [m2], for measures per area.
    draws : int
        How many draws.
    rng : Generator
        The seeded generator.

    Returns
    -------
    array
        kg of dry matter on the bed; the measure's own error (a shovel is not a scale), the
        density and the moisture are drawn.

    Raises
    ------
    SoiltrendError
        When the unit is no known measure, the amount is no amount, or the density or the
        moisture that is needed is not known.

    Examples
    --------
    >>> from soiltrend.materials import known_materials
    >>> kg = dry_kg(2, "bucket", known_materials().loc["gypsum"], area_m2=10, draws=2000,
    ...             rng=np.random.default_rng(1))
    >>> kg.mean().round(), kg.min() > 0
    (np.float64(20.0), np.True_)
    """
    if not (np.isfinite(amount) and amount >= 0 and np.isfinite(area_m2) and area_m2 > 0):
        raise _refuse(
            row,
            f"{amount:g} {unit} on {area_m2:g} m2 is no amount",
            file="applications.csv",
            remedy="Amounts are 0 or more, and a bed has an area",
        )
    of = _measure(unit, row)
    width = np.sqrt(np.log1p(float(of["cv"]) ** 2))
    wet = amount * float(of["factor"]) * rng.lognormal(-(width**2) / 2, width, draws)
    if "area" in of["of"]:
        wet = wet * area_m2
    if "volume" in of["of"]:
        wet = wet * _triangular(*_litre(row, of), draws=draws, rng=rng)
    moisture = limits(row, quantity="moisture")
    if moisture is None:
        raise _refuse(
            row,
            "its moisture is not known, so its dry matter cannot be told",
            file="materials.csv",
            remedy="Give its moisture in percent as it lies; 0 for a dry mineral",
        )
    return wet * (1 - _triangular(*moisture, draws=draws, rng=rng) / WHOLE)
