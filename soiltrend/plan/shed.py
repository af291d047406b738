"""What there is to add: draws of what a gram of each material brings, shared by all beds.

A heap is one heap: what a draw says of it holds for every bed of that draw.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TypeAlias

import numpy as np
import pandas as pd

from soiltrend import aims, tables, units
from soiltrend.materials import NUTRIENTS, drawn, released
from soiltrend.plan.rules import PlanRules

Array: TypeAlias = np.ndarray

SALT = "salt"
HOLDS = (*(name for name in NUTRIENTS if name != "C"), "CCE")
BRINGS = (*HOLDS, SALT)
"""What is followed of every material: grams of what it holds, its liming value as CaCO3, and moles of charge
of the salts that it leaves in the soil water."""

WHOLE = 100.0
KILO = 1000.0

GATHERED = 0.3
"""What a kilogram without a stated price counts for: gathering and making cost an afternoon. Judgement."""

ON_HAND = 0.1
"""What is in the shed counts for so little of its price. Judgement."""

CAUSTIC = 5.0
"""What burns skin and roots counts for so much more. Judgement."""

PERYEAR = "year"
SOLID = ("mineral", "lime", "shell", "ash", "rock dust", "meal", "trace salt", "compost", "manure", "residue")
LIQUID = ("ferment", "acid extract")
CAUSTIC_LIME = "caustic lime"
"""Release class of burnt, slaked and magnesium lime: taken from the shed, never proposed for it."""

GUESS = "guess"
"""Caution of what nobody has analysed: it is not proposed either."""

USUAL = (*SOLID, *LIQUID)
"""Kinds a plan may choose from; mulches, green crops and brews have other purposes."""


@dataclass(frozen=True, eq=False)
class Shed:
    """What can be added, as arrays.

    Attributes
    ----------
    rows : DataFrame
        One row a material, as :func:`soiltrend.known_materials` gives it.
    total : array (scenarios, materials, brings)
        Grams brought by a gram as it lies, all of it counted; 0 where nothing is known. Of salts: moles of
        charge of what comes free by the next test, none of it washed down.
    luck : array (scenarios, materials)
        How fast each lets go, as a share of its range.
    free : array (scenarios, materials, brings)
        What of it has come free by the next test and is still there, all of it given on the first day.
    most : array (materials,)
        Greatest amount in a year [g/m2].
    price : array (materials,)
        What a gram counts for.
    """

    rows: pd.DataFrame
    total: Array
    luck: Array
    free: Array
    most: Array
    price: Array

    @property
    def names(self) -> list[str]:
        """The materials' names."""
        return [str(name) for name in self.rows.index]

    def only(self, keep: Array) -> Shed:
        """Return the shed with some of its materials, by mask."""
        return replace(
            self,
            rows=self.rows[keep],
            total=self.total[:, keep],
            luck=self.luck[:, keep],
            free=self.free[:, keep],
            most=self.most[keep],
            price=self.price[keep],
        )

    def later(self, lain: Mapping[int, Array]) -> Array:
        """Return ``free`` with some materials by how many years each of their equal parts has lain.

        Parameters
        ----------
        lain : mapping
            Years by place of the material.
        """
        out = self.free.copy()
        for at, years in lain.items():
            row, held, luck = self.rows.iloc[at], self.total[:, at, : len(HOLDS)], self.luck[:, at]
            parts = [staying(freed(row, held, years=float(each), luck=luck), float(each)) for each in years]
            out[:, at] = np.mean(parts, axis=0)
        return out


@lru_cache(maxsize=None)
def responses() -> dict[str, tuple[float, float, float]]:
    """Return, by analyte, the share of what has come free that a test shows: low, likely, high.

    Examples
    --------
    >>> responses()["P"]
    (0.1, 0.25, 0.5)
    """
    table = tables.load("responses", numbers=("low", "likely", "high"))
    return {
        str(row["analyte"]): (float(row["low"]), float(row["likely"]), float(row["high"]))
        for row in table.to_dict("records")
    }


