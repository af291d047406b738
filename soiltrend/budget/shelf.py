"""What each dressing brought: seeded draws of its dry matter, its analysis and what came free of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, cast

import numpy as np
import pandas as pd

from soiltrend import materials
from soiltrend.budget.chance import FEWEST, Dice, Draws, triangle
from soiltrend.errors import SoiltrendError
from soiltrend.garden import Garden

FILE = "applications.csv"
ACIDITY = "acidity"
LIMING = "CCE"
GRAMS = 1000.0
KNOTS = (0.0, 1.0, 2.0, 3.0)
"""Ages [years] between which what comes free grows evenly, by :func:`soiltrend.materials.ripe`."""

PERCENT = 100.0


@dataclass(frozen=True, eq=False)
class Shelf:
    """The materials of a garden, and draws of them that are made once.

    Attributes
    ----------
    known : DataFrame
        From :func:`soiltrend.materials.known_materials`.
    dice : Dice
        Number of draws and seed.
    memory : dict
        What was drawn already.
    """

    known: pd.DataFrame
    dice: Dice
    memory: dict[tuple[object, ...], Any] = field(default_factory=dict)

    def row(self, name: str) -> pd.Series:
        """Return the row of a material."""
        return cast(pd.Series, self.known.loc[name])

    def called(self, text: str) -> str:
        """Return the name of the material that a line of the grower's calls so."""
        key = ("called", text)
        if key not in self.memory:
            self.memory[key] = str(materials.material(self.known, name=text).name)
        return str(self.memory[key])

    def by_volume(self, name: str, *, unit: str) -> bool:
        """Return whether a dressing was measured by volume."""
        return materials.by_volume(unit, self.row(name))

    def measured(self, name: str) -> bool:
        """Return whether a material's analysis is its own and measured."""
        return name in self.known.index and str(self.row(name)["measured"]) == "yes"

    def analysis(self, name: str) -> Mapping[str, Draws]:
        """Return draws of everything known of a material, in % of its dry matter."""
        key = ("analysis", name)
        if key not in self.memory:
            draws, rng = self.dice.draws, self.dice.of(*key)
            self.memory[key] = materials.drawn(self.row(name), draws=draws, rng=rng)
        return dict(self.memory[key])

    def dry(self, name: str, *, unit: str, area_m2: float) -> Draws:
        """Return draws of the dry matter in one measure [g/m2]; one barrow errs like the next."""
        key = ("dry", name, unit, area_m2)
        if key not in self.memory:
            self.memory[key] = (
                GRAMS
                / area_m2
                * materials.dry_kg(
                    1.0,
                    unit,
                    self.row(name),
                    area_m2=area_m2,
                    draws=self.dice.draws,
                    rng=self.dice.of("dry", name, unit),
                )
            )
        return np.asarray(self.memory[key])

    def freed(self, name: str, *, nutrient: str, years: float) -> Draws:
        """Return draws of the share of a nutrient that has come free so many years after."""
        if years <= 0:
            return np.zeros(self.dice.draws)
        if ("curve", name) not in self.memory:
            row = self.memory["row", name] = self.row(name)
            self.memory["curve", name] = _curve(str(row["release"]), str(row["fineness"]))
        if ("freed", name, nutrient) not in self.memory:
            at = self.dice.of("freed", name, nutrient).random(self.dice.draws)
            three = [stage[nutrient] for stage in self.memory["curve", name]]
            self.memory["freed", name, nutrient] = [triangle(*ends, at=at) for ends in three]
        age = float(materials.ripe(self.memory["row", name], np.asarray(years), nutrient=nutrient))
        return _between(self.memory["freed", name, nutrient], age)


@lru_cache(maxsize=None)
def _curve(release: str, fineness: str) -> tuple[dict[str, tuple[float, float, float]], ...]:
    """Return what has come free at each of the knots, of a class of materials."""
    row = pd.Series({"release": release, "fineness": fineness}, name=release)
    return tuple(materials.released(row, years=year) for year in KNOTS)


