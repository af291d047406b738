"""Why a share of the exchange capacity moved: its own amount, or the rest of the whole.

Shares add up to 100, so one that rises pushes the others down without touching them. The amounts say which
cation moved. Beside them stands the log-ratio: of a cation to the geometric mean of all bases (centred), and
to one of them (additive). Ratios do not know of the whole, and so nothing can push them but their own parts.
Aitchison 1986, The Statistical Analysis of Compositional Data.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import frames, present, verdicts
from soiltrend.chances import stdtrit
from soiltrend.compare import compare
from soiltrend.errors import SoiltrendError
from soiltrend.garden import Garden
from soiltrend.noise import Noise
from soiltrend.why import closure
from soiltrend.why.charges import BASES, IONS, PLACE, Move, by_pair, capacities, ion_moves, matched
from soiltrend.why.given import Given, check_question, take

COLUMNS = [*PLACE, "ion", "unit", "before", "after", "change", "percent", "percent_low", "percent_high",
           "verdict", "share_before", "share_after", "share_change", "share_low", "share_high",
           "share_verdict", "centred", "centred_low", "centred_high", "additive", "additive_low",
           "additive_high", "why"]
SHOWN = ["bed", "top_cm", "bottom_cm", "ion", "unit", "before", "after", "percent", "verdict",
         "share_before", "share_after", "share_verdict", "centred", "centred_low", "centred_high"]
HEADLINES = [*PLACE, "cation", "said", "sentence"]
CONFIDENCE = 0.95

EXACT = 12
"""Decimals beyond which a step of logarithms is the machine's rounding: what did not move is told as 0."""


@dataclass(frozen=True, eq=False)
class WhyShare:
    """A change of one cation's share, beside the amounts.

    Attributes
    ----------
    table : DataFrame
        One row per bed, laboratory, layer and ion of the sum. ``before, after, change`` are the amount
        [cmol/kg], ``percent`` its change with an interval, ``verdict`` that of a comparison; ``share_*``
        the share of the capacity [%], its change in points, interval and verdict. ``centred`` is the
        change of the log of the ion to the geometric mean of the bases, in hundredths (a small one is
        about a %), ``additive`` that of the cation asked for to this ion; both with intervals, and missing
        for acidity, which can be none.
    headlines : DataFrame
        One row per bed, laboratory and layer: ``cation``, ``said`` and a ``sentence``.
    cation : str
        The cation asked for.
    before, after : str
        The two ends.
    confidence : float
        Of the intervals.
    """

    table: pd.DataFrame
    headlines: pd.DataFrame
    cation: str
    before: str
    after: str
    confidence: float

    def __repr__(self) -> str:
        return present.plain(_title(self), self.table[SHOWN])

    def _repr_html_(self) -> str:
        return present.page(_title(self), self.table)


def _title(result: WhyShare) -> str:
    return (f"Why the share of {result.cation} moved, {result.before} to {result.after}, "
            f"{result.confidence:.0%} intervals")


