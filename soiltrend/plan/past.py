"""What earlier dressings have done to a measure by a day, as far as the log tells."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
import pandas as pd

from soiltrend.frames import YEAR
from soiltrend.garden import Garden
from soiltrend.materials import dry_kg, limits, material, released, ripe
from soiltrend.plan.shed import HOLDS, KILO, SALT, WHOLE, charge, lasting

Array: TypeAlias = np.ndarray

PER_LAYER = 0.01
"""g/m2 in a layer of 1 cm and 1 g/cm3 that holds 1 mg/kg: 1e4 cm3/m2 x 1e-6 g/g."""

DRAWS = 200
KNOTS = (0.0, 1.0, 2.0, 3.0)
"""Ages between which release runs evenly (:func:`soiltrend.materials.ripe`); beyond, as in the last year."""


class Log:
    """What went on each bed, in grams of each nutrient to the square metre, with its day and material.

    Parameters
    ----------
    garden : Garden
        Its applications.csv and beds.
    known : DataFrame
        The materials, from :func:`soiltrend.known_materials`.
    seed : int
        Of the draws that give each measure its mean.
    before : Timestamp
        Nothing from this day on is looked at.
    """

    def __init__(self, garden: Garden, *, known: pd.DataFrame, seed: int, before: pd.Timestamp) -> None:
        self.known, self.seed = known, seed
        self.units: dict[tuple[str, str], tuple[float, bool]] = {}
        self.percent: dict[str, Array] = {}
        self.ages: dict[str, Array] = {}
        areas = dict(zip(garden.beds["bed"], garden.beds["area_m2"], strict=True))
        rows = garden.applications[garden.applications["date"] < before]
        self.of = rows.reset_index(drop=True).groupby("bed", sort=False).indices
        self.day = rows["date"].to_numpy().astype("datetime64[D]").astype(np.int64).astype(float)
        lines = rows.to_dict("records")
        found = {name: material(known, name=name) for name in dict.fromkeys(rows["material"])}
        self.materials = [found[str(line["material"])] for line in lines]
        grams = [
            self._grams(row, line, float(areas[line["bed"]]))
            for row, line in zip(self.materials, lines, strict=True)
        ]
        self.grams = np.array(grams).reshape(len(lines), len(HOLDS))

    def _grams(self, row: pd.Series, line: dict[Any, Any], area: float) -> Array:
        """Return grams of each nutrient to the square metre of one dressing."""
        key = (str(row.name), str(line["unit"]))
        if key not in self.units:
            self.units[key] = self._one(row, key[1])
        if key[0] not in self.percent:
            shares = [limits(row, quantity=name) for name in HOLDS]
            self.percent[key[0]] = np.array([three[1] if three else 0.0 for three in shares])
        kg, by_area = self.units[key]
        return float(line["amount"]) * kg * KILO / (1.0 if by_area else area) * self.percent[key[0]] / WHOLE

    def _one(self, row: pd.Series, unit: str) -> tuple[float, bool]:
        """Return kg of dry matter in one measure of a material, and whether that is to the square metre."""
        small, large = (
            float(
                dry_kg(1.0, unit, row, area_m2=area, draws=DRAWS, rng=np.random.default_rng(self.seed)).mean()
            )
            for area in (1.0, 2.0)
        )
        return small, large > 1.5 * small

    def _shares(self, row: pd.Series) -> Array:
        """Return the share come free after 0, 1, 2 and 3 years (ages, holds), looked up once a material."""
        name = str(row.name)
        if name not in self.ages:
            found = [released(row, years=age) for age in KNOTS]
            self.ages[name] = np.array([[shares[key][1] for key in HOLDS] for shares in found])
        return self.ages[name]

    def free(self, bed: str, brings: str, days: Array) -> Array:
        """Return what of a nutrient has come free in a bed by each day and is still there [g/m2].

        Parameters
        ----------
        bed, brings : str
            The bed and one of :data:`soiltrend.plan.shed.BRINGS`; salts in moles of charge.
        days : array
            Days since 1970; NaN gives 0.
        """
        out = np.zeros_like(days)
        for at in self.of.get(bed, ()):
            age = (days - self.day[at]) / YEAR
            lain = np.maximum(np.nan_to_num(age), 0.0)
            come = self._free(int(at), brings, lain)
            out += np.where(age > 0, come * np.exp(-lain / lasting(brings)), 0.0)
        return out

    def _free(self, at: int, brings: str, years: Array) -> Array:
        """Return what of a nutrient, or of salts, has come free of one dressing after some years [g/m2]."""
        if brings == SALT:
            return charge(np.stack([self._free(at, name, years) for name in HOLDS], axis=-1))
        column = HOLDS.index(brings)
        if not self.grams[at, column]:
            return np.zeros_like(years)
        known = self._shares(self.materials[at])[:, column]
        age = ripe(self.materials[at], years, nutrient=brings)
        later = np.maximum(age - KNOTS[-1], 0.0) * (known[-1] - known[-2])
        return np.asarray(np.minimum(np.interp(age, KNOTS, known) + later, 1.0) * self.grams[at, column])
