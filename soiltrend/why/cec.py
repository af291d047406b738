"""Why a summed exchange capacity changed: which cations, what organic matter can explain, what fakes it.

A capacity by summation is a sum of what an extract brings out. Its change is the change of its parts,
exactly. Organic matter that came or went carries charge, by published amounts. Lime, shell or gypsum that
still lies in the soil dissolves in the extract and counts as if the soil held it. What neither accounts
for is left over: noise, clay from deeper soil, another lot of the laboratory's buffer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import frames, present, tables
from soiltrend.garden import Garden
from soiltrend.noise import Noise
from soiltrend.why import words
from soiltrend.why.charges import IONS, PLACE, Move, by_pair, capacities, draws, ion_moves, matched, moves
from soiltrend.why.given import DRAWS, SEED, Given, check_question, interval, take
from soiltrend.why.log import Log, read_log
from soiltrend.why.suspects import suspects

SUM, CATION, EXPLAINS, FAKES, REST = "sum", "cation", "can explain", "can fake", "left over"
COLUMNS = [*PLACE, "part", "kind", "method", "unit", "before", "after", "change", "low", "high", "verdict",
           "why"]
SHOWN = ["bed", *COLUMNS[2:-1]]
HEADLINES = [*PLACE, "said", "change", "low", "high", "unit", "sentence"]
NEUTRAL = 7.0
"""pH at which a sum with a buffer's acidity, or with none because the soil is neutral, counts its sites."""


@dataclass(frozen=True, eq=False)
class WhyCEC:
    """A change of summed exchange capacity, taken apart.

    Attributes
    ----------
    table : DataFrame
        One row per bed, laboratory, layer and part: ``kind`` is "sum" (the capacity), "cation" (its parts,
        which add up to it), "can explain" (organic matter), "can fake" (undissolved lime, shell or gypsum)
        or "left over" (the sum less both). ``before, after, change, low, high`` in cmol/kg; the interval
        has the confidence asked for. ``verdict`` is that of a comparison for sum and cations, blank
        otherwise.
    headlines : DataFrame
        One row per bed, laboratory and layer: ``said`` ("artefact", "may be an artefact", "sites changed
        hands", "as organic matter allows", "not explained", "within noise", "cannot say") and a
        ``sentence``.
    before, after : str
        The two ends.
    confidence : float
        Of the intervals.
    """

    table: pd.DataFrame
    headlines: pd.DataFrame
    before: str
    after: str
    confidence: float

    def __repr__(self) -> str:
        return present.plain(_title(self), self.table[SHOWN])

    def _repr_html_(self) -> str:
        return present.page(_title(self), self.table)


def _title(result: WhyCEC) -> str:
    beds = result.headlines["bed"].nunique()
    return (f"Why the summed exchange capacity changed, {result.before} to {result.after}: "
            f"{present.counted(beds, 'bed')}, {result.confidence:.0%} intervals")


def why_cec(source: pd.DataFrame | Garden, *, before: str, after: str, bed: str | None = None,
            noise: Noise | None = None, confidence: float = 0.95) -> WhyCEC:
    """Take a change of summed exchange capacity apart.

    Parameters
    ----------
    source : DataFrame or Garden
        A tidy frame with computed capacity (:func:`soiltrend.exchange`), or a garden, whose log of
        applications then tells how much lime, shell or gypsum may still lie undissolved.
    before, after : str
        Seasons ("spring 2023"), years or days, as for :func:`soiltrend.compare`.
    bed : str, optional
        One bed; by default all.
    noise : Noise, optional
        How far results move by themselves.
    confidence : float
        Of the intervals, between 0.5 and 1.

    Returns
    -------
    WhyCEC

    Raises
    ------
    SoiltrendError
        When the bed, a season or the confidence is none, or no capacity could be summed at one end.

    Examples
    --------
    >>> from soiltrend.frames import results
    >>> def soil(season, ca, acid):
    ...     same = {"bed": "East", "season": season}
    ...     masses = {"Ca": ca * 200.4, "Mg": 243.05, "K": 195.49}
    ...     return [{**same, "analyte": ion, "method": "Mehlich-3", "value": mass, "unit": "mg/kg"}
    ...             for ion, mass in masses.items()] + [
    ...         {**same, "analyte": "acidity", "value": acid, "unit": "cmol/kg"}]
    >>> rows = results([*soil("spring 2022", 6.0, 4.0), *soil("spring 2024", 9.0, 1.1)])
    >>> found = why_cec(rows, before="spring 2022", after="spring 2024")
    >>> found.table.query("kind == 'cation'").set_index("part")["change"].round(1).to_dict()
    {'Ca': 3.0, 'Mg': 0.0, 'K': 0.0, 'acidity': -2.9}
    >>> found.headlines["said"][0]
    'sites changed hands'
    """
    given = take(source, noise)
    check_question(given.results, bed=bed, ends=(before, after), confidence=confidence)
    sums = capacities(given.results)  # of all beds, so that bags keep their numbers
    mine = sums if bed is None else sums[sums["bed"] == bed]
    found = _Found(given, mine, (str(before), str(after)), confidence)
    rows, heads = found.beds()
    return WhyCEC(pd.DataFrame(rows, columns=COLUMNS), pd.DataFrame(heads, columns=HEADLINES),
                  str(before), str(after), confidence)


