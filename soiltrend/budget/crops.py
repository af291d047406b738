"""What left a bed with the harvest, and the nitrogen that its legumes fixed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, cast

import numpy as np
import pandas as pd

from soiltrend import tables, vocabulary
from soiltrend.budget.chance import Dice, Draws, setting, triangle

HELD = ("N", "P", "K", "Ca", "Mg", "Na", "Zn", "Mn", "Cu")
"""Columns of tables/removal.csv, grams in a fresh kilogram."""

THREE = ("low", "likely", "high")
SHARES = ("fixed_low", "fixed", "fixed_high", "picked_low", "picked", "picked_high")
"""Numbers of tables/fixation.csv."""

CROP = "crop"
REMOVED = "removed"


@dataclass(frozen=True, eq=False)
class Taken:
    """Draws of what harvests took from one bed in one period [g/m2], by nutrient.

    Attributes
    ----------
    by_nutrient : dict
        Draws by nutrient; a nutrient of which nothing is known is not in it.
    fixed : dict
        Nitrogen fixed from the air, by crop.
    crops : tuple of str
        What was harvested.
    unknown : tuple of str
        Crops that tables/removal.csv does not know.
    """

    by_nutrient: Mapping[str, Draws]
    fixed: Mapping[str, Draws]
    crops: tuple[str, ...]
    unknown: tuple[str, ...]


@lru_cache(maxsize=None)
def _rows(table: str, numbers: tuple[str, ...], by: str = CROP) -> dict[str, dict[str, Any]]:
    """Return a table by the name of its rows."""
    return cast(dict[str, dict[str, Any]], tables.load(table, numbers=numbers).set_index(by).to_dict("index"))


@lru_cache(maxsize=None)
def contents(name: str) -> dict[str, tuple[float, float, float]]:
    """Return what a fresh kilogram of a crop holds, low, likely and high [g].

    Parameters
    ----------
    name : str
        A crop of tables/removal.csv.

    Notes
    -----
    The likely content stands in tables/removal.csv, its range in removal_spread.csv; sulphur and boron are
    known by kind of crop only (removal_kinds.csv).

    Examples
    --------
    >>> [round(grams, 2) for grams in contents("carrot")["K"]]
    [2.03, 3.2, 5.06]
    """
    row = _rows("removal", HELD)[name]
    wide = _rows("removal_spread", ("factor",), "nutrient")
    factor = {nutrient: cells["factor"] for nutrient, cells in wide.items()}
    out = {n: (row[n] / factor[n], row[n], row[n] * factor[n]) for n in HELD if row[n] > 0}
    for kind in tables.load("removal_kinds", numbers=THREE).to_dict("records"):
        if kind["kind"] == row["kind"]:
            out[kind["nutrient"]] = (kind["low"], kind["likely"], kind["high"])
    return out


def _drawn(three: Sequence[float], dice: Dice, *thing: object) -> Draws:
    low, likely, high = three
    return triangle(low, likely, high, at=dice.of(*thing).random(dice.draws))


def _held(name: str, kg: Draws, *, dice: Dice) -> dict[str, Draws]:
    """Return draws of what so much of a crop holds [g].

    A range of contents is a factor either way: its logarithms are drawn, so that half the draws lie below
    what the table says.
    """
    logs = {n: tuple(math.log(grams) for grams in three) for n, three in contents(name).items()}
    return {n: kg * np.exp(_drawn(three, dice, CROP, name, n)) for n, three in logs.items()}


def _share(name: str, part: str, dice: Dice) -> Draws:
    row = _rows("fixation", SHARES)[name]
    return _drawn((row[f"{part}_low"], row[part], row[f"{part}_high"]), dice, part, name)


def _lost(name: str, kg: float, *, residue: str, dice: Dice) -> list[dict[str, Draws]]:
    """Return what left with so much of a crop: what was picked, and its haulm where that was removed."""
    noise = dice.of("weight", name).standard_normal(dice.draws)
    weight = kg * np.maximum(0.0, 1 + setting("harvest weight") * noise)
    parts = [_held(name, weight, dice=dice)]
    row = _rows("haulm", THREE).get(name)
    if residue == REMOVED and row:
        beside = _drawn((row["low"], row["likely"], row["high"]), dice, "haulm", name)
        parts.append(_held(row["haulm"], weight * beside, dice=dice))
    return parts


def taken(harvests: pd.DataFrame, *, area_m2: float, dice: Dice) -> Taken:
    """Return what the harvests of one bed took away.

    Parameters
    ----------
    harvests : DataFrame
        ``crop, kg, residue`` of one bed and period; ``kg`` fresh, as it left.
    area_m2 : float
        The bed [m2].
    dice : Dice
        Number of draws and seed.

    Returns
    -------
    Taken

    Notes
    -----
    Haulm and leaves that stayed took nothing away: what they hold came from the bed and goes back to it.
    Nitrogen fixed is the nitrogen picked, over the share of the plant's nitrogen that is picked, times the
    share of it that came from the air (tables/fixation.csv).

    Examples
    --------
    >>> rows = pd.DataFrame({"crop": ["kale", "moonbeams"], "kg": [10.0, 1.0], "residue": "kept"})
    >>> found = taken(rows, area_m2=10.0, dice=Dice(2000, 1))
    >>> round(float(found.by_nutrient["K"].mean()), 1), found.unknown
    (5.0, ('moonbeams',))
    """
    out: dict[str, Draws] = {}
    fixed: dict[str, Draws] = {}
    known: list[str] = []
    unknown: list[str] = []
    sums = harvests.groupby(["crop", "residue"], sort=False)["kg"].sum().reset_index()
    for word, residue, kg in zip(sums["crop"], sums["residue"], sums["kg"], strict=True):
        name = vocabulary.crop(word)
        (known if name else unknown).append(word)
        for part in _lost(name, float(kg), residue=residue, dice=dice) if name else []:
            for nutrient, grams in part.items():
                out[nutrient] = out.get(nutrient, np.zeros(dice.draws)) + grams / area_m2
        if name in _rows("fixation", SHARES):
            picked = _lost(name, float(kg), residue="", dice=dice)[0]["N"] / area_m2
            plant = picked / _share(name, "picked", dice)
            fixed[name] = fixed.get(name, np.zeros(dice.draws)) + plant * _share(name, "fixed", dice)
    return Taken(out, fixed, tuple(dict.fromkeys(known)), tuple(dict.fromkeys(unknown)))
