"""Exchange capacity by summation, and the share of each cation in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import frames, units
from soiltrend.exchange.acidity import acidities, formula
from soiltrend.exchange.bounds import (
    TO_PERCENT,
    derived,
    join_notes,
    measured,
    say,
    settle,
    told_gaps,
    warnings,
)

BASES = ("Ca", "Mg", "K", "Na")
NEEDED = ("Ca", "Mg", "K")
"""The cations without which there is no sum; Na counts when it was measured alike."""

ACIDITY = "acidity"
IONS = (*BASES, ACIDITY)
OWN = ("CEC", ACIDITY, *(f"{ion} saturation" for ion in IONS), "base saturation")
SUMMATION = "summation"
REFERENCE = "ammonium acetate"
"""The extractant by which exchangeable cations are defined (source: tables/methods.csv)."""

UNSTATED = "extractant not stated"
SERIES = ["bed", "lab", "top_cm", "bottom_cm"]


def exchange(results: pd.DataFrame, *, acidity: str = "lab") -> pd.DataFrame:
    """Return the frame plus exchange capacity by summation and the saturations.

    Parameters
    ----------
    results : DataFrame
        A tidy frame; it is left as it is.
    acidity : str
        Where the acidity of the sum comes from: ``"lab"``, as the laboratory reports it;
        ``"none"``, bases alone; or a buffer formula of ``tables/acidity.csv`` (``"SMP"``,
        ``"Adams-Evans"`` ...), used on readings of that buffer only.

    Returns
    -------
    DataFrame
        The frame, then for each composite with all it takes: CEC [cmol/kg], the saturations
        of Ca, Mg, K, Na and acidity and the base saturation [%], method "summation", and
        acidity [cmol/kg] when it comes from a formula, by the method of its buffer. Rows
        computed earlier are replaced.

    Raises
    ------
    FrameError
        When the frame is not tidy.
    SoiltrendError
        When the formula is not known, or no sample was measured with its buffer.

    Notes
    -----
    - The cations of a sum share one extractant, and ``place`` names it (:func:`extractant`).
      Ca, Mg and K are needed; Na counts when measured alike. Sums by the extractant that the
      laboratory used for most samples (ammonium acetate first among equals) have the method
      "summation"; sums by another have it in the name, "summation (Mehlich-3)", so that a
      series breaks where the extractant changed. A sample measured by both gives one sum.
    - Without an acidity there is no sum, unless pH is 7 or more or the buffer pH is at its
      reference: then acidity is 0. Acidity never goes below 0. See :func:`exchange_gaps`.
    - A value below its limit counts at the limit; where that could move the result by more
      than the small share of ``tables/guards.csv``, the result is itself "<" or ">".
    - A note that begins with ``frames.INFLATED`` tells that lime or salts may push the sum
      up; ``frames.FORMULA_CHANGED`` that the acidity in a bed's sums is not of one kind.
    - A laboratory's own CEC and saturations stay beside these. Where it calls its method
      "summation" too, its row is renamed "summation (lab)", so that no series mixes two
      formulas.

    Examples
    --------
    >>> rows = [{"bed": "East", "analyte": name, "method": "Mehlich-3", "value": value, "unit": "mg/kg"}
    ...         for name, value in {"Ca": 1603.12, "Mg": 243.05, "K": 195.49}.items()]
    >>> acid = {"bed": "East", "analyte": "acidity", "value": 1.5, "unit": "cmol/kg"}
    >>> frame = exchange(frames.results([*rows, acid]))
    >>> frame.loc[frame["source"] == "computed", ["analyte", "value"]].round(2).to_numpy().tolist()[:3]
    [['CEC', 12.0], ['Ca saturation', 66.67], ['Mg saturation', 16.67]]
    """
    frame = _reported(results)
    sums = _summed(frame, acidity)
    wanted = formula(acidity)
    parts = [_capacity(sums), *(_share(sums, ion) for ion in IONS), _share(sums, *BASES)]
    parts += [] if wanted is None else [_acidity(sums, wanted)]
    rows = derived(frame, pd.concat(parts).sort_index(kind="stable").reset_index())
    return frames.join(_renamed(frame.drop(columns="composite"), rows), rows)


def exchange_gaps(results: pd.DataFrame, *, acidity: str = "lab") -> pd.DataFrame:
    """Return the composites that :func:`exchange` gives no exchange capacity, and why.

    Parameters
    ----------
    results : DataFrame
        A tidy frame.
    acidity : str
        As in :func:`exchange`.

    Returns
    -------
    DataFrame
        One row for each composite with a cation or an acidity but no sum: the columns of
        ``frames.COMPOSITE`` and ``reason``.

    Raises
    ------
    SoiltrendError
        As :func:`exchange`.

    Examples
    --------
    >>> calcium = frames.results([{"bed": "East", "analyte": "Ca", "value": 900, "unit": "mg/kg"}])
    >>> exchange_gaps(calcium)["reason"][0]
    'not measured: Mg, K'
    """
    frame = _reported(results)
    _, facts = _made_of(frame, acidity)
    return told_gaps(frame, facts.loc[facts["gap"] != "", "gap"])


def extractant(results: pd.DataFrame) -> pd.Series:
    """Return the extractant behind each row that :func:`exchange` computed, blank elsewhere.

    Two sums are alike only when this is.

    Examples
    --------
    >>> extractant(pd.DataFrame({"source": "computed",
    ...                          "place": ["sum of Ca, Mg, K by Olsen, with no acidity", ""]})).tolist()
    ['Olsen', '']
    """
    named = results["place"].str.extract(r"sum of .+? by (.+?), with")[0].fillna("").replace(UNSTATED, "")
    return named.where(results["source"] == frames.COMPUTED, "").astype("str")


def inflated(results: pd.DataFrame) -> pd.Series:
    """Return which rows carry the warning that undissolved lime or salts may push them up.

    Examples
    --------
    >>> inflated(frames.results([{"note": "may be inflated: pH 7.9"}, {"note": ""}])).tolist()
    [True, False]
    """
    return results["note"].str.contains(frames.INFLATED, regex=False).astype(bool)


@dataclass(frozen=True, eq=False)
class _Sums:
    """What the sums are made of, by composite.

    Attributes
    ----------
    low, at, high : DataFrame
        Both ends of each ion's charge and the figure printed [cmol/kg]; missing when the ion
        is not counted.
    facts : DataFrame
        extractant, method, several, words, kind, gap and note.
    """

    low: pd.DataFrame
    at: pd.DataFrame
    high: pd.DataFrame
    facts: pd.DataFrame


def _reported(results: pd.DataFrame) -> pd.DataFrame:
    """Return the checked frame without rows computed here before, with composite numbers."""
    frames.check(results)
    ours = (results["source"] == frames.COMPUTED) & results["analyte"].isin(OWN)
    frame = results[~ours].reset_index(drop=True)
    return frame.assign(composite=frames.composites(frame))


def _amounts(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the interval of each base cation by composite and method [cmol/kg]."""
    amounts = measured(frame, BASES)
    each = {ion: units.factor("mg/kg", "cmol/kg", analyte=ion) for ion in BASES}
    charge = amounts["analyte"].map(each).astype(float)  # without a row it would be text
    return amounts.assign(low=amounts["low"] * charge, high=amounts["high"] * charge)


