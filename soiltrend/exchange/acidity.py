"""The acidity of a sum of cations: as reported, from a buffer pH, or none."""

from __future__ import annotations

import numpy as np
import pandas as pd

from soiltrend import tables, units, vocabulary
from soiltrend.errors import SoiltrendError
from soiltrend.exchange.bounds import highest, limit, measured, say

LAB, NONE = "lab", "none"
COLUMNS = ("words", "kind", "gap", "note")
NOT_COUNTED = "acidity is not counted: the shares are of the bases alone, which are 100 % by definition"
TAKEN_AS_ZERO = "acidity was not measured and is taken as 0 because "
WHATEVER = "acidity is taken as 0, whatever the buffer reads, because "


def formulas() -> pd.DataFrame:
    """Return the buffer formulas of ``tables/acidity.csv``, by name.

    Examples
    --------
    >>> formulas().loc["Adams-Evans", "slope"]
    np.float64(8.0)
    """
    table = tables.load("acidity", numbers=("reference_pH", "slope", "floor"))
    return table.set_index("formula", drop=False)


def formula(acidity: str) -> pd.Series | None:
    """Return the buffer formula of that name, or None for "lab" and "none".

    Raises
    ------
    SoiltrendError
        When there is none of that name.

    Examples
    --------
    >>> formula("lab") is None, formula("SMP buffer")["formula"]
    (True, 'SMP')
    """
    if acidity in (LAB, NONE):
        return None
    table = formulas()
    name = acidity if acidity in table.index else vocabulary.find_method(acidity)
    if name not in table.index:
        known = ", ".join(f"'{text}'" for text in (LAB, NONE, *table.index))
        raise SoiltrendError(f"'{acidity}' is no way known here to tell the acidity",
                             remedy=f"Use one of {known}.")
    return table.query("formula == @name").iloc[0]


def acidities(frame: pd.DataFrame, composites: pd.Index, *, acidity: str) -> pd.DataFrame:
    """Return the acidity that goes into the sum of each composite.

    Parameters
    ----------
    frame : DataFrame
        A tidy frame with the column ``composite``.
    composites : Index
        The composites wanted.
    acidity : str
        "lab", "none" or a formula's name.

    Returns
    -------
    DataFrame
        Indexed by composite: low and high [cmol/kg], missing when acidity is not counted or
        not known; words for the formula; kind, blank when there is no acidity to compare;
        gap, why it is not known; and note.
    """
    wanted = formula(acidity)
    if acidity == NONE:
        blank = {"low": np.nan, "high": np.nan, "words": "without acidity", "kind": "", "gap": ""}
        same = pd.DataFrame({**blank, "note": NOT_COUNTED}, index=composites)
        return same.astype(dict.fromkeys(COLUMNS, "str"))
    found = _as_reported(frame) if wanted is None else _by_formula(frame, wanted)
    found = found.reindex(composites)
    found[list(COLUMNS)] = found[list(COLUMNS)].fillna("").astype("str")
    return _completed(frame, found, wanted)


