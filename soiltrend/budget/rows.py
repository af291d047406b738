"""One row of the account: a bed, a nutrient and a period."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from soiltrend.budget import judge
from soiltrend.budget.books import Account, Books, Test, of
from soiltrend.budget.chance import Draws, spread
from soiltrend.budget.movement import Layer, Movement, in_test, layer, movement, per_unit
from soiltrend.budget.shelf import ACIDITY
from soiltrend.budget.words import Told, why

PER_AREA, CHALK_PER_AREA = "g/m2", "g CaCO3/m2"
WIDE = ("", "_low", "_high")
TESTED = ("observed", "net_expected", "net_observed", "expected_test", "observed_test")
"""Columns, each with its interval, of rows that have two comparable tests."""

BARE = dict.fromkeys((f"{part}{end}" for part in TESTED for end in WIDE), np.nan) | {
    "recovery": np.nan,
    "low": np.nan,
    "high": np.nan,
    "said": judge.NOT_TESTED,
    "check": "",
    "check_test": np.nan,
    "hidden": np.nan,
    "width": "",
    "deeper_cm": np.nan,
    "censored": False,
}


@dataclass(frozen=True, eq=False)
class Sides:
    """Both sides of a row as draws [g/m2], beside the beds left as they were.

    Attributes
    ----------
    soil : Layer
        What was sampled.
    moved : Movement
        The bed's own movement.
    net, seen : array
        Expected and observed, less what the check beds should have done and did.
    point : float
        ``seen`` as measured.
    step : float
        The mean movement of the check beds, in the test's unit; NaN without one.
    """

    soil: Layer
    moved: Movement
    net: Draws
    seen: Draws
    point: float
    step: float


def _sides(books: Books, test: Test, checks: list[Test]) -> Sides:
    """Return both sides of a row that has two comparable tests."""
    told, dice = of(books, test), books.stock.dice
    soil = layer(test, books.beds[test["bed"]])
    moved = movement(test, soil=soil, dice=dice)
    if not checks:
        return Sides(soil, moved, told.expected, moved.amounts, moved.amount, np.nan)
    others = [movement(row, soil=layer(row, books.beds[row["bed"]]), dice=dice) for row in checks]
    due = [of(books, test | {name: row[name] for name in ("bed", "start", "end")}).expected for row in checks]
    beside = float(np.mean([other.amount for other in others]))
    return Sides(
        soil,
        moved,
        told.expected - np.mean(due, axis=0),
        moved.amounts - np.mean([other.amounts for other in others], axis=0),
        moved.amount - beside,
        float(np.mean([other.step for other in others])),
    )


def _three(name: str, values: Draws, confidence: float, *, point: float | None = None) -> dict[str, float]:
    """Return a number and its interval as cells of a row."""
    if point is not None and np.isnan(point):
        return _unknown(name)
    low, high = spread(values, confidence=confidence)
    return {name: float(values.mean()) if point is None else point, f"{name}_low": low, f"{name}_high": high}


def _unknown(*names: str) -> dict[str, float]:
    return dict.fromkeys((f"{name}{end}" for name in names for end in WIDE), np.nan)


def _logged(told: Account, wide: float) -> dict[str, Any]:
    """Return the cells of a row that the log fills: put in, taken out, fixed, expected."""
    cells = {
        **_three("put_in", told.inputs.put_in, wide),
        **_three("freed", told.inputs.free, wide),
        **_three("taken_out", told.off, wide),
        **_three("fixed", told.fixed, wide),
        **_three("expected", told.expected, wide),
        "earlier": told.inputs.earlier,
    }
    if told.unlogged:
        cells |= {**_unknown("put_in", "freed", "expected"), "earlier": np.nan}
    return cells | (_unknown("taken_out") if told.unharvested else {})


def _tested(books: Books, test: Test, checks: list[Test]) -> dict[str, Any]:
    """Return the cells of a row that its two tests fill."""
    told, wide, sides = of(books, test), books.confidence, _sides(books, test, checks)
    blind = bool(np.isnan(sides.point))
    found = judge.NOTHING
    if not told.unlogged and not blind:
        found = judge.recovery(
            sides.net, sides.seen, point=(float(sides.net.mean()), sides.point), confidence=wide
        )
    depth, due = float(books.beds[test["bed"]]["depth_cm"]), told.expected
    mean = float(due.mean()) / per_unit(test, soil=sides.soil, dice=books.stock.dice)
    cells = {
        **_three("observed", sides.moved.amounts, wide, point=sides.moved.amount),
        **_three("observed_test", sides.moved.steps, wide, point=sides.moved.step),
        **_three("net_observed", sides.seen, wide, point=sides.point),
        **_three("net_expected", sides.net, wide),
        **_three(
            "expected_test", in_test(due, test, soil=sides.soil, dice=books.stock.dice), wide, point=mean
        ),
        "recovery": found.share,
        "low": found.low,
        "high": found.high,
        "said": found.said,
        "check": ", ".join(row["bed"] for row in checks),
        "check_test": sides.step,
        "hidden": float((told.inputs.put_in + told.fixed - told.off).mean()) - sides.moved.amount,
        "width": judge.widest(sides.net, sides.seen, share=found.share),
        "censored": blind,
        "deeper_cm": depth if sides.soil.depth_cm > depth else np.nan,
    }
    return cells | ({**_unknown("net_expected", "expected_test"), "hidden": np.nan} if told.unlogged else {})


def row(books: Books, test: Test, *, checks: list[Test]) -> dict[str, Any]:
    """Return one row of the account, with its reason.

    Parameters
    ----------
    books : Books
        The garden's books.
    test : Test
        A bed, nutrient and period.
    checks : list of Test
        The rows of the check beds that have the same two tests.
    """
    told = of(books, test)
    cells: dict[str, Any] = {**BARE, **test, **_logged(told, books.confidence)}
    if test["analyte"]:
        cells |= _tested(books, test, checks)
    cells |= {"test_unit": test["unit"], "left_alone": books.beds[test["bed"]]["check"]}
    cells["unit"] = CHALK_PER_AREA if test["nutrient"] == ACIDITY else PER_AREA
    cells["why"] = why(Told(cells, told.inputs.slow, told.inputs.last, told.unlogged, told.unharvested))
    return cells