def _chosen(frame: pd.DataFrame, amounts: pd.DataFrame) -> pd.DataFrame:
    """Return the extractant of each composite: the one its laboratory completes most sums by.

    Returns
    -------
    DataFrame
        Indexed by composite: extractant; method, which names it unless it is the laboratory's
        main one; and several, whether another extractant would have done.
    """
    needed = amounts[amounts["analyte"].isin(NEEDED)].groupby(["composite", "method"]).size()
    table = needed[needed == len(NEEDED)].index.to_frame(index=False).rename(columns={"method": "extractant"})
    table = table.join(frame.drop_duplicates("composite").set_index("composite")["lab"], on="composite")
    table["uses"] = table.groupby(["lab", "extractant"])["composite"].transform("size")
    table["rank"] = np.select([table["extractant"] == REFERENCE, table["extractant"] == ""], [0, 2], 1)
    table["several"] = table["composite"].duplicated(keep=False)
    table = table.sort_values(["uses", "rank", "extractant"], ascending=[False, True, True])
    main = table["extractant"] == table.groupby("lab")["extractant"].transform("first")
    name = table["extractant"].replace("", UNSTATED)
    table["method"] = (SUMMATION + " (" + name + ")").mask(main, SUMMATION)
    return table.drop_duplicates("composite").set_index("composite")[["extractant", "method", "several"]]


