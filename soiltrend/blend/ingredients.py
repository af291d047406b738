"""What goes into a blend: names, dicts or a table become one row a material, with all its figures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import tables
from soiltrend.errors import SoiltrendError
from soiltrend.folder import check_keys
from soiltrend.materials import COLUMNS, known_materials, limits, material
from soiltrend.materials.reference import NUMBERS, QUANTITIES, ends, key, names, nearest

FILE = "ingredients"
WATER = "water"
FIGURES = ("moisture", "C", "N", "density")
AMOUNTS = ("kg", "litres", "buckets")
BOUNDS = ("min", "max")
KEYS = (
    "material",
    "CN",
    *(name for figure in FIGURES for name in ends(figure)),
    *AMOUNTS,
    *BOUNDS,
    "unit",
    "measured",
)
AGREE = 0.05
"""How far C over N may lie from a C:N that is given beside both, as a share: rounding of printed figures
(judgement, common practice)."""

WHOLE = 100.0
Ingredients = Sequence[str | Mapping[str, Any]] | pd.DataFrame


@dataclass(frozen=True, eq=False)
class Part:
    """One ingredient as it is understood.

    Attributes
    ----------
    row : Series
        Its figures, in the columns of :func:`soiltrend.materials.known_materials`.
    low, high : float
        How much of it there may be [kg, wet]; the same when it is fixed.
    given : str
        "fixed", "bounded" or "free".
    assumed : str
        What was taken for granted, in words.
    likely : mapping
        The likely value of each quantity, NaN when it is not known.
    """

    row: pd.Series
    low: float
    high: float
    given: str
    assumed: str
    likely: Mapping[str, float]

    def figure(self, name: str) -> float:
        """Return the likely value of a quantity, NaN when it is not known."""
        return self.likely[name]


FROM = {
    "table": "all figures as in the tables",
    "own, rest from table": "what your list lacks is as in the tables",
}
"""What is taken for granted of a material by its origin, where nothing is given with it."""


@dataclass(frozen=True)
class Range:
    """What is acceptable and what is ideal of one measure of a heap."""

    low: float
    ideal_low: float
    ideal_high: float
    high: float


@lru_cache(maxsize=None)
def heap(measure: str) -> Range:
    """Return what is asked of a heap: of its C:N, its moisture [%], or the usual carbon [% dry].

    Examples
    --------
    >>> heap("C:N")
    Range(low=20.0, ideal_low=25.0, ideal_high=35.0, high=40.0)
    """
    columns = ("low", "ideal_low", "ideal_high", "high")
    table = tables.load("heaps", numbers=columns)
    values = table.loc[table["measure"] == measure, list(columns)].to_numpy(float)[0]
    return Range(*(float(value) for value in values))


@lru_cache(maxsize=None)
def bucket_litres() -> float:
    """Return what a bucket holds [L], from the table of measures.

    Examples
    --------
    >>> bucket_litres()
    10.0
    """
    table = tables.load("measures", numbers=("factor",))
    return float(table.loc[table["measure"] == "bucket", "factor"].to_numpy(float)[0])


def _likely(row: pd.Series, figure: str) -> float:
    three = limits(row, quantity=figure)
    return np.nan if three is None else three[1]


def _refuse(problem: str, *, place: str, remedy: str) -> SoiltrendError:
    return SoiltrendError(problem, file=FILE, place=place, remedy=remedy)


def _left_blank(value: Any) -> bool:
    return value is None or (isinstance(value, str) and not value.strip()) or value is pd.NA or value != value


def _told(ingredients: Ingredients) -> list[dict[str, Any]]:
    """Return each ingredient as a dict of what was given; blanks are left out."""
    rows: list[Any] = list(
        ingredients.to_dict("records") if isinstance(ingredients, pd.DataFrame) else ingredients
    )
    told = []
    for number, given in enumerate(rows, start=1):
        row = {"material": given} if isinstance(given, str) else given
        if not isinstance(row, Mapping) or not str(row.get("material", "")).strip():
            raise _refuse(
                f"{given!r} names no material",
                place=f"ingredient {number}",
                remedy="Give a name, or a dict with material, moisture, C and N",
            )
        check_keys(row, KEYS, file=FILE, place=f"ingredient {number}")
        told.append({name: value for name, value in row.items() if not _left_blank(value)})
    if not told:
        raise _refuse("there are none", place="", remedy="Name at least one material")
    return told


def _number(told: dict[str, Any], name: str, *, place: str, top: float = np.inf) -> float:
    """Return a number that was given, NaN when it was not; a negative or too large one is refused."""
    if name not in told:
        return np.nan
    value = told[name]
    good = isinstance(value, (int, float, np.number)) and not isinstance(value, bool)
    if not good or not 0 <= value <= top:
        most = f" of at most {top:g}" if np.isfinite(top) else ""
        raise _refuse(
            f"{name} = {value!r} is no number{most} from 0 up",
            place=place,
            remedy="Percentages are of dry matter, moisture of wet weight, amounts in kg or litres",
        )
    return float(value)


def _blank(name: str) -> pd.Series:
    """Return a row of which nothing is known, or that of water."""
    cells: dict[str, object] = dict.fromkeys(COLUMNS, "")
    cells |= dict.fromkeys((*NUMBERS, "cost_per_kg", "on_hand_kg", "cup_g"), np.nan)
    if key(name) == WATER:
        cells |= dict.fromkeys(NUMBERS, 0.0)
        cells |= dict.fromkeys(ends("moisture"), WHOLE) | dict.fromkeys(ends("density"), 1.0)
        cells |= {"kind": WATER, "cost_per_kg": 0.0}
    return pd.Series(cells, dtype="object", name=name)


def _base(name: str, known: pd.DataFrame) -> tuple[pd.Series, bool]:
    """Return the row a material begins with, under the name given, and whether it was known."""
    spelled = names(known)
    if key(name) not in spelled:
        return _blank(name), key(name) == WATER
    return material(known, name=name).astype("object").rename(name), True


def _set(row: pd.Series, name: str, value: float) -> None:
    """Put a likely value into a row; its ends are then the stated spread around it."""
    row[ends(name)] = [np.nan, value, np.nan]


def _carbon(row: pd.Series, told: dict[str, Any], *, place: str) -> str:
    """Fill C and N from a C:N that was given; return what was assumed."""
    ratio = _number(told, "CN", place=place)
    if np.isnan(ratio):
        return ""
    if ratio == 0:
        raise _refuse("CN = 0 is no ratio", place=place, remedy="Give C:N, for instance 25")
    carbon, nitrogen = (_number(told, name, place=place, top=WHOLE) for name in ("C", "N"))
    if not np.isnan([carbon, nitrogen]).any() and abs(carbon / (ratio * nitrogen) - 1) > AGREE:
        raise _refuse(
            f"CN = {ratio:g} does not agree with C = {carbon:g} over N = {nitrogen:g}",
            place=place,
            remedy="Give two of the three",
        )
    if not np.isnan(nitrogen):
        _set(row, "C", ratio * nitrogen)
        return ""
    assumed = ""
    if limits(row, quantity="C") is None:
        usual = heap("carbon")
        row[ends("C")] = [usual.low, (usual.ideal_low + usual.ideal_high) / 2, usual.high]
        assumed = f"carbon taken as {row['C']:g} % of dry matter"
    _set(row, "N", _likely(row, "C") / ratio)
    return assumed


def _row(told: dict[str, Any], known: pd.DataFrame, *, place: str) -> tuple[pd.Series, str]:
    """Return a material's figures, the given ones over the known ones, and what was assumed."""
    name = str(told["material"])
    row, found = _base(name, known)
    own = False
    for figure in FIGURES:
        top = np.inf if figure == "density" else WHOLE
        given = [_number(told, end, place=place, top=top) for end in ends(figure)]
        if not np.isnan(given).all():
            row[ends(figure)], own = given, True
    row["measured"] = told.get("measured", row["measured"])
    assumed = _carbon(row, told, place=place)
    if own and found:
        assumed = f"what is not given is as {names(known)[key(name)]} in the tables"
    elif found:
        assumed = assumed or FROM.get(str(row["origin"]), "")
    for figure, what in (("moisture", "moisture"), ("N", "N"), ("C", "C")):
        if limits(row, quantity=figure) is None:
            raise _refuse(
                f"its {what} is not known",
                place=f"{place} '{name}'",
                remedy=f"Give {what} in percent, or name a material of the table "
                f"({nearest(name, known)}); C:N with N, or C:N alone, will do for C",
            )
    if (row[ends("C")].astype(float).fillna(0) > WHOLE).any():
        raise _refuse(
            f"C:N and N make {row['C']:g} % carbon, which is more than all of it",
            place=f"{place} '{name}'",
            remedy="N is in percent of dry matter",
        )
    return row, assumed