@lru_cache(maxsize=None)
def soil_water(method: str) -> tuple[float, float, float]:
    """Return the litres of water shaken with a kilogram of soil for a test of salts: low, likely, high.

    Parameters
    ----------
    method : str
        Of the test; one that the table does not know is taken for anything from a paste to 1:5.

    Examples
    --------
    >>> soil_water("water 1:2")
    (2.0, 2.0, 2.0)
    """
    table = tables.load("soil_water", numbers=("low", "likely", "high")).set_index("method")
    known = table[["low", "likely", "high"]].apply(tuple, axis=1)
    low, likely, high = known.get(method, known[""])
    return float(low), float(likely), float(high)


@lru_cache(maxsize=None)
def lasting(brings: str) -> float:
    """Return the years in which what was added falls to 1/e of itself in a test; infinite for what stays.

    Examples
    --------
    >>> lasting("S"), lasting("P"), lasting("salt")
    (1.0, inf, 0.5)
    """
    table = tables.load("responses", numbers=("lasting",))
    years = float(table.set_index(table["analyte"].map(brought))["lasting"].get(brings, np.nan))
    return years if np.isfinite(years) else np.inf


def triangular(ends: tuple[float, float, float], *, draws: int, rng: np.random.Generator) -> Array:
    """Return draws between low and high with the likely value at the peak.

    Examples
    --------
    >>> triangular((1.0, 1.0, 1.0), draws=2, rng=np.random.default_rng(1)).tolist()
    [1.0, 1.0]
    """
    low, likely, high = ends
    return rng.triangular(low, likely, high, draws) if low < high else np.full(draws, likely)


def content(row: pd.Series, *, draws: int, rng: np.random.Generator) -> Array:
    """Return draws of the grams that a gram of a material holds as it lies (draws, holds)."""
    found = drawn(row, draws=draws, rng=rng)
    dry = 1 - found.get("moisture", np.zeros(draws)) / WHOLE
    none = np.zeros(draws)
    return np.stack([found.get(name, none) / WHOLE * dry for name in HOLDS], axis=1)


def charge(free: Array) -> Array:
    """Return the salts that dissolved grams leave in the soil water, in moles of charge.

    Nitrogen turns to nitrate; sulphate beyond what the material's own calcium holds as gypsum, or the
    potassium and sodium where these are more, stand for the rest. Gypsum itself dissolves too little to
    count, and carbonates and phosphates of calcium less.

    Parameters
    ----------
    free : array (..., holds)
        Grams of each of :data:`HOLDS`.

    Examples
    --------
    >>> epsom = np.zeros(len(HOLDS))
    >>> epsom[[HOLDS.index("Mg"), HOLDS.index("S")]] = 0.0986, 0.1301  # of a gram of MgSO4.7H2O
    >>> round(float(charge(epsom)) * 246.47, 2)  # a mole of it
    2.0
    """
    names = ("N", "K", "Na", "S", "Ca")
    mole = {name: free[..., HOLDS.index(name)] / units.molar_mass(name) for name in names}
    held = np.maximum(mole["K"] + mole["Na"], 2 * (mole["S"] - mole["Ca"]))
    return np.asarray(mole["N"] + np.maximum(held, 0.0))


def freed(row: pd.Series, held: Array, *, years: float, luck: Array) -> Array:
    """Return draws of what has come free after some years, none of it washed down (draws, brings).

    One luck for the whole material: what rots fast gives all of it fast.

    Parameters
    ----------
    row : Series
        The material.
    held : array (draws, holds)
        What it holds, from :func:`content`.
    years : float
        How long it has lain.
    luck : array (draws,)
        How fast it lets go, as a share of its range.
    """
    shares = released(row, years=years)
    free = held * np.stack([_at(shares[name], luck) for name in HOLDS], axis=1)
    return np.column_stack([free, charge(free)])


def staying(free: Array, years: float) -> Array:
    """Return what rain has left after some years of what came free (..., brings)."""
    return free * np.exp(-years / np.array([lasting(name) for name in BRINGS]))


def _at(ends: tuple[float, float, float], luck: Array) -> Array:
    """Return the triangular quantile of each luck."""
    low, likely, high = ends
    if not low < high:
        return np.full_like(luck, likely)
    turn = (likely - low) / (high - low)
    rising = low + np.sqrt(luck * (high - low) * (likely - low))
    falling = high - np.sqrt((1 - luck) * (high - low) * (high - likely))
    return np.asarray(np.where(luck < turn, rising, falling))


