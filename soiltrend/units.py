"""Units and conversions: one factor from any unit to any other that means the same thing.

Factors between units come from ``tables/units.csv``; the factors between an element, its
oxide and its charge are computed from atomic masses in ``tables/elements.csv``. A unit may
carry the form it counts: ``"% K2O"``, ``"kg/ha P2O5"``, ``"mg/kg"``.

The bridges between dimensions, with the amounts they stand for (per kg of dry soil):

- mass fraction and charge: 1 cmol/kg is ``10 * atomic mass / charge`` mg/kg;
- mass fraction and area: kg/ha = mg/kg x bulk density (g/cm3) x depth (cm) x 0.1;
- mass fraction and volume: mg/dm3 = mg/kg x density of the soil as scooped (g/cm3).

``"index"``, ``"pH"`` and scores have no bridge: they never convert.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TypeVar

import numpy as np
import pandas as pd

from soiltrend import tables
from soiltrend.errors import UnitError

Numbers = TypeVar("Numbers", float, np.ndarray, pd.Series)

AREA_PER_MG_KG = 0.1
"""kg/ha in a layer of 1 cm and 1 g/cm3 that holds 1 mg/kg: 1e8 cm2/ha x 1 g/cm3 x 1e-9 kg/mg."""

MG_PER_CMOL = 10.0
"""mg/kg per cmol/kg for an equivalent weight of 1 g/mol: 1e-2 mol/kg x 1e3 mg/g."""


@dataclass(frozen=True)
class Unit:
    """A unit of ``tables/units.csv`` and the form it counts.

    Attributes
    ----------
    name : str
        The unit's own name, such as ``"mg/kg"``.
    dimension : str
        What it measures: mass fraction, charge, area, volume, conductivity ...
    factor : float
        The amount of the dimension's base unit in one of this unit.
    form : str
        The substance counted (``"P2O5"``), or empty for the analyte itself.
    """

    name: str
    dimension: str
    factor: float
    form: str = ""


def normal(text: str) -> str:
    """Return the spelling under which a unit is looked up.

    Case, spaces of any kind, micro signs, superscripts and subscripts make no difference, and
    a dot between letters is read as a stroke (``mg.kg``).

    Examples
    --------
    >>> normal("mg\u00a0kg\u207b\u00b9") == normal("mg/kg") == normal("mg.kg")
    True
    """
    text = unicodedata.normalize("NFKC", text).translate(str.maketrans("\u03bc\u2212\u2013", "u--"))
    text = re.sub(r"\s+", " ", text).strip().casefold()
    text = re.sub(r"\bper\b", "/", text)
    text = re.sub(r"(?<=[a-z)+]) ((?:100 ?)?[a-z]+[0-9]?) ?-1\b", r"/\1", text)
    text = re.sub(r"(?<=[a-z])\.(?=[a-z0-9])", "/", text)
    return text.replace(" ", "")


@lru_cache(maxsize=None)
def _by_spelling() -> dict[str, Unit]:
    table = tables.load("units", numbers=("factor",))
    known = {name: Unit(name, dimension, factor) for name, dimension, factor
             in zip(table["unit"], table["dimension"], table["factor"], strict=True)}
    return {normal(spelling): known[name] for spelling, name in tables.spellings("units", "unit").items()}


@lru_cache(maxsize=None)
def forms() -> dict[str, str]:
    """Return the chemical forms that a unit may carry, mapped to their element.

    Examples
    --------
    >>> forms()["P2O5"], forms()["K"]
    ('P', 'K')
    """
    compounds = tables.load("forms")
    elements = tables.load("elements")["symbol"]
    return {**dict(zip(compounds["form"], compounds["element"], strict=True)),
            **{symbol: symbol for symbol in elements}}


@lru_cache(maxsize=None)
def _elements() -> frozenset[str]:
    return frozenset(tables.load("elements")["symbol"])


@lru_cache(maxsize=None)
def _analytes() -> frozenset[str]:
    return frozenset(tables.load("analytes")["analyte"])


@lru_cache(maxsize=4096)
def find(text: str) -> Unit | None:
    """Return the unit that ``text`` spells, or None when it spells none.

    Examples
    --------
    >>> find("Meq / 100 g").name, find("kg/ha P2O5").form, find("mg P kg-1").form, find("furlongs")
    ('cmol/kg', 'P2O5', 'P', None)
    """
    known = _by_spelling()
    if normal(text) in known:
        return known[normal(text)]
    text = " ".join(unicodedata.normalize("NFKC", text).split())
    stem, _, tail = text.rpartition(" ")
    inner = re.fullmatch(r"(\S+) ([A-Z]\w*) ?((?:/|per |[a-z]).*)", text)
    parts = [(stem, tail.strip("()[]"))]
    parts += [(f"{inner.group(1)} {inner.group(3)}", inner.group(2))] if inner else []
    for unit, form in parts:
        if form in forms() and normal(unit) in known:
            return replace(known[normal(unit)], form=form)
    return None


def parse(text: str) -> Unit:
    """Return the unit that ``text`` spells; a form alone ("P2O5") stands for its mass.

    Raises
    ------
    UnitError
        When the unit is not known; nothing is guessed.

    Examples
    --------
    >>> parse("lbs/ac").name
    'lb/acre'
    """
    unit = find(text) or (Unit("mg/kg", "mass fraction", 1.0, text) if text in forms() else None)
    if unit is None:
        raise UnitError(f"'{text}' is not a unit known here",
                        remedy="Write it as one of: " + ", ".join(tables.load("units")["unit"]))
    return unit


@lru_cache(maxsize=None)
def molar_mass(formula: str) -> float:
    """Return the molar mass of a formula without brackets [g/mol].

    Raises
    ------
    UnitError
        When the formula holds an element that ``tables/elements.csv`` lacks.

    Examples
    --------
    >>> round(molar_mass("CaCO3"), 3)
    100.086
    """
    masses = tables.load("elements", numbers=("atomic_mass",)).set_index("symbol")["atomic_mass"]
    parts = re.findall(r"([A-Z][a-z]?)(\d*)", formula)
    if "".join(symbol + count for symbol, count in parts) != formula or not parts:
        raise UnitError(f"'{formula}' is not a chemical formula this tool can read")
    unknown = [symbol for symbol, _ in parts if symbol not in masses.index]
    if unknown:
        raise UnitError(f"the element '{unknown[0]}' of '{formula}' is not in tables/elements.csv")
    return float(sum(masses[symbol] * int(count or 1) for symbol, count in parts))


@lru_cache(maxsize=None)
def mass_share(form: str) -> float:
    """Return the mass of a form's own element in one unit of mass of the form.

    Examples
    --------
    >>> round(1 / mass_share("P2O5"), 4)
    2.2913
    """
    element = forms().get(form)
    if element is None:
        raise UnitError(f"'{form}' is not a chemical form known here",
                        remedy="Known forms: " + ", ".join(tables.load("forms")["form"]))
    count = sum(int(n or 1) for symbol, n in re.findall(r"([A-Z][a-z]?)(\d*)", form) if symbol == element)
    return count * molar_mass(element) / molar_mass(form)


@lru_cache(maxsize=None)
def _analyte_row(analyte: str) -> tuple[str, str, str]:
    table = tables.load("analytes").set_index("analyte")
    if analyte not in table.index:
        return "", "", ""
    row = table.loc[analyte]
    return str(row["kind"]), str(row["element"]), str(row["charge"])


def equivalent_weight(analyte: str) -> float:
    """Return the mass of one mole of charge of an exchangeable ion [g/mol].

    Parameters
    ----------
    analyte : str
        A canonical analyte that carries a charge, such as ``"Ca"`` or ``"NH4-N"``.

    Raises
    ------
    UnitError
        When the analyte has no charge in ``tables/analytes.csv``.

    Examples
    --------
    >>> round(equivalent_weight("Mg"), 4)
    12.1525
    """
    _, element, charge = _analyte_row(analyte)
    if not charge:
        raise UnitError(f"'{analyte}' has no charge by which to turn a mass into cmol/kg")
    return molar_mass(element) / float(charge)


def _to_mass(unit: Unit, *, analyte: str, depth_cm: float, bulk_density: float) -> float:
    """Return mg/kg of the analyte's element in one of ``unit``."""
    if unit.dimension == "mass fraction":
        factor = unit.factor
    elif unit.dimension == "charge":
        factor = unit.factor * MG_PER_CMOL * equivalent_weight(analyte)
    elif unit.dimension == "area":
        factor = unit.factor / (AREA_PER_MG_KG * depth_cm * bulk_density)
    elif unit.dimension == "volume":
        factor = unit.factor / bulk_density
    else:
        factor = unit.factor / bulk_density * MG_PER_CMOL * equivalent_weight(analyte)
    return factor * (mass_share(unit.form) if unit.form else 1.0)


