"""Next year's amendments: hold first, then dated doses, and what the next test should show."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, TypeAlias

import numpy as np
import pandas as pd

from soiltrend import aims, present
from soiltrend.errors import SoiltrendError
from soiltrend.garden import Garden
from soiltrend.plan import rows as tables
from soiltrend.plan.ask import Question, caustic, coming, contrary, held, question, too_late
from soiltrend.plan.bench import Bench, Plot, lay
from soiltrend.plan.bill import cautions, purchase
from soiltrend.plan.days import Days, plan_days
from soiltrend.plan.rules import PlanRules, with_beds
from soiltrend.plan.shed import KILO, Shed
from soiltrend.plan.solve import ROUGH, Solved, solve

Array: TypeAlias = np.ndarray
METRIC = "metric"
COLUMNS = {
    "hold": tables.HOLD,
    "doses": tables.DOSES,
    "expected": tables.EXPECTED,
    "binding": tables.BINDING,
}
DIGITS = 2
ASKED = 2
"""How often a bed is asked: with all on the first day, then with its parts on their days."""


@dataclass(frozen=True, eq=False)
class Plan:
    """What to do with each bed in a season.

    Attributes
    ----------
    hold : DataFrame
        What not to add, and why: bed, what, why, about (measures).
    doses : DataFrame
        bed, material, date, grams (for the bed, as it lies), g_per_m2, kitchen (level cups, teaspoons or
        buckets), why.
    expected : DataFrame
        bed, analyte, method, unit; now, now_low, now_high: the best estimate for the day of the dressing,
        as a test of that season reads; aim, aim_high, ceiling; after, low, high: what the next test should
        print, nine times in ten between low and high; left_alone: its middle if nothing were added; test
        (its season); why; qualifier: "<" or ">" where no test could be read, and the limit stands for the
        most, or the least, it may be. All in ``unit``.
    cautions : DataFrame
        material, bed, caution, source.
    binding : DataFrame
        What stays short: bed, aim, open and gain in ``unit``, what (stops it), why.
    purchase : DataFrame
        material, kg, on_hand_kg, to_buy_kg, cost.
    season, garden, approach : str
        What was asked.
    amounts : dict
        g/m2 of each material in the year, by bed.
    bench : Bench
        What it was reckoned with, for :func:`soiltrend.what_if`.
    """

    hold: pd.DataFrame
    doses: pd.DataFrame
    expected: pd.DataFrame
    cautions: pd.DataFrame
    binding: pd.DataFrame
    purchase: pd.DataFrame
    season: str
    garden: str
    approach: str
    amounts: dict[str, dict[str, float]]
    bench: Bench = field(repr=False)

    @property
    def days(self) -> Days:
        """The first day of dressing and the day of the next test."""
        return self.bench.days

    @property
    def table(self) -> pd.DataFrame:
        """The doses."""
        return self.doses

    def __repr__(self) -> str:
        parts = ((_title(self), self.hold[["bed", "what", "why"]]), ("Then add", self.doses))
        return "\n\n".join(present.plain(*part) for part in parts)

    def _repr_html_(self) -> str:
        parts = (
            (_title(self), self.hold[["bed", "what", "why"]]),
            ("Then add", self.doses),
            ("What the next test should show", tables.told_of(self.expected, tables.EXPECTED[:12])),
            ("What stops here", self.binding),
            ("Cautions", self.cautions),
            ("To have ready", self.purchase),
        )
        return "".join(present.page(*part) for part in parts)


def _title(plan: Plan) -> str:
    doses, beds = len(plan.doses), plan.doses["bed"].nunique()
    return (
        f"{plan.garden}, {plan.season}, by {plan.approach}: first hold these ({len(plan.hold)}); "
        f"then {doses} {'dose' if doses == 1 else 'doses'} on {beds} {'bed' if beds == 1 else 'beds'}"
    )


def rounded(amounts: Array) -> Array:
    """Return amounts cut to two digits, so that no ceiling is passed by rounding.

    Examples
    --------
    >>> rounded(np.array([0.0, 3.87, 148.0, 1290.0])).tolist()
    [0.0, 3.8, 140.0, 1200.0]
    """
    safe = np.where(amounts > 0, amounts, 1.0)
    step = 10.0 ** (np.floor(np.log10(safe)) - (DIGITS - 1))
    return np.asarray(np.where(amounts > 0, np.floor(safe / step + 1e-9) * step, 0.0).round(6))


def _left(shed: Shed, spent: Array, area: float) -> Array:
    """Return how much of each material is left for a bed [g/m2].

    Of what is on hand and has no price there is no more than that; of the rest as much as is wanted.
    """
    on_hand = shed.rows["on_hand_kg"].to_numpy(dtype=float)
    limited = ~(shed.rows["cost_per_kg"].to_numpy(dtype=float) > 0) & np.isfinite(on_hand)
    return np.asarray(np.where(limited, np.maximum(on_hand - spent, 0.0) * KILO / area, np.inf))


def _of_bed(plot: Plot, bench: Bench, spent: Array) -> tuple[Question, Solved, Array]:
    """Return a bed's problem, its answer and the amounts as they are told.

    Asked first as if all went on at once; where parts come later, asked again with what they then do.
    """
    area = float(plot.bed["area_m2"])
    barred = caustic(bench.shed) | contrary(plot, bench.shed) | too_late(plot, bench)
    left = _left(bench.shed, spent, area)
    free = bench.shed.free
    for _ in range(ASKED):
        asked = question(plot, bench, barred=barred, stock=left, free=free)
        solved = solve(asked.task, probability=bench.rules.probability, rough=ROUGH)
        stays = held(asked, bench.shed, broken=solved.broken).any(axis=0)  # not even a trace
        given = np.where(stays, 0.0, rounded(solved.amounts))
        before, free = free, coming(plot, bench, given)
        if np.allclose(before, free):
            break
    lost = asked.task.credit @ np.where(stays, solved.amounts, 0.0)
    return asked, replace(solved, open=solved.open + lost), given


def _kept(plot: Plot) -> list[dict[str, Any]]:
    """Return the hold row of a bed for which nothing is planned, if it is one."""
    name = str(plot.bed["bed"])
    why = tables.CHECK if plot.bed["check"] else tables.NOTHING
    empty = plot.bed["check"] or not len(plot.measures)
    return [{"bed": name, "what": tables.EVERYTHING, "why": why, "about": ""}] if empty else []


def plan(
    garden: Garden, *, season: str, approach: str = "sufficiency", rules: PlanRules | None = None
) -> Plan:
    """Return next year's amendments.

    Parameters
    ----------
    garden : Garden
        What :func:`soiltrend.open_garden` gave.
    season : str
        When it is to be done, such as "spring 2027". Tests and dressings before it are looked at.
    approach : str
        "sufficiency": no more than crops can answer to. "saturation": shares of the exchange capacity,
        one school of thought; the published evidence against it is printed with the plan.
    rules : PlanRules, optional
        How surely ceilings must hold, scenarios, seed, stock, crops, days of sowing and of harvest.

    Returns
    -------
    Plan

    Raises
    ------
    SoiltrendError
        When the season or the approach is none, or a crop is told of a bed that is not there.

    Notes
    -----
    A ceiling must hold in nine of ten scenarios of soil and materials, counting all that a material
    holds; a shortfall is closed by what comes free until the next test. Beds marked check = true get
    nothing. Tables: aims, ceilings, splitting, responses, wander, materials, release, textures.
    """
    days = plan_days(garden, season=season)
    garden = garden.still(days.dressing)
    rules = with_beds(rules or PlanRules(), garden.beds)
    if approach not in aims.APPROACHES:
        raise SoiltrendError(
            f"'{approach}' is no approach", remedy=f"Use one of: {', '.join(aims.APPROACHES)}"
        )
    for bed in (*rules.crops, *rules.sowing, *rules.harvest):
        if bed not in set(garden.beds["bed"]):
            raise SoiltrendError(f"'{bed}' is not a bed of this garden", remedy="Write it as in garden.toml")
    return _planned(garden, lay(garden, days=days, rules=rules, approach=approach))


def _beds(garden: Garden, bench: Bench, spent: Array) -> dict[str, list[dict[str, Any]]]:
    """Return the rows of all beds, in the order of garden.toml; what is used up is added to ``spent``."""
    system = str(garden.settings.get("units", METRIC))
    parts: dict[str, list[dict[str, Any]]] = {name: [] for name in (*COLUMNS, "amounts")}
    for plot in bench.plots:
        kept, given = _kept(plot), np.zeros(len(spent))
        parts["hold"] += kept
        if not kept:
            asked, solved, given = _of_bed(plot, bench, spent)
            parts["hold"] += tables.hold(plot, asked, solved, bench)
            parts["binding"] += tables.binding(plot, asked, solved, bench)
            parts["doses"] += tables.doses(plot, asked, given, bench, system=system)
        spent += given * float(plot.bed["area_m2"]) / KILO
        parts["expected"] += tables.expect(plot, given, bench)
        names = zip(bench.shed.names, given, strict=True)
        parts["amounts"].append({name: float(much) for name, much in names if much > 0})
    return parts


def _planned(garden: Garden, bench: Bench) -> Plan:
    """Return the plan of all beds."""
    spent = np.zeros(len(bench.shed.rows))
    parts = _beds(garden, bench, spent)
    found = {name: pd.DataFrame(parts[name], columns=columns) for name, columns in COLUMNS.items()}
    found["doses"] = found["doses"].sort_values(["date", "bed"], kind="stable").reset_index(drop=True)
    return Plan(
        **found,
        cautions=cautions(found["doses"], bench),
        purchase=purchase(spent, bench.shed),
        season=bench.days.season,
        garden=garden.name,
        approach=bench.approach,
        amounts=dict(zip(map(str, garden.beds["bed"]), parts["amounts"], strict=True)),
        bench=bench,
    )
