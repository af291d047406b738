"""What a bed is to come to and what it must not pass, measure by measure, with where that is from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import aims, tables, units
from soiltrend.plan.shed import HOLDS, MOVED_BY

SATURATION = "saturation"
BY_SHARE = ("Ca", "Mg", "K")
"""Measures that the saturation school aims at as a share of the exchange capacity."""

SODIC = "Na"
MG_PER_CMOL = 10.0
PER_LITRE = "mg/dm3"
SURE_DIGITS = 3
"""Decimals of a density as scooped: more are what rounding of the printed result left."""

OWN_HIGH = "ceiling: the upper end of your own aim"
NO_CAPACITY = "no exchange capacity that can be relied on, so not by its shares but by sufficiency; "
PLANNED = (*MOVED_BY, *(name for name in HOLDS if name not in ("N", "CCE")))
"""Measures that a plan can move; nitrogen has no test here, only a ceiling on what is given."""


@dataclass(frozen=True)
class Want:
    """What is wanted of one measure in one bed.

    Attributes
    ----------
    low, high : float
        Where it is to come to; missing where no aim is known.
    ceiling : float
        What it must not pass; missing where none is known.
    why : str
        Where that is from.
    against : str
        The published evidence against it, for aims of one school.
    """

    low: float
    high: float
    ceiling: float
    why: str
    against: str = ""


@lru_cache(maxsize=None)
def _usual() -> dict[str, float]:
    """Return how dense a laboratory scoops the soils of which that is known [g/cm3]."""
    return dict(tables.load("scooped", numbers=("density",)).set_index("medium")["density"])


def scooped(results: pd.DataFrame) -> dict[tuple[str, str, str], float]:
    """Return how dense the soil was scooped [g/cm3] by bed, analyte and method, where a result tells it.

    A result that was reported by the litre was turned by a density that the grower answered; the last counts.

    Parameters
    ----------
    results : DataFrame
        A tidy frame.

    Examples
    --------
    >>> from soiltrend import frames
    >>> told = {"bed": "East", "analyte": "K", "method": "Morgan", "unit": "mg/kg", "value": 100.0}
    >>> scooped(frames.results([told | {"reported_value": "110", "reported_unit": "mg/dm3"}]))
    {('East', 'K', 'Morgan'): 1.1}
    """
    litre = {unit for unit in results["reported_unit"].unique() if _is_by_litre(unit)}
    rows = results[results["reported_unit"].isin(litre) & (results["value"] > 0)]
    told: dict[tuple[str, str, str], float] = {}
    for row in rows.sort_values("sampled", kind="stable").to_dict("records"):
        at_one = units.factor(row["reported_unit"], row["unit"], analyte=row["analyte"], bulk_density=1.0)
        printed = pd.to_numeric(row["reported_value"].strip("<> "), errors="coerce")
        if np.isfinite(printed) and printed > 0:
            density = float(printed) * at_one / row["value"]
            told[row["bed"], row["analyte"], row["method"]] = round(density, SURE_DIGITS)
    return told


def _is_by_litre(text: str) -> bool:
    unit = units.find(text)
    return unit is not None and unit.dimension == units.parse(PER_LITRE).dimension


def _same_unit(rows: pd.DataFrame, unit: str, density: float) -> pd.DataFrame:
    """Return aims or ceilings in the test's own unit, three figures of them.

    What is told by the litre takes the density of the soil as scooped; it is left out where none is known.
    """
    litre = (rows["unit"] == PER_LITRE).to_numpy()
    turned = litre & (unit == "mg/kg")
    rows = rows[~turned | np.isfinite(density)]
    factor = np.where(turned[~turned | np.isfinite(density)], 1 / density, 1.0)
    numbers = [name for name in ("low", "high", "limit") if name in rows]
    each = {name: [float(f"{value:.3g}") if by != 1 else value
                   for value, by in zip(rows[name] * factor, factor, strict=True)] for name in numbers}
    return rows.assign(**each, unit=unit)


def _at(rows: pd.DataFrame, unit: str, density: float, *, told: bool) -> str:
    """Return at which density aims by the litre were turned, in words; blank where none is."""
    if unit != "mg/kg" or not (rows["unit"] == PER_LITRE).any() or not np.isfinite(density):
        return ""
    whence = "" if told else ", which is usual of a ground soil and was not told"
    return f" (by the litre, at {density:g} g/cm3 as scooped{whence})"


MINERAL = "mineral soil"
LIGHT = (
    "; found on mineral soils by weight and kept here to be careful: a light medium that reads as much holds "
    "less of it by the litre"
)
"""Of a ceiling that is set to another medium than it was found on."""


def _ceiling(analyte: str, method: str, unit: str, medium: str, density: float) -> tuple[float, str]:
    """Return the ceiling of a test: the middle of the sources."""
    rows = aims.ceilings(analyte, method, medium)
    same = _same_unit(rows, unit, density)
    if same.empty:
        return np.nan, "no ceiling known for it"
    limit = float(same["limit"].median())
    other = medium not in ("", MINERAL) and bool((rows["medium"] == aims.ANY).all())
    light = LIGHT if other and unit == "mg/kg" else ""
    return limit, f"ceiling {limit:g}: {'; '.join(same['words'])}{light}"


def _shares(analyte: str, medium: str, capacity: float) -> Want | None:
    """Return the aim of the saturation school in the test's unit, when the capacity is known."""
    rows = aims.aims(f"{analyte} saturation", "summation", medium, approach=SATURATION)
    if rows.empty or not np.isfinite(capacity):
        return None
    low, high, _ = aims.settled(rows)
    each = capacity / 100 * MG_PER_CMOL * units.equivalent_weight(analyte)
    told = f"{low:g} to {high:g} % of the exchange capacity of {capacity:.3g} cmol/kg, one school's aim"
    return Want(low * each, high * each, high * each, told, str(rows["against"].iloc[0]))


