"""What went on and came off one bed in one period, of one nutrient."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from soiltrend.budget.chance import Draws
from soiltrend.budget.crops import Taken, taken
from soiltrend.budget.inputs import Inputs, inputs
from soiltrend.budget.shelf import ACIDITY, Lot, Shelf, lots
from soiltrend.garden import Garden
from soiltrend.garden.log import unlogged

Test = dict[str, Any]
"""One row of :func:`soiltrend.budget.periods.tests`, or of a nutrient without a test."""


def records(table: pd.DataFrame) -> list[Test]:
    """Return the rows of a table as dictionaries.

    Examples
    --------
    >>> records(pd.DataFrame({"bed": ["East"]}))
    [{'bed': 'East'}]
    """
    return [{str(name): cell for name, cell in row.items()} for row in table.to_dict("records")]


def by_bed(beds: pd.DataFrame) -> dict[str, dict[str, Any]]:
    """Return what is known of each bed, by its name.

    Examples
    --------
    >>> by_bed(pd.DataFrame({"bed": ["East"], "area_m2": [12.0]}))
    {'East': {'bed': 'East', 'area_m2': 12.0}}
    """
    return {row["bed"]: row for row in records(beds)}


@dataclass(frozen=True, eq=False)
class Books:
    """Everything an account is made of.

    Attributes
    ----------
    beds : dict
        What is known of each bed, by its name.
    dressings : list of Lot
        From :func:`soiltrend.budget.shelf.lots`.
    harvests : DataFrame
        The garden's harvests.
    kept, cut : tuple of Timestamp
        Days of any entry in any of the garden's logs: then they were kept; and of its harvests.
    stock : Shelf
        The materials.
    confidence : float
        Of the intervals.
    memory : dict
        Accounts made already.
    """

    beds: dict[str, dict[str, Any]]
    dressings: list[Lot]
    harvests: pd.DataFrame
    kept: tuple[pd.Timestamp, ...]
    cut: tuple[pd.Timestamp, ...]
    stock: Shelf
    confidence: float
    memory: dict[tuple[object, ...], Any] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Account:
    """What went on and came off, as draws [g/m2].

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
        return np.asarray(self.inputs.free + self.fixed - self.off)


def account(books: Books, *, bed: str, nutrient: str, start: pd.Timestamp, end: pd.Timestamp) -> Account:
    """Return what went on and came off a bed between two days.

    Parameters
    ----------
    books : Books
        The garden's books.
    bed, nutrient : str
        One of the garden's beds; an element or "acidity".
    start, end : Timestamp
        The days of two tests.
    """
    key = (bed, nutrient, start, end)
    if key not in books.memory:
        mine = [lot for lot in books.dressings if lot.bed == bed]
        brought = inputs(mine, books.stock, nutrient=nutrient, start=start, end=end)
        off = harvested(books, bed=bed, start=start, end=end)
        none = np.zeros(books.stock.dice.draws)
        fixed = sum(off.fixed.values(), none) if nutrient == "N" else none
        books.memory[key] = Account(
            brought,
            off,
            off.by_nutrient.get(nutrient, none),
            fixed,
            *_lacking(books, bed, nutrient, start, end),
        )
    found: Account = books.memory[key]
    return found


def harvested(books: Books, *, bed: str, start: pd.Timestamp, end: pd.Timestamp) -> Taken:
    """Return what harvests took from a bed between two days."""
    key = ("harvested", bed, start, end)
    if key not in books.memory:
        rows = books.harvests
        rows = rows[(rows["bed"] == bed) & (rows["date"] >= start) & (rows["date"] < end)]
        books.memory[key] = taken(rows, area_m2=books.beds[bed]["area_m2"], dice=books.stock.dice)
    found: Taken = books.memory[key]
    return found


def of(books: Books, test: Test) -> Account:
    """Return the account of a bed, nutrient and period."""
    return account(books, bed=test["bed"], nutrient=test["nutrient"], start=test["start"], end=test["end"])


def _lacking(
    books: Books, bed: str, nutrient: str, start: pd.Timestamp, end: pd.Timestamp
) -> tuple[str, str]:
    """Return what the logs of dressings and of harvests lack; harvests only where they take the nutrient."""
    if books.beds[bed]["check"]:
        blank = ""
    else:
        blank = unlogged({lot.bed for lot in books.dressings}, books.kept, bed=bed, days=(start, end))
    if nutrient in (ACIDITY, "C"):
        return blank, ""
    cut = unlogged(set(books.harvests["bed"]), books.cut, bed=bed, days=(start, end))
    return blank, cut.replace("logged", "logged as harvested", 1)


def open_books(garden: Garden, stock: Shelf, *, confidence: float) -> Books:
    """Return a garden's books.

    Raises
    ------
    SoiltrendError
        When a dressing cannot be understood; see :func:`soiltrend.budget.shelf.lots`.
    """
    dressings = lots(garden, stock)
    cut, seen = (
        tuple(table["date"]) if "date" in table else () for table in (garden.harvests, garden.observations)
    )
    kept = (*(lot.date for lot in dressings), *cut, *seen)
    return Books(by_bed(garden.beds), dressings, garden.harvests, kept, cut, stock, confidence)
