"""What if: amounts that are given, and what the next test would show and what they break."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import pandas as pd

from soiltrend import present
from soiltrend.errors import SoiltrendError
from soiltrend.folder import nearest
from soiltrend.garden import Garden
from soiltrend.materials import material
from soiltrend.plan import rows as tables
from soiltrend.plan.ask import question
from soiltrend.plan.bench import Bench, Plot
from soiltrend.plan.core import Plan
from soiltrend.plan.core import plan as planned
from soiltrend.plan.parts import parts_of

Array: TypeAlias = np.ndarray
BREAKS = ["bed", "what", "limit", "unit", "chance", "already", "why"]
DATED = ["bed", "material", "date", "g_per_m2", "why"]
SHOWN = ["bed", "analyte", "unit", "now", "aim", "left_alone", "after", "low", "high"]


@dataclass(frozen=True, eq=False)
class WhatIf:
    """What amounts of one's own would do.

    Attributes
    ----------
    table : DataFrame
        As ``Plan.expected``, for the beds given.
    breaks : DataFrame
        Ceilings that would not hold surely enough: bed, what, limit in unit, chance (that it is passed),
        already (whether it is without anything added), why.
    doses : DataFrame
        On which days the amounts were reckoned to go on: bed, material, date, g_per_m2, why. ``table`` counts
        nothing of what comes too late for the next test; why says so.
    season : str
        When.
    amounts : dict
        g/m2 by bed and material.
    """

    table: pd.DataFrame
    breaks: pd.DataFrame
    doses: pd.DataFrame
    season: str
    amounts: dict[str, dict[str, float]]

    def __repr__(self) -> str:
        return "\n\n".join(present.plain(*part) for part in _parts(self))

    def _repr_html_(self) -> str:
        return "".join(present.page(*part) for part in _parts(self))


def _parts(found: WhatIf) -> list[tuple[str, pd.DataFrame]]:
    told = "; ".join(
        f"{bed}: " + (", ".join(f"{much:g} g/m2 {name}" for name, much in given.items()) or "nothing")
        for bed, given in found.amounts.items()
    )
    head = f"What if, {found.season}: {told}"
    return [
        (head, tables.told_of(found.table, SHOWN)),
        ("Reckoned as given on these days", found.doses),
        (f"{len(found.breaks)} ceilings would not hold", found.breaks),
    ]


def _amounts(bench: Bench, given: Mapping[str, float], bed: str) -> Array:
    """Return amounts in the order of the shed."""
    out = np.zeros(len(bench.shed.rows))
    for name, much in given.items():
        if not (np.isfinite(much) and much >= 0):
            raise SoiltrendError(f"{much!r} g/m2 of {name} on {bed} is no amount", remedy="Give 0 or more")
        row = material(bench.shed.rows, name=name, file="")
        out[bench.shed.names.index(str(row.name))] += much
    return out


def _dated(plot: Plot, bench: Bench, amounts: Array) -> list[dict[str, object]]:
    """Return the parts of the amounts of a bed, each with its day."""
    return [
        {
            "bed": plot.bed["bed"], "material": bench.shed.names[at], "date": day,
            "g_per_m2": float(amounts[at]) / len(parts.when), "why": parts.why,
        }
        for at, parts in parts_of(plot, bench, amounts).items()
        for day in parts.when
    ]  # fmt: skip


def _broken(plot: Plot, bench: Bench, amounts: Array) -> list[dict[str, object]]:
    """Return the ceilings of a bed that would not hold."""
    asked = question(plot, bench)
    over = (asked.task.load @ amounts - asked.task.room > 0).mean(axis=0)
    before = (asked.task.room < 0).mean(axis=0)
    allowed = 1 - bench.rules.probability
    found: list[dict[str, object]] = []
    for place in np.flatnonzero((over > allowed) & (asked.task.load.mean(axis=0) @ amounts > 0)):
        at = asked.ceilings[place]
        if at >= 0:
            row = plot.measures.iloc[at]
            what, limit, unit = str(row["analyte"]), plot.wants[at].ceiling, str(row["unit"])
            why = plot.wants[at].why
        else:
            line = bench.limits.iloc[-1 - at]
            what, limit, unit, why = f"{line['what']} in a year", line["limit"], "g/m2", line["words"]
        head = {"bed": plot.bed["bed"], "what": what, "limit": limit, "unit": unit}
        found.append(head | {"chance": over[place], "already": bool(before[place] > allowed), "why": why})
    most = bench.shed.most
    for over_most in np.flatnonzero(amounts > most * (1 + 1e-9)):
        at = int(over_most)
        head = {
            "bed": plot.bed["bed"],
            "what": bench.shed.names[at],
            "limit": float(most[at]),
            "unit": "g/m2",
        }
        found.append(head | {"chance": 1.0, "already": False, "why": "the most that a bed takes in a year"})
    return found


def what_if(
    source: Plan | Garden, *, amounts: Mapping[str, Mapping[str, float]], season: str | None = None
) -> WhatIf:
    """Return what amounts of one's own would do: the next test as an interval, and what breaks.

    Parameters
    ----------
    source : Plan or Garden
        A plan (quick), or a garden with a season.
    amounts : mapping
        g/m2 in the year by bed and material: ``{"Kettle": {"house compost": 1500}}``. A bed with
        an empty mapping shows what comes of leaving it alone.
    season : str, optional
        For a garden: when.

    Raises
    ------
    SoiltrendError
        When a bed or a material is not known, an amount is none, or a garden comes without a season.
    """
    if isinstance(source, Garden):
        if season is None:
            raise SoiltrendError(f"season = {season!r} is none", remedy="Give one, such as 'spring 2027'")
        source = planned(source, season=season)
    bench = source.bench
    plots = {str(plot.bed["bed"]): plot for plot in bench.plots}
    for bed in amounts:
        if bed not in plots:
            raise SoiltrendError(f"'{bed}' is not a bed of this garden ({nearest(bed, plots)})")
    given = {bed: _amounts(bench, amounts[bed], bed) for bed in amounts}
    table = [row for bed, much in given.items() for row in tables.expect(plots[bed], much, bench)]
    breaks = [row for bed, much in given.items() for row in _broken(plots[bed], bench, much)]
    dated = [row for bed, much in given.items() for row in _dated(plots[bed], bench, much)]
    told = {bed: {str(name): float(much) for name, much in amounts[bed].items()} for bed in amounts}
    return WhatIf(
        pd.DataFrame(table, columns=tables.EXPECTED),
        pd.DataFrame(breaks, columns=BREAKS),
        pd.DataFrame(dated, columns=DATED),
        bench.days.season,
        told,
    )


def left_alone(plan: Plan) -> dict[str, dict[str, float]]:
    """Return empty amounts for the bed that the plan gives most, to try what comes of leaving it alone.

    The first bed that is no check, when the plan gives nothing.

    Parameters
    ----------
    plan : Plan
        What :func:`soiltrend.plan` gave.
    """
    most = {bed: sum(given.values()) for bed, given in plan.amounts.items()}
    treated = [str(plot.bed["bed"]) for plot in plan.bench.plots if not plot.bed["check"]] or list(most)
    return {max(treated, key=lambda bed: most[bed]): {}}
