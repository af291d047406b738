"""How far a test moved, as draws of grams a square metre, and beside the beds left as they were."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from soiltrend import scales
from soiltrend.budget.chance import Dice, Draws, setting, student, triangle

FALLS = -1.0
"""Acidity that is met goes: its test moves down by what lime does."""

PER_POINT = {"mg/kg": 0.01, "%": 100.0}
"""g/m2 in one unit of a layer of 1 cm and a bulk density of 1 g/cm3: kg/ha = mg/kg x bulk density x depth
x 0.1, and 1 % is 10,000 mg/kg."""

CHALK_PER_CMOL = 500.43
"""mg CaCO3/kg that meet one cmol of acidity a kilogram: ten times half of 100.086 (atomic masses)."""


@dataclass(frozen=True, eq=False)
class Layer:
    """The soil a test speaks of.

    Attributes
    ----------
    depth_cm : float
        Thickness of the layer sampled, or of the bed where the report does not say [cm].
    bulk_density : float
        As stated for the bed [g/cm3].
    """

    depth_cm: float
    bulk_density: float

    @property
    def mass(self) -> float:
        """Thickness times bulk density [cm g/cm3]."""
        return self.depth_cm * self.bulk_density


def layer(row: Mapping[str, Any], bed: Mapping[str, Any]) -> Layer:
    """Return the layer that a comparison row was sampled from.

    Examples
    --------
    >>> bed = {"depth_cm": 15.0, "bulk_density": 1.2}
    >>> layer({"top_cm": 0.0, "bottom_cm": 20.0}, bed).depth_cm
    20.0
    """
    sampled = float(row["bottom_cm"]) - float(np.nan_to_num(row["top_cm"]))
    depth = float(bed["depth_cm"]) if np.isnan(sampled) else sampled
    return Layer(depth, float(bed["bulk_density"]))


def grams(analyte: str, *, unit: str) -> float:
    """Return g/m2 of the nutrient in one unit of its test, in 1 cm of soil of 1 g/cm3.

    Of acidity it is grams of CaCO3; of organic matter, grams of it (not of its carbon).

    Examples
    --------
    >>> grams("Ca", unit="mg/kg"), round(grams("acidity", unit="cmol/kg"), 4)
    (0.01, -5.0043)
    """
    if analyte == "acidity":
        return FALLS * CHALK_PER_CMOL * PER_POINT["mg/kg"]
    return PER_POINT[unit]


def _carbon(analyte: str, dice: Dice) -> Draws | float:
    """Return draws of the carbon in one part of what a test calls organic matter; 1 for carbon itself."""
    if analyte != "OM":
        return 1.0
    three = (setting(f"OM per C{end}") for end in (" low", "", " high"))
    return 1 / triangle(*three, at=dice.of("carbon").random(dice.draws))


def density(bed: str, *, dice: Dice) -> Draws:
    """Return draws of the true bulk density of a bed over the stated one; their mean is 1."""
    sd = float(np.sqrt(np.log1p(setting("bulk density") ** 2)))
    return np.asarray(np.exp(sd * dice.of("density", bed).standard_normal(dice.draws) - sd**2 / 2))


def _ends(row: Mapping[str, Any], dice: Dice) -> tuple[Draws, Draws]:
    """Return draws of the true values at both ends, in the test's unit.

    What a day shares among beds is drawn once for all of them.
    """
    on = np.full(dice.draws, row["scale"])
    own = np.sqrt(max(float(row["se"]) ** 2 - float(row["shared"]), 0.0) / 2)
    day = np.sqrt(float(row["shared"]) / 2)
    thing = tuple(row[name] for name in ("analyte", "method", "lab", "before_season", "after_season"))
    drawn = []
    for end in ("value_before", "value_after"):
        middle = scales.forward(np.full(dice.draws, float(row[end])), on)
        stray = own * student(float(row["df"]), dice=dice, thing=("own", row["bed"], end, *thing))
        stray = stray + day * student(float(row["df"]), dice=dice, thing=("day", end, *thing))
        drawn.append(scales.back(middle - stray, on))
    return drawn[0], drawn[1]


@dataclass(frozen=True, eq=False)
class Movement:
    """How far a test moved.

    Attributes
    ----------
    step : float
        As measured, in the test's unit.
    steps : array
        Draws of it.
    amount : float
        As measured [g/m2; of acidity g CaCO3/m2 met].
    amounts : array
        Draws of it.
    """

    step: float
    steps: Draws
    amount: float
    amounts: Draws


def movement(row: Mapping[str, Any], *, soil: Layer, dice: Dice) -> Movement:
    """Return how far a test moved, with draws of both its units.

    Parameters
    ----------
    row : mapping
        A row of :func:`soiltrend.budget.periods.tests`.
    soil : Layer
        What was sampled.
    dice : Dice
        Number of draws and seed.
    """
    before, after = _ends(row, dice)
    per = grams(str(row["analyte"]), unit=str(row["unit"])) * soil.mass
    carbon = _carbon(str(row["analyte"]), dice)
    steps, step = after - before, float(row["change"])
    amounts = steps * per * carbon * density(str(row["bed"]), dice=dice)
    return Movement(step, steps, step * per_unit(row, soil=soil, dice=dice), amounts)


def in_test(amounts: Draws, row: Mapping[str, Any], *, soil: Layer, dice: Dice) -> Draws:
    """Return amounts [g/m2] as movements in the test's unit."""
    per = grams(str(row["analyte"]), unit=str(row["unit"])) * soil.mass
    weight = density(str(row["bed"]), dice=dice)
    return np.asarray(amounts / (per * weight * _carbon(str(row["analyte"]), dice)))


def per_unit(row: Mapping[str, Any], *, soil: Layer, dice: Dice) -> float:
    """Return g/m2 of the nutrient in one unit of its test, with bulk density as stated."""
    per = grams(str(row["analyte"]), unit=str(row["unit"])) * soil.mass
    return float(per * np.mean(_carbon(str(row["analyte"]), dice)))