_BRIDGED = ("mass fraction", "charge", "area", "volume", "volume charge")
_PURE_CHARGE = {"charge", "volume charge"}
_BY_VOLUME = {"volume": 1.0, "density": 1e6}
"""mg/dm3 in the base unit of each dimension that is a mass by a volume: a bulk density is told in both."""


def _bridge(start: Unit, end: Unit, *, analyte: str, depth_cm: float, bulk_density: float) -> float:
    """Return the factor from ``start`` to ``end`` through mg/kg, or from charge to charge."""
    if {start.dimension, end.dimension} <= _PURE_CHARGE:
        per_kg = [unit.factor / (bulk_density if unit.dimension == "volume charge" else 1.0)
                  for unit in (start, end)]
        return per_kg[0] / per_kg[1]
    top, bottom = (_to_mass(unit, analyte=analyte, depth_cm=depth_cm, bulk_density=bulk_density)
                   for unit in (start, end))
    return top / bottom


def _check_forms(start: Unit, end: Unit, analyte: str) -> None:
    """Refuse forms of two elements, and a form on one side only that leaves the other open."""
    form, bare = start.form or end.form, end.name if start.form else start.name
    if not analyte and bool(start.form) != bool(end.form) and form not in _elements():
        raise UnitError(f"'{bare}' may count {form} or its {forms()[form]}",
                        remedy=f"Write '{bare} {form}' or '{bare} {forms()[form]}', or name the analyte")
    elements = {forms()[unit.form] for unit in (start, end) if unit.form}
    _, own, _ = _analyte_row(analyte)
    if own:
        elements.add(own)
    if len(elements) > 1:
        named = " and ".join(f"'{name}'" for name in (start.form, end.form, analyte) if name)
        raise UnitError(f"{named} do not count the same element")


