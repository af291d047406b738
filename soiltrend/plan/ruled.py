"""Which rules of the tables date and split a material: of its name, of its kind, of what it carries."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeAlias

import numpy as np
import pandas as pd

from soiltrend import aims, tables
from soiltrend.materials import limits, released
from soiltrend.plan.shed import WHOLE, greatest

Rules: TypeAlias = list[dict[Any, Any]]

QUICK_N = 0.5
"""Share of nitrogen come free in the first year from which a material counts as quick: judgement."""

MAINLY = 0.25
"""Share of what a material brings most of, by what a bed takes, from which it is a carrier: judgement."""

NITROGEN, NUTRIENT = "N", "nutrient"
MONTHS = range(1, 13)


def _likely(row: pd.Series, quantity: str) -> float:
    """Return the likely value of a quantity of a material [%], 0 where it is not known."""
    return (limits(row, quantity=quantity) or (0.0, 0.0, 0.0))[1]


def holding(row: pd.Series, nutrient: str) -> float:
    """Return the grams of a nutrient in a gram of a material as it lies; of nitrogen what is quick.

    Parameters
    ----------
    row : Series
        The material.
    nutrient : str
        One that has rules.

    Examples
    --------
    >>> from soiltrend.materials import known_materials
    >>> round(holding(known_materials().loc["borax"], "B"), 3)
    0.113
    """
    held = _likely(row, nutrient) / WHOLE
    if not held:
        return 0.0
    quick = released(row, years=1.0)[NITROGEN][1] if nutrient == NITROGEN else 1.0
    return held * (1 - _likely(row, "moisture") / WHOLE) * (quick if quick >= QUICK_N else 0.0)


@lru_cache(maxsize=1)
def _enough() -> dict[str, float]:
    """Return how much a bed takes of each nutrient with rules [g/m2]: at a time, or else in a year."""
    table = aims.nutrient_limits().sort_values("per", kind="stable")  # "dressing" before "year"
    first = table.drop_duplicates("what").set_index("what")["limit"]
    rules = tables.load("splitting")
    ruled = dict.fromkeys(rules["what"][rules["of"] == NUTRIENT])
    return {name: float(first[name]) for name in ruled if name in first.index}


def carried(row: pd.Series) -> tuple[str, ...]:
    """Return the nutrients with rules of their own that a material is a carrier of.

    It is where its own greatest amount in a year brings by itself all that a bed takes of it at a time, or
    where no such limit is known, in a year: borax is one of boron, an ash with a trace of it is not. Nor is
    a compost, whose phosphorus is far more by that measure than its boron (:data:`MAINLY`).

    Examples
    --------
    >>> from soiltrend.materials import known_materials
    >>> rows = known_materials()
    >>> [carried(rows.loc[name]) for name in ("borax", "wood ash", "poultry litter", "garden compost")]
    [('B',), (), ('N', 'P'), ('P',)]
    """
    most = greatest(row)
    full = {name: most * holding(row, name) / much for name, much in _enough().items()}
    least = max(1.0, MAINLY * max(full.values()))
    return tuple(name for name, times in full.items() if times >= least)


@lru_cache(maxsize=1024)
def _looked_up(name: str, kind: str, carried: tuple[str, ...], hemisphere: str) -> Rules:
    return aims.splitting(name, kind=kind, nutrients=carried, hemisphere=hemisphere).to_dict("records")


def rules_of(row: pd.Series, hemisphere: str) -> Rules:
    """Return the rules by which a material is split and dated; nobody writes to them.

    Parameters
    ----------
    row : Series
        The material.
    hemisphere : str
        "north" or "south".
    """
    return _looked_up(str(row.name), str(row["kind"]), carried(row), hemisphere)


@dataclass(frozen=True)
class Apart:
    """How far a material keeps from others.

    Attributes
    ----------
    others : frozenset of str
        Their kinds, and the nutrients that they are carriers of.
    days : Timedelta
        How far.
    why : str
        In words, with the source.
    """

    others: frozenset[str]
    days: pd.Timedelta
    why: str

    def keeps_from(self, row: pd.Series) -> bool:
        """Return whether a material is one of the others."""
        return not self.others.isdisjoint({str(row["kind"]), *carried(row)})


@lru_cache(maxsize=1)
def _apart() -> dict[str, Apart]:
    return {
        str(line["kind"]): Apart(
            frozenset(str(line["apart_from"]).split(";")),
            pd.Timedelta(days=float(line["days"])),
            f"{line['words']} ({line['source']})",
        )
        for line in tables.load("apart", numbers=("days",)).to_dict("records")
    }


def apart(row: pd.Series) -> Apart | None:
    """Return how far a material keeps from others; None where it need not.

    Parameters
    ----------
    row : Series
        The material.

    Examples
    --------
    >>> from soiltrend.materials import known_materials
    >>> rows = known_materials()
    >>> ash = apart(rows.loc["wood ash"])
    >>> ash.days.days, ash.keeps_from(rows.loc["cattle manure"]), ash.keeps_from(rows.loc["garden compost"])
    (28, True, False)
    """
    return _apart().get(str(row["kind"]))


def holds(rule: dict[Any, Any], row: pd.Series, grams: float) -> bool:
    """Return whether a rule holds for so many grams of a material to the square metre."""
    much = grams * holding(row, rule["what"]) if rule["of"] == NUTRIENT else grams
    return bool(much > rule["above"])


def longest(rules: Rules, name: str) -> float:
    """Return the most days that any rule asks for, 0 when none does.

    Examples
    --------
    >>> longest([{"before_sowing_days": 14.0}, {"before_sowing_days": float("nan")}], "before_sowing_days")
    14.0
    """
    return max([0.0, *(float(rule[name]) for rule in rules if np.isfinite(rule[name]))])


def months_of(rules: Rules) -> tuple[int, ...]:
    """Return the months that all rules agree on, or of the first that names some; empty when any will do.

    Examples
    --------
    >>> raw = {"months": (3, 4, 9, 10), "avoid_months": (11, 12, 1, 2)}
    >>> months_of([raw, {"months": (3, 4, 5, 6, 7, 8), "avoid_months": (10, 11, 12, 1)}])
    (3, 4)
    >>> months_of([{"months": (), "avoid_months": ()}])
    ()
    """
    named = [set(rule["months"]) for rule in rules if rule["months"]]
    away = {month for rule in rules for month in rule["avoid_months"]}
    if not named and not away:
        return ()
    first = named[0] if named else set(MONTHS)
    agreed = first.intersection(*named) - away
    return tuple(sorted(agreed or first))
