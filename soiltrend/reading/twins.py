"""The same measurement printed twice: in two units, or under two headings.

One of the two is kept: the one whose unit needs no depth or density, and the canonical unit
before another. When the two contradict each other, neither is believed over the other: an
amount per area is set aside with the arithmetic, and two plain units both are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import present, units
from soiltrend.reading.gather import Found
from soiltrend.reading.meaning import Meaning
from soiltrend.reading.placing import Where
from soiltrend.reading.reasons import Reasons

AGREE = 0.03
"""Share by which two units of one measurement may differ (rounding of what is printed)."""

THINNEST, THICKEST = 5.0, 120.0
"""Layers [cm] that an amount per area may be for; soil sampling lies between (common practice)."""

DENSITY = 1.3
"""Bulk density [g/cm3] at which the layer of an amount per area is reckoned."""


LIGHTEST, HEAVIEST = 0.6, 1.9
"""Bulk densities [g/cm3] of soils, peat left out (common practice)."""


@dataclass(frozen=True, eq=False)
class Values:
    """Values that may be twins.

    Attributes
    ----------
    found : Found
        The texts.
    codes, meanings : array of int, list of Meaning
        What each value means.
    value : array of float
        The number, as printed or converted.
    where : Where
        Where each was sampled.
    """

    found: Found
    codes: np.ndarray
    meanings: list[Meaning]
    value: np.ndarray
    where: Where


def _doubled(values: Values) -> list[list[int]]:
    """Return the meanings that share analyte and method, where there is more than one."""
    groups: dict[tuple[str, str], list[int]] = {}
    for index, one in enumerate(values.meanings):
        if one.analyte and not one.reason:
            groups.setdefault((one.analyte, one.method), []).append(index)
    return [group for group in groups.values() if len(group) > 1]


def _rank(one: Meaning) -> int:
    """Return the order in which the units of one measurement are preferred."""
    known = units.find(one.unit)
    return 2 if one.needs else 0 if known is None or known.name == one.canonical else 1


def subset(values: Values, group: list[int], why: Reasons) -> pd.DataFrame:
    """Return the usable values of some meanings with a key for the sample they were measured on."""
    at = np.flatnonzero(np.isin(values.codes, group) & (why.codes == 0))
    where, found = values.where, values.found
    layers = np.unique(where.top[at], return_inverse=True)[1]
    texts = (where.sample, where.bed, where.season, found.columns["report"], found.columns["lab"])
    place = [found.rows[at], *(part.codes[at] for part in texts), where.day[at].astype("int64"), layers]
    code = values.codes[at]
    turn = _turns(_groups([*place, code]))
    ranks = np.array([_rank(one) for one in values.meanings])
    frame = pd.DataFrame({"at": at, "code": code, "key": _groups([*place, turn]), "rank": ranks[code]})
    return frame.sort_values(["key", "rank", "at"])


def _groups(columns: list[np.ndarray]) -> np.ndarray:
    """Return a number for each row, the same for rows that are alike in all columns.

    Examples
    --------
    >>> _groups([np.array([2, 1, 2]), np.array([0, 0, 0])]).tolist()
    [1, 0, 1]
    """
    order = np.lexsort(columns[::-1])
    fresh = np.zeros(len(order), dtype=np.int64)
    for part in columns:
        fresh[1:] |= part[order][1:] != part[order][:-1]
    out = np.empty(len(order), dtype=np.int64)
    out[order] = np.cumsum(fresh)
    return out


def _turns(groups: np.ndarray) -> np.ndarray:
    """Return for each row how many rows of its group stand before it.

    Examples
    --------
    >>> _turns(np.array([1, 0, 1, 1])).tolist()
    [0, 0, 1, 2]
    """
    order = np.argsort(groups, kind="stable")
    sizes = np.bincount(groups)
    out = np.empty(len(order), dtype=np.int64)
    out[order] = np.arange(len(order)) - np.repeat(np.cumsum(sizes) - sizes, sizes)
    return out


def _rounding(values: Values, at: int, converted: float) -> float:
    """Return half a unit of the last digit printed, in the unit of the converted value."""
    text = str(values.found.columns["text"].words[values.found.columns["text"].codes[at]])
    digits = text.replace(",", ".").rpartition(".")[2] if "." in text.replace(",", ".") else ""
    step = 0.5 * 10.0 ** -len([c for c in digits if c.isdigit()])
    printed = math.nan
    stripped = "".join(c for c in text.replace(",", ".") if c.isdigit() or c == ".")
    if stripped.count(".") <= 1 and stripped.strip("."):
        printed = float(stripped)
    return abs(step * converted / printed) if printed else step


def _agree(values: Values, one: tuple[int, float], two: tuple[int, float]) -> bool:
    """Return whether two values of one measurement agree within rounding or within :data:`AGREE`."""
    (at, first), (other, second) = one, two
    gap = abs(first - second)
    slack = _rounding(values, at, first) + _rounding(values, other, second)
    return gap <= AGREE * max(abs(first), abs(second)) or gap <= slack * (1 + 1e-9)


def _label(values: Values, at: int) -> str:
    part = values.found.columns["label"]
    return str(part.words[part.codes[at]])


def _named(values: Values, at: int) -> str:
    return f"'{_label(values, at)}' ({_text(values, at)})"


def _text(values: Values, at: int) -> str:
    part = values.found.columns["text"]
    return f"{part.words[part.codes[at]]} {values.meanings[values.codes[at]].unit}"


def same(values: Values, why: Reasons) -> None:
    """Set the second of two equal measurements aside, and both of two that contradict each other."""
    for group in _doubled(values):
        frame = subset(values, group, why)
        first = frame.drop_duplicates("key").set_index("key")
        later = frame[frame.duplicated("key")]
        bases = first.loc[later["key"], "at"].tolist()
        for at, base in zip(later["at"].tolist(), bases, strict=True):
            _settle_pair(values, (base, float(values.value[base])), (at, float(values.value[at])), why)


def _fits_some_soil(values: Values, base: tuple[int, float], twin: tuple[int, float]) -> bool:
    """Return whether an amount per area agrees with a plain value at the density of some soil.

    Laboratories reckon with a fixed weight of the layer; the density that would make the two
    agree is that weight over its depth.
    """
    if values.meanings[values.codes[twin[0]]].needs != "depth" or base[1] <= 0:
        return False
    return LIGHTEST <= DENSITY * twin[1] / base[1] <= HEAVIEST


def _settle_pair(values: Values, base: tuple[int, float], twin: tuple[int, float], why: Reasons) -> None:
    where = [twin[0]]
    if _agree(values, base, twin) or _fits_some_soil(values, base, twin):
        why.put_at(where, f"the same measurement as {_named(values, base[0])} in another unit or place")
        return
    if not values.meanings[values.codes[twin[0]]].needs:
        where.append(base[0])
    unit = values.meanings[values.codes[base[0]]].canonical
    one, other = (f"{float(present.number(value, digits=4)):.15g} {unit}" for value in (base[1], twin[1]))
    why.put_at(where, f"it contradicts its twin: {_named(values, base[0])} comes to {one}, "
               f"{_named(values, twin[0])} to {other}. Write in report.toml which of the two is "
               "wrong under [ignore], or how they differ under [methods]")


def depthless(values: Values, why: Reasons) -> None:
    """Set amounts per area without a stated depth aside beside a twin that needs none."""
    for group in _doubled(values):
        plain = [code for code in group if not values.meanings[code].needs]
        area = [code for code in group if values.meanings[code].needs == "depth"]
        if not plain or not area:
            continue
        frame = subset(values, [*plain, *area], why)
        first = frame[frame["code"].isin(plain)].drop_duplicates("key").set_index("key")
        rows = frame[frame["code"].isin(area) & frame["key"].isin(first.index)]
        bases = first.loc[rows["key"], "at"].tolist()
        for at, base in zip(rows["at"].tolist(), bases, strict=True):
            if math.isnan(values.where.bottom[base]):
                _settle_area(values, base, at, why)


def _settle_area(values: Values, base: int, at: int, why: Reasons) -> None:
    """Say of an amount per area whether it fits the plain value beside it."""
    plain, area = values.meanings[values.codes[base]], values.meanings[values.codes[at]]
    mass = values.value[base] * units.factor(plain.unit, area.canonical, analyte=area.analyte)
    per_cm = values.value[at] * units.factor(area.unit, area.canonical, analyte=area.analyte, depth_cm=1.0,
                                             bulk_density=DENSITY)
    layer = per_cm / mass if mass > 0 else math.inf if per_cm > 0 else 15.0
    named = _named(values, base)
    if THINNEST <= layer <= THICKEST:
        why.put_at([at], f"the same measurement as {named} in another unit, for a depth that is not stated")
    else:
        why.put_at([at], f"it contradicts {named}: {_text(values, at)} would need a layer of "
                   f"{present.number(layer)} cm at a bulk density of {DENSITY:g} g/cm3")