def _crop_ceiling(rows: pd.DataFrame) -> tuple[float, str]:
    """Return the pH above which a crop is not limed: the highest that any source wants for it.

    Lists that are copied from page to page do not count.
    """
    sure = rows[(rows["crop"] != "") & (rows["evidence"] != aims.COPIED)]
    top = float(sure["high"].max())
    return top, f"ceiling {top:g}: nothing that limes above what {rows['crop'].iloc[0]} wants"


@lru_cache(maxsize=4096)
def _told(
    analyte: str, method: str, unit: str, medium: str, crop: str, scoop: float | None
) -> tuple[float, float, str, float, str]:
    """Return aim and ceiling of the tables, each with its words; missing where none is known.

    ``scoop`` is how dense the soil was scooped; without one what is usual of that medium.
    """
    density = _usual().get(medium, np.nan) if scoop is None else scoop
    ceiling, stops = _ceiling(analyte, method, unit, medium, density)
    every = aims.aims(analyte, method, medium, crop=crop or None)
    rows = _same_unit(every, unit, density)
    if rows.empty:
        return np.nan, np.nan, aims.no_aim(analyte, method=method, medium=medium), ceiling, stops
    low, high, why = aims.settled(rows)
    why += _at(every, unit, density, told=scoop is not None)
    if analyte == "pH":
        top, told = _crop_ceiling(rows)
        ceiling, stops = (top, told) if top < ceiling else (ceiling, stops)
    return low, high, f"aim: {why}", ceiling, stops


@lru_cache(maxsize=256)
def usual_pH(method: str, medium: str, crop: str) -> float:
    """Return the lower end of what the tables aim at for a pH, missing where they know none.

    Examples
    --------
    >>> usual_pH("water 1:1", "mineral soil", "")
    6.25
    """
    return float(aims.aims("pH", method, medium, crop=crop or None)["low"].median())


def wanted(
    row: Mapping[Any, Any], bed: Mapping[Any, Any], *, own: Mapping[str, Any] | None, approach: str,
    crop: str | None, capacity: float,
) -> Want:  # fmt: skip
    """Return what is wanted of one measure.

    Parameters
    ----------
    row : mapping
        The measure: analyte, method, unit, and where it is known ``scooped``, how dense its soil was scooped
        [g/cm3].
    bed : mapping
        Its bed: medium.
    own : mapping, optional
        The grower's own aims, from garden.toml.
    approach : str
        "sufficiency" or "saturation".
    crop : str, optional
        Next year's crop, for aims of pH.
    capacity : float
        The exchange capacity [cmol/kg], for the saturation school and for sodium.
    """
    analyte, method, medium = str(row["analyte"]), str(row["method"]), str(bed["medium"])
    instead, mine = "", aims.own_aim(analyte, method, own)
    if approach == SATURATION and analyte in BY_SHARE and mine.empty:
        found = _shares(analyte, medium, capacity)
        if found is not None:
            return found
        instead = NO_CAPACITY
    unit, density = str(row["unit"]), float(row.get("scooped", np.nan))
    scoop = density if np.isfinite(density) else None
    low, high, why, ceiling, stops = _told(analyte, method, unit, medium, crop or "", scoop)
    if len(mine):
        low, high, told = aims.settled(mine)
        why = f"aim: {told}"
        ceiling, stops = (high, OWN_HIGH) if np.isfinite(high) else (ceiling, stops)
    if analyte == SODIC and not np.isfinite(ceiling):
        ceiling, stops = _sodic(capacity, medium)
    return Want(low, high, ceiling, f"{instead}{why}; {stops}")


def _sodic(capacity: float, medium: str) -> tuple[float, str]:
    """Return the sodium at which a soil falls apart, from its exchange capacity."""
    rows = aims.ceilings("Na saturation", "summation", medium)
    if rows.empty or not np.isfinite(capacity):
        return np.nan, "no ceiling known for it"
    share = float(rows["limit"].median())
    limit = share / 100 * capacity * MG_PER_CMOL * units.equivalent_weight(SODIC)
    return limit, f"ceiling {limit:.3g}: {share:g} % of the exchange capacity, {rows['words'].iloc[0]}"