@lru_cache(maxsize=None)
def _usual_most() -> dict[str, float]:
    table = tables.load("keeping", numbers=("most",))
    return dict(zip(table["kind"], table["most"], strict=True))


@lru_cache(maxsize=1024)
def _limit(name: str, kind: str, per: str) -> tuple[float, str]:
    """Return the limit of a material and its unit."""
    limits = aims.dressing_limits(name, kind=kind)
    mine = limits[limits["per"] == per]
    if mine.empty:
        return (_usual_most().get(kind, _usual_most()[""]) if per == PERYEAR else np.nan), "g/m2"
    return float(mine["limit"].iloc[0]), str(mine["unit"].iloc[0])


def greatest(row: pd.Series, *, per: str = PERYEAR) -> float:
    """Return the most of a material in a year, or at a time [g/m2]; missing where no table says.

    Examples
    --------
    >>> from soiltrend.materials import known_materials
    >>> round(greatest(known_materials().loc["wood ash"]), 1)
    244.1
    """
    limit, unit = _limit(str(row.name), str(row["kind"]), per)
    density = float(row["density"]) if np.isfinite(row["density"]) else 1.0
    return limit * density * KILO if unit == "L/m2" else limit


def _price(row: pd.Series) -> float:
    """Return what a gram counts for."""
    stated = float(row["cost_per_kg"])
    price = stated if stated > 0 else GATHERED
    price *= ON_HAND if float(row["on_hand_kg"]) > 0 else 1.0
    return price * (CAUSTIC if "caustic" in str(row["cautions"]).split(";") else 1.0)


MOVED_BY = {"pH": "CCE", "EC": SALT}
"""What of a material moves a measure that is no element."""

COUNTS = {"liming value": "CCE", "manure N": "N"}
"""What a limit of the tables counts, where its name says more."""


def brings_of(what: str) -> str:
    """Return which of :data:`BRINGS` a limit of the tables counts.

    Examples
    --------
    >>> brings_of("liming value"), brings_of("K")
    ('CCE', 'K')
    """
    return COUNTS.get(what, what)


def brought(analyte: str) -> str:
    """Return what of a material moves a measure: its own element, for pH the liming value, for EC the salts.

    Examples
    --------
    >>> brought("pH"), brought("EC"), brought("K")
    ('CCE', 'salt', 'K')
    """
    return MOVED_BY.get(analyte, analyte)


def chosen(known: pd.DataFrame, *, stock: str) -> pd.DataFrame:
    """Return the materials a plan may choose from.

    Parameters
    ----------
    known : DataFrame
        From :func:`soiltrend.known_materials`.
    stock : str
        "own" or "any".
    """
    mine = known[known["origin"] != "table"]
    if stock == "own" and len(mine):
        return mine
    guessed = known["cautions"].str.split(";").map(lambda keys: GUESS in keys)
    usual = known["kind"].isin(USUAL) & (known["release"] != CAUSTIC_LIME) & ~guessed
    rest = known[(known["origin"] == "table") & usual]
    return pd.concat([mine, rest])


def open_shed(known: pd.DataFrame, *, rules: PlanRules, years: float) -> Shed:
    """Return the materials as arrays.

    Parameters
    ----------
    known : DataFrame
        From :func:`soiltrend.known_materials`.
    rules : PlanRules
        Scenarios, seed and stock.
    years : float
        From the dressing to the next test.
    """
    rows = chosen(known, stock=rules.stock)
    draws = rules.scenarios
    total, lucks, free = [], [], []
    for at in range(len(rows)):
        row = rows.iloc[at]
        rng = np.random.default_rng([rules.seed, *map(ord, str(row.name))])  # a material's own luck
        held = content(row, draws=draws, rng=rng)
        lucks.append(rng.random(draws))
        come = freed(row, held, years=years, luck=lucks[-1])
        total.append(np.column_stack([held, come[:, len(HOLDS) :]]))
        free.append(staying(come, years))
    most = np.array([greatest(rows.iloc[at]) for at in range(len(rows))])
    price = np.array([_price(rows.iloc[at]) for at in range(len(rows))])
    whole, luck, come = (np.stack(each, axis=1) for each in (total, lucks, free))
    return Shed(rows, whole, luck, come, most, price)
