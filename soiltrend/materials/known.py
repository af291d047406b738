"""What can be added: the grower's own figures over the reference table, cell by cell."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from soiltrend.errors import GardenError, SoiltrendError
from soiltrend.materials.reference import (
    COLUMNS,
    NUMBERS,
    QUANTITIES,
    WORDS,
    ends,
    key,
    names,
    nearest,
    reference,
    row_of,
)

FILE = "materials.csv"
OWN, MIXED = "own", "own, rest from table"
STOCK = ("cost_per_kg", "on_hand_kg")
LARGEST = 100.0

HEAVIEST = 8.0
"""Solid iron is 7.9 kg/L (from memory), and nothing that is spread is heavier."""

CUP_ML = 250.0


def _fault(line: pd.Series, problem: str, remedy: str) -> GardenError:
    """Return the error for a line of the grower's table."""
    at = line.get("line")
    place = f"line {at:.0f}" if pd.notna(at) else f"material '{line['material']}'"
    return GardenError(problem, file=FILE, place=place, remedy=remedy)


def _numbers(own: pd.DataFrame) -> pd.DataFrame:
    """Return the grower's table with every number column as numbers, absent ones missing."""
    out = own.reset_index(drop=True).copy()
    for column in (*NUMBERS, *STOCK, "cup_g"):
        given = out[column] if column in out else pd.Series(np.nan, index=out.index)
        text = given.replace("", None)
        out[column] = pd.to_numeric(text, errors="coerce").astype(float)
        for row in out.index[out[column].isna() & text.notna()]:
            raise _fault(out.loc[row], f"{column} '{given[row]}' is not a number", "Write a decimal point")
    for column in WORDS:
        out[column] = out[column].fillna("").astype("str") if column in out else ""
    return out


def _check(line: pd.Series) -> None:
    """Refuse an analysis that cannot be: ends out of order, or a share outside 0 to 100."""
    for quantity in QUANTITIES:
        given = [float(value) for value in map(line.get, ends(quantity)) if pd.notna(value)]
        if given != sorted(given):
            told = ", ".join(f"{value:g}" for value in given)
            raise _fault(line, f"{quantity}: {told} are not low, likely, high", "Write the smallest first")
        share = quantity not in ("CCE", "density")
        lowest = -np.inf if quantity == "CCE" else 0.0
        largest = LARGEST if share else HEAVIEST if quantity == "density" else np.inf
        wrong = [value for value in given if not lowest <= value <= largest]
        if wrong:
            is_none = "percentage" if share else "density"
            raise _fault(
                line,
                f"{quantity} = {wrong[0]:g} is no {is_none}",
                "Analyses are in percent of dry matter, as elements; moisture in percent as it lies; density "
                "in kg/L, such as 0.6 for 600 kg/m3",
            )


def _merged(line: pd.Series, known: pd.Series | None) -> pd.Series:
    """Return a line of the grower's table, completed by the reference row of that name."""
    out = line.reindex(COLUMNS).rename(str(line["material"]).casefold())
    out["origin"] = OWN
    out["evidence"] = out["evidence"] or OWN
    if known is None:
        return out
    mine, theirs = ({name for name in NUMBERS if pd.notna(row[name])} for row in (line, known))
    blank = [q for q in QUANTITIES if mine.isdisjoint(ends(q)) and not theirs.isdisjoint(ends(q))]
    columns = [column for quantity in blank for column in ends(quantity)]
    out[columns] = known[columns]
    for word in ("kind", "fineness", "release", "cautions", "formula"):
        out[word] = out[word] or known[word]
    listed = [out["aliases"], known.name, known["aliases"]]
    apart = (alias.strip() for text in listed for alias in text.split(";"))
    out["aliases"] = ";".join(
        dict.fromkeys(alias for alias in apart if alias and key(alias) != key(str(out.name)))
    )
    if blank:
        out["origin"] = MIXED
        rest = f"{', '.join(blank)}: {known['source']}"
        out["source"] = f"{out['source']}; {rest}" if out["source"] else rest
        out["evidence"] = out["evidence"] if mine else known["evidence"]
    return out