def _made_of(frame: pd.DataFrame, acidity: str) -> tuple[dict[str, pd.DataFrame], pd.DataFrame]:
    """Return the ends of every ion's charge, and the facts of :class:`_Sums`, where known.

    One row for each composite with a cation or an acidity.
    """
    amounts = _amounts(frame)
    every = pd.Index(np.sort(frame.loc[frame["analyte"].isin(IONS), "composite"].unique()), name="composite")
    acid = acidities(frame, every, acidity=acidity)
    facts = acid[["words", "kind"]].join(_chosen(frame, amounts))
    used = amounts.merge(facts["extractant"].rename("method").reset_index(), on=["composite", "method"])
    wide = {end: used.pivot_table(index="composite", columns="analyte", values=end, aggfunc="first")
            for end in ("low", "high")}
    ends = {end: table.reindex(index=every, columns=list(BASES)).assign(acidity=acid[end])
            for end, table in wide.items()}
    ends["at"] = ends["high"].where(np.isfinite(ends["high"]), ends["low"])
    facts["gap"] = _gaps(amounts, ends["at"], facts["extractant"], acid["gap"])
    facts["repeats"] = used[used["n"] > 1].groupby("composite").size().reindex(every).notna()
    facts["note"] = acid["note"]
    return ends, facts


def _gaps(amounts: pd.DataFrame, at: pd.DataFrame, used: pd.Series, acid: pd.Series) -> pd.Series:
    """Return why a composite has no sum; blank where it has one."""
    there = {ion: at.index.isin(amounts.loc[amounts["analyte"] == ion, "composite"]) for ion in NEEDED}
    lacks = join_notes(*(say(ion, pd.Series(~have, index=at.index)) for ion, have in there.items()), by=", ")
    below = at.lt(0).any(axis=1) | at.index.isin(amounts.loc[amounts["low"] < 0, "composite"])
    return pd.Series(np.select(
        [below, lacks != "", used.isna(), acid != "", at.sum(axis=1) == 0],
        ["a cation or the acidity is reported below zero", "not measured: " + lacks,
         "Ca, Mg and K do not share one method; if they were measured alike, say so in report.toml (methods)",
         acid, "all cations are reported as zero"], ""), index=at.index, dtype="str")


def _summed(frame: pd.DataFrame, acidity: str) -> _Sums:
    """Return what the sums that can be made are made of, with their notes."""
    ends, facts = _made_of(frame, acidity)
    made = facts["gap"] == ""
    low, at, high = (ends[end][made] for end in ("low", "at", "high"))
    facts = facts[made]
    note = join_notes(
        _warned(frame, facts.index), _changed(frame, facts), facts["note"],
        say("Na was not measured by the same method and is not counted", at["Na"].isna()),
        say("repeated results are averaged", facts["repeats"]),
        say("the cations were also measured by another extractant, not used here", facts["several"].eq(True)),
        *(say(f"{ion} is below its limit and counts at that limit", low[ion] < at[ion]) for ion in IONS),
        *(say(f"{ion} is above its limit and counts at that limit", high[ion] > at[ion]) for ion in IONS))
    return _Sums(low, at, high, facts.assign(note=note))


