"""The account in a sentence each: only what can be said, and how many rows cannot."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from soiltrend import present
from soiltrend.budget import judge
from soiltrend.budget.core import Budget
from soiltrend.budget.sources import logged, silences
from soiltrend.budget.words import CARBON, breathed, listed

MOSTLY = 0.2
"""Share of what was put in from which a material is named in the sentence."""

ENDS = {
    judge.SHOWED: "all of it may show",
    judge.PARTLY: "part of it shows",
    judge.NOT_SEEN: "too little shows to be told from nothing",
    judge.MORE: "more shows than was to be expected, so something else brought it",
    judge.AGAINST: "the test went the other way, so something else moved it",
}


def account_lines(budget: Budget) -> present.Listing:
    """Return the account in a sentence each, of what was put on and of which something can be said.

    Parameters
    ----------
    budget : Budget
        What :func:`soiltrend.budget.budget` gave.

    Returns
    -------
    Listing
        Columns bed, nutrient, period, what it did. The title counts the rows that cannot say, those that
        no two tests tell of, and those of which the log tells a part alone, and why.

    Examples
    --------
    >>> from soiltrend.budget import budget
    >>> from soiltrend.budget.invented import invented
    >>> found = account_lines(budget(invented(seed=1).garden, draws=500))
    >>> found.table.loc[found.table["nutrient"] == "Ca", "what it did"].iloc[0].split(",")[0]
    'Mostly garden compost'
    """
    table = budget.table
    fed = table[table["put_in"].abs() > 0] if len(table) else table
    told = fed[fed["said"].isin(list(ENDS))]
    rows = [
        {
            "bed": row["bed"],
            "nutrient": row["nutrient"],
            "period": row["period"],
            "what it did": _line(row, budget.sources),
        }
        for row in told.to_dict("records")
    ]
    return present.Listing(
        _title(budget, fed, len(rows)),
        pd.DataFrame(rows, columns=["bed", "nutrient", "period", "what it did"]),
    )


def _title(budget: Budget, fed: pd.DataFrame, told: int) -> str:
    """Return how many rows are told, and how many are not, each with its reason."""
    silent, untested = (int((fed["said"] == word).sum()) for word in (judge.CANNOT_SAY, judge.NOT_TESTED))
    partly = _partly_logged(budget)
    reasons = listed(silences(partly))
    if fed.empty and partly.empty:
        return "No dressing was logged between two comparable tests, so there is nothing to tell of one"
    if fed.empty:
        count = present.counted(len(partly), "dressing")
        return f"Of {count} by bed and nutrient it is not known how much went on in all: {reasons}"
    return (
        f"What can be said of {present.counted(told, 'dressing')} by bed and nutrient; {silent} more cannot "
        f"be told from the noise, and {untested} {'has' if untested == 1 else 'have'} no two tests"
    ) + (f"; of {len(partly)} more it is not known how much went on in all: {reasons}" if len(partly) else "")


def _partly_logged(budget: Budget) -> pd.Series[str]:
    """Return why the total of a row is not known, of the rows for which some is logged all the same."""
    keys = ["bed", "nutrient", "period"]
    some = logged(budget.sources)[keys].drop_duplicates()
    rows = budget.table[budget.table["put_in"].isna()]
    return rows.merge(some, on=keys)["why"].astype("str")


def _gained(row: dict[Any, Any]) -> str:
    """Return what a test gained or lost, as finely as its interval allows."""
    low, high = (row.get(f"net_observed_{end}", np.nan) for end in ("low", "high"))
    seen = present.within(row["net_observed"], low=low, high=high)
    return f"it lost {seen[1:]}" if seen.startswith("-") else f"it gained {seen}"


def _line(row: dict[Any, Any], sources: pd.DataFrame) -> str:
    """Return the sentence of one row."""
    mine = sources
    for name in ("bed", "nutrient", "period"):
        mine = mine[mine[name] == row[name]]
    named = mine.loc[mine["put_in"].abs() >= MOSTLY * abs(row["put_in"]), "material"]
    put_in, due = (present.number(row[name], digits=2) for name in ("put_in", "net_expected"))
    low, high = (100 * row[end] for end in ("low", "high"))
    share = present.within(100 * row["recovery"], low=low, high=high)
    ends = [present.number(end, digits=2) for end in (low, high)]
    wide = judge.shapeless(row["low"], row["high"])
    part = "a share too unsure to be told in %" if wide else f"which is {share} % ({ends[0]} to {ends[1]} %)"
    beyond = f" beyond {row['check']}" if row["check"] else ""
    more = " (more left than came free)" if row["net_expected"] < 0 else ""
    end = breathed() if row["nutrient"] == CARBON and row["low"] < 1 else f"so {ENDS[row['said']]}"
    return (
        f"{'Mostly ' if len(named) else ''}{listed(list(named)) or 'Many materials'} brought {put_in} "
        f"{row['unit']}, and {due} {row['unit']} was to be expected in the test{beyond} if all of it showed"
        f"{more}: {_gained(row)}, {part}; {end}"
    )