def _kg(value: float, unit: str, row: pd.Series, *, place: str) -> float:
    """Return an amount in kg."""
    if unit == "kg" or np.isnan(value) or value == 0 or np.isinf(value):
        return value
    if unit not in AMOUNTS:
        raise _refuse(f"unit = '{unit}' is not known here", place=place, remedy="Say kg, litres or buckets")
    density = limits(row, quantity="density")
    if density is None:
        raise _refuse(
            f"{value:g} {unit} of '{row.name}' cannot be weighed: its density is not known",
            place=place,
            remedy="Give density in kg per litre: weigh one full bucket of ten litres",
        )
    return value * density[1] * (bucket_litres() if unit == "buckets" else 1.0)


def _bounds(told: dict[str, Any], row: pd.Series, *, place: str) -> tuple[float, float, str]:
    """Return how much of an ingredient there may be [kg], and whether that is fixed, bounded or free."""
    fixed = [unit for unit in AMOUNTS if unit in told]
    if len(fixed) > 1 or (fixed and any(bound in told for bound in BOUNDS)):
        given = ", ".join(f"{name} = {told[name]!r}" for name in (*fixed, *BOUNDS) if name in told)
        raise _refuse(f"{given} say the amount twice", place=place, remedy="Keep one, or min and max")
    if fixed:
        amount = _kg(_number(told, fixed[0], place=place), fixed[0], row, place=place)
        return amount, amount, "fixed"
    low, high = (_number(told, bound, place=place) for bound in BOUNDS)
    unit = str(told.get("unit", "kg"))
    low = 0.0 if np.isnan(low) else _kg(low, unit, row, place=place)
    high = np.inf if np.isnan(high) else _kg(high, unit, row, place=place)
    if low > high:
        raise _refuse(
            f"min = {low:g} kg is above max = {high:g} kg", place=place, remedy="Write the smaller as min"
        )
    return low, high, "free" if low == 0 and np.isinf(high) else "bounded"