def factor(unit: str, to: str, *, analyte: str = "", depth_cm: float = 15.0,
           bulk_density: float = 1.3) -> float:
    """Return the number of ``to`` in one ``unit``; see :func:`convert` for the arguments."""
    start, end = parse(unit), parse(to)
    form = analyte if analyte in forms() and analyte not in _analytes() else ""
    if form:
        start, end = (replace(u, form=u.form or form) for u in (start, end))
    _check_forms(start, end, analyte)
    analyte = forms()[form] if form else analyte or forms().get(start.form or end.form, "")
    for name, value in (("depth_cm", depth_cm), ("bulk_density", bulk_density)):
        if not (math.isfinite(value) and value > 0):
            raise UnitError(f"{name} = {value} is not a positive number")
    if start == end:
        return 1.0
    if _analyte_row(analyte)[0] == "share":
        raise UnitError(f"'{analyte}' is a share of the exchange capacity; "
                        f"'{unit}' cannot be turned into '{to}'")
    if start.dimension == end.dimension and start.form == end.form:
        return start.factor / end.factor
    if {start.dimension, end.dimension} == set(_BY_VOLUME) and _analyte_row(analyte)[0] == "density":
        per_dm3 = [unit.factor * _BY_VOLUME[unit.dimension] for unit in (start, end)]
        return per_dm3[0] / per_dm3[1]
    if not {start.dimension, end.dimension} <= set(_BRIDGED):
        raise UnitError(f"'{unit}' cannot be turned into '{to}'",
                        remedy=f"'{unit}' measures {start.dimension}, '{to}' measures {end.dimension}.")
    return _bridge(start, end, analyte=analyte, depth_cm=depth_cm, bulk_density=bulk_density)


def convert(value: Numbers, *, unit: str, to: str, analyte: str | None = None,
            depth_cm: float = 15.0, bulk_density: float = 1.3) -> Numbers:
    """Return ``value`` in another unit.

    Parameters
    ----------
    value : float, array or Series
        The amount in ``unit``.
    unit, to : str
        Units of ``tables/units.csv`` in any of their spellings, each with the form it counts
        where that matters: ``"% P2O5"``, ``"mg/kg P"``.
    analyte : str, optional
        What is measured; needed between mass and charge (``"Ca"``).
    depth_cm : float
        Depth of the layer [cm], used between a mass fraction and an amount per area.
    bulk_density : float
        Dry bulk density of that layer [g/cm3]; for a unit per volume of scooped soil
        (mg/dm3, meq/100cm3) the density of the soil as scooped.

    Returns
    -------
    float, array or Series
        The amount in ``to``, of the type of ``value``.

    Raises
    ------
    UnitError
        When a unit is not known, or the two do not measure the same thing: an index, a pH
        and a share of exchange capacity are never converted.

    Notes
    -----
    Factors: tables/units.csv; atomic masses: tables/elements.csv.

    Examples
    --------
    >>> round(convert(200.39, unit="ppm", to="meq/100g", analyte="Ca"), 6)
    1.0
    >>> round(convert(1.0, unit="lb/acre", to="kg/ha"), 5)
    1.12085
    >>> round(convert(100.0, unit="mg/kg P2O5", to="mg/kg P"), 2)
    43.64
    """
    return value * factor(unit, to, analyte=analyte or "", depth_cm=depth_cm, bulk_density=bulk_density)
