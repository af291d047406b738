"""What to aim at, what to stop at, and how to split a dressing: tables read with their sources.

An aim belongs to one extractant and one growing medium; the aims of another are never
offered for it. Sources that disagree all stand in the rows, and :func:`settled` says how far.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import tables, vocabulary
from soiltrend.errors import GardenError, SoiltrendError
from soiltrend.materials import canonical

ANY = "any"
OWN, TABLE = "own", "table"
APPROACHES = ("sufficiency", "saturation")
AIM_KEYS = ("low", "high", "method")
MONTHS = 12
HALF_YEAR = 6
SOUTH = "south"
WHOLE = 100.0
COPIED = "common practice"
"""The evidence of a list that is copied from page to page."""

ROUNDING = 1e-9
"""What a division of floating numbers may be off, as parts of a dressing."""


def _holds(table: pd.DataFrame, method: str, medium: str) -> np.ndarray:
    """Return which rows hold for a method and a medium."""
    by = np.array([method in cell.split(";") for cell in table["method"]], dtype=bool)
    return by & table["medium"].isin([medium, ANY]).to_numpy()


def own_aim(analyte: str, method: str, own: Mapping[str, Any] | None) -> pd.DataFrame:
    """Return the grower's own aim as a row of :func:`aims`; no row when it is by another method.

    Raises
    ------
    GardenError
        When it is no aim.

    Examples
    --------
    >>> own_aim("K", "Olsen", {"K": {"low": 80}})[["low", "origin"]].values.tolist()
    [[80.0, 'own']]
    """
    told = (own or {}).get(analyte)
    if told is None:
        return pd.DataFrame()
    place = f"aims, {analyte}"
    unknown = [key for key in told if key not in AIM_KEYS]
    if unknown:
        raise GardenError(
            f"'{unknown[0]}' is no part of an aim",
            file="garden.toml",
            place=place,
            remedy=f"Write some of: {', '.join(AIM_KEYS)}",
        )
    low, high = (float(told.get(end, np.nan)) for end in ("low", "high"))
    if low > high or (np.isnan(low) and np.isnan(high)):
        raise GardenError(f"low = {low:g}, high = {high:g} is no aim", file="garden.toml", place=place)
    by = vocabulary.find_method(str(told["method"])) if told.get("method") else method
    if by != method:
        return pd.DataFrame()
    row = {"analyte": analyte, "method": method, "low": low, "high": high, "means": "your own aim"}
    unit = vocabulary.canonical_unit(analyte)
    row |= {"unit": unit, "approach": "own", "source": "garden.toml", "evidence": OWN, "origin": OWN}
    return pd.DataFrame([row])


def aims(
    analyte: str,
    method: str,
    medium: str,
    *,
    crop: str | None = None,
    own: Mapping[str, Any] | None = None,
    approach: str = "sufficiency",
) -> pd.DataFrame:
    """Return what to aim at for an analyte by one method in one medium.

    Parameters
    ----------
    analyte, method : str
        As in the tidy frame: "P" by "Mehlich-3"; "Ca saturation" by "summation".
    medium : str
        The bed's growing medium, "mineral soil" or another.
    crop : str, optional
        For pH: "garlic", "bean", "brassica" ...; without it, the aims that hold for vegetables
        in general. A crop no source names gets the general aims too.
    own : mapping, optional
        ``garden.settings["aims"]``: the grower's own aims stand first.
    approach : str
        "sufficiency", or "saturation": one school of thought, whose rows carry the published
        evidence ``against`` it.

    Returns
    -------
    DataFrame
        One row a source: analyte, method, medium, crop, low, high [unit], unit, approach,
        region, means, against, source, evidence, origin ("own" or "table"). Empty when no aim
        is known, see :func:`no_aim`. A unit per litre of scooped soil ("mg/dm3") is not that
        of the tidy frame; convert it with the density of the soil as scooped.

    Raises
    ------
    GardenError
        When the grower's own aim is none.
    SoiltrendError
        When the approach is not known.

    Examples
    --------
    >>> aims("P", "Mehlich-3", "mineral soil")[["low", "high", "region"]].values.tolist()[1:]
    [[50.0, 100.0, 'Delaware'], [25.0, 35.0, 'Iowa, field crops']]
    >>> aims("K", "Olsen", "mineral soil").empty
    True
    """
    if approach not in APPROACHES:
        raise SoiltrendError(f"'{approach}' is no approach", remedy=f"Use one of: {', '.join(APPROACHES)}")
    found, mine = _published(analyte, method, medium, crop or "", approach), own_aim(analyte, method, own)
    if mine.empty:
        return found.copy()
    words = [column for column in found.columns if column not in ("low", "high")]
    rows = pd.concat([mine, found], ignore_index=True)[found.columns]
    return rows.fillna(dict.fromkeys(words, ""))


@lru_cache(maxsize=4096)
def _published(analyte: str, method: str, medium: str, crop: str, approach: str) -> pd.DataFrame:
    """Return the aims of the table, for a crop or, where no source names it, in general.

    A list that is copied from page to page is no source: it stands beside others, never alone.
    """
    table = tables.load("aims", numbers=("low", "high"))
    table = table[(table["analyte"] == analyte) & (table["approach"] == approach)]
    found = table[_holds(table, method, medium)]
    named = (found["crop"] == vocabulary.crop_with_aims(crop)) & (crop != "")
    sourced = (named & (found["evidence"] != COPIED)).any()
    found = found[named if sourced else found["crop"] == ""]
    return found.assign(method=method, origin=TABLE).reset_index(drop=True)


def no_aim(analyte: str, *, method: str, medium: str) -> str:
    """Return the sentence that says that no aim is known.

    Examples
    --------
    >>> no_aim("K", method="Olsen", medium="mineral soil")
    'no aim known for K by Olsen in mineral soil; those of another method or medium do not hold for it'
    """
    by = f" by {method}" if method else " by a method that is not stated"
    return f"no aim known for {analyte}{by} in {medium}; those of another method or medium do not hold for it"


def settled(rows: pd.DataFrame) -> tuple[float, float, str]:
    """Return one aim out of the rows of :func:`aims`, and in words how it came about.

    The grower's own aim goes before all; else the middle of the sources, end by end.

    Parameters
    ----------
    rows : DataFrame
        From :func:`aims`; not empty.

    Returns
    -------
    low, high : float
        Missing where no source gives that end.
    why : str
        Which sources, and how far they disagree.

    Raises
    ------
    SoiltrendError
        When there are no rows.

    Examples
    --------
    >>> settled(aims("P", "Mehlich-3", "mineral soil"))[:2]
    (36.0, 68.5)
    """
    if rows.empty:
        raise SoiltrendError(f"{len(rows)} aims cannot be settled", remedy="Ask no_aim for what to say")
    mine = rows[rows["origin"] == OWN]
    if len(mine):
        return float(mine["low"].iloc[0]), float(mine["high"].iloc[0]), "your own aim (garden.toml)"
    low, high = float(rows["low"].median()), float(rows["high"].median())
    columns = (rows[name] for name in ("low", "high", "unit", "region", "evidence"))
    each = [
        f"{_ends(*ends)} {unit} ({where}, {how})" for *ends, unit, where, how in zip(*columns, strict=True)
    ]
    said = f"{len(each)} sources, middle taken: " if len(each) > 1 else ""
    return low, high, said + "; ".join(each)


def _ends(low: float, high: float) -> str:
    if np.isnan(high):
        return f"from {low:g}"
    return f"up to {high:g}" if np.isnan(low) else f"{low:g} to {high:g}"


def ceilings(analyte: str, method: str, medium: str) -> pd.DataFrame:
    """Return the test values above which nothing is added that brings more.

    Parameters
    ----------
    analyte, method, medium : str
        As in :func:`aims`; "EC", "pH" and "Na saturation" have theirs too.

    Returns
    -------
    DataFrame
        One row a source, lowest first: what, method, limit, unit, stops (what is held back: a
        nutrient, "lime" or "salt"), words, source, evidence. Empty when none is known.

    Examples
    --------
    >>> ceilings("P", "Mehlich-3", "mineral soil")["limit"].tolist()
    [68.5, 100.0, 150.0]
    """
    return _stops(analyte, method, medium).copy()


@lru_cache(maxsize=4096)
def _stops(analyte: str, method: str, medium: str) -> pd.DataFrame:
    table = tables.load("ceilings", numbers=("limit",))
    table = table[(table["of"] == "test") & (table["what"] == analyte)]
    found = table[_holds(table, method, medium)]
    return found.assign(method=method).sort_values("limit", kind="stable").reset_index(drop=True)


def dressing_limits(material: str, *, kind: str = "") -> pd.DataFrame:
    """Return the most of a material, or of its kind, that a bed takes at a time and in a year.

    Parameters
    ----------
    material : str
        Its name or an alias of the reference table; a row of its own goes before its kind's.
    kind : str
        Its kind in the table of materials: "lime", "shell", "meal" ...

    Returns
    -------
    DataFrame
        of ("material" or "kind"), what, per ("dressing" or "year"), limit, unit ("g/m2", or
        "L/m2" for compost), words, source, evidence.

    Examples
    --------
    >>> dressing_limits("builders' lime", kind="lime")[["of", "per", "limit"]].values.tolist()
    [['material', 'dressing', 200.0], ['material', 'year', 400.0]]
    """
    table = tables.load("ceilings", numbers=("limit",))
    mine = table[(table["of"] == "material") & (table["what"] == canonical(material))]
    common = table[(table["of"] == "kind") & (table["what"] == kind) & ~table["per"].isin(mine["per"])]
    return pd.concat([mine, common]).reset_index(drop=True)


def nutrient_limits() -> pd.DataFrame:
    """Return the most of each nutrient that a bed is given at a time and in a year [g/m2].

    Examples
    --------
    >>> nutrient_limits().set_index(["what", "per"]).at[("B", "year"), "limit"]
    np.float64(0.22)
    """
    table = tables.load("ceilings", numbers=("limit",))
    return table[table["of"] == "nutrient"].reset_index(drop=True)


def splitting(
    material: str, *, kind: str = "", nutrients: Sequence[str] = (), hemisphere: str = "north"
) -> pd.DataFrame:
    """Return how a dressing of a material is split and when it is given.

    Parameters
    ----------
    material, kind : str
        As in :func:`dressing_limits`; rules of the material stand before those of its kind.
    nutrients : sequence of str
        What it is a carrier of; their rules stand last.
    hemisphere : str
        "north" or "south"; months are shifted by half a year for the south.

    Returns
    -------
    DataFrame
        rule, of, what, above [g/m2, of a nutrient's rule grams of the nutrient] (the rule holds from
        there), parts, gap_days, months and avoid_months (tuples of 1 to 12, empty when any month will
        do), before_sowing_days, before_harvest_days, spares (a tuple of crops that get none of it),
        words, source, evidence.

    Raises
    ------
    SoiltrendError
        When the hemisphere is neither.

    Examples
    --------
    >>> splitting("epsom salt")[["parts", "gap_days", "months"]].values.tolist()
    [[2.0, 120.0, (4, 5, 6, 7, 8)]]
    """
    carried = (("nutrient", nutrient) for nutrient in nutrients)
    return _rules(("material", canonical(material)), ("kind", kind), *carried, hemisphere=hemisphere)


def least_parts(grams: float, *, held: Sequence[Mapping[Any, Any]], at_once: float) -> int:
    """Return into how many parts a dressing is split at least.

    Parameters
    ----------
    grams : float
        g/m2.
    held : sequence of mapping
        The rules of :func:`splitting` that hold for so much, as records.
    at_once : float
        The most at a time [g/m2]; missing where there is none.

    Examples
    --------
    >>> least_parts(600.0, held=[{"parts": 2.0}], at_once=250.0), least_parts(90.0, held=[], at_once=np.nan)
    (3, 1)
    """
    by_limit = int(np.ceil(grams / at_once - ROUNDING)) if at_once > 0 else 1
    return max([1, by_limit, *(int(rule["parts"]) for rule in held)])


def _rules(*wanted: tuple[str, str], hemisphere: str) -> pd.DataFrame:
    if hemisphere not in ("north", SOUTH):
        raise SoiltrendError(f"'{hemisphere}' is no hemisphere", remedy='Write "north" or "south"')
    numbers = ("above", "parts", "gap_days", "before_sowing_days", "before_harvest_days")
    table = tables.load("splitting", numbers=numbers)
    found = [table[(table["of"] == of) & (table["what"] == what)] for of, what in wanted]
    rows = pd.concat(found).reset_index(drop=True)
    shift = HALF_YEAR if hemisphere == SOUTH else 0
    for column in ("months", "avoid_months"):
        rows[column] = pd.Series([_months(cell, shift) for cell in rows[column]], dtype="object")
    spared = [tuple(filter(None, cell.split(";"))) for cell in rows["spares"]]
    rows["spares"] = pd.Series(spared, dtype="object")
    return rows


def _months(cell: str, shift: int) -> tuple[int, ...]:
    return tuple((int(month) + shift - 1) % MONTHS + 1 for month in cell.split(";") if month)
