"""One row of the account: a bed, a nutrient and a period."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from soiltrend.budget import judge
from soiltrend.budget.chance import Draws, spread
from soiltrend.budget.crops import Taken, taken
from soiltrend.budget.inputs import Inputs, grams, inputs
from soiltrend.budget.log import unlogged
from soiltrend.budget.movement import Movement, in_test, layer, movement
from soiltrend.budget.shelf import ACIDITY, Lot, Shelf
from soiltrend.budget.words import Told, why

PER_AREA, CHALK_PER_AREA = "g/m2", "g CaCO3/m2"
WIDE = ("", "_low", "_high")
FIXED = "fixed by"


@dataclass(frozen=True, eq=False)
class Books:
    """Everything the rows are made of.

    Attributes
    ----------
    beds : DataFrame
        The garden's beds, by name.
    dressings : list of Lot
        From :func:`soiltrend.budget.shelf.lots`.
    harvests : DataFrame
        The garden's harvests.
    stock : Shelf
        The materials.
    confidence : float
        Of the intervals.
    memory : dict
        Accounts made already.
    """

    beds: pd.DataFrame
    dressings: list[Lot]
    harvests: pd.DataFrame
    stock: Shelf
    confidence: float
    memory: dict[tuple[object, ...], Any] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Account:
    """What went on and came off one bed in one period, of one nutrient, as draws [g/m2].

    Attributes
    ----------
    inputs : Inputs
        What dressings brought.
    taken : Taken
        What harvests took, of all nutrients.
    off, fixed : array
        What harvests took of this nutrient, and the nitrogen they fixed.
    unlogged, unharvested : str
        What the log lacks, or "".
    """

    inputs: Inputs
    taken: Taken
    off: Draws
    fixed: Draws
    unlogged: str
    unharvested: str

    @property
    def expected(self) -> Draws:
        """What the soil should have gained if all of it showed."""
        return self.inputs.free + self.fixed - self.off


def account(books: Books, *, bed: str, nutrient: str, start: pd.Timestamp, end: pd.Timestamp) -> Account:
    """Return what went on and came off a bed between two days."""
    key = (bed, nutrient, start, end)
    if key not in books.memory:
        books.memory[key] = _account(books, bed, nutrient, start, end)
    found: Account = books.memory[key]
    return found


def _account(books: Books, bed: str, nutrient: str, start: pd.Timestamp, end: pd.Timestamp) -> Account:
    dice, told = books.stock.dice, {"bed": bed, "start": start, "end": end}
    mine = [lot for lot in books.dressings if lot.bed == bed]
    brought = inputs(mine, books.stock, nutrient=nutrient, start=start, end=end)
    date = books.harvests["date"]
    cut = books.harvests[(books.harvests["bed"] == bed) & (date >= start) & (date < end)]
    key = ("taken", bed, start, end)
    if key not in books.memory:
        books.memory[key] = taken(cut, area_m2=float(books.beds.at[bed, "area_m2"]), dice=dice)
    off: Taken = books.memory[key]
    none = np.zeros(dice.draws)
    fixed = sum(off.fixed.values(), none) if nutrient == "N" else none
    lacking = unlogged([(lot.date, lot.bed) for lot in books.dressings], check=bool(books.beds.at[bed, "check"]), **told)
    return Account(brought, off, off.by_nutrient.get(nutrient, none), fixed, lacking,
                   _unharvested(books, nutrient, told))


def _unharvested(books: Books, nutrient: str, told: dict[str, Any]) -> str:
    """Return what the log of harvests lacks, for a nutrient that harvests take."""
    if nutrient in (ACIDITY, "C"):
        return ""
    log = list(zip(books.harvests["date"], books.harvests["bed"], strict=True))
    return unlogged(log, check=False, **told).replace("logged", "logged as harvested", 1)


def _three(name: str, values: Draws | float, confidence: float, *, point: float | None = None) -> dict[str, float]:
    """Return a number and its interval as cells of a row."""
    if isinstance(values, float):
        return dict.fromkeys((f"{name}{end}" for end in WIDE), values)
    low, high = spread(values, confidence=confidence)
    return {name: float(values.mean()) if point is None else point, f"{name}_low": low, f"{name}_high": high}


def sides(books: Books, test: pd.Series) -> dict[str, Any]:
    """Return the cells of a row that the log fills: put in, taken out, fixed, expected."""
    told = account(books, bed=str(test["bed"]), nutrient=str(test["nutrient"]), start=test["start"],
                   end=test["end"])
    known, wide = not told.unlogged, books.confidence
    off = told.off if not told.unharvested else np.nan
    return {
        **_three("put_in", told.inputs.put_in if known else np.nan, wide),
        **_three("taken_out", off, wide),
        **_three("fixed", told.fixed, wide),
        "earlier": told.inputs.earlier if known else np.nan,
        **_three("expected", told.expected if known else np.nan, wide),
    }


def _beside(books: Books, test: pd.Series, checks: Sequence[Movement], names: Sequence[str]) -> dict[str, Any]:
    """Return the draws of what the check beds did, on average, and its point values."""
    others = [account(books, bed=name, nutrient=str(test["nutrient"]), start=test["start"], end=test["end"])
              for name in names]
    return {
        "amounts": np.mean([found.amounts for found in checks], axis=0),
        "amount": float(np.mean([found.amount for found in checks])),
        "step": float(np.mean([found.step for found in checks])),
        "expected": np.mean([found.expected for found in others], axis=0),
    }


def tested(books: Books, test: pd.Series, checks: pd.DataFrame) -> dict[str, Any]:
    """Return the cells of a row that has two comparable tests.

    Parameters
    ----------
    books : Books
        The garden's books.
    test : Series
        A row of :func:`soiltrend.budget.periods.tests`.
    checks : DataFrame
        The rows of the check beds that have the same two tests.
    """
    told = account(books, bed=str(test["bed"]), nutrient=str(test["nutrient"]), start=test["start"],
                   end=test["end"])
    dice, wide, bed = books.stock.dice, books.confidence, books.beds.loc[test["bed"]]
    soil = layer(test, bed)
    moved = movement(test, soil=soil, dice=dice)
    others = [movement(row, soil=layer(row, books.beds.loc[row["bed"]]), dice=dice) for _, row in checks.iterrows()]
    net, seen = told.expected, moved.amounts
    point, beside = moved.amount, None
    if others:
        beside = _beside(books, test, others, list(checks["bed"]))
        net, seen, point = net - beside["expected"], seen - beside["amounts"], point - beside["amount"]
    found = judge.NOTHING if told.unlogged else judge.recovery(
        net, seen, point=(float(net.mean()), point), confidence=wide)
    return {
        **_three("observed", moved.amounts, wide, point=moved.amount),
        "recovery": found.share, "low": found.low, "high": found.high, "said": found.said,
        "check": ", ".join(checks["bed"]),
        "check_test": beside["step"] if beside else np.nan,
        "hidden": float((told.inputs.put_in + told.fixed - told.off).mean()) - moved.amount,
        **_three("net_expected", np.nan if told.unlogged else net, wide),
        **_three("net_observed", seen, wide, point=point),
        **_three("expected_test", np.nan if told.unlogged else in_test(told.expected, test, soil=soil, dice=dice),
                 wide),
        **_three("observed_test", moved.steps, wide, point=moved.step),
        "width": judge.widest(net, seen, share=found.share),
        "deeper_cm": float(bed["depth_cm"]) if soil.depth_cm > float(bed["depth_cm"]) else np.nan,
    }


BARE = {name: np.nan for part in ("observed", "net_expected", "net_observed", "expected_test", "observed_test")
        for name in (f"{part}{end}" for end in WIDE)} | {
    "recovery": np.nan, "low": np.nan, "high": np.nan, "said": judge.NOT_TESTED, "check": "",
    "check_test": np.nan, "hidden": np.nan, "width": "", "deeper_cm": np.nan}


def row(books: Books, test: pd.Series, checks: pd.DataFrame) -> dict[str, Any]:
    """Return one row of the account, with its reason."""
    told = account(books, bed=str(test["bed"]), nutrient=str(test["nutrient"]), start=test["start"],
                   end=test["end"])
    cells: dict[str, Any] = {**BARE, **dict(test), **sides(books, test)}
    if test["analyte"]:
        cells |= tested(books, test, checks)
    cells["test_unit"] = test["unit"]
    cells["unit"] = CHALK_PER_AREA if test["nutrient"] == ACIDITY else PER_AREA
    cells["why"] = why(Told(cells, told.inputs.slow, told.inputs.last, told.unlogged, told.unharvested,
                            str(cells["width"]), float(cells["deeper_cm"])))
    return cells


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


def by_material(books: Books, test: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return what each material brought to a bed in one period, and what its legumes fixed."""
    told = account(books, bed=str(test["bed"]), nutrient=str(test["nutrient"]), start=test["start"],
                   end=test["end"])
    return _listed(_brought(told), books.confidence)


def of_garden(books: Books, nutrient: str, *, start: pd.Timestamp, end: pd.Timestamp) -> list[dict[str, Any]]:
    """Return what each material brought to all beds together, a square metre of them."""
    whole = float(books.beds["area_m2"].sum())
    out: dict[str, Draws] = {}
    for lot in books.dressings:
        amount = grams(lot, books.stock, nutrient=nutrient)
        if amount is not None:
            out[lot.name] = out.get(lot.name, 0.0) + amount * lot.area_m2 / whole
    for bed in books.beds.index if nutrient == "N" else ():
        told = account(books, bed=str(bed), nutrient=nutrient, start=start, end=end)
        for crop, draws in told.taken.fixed.items():
            name = f"{FIXED} {crop}"
            out[name] = out.get(name, np.zeros(books.stock.dice.draws)) + draws * float(books.beds.at[bed, "area_m2"]) / whole
    return _listed(out, books.confidence)
