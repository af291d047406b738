"""A layer over a bed: how deep, how much, and what it brings against what crops take in a year."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import present, tables, vocabulary
from soiltrend.blend.core import Blend
from soiltrend.blend.ingredients import FILE, Part, heap, parts
from soiltrend.blend.sources import Told, bed_area, carried_off, growing_year
from soiltrend.errors import SoiltrendError
from soiltrend.materials import drawn, limits, released
from soiltrend.present import number

BROUGHT = ("C", "N", "P", "K", "Ca", "Mg", "S", "Na")
DRAWS = 1000
ENDS = (2.5, 97.5)
LITRES_PER_CM = 10.0
"""A layer of 1 cm over 1 m2 is 10 L."""

G_PER_KG = 1000.0
PERCENT = 100.0
SEED = 1
MANY_YEARS = 3.0
"""From how many years' worth of a nutrient a layer is worth a warning: a plan of three years can still use
it up (judgement, common practice)."""

STAYS = ("P", "K")
"""What of a layer is there for crops sooner or later; most of its nitrogen never is."""

UNIT = "g/m2"
COLUMNS = ("nutrient", "unit", "low", "likely", "high", "first_year", "grams", "a_year", "years")
USUAL = "A year's crops are a usual figure; your own harvests may take more or less."


@dataclass(frozen=True, eq=False)
class Layer:
    """A layer over an area, and what it brings.

    Attributes
    ----------
    table : DataFrame
        One row a nutrient (C, N, P, K, Ca, Mg, S and Na, of which K, S and Na are most of the
        salts): nutrient, unit, low, likely, high (95 %), first_year (what of the likely amount comes
        free in the first year), grams (in all), a_year (what crops take off a bed in a year), years
        (how many years' worth the whole is).
    material : str
    area_m2, depth_cm, litres, kg, dry_kg, carbon_kg : float
        The layer; kg wet.
    why : str
        What to look out for, in words.
    """

    table: pd.DataFrame
    material: str
    area_m2: float
    depth_cm: float
    litres: float
    kg: float
    dry_kg: float
    carbon_kg: float
    why: str

    def __repr__(self) -> str:
        return present.plain(self._title(), self.table) + f"\n{self.why}"

    def _repr_html_(self) -> str:
        return present.page(f"{self._title()}. {self.why}", self.table)

    def _title(self) -> str:
        return (
            f"{number(self.depth_cm)} cm of {self.material} over {number(self.area_m2)} m2: "
            f"{number(self.litres)} L, {number(self.kg)} kg wet, {number(self.dry_kg)} kg dry, "
            f"{number(self.carbon_kg)} kg of carbon"
        )


@lru_cache(maxsize=None)
def _take() -> dict[str, tuple[float, float, float]]:
    table = tables.load("yearly_take", numbers=("low", "likely", "high"))
    rows = table[["nutrient", "low", "likely", "high"]].itertuples(index=False, name=None)
    return {str(name): (float(low), float(likely), float(high)) for name, low, likely, high in rows}


@lru_cache(maxsize=None)
def _most() -> dict[str, float]:
    """Return the deepest layer a year that salts allow, by class of release [cm]."""
    table = tables.load("layers", numbers=("most",))
    return {str(row["release"]): float(row["most"]) for row in table.to_dict("records")}


def _part(material: str | Mapping[str, Any] | Blend, own: pd.DataFrame | None) -> Part:
    """Return the material of a layer as one ingredient."""
    if isinstance(material, Blend):
        name = str(material.analysis["material"].iloc[0])
        mine = material.analysis if own is None else pd.concat([own, material.analysis], ignore_index=True)
        return parts([name], own=mine)[0]
    return parts([material], own=own)[0]


def _sizes(part: Part, *, area_m2: float, given: dict[str, float]) -> tuple[float, float]:
    """Return litres and kg of a layer from the one of depth, litres and kg that was given."""
    said = {name: value for name, value in given.items() if not np.isnan(value)}
    if len(said) != 1 or not all(np.isfinite(value) and value > 0 for value in said.values()):
        told = ", ".join(f"{name} = {value:g}" for name, value in said.items()) or "nothing"
        raise SoiltrendError(
            f"{told} does not say how much", remedy="Give one of depth_cm, litres and kg, above 0"
        )
    (name, value), density = next(iter(said.items())), part.figure("density")
    if np.isnan(density):
        raise SoiltrendError(
            f"the density of '{part.row.name}' is not known, so depth and weight cannot be told apart",
            file=FILE,
            remedy="Give density in kg per litre: weigh one full bucket of ten litres",
        )
    litres = {"depth_cm": LITRES_PER_CM * area_m2 * value, "litres": value, "kg": value / density}[name]
    return litres, litres * density


def _brought(part: Part, *, litres: float, kg: float, by_volume: bool, area_m2: float) -> pd.DataFrame:
    """Return what a layer brings of each nutrient that is known of it [g/m2]."""
    draws = drawn(part.row, draws=DRAWS, rng=np.random.default_rng(SEED))
    wet = litres * draws["density"] if by_volume else np.full(DRAWS, kg)
    dry = wet * (1 - draws["moisture"] / PERCENT)
    likely_dry = kg * (1 - part.figure("moisture") / PERCENT)
    rows, free = [], released(part.row, years=1)
    for nutrient in BROUGHT:
        if limits(part.row, quantity=nutrient) is None:
            continue
        share = G_PER_KG / PERCENT / area_m2
        likely = likely_dry * part.figure(nutrient) * share
        low, high = np.percentile(dry * draws[nutrient] * share, ENDS)
        soon = likely * free[nutrient][1] if nutrient in free else np.nan
        rows.append((nutrient, UNIT, min(low, likely), likely, max(high, likely), soon, likely * area_m2))
    return pd.DataFrame(rows, columns=list(COLUMNS[:-2]))


def _against(table: pd.DataFrame, a_year: Mapping[str, float]) -> pd.DataFrame:
    """Return the table with what crops take in a year beside it."""
    out = table.assign(a_year=table["nutrient"].map(a_year).astype(float))
    return out.assign(years=out["likely"] / out["a_year"])[list(COLUMNS)]


def borrowed(carbon: float, nitrogen: float) -> float:
    """Return the nitrogen that soil life borrows for a residue by the rule of 24:1; below 0 it gives.

    Parameters
    ----------
    carbon, nitrogen : float
        What the residue holds, in one unit.

    Examples
    --------
    >>> round(borrowed(40.0, 0.5), 2)
    1.17
    """
    return carbon / heap("diet of soil life").ideal_low - nitrogen


def _tie_up(table: pd.DataFrame) -> str:
    """Say how much nitrogen would be borrowed if it were dug in, where its C:N is high."""
    held = table.set_index("nutrient")["likely"]
    if not {"C", "N"} <= set(held.index) or held["C"] <= heap("diet of soil life").high * held["N"]:
        return ""
    short = borrowed(float(held["C"]), float(held["N"]))
    return (
        f"Dug in, soil life would borrow about {number(short, digits=2)} g N/m2 for a time "
        f"(it lives on C:N 24); on top it hardly does. "
    )


def _why(table: pd.DataFrame, part: Part, *, depth_cm: float, told: str) -> str:
    """Return what to look out for: a nutrient for many years, salts, and what is not known."""
    said = []
    many = table[(table["years"] >= MANY_YEARS) & table["nutrient"].isin(STAYS)]
    for row in many.to_dict("records"):
        said.append(f"{row['nutrient']} for about {number(row['years'], digits=2)} years of crops")
    text = f"Brings {', '.join(said)}. " if said else ""
    if any(many["nutrient"] == "P"):
        text += "Phosphorus stays: where the test is already high, use less or none. "
    most = _most().get(str(part.row["release"]), np.inf)
    if depth_cm > most:
        text += (
            f"Deeper than {most:g} cm a year, so its salts may hurt seedlings: split it or let rain wash it. "
        )
    text += _tie_up(table)
    unknown = [name for name in BROUGHT if name not in set(table["nutrient"])]
    if unknown:
        text += f"Not known of it, and not counted as nothing: {', '.join(unknown)}. "
    return text + told


def layer(
    material: str | Mapping[str, Any] | Blend,
    *,
    area_m2: float = 1.0,
    depth_cm: float = np.nan,
    litres: float = np.nan,
    kg: float = np.nan,
    own: pd.DataFrame | None = None,
) -> Layer:
    """Say how much a layer over an area is, and what it brings.

    Parameters
    ----------
    material : str, dict or Blend
        A material of the tables, one described as for :func:`soiltrend.blend`, or a mixture.
    area_m2 : float
        The area [m2].
    depth_cm, litres, kg : float
        One of them: depth [cm] as it lies, volume [L], or wet weight [kg].
    own : DataFrame, optional
        ``garden.materials``.

    Returns
    -------
    Layer

    Raises
    ------
    SoiltrendError
        When not exactly one of depth, litres and kg is given, the area is none, or the density is
        not known.

    Examples
    --------
    >>> spread = layer("garden compost", area_m2=10, depth_cm=1)
    >>> spread.litres, spread.kg, spread.table.set_index("nutrient").at["P", "likely"].round(1)
    (100.0, 60.0, np.float64(10.5))
    """
    if not (np.isfinite(area_m2) and area_m2 > 0):
        raise SoiltrendError(f"area_m2 = {area_m2!r} is no area", remedy="Give square metres, above 0")
    given = {"depth_cm": depth_cm, "litres": litres, "kg": kg}
    usual = {name: three[1] for name, three in _take().items()}
    return _laid(_part(material, own), area_m2=float(area_m2), given=given, a_year=usual, told=USUAL)


def _laid(
    part: Part, *, area_m2: float, given: dict[str, float], a_year: Mapping[str, float], told: str
) -> Layer:
    """Return a layer against what crops take in a year."""
    volume, weight = _sizes(part, area_m2=area_m2, given=given)
    brought = _brought(part, litres=volume, kg=weight, by_volume=np.isnan(given["kg"]), area_m2=area_m2)
    table = _against(brought, a_year)
    deep = volume / (LITRES_PER_CM * area_m2)
    dry = weight * (1 - part.figure("moisture") / PERCENT)
    carbon = dry * part.figure("C") / PERCENT
    why = _why(table, part, depth_cm=deep, told=told)
    return Layer(table, str(part.row.name), area_m2, deep, volume, weight, dry, carbon, why)


def _harvested(picked: pd.DataFrame, *, area_m2: float, hemisphere: str) -> tuple[dict[str, float], str]:
    """Return what harvests of a bed took in a year [g/m2], with words; nothing where none was weighed.

    All growing years count from that of the first harvest of a known crop to that of the last, be they picked
    from or not.
    """
    known = picked[(picked["kg"] > 0) & (picked["crop"].map(vocabulary.crop) != "")]
    if known.empty:
        return {}, USUAL
    year = growing_year(known["date"], hemisphere=hemisphere)
    years = int(year.max() - year.min()) + 1
    told = f"A year's crops are the mean of {years} year{'s' * (years > 1)} of this bed's harvests"
    strange = sorted(set(picked.loc[picked["kg"] > 0, "crop"]) - set(known["crop"]))
    told += f", without {', '.join(strange)}, which no table knows." if strange else "."
    return {name: grams / area_m2 / years for name, grams in carried_off(known).items()}, told


def bed_layer(
    garden: Told,
    *,
    bed: str,
    material: str | Mapping[str, Any] | Blend,
    depth_cm: float = np.nan,
    litres: float = np.nan,
    kg: float = np.nan,
) -> Layer:
    """Say what a layer brings to a bed, against what the bed's own harvests take in a year.

    Parameters
    ----------
    garden : Garden
        Its beds, materials and harvests.
    bed : str
        The bed.
    material : str, dict or Blend
        As for :func:`layer`.
    depth_cm, litres, kg : float
        One of them, for the whole bed: depth [cm], volume [L], or wet weight [kg].

    Returns
    -------
    Layer
        Its ``a_year`` is the mean over the growing years from the first harvest to the last, by
        tables/removal.csv, with haulm that was removed; the usual figures where no harvest of a known
        crop was weighed.

    Raises
    ------
    SoiltrendError
        As :func:`layer`, and when the bed is not known.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> beds = pd.DataFrame({"bed": ["East"], "area_m2": [10.0]})
    >>> picked = pd.DataFrame({"bed": ["East"], "date": pd.to_datetime(["2024-09-01"]), "crop": ["leeks"],
    ...                        "kg": [30.0], "residue": ["kept"]})
    >>> told = SimpleNamespace(beds=beds, harvests=picked, materials=None, hemisphere="north")
    >>> spread = bed_layer(told, bed="East", material="garden compost", depth_cm=1)
    >>> spread.table.query("nutrient == 'P'")[["likely", "a_year", "years"]].round(2).to_numpy().tolist()
    [[10.5, 1.05, 10.0]]
    """
    area = bed_area(garden, bed=bed)
    own = garden.materials
    mine = garden.harvests[garden.harvests["bed"] == bed]
    taken, told = _harvested(mine, area_m2=area, hemisphere=garden.hemisphere)
    usual = {name: three[1] for name, three in _take().items()}
    given = {"depth_cm": depth_cm, "litres": litres, "kg": kg}
    return _laid(_part(material, own), area_m2=area, given=given, a_year=taken or usual, told=told)