@dataclass(frozen=True, eq=False)
class _Found:
    """The sums of some beds, and what is asked of them."""

    given: Given
    sums: pd.DataFrame
    ends: tuple[str, str]
    confidence: float

    def beds(self) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
        """Return the rows of the table and the headlines, bed by bed."""
        before, after = self.ends
        match = matched(self.sums, self.given.noise, before=before, after=after,
                        what="no exchange capacity to compare")
        noise, confidence = self.given.noise, self.confidence
        total = by_pair(moves(match, noise, confidence=confidence))
        ions = {ion: by_pair(ion_moves(match, noise, ion, confidence=confidence)) for ion in IONS}
        humus = _humus(self.given, self.sums["bed"], self.ends, self.confidence)
        log = None if self.given.garden is None else read_log(self.given.garden)
        shown = {match.pairs["bed"].iloc[pair] for pair in total}
        rows: list[dict[str, Any]] = []
        heads = []
        for pair, named in enumerate(match.pairs.to_dict("records")):
            if pair not in total:
                heads += [] if named["bed"] in shown else [_unsaid(named)]
                continue
            used = match.rows[match.rows["pair"] == pair]
            parts = {ion: table[pair] for ion, table in ions.items() if pair in table}
            moved = Moved(total[pair], parts, humus.get(_place(named)))
            told, head = _bed(self.given, log, used, moved, confidence)
            rows += told
            heads.append(head)
        return rows, heads


def _unsaid(pair: Mapping[Any, Any]) -> dict[str, Any]:
    """Return the headline of a bed whose capacity cannot be compared."""
    unknown = dict.fromkeys(("change", "low", "high"), np.nan)
    return {**{name: pair[name] for name in PLACE}, "said": words.CANNOT, **unknown, "unit": "cmol/kg",
            "sentence": f"Not compared: {pair['reason']}"}


def _humus(given: Given, beds: pd.Series, ends: tuple[str, str],
           confidence: float) -> dict[str, Move]:
    """Return how organic matter moved in each bed, where it can be compared."""
    rows = given.results[(given.results["analyte"] == "OM") & given.results["bed"].isin(beds)]
    there = all(_has(rows, end) for end in ends)
    if not there:
        return {}
    match = matched(rows, given.noise, before=ends[0], after=ends[1], what="organic matter")
    found = by_pair(moves(match, given.noise, confidence=confidence))
    places = [_place(named) for named in match.pairs.to_dict("records")]
    return {places[pair]: row for pair, row in found.items()}


def _place(pair: Mapping[Any, Any]) -> str:
    """Return bed, laboratory and layer of a pair in one text."""
    return f"{pair['bed']}, {pair['lab']}, {pair['top_cm']} to {pair['bottom_cm']}"


@dataclass(frozen=True, eq=False)
class Moved:
    """How the sum of one bed, its ions and its organic matter moved."""

    total: Move
    parts: dict[str, Move]
    humus: Move | None


def _has(rows: pd.DataFrame, end: str) -> bool:
    """Return whether a season, a year or a day has any of the rows."""
    text = str(end).strip().casefold()
    season = rows["season"].str.casefold()
    day = rows["sampled"].dt.strftime("%Y-%m-%d")
    return bool(((season == text) | season.str.endswith(text) | (day == text)).any())