def known_materials(
    own: pd.DataFrame | None = None, *, cups: Mapping[str, float] | None = None
) -> pd.DataFrame:
    """Return everything that can be added, the grower's own figures over the reference table.

    Parameters
    ----------
    own : DataFrame, optional
        ``garden.materials``: the columns of the grower's materials.csv, and any others of
        the columns below. A quantity given there (low, likely, high together) wins over the
        reference row of the same name or alias; what is blank there comes from it.
    cups : mapping, optional
        ``garden.settings["cups"]``: grams in one level cup of 250 ml, by material.

    Returns
    -------
    DataFrame
        Indexed by ``material`` (lower-case name). For N, P, K, Ca, Mg, S, Na, B, Zn, Mn, Cu
        and organic C ``X_low, X, X_high`` [% of dry matter, as the element]; moisture [% as
        it lies]; CCE [% of pure CaCO3, dry; below 0 for what makes acid]; density [kg/L as
        it lies]; cup_g [g]; cost_per_kg, on_hand_kg; kind, aliases, formula, fineness,
        release (class of tables/release.csv), cautions (keys of tables/cautions.csv, joined
        by ";"), measured, source, evidence, and origin ("own", "table" or "own, rest from
        table"). A missing number is not known, and never zero.

    Raises
    ------
    GardenError
        When a line of the grower's table cannot be: the same material twice, ends out of
        order, a share outside 0 to 100; or a cup that is weighed for no known material.

    Notes
    -----
    A pure substance is computed from its formula and purity; an element that its formula
    lacks is 0, impurities are not counted. Tables: materials.csv and residues.csv.

    Examples
    --------
    >>> mine = pd.DataFrame({"material": ["Land plaster"], "Ca": [21.4], "measured": ["yes"]})
    >>> known_materials(mine).loc["land plaster", ["Ca", "origin"]].tolist()
    [np.float64(21.4), 'own, rest from table']
    """
    table = reference()
    if own is not None and len(own):
        lines = _numbers(own)
        called = lines["material"].map(key)
        for row in lines.index[called.duplicated()]:
            raise _fault(
                lines.loc[row],
                f"'{lines['material'].iloc[row]}' stands twice",
                "Give each batch its own name",
            )
        spelled = names(table)
        matches = called.map(spelled)
        rows = []
        for row, match in zip(lines.index, matches, strict=True):
            _check(lines.loc[row])
            rows.append(_merged(lines.loc[row], row_of(table, match) if isinstance(match, str) else None))
        mine = pd.DataFrame(rows).rename_axis("material")
        table = pd.concat([mine, table.drop(matches.dropna().unique())])
    return _typed(_weighed(table, cups or {}))


def _typed(table: pd.DataFrame) -> pd.DataFrame:
    """Return the table with its columns in their types and order."""
    out = table[list(COLUMNS)].rename_axis("material")
    numbers = [*NUMBERS, *STOCK, "cup_g"]
    return out.astype({**dict.fromkeys(numbers, "float"), **dict.fromkeys((*WORDS, "origin"), "str")})


def _weighed(table: pd.DataFrame, cups: Mapping[str, float]) -> pd.DataFrame:
    """Return the table with the grams of a cup the grower weighed."""
    out, spelled = table.copy(), names(table)
    for name, grams in cups.items():
        if key(name) not in spelled:
            raise GardenError(
                f"'{name}' is no material known here ({nearest(name, table)})",
                file="garden.toml",
                place="cups",
                remedy=f"Write the name as it stands in {FILE}",
            )
        number = grams if isinstance(grams, (int, float)) and not isinstance(grams, bool) else 0
        if not 0 < number <= HEAVIEST * CUP_ML:
            raise GardenError(
                f"{name} = {grams!r} is no weight of a level cup of {CUP_ML:g} ml",
                file="garden.toml",
                place="cups",
                remedy="Write the grams without quotes, such as 240",
            )
        out.loc[spelled[key(name)], "cup_g"] = float(grams)
    return out


def material(known: pd.DataFrame, *, name: str, file: str = "applications.csv") -> pd.Series:
    """Return the row of a material, by its name or an alias.

    Parameters
    ----------
    known : DataFrame
        From :func:`known_materials`.
    name : str
        As it is written in applications.csv.
    file : str
        Where it is written, for the error; empty when it was asked for by hand.

    Raises
    ------
    SoiltrendError
        When no material bears that name.

    Examples
    --------
    >>> material(known_materials(), name="Zinc sulfate").name
    'zinc sulphate'
    """
    spelled = names(known)
    if key(name) not in spelled:
        raise SoiltrendError(
            f"'{name}' is no material known here ({nearest(name, known)})",
            file=file,
            remedy=f"Add a line for it to {FILE}, or use the name of one that is there",
        )
    return row_of(known, spelled[key(name)])
