"""Odd lines of the grower's own log: amounts that no bed bears, and lines that stand there twice."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from functools import lru_cache
from typing import Any

import pandas as pd

from soiltrend import aims, materials, present, tables
from soiltrend.errors import SoiltrendError
from soiltrend.garden import Garden
from soiltrend.present import Listing

APPLICATIONS, HARVESTS = "applications.csv", "harvests.csv"
GRAMS = 1000.0
AREAS = {"area_m2", "area_ft2"}
Row = Mapping[Hashable, Any]


@lru_cache(maxsize=None)
def _bounds() -> dict[str, dict[Hashable, Any]]:
    """Return what is beyond all bounds, by what it is of, from ``tables/outsized.csv``."""
    return {str(row["of"]): row for row in tables.load("outsized", numbers=("most",)).to_dict("records")}


def logged(garden: Garden) -> Listing:
    """Return the lines of applications.csv and harvests.csv that look like slips; all are counted as written.

    Parameters
    ----------
    garden : Garden
        What :func:`soiltrend.open_garden` gave. Beds without an area of their own are not looked at.

    Returns
    -------
    Listing
        Columns where (file and line) and why, which ends with what to do.
    """
    given = garden.settings.get("beds", {})
    area = {bed: m2 for bed, m2 in zip(garden.beds["bed"], garden.beds["area_m2"], strict=True)
            if AREAS & set(given.get(bed, ()))}  # fmt: skip
    rows = [
        *_dressings(garden, area),
        *_twice(garden.applications, APPLICATIONS, says="{amount:g} {unit} of {material}"),
        *_harvests(garden.harvests, area),
        *_twice(garden.harvests, HARVESTS, says="{kg:g} kg of {crop}"),
    ]
    title = f"{present.counted(len(rows), 'line')} of the log to look at"
    return Listing(title, pd.DataFrame(rows, columns=["where", "why"]))


@lru_cache(maxsize=None)
def year_limit(name: str, kind: str) -> tuple[float, str, str]:
    """Return the most of a material that a bed is given in a year, its unit and why; NaN where no table says.

    Examples
    --------
    >>> year_limit("wood ash", "ash")[:2], year_limit("borax", "trace salt")[:2]
    ((244.1, 'g/m2'), (5.0, 'g/m2'))
    """
    ceilings = aims.dressing_limits(name, kind=kind)
    ceilings = ceilings[ceilings["per"] == "year"]
    usual = tables.load("keeping", numbers=("most",)).rename(columns={"most": "limit"})
    found = ceilings if len(ceilings) else usual[(usual["kind"] == kind) & (usual["kind"] != "")]
    for row in found.head(1).to_dict("records"):
        return float(row["limit"]), str(row["unit"]), str(row["words"])
    return float("nan"), "", ""


def _dressings(garden: Garden, area: Mapping[str, float]) -> list[tuple[str, str]]:
    """Return the dressings far beyond what a bed is given of their material in a year."""
    known = materials.known_materials(garden.materials, cups=garden.settings.get("cups"))
    lines = garden.applications[garden.applications["bed"].isin(area)]
    told = []
    for (text, unit, bed), group in lines.groupby(["material", "unit", "bed"], sort=False):
        m2 = area[str(bed)]
        try:
            row = materials.material(known, name=str(text))
            limit = year_limit(str(row.name), str(row["kind"]))
            one = materials.laid(1.0, str(unit), row, area_m2=m2, litres=limit[1] == "L/m2") / m2
        except SoiltrendError:
            continue  # what cannot be weighed is told under what is to be mended
        told += [(line["line"], _too_much(line, one, limit, m2)) for line in group.to_dict("records")]
    return [(f"{APPLICATIONS}, line {line}", why) for line, why in sorted(told) if why]


def _too_much(line: Row, one: float, limit: tuple[float, str, str], area_m2: float) -> str:
    """Return what is odd about the amount of a dressing, or empty; ``one`` measure is kg or L a m2."""
    (most, unit, words), beyond = limit, _bounds()["dressing"]
    given = line["amount"] * one * (GRAMS if unit == "g/m2" else 1.0)
    times = given / most
    if not times > beyond["most"]:
        return ""
    grams = str(line["unit"]) == "kg" and times / GRAMS <= beyond["most"]
    return (
        f"{line['amount']:g} {line['unit']} of {line['material']} on {line['bed']} ({area_m2:g} m2) comes to "
        f"{present.number(given)} {unit}, {present.number(times)} {beyond['words']}: {most:g} {unit}, "
        f"{words}. It is counted as it stands; look at the number and the unit"
        f"{', g for kg perhaps' if grams else ''}"
    )


def _harvests(harvests: pd.DataFrame, area: Mapping[str, float]) -> list[tuple[str, str]]:
    """Return the harvests of more than any crop bears."""
    bound, out = _bounds()["harvest"], []
    for row in harvests[harvests["bed"].isin(area)].to_dict("records"):
        borne = row["kg"] / area[row["bed"]]
        if borne > bound["most"]:
            out.append((
                f"{HARVESTS}, line {row['line']}",
                f"{row['kg']:g} kg of {row['crop']} from {row['bed']} ({area[row['bed']]:g} m2) comes to "
                f"{present.number(borne)} {bound['unit']}, and {bound['most']:g} {bound['unit']} is what "
                f"{bound['words']}. It is counted as it stands; look at the number, which is in kg",
            ))  # fmt: skip
    return out


def _twice(table: pd.DataFrame, file: str, *, says: str) -> list[tuple[str, str]]:
    """Return the lines of a table that say the same, to the note."""
    same = [name for name in table.columns if name != "line"]
    out = []
    for _, group in table[table.duplicated(same, keep=False)].groupby(same, sort=False, dropna=False):
        row, lines = group.iloc[0], group["line"].astype(str).tolist()
        out.append((
            f"{file}, lines {', '.join(lines[:-1])} and {lines[-1]}",
            f"the same stands there {len(lines)} times and counts as often: {says.format_map(row)}, "
            f"{row['bed']}, {row['date']:%Y-%m-%d}. Keep one line if it was written twice; if it is true, "
            "write the sum on one",
        ))  # fmt: skip
    return out