def parts(ingredients: Ingredients, *, own: pd.DataFrame | None = None) -> list[Part]:
    """Return the ingredients of a blend, each with its figures and how much of it there may be.

    Parameters
    ----------
    ingredients : list or DataFrame
        Names of materials, dicts, or a table with a row each. Keys: material; moisture [% of wet
        weight]; C, N [% of dry matter]; CN; density [kg/L]; kg, litres or buckets (then fixed);
        min, max in ``unit``; ``measured`` ("yes" narrows the spread of a figure without ends).
    own : DataFrame, optional
        The grower's materials, which win over the reference table.

    Raises
    ------
    SoiltrendError
        When an ingredient has no name, a key nothing reads, a figure that cannot be, a needed
        figure that is not known, or its amount twice.

    Examples
    --------
    >>> leaves = parts(["tree leaves"])[0]
    >>> leaves.given, leaves.figure("N")
    ('free', 0.94)
    """
    known = known_materials(own)
    out = []
    for number, told in enumerate(_told(ingredients), start=1):
        place = f"ingredient {number}"
        row, assumed = _row(told, known, place=place)
        likely = {quantity: _likely(row, quantity) for quantity in QUANTITIES}
        out.append(Part(row, *_bounds(told, row, place=place), assumed, likely))
    return out
