"""Where it came from: what each material brought to a bed, and to the garden."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from soiltrend.budget.books import Account, Books, Test, harvested, of
from soiltrend.budget.chance import Draws, spread
from soiltrend.budget.inputs import grams

FIXED = "fixed by"


def _brought(told: Account) -> dict[str, Draws]:
    """Return draws of what each material, and each legume, brought."""
    fixed = told.taken.fixed if told.fixed.any() else {}
    return told.inputs.by_material | {f"{FIXED} {name}": draws for name, draws in fixed.items()}


def _listed(brought: Mapping[str, Draws], confidence: float) -> list[dict[str, Any]]:
    """Return one row a material, the largest first."""
    out = []
    for name, draws in sorted(brought.items(), key=lambda item: -abs(item[1].mean())):
        low, high = spread(draws, confidence=confidence)
        out.append({"material": name, "put_in": float(draws.mean()), "low": low, "high": high})
    return out


def of_bed(books: Books, test: Test) -> list[dict[str, Any]]:
    """Return what each material brought to a bed in one period, and what its legumes fixed."""
    return _listed(_brought(of(books, test)), books.confidence)


def of_garden(books: Books, nutrient: str, *, start: pd.Timestamp, end: pd.Timestamp) -> list[dict[str, Any]]:
    """Return what each material, and each legume, brought to all beds together, a square metre of them."""
    whole = sum(bed["area_m2"] for bed in books.beds.values())
    out: dict[str, Draws] = {}
    none = np.zeros(books.stock.dice.draws)
    for lot in books.dressings:
        amount = grams(lot, books.stock, nutrient=nutrient)
        if amount is not None:
            out[lot.name] = out.get(lot.name, none) + amount * lot.area_m2 / whole
    for bed in books.beds if nutrient == "N" else ():
        for crop, draws in harvested(books, bed=bed, start=start, end=end).fixed.items():
            name, share = f"{FIXED} {crop}", books.beds[bed]["area_m2"] / whole
            out[name] = out.get(name, none) + draws * share
    return _listed(out, books.confidence)
