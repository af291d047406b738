"""Where it came from: what each material brought to a bed, and to the garden."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from soiltrend.budget.books import Account, Books, Test, of
from soiltrend.budget.chance import Draws, spread

FIXED = "fixed by"


def logged(sources: pd.DataFrame) -> pd.DataFrame:
    """Return what went on by the log, without what legumes fixed.

    Examples
    --------
    >>> logged(pd.DataFrame({"material": ["fixed by clover", "compost"]}))["material"].tolist()
    ['compost']
    """
    return sources[~sources["material"].astype("str").str.startswith(FIXED)]


def silences(why: pd.Series) -> list[str]:
    """Return why totals are not known, each reason once and as a clause.

    Examples
    --------
    >>> silences(pd.Series(["The log ends early; no test", "The log ends early", None]))
    ['the log ends early']
    """
    first = why.dropna().astype("str").str.split(";").str[0]
    return [text[:1].lower() + text[1:] for text in first.unique()]


def _brought(told: Account) -> dict[str, Draws]:
    """Return draws of what each material, and each legume, brought."""
    fixed = told.taken.fixed if told.fixed.any() else {}
    return told.inputs.by_material | {f"{FIXED} {name}": draws for name, draws in fixed.items()}


def _listed(brought: Mapping[str, Draws], books: Books) -> list[dict[str, Any]]:
    """Return one row a material, the largest first, with how it was measured."""
    volumes = {lot.name for lot in books.dressings if books.stock.by_volume(lot.name, unit=lot.unit)}
    out = []
    for name, draws in sorted(brought.items(), key=lambda item: -abs(item[1].mean())):
        low, high = spread(draws, confidence=books.confidence)
        how = {"by_volume": name in volumes, "measured": books.stock.measured(name)}
        out.append({"material": name, "put_in": float(draws.mean()), "low": low, "high": high} | how)
    return out


def of_bed(books: Books, test: Test) -> list[dict[str, Any]]:
    """Return what each material brought to a bed in one period, and what its legumes fixed."""
    return _listed(_brought(of(books, test)), books)


def of_garden(books: Books, tests: Sequence[Test]) -> list[dict[str, Any]]:
    """Return what each material, and each legume, brought to all beds together, a square metre of them.

    Parameters
    ----------
    books : Books
        The garden's books.
    tests : sequence of Test
        One row of a nutrient for each bed: what went on between its days counts.
    """
    whole = sum(bed["area_m2"] for bed in books.beds.values())
    out: dict[str, Draws] = {}
    none = np.zeros(books.stock.dice.draws)
    for test in tests:
        share = books.beds[test["bed"]]["area_m2"] / whole
        for name, draws in _brought(of(books, test)).items():
            out[name] = out.get(name, none) + draws * share
    return _listed(out, books)
