"""What may still lie in the soil undissolved and be counted as if the soil held it.

An acid extract dissolves lime and shell, and water dissolves gypsum, whether the soil holds them or not.
How much may still lie there is what went on, by the log, less what has dissolved since, by published years
of release. How much of that an extract takes up is not known: anything from nothing to all.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from soiltrend import frames, tables, units
from soiltrend.frames import YEAR
from soiltrend.garden import Garden
from soiltrend.materials import released
from soiltrend.present import number
from soiltrend.why.given import DRAWS, Given, interval
from soiltrend.why.log import Log, grams

LASTING = ("carbonate", "caustic lime", "gypsum", "ash")
"""Classes of tables/release.csv that bring calcium or magnesium and lie in the soil for a while."""

IONS = ("Ca", "Mg")
CHARGE = {ion: units.factor("mg/kg", "cmol/kg", analyte=ion) for ion in IONS}
KG_PER_CM = 10.0
"""kg of soil in a square metre of 1 cm at a bulk density of 1 g/cm3."""

MILLI = 1000.0
LEVEL = 0.95
"""Of the bound that is told of what may lie undissolved."""


@dataclass(frozen=True, eq=False)
class Suspects:
    """What may have been counted that was not held.

    Attributes
    ----------
    drawn : array of float
        Draws of how far it may have moved the sum between the two ends [cmol/kg]; missing when it
        cannot be sized.
    most : tuple of float
        The most it may add to the earlier and to the later sum [cmol/kg]; infinite when it cannot be
        sized.
    names : tuple of str
        The materials.
    warned : tuple of bool
        Whether the sum of each end bears a warning of its own.
    notes : tuple of str
        Those warnings.
    why : str
        In words.
    """

    drawn: np.ndarray
    most: tuple[float, float]
    names: tuple[str, ...]
    warned: tuple[bool, bool]
    notes: tuple[str, ...]
    why: str


def suspects(given: Given, log: Log | None, used: pd.DataFrame, rng: np.random.Generator) -> Suspects:
    """Return what may be counted in the sums of one bed without being held by the soil.

    Parameters
    ----------
    given : Given
        The garden, if there is one.
    log : Log or None
        What went on.
    used : DataFrame
        The sums of one bed, by ``end``.
    rng : Generator
        Seeded.
    """
    first, second = (bool(used.loc[used["end"] == end, "warned"].any()) for end in (0, 1))
    warned = (first, second)
    told = used.loc[used["warned"], "note"].str.extract(f"{frames.INFLATED} (.*?)(?:; CEC can|$)")[0]
    notes = tuple(dict.fromkeys(told.dropna()))
    lying = {} if log is None or given.garden is None else _lying(given.garden, log, used, given.results, rng)
    missing = "" if log is None else log.missing(str(used["bed"].iloc[0]))
    if lying:
        found = _sized(lying, warned, notes, rng)
        return replace(found, why=found.why + missing)
    if any(warned):
        unknown = np.full(DRAWS, np.nan)
        return Suspects(unknown, (np.inf, np.inf), (), warned, notes, "Cannot be sized: " + "; ".join(notes))
    if given.garden is None:
        why = "Nothing hints at any; without the log of what went on this cannot be looked up"
    elif _share(given.garden, used) == 0:
        why = "What went on the bed lies in the layers above this one"
    else:
        why = "The log has none before the soil was taken"
    return Suspects(np.zeros(DRAWS), (0.0, 0.0), (), warned, notes, why + missing)


def _sized(lying: dict[str, np.ndarray], warned: tuple[bool, bool], notes: tuple[str, ...],
           rng: np.random.Generator) -> Suspects:
    """Return what the log allows, taken up by the extract by anything from nothing to all."""
    ends = np.sum(list(lying.values()), axis=0)
    taken = rng.random(DRAWS) * ends
    most = [interval(end, LEVEL)[1] for end in ends]
    ends_told = [number(end, digits=2) for end in most]
    most = [end if end > 0 or not told else np.inf for end, told in zip(most, warned, strict=True)]
    why = (f"{', '.join(lying)}: what may still lie undissolved holds up to {ends_told[0]} cmol/kg at the "
           f"first test and {ends_told[1]} at the second; how much of it the extract takes up is not known, "
           "so anything from nothing to all")
    return Suspects(taken[1] - taken[0], (most[0], most[1]), tuple(lying), warned, notes, why)


def _lying(garden: Garden, log: Log, used: pd.DataFrame, results: pd.DataFrame,
           rng: np.random.Generator) -> dict[str, np.ndarray]:
    """Return draws of the charge that may lie undissolved at both ends [cmol/kg], by material."""
    bed = str(used["bed"].iloc[0])
    days = [used.loc[used["end"] == end, "sampled"].max() for end in (0, 1)]
    sour = [_dissolves(results, used[used["end"] == end]) for end in (0, 1)]
    weight, share = soil_weight(garden, bed, used), _share(garden, used)
    out: dict[str, np.ndarray] = {}
    for _, line in log.of(bed).iterrows():
        name = str(line["material"])
        row = log.rows[name]
        if not share or str(row["release"]) not in LASTING or not line["date"] < days[1]:
            continue
        brought = grams(line, row, IONS, rng)
        charge = share * sum(brought[ion] * MILLI / weight * CHARGE[ion] for ion in brought)
        left = [_left(row, (day - line["date"]).days / YEAR, dissolves, rng)
                for day, dissolves in zip(days, sour, strict=True)]
        out[name] = out.get(name, np.zeros((2, DRAWS))) + np.array(left) * charge
    return out


def _share(garden: Garden, used: pd.DataFrame) -> float:
    """Return how much of what went on may lie in the layer sampled: what the bed's depth holds below its top.

    Of a bed 15 cm deep all of it may lie in a layer from the surface, and none in one from 15 to 30 cm.
    """
    depth = float(garden.beds.set_index("bed")["depth_cm"][str(used["bed"].iloc[0])])
    top = float(used["top_cm"].fillna(0.0).min())
    return float(np.clip((depth - top) / depth, 0.0, 1.0))


def soil_weight(garden: Garden, bed: str, used: pd.DataFrame) -> float:
    """Return the dry soil of the layer sampled, or of the bed's own depth where none is stated [kg/m2]."""
    place = garden.beds.set_index("bed")
    depth = float((used["bottom_cm"] - used["top_cm"]).mean())
    own = float(place["depth_cm"][bed])
    return float(place["bulk_density"][bed]) * (own if np.isnan(depth) else depth) * KG_PER_CM


def _left(row: pd.Series, years: float, dissolves: bool, rng: np.random.Generator) -> np.ndarray:
    """Return draws of the share that still lies there; before it was put on there is none.

    Where pH is so high that lime has nothing left to react with, all of it may still be there.
    """
    if years <= 0:
        return np.zeros(DRAWS)
    low, likely, high = released(row, years=years)["Ca"]
    low = low if dissolves or row["release"] == "gypsum" else 0.0
    gone = rng.triangular(low, likely, high, DRAWS) if low < high else np.full(DRAWS, likely)
    return np.asarray(1 - gone)


def _dissolves(results: pd.DataFrame, used: pd.DataFrame) -> bool:
    """Return whether pH is below the limit above which extracts find free lime (tables/guards.csv)."""
    limit = tables.load("guards", numbers=("limit",)).set_index("guard")["limit"]["high pH"]
    acid = frames.composites(results).isin(used["bag"]) & (results["analyte"] == "pH")
    return not bool((results.loc[acid & (results["qualifier"] == ""), "value"] > limit).any())
