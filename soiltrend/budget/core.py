"""The account of a garden: what went in, what came out, what the test did."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from soiltrend import frames, present
from soiltrend.budget.books import Books, Test, open_books, records
from soiltrend.budget.chance import check
from soiltrend.budget.periods import Found, tests
from soiltrend.budget.rows import CHALK_PER_AREA, PER_AREA, WIDE, row
from soiltrend.budget.shelf import ACIDITY, shelf
from soiltrend.budget.sources import of_bed, of_garden
from soiltrend.budget.uncounted import not_counted
from soiltrend.garden import Garden
from soiltrend.prepare import garden_noise, prepared

NUTRIENTS = ("N", "P", "K", "Ca", "Mg", "S", "Na", "B", "Zn", "Mn", "Cu", "C", ACIDITY)
TABLE = [
    "bed",
    "nutrient",
    "period",
    "unit",
    *(f"{part}{end}" for part in ("put_in", "freed", "taken_out", "expected", "observed") for end in WIDE),
    "recovery",
    "low",
    "high",
    "method",
    "test_unit",
    *(f"{part}{end}" for part in ("expected_test", "observed_test") for end in WIDE),
    "said",
    "why",
    "check",
    "check_test",
    *(f"{part}{end}" for part in ("net_expected", "net_observed", "fixed") for end in WIDE),
    "earlier",
    "hidden",
    "analyte",
    "lab",
    "start",
    "end",
    "top_cm",
    "bottom_cm",
]
SHOWN = [
    "bed",
    "nutrient",
    "period",
    "unit",
    "put_in",
    "freed",
    "taken_out",
    "expected",
    "observed",
    "recovery",
    "low",
    "high",
    "said",
    "why",
]
SOURCES = [
    *("bed", "nutrient", "period", "material", "unit", "put_in", "low", "high"),
    *("by_volume", "measured"),
]
LOGGED = "all that is logged"
LIKE = ["analyte", "method", "lab", "top_cm", "bottom_cm", "unit", "before_season", "after_season"]
"""What the test of a check bed must share with that of a treated one."""

BLANK = [
    "bed",
    "nutrient",
    "analyte",
    "method",
    "lab",
    "unit",
    "before_season",
    "after_season",
    "start",
    "end",
]


@dataclass(frozen=True, eq=False)
class Budget:
    """The account of a garden.

    Attributes
    ----------
    table : DataFrame
        One row a bed, nutrient and period between two comparable tests of the same season. ``unit`` is
        g/m2 (of acidity g CaCO3/m2: lime put on, acidity met). ``put_in`` is all that went on in the period;
        ``freed`` is what came free in it, of that and of dressings before (``earlier``); ``taken_out`` left
        with the harvest; ``fixed`` is nitrogen from the air. ``expected`` is what the soil should have gained
        if all that is free showed: freed and fixed less taken out. ``observed`` is what the test says it
        gained, and ``hidden`` is put in and fixed less taken out less observed. Each has its interval in
        ``_low`` and ``_high``.
        ``recovery`` (``low`` to ``high``) is observed over expected, both less what the beds in ``check``
        did (``net_observed, net_expected``; ``check_test`` in the test's unit). ``expected_test`` and
        ``observed_test`` are the same movements in ``test_unit`` by ``method``. ``said``: "showed",
        "partly", "not seen", "more than expected", "the other way", "cannot say", "not tested". A number
        is missing where the log does not tell it; see ``why``.
    sources : DataFrame
        ``bed, nutrient, period, material, unit, put_in, low, high``: what each material brought; whether it
        was measured out ``by_volume`` and its analysis was ``measured``. Rows of bed "(garden)" are all beds
        together, a square metre of garden, each bed over the last of its periods.
    not_counted : DataFrame
        ``what, nutrient, bed, low, high, unit, why, source``: what is left out.
    confidence : float
        Of the intervals.
    seed, draws : int
        Of the sampling.
    """

    table: pd.DataFrame
    sources: pd.DataFrame
    not_counted: pd.DataFrame
    confidence: float
    seed: int
    draws: int

    def __repr__(self) -> str:
        return present.plain(_title(self), self.table[SHOWN[:-1]])

    def _repr_html_(self) -> str:
        return present.page(_title(self), self.table[SHOWN])


def _title(result: Budget) -> str:
    table = result.table
    if table.empty:
        return "No account yet: no bed has two tests that can be compared, and nothing was logged"
    told = ", ".join(f"{count} {word}" for word, count in table["said"].value_counts(sort=True).items())
    count = table["bed"].nunique()
    beds = f"{count} bed{'s' if count > 1 else ''}"
    return (
        f"What went in, what came out, what the test did: {beds} ({told}), {result.confidence:.0%} intervals"
    )


def budget(
    garden: Garden,
    *,
    periods: str = "longest",
    asked: tuple[str, str] = ("", ""),
    confidence: float = 0.9,
    draws: int = 2000,
    seed: int = 1,
) -> Budget:
    """Set what went on each bed against what came off and what its test did.

    Parameters
    ----------
    garden : Garden
        What :func:`soiltrend.open_garden` gave.
    periods : str
        "longest": for each bed and nutrient the two comparable tests of one season that lie farthest apart;
        "each": every test against the one of its season before it.
    asked : tuple of str
        Two seasons instead, such as ``("spring 2022", "spring 2026")``.
    confidence : float
        Of the intervals.
    draws, seed : int
        What is uncertain (analyses, measures, release, crops, bulk density, tests) is drawn so often.

    Returns
    -------
    Budget

    Raises
    ------
    SoiltrendError
        When a dressing names a material that is not known or an amount that cannot be weighed (the line is
        named), a season asked for has no result, or a setting is none.

    Notes
    -----
    A test moves by what came free less what left, over bulk density times depth: 1 mg/kg in a layer of d cm
    and b g/cm3 is b x d x 0.01 g/m2.

    Examples
    --------
    >>> from soiltrend.budget.invented import invented
    >>> found = budget(invented(seed=1).garden, draws=500)
    >>> row = found.table.set_index(["bed", "nutrient"]).loc[("East", "Ca")]
    >>> row["period"], round(float(row["put_in"])), row["said"]
    ('spring 2022 to spring 2024', 423, 'showed')
    """
    dice = check(draws, seed=seed, confidence=confidence)
    stock = shelf(garden, dice)
    books = open_books(garden, stock, confidence=confidence)
    results = frames.in_time(prepared(garden), hemisphere=garden.hemisphere)
    results = results[results["bed"].isin(list(garden.beds["bed"]))]
    noise = garden_noise(garden, results=results)
    found = tests(results, nutrients=NUTRIENTS, noise=noise, span=periods, asked=asked)
    todo = _periods(books, found)
    alone = _alone(found, books)
    rows = [row(books, test, checks=_checks(alone, test, books)) for test in todo]
    rest = not_counted(
        sorted({lot.name for lot in books.dressings}), stock, nutrients=NUTRIENTS, harvests=garden.harvests
    )
    return Budget(_table(rows), _sources(books, todo), rest, confidence, seed, draws)


def _alone(found: Found, books: Books) -> dict[tuple[object, ...], list[Test]]:
    """Return the tests of the beds left as they were, by what they must share with a treated one."""
    out: dict[tuple[object, ...], list[Test]] = {}
    for test in records(found.compared):
        if books.beds[test["bed"]]["check"]:
            out.setdefault(tuple(str(test[name]) for name in LIKE), []).append(test)
    return out


def _checks(alone: dict[tuple[object, ...], list[Test]], test: Test, books: Books) -> list[Test]:
    """Return the check beds that have the same two tests; none for a bed that is one."""
    if not test["analyte"] or books.beds[test["bed"]]["check"]:
        return []
    like = alone.get(tuple(str(test[name]) for name in LIKE), [])
    return [other | {"nutrient": test["nutrient"]} for other in like]


def _periods(books: Books, found: Found) -> list[Test]:
    """Return every bed and nutrient with its period; without a test of its own, with the bed's longest."""
    rows, out = records(found.rows), []
    for bed in books.beds:
        mine = [test for test in rows if test["bed"] == bed]
        for nutrient in NUTRIENTS:
            own = [test for test in mine if test["nutrient"] == nutrient]
            own.sort(key=lambda test: test["end"])
            out += own or _untested(books, bed, nutrient, mine)
    return out


def _untested(books: Books, bed: str, nutrient: str, mine: list[Test]) -> list[Test]:
    """Return the row of a nutrient that no two tests tell of."""
    blank = dict.fromkeys(BLANK, "") | {"bed": bed, "nutrient": nutrient}
    if mine:
        widest = max(mine, key=lambda test: test["end"] - test["start"])
        return [blank | {name: widest[name] for name in ("start", "end", "before_season", "after_season")}]
    return [blank | days for days in _logged(books)]


def _logged(books: Books) -> list[dict[str, pd.Timestamp]]:
    """Return the first and the last day of the log, or nothing when there is none."""
    days = [*(lot.date for lot in books.dressings), *books.harvests["date"]]
    return [{"start": min(days), "end": max(days) + pd.Timedelta(days=1)}] if days else []


def _period(test: Test) -> str:
    return f"{test['before_season']} to {test['after_season']}" if test["before_season"] else LOGGED


def _table(rows: list[dict[str, Any]]) -> pd.DataFrame:
    """Return the rows as the table of the result."""
    told = [cells | {"period": _period(cells)} for cells in rows]
    return pd.DataFrame(told, columns=TABLE) if told else pd.DataFrame(columns=TABLE)


def _sources(books: Books, todo: list[Test]) -> pd.DataFrame:
    """Return what each material brought to each bed, and to the garden over the last period of each bed."""
    out = []
    for test in todo:
        head = {"bed": test["bed"], "nutrient": test["nutrient"], "period": _period(test)}
        out += [head | cells for cells in of_bed(books, test)]
    for nutrient in NUTRIENTS:
        last = {test["bed"]: test for test in todo if test["nutrient"] == nutrient}.values()
        spans = " and ".join(dict.fromkeys(map(_period, last)))
        head = {"bed": frames.GARDEN, "nutrient": nutrient, "period": spans}
        out += [head | cells for cells in of_garden(books, list(last))]
    units = {nutrient: CHALK_PER_AREA if nutrient == ACIDITY else PER_AREA for nutrient in NUTRIENTS}
    table = pd.DataFrame(out, columns=SOURCES)
    return table.assign(unit=table["nutrient"].map(units).astype("str"))
