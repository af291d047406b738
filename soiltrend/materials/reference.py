"""What the trade knows of each material: two tables read as one, pure substances by their formula."""

from __future__ import annotations

import difflib
import re
from functools import lru_cache

import numpy as np
import pandas as pd

from soiltrend import tables, units
from soiltrend.errors import SoiltrendError

NUTRIENTS = ("N", "P", "K", "Ca", "Mg", "S", "Na", "B", "Zn", "Mn", "Cu", "C")
"""What an analysis may hold, in percent of dry matter as the element; C is organic carbon."""

QUANTITIES = (*NUTRIENTS, "moisture", "CCE", "density")
ENDS = ("_low", "", "_high")
WORDS = ("kind", "aliases", "fineness", "release", "cautions", "measured", "source", "evidence", "formula")
NUMBERS = tuple(f"{quantity}{end}" for quantity in QUANTITIES for end in ENDS)
COLUMNS = (
    "kind",
    "aliases",
    *NUMBERS,
    "fineness",
    "release",
    "cautions",
    "cost_per_kg",
    "on_hand_kg",
    "measured",
    "source",
    "evidence",
    "origin",
    "formula",
    "cup_g",
)
TABLES = ("materials", "residues")
PURITY = tuple(f"purity{end}" for end in ENDS)
CHALK = "CaCO3"
PROTONS_OF_CHALK = 2.0


def ends(quantity: str) -> list[str]:
    """Return the three columns of a quantity: low, likely, high.

    Examples
    --------
    >>> ends("Ca")
    ['Ca_low', 'Ca', 'Ca_high']
    """
    return [f"{quantity}{end}" for end in ENDS]


def key(name: str) -> str:
    """Return the spelling under which a material is looked up.

    Examples
    --------
    >>> key("Zinc  Sulfate") == key("zinc sulphate"), key("Builders\u2019 lime") == key("builders' lime")
    (True, True)
    """
    text = name.casefold().replace("\u2019", "'").replace("sulfat", "sulphat").replace("sulfur", "sulphur")
    return " ".join(re.sub(r"[\s_-]+", " ", text).split())


@lru_cache(maxsize=None)
def parts(formula: str) -> tuple[tuple[int, str], ...]:
    """Return the parts of a formula such as ``CaSO4.2H2O`` with how often each stands.

    Examples
    --------
    >>> parts("CaSO4.2H2O")
    ((1, 'CaSO4'), (2, 'H2O'))
    """
    found = (re.fullmatch(r"(\d*)(.+)", part) for part in formula.split("."))
    return tuple((int(match.group(1) or 1), match.group(2)) for match in found if match)


@lru_cache(maxsize=None)
def molar_mass(formula: str) -> float:
    """Return the molar mass of a formula with its water [g/mol].

    Examples
    --------
    >>> round(molar_mass("CaSO4.2H2O"), 2)
    172.16
    """
    return sum(count * units.molar_mass(part) for count, part in parts(formula))


def atoms(formula: str, element: str) -> int:
    """Return how many atoms of an element a formula holds.

    Examples
    --------
    >>> atoms("K2SO4.2MgSO4", "S"), atoms("CaSO4.2H2O", "C")
    (3, 0)
    """
    return sum(
        count * int(number or 1)
        for count, part in parts(formula)
        for symbol, number in re.findall(r"([A-Z][a-z]?)(\d*)", part)
        if symbol == element
    )


def share(formula: str, element: str) -> float:
    """Return the mass of an element in one unit of mass of a substance.

    Examples
    --------
    >>> round(100 * share("CaSO4.2H2O", "Ca"), 2)
    23.28
    """
    return atoms(formula, element) * units.molar_mass(element) / molar_mass(formula)


def chalk_equivalent(formula: str, neutralises: float) -> float:
    """Return the mass of CaCO3 that neutralises as much acid as one unit of mass of a substance.

    Parameters
    ----------
    formula : str
        The substance.
    neutralises : float
        Moles of acid (H+) that one mole takes up; below 0 for what makes acid.

    Examples
    --------
    >>> round(chalk_equivalent("CaO", 2), 3), round(chalk_equivalent("S", -2), 2)
    (1.785, -3.12)
    """
    return neutralises / PROTONS_OF_CHALK * molar_mass(CHALK) / molar_mass(formula)