def why_share(source: pd.DataFrame | Garden, *, before: str, after: str, bed: str | None = None,
              cation: str = "K", noise: Noise | None = None) -> WhyShare:
    """Say which cation's amount changed and which only its share.

    Parameters
    ----------
    source : DataFrame or Garden
        A tidy frame with computed saturations (:func:`soiltrend.exchange`), or a garden.
    before, after : str
        Seasons ("spring 2023"), years or days.
    bed : str, optional
        One bed; by default all.
    cation : str
        "Ca", "Mg", "K", "Na" or "acidity".
    noise : Noise, optional
        How far results move by themselves.

    Returns
    -------
    WhyShare
        With intervals of 95 %.
        "K% fell because Ca rose" is said only when K itself held, by equivalence, and Ca rose.

    Raises
    ------
    SoiltrendError
        When the cation, the bed or a season is none.

    Examples
    --------
    >>> from soiltrend.frames import results
    >>> from soiltrend.noise import noise_model
    >>> def soil(season, ca):
    ...     masses = {"Ca": ca * 200.4, "Mg": 243.05, "K": 195.49, "acidity": 1.0}
    ...     return [{"bed": "East", "season": season, "analyte": ion, "value": value,
    ...              "method": "" if ion == "acidity" else "Mehlich-3",
    ...              "unit": "cmol/kg" if ion == "acidity" else "mg/kg"} for ion, value in masses.items()]
    >>> rows = results([*soil("spring 2022", 6.0), *soil("spring 2024", 12.0)])
    >>> sure = {ion: {"sd": 0.02, "occasion": 0.0} for ion in ("Ca", "K", "K saturation")}
    >>> found = why_share(rows, before="spring 2022", after="spring 2024",
    ...                   noise=noise_model(overrides=sure))
    >>> found.headlines["sentence"][0][:45]
    'K% fell because Ca rose: K itself held (0.50 '
    """
    if cation not in IONS:
        raise SoiltrendError(f"'{cation}' is no part of a summed exchange capacity",
                             remedy=f"Name one of {', '.join(IONS)}")
    given = take(source, noise)
    check_question(given.results, bed=bed, ends=(before, after), confidence=CONFIDENCE)
    mine = given.results if bed is None else given.results[given.results["bed"] == bed]
    table, heads = _beds(given, mine, (str(before), str(after)), cation, CONFIDENCE)
    return WhyShare(pd.DataFrame(table, columns=COLUMNS), pd.DataFrame(heads, columns=HEADLINES), cation,
                    str(before), str(after), CONFIDENCE)


def _beds(given: Given, mine: pd.DataFrame, ends: tuple[str, str], cation: str,
          confidence: float) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Return the rows and the sentences, bed by bed."""
    sums = capacities(mine)
    match = matched(sums, given.noise, before=ends[0], after=ends[1], what="no shares to compare")
    ions = {ion: by_pair(ion_moves(match, given.noise, ion, confidence=confidence)) for ion in IONS}
    shares = _shares(given, sums, mine, ends, confidence)
    rows: list[dict[str, Any]] = []
    heads: list[dict[str, Any]] = []
    pairs = match.pairs.to_dict("records")
    compared = {named["bed"] for pair, named in enumerate(pairs) if pair in ions["Ca"]}
    for pair, named in enumerate(pairs):
        parts = {ion: table[pair] for ion, table in ions.items() if pair in table}
        place = {name: named[name] for name in PLACE}
        if not parts:
            blank = {**place, "cation": cation, "said": closure.UNSURE,
                     "sentence": f"Not compared: {named['reason']}"}
            heads += [] if named["bed"] in compared else [blank]
            continue
        told = _one(parts, {ion: shares.get((*_place(named), ion)) for ion in parts}, cation, confidence)
        used = match.rows[match.rows["pair"] == pair]
        said, sentence = closure.sentence(cation, told, warned=bool(used["warned"].any()))
        rows += [{**place, **row} for row in told.values()]
        heads.append({**place, "cation": cation, "said": said, "sentence": sentence})
    return rows, heads


def _shares(given: Given, sums: pd.DataFrame, mine: pd.DataFrame, ends: tuple[str, str],
            confidence: float) -> dict[tuple[Any, ...], dict[str, Any]]:
    """Return how each share moved, by bed, laboratory, method of the sum, layer and ion.

    Sums that lime may swell are looked at as well; the sentence says so.
    """
    names = [f"{ion} saturation" for ion in IONS]
    rows = mine[mine["analyte"].isin(names) & (mine["source"] == frames.COMPUTED)]
    free = rows["note"].str.startswith(frames.INFLATED)
    rows = rows.assign(note=rows["note"].mask(free, "looked at although it " + rows["note"]))
    found = compare(rows, before=ends[0], after=ends[1], noise=given.noise, confidence=confidence).table
    found = found[(found["bed"] != frames.GARDEN) & found["bed"].isin(sums["bed"])]
    found = found[found["verdict"] != verdicts.NOT_COMPARABLE]
    records = [{str(name): value for name, value in row.items()} for row in found.to_dict("records")]
    return {(*_place(row), row["analyte"].removesuffix(" saturation")): row for row in records}


def _place(row: Mapping[Any, Any]) -> tuple[Any, ...]:
    """Return bed, laboratory, method and layer; ends that are not told are alike."""
    ends = (np.nan_to_num(row[end], nan=-1.0) for end in ("top_cm", "bottom_cm"))
    return (row["bed"], row["lab"], row["method"], *map(float, ends))


def _one(parts: dict[str, Move], shares: dict[str, Any], cation: str,
         confidence: float) -> dict[str, dict[str, Any]]:
    """Return one bed's rows by ion."""
    bases = {ion: parts[ion] for ion in BASES if ion in parts and np.isfinite(parts[ion]["step"])}
    out = {}
    for ion, row in parts.items():
        share = shares.get(ion) or {}
        half = (_percent(row["step"], row["se"], row["df"], confidence) if row["scale"] == "log"
                else (np.nan, np.nan, np.nan))
        names = ("change", "low", "high", "verdict")
        out[ion] = {
            "ion": ion, "unit": "cmol/kg", "before": row["before"], "after": row["after"],
            "change": row["change"], "verdict": row["verdict"],
            **{name: row[name] for name in ("before_sign", "after_sign")},
            "share_before_sign": share.get("before_censored", ""),
            "share_after_sign": share.get("after_censored", ""),
            **dict(zip(("percent", "percent_low", "percent_high"), half, strict=True)),
            "share_before": share.get("before", np.nan), "share_after": share.get("after", np.nan),
            **{f"share_{name}": share.get(name, "" if name == "verdict" else np.nan) for name in names},
            **_three("centred", *_centred(ion, bases), confidence),
            **_three("additive", *_additive(cation, ion, bases), confidence),
        }
        out[ion]["why"] = closure.row(out[ion])
    return out


