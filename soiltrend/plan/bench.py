"""Everything a plan reckons with, laid out as arrays: beds, measures, materials, draws, days."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
import pandas as pd

from soiltrend import aims, frames, scales
from soiltrend.frames import YEAR
from soiltrend.garden import Garden
from soiltrend.materials import known_materials
from soiltrend.plan import lime
from soiltrend.plan.days import Days
from soiltrend.plan.past import PER_LAYER, Log
from soiltrend.plan.rules import PlanRules
from soiltrend.plan.shed import (
    BRINGS,
    COUNTS,
    KILO,
    Shed,
    brought,
    open_shed,
    responses,
    soil_water,
    triangular,
)
from soiltrend.plan.standing import SIDE, Standing, forward, standing
from soiltrend.plan.wants import PLANNED, Want, scooped, usual_pH, wanted
from soiltrend.prepare import garden_noise, prepared

Array: TypeAlias = np.ndarray

CCE = BRINGS.index("CCE")
CHARGES = 0.01
"""Moles of charge in a litre of water that conducts 1 dS/m (USDA Handbook 60, 1954; 0.1 to 5 dS/m)."""

INSIDE = 0.9
"""Share of next tests that the intervals are to hold."""


@dataclass(frozen=True, eq=False)
class Plot:
    """One bed as arrays; measures in the order of ``measures``.

    Attributes
    ----------
    bed : dict
        Its row of the garden's beds.
    measures : DataFrame
        bed, analyte, method, unit, scale, noise, qualifier and the like, one row each.
    wants : list of Want
        What is wanted of each measure.
    now, left : array (scenarios, measures)
        Where it stands at the dressing, and where it would at the next test with nothing added, both
        as that season's test would read without noise; the limit where every test lies beyond one.
    test : array (scenarios, measures)
        How far that test strays, on the analysis scale.
    moves : array (scenarios, measures, brings)
        What a gram of each to the square metre, come free, adds to each measure.
    lime_known : bool
        Whether its need of lime is known at all.
    lime_why : str
        How.
    """

    bed: dict[str, Any]
    measures: pd.DataFrame
    wants: list[Want]
    now: Array
    left: Array
    test: Array
    moves: Array
    lime_known: bool
    lime_why: str


@dataclass(frozen=True, eq=False)
class Bench:
    """A garden laid out for planning.

    Attributes
    ----------
    shed : Shed
        What can be added.
    plots : tuple of Plot
        The beds, check beds among them.
    days : Days
        The dressing and the next test.
    rules : PlanRules
        The settings.
    limits, at_once : DataFrame
        Most of each nutrient in a year, and at a time: what, limit [g/m2], words, source.
    approach : str
        "sufficiency" or "saturation".
    """

    shed: Shed
    plots: tuple[Plot, ...]
    days: Days
    rules: PlanRules
    limits: pd.DataFrame
    at_once: pd.DataFrame
    approach: str


def _at(mean: Array, cov: Array, rows: pd.DataFrame, years: Array) -> tuple[Array, Array]:
    """Return the states after so many years."""
    wander, steep = (rows[name].to_numpy(dtype=float) for name in ("wander", "steep"))
    return forward(mean, cov, years=years, wander=wander, steep=steep)


def _years(rows: pd.DataFrame, day: pd.Timestamp) -> Array:
    last = rows["last"].fillna(day).to_numpy().astype("datetime64[D]").astype(np.int64)
    at = np.datetime64(day, "D").astype(np.int64)
    return np.asarray(np.maximum((at - last) / YEAR, 0.0))


def _lasting(rows: pd.DataFrame, log: Log, day: pd.Timestamp, moves: Array, share: Array) -> Array:
    """Return what dressings of the past still bring to each measure between its last test and a day.

    Of what is expected the ``share`` counts that the tests of the bed have shown so far. What limes is not
    followed from test to test: what came free a year in the time of the record is in its slope already.
    """
    out = np.zeros(len(rows))
    for at, row in enumerate(rows.to_dict("records")):
        column = BRINGS.index(brought(row["analyte"]))
        known = [day if pd.isna(row[name]) else row[name] for name in ("first", "last")]
        days = np.array([*known, day], dtype="datetime64[D]").astype(np.int64).astype(float)
        free = log.free(row["bed"], BRINGS[column], days)
        more, (record, ahead) = free[2] - free[1], np.diff(days)
        if row["analyte"] == "pH" and record > 0:
            more = max(more - (free[1] - free[0]) * ahead / record, 0.0)
        out[at] = share[at] * more * moves[:, at, column].mean()
    return out


def _drawn(mean: Array, cov: Array, side: float, deviates: Array) -> Array:
    """Return draws of level and swing as a test of that season reads, without noise (scenarios, rows)."""
    look = np.array([1.0, 0.0, side])
    sd = np.sqrt(np.maximum(np.einsum("i,rij,j->r", look, cov, look), 0.0))
    return np.asarray(mean @ look + deviates * sd)


def _in_test(row: dict[Any, Any], bed: dict[str, Any]) -> tuple[float, float, float]:
    """Return what a gram to the square metre (of salts a mole of charge) is in a test: low, likely, high.

    Salts by the water that is shaken with the soil, :data:`CHARGES` a litre to 1 dS/m.
    """
    depth = row["bottom_cm"] - row["top_cm"]
    layer = bed["bulk_density"] * (depth if np.isfinite(depth) else bed["depth_cm"]) * PER_LAYER
    if row["analyte"] != "EC":
        return 1 / layer, 1 / layer, 1 / layer
    low, likely, high = soil_water(str(row["method"]))
    kg = layer * KILO  # to the square metre
    return 1 / (CHARGES * kg * high), 1 / (CHARGES * kg * likely), 1 / (CHARGES * kg * low)


def _moves(rows: pd.DataFrame, bed: dict[str, Any], per_pH: Array, lucks: list[np.random.Generator]) -> Array:
    """Return what a gram to the square metre, come free, adds to each measure (scenarios, rows, brings)."""
    draws = len(per_pH)
    out = np.zeros((draws, len(rows), len(BRINGS)))
    for at, (row, rng) in enumerate(zip(rows.to_dict("records"), lucks, strict=True)):
        shows = triangular(responses()[row["analyte"]], draws=draws, rng=rng)
        if row["analyte"] == "pH":
            out[:, at, CCE] = shows / per_pH
            continue
        found = triangular(_in_test(row, bed), draws=draws, rng=rng)
        out[:, at, BRINGS.index(brought(row["analyte"]))] = shows * found
    return out


def _values(state: Standing, bed: str, analyte: str) -> pd.Series:
    """Return the level of a measure of a bed by method, as the last tests have it; none of limits alone."""
    names, signs = state.table["analyte"].array, state.table["qualifier"].array
    mine = [at for at in state.of.get(bed, ()) if names[at] == analyte and signs[at] == ""]
    rows = state.table.iloc[mine]
    return pd.Series(
        scales.back(state.mean[mine, 0], rows["scale"].to_numpy()), index=rows["method"].to_numpy()
    )


def _first(values: pd.Series) -> float:
    return float(values.iloc[0]) if len(values) else np.nan


def _lime(
    state: Standing, bed: dict[str, Any], rules: PlanRules, rng: np.random.Generator
) -> tuple[Array, bool, str]:
    """Return draws of g CaCO3/m2 for one unit of pH, whether the need is known, and how."""
    name = str(bed["bed"])
    pH = _values(state, name, "pH")
    if not len(pH) or not (pH.index[0] == "" or str(pH.index[0]).startswith("water")):
        return np.full(rules.scenarios, np.inf), False, "no pH in water: no lime is planned"
    target = usual_pH(str(pH.index[0]), str(bed["medium"]), rules.crops.get(name, ""))
    target = target if np.isfinite(target) else float(pH.iloc[0]) + 0.5
    found, known, why = lime.per_unit(
        pH=float(pH.iloc[0]),
        buffers={str(method): float(value) for method, value in _values(state, name, "buffer pH").items()},
        capacity=_first(_values(state, name, "CEC")),
        target=target,
        depth_cm=float(bed["depth_cm"]),
    )
    if not known:  # from sand to clay: its logarithm is drawn, so that sand comes up as often as clay
        low, middle, high = np.log(found)
        return np.exp(triangular((low, middle, high), draws=rules.scenarios, rng=rng)), known, why
    return triangular(found, draws=rules.scenarios, rng=rng), known, why


def _test(rows: pd.DataFrame, deviates: Array) -> Array:
    """Return how far the next test strays."""
    return np.asarray(deviates * rows["noise"].to_numpy(dtype=float))


def _luck(rules: PlanRules, of: str) -> np.random.Generator:
    """Return the luck of one measure, which no other measure changes; beds that are alike share it."""
    return np.random.default_rng([rules.seed, *map(ord, of)])


def _deviates(lucks: list[np.random.Generator], scenarios: int) -> Array:
    """Return normal deviates of where each measure stands and of its next test (2, scenarios, measures)."""
    drawn = [luck.standard_normal((2, scenarios)) for luck in lucks]
    return np.stack(drawn, axis=-1) if drawn else np.zeros((2, scenarios, 0))


def _scooped(
    state: Standing, bed: str, rows: pd.DataFrame, told: dict[tuple[str, str, str], float]
) -> list[float]:
    """Return how dense the soil of each measure was scooped: as answered, as measured, or missing."""
    measured = _first(_values(state, bed, "scoop density"))
    return [told.get((bed, analyte, method), measured)
            for analyte, method in zip(rows["analyte"], rows["method"], strict=True)]  # fmt: skip


def _plot(state: Standing, bed: dict[str, Any], log: Log, days: Days, asked: dict[str, Any]) -> Plot:
    """Return one bed as arrays."""
    rules: PlanRules = asked["rules"]
    name = str(bed["bed"])
    mine = [at for at in state.of.get(name, ()) if state.table["analyte"].array[at] in PLANNED]
    rows = state.table.iloc[mine].reset_index(drop=True)
    rows["scooped"] = _scooped(state, name, rows, asked["scooped"])
    mean, cov = state.mean[mine].copy(), state.cov[mine]
    per_pH, lime_known, lime_why = _lime(state, bed, rules, _luck(rules, "lime"))
    lucks = [_luck(rules, analyte) for analyte in rows["analyte"]]
    moves = _moves(rows, bed, per_pH, lucks)
    deviates, strays = _deviates(lucks, rules.scenarios)
    on, unread = rows["scale"].to_numpy(), (rows["qualifier"] != "").to_numpy()
    side = SIDE.get(frames.season_name(days.test_season), 0.0)
    drawn = []
    for day in (days.dressing, days.test):
        ahead, spread = _at(mean, cov, rows, _years(rows, day))
        value = scales.back(_drawn(ahead, spread, side, deviates), np.broadcast_to(on, deviates.shape))
        value = np.where(unread, rows["bound"].to_numpy(), value)
        drawn.append(value + _lasting(rows, log, day, moves, state.share[mine]))
    capacity = _first(_values(state, name, "CEC"))
    wants = [
        wanted(row, bed, own=asked["own"], approach=asked["approach"],
               crop=rules.crops.get(name), capacity=capacity)
        for row in rows.to_dict("records")
    ]  # fmt: skip
    return Plot(bed, rows, wants, drawn[0], drawn[1], _test(rows, strays), moves, lime_known, lime_why)


def _records(table: pd.DataFrame) -> list[dict[str, Any]]:
    return [{str(name): value for name, value in row.items()} for row in table.to_dict("records")]


def _dressed(log: Log, garden: Garden) -> Any:
    """Return what tells the filter how far dressings of the past have moved each series."""
    beds = {str(bed["bed"]): bed for bed in _records(garden.beds)}
    shown = responses()

    def added(rows: pd.DataFrame, days: Array) -> tuple[Array, Array]:
        """Return what dressings brought by some days, and how unsure the share of it is that shows."""
        mean, sd = np.zeros_like(days), np.zeros(len(days))
        for at, row in enumerate(rows.to_dict("records")):
            analyte, bed = row["analyte"], row["bed"]
            if analyte == "pH" or analyte not in shown:  # what a lime moves is not known here yet
                continue
            free = log.free(bed, brought(analyte), days[at]) * _in_test(row, beds[bed])[1]
            low, likely, high = shown[analyte]
            mean[at], sd[at] = free * likely, (high - low) / likely / SPREAD_OF_RANGE
        return mean, sd

    return added


SPREAD_OF_RANGE = 4.6
"""Low to high of a triangular range in standard deviations of it, 4.2 to 4.9 by its peak."""


def lay(garden: Garden, *, days: Days, rules: PlanRules, approach: str) -> Bench:
    """Return a garden laid out for planning.

    Parameters
    ----------
    garden : Garden
        The garden; only tests and dressings before the dressing planned are looked at.
    days : Days
        The dressing and the next test.
    rules : PlanRules
        The settings.
    approach : str
        "sufficiency" or "saturation".
    """
    known = known_materials(garden.materials, cups=garden.settings.get("cups"))
    shed = open_shed(known, rules=rules, years=days.years)
    results = frames.in_time(prepared(garden), hemisphere=garden.hemisphere)
    results = results[~(results["sampled"] >= days.dressing)]
    noise = garden_noise(garden, results=results)
    results = results[results["bed"].isin(garden.beds["bed"])]  # a bed that ended told of the noise
    log = Log(garden, known=known, seed=rules.seed, before=days.dressing)
    state = standing(results, noise=noise, dressed=_dressed(log, garden))
    asked = {"rules": rules, "own": garden.settings.get("aims"), "approach": approach,
             "scooped": scooped(results)}  # fmt: skip
    plots = tuple(_plot(state, bed, log, days, asked) for bed in _records(garden.beds))
    limits = aims.nutrient_limits()
    limits = limits[limits["what"].isin([*BRINGS, *COUNTS])]
    of_year, at_once = (limits[limits["per"] == per].reset_index(drop=True) for per in ("year", "dressing"))
    return Bench(shed, plots, days, rules, of_year, at_once, approach)