def _warned(frame: pd.DataFrame, composites: pd.Index) -> pd.Series:
    told = warnings(frame, composites)
    consequence = "; CEC can read too high, and the shares of it are not to be relied on"
    return told.where(told == "", told + consequence)


def _changed(frame: pd.DataFrame, facts: pd.DataFrame) -> pd.Series:
    """Return a note where the sums of one series differ in their kind of acidity."""
    where = frame.drop_duplicates("composite").set_index("composite")[SERIES].loc[facts.index]
    table = where.assign(method=facts["method"], kind=facts["kind"].replace("", None))
    kinds = table.groupby([*SERIES, "method"], dropna=False)["kind"].transform("nunique")
    return say(f"{frames.FORMULA_CHANGED} the acidity in this bed's sums is not of one kind (see place); "
               "compare only those made alike", kinds > 1)


def _sum_of(sums: _Sums) -> pd.Series:
    """Return the sum in words: its ions, extractant and acidity."""
    named = sums.facts["extractant"].replace("", UNSTATED)
    with_sodium = say(", Na", sums.at["Na"].notna())
    return "sum of Ca, Mg, K" + with_sodium + " by " + named + ", " + sums.facts["words"]


def _rows(sums: _Sums, bounds: pd.DataFrame, analyte: str, place: pd.Series) -> pd.DataFrame:
    """Return the rows of one analyte, computed by summation, for its intervals."""
    percent = analyte != "CEC"
    settled = settle(bounds, cap=TO_PERCENT if percent else np.inf)
    out = settled.assign(analyte=analyte, method=sums.facts["method"], unit="%" if percent else "cmol/kg",
                         place=place, note=sums.facts["note"])
    return out[out["value"].notna()]


def _capacity(sums: _Sums) -> pd.DataFrame:
    bounds = pd.DataFrame({end: getattr(sums, end).sum(axis=1) for end in ("low", "at", "high")})
    return _rows(sums, bounds, "CEC", _sum_of(sums))


def _share(sums: _Sums, *ions: str) -> pd.DataFrame:
    """Return the share of one ion, or of the bases together, in the sum [%]."""
    parts, rests = {}, {}
    for end in ("low", "at", "high"):
        table = getattr(sums, end)
        parts[end] = table[list(ions)].sum(axis=1, min_count=1)
        rests[end] = table.drop(columns=list(ions)).sum(axis=1)
    against = {"low": "high", "at": "at", "high": "low"}
    bounds = pd.DataFrame({end: TO_PERCENT * parts[end] / (parts[end] + rests[other])
                           for end, other in against.items()})
    bounds["high"] = bounds["high"].mask(np.isinf(parts["high"]), TO_PERCENT)
    name, what = (f"{ions[0]} saturation", ions[0]) if len(ions) == 1 else ("base saturation", "bases")
    return _rows(sums, bounds, name, f"{what} in 100 parts of the " + _sum_of(sums))


def _acidity(sums: _Sums, wanted: pd.Series) -> pd.DataFrame:
    """Return the acidities that a buffer formula gave, by the method of that buffer."""
    own = sums.facts["kind"] == wanted["formula"]
    bounds = pd.DataFrame({end: getattr(sums, end).loc[own, ACIDITY] for end in ("low", "at", "high")})
    place = sums.facts["words"].str.removeprefix("with ") + f", not below {wanted['floor']:g}"
    return _rows(sums, bounds, ACIDITY, place).assign(method=wanted["buffer"], unit="cmol/kg", note="")


def _renamed(kept: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    """Return reported rows, those renamed that would share a series with a computed one."""
    ours = pd.MultiIndex.from_frame(rows[["analyte", "method"]].drop_duplicates())
    same = kept["analyte"].isin(OWN)
    same[same] = pd.MultiIndex.from_frame(kept.loc[same, ["analyte", "method"]]).isin(ours)
    if not same.any():
        return kept
    note = join_notes(kept["note"], say("the laboratory's own figure, by its own formula", same))
    return kept.assign(method=kept["method"].where(~same, kept["method"] + " (lab)"), note=note)