def _percent(step: float, se: float, df: float, confidence: float) -> tuple[float, float, float]:
    """Return a step of logarithms and its interval in %."""
    half = float(stdtrit(df, 0.5 + confidence / 2)) * se
    ends = (step, step - half, step + half)
    at, low, high = (round(float(100 * np.expm1(end)), EXACT) + 0.0 for end in ends)
    return at, low, high


def _centred(ion: str, bases: dict[str, Move]) -> tuple[float, float, float]:
    """Return step, error and df of the log of a cation to the geometric mean of the bases."""
    if ion not in bases or len(bases) < 2:
        return np.nan, np.nan, np.nan
    count = len(bases)
    step = bases[ion]["step"] - float(np.mean([row["step"] for row in bases.values()]))
    square = sum(row["se"] ** 2 * (((count - 1) / count) ** 2 if name == ion else 1 / count**2)
                 for name, row in bases.items())
    return step, float(np.sqrt(square)), min(row["df"] for row in bases.values())


def _additive(cation: str, ion: str, bases: dict[str, Move]) -> tuple[float, float, float]:
    """Return step, error and df of the log of the cation asked for to another."""
    if cation == ion or cation not in bases or ion not in bases:
        return np.nan, np.nan, np.nan
    one, two = bases[cation], bases[ion]
    return one["step"] - two["step"], float(np.hypot(one["se"], two["se"])), min(one["df"], two["df"])


def _three(name: str, step: float, se: float, df: float, confidence: float) -> dict[str, float]:
    """Return a log-ratio's change and interval, in 100 log units."""
    half = float(stdtrit(df, 0.5 + confidence / 2)) * se if np.isfinite(step) else np.nan
    ends = {name: step, f"{name}_low": step - half, f"{name}_high": step + half}
    return {key: round(100 * end, EXACT) + 0.0 for key, end in ends.items()}
