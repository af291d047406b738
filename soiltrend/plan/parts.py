"""A year's amounts in parts: on which days each is given, and how long it has lain at the next test."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
import pandas as pd

from soiltrend import aims, vocabulary
from soiltrend.frames import YEAR
from soiltrend.garden.bags import FRESH_DAYS
from soiltrend.materials import released
from soiltrend.plan.bench import Bench, Plot
from soiltrend.plan.days import Days
from soiltrend.plan.ruled import QUICK_N, Rules, apart, holds, longest, months_of, rules_of
from soiltrend.plan.rules import PlanRules
from soiltrend.plan.shed import BRINGS, brings_of, greatest

Array: TypeAlias = np.ndarray
Span: TypeAlias = tuple[pd.Timestamp, pd.Timestamp]

STANDS = pd.DateOffset(months=6)
"""How long a crop stands whose sowing or harvest is not told: judgement."""

FOUR_WEEKS = 28.0
"""Least days between two parts (common practice)."""

SOME = 0.05
"""Share of what a bed takes of a nutrient at a time below which a material is not split for it: judgement."""

UNTIL_GONE = "a crop is taken to stand here until that day: not before it is off the bed"
"""Of a day that was moved to the end of a crop, which may stand for longer."""

BULKY = ("compost", "manure", "residue")
"""Kinds whose salts are kept safe by how thick they may lie, and not by grams at a time."""


@dataclass(frozen=True)
class Parts:
    """A year's amount of a material in equal parts.

    Attributes
    ----------
    when : tuple of Timestamp
        The day of each part.
    why : str
        The rules that made them, and whether a part comes too late for the next test.
    """

    when: tuple[pd.Timestamp, ...]
    why: str


def _into_month(day: pd.Timestamp, months: tuple[int, ...]) -> pd.Timestamp:
    """Return the first day from this on that lies in one of the months, or this one when none is named."""
    if not months or day.month in months:
        return day
    later = pd.date_range(day, periods=13, freq="MS")
    return next(first for first in later if first.month in months)


def first_day(row: pd.Series, bench: Bench, *, bed: str) -> pd.Timestamp:
    """Return the first day on which a material may go on a bed.

    A crop that stands too near is waited for, before and after; then the season of the material.

    Parameters
    ----------
    row : Series
        The material.
    bench : Bench
        The days, and the days of sowing.
    bed : str
        The bed.
    """
    rules = rules_of(row, bench.days.hemisphere)
    return _allowed(bench.days.dressing, rules, standing_crop(bench.rules, bed))


def standing_crop(rules: PlanRules, bed: str) -> Span | None:
    """Return from when to when the crop stands on a bed; None where neither end of it is told.

    From its sowing to its harvest; where one of them is not told, or the harvest is one before the sowing,
    for half a year.

    Parameters
    ----------
    rules : PlanRules
        The days of sowing and of harvest.
    bed : str
        The bed.

    Examples
    --------
    >>> day = pd.Timestamp
    >>> garlic = PlanRules(sowing={"East": day(2026, 10, 25)}, harvest={"East": day(2027, 7, 10)})
    >>> [f"{day:%Y-%m-%d}" for day in standing_crop(garlic, "East")]
    ['2026-10-25', '2027-07-10']
    """
    sown, picked = rules.sowing.get(bed), rules.harvest.get(bed)
    if sown is None:
        return None if picked is None else (pd.Timestamp(picked) - STANDS, pd.Timestamp(picked))
    first, last = pd.Timestamp(sown), pd.Timestamp(sown) + STANDS
    if picked is not None and pd.Timestamp(picked) > first:
        last = pd.Timestamp(picked)
    return first, last


def _allowed(day: pd.Timestamp, rules: Rules, crop: Span | None) -> pd.Timestamp:
    """Return the first day from this on, in the months of the rules, on which no crop stands too near.

    It does from so many days before its sowing as a rule asks for, until it is gone.
    """
    day, away = _into_month(day, months_of(rules)), longest(rules, "before_sowing_days")
    if crop is None or not away:
        return day
    near = crop[0] - pd.Timedelta(days=away) < day < crop[1]
    return _into_month(crop[1], months_of(rules)) if near else day


def _splits(row: pd.Series, what: str) -> bool:
    """Return whether a material is split for what a bed takes of a nutrient at a time."""
    if str(row["kind"]) in BULKY:
        return False
    return what != "N" or released(row, years=1.0)["N"][1] >= QUICK_N


def _at_once(bench: Bench, amounts: Array) -> dict[int, tuple[int, str]]:
    """Return into how many parts what a bed takes of a nutrient at a time splits each material, and why.

    What several materials bring together counts: each of them is split as if it went on with the others.
    """
    found: dict[int, tuple[int, str]] = {}
    given = np.flatnonzero(amounts > 0)
    for line in bench.at_once.to_dict("records"):
        what = str(line["what"])
        split = np.array([_splits(bench.shed.rows.iloc[at], what) for at in given], dtype=bool)
        each = np.zeros(len(amounts))
        each[given[split]] = bench.shed.total[:, given[split], BRINGS.index(brings_of(what))].mean(axis=0)
        each *= amounts
        count = int(np.ceil(each.sum() / line["limit"] - 1e-9))
        told = f"{line['limit']:g} g/m2 of {what} are the most at a time ({line['words']})"
        for at in np.flatnonzero(each > SOME * line["limit"]):
            if count > found.get(int(at), (1, ""))[0]:
                found[int(at)] = (count, told)
    return found


def parts_of(plot: Plot, bench: Bench, amounts: Array) -> dict[int, Parts]:
    """Return the parts of each material that is given, by its place in the shed.

    Parameters
    ----------
    plot : Plot
        The bed.
    bench : Bench
        Materials, days and limits.
    amounts : array (materials,)
        g/m2 in the year.
    """
    least, bed = _at_once(bench, amounts), str(plot.bed["bed"])
    rows = {int(at): bench.shed.rows.iloc[at] for at in np.flatnonzero(amounts > 0)}
    found: dict[int, Parts] = {}
    for at in sorted(rows, key=lambda at: apart(rows[at]) is not None):  # what keeps from others comes last
        away = apart(rows[at])
        taken = [
            day for other, its in found.items() if away and away.keeps_from(rows[other]) for day in its.when
        ]
        found[at] = _parts(
            bench, at, grams=float(amounts[at]), bed=bed, least=least.get(at, (1, "")), taken=taken
        )
    return {at: found[at] for at in rows}


def _parts(
    bench: Bench,
    at: int,
    *,
    grams: float,
    bed: str,
    least: tuple[int, str],
    taken: Sequence[pd.Timestamp] = (),
) -> Parts:
    """Return the parts of one material, clear of the days that are taken by what it keeps from."""
    row = bench.shed.rows.iloc[at]
    rules = rules_of(row, bench.days.hemisphere)
    held = [rule for rule in rules if holds(rule, row, grams)]
    limit = greatest(row, per="dressing")
    count = aims.least_parts(grams, held=held, at_once=limit)
    told = [f"{rule['words']} ({rule['source']})" for rule in held]
    if least[0] > count:
        count, told = least[0], [*told, least[1]]
    gap = pd.Timedelta(days=round(max(FOUR_WEEKS, longest(held, "gap_days"))))
    away, crop, when = apart(row), standing_crop(bench.rules, bed), [bench.days.dressing - gap]
    while len(when) <= count:
        day = free = _allowed(when[-1] + gap, rules, crop)
        while away and (near := [other for other in taken if abs(other - free) < away.days]):
            free = _allowed(max(near) + away.days, rules, crop)
        when.append(free)
        told += [away.why] if away and free > day else []
    when = when[1:]
    told += [UNTIL_GONE] if crop and crop[1] in when else []
    wait = longest(held, "before_harvest_days")
    if wait:
        told.append(_picking(when, pd.Timedelta(days=wait), bench.rules.harvest.get(bed)))
    told += _before(when[-1], bench.days.test)
    return Parts(tuple(when), "; ".join(dict.fromkeys(told)))


def _before(last: pd.Timestamp, test: pd.Timestamp) -> list[str]:
    """Return what the next test can say of the last part, when it comes after it or too soon to tell."""
    if last >= test:
        return [f"what goes on from {test:%Y-%m-%d} on comes too late for the next test"]
    days = (test - last).days
    soon = f"the next test, about {test:%Y-%m-%d}, comes {days} days after the last of it"
    return [f"{soon}: sample before it goes on, or {FRESH_DAYS} days after"] if days < FRESH_DAYS else []


def _picking(when: list[pd.Timestamp], wait: pd.Timedelta, picked: Any) -> str:
    """Return when a crop may be picked after all parts, or which of them must not go on before it is."""
    ripe = f"no crop that touches the soil is picked before {when[-1] + wait:%Y-%m-%d}"
    if picked is None or not when[0] + wait <= pd.Timestamp(picked) < when[-1] + wait:
        return ripe
    last = pd.Timestamp(picked) - wait
    crop = f"for the crop is picked from {picked:%Y-%m-%d}"
    return f"leave out what comes after {last:%Y-%m-%d}, {crop}; or {ripe}"


def waiting(row: pd.Series, bench: Bench, *, bed: str) -> str:
    """Return why a material cannot go on a bed before its crop is picked; blank when it can.

    Parameters
    ----------
    row : Series
        The material.
    bench : Bench
        The days, the crops and the first days of picking.
    bed : str
        The bed.
    """
    rules = rules_of(row, bench.days.hemisphere)
    return _spared(rules, bench, bed) or _unripe(row, rules, bench, bed)


def _spared(rules: Rules, bench: Bench, bed: str) -> str:
    """Return that the crop which is to stand on a bed gets none of a material, by its rules."""
    crop, stands = bench.rules.crops.get(bed, ""), standing_crop(bench.rules, bed)
    known = vocabulary.crop_with_aims(crop)
    rule = next((rule for rule in rules if known and known in rule["spares"]), None)
    if rule is None or (stands is not None and stands[1] <= bench.days.dressing):
        return ""
    return f"{crop} is to grow here: {rule['words']} ({rule['source']})"


def _unripe(row: pd.Series, rules: Rules, bench: Bench, bed: str) -> str:
    """Return that a material would lie too short before the picking."""
    picked = bench.rules.harvest.get(bed)
    if picked is None or pd.Timestamp(picked) < bench.days.dressing:
        return ""
    wait = longest(rules, "before_harvest_days")
    day = first_day(row, bench, bed=bed)
    if not wait or day + pd.Timedelta(days=wait) <= pd.Timestamp(picked):
        return ""
    source = next(rule["source"] for rule in rules if rule["before_harvest_days"] == wait)
    return (
        f"the crop is to be picked from {picked:%Y-%m-%d}, and {wait:g} days must lie between; it could not "
        f"go on before {day:%Y-%m-%d} ({source})"
    )


def lain(parts: Mapping[int, Parts], days: Days) -> dict[int, Array]:
    """Return for how many years each part has lain at the next test, 0 for what comes after it.

    Parameters
    ----------
    parts : mapping
        By place in the shed, from :func:`parts_of`.
    days : Days
        The days of the plan.
    """
    return {
        at: np.array([max((days.test - day).days / YEAR, 0.0) for day in each.when])
        for at, each in parts.items()
    }
