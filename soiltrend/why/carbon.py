"""The carbon of a bed: what the soil holds, what it gained, and what was put on meanwhile.

Organic matter is turned into organic carbon by a range of factors, not by one. A stock is carbon times soil
mass, and two stocks are compared over the same mass of soil: compost makes soil lighter, and a layer of the
same depth then holds less of it (Lee et al. 2009, Agriculture, Ecosystems & Environment 134:251; the lighter
of the two layers is taken, so that nothing beneath the layer is guessed).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import composites, present
from soiltrend.errors import SoiltrendError
from soiltrend.garden import Garden
from soiltrend.garden.log import not_logged
from soiltrend.noise import Noise
from soiltrend.why import fed, showing
from soiltrend.why.charges import Move, by_pair, matched, moves
from soiltrend.why.given import DRAWS, SEED, Given, check_question, interval, take
from soiltrend.why.log import read_log

COLUMNS = ["bed", "unit", "measure", "before", "after", "verdict", "carbon_before_low", "carbon_before_high",
           "carbon_after_low", "carbon_after_high", "stock_before", "stock_before_low", "stock_before_high",
           "stock_after", "stock_after_low", "stock_after_high", "gained", "gained_low", "gained_high",
           "gained_fixed_depth", "beside_check", "beside_check_low", "beside_check_high", "added",
           "added_low", "added_high", "stayed", "kept", "kept_low", "kept_high", "mass", "why"]
SHOWN = ["bed", "unit", "before", "after", "verdict", "stock_before", "stock_after", "gained", "gained_low",
         "gained_high", "added", "added_low", "added_high"]
KG_PER_CM = 10.0
"""kg of soil in a square metre of 1 cm at a bulk density of 1 g/cm3."""

WIDEST = 500.0
"""Width of the interval of ``kept`` [%] beyond which its number only misleads: as in an account."""


@dataclass(frozen=True, eq=False)
class Carbon:
    """Carbon held, gained and added, bed by bed.

    Attributes
    ----------
    table : DataFrame
        One row per bed, ``unit`` kg C/m2 (ten times that is t/ha). ``before, after, verdict`` are of the
        ``measure`` ("OM" or "TOC" [%]); ``carbon_*_low`` and ``_high`` are organic carbon [%] by the range of
        factors; ``stock_*`` [kg C/m2] and ``gained`` are over the same ``mass`` of soil [kg/m2],
        ``gained_fixed_depth`` over the same depth; ``beside_check`` is what was gained less what the beds
        left without dressings gained. ``added`` is the carbon of compost, mulch and residues, missing where
        the log is silent, and ``stayed`` what crop residues that stayed are of it. ``kept`` is gained in 100
        of added; missing where nothing is known to be added, or too little for the tests to tell a share.
    sources : DataFrame
        ``bed, material, unit, added, low, high`` [kg C/m2].
    years : DataFrame
        ``bed, practice, carbon`` [kg C/ha a year], ``points`` (organic matter a year, with ``points_low``,
        ``points_high``), ``years`` until it can show, ``why``, ``source``.
    not_counted : DataFrame
        ``bed, what, why``.
    before, after : str
        The two ends.
    confidence : float
        Of the intervals.
    """

    table: pd.DataFrame
    sources: pd.DataFrame
    years: pd.DataFrame
    not_counted: pd.DataFrame
    before: str
    after: str
    confidence: float

    def __repr__(self) -> str:
        return present.plain(_title(self), self.table[SHOWN])

    def _repr_html_(self) -> str:
        return present.page(_title(self), self.table)


def _title(result: Carbon) -> str:
    return (f"Carbon held, gained and added, {result.before} to {result.after}, "
            f"{result.confidence:.0%} intervals")


def organic_carbon(percent: float) -> tuple[float, float]:
    """Return the organic carbon [%] of soil with so much organic matter [%], as a range.

    Examples
    --------
    >>> tuple(round(end, 2) for end in organic_carbon(5.0))
    (2.5, 2.9)
    """
    low, high = showing.factor_range()
    return percent / high, percent / low


def stock(percent: float, *, bulk_density: float, depth_cm: float) -> float:
    """Return the carbon that a layer holds [kg/m2]; ten times that is t/ha.

    Parameters
    ----------
    percent : float
        Organic carbon [%].
    bulk_density : float
        Dry [g/cm3].
    depth_cm : float
        Of the layer [cm].

    Examples
    --------
    >>> round(stock(2.0, bulk_density=1.3, depth_cm=20), 2)
    5.2
    """
    return percent / 100 * bulk_density * depth_cm * KG_PER_CM


def carbon(garden: Garden, *, before: str, after: str, bed: str | None = None, noise: Noise | None = None,
           confidence: float = 0.95) -> Carbon:
    """Set carbon gained beside carbon added.

    Parameters
    ----------
    garden : Garden
        With its log; the bulk density of a bed stands in ``garden.toml`` or among the results.
    before, after : str
        Seasons ("spring 2020"), years or days; the longer apart the better.
    bed : str, optional
        One bed; by default all with organic matter at both ends.
    noise : Noise, optional
        How far results move by themselves.
    confidence : float
        Of the intervals, between 0.5 and 1.

    Returns
    -------
    Carbon
        Where no bulk density is stated there is no stock, and the reason stands in ``not_counted``.

    Raises
    ------
    SoiltrendError
        When the bed, a season or the confidence is none, or organic matter was not measured at both ends.
    """
    given = take(garden, noise)
    check_question(given.results, bed=bed, ends=(before, after), confidence=confidence)
    ends = (str(before), str(after))
    found = _measured(given, ends, confidence)
    if bed is not None and bed not in found:
        raise SoiltrendError(f"organic matter of '{bed}' was not measured alike in '{before}' and '{after}'",
                             remedy=f"Beds where it was: {', '.join(found)}")
    log, check = read_log(garden), _check(given, found)
    rows, sources, years, aside = [], [], [], []
    for name in found if bed is None else [bed]:
        row = found[name]
        rng = np.random.default_rng(SEED)
        brought = fed.fed(garden, log, name, (row["from"], row["to"]), rng)
        mass = _masses(given, name, row)
        own = bool(garden.beds.set_index("bed")["check"][name])
        silent = not_logged(garden, bed=name, days=(row["from"], row["to"]))
        added = np.full(DRAWS, np.nan) if silent else brought.total
        told = _row(row, added, mass, np.full(DRAWS, np.nan) if own else check, confidence)
        told["stayed"] = np.nan if silent else brought.stayed
        rows.append(told | {"why": showing.sentence(told, mass, silent)})
        sources += brought.rows(name, confidence)
        aside += brought.aside
        aside += [] if mass else [(name, "stock", "no bulk density is stated in garden.toml or measured")]
        if mass:
            yearly = np.zeros(DRAWS) if silent else brought.yearly(row["from"], row["to"])
            years += showing.years(given, name, min(mass), yearly, confidence)
    return Carbon(pd.DataFrame(rows, columns=COLUMNS), pd.DataFrame(sources, columns=fed.COLUMNS),
                  pd.DataFrame(years, columns=showing.COLUMNS),
                  pd.DataFrame(aside, columns=["bed", "what", "why"]), *ends, confidence)


def _measured(given: Given, ends: tuple[str, str], confidence: float) -> dict[str, dict[str, Any]]:
    """Return how carbon, or else organic matter, moved in each bed, with the days of both ends."""
    mine = given.results
    out: dict[str, dict[str, Any]] = {}
    failed = ""
    for measure in ("TOC", "OM"):
        rows = mine[mine["analyte"] == measure]
        if not len(rows):
            continue
        try:
            match = matched(rows, given.noise, before=ends[0], after=ends[1], what=measure)
        except SoiltrendError as error:
            failed = str(error)
            continue
        names = match.pairs.to_dict("records")
        moved = by_pair(moves(match, given.noise, confidence=confidence))
        for pair in sorted(moved, key=lambda at: np.nan_to_num(names[at]["top_cm"])):  # the topsoil first
            used = match.rows[match.rows["pair"] == pair]
            days = [used.loc[used["end"] == end, "sampled"].max() for end in (0, 1)]
            depth = names[pair]["bottom_cm"] - names[pair]["top_cm"]
            out.setdefault(names[pair]["bed"], {**moved[pair], "bed": names[pair]["bed"], "measure": measure,
                                                "depth": depth, "from": days[0], "to": days[1]})
    if not out:
        raise SoiltrendError(failed or f"no organic matter was measured alike in '{ends[0]}' and '{ends[1]}'",
                             remedy="Carbon is reckoned from OM or TOC by one laboratory and method")
    return out


def _check(given: Given, found: dict[str, dict[str, Any]]) -> np.ndarray:
    """Return draws of what the mean bed left without dressings gained [kg C/m2]; missing without one."""
    beds = given.garden.beds if given.garden is not None else pd.DataFrame({"bed": [], "check": []})
    names = [name for name in beds.loc[beds["check"].astype(bool), "bed"] if name in found]
    drawn = []
    for number, name in enumerate(names):
        mass = _masses(given, name, found[name])
        if mass is not None:
            percent = _percent(found[name], np.random.default_rng((SEED, number + 1)))
            drawn.append((percent[1] - percent[0]) / 100 * min(mass))
    return np.mean(drawn, axis=0) if drawn else np.full(DRAWS, np.nan)


def _percent(row: Move, rng: np.random.Generator) -> np.ndarray:
    """Return draws of organic carbon at both ends [%]; the factor is one for both and for all beds."""
    low, high = showing.factor_range() if row["measure"] == "OM" else (1.0, 1.0)
    factor = low + (high - low) * np.random.default_rng(SEED).random(DRAWS)
    error = rng.standard_normal((2, DRAWS)) * row["se"] / np.sqrt(2)
    share = np.array([[row["before"]], [row["after"]]])
    measured = share * np.exp(error) if row["scale"] == "log" else share + error
    return np.asarray(np.maximum(measured, 0.0) / factor)


def _masses(given: Given, bed: str, row: dict[str, Any]) -> tuple[float, float] | None:
    """Return the soil of the layer at both ends [kg/m2], or None when no bulk density is known.

    Of measured densities those of the topsoil count, the mean of the nearest day.
    """
    garden = given.garden
    if garden is None:
        return None
    place = garden.beds.set_index("bed")
    depth = row["depth"] if row["depth"] == row["depth"] else float(place["depth_cm"][bed])
    rings = given.results[(given.results["analyte"] == "bulk density") & (given.results["bed"] == bed)]
    if len(rings):
        rings = composites.uppermost(rings, by=["bed"])
        away = [(rings["sampled"] - day).abs() for day in (row["from"], row["to"])]
        near = [float(rings.loc[gap == gap.min(), "value"].mean()) for gap in away]
        return near[0] * depth * KG_PER_CM, near[1] * depth * KG_PER_CM
    stated = garden.settings.get("beds", {}).get(bed, {})
    if "bulk_density" not in stated:
        return None
    mass = float(place["bulk_density"][bed]) * depth * KG_PER_CM
    return mass, mass


def _row(row: Move, added: np.ndarray, mass: tuple[float, float] | None, check: np.ndarray,
         confidence: float) -> dict[str, Any]:
    """Return one bed's row."""
    low, high = showing.factor_range() if row["measure"] == "OM" else (1.0, 1.0)
    percent = _percent(row, np.random.default_rng((SEED, 0)))
    out: dict[str, Any] = {name: row[name] for name in ("bed", "measure", "before", "after", "verdict")}
    out |= {"unit": "kg C/m2", **_three("added", added, confidence)}
    for end, name in enumerate(("before", "after")):
        out |= {f"carbon_{name}_low": row[name] / high, f"carbon_{name}_high": row[name] / low}
        if mass is not None:
            out |= _three(f"stock_{name}", percent[end] / 100 * min(mass), confidence)
    if mass is not None:
        gained = (percent[1] - percent[0]) / 100 * min(mass)
        fixed = (percent[1] * mass[1] - percent[0] * mass[0]) / 100
        out |= {"mass": min(mass), **_three("gained", gained, confidence),
                "gained_fixed_depth": float(np.median(fixed))}
        if np.isfinite(check).all():
            out |= _three("beside_check", gained - check, confidence)
        if (added > 0).any():
            kept = _three("kept", 100 * gained / np.maximum(added, 1e-9), confidence)
            out |= kept if kept["kept_high"] - kept["kept_low"] <= WIDEST else {}
    return out


def _three(name: str, drawn: np.ndarray, confidence: float) -> dict[str, float]:
    """Return the middle of draws and their interval."""
    low, high = interval(drawn, confidence)
    return {name: float(np.median(drawn)), f"{name}_low": low, f"{name}_high": high}
