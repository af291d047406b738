"""What went on a bed between two tests, and what of it, and of earlier dressings, came free meanwhile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend.budget.chance import Draws, setting
from soiltrend.budget.shelf import PERCENT, Lot, Shelf, quantity
from soiltrend.frames import YEAR

CARBON = "C"


@dataclass(frozen=True, eq=False)
class Inputs:
    """Draws of what dressings brought to one bed in one period, of one nutrient [g/m2].

    Attributes
    ----------
    put_in : array
        All that was put on in the period.
    free : array
        What came free in the period, of these dressings and of earlier ones; of carbon, all of it.
    by_material : dict
        ``put_in`` by material.
    earlier : float
        Mean of what earlier dressings still gave.
    slow : tuple of str
        Materials of which less than most has come free at the end of the period.
    last : Timestamp or None
        The last dressing of the period that held the nutrient.
    """

    put_in: Draws
    free: Draws
    by_material: dict[str, Draws]
    earlier: float
    slow: tuple[str, ...]
    last: pd.Timestamp | None


def held(stock: Shelf, name: str, *, nutrient: str) -> Draws | None:
    """Return draws of the share of a nutrient in a material's dry matter, or None when not known.

    Examples
    --------
    >>> from soiltrend.budget.chance import Dice
    >>> from soiltrend.materials import known_materials
    >>> stock = Shelf(known_materials(), Dice(200, 1))
    >>> round(float(held(stock, "gypsum", nutrient="Ca").mean()), 2), held(stock, "seaweed", nutrient="Cu")
    (0.21, None)
    """
    found = stock.analysis(name).get(quantity(nutrient))
    return None if found is None else np.asarray(found / PERCENT)


def _freed(stock: Shelf, name: str, nutrient: str, since: float, until: float) -> Draws:
    """Return the share that comes free between two ages of a dressing, in years."""
    if nutrient == CARBON:
        return np.full(stock.dice.draws, float(since <= 0))
    what = quantity(nutrient)
    before = stock.freed(name, nutrient=what, years=max(since, 0.0))
    return np.asarray(stock.freed(name, nutrient=what, years=until) - before)


def grams(lot: Lot, stock: Shelf, *, nutrient: str) -> Draws | None:
    """Return draws of what a dressing holds of a nutrient [g/m2], or None for nothing or not known."""
    share = held(stock, lot.name, nutrient=nutrient)
    if share is None or not share.any() or not lot.amount:
        return None
    return np.asarray(lot.amount * stock.dry(lot.name, unit=lot.unit, area_m2=lot.area_m2) * share)


def inputs(
    dressings: Sequence[Lot], stock: Shelf, *, nutrient: str, start: pd.Timestamp, end: pd.Timestamp
) -> Inputs:
    """Return what the dressings of one bed brought between two tests.

    Parameters
    ----------
    dressings : sequence of Lot
        Those of the bed.
    stock : Shelf
        The materials.
    nutrient : str
        An element, or "acidity" [g CaCO3/m2].
    start, end : Timestamp
        The days of the two tests. A dressing on the day of a test counts as after it.

    Returns
    -------
    Inputs
    """
    none = np.zeros(stock.dice.draws)
    put_in, came = dict[str, Draws](), dict[str, Draws]()
    earlier, last = none, None
    for lot in dressings:
        amount = grams(lot, stock, nutrient=nutrient) if lot.date < end else None
        if amount is None:
            continue
        since, until = ((day - lot.date).days / YEAR for day in (start, end))
        free = amount * _freed(stock, lot.name, nutrient, since, until)
        if since > 0:
            earlier = earlier + free
            continue
        put_in[lot.name] = put_in.get(lot.name, none) + amount
        came[lot.name] = came.get(lot.name, none) + free
        last = lot.date
    slow = tuple(
        name
        for name, free in came.items()
        if nutrient != CARBON and abs(free.mean()) < setting("dissolved") * abs(put_in[name].mean())
    )
    free = sum(came.values(), earlier)
    return Inputs(sum(put_in.values(), none), free, put_in, float(earlier.mean()), slow, last)
