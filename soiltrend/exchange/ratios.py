"""One analyte against another: charge against charge, mass against mass, atoms against atoms."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pandas as pd

from soiltrend import frames, tables, units, vocabulary
from soiltrend.exchange.bounds import derived, join_notes, measured, say, settle, told_gaps, warnings

UNIT = "ratio"
WORDS = {"charge": "cmol of charge per kg", "mass": "the same unit of mass", "moles": "atoms (moles)"}
"""What is divided by what, in words, for each basis of ``tables/ratios.csv``."""


def ratios(results: pd.DataFrame) -> pd.DataFrame:
    """Return the frame plus the ratios of ``tables/ratios.csv`` that it allows.

    Parameters
    ----------
    results : DataFrame
        A tidy frame; it is left as it is.

    Returns
    -------
    DataFrame
        The frame, then one row for each composite, ratio and extractant: the basis stands in
        the name ("Ca:Mg (charge)"), the unit is "ratio", and ``place`` says what was divided
        by what. Rows computed earlier are replaced.

    Raises
    ------
    FrameError
        When the frame is not tidy.

    Notes
    -----
    - Both sides of a ratio are measured on the same composite. Cations must share their
      extractant, which is the method of the row; P:Zn and the ratios of carbon may take two
      methods where none measured both, and then name both ("Olsen / DTPA").
    - A numerator below its limit makes the ratio "<", a denominator below its limit ">"; with
      both below, or a denominator of 0, there is none. See :func:`ratio_gaps`.
    - Ratios with Ca carry the warning of ``frames.INFLATED`` where lime may swell it.

    Examples
    --------
    >>> frame = frames.results([
    ...     {"bed": "East", "analyte": name, "method": "Mehlich-3", "value": value, "unit": "mg/kg"}
    ...     for name, value in {"Ca": 2003.9, "Mg": 243.05}.items()])
    >>> ratios(frame).iloc[2:][["analyte", "value"]].round(2).to_numpy().tolist()
    [['Ca:Mg (charge)', 5.0], ['Ca:Mg (mass)', 8.24]]
    """
    frame = _reported(results)
    found = _found(frame)
    rows = derived(frame, found[found["value"].notna()].drop(columns="gap"))
    return frames.join(frame.drop(columns="composite"), rows)


def ratio_gaps(results: pd.DataFrame) -> pd.DataFrame:
    """Return the ratios that could not be formed although both sides were measured, and why.

    Returns
    -------
    DataFrame
        The columns of ``frames.COMPOSITE``, analyte (the ratio's name) and ``reason``.

    Raises
    ------
    FrameError
        When the frame is not tidy.

    Examples
    --------
    >>> two = frames.results([
    ...     {"bed": "East", "analyte": "Ca", "method": "Mehlich-3", "value": 900, "unit": "mg/kg"},
    ...     {"bed": "East", "analyte": "Mg", "method": "Morgan", "value": 90, "unit": "mg/kg"}])
    >>> ratio_gaps(two)["reason"].unique().tolist()
    ['Ca and Mg were not measured by the same method']
    """
    frame = _reported(results)
    found = _found(frame)
    gaps = found[found["value"].isna()].set_index("composite")
    return told_gaps(frame, gaps["gap"]).assign(analyte=gaps["analyte"].to_numpy())


@lru_cache(maxsize=None)
def _table() -> pd.DataFrame:
    return tables.load("ratios")


def _reported(results: pd.DataFrame) -> pd.DataFrame:
    """Return the checked frame without ratios computed here before, with composite numbers."""
    frames.check(results)
    ours = (results["source"] == frames.COMPUTED) & results["analyte"].isin(_table()["ratio"])
    frame = results[~ours].reset_index(drop=True)
    return frame.assign(composite=frames.composites(frame))


@lru_cache(maxsize=None)
def _scale(analyte: str, basis: str) -> float:
    """Return what turns an analyte's canonical amount into that of the ratio's basis."""
    if basis == "charge":
        return units.factor("mg/kg", "cmol/kg", analyte=analyte)
    if basis == "moles":
        return 1 / units.molar_mass(vocabulary.facts(analyte)["element"])
    return 1.0


def _side(amounts: pd.DataFrame, side: str, basis: str) -> pd.DataFrame:
    """Return one side of a ratio, its parts added up, by composite and method.

    Returns
    -------
    DataFrame
        composite, method, low, at, high, n; only where every part was measured.
    """
    parts = side.split("+")
    rows = amounts[amounts["analyte"].isin(parts)]
    scale = rows["analyte"].map({part: _scale(part, basis) for part in parts}).astype(float)
    low, high = rows["low"] * scale, rows["high"] * scale
    rows = rows.assign(low=low, high=high, at=high.where(np.isfinite(high), low))
    if len(parts) == 1:  # nothing to add up: a composite has one row a method
        return rows[["composite", "method", "low", "at", "high", "n"]]
    groups = rows.groupby(["composite", "method"], sort=False)
    out = groups.agg(low=("low", "sum"), at=("at", "sum"), high=("high", "sum"), n=("n", "max"),
                     parts=("low", "size")).reset_index()
    return out[out.pop("parts") == len(parts)]


def _paired(top: pd.DataFrame, bottom: pd.DataFrame, row: dict[str, str]) -> pd.DataFrame:
    """Return numerators beside their denominators, with a gap where the methods do not fit."""
    pairs = top.merge(bottom, on="composite", suffixes=("", "_2"))
    same = pairs["method"] == pairs["method_2"]
    if row["method"]:
        return pairs[same & (pairs["method"] == row["method"])].assign(gap="")
    other = pairs[~pairs["composite"].isin(pairs.loc[same, "composite"])]
    if row["pairing"] == "same":
        sides = [row[side].replace("+", ", ") for side in ("numerator", "denominator")]
        other = other.drop_duplicates("composite").assign(
            gap=f"{' and '.join(sides)} were not measured by the same method")
    else:
        names = [other[column].replace("", "not stated") for column in ("method", "method_2")]
        other = other.assign(method=names[0] + " / " + names[1], gap="")
    return pd.concat([pairs[same].assign(gap=""), other])


def _parts(row: dict[str, str]) -> list[str]:
    """Return the analytes of both sides of a ratio."""
    return f"{row['numerator']}+{row['denominator']}".split("+")


def _ratio(amounts: pd.DataFrame, row: dict[str, str]) -> pd.DataFrame:
    """Return one ratio of the table for every composite that has both its sides."""
    top, bottom = (_side(amounts, row[side], row["basis"]) for side in ("numerator", "denominator"))
    pairs = _paired(top, bottom, row)
    with np.errstate(divide="ignore", invalid="ignore"):
        bounds = pd.DataFrame({"low": pairs["low"] / pairs["high_2"], "at": pairs["at"] / pairs["at_2"],
                               "high": pairs["high"] / pairs["low_2"]})
    below = (pairs[["low", "low_2"]] < 0).any(axis=1)
    bounds = bounds.mask((pairs["gap"] != "") | below | (pairs["at_2"] <= 0))
    settled = settle(bounds, cap=np.inf)
    fallback = say("a side is zero or below, or both are below their limits", settled["value"].isna())
    return settled.assign(
        composite=pairs["composite"], analyte=row["ratio"], method=pairs["method"], unit=UNIT,
        place=f"{row['numerator']} / {row['denominator']}, both in {WORDS[row['basis']]}",
        gap=pairs["gap"].where(pairs["gap"] != "", fallback),
        note=say("repeated results are averaged", (pairs[["n", "n_2"]] > 1).any(axis=1)))


def _found(frame: pd.DataFrame) -> pd.DataFrame:
    """Return all ratios of a frame, those that could not be formed with why."""
    every = [{str(name): str(cell) for name, cell in row.items()} for row in _table().to_dict("records")]
    amounts = measured(frame, sorted({part for row in every for part in _parts(row)}))
    there = set(amounts["analyte"])
    able = [row for row in every if there.issuperset(_parts(row))]
    rows = pd.concat([_ratio(amounts, row) for row in able or every[:1]], ignore_index=True)
    told = warnings(frame, pd.Index(rows["composite"].unique()))
    holds_calcium = rows["analyte"].isin(_table().loc[_table()["ratio"].str.contains(r"\bCa\b"), "ratio"])
    warned = rows["composite"].map(told).where(holds_calcium, "").fillna("").astype("str")
    return rows.assign(note=join_notes(warned, rows["note"])).sort_values("composite", kind="stable")