def _as_reported(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the acidity the laboratory reports; a gap where it reports several kinds."""
    rows = measured(frame, ["acidity"])
    several = rows[rows["composite"].duplicated(keep=False)]
    named = several["method"].replace("", "not stated").groupby(several["composite"]).agg(", ".join)
    first = rows.drop_duplicates("composite").set_index("composite")
    by = first["method"].where(first["method"] == "", " by " + first["method"])
    many = first.index.isin(named.index)
    return pd.DataFrame({
        "low": first["low"], "high": first["high"], "words": "with acidity as reported" + by,
        "kind": "reported" + by, "note": "",
        "gap": ("acidity is reported by several methods (" + named.reindex(first.index)
                + "); keep the rows of one").where(many, "")})


def _by_formula(frame: pd.DataFrame, wanted: pd.Series) -> pd.DataFrame:
    """Return the acidity by a formula on the readings of its own buffer, never below its floor."""
    buffers = frame[frame["analyte"] == "buffer pH"]
    rows = measured(buffers[buffers["method"] == wanted["buffer"]], ["buffer pH"]).set_index("composite")
    if rows.empty and len(frame):
        others = ", ".join(f"'{name}'" for name in sorted(buffers["method"].unique())) or "none at all"
        raise SoiltrendError(
            f"no sample has a buffer pH by '{wanted['buffer']}'; buffers found: {others}",
            remedy="Use the formula of the buffer that was used; if the reports do not name it, say it under "
                   f"methods in report.toml (\"buffer pH\" = \"{wanted['buffer']}\")")
    reference, slope = wanted["reference_pH"], wanted["slope"]
    low = (slope * (reference - rows["high"])).clip(lower=wanted["floor"])
    high = (slope * (reference - rows["low"])).clip(lower=wanted["floor"]).where(rows["low"] > 0, np.inf)
    words = f"{slope:g} x ({reference:g} - {wanted['buffer']} buffer pH)"
    out = pd.DataFrame({"low": low, "high": high, "words": f"with acidity {words}", "kind": wanted["formula"],
                        "gap": "", "note": ""})
    return out if wanted["unit"] == "cmol/kg" else _per_mass(frame, out, str(wanted["unit"]))


def _per_mass(frame: pd.DataFrame, found: pd.DataFrame, unit: str) -> pd.DataFrame:
    """Return acidities per volume of scooped soil in cmol/kg, by the density that was reported."""
    density = measured(frame, ["scoop density"]).groupby("composite")["low"].mean().reindex(found.index)
    at_one = units.factor(unit, "cmol/kg", bulk_density=1.0)
    gap = say(f"the formula gives acidity in {unit}, and no density of the soil as scooped is reported",
              density.isna())
    return found.assign(low=found["low"] * at_one / density, high=found["high"] * at_one / density, gap=gap)


def _no_acidity(frame: pd.DataFrame, composites: pd.Index, wanted: pd.Series | None) -> pd.Series:
    """Return why acidity can be taken as none: by pH, or by a buffer at its reference."""
    neutral = limit("no acidity")
    by_pH = highest(frame, "pH").reindex(composites) >= neutral
    told = say(f"pH is {neutral:g} or more", by_pH)
    if wanted is not None:
        return told
    reference = frame["method"].map(formulas().set_index("buffer")["reference_pH"]).astype(float)
    at_end = (frame["analyte"] == "buffer pH") & (frame["value"] >= reference) & (frame["qualifier"] != "<")
    by_buffer = pd.Series(composites.isin(frame.loc[at_end, "composite"]), index=composites)
    return told.where(told != "", say("the buffer pH did not fall from its reference", by_buffer))


def _completed(frame: pd.DataFrame, found: pd.DataFrame, wanted: pd.Series | None) -> pd.DataFrame:
    """Return acidities with 0 where there can be none, and a gap where it is not known.

    What a laboratory reports stands as it is; a formula gives none where pH tells that there is none.
    """
    why = _no_acidity(frame, found.index, wanted)
    blank = found["low"].isna() & (found["gap"] == "")
    none = (why != "") & (blank | (wanted is not None))
    note = pd.Series(np.where(blank, TAKEN_AS_ZERO, WHATEVER), index=found.index) + why
    out = found.assign(low=found["low"].mask(none, 0.0), high=found["high"].mask(none, 0.0),
                       words=found["words"].mask(none, "with no acidity"), kind=found["kind"].mask(none, ""),
                       gap=found["gap"].mask(none, ""), note=found["note"].mask(none, note))
    lacking = "no acidity is reported" if wanted is None else f"there is no buffer pH by {wanted['buffer']}"
    told = f"{lacking}, and pH is below {limit('no acidity'):g} or not known"
    unknown = told + (_fitting(frame, found.index) if wanted is None else "")
    return out.assign(gap=out["gap"].mask(blank & ~none, unknown))


def _fitting(frame: pd.DataFrame, composites: pd.Index) -> pd.Series:
    """Return, for each composite, which formula its buffer pH would allow; blank when none."""
    buffer = frame[(frame["analyte"] == "buffer pH") & frame["method"].isin(formulas()["buffer"])]
    method = buffer.groupby("composite")["method"].first().reindex(composites).fillna("")
    return ("; its buffer pH would give one: acidity = '" + method + "'").where(method != "", "")
