"""What a bed is to come to and what it must not pass, measure by measure, with where that is from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import aims, units
from soiltrend.plan.shed import HOLDS, MOVED_BY

SATURATION = "saturation"
BY_SHARE = ("Ca", "Mg", "K")
"""Measures that the saturation school aims at as a share of the exchange capacity."""

SODIC = "Na"
MG_PER_CMOL = 10.0
PER_LITRE = "mg/dm3"
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


def _same_unit(rows: pd.DataFrame, unit: str, density: float) -> pd.DataFrame:
    """Return aims or ceilings in the test's own unit; a unit per litre takes the soil's density."""
    litre = rows["unit"] == PER_LITRE
    factor = np.where(litre & (unit == "mg/kg"), 1 / density, 1.0)
    numbers = [name for name in ("low", "high", "limit") if name in rows]
    return rows.assign(**{name: rows[name] * factor for name in numbers}, unit=unit)


def _ceiling(analyte: str, method: str, unit: str, medium: str, density: float) -> tuple[float, str]:
    """Return the ceiling of a test: the middle of the sources."""
    rows = aims.ceilings(analyte, method, medium)
    if rows.empty:
        return np.nan, "no ceiling known for it"
    limit = float(_same_unit(rows, unit, density)["limit"].median())
    return limit, f"ceiling {limit:g}: {'; '.join(rows['words'])}"


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
    analyte: str, method: str, unit: str, medium: str, crop: str, density: float
) -> tuple[float, float, str, float, str]:
    """Return aim and ceiling of the tables, each with its words; missing where none is known."""
    ceiling, stops = _ceiling(analyte, method, unit, medium, density)
    rows = aims.aims(analyte, method, medium, crop=crop or None)
    if rows.empty:
        return np.nan, np.nan, aims.no_aim(analyte, method=method, medium=medium), ceiling, stops
    low, high, why = aims.settled(_same_unit(rows, unit, density))
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
        The measure: analyte, method, unit.
    bed : mapping
        Its bed: medium, bulk_density.
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
    unit, density = str(row["unit"]), float(bed["bulk_density"])
    low, high, why, ceiling, stops = _told(analyte, method, unit, medium, crop or "", density)
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