def _of_one(quantity: str, pure: pd.DataFrame) -> np.ndarray:
    """Return a quantity in one unit of mass of each pure substance."""
    if quantity == "CCE":
        both = zip(pure["formula"], pure["neutralises"], strict=True)
        return np.array([chalk_equivalent(formula, float(moles)) for formula, moles in both])
    return np.array([share(formula, quantity) for formula in pure["formula"]])


def _by_formula(table: pd.DataFrame) -> pd.DataFrame:
    """Return the table with the blank analyses of pure substances filled from their formulas."""
    out, pure = table.copy(), table[table["formula"] != ""]
    purity = pure[list(PURITY)].to_numpy(float)
    for quantity in (*NUTRIENTS, "CCE"):
        columns, computed = ends(quantity), np.sort(_of_one(quantity, pure)[:, None] * purity, axis=1)
        blank = pure[columns].isna().all(axis=1).to_numpy()
        out.loc[pure.index[blank], columns] = computed[blank]
    return out


@lru_cache(maxsize=None)
def _read() -> pd.DataFrame:
    numbers = (*NUMBERS, *PURITY, "neutralises")
    whole = pd.concat([tables.load(name, numbers=numbers) for name in TABLES], ignore_index=True)
    whole["material"] = whole["material"].map(str.casefold)
    twice = sorted(whole.loc[whole["material"].map(key).duplicated(), "material"])
    if twice:
        raise SoiltrendError(f"the material '{twice[0]}' stands twice", file="materials.csv, residues.csv")
    whole = _by_formula(whole).assign(
        cost_per_kg=np.nan, on_hand_kg=np.nan, measured="no", origin="table", cup_g=np.nan
    )
    return whole.set_index("material")[list(COLUMNS)]


def reference() -> pd.DataFrame:
    """Return the reference materials, by lower-case name; see :func:`known_materials` for the columns.

    Examples
    --------
    >>> reference().at["gypsum", "Ca_high"].round(2), reference().at["gypsum", "CCE"]
    (np.float64(22.81), np.float64(0.0))
    """
    return _read().copy()


def names(table: pd.DataFrame) -> dict[str, str]:
    """Return every spelling of the materials of a table, by :func:`key`, mapped to its name.

    A name goes before an alias of another material.

    Examples
    --------
    >>> names(reference())["land plaster"]
    'gypsum'
    """
    aliases = {
        key(alias): name
        for name, listed in zip(table.index, table["aliases"], strict=True)
        for alias in listed.split(";")
        if alias.strip()
    }
    return {**aliases, **{key(str(name)): str(name) for name in table.index}}


@lru_cache(maxsize=None)
def _canonical() -> dict[str, str]:
    return names(_read())


def canonical(name: str) -> str:
    """Return the reference table's name for a material; a name it does not know stays as it is.

    Examples
    --------
    >>> canonical("Builders' lime"), canonical("bog dust")
    ('slaked lime', 'bog dust')
    """
    return _canonical().get(key(name), name)


def row_of(table: pd.DataFrame, label: str) -> pd.Series:
    """Return one row of a table whose labels stand once.

    Examples
    --------
    >>> row_of(reference(), "gypsum").name
    'gypsum'
    """
    return table.loc[[label]].iloc[0]


def nearest(name: str, table: pd.DataFrame) -> str:
    """Return the materials of a table that are called most like a name, in words.

    Examples
    --------
    >>> nearest("gypsom", reference())
    "nearest: 'gypsum'"
    """
    spelled = names(table)
    close = dict.fromkeys(spelled[text] for text in difflib.get_close_matches(key(name), spelled, n=3))
    return "nearest: " + ", ".join(f"'{text}'" for text in close) if close else "none is called like it"
