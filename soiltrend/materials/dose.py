"""A can of liquid on a bed: grams of nutrient, and kindly how much that is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import present, tables, units
from soiltrend.errors import SoiltrendError
from soiltrend.materials.acid import AcidExtract, extract_material
from soiltrend.materials.amounts import limits
from soiltrend.materials.reference import NUTRIENTS

WHOLE = 100.0
TRACE, LITTLE = 0.01, 0.1
"""Shares of a season's uptake below which a dose is called a trace, or a little; by judgement."""


@dataclass(frozen=True, eq=False)
class LiquidDose:
    """What a watering brings to a bed.

    Attributes
    ----------
    table : DataFrame
        nutrient, grams (likely, on the bed) with low and high, g_per_m2, mg_per_kg (what a soil
        test of the layer could find if all of it showed), of_season [%] (of what a bed of
        vegetables takes up in a season), unit, said.
    liquid : str
        What was watered in.
    litres, area_m2 : float
        Of the liquid itself [L], on so much bed [m2].
    """

    table: pd.DataFrame
    liquid: str
    litres: float
    area_m2: float

    def __repr__(self) -> str:
        return present.plain(_title(self), self.table)

    def _repr_html_(self) -> str:
        return present.page(_title(self), self.table)


def _title(dose: LiquidDose) -> str:
    return f"{dose.litres:.3g} L of {dose.liquid}, itself, on {dose.area_m2:g} m2"


def _row(liquid: AcidExtract | pd.Series) -> pd.Series:
    if isinstance(liquid, AcidExtract):
        made = extract_material(liquid, name=f"{liquid.solid} in {liquid.acid}")
        return made.set_index("material").iloc[0]
    return liquid


def _grams(row: pd.Series, litres: float) -> pd.DataFrame:
    """Return low, likely and high grams of each nutrient that the liquid is known to hold."""
    moisture, density = (limits(row, quantity=name) for name in ("moisture", "density"))
    if moisture is None or density is None:
        raise SoiltrendError(
            f"{'moisture' if moisture is None else 'density'} of '{row.name}' is not known",
            file="materials.csv",
            remedy="Give both; a thin liquid is about 99 % moisture and 1 kg/L",
        )
    dry = [litres * d * 1000 * (1 - w / WHOLE) for d, w in zip(density, moisture[::-1], strict=True)]
    known = {name: limits(row, quantity=name) for name in NUTRIENTS if name != "C"}
    rows = [
        {
            "nutrient": name,
            **dict(zip(("low", "grams", "high"), np.multiply(dry, three) / WHOLE, strict=True)),
        }
        for name, three in known.items()
        if three is not None and three[2] > 0
    ]
    return pd.DataFrame(rows, columns=["nutrient", "grams", "low", "high"])


def _said(share: float, nutrient: str) -> str:
    """Return in kind words how much a share of a season's uptake is."""
    if np.isnan(share):
        return f"what a season takes up of {nutrient} is not in the tables"
    if share < TRACE:
        return "a trace: good practice in watering, but no soil test could see it"
    if share < LITTLE:
        return "a little: count it, and do not wait for the soil test to show it"
    return "it counts: enter it in the log like any dressing"


def liquid_dose(
    liquid: AcidExtract | pd.Series,
    *,
    litres: float,
    area_m2: float,
    parts_water: float = 0.0,
    depth_cm: float = 15.0,
    bulk_density: float = 1.3,
) -> LiquidDose:
    """Return what a watering with a homemade liquid brings to a bed.

    Parameters
    ----------
    liquid : AcidExtract or Series
        From :func:`acid_extract`, or a row of :func:`known_materials`.
    litres : float
        What is poured out of the can [L], thinned.
    area_m2 : float
        The bed [m2].
    parts_water : float
        Parts of water to one of the liquid: 15 for 1 to 15; 0 when it is not thinned.
    depth_cm, bulk_density : float
        The layer of a soil test [cm, g/cm3].

    Returns
    -------
    LiquidDose

    Raises
    ------
    SoiltrendError
        When an amount is not positive, or moisture or density of the liquid is not known.

    Examples
    --------
    >>> from soiltrend.materials import acid_extract
    >>> made = acid_extract("eggshell", grams=100, litres=1)
    >>> dose = liquid_dose(made, litres=10, area_m2=12, parts_water=500)
    >>> dose.table[["nutrient", "grams"]].round(2).values.tolist()
    [['Ca', 0.33]]
    """
    for name, value in (("litres", litres), ("area_m2", area_m2)):
        if not (np.isfinite(value) and value > 0):
            raise SoiltrendError(f"{name} = {value:g} is not a positive number")
    if not parts_water >= 0:
        raise SoiltrendError(f"parts_water = {parts_water:g} is less than none")
    row = _row(liquid)
    itself = litres / (1 + parts_water)
    table = _grams(row, itself)
    per_area = table["grams"] / area_m2
    uptake = tables.load("uptake", numbers=("low", "high")).set_index("nutrient")
    season = uptake[["low", "high"]].mean(axis=1)
    share = per_area / table["nutrient"].map(season).astype(float)
    per_kg = units.factor("g/m2", "mg/kg", depth_cm=depth_cm, bulk_density=bulk_density)
    told = table.assign(
        g_per_m2=per_area,
        mg_per_kg=per_area * per_kg,
        of_season=WHOLE * share,
        unit="g",
        said=[_said(*pair) for pair in zip(share, table["nutrient"], strict=True)],
    )
    return LiquidDose(told, str(row.name), itself, float(area_m2))