@lru_cache(maxsize=256)
def charge_at(pH: float) -> tuple[float, float]:
    """Return the charge of organic matter at a pH, as a range [cmol per kg of organic matter].

    The published range holds near pH 7 (``tables/charge.csv``); it is carried to another pH along the
    published line (``tables/charge_line.csv``), within the pH that line was measured at.

    Examples
    --------
    >>> charge_at(7.0), tuple(round(end) for end in charge_at(5.0))
    ((100.0, 300.0), (66, 197))
    """
    near = tables.load("charge", numbers=("low", "high")).query("part == 'organic matter'").iloc[0]
    columns = ("slope", "intercept", "lowest_pH", "highest_pH")
    line = tables.load("charge_line", numbers=columns).query("part == 'organic matter'").iloc[0]
    at = min(max(pH, float(line["lowest_pH"])), float(line["highest_pH"]))
    slope, intercept = float(line["slope"]), float(line["intercept"])
    share = (slope * at + intercept) / (slope * NEUTRAL + intercept)
    return float(near["low"]) * share, float(near["high"]) * share


def _bed(given: Given, log: Log | None, used: pd.DataFrame, moved: Moved,
         confidence: float) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """Return the rows and the headline of one bed."""
    total, parts = moved.total, moved.parts
    rng = np.random.default_rng(SEED)
    same = {name: used[name].iloc[0] for name in (*PLACE, "method")} | {"unit": "cmol/kg"}
    drawn = draws(total, rng, count=DRAWS)
    explained, told = _explained(given, used, moved.humus, rng)
    held = suspects(given, log, used, rng)
    faked = held.drawn
    rest = drawn - np.nan_to_num(explained) - np.nan_to_num(faked)
    state = words.State(total, parts, held, used, (explained, rest, drawn), confidence)
    said, sentence = words.headline(state)
    rows = [{"part": "CEC", "kind": SUM, **_numbers(total), "why": sentence}]
    rows += [{"part": ion, "kind": CATION, **_numbers(row), "why": words.cation(ion, row, total)}
             for ion, row in parts.items()]
    likely = [float(np.median(part)) if np.isfinite(part).all() else np.nan for part in (explained, faked)]
    rows.append(_row("organic matter", EXPLAINS, likely[0], explained, confidence) | {"why": told})
    rows.append(_row(words.UNDISSOLVED, FAKES, likely[1], faked, confidence) | {"why": held.why})
    left = float(total["change"] - np.nansum(likely)) if np.isfinite(rest).all() else np.nan
    rows.append(_row("left over", REST, left, rest, confidence) | {"why": words.rest(state)})
    head = {**same, "said": said, **{n: total[n] for n in ("change", "low", "high")}, "sentence": sentence}
    return [{**same, **row} for row in rows], head


def _numbers(row: Move) -> dict[str, Any]:
    return {name: row[name] for name in ("before", "after", "change", "low", "high", "verdict")}


def _row(part: str, kind: str, change: float, drawn: np.ndarray, confidence: float) -> dict[str, Any]:
    """Return one row of what is reckoned and not measured."""
    known = bool(np.isfinite(drawn).all())
    low, high = interval(drawn, confidence) if known else (np.nan, np.nan)
    return {"part": part, "kind": kind, "before": np.nan, "after": np.nan, "change": change, "low": low,
            "high": high, "verdict": ""}


def _explained(given: Given, used: pd.DataFrame, humus: Move | None,
               rng: np.random.Generator) -> tuple[np.ndarray, str]:
    """Return draws of what organic matter can explain of a change [cmol/kg], and how."""
    blank = np.full(DRAWS, np.nan)
    if humus is None:
        return blank, "Organic matter was not measured alike at both ends: its part is not known"
    counted = bool(used["counted"].all())
    reaction = [NEUTRAL, NEUTRAL] if counted else _reaction(given.results, used)
    if not np.isfinite(reaction).all():
        return blank, "The sum counts no acidity, so its charge goes with pH, which is not known at both ends"
    ends = np.array([charge_at(pH) for pH in reaction])
    share = rng.random(DRAWS)
    charge = ends[:, :1] + share * (ends[:, 1:] - ends[:, :1])
    before = humus["before"]
    later = before + draws(humus, rng, count=DRAWS)
    drawn = (later * charge[1] - before * charge[0]) / 100
    return drawn, words.organic(humus, ends, reaction, counted=counted)


def _reaction(results: pd.DataFrame, used: pd.DataFrame) -> list[float]:
    """Return the mean pH of the bags behind a sum, at both ends."""
    bags = results.assign(bag=frames.composites(results))
    acid = bags[(bags["analyte"] == "pH") & (bags["qualifier"] == "")]
    return [float(acid.loc[acid["bag"].isin(used.loc[used["end"] == end, "bag"]), "value"].mean())
            for end in (0, 1)]

