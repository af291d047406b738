"""A small invented garden of which the recovery is known, to try the account on.

Everything that is uncertain (the analysis of a material, a barrow's error, what came free, a crop's content,
bulk density) is drawn once for the truth from the same ranges that the account draws from, and the tests err
as the noise model says.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from soiltrend import frames
from soiltrend.budget.books import account, by_bed, open_books, records
from soiltrend.budget.chance import FEWEST, Dice
from soiltrend.budget.movement import Layer, density, grams
from soiltrend.budget.shelf import shelf
from soiltrend.garden import Garden
from soiltrend.noise import noise_model

LEVELS = {"P": 45.0, "K": 150.0, "Ca": 1500.0, "Mg": 150.0, "acidity": 3.0}
"""Where the invented beds begin, in the unit of their test; ordinary and from nowhere real."""

DRIFT = 0.03
"""What both beds lose by themselves from one test to the next, as a share of that level; invented."""

TRUTH = 7_919
"""Added to the seed for the truth, so that the account never draws the same numbers."""

DEPTH_CM, BULK_DENSITY = 15.0, 1.2
SOIL = {
    "area_m2": 10.0,
    "depth_cm": DEPTH_CM,
    "bulk_density": BULK_DENSITY,
    "medium": "mineral soil",
    "note": "",
}
DAYS = {"spring 2022": "2022-04-05", "spring 2024": "2024-04-09"}
DRESSINGS = (
    ("2022-05-01", "gypsum", 460.0, "g/m2"),
    ("2022-11-05", "garden compost", 3.0, "barrow"),
    ("2022-11-06", "calcitic limestone", 250.0, "g/m2"),
    ("2023-04-20", "wood ash", 1.5, "kg"),
)
HARVESTS = (("2022-09-20", "beetroot", 24.0), ("2023-10-02", "kale", 18.0))


@dataclass(frozen=True)
class Plot:
    """How an invented garden is kept.

    Attributes
    ----------
    dressings : sequence
        Day, material, amount and measure of what goes on the bed "East"; "Stand" is left as it is.
    harvests : sequence
        Day, crop and kg of what comes off both beds.
    check : bool
        Whether "Stand" is there.
    noise : float
        Noise of the tests as a multiple of the table's; 0 for perfect tests.
    drawn : bool
        Whether what is uncertain is drawn for the truth, or stands at its mean.
    levels : mapping
        Where the beds begin, by test.
    """

    dressings: Sequence[tuple[str, str, float, str]] = DRESSINGS
    harvests: Sequence[tuple[str, str, float]] = HARVESTS
    check: bool = True
    noise: float = 1.0
    drawn: bool = True
    levels: Mapping[str, float] = field(default_factory=lambda: dict(LEVELS))


@dataclass(frozen=True, eq=False)
class Invented:
    """An invented garden and its truth.

    Attributes
    ----------
    garden : Garden
        As :func:`soiltrend.open_garden` would give it.
    truth : DataFrame
        ``bed, nutrient, expected, observed`` [g/m2]: what came free less what left, and what the soil gained.
    """

    garden: Garden
    truth: pd.DataFrame


def invented(*, seed: int, recovery: float = 1.0, plot: Plot | None = None) -> Invented:
    """Return a garden of two beds in which a known share of what came free shows.

    Parameters
    ----------
    seed : int
        The same seed gives the same garden.
    recovery : float
        Share of the expected movement that the soil truly makes.
    plot : Plot, optional
        What goes on, what comes off, and how well it is tested.

    Examples
    --------
    >>> found = invented(seed=1, recovery=0.5)
    >>> found.garden.table["season"].tolist(), len(found.truth)
    (['spring 2022', 'spring 2024'], 10)
    """
    told = plot or Plot()
    names = ["East", *(["Stand"] if told.check else [])]
    beds = pd.DataFrame([{"bed": name, **SOIL, "check": name == "Stand", "aliases": ()} for name in names])
    blank = _garden(beds, told, frames.results())
    dice = Dice(FEWEST, seed + TRUTH)
    truth = _truth(blank, dice, told, recovery)
    results = _results(truth, told, np.random.default_rng([seed, TRUTH]))
    return Invented(_garden(beds, told, results), truth)


def _garden(beds: pd.DataFrame, told: Plot, results: pd.DataFrame) -> Garden:
    """Return the garden with its log."""
    applications = pd.DataFrame(told.dressings, columns=["date", "material", "amount", "unit"])
    applications = applications.assign(bed="East", line=range(2, len(applications) + 2))
    harvests = pd.concat(
        [pd.DataFrame(told.harvests, columns=["date", "crop", "kg"]).assign(bed=bed) for bed in beds["bed"]],
        ignore_index=True,
    ).assign(residue="kept")
    for table in (applications, harvests):
        table["date"] = pd.to_datetime(table["date"])
    none = pd.DataFrame()
    return Garden(
        name="an invented garden",
        path=Path(),
        hemisphere="north",
        acidity="lab",
        results=results,
        set_aside=frames.set_aside(),
        beds=beds,
        samples=pd.DataFrame({"sample": pd.Series(dtype="str")}),
        materials=none,
        applications=applications,
        harvests=harvests,
        observations=none,
        settings={},
        notes=(),
        asks=(),
    )


def _truth(garden: Garden, dice: Dice, told: Plot, recovery: float) -> pd.DataFrame:
    """Return what each bed truly gained of each nutrient, one draw of all that is uncertain."""
    stock = shelf(garden, dice)
    books = open_books(garden, stock, confidence=0.9)
    start, end = (pd.Timestamp(day) for day in DAYS.values())
    mass = Layer(DEPTH_CM, BULK_DENSITY).mass
    rows = []
    for bed in garden.beds["bed"]:
        weight = float(density(bed, dice=dice)[0]) if told.drawn else 1.0
        for nutrient, level in told.levels.items():
            draws = account(books, bed=bed, nutrient=nutrient, start=start, end=end).expected
            expected = float(draws[0] if told.drawn else draws.mean())
            per = grams(nutrient, unit="mg/kg") * mass * weight
            own = -DRIFT * told.levels[nutrient] * abs(per)
            gained = recovery * expected + own
            rows.append(
                {
                    "bed": bed,
                    "nutrient": nutrient,
                    "expected": expected,
                    "observed": gained,
                    "before": level,
                    "after": level + gained / per,
                }
            )
    return pd.DataFrame(rows)


def _results(truth: pd.DataFrame, told: Plot, rng: np.random.Generator) -> pd.DataFrame:
    """Return the tests of both springs, with their noise."""
    kinds = pd.DataFrame({"analyte": list(told.levels), "method": "Mehlich-3"})
    known = by_bed(noise_model().of(kinds).fillna({"relative": 0.0}).assign(bed=kinds["analyte"]))
    rows = []
    for (season, day), end in zip(DAYS.items(), ("before", "after"), strict=True):
        shared = {name: rng.standard_normal() * known[name]["occasion"] for name in told.levels}
        for row in records(truth):
            name = row["nutrient"]
            grown = max(1.0, known[name]["relative"] * abs(row[end]) / known[name]["sd"])
            stray = told.noise * grown * (shared[name] + rng.standard_normal() * known[name]["sd"])
            value = row[end] * np.exp(stray) if known[name]["scale"] == "log" else row[end] + stray
            rows.append(
                {
                    "bed": row["bed"],
                    "sampled": day,
                    "season": season,
                    "analyte": name,
                    "value": value,
                    "method": "Mehlich-3",
                    "unit": "cmol/kg" if name == "acidity" else "mg/kg",
                    "lab": "invented",
                    "top_cm": 0.0,
                    "bottom_cm": DEPTH_CM,
                    "sample": f"{row['bed']} {season}",
                    "source": "invented",
                }
            )
    return frames.results(rows)