@lru_cache(maxsize=None)
def _reference() -> pd.DataFrame:
    """Return the materials of the tables alone; they are never written to."""
    return materials.known_materials()


def _between(knots: list[Draws], years: float) -> Draws:
    """Return the share at an age, in a straight line between and beyond the years that are known."""
    at = min(max(int(np.searchsorted(KNOTS, years)) - 1, 0), len(KNOTS) - 2)
    part = (years - KNOTS[at]) / (KNOTS[at + 1] - KNOTS[at])
    return np.asarray(np.minimum(knots[at] + part * (knots[at + 1] - knots[at]), 1.0))


def quantity(nutrient: str) -> str:
    """Return what an analysis calls a nutrient of the account: acidity is met by the liming value.

    Examples
    --------
    >>> quantity("acidity"), quantity("Ca")
    ('CCE', 'Ca')
    """
    return LIMING if nutrient == ACIDITY else nutrient


def shelf(garden: Garden, dice: Dice) -> Shelf:
    """Return the garden's materials, her own figures first."""
    cups = garden.settings.get("cups")
    own = len(garden.materials) or cups
    known = materials.known_materials(garden.materials, cups=cups) if own else _reference()
    return Shelf(known, dice)


@dataclass(frozen=True)
class Lot:
    """One dressing, under the name of its material.

    Attributes
    ----------
    date : Timestamp
        When it went on.
    bed, name, unit : str
        The bed, the material and the measure.
    amount : float
        In that measure.
    area_m2 : float
        Of the bed.
    """

    date: pd.Timestamp
    bed: str
    name: str
    unit: str
    amount: float
    area_m2: float


def lots(garden: Garden, stock: Shelf) -> list[Lot]:
    """Return the dressings of a garden by date, each tried out.

    Parameters
    ----------
    garden : Garden
        Its ``applications`` and ``beds``.
    stock : Shelf
        Its materials.

    Returns
    -------
    list of Lot

    Raises
    ------
    SoiltrendError
        When a material is not known, or its amount cannot be turned into dry kilograms; the line of
        applications.csv is named.
    """
    area = garden.beds.set_index("bed")["area_m2"]
    out = []
    for line in garden.applications.to_dict("records"):
        size = float(area[line["bed"]])
        out.append(
            Lot(line["date"], line["bed"], _tried(line, stock, size), line["unit"], line["amount"], size)
        )
    return sorted(out, key=lambda lot: lot.date)


def log_faults(garden: Garden) -> list[str]:
    """Return what an account of the garden would stop at: each line of its log that cannot be weighed.

    Returns
    -------
    list of str
        One text a line: file, line, what was found and what to do.
    """
    area, stock = garden.beds.set_index("bed")["area_m2"], shelf(garden, Dice(FEWEST, 0))
    told = []
    for line in garden.applications.to_dict("records"):
        try:
            _tried(line, stock, float(area[line["bed"]]))
        except SoiltrendError as error:
            told.append(str(error))
    return told


def _tried(row: dict[Any, Any], stock: Shelf, area_m2: float) -> str:
    """Return the material of a dressing, or refuse what cannot be turned into dry kilograms."""
    place = f"line {row['line']}" if "line" in row else f"bed '{row['bed']}', {row['date']:%Y-%m-%d}"
    if not row["amount"] >= 0:
        raise SoiltrendError(
            f"amount {row['amount']:g} is below nothing",
            file=FILE,
            place=place,
            remedy="Write what went on as 0 or more",
        )
    try:
        name = stock.called(str(row["material"]))
        if row["amount"]:
            stock.dry(name, unit=str(row["unit"]), area_m2=area_m2)
    except SoiltrendError as error:
        raise SoiltrendError(
            error.problem, file=FILE, place=", ".join(filter(None, (place, error.place))), remedy=error.remedy
        ) from error
    return name
