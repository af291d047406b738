"""What brought nitrogen and carbon to a bed: dressings, mulches, and what its crops left behind."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Protocol, runtime_checkable

import numpy as np
import pandas as pd

from soiltrend import tables, vocabulary
from soiltrend.errors import SoiltrendError
from soiltrend.folder import check_keys
from soiltrend.materials import drawn, dry_kg, known_materials, limits, material
from soiltrend.materials.reference import key, names

DRAWS = 400
G_PER_KG = 1000.0
PERCENT = 100.0
DUG = ("dug", "raked", "forked", "worked in", "hoed", "turned", "buried", "tilled", "incorporated")
"""Words of a note that say it went into the soil (terms of the trade)."""

IN_SOIL = re.compile(rf"(?<!not )(?<!never )(?<!no )\b(?:{'|'.join(DUG)})\b")
"""One of them as a word of its own, which no "not" stands before."""

ON_TOP, DUG_IN, AS_NOTED = "on top", "dug in", "as noted"
PLACES = (AS_NOTED, ON_TOP, DUG_IN)
YEARS_BACK = 2
"""How long before a season a dressing is still followed; later it gives next to nothing anew."""

CARRIED = ("N", "P", "K", "Ca", "Mg")
PLANNED = "added"
PLAN_KEYS = ("date", "month", "material", "amount", "unit", "place", "note")
KEPT, REMOVED = "kept", "removed"
PULSE = "pulse"
Numbers = np.ndarray
Planned = pd.DataFrame | Sequence[Mapping[str, Any]]


@runtime_checkable
class Told(Protocol):
    """A garden as its folder tells it: what :class:`soiltrend.Garden` holds."""

    @property
    def hemisphere(self) -> str:
        """North or south."""

    @property
    def beds(self) -> pd.DataFrame:
        """Its beds, with their areas."""

    @property
    def materials(self) -> pd.DataFrame:
        """Her own materials."""

    @property
    def applications(self) -> pd.DataFrame:
        """What went on."""

    @property
    def harvests(self) -> pd.DataFrame:
        """What came off."""

    @property
    def settings(self) -> dict[str, Any]:
        """Cups and climate among them."""


@dataclass(frozen=True, eq=False)
class Source:
    """One thing that rots in a bed.

    Attributes
    ----------
    what : str
        In words: "leaf mould", "broad bean: haulm left" ...
    credit : str
        "dressing", "residue", "legume residue", "roots" or "legume roots".
    day : Timestamp
        When it came to lie there.
    place : str
        "on top" or "dug in".
    row : Series
        Its analysis, as in :func:`soiltrend.materials.known_materials`.
    carbon, nitrogen : array
        Draws [g/m2].
    """

    what: str
    credit: str
    day: pd.Timestamp
    place: str
    row: pd.Series
    carbon: Numbers
    nitrogen: Numbers


@dataclass(frozen=True, eq=False)
class Left:
    """Something that was written down and is not counted, and why."""

    day: pd.Timestamp
    what: str
    why: str


HALF_YEAR = 6
"""Months after January in which a growing year of the south begins."""


def growing_year(days: pd.Series, *, hemisphere: str) -> pd.Series:
    """Return the growing year of each day, named by the year it ends in: from July in the south.

    Examples
    --------
    >>> days = pd.Series(pd.to_datetime(["2023-12-20", "2024-03-02"]))
    >>> growing_year(days, hemisphere="south").tolist(), growing_year(days, hemisphere="north").tolist()
    ([2024, 2024], [2023, 2024])
    """
    return (days + pd.DateOffset(months=HALF_YEAR if hemisphere == "south" else 0)).dt.year


@lru_cache(maxsize=None)
def _crops() -> dict[str, dict[str, Any]]:
    """Return each crop's kind, water [%] and grams in a fresh kilogram, by its name."""
    table = tables.load("removal", numbers=("water", *CARRIED))
    return {str(row["crop"]): row for row in _records(table)}


def carried_off(picked: pd.DataFrame) -> dict[str, float]:
    """Return what harvests carried off a bed [g], of the nutrients that the table of crops knows.

    Haulm that was removed counts with its crop. A crop that the table does not know is left out, as it is
    from a season.

    Examples
    --------
    >>> held = carried_off(pd.DataFrame({"crop": ["leeks"], "kg": [10.0], "residue": ["kept"]}))
    >>> round(held["K"])
    18
    """
    out = dict.fromkeys(CARRIED, 0.0)
    for word, kg, residue in picked[["crop", "kg", "residue"]].itertuples(index=False):
        crop = vocabulary.crop(str(word))
        parts = {crop: 1.0} if crop else {}
        if residue == REMOVED and crop in _haulm():
            haulm, (_, likely, _) = _haulm()[crop]
            parts[haulm] = likely
        for name, share in parts.items():
            for nutrient in CARRIED:
                out[nutrient] += float(kg) * share * _crops()[name][nutrient]
    return out


@lru_cache(maxsize=None)
def _haulm() -> dict[str, tuple[str, tuple[float, float, float]]]:
    """Return, for each crop, what it leaves and how much beside a kilogram picked [kg fresh]."""
    table = tables.load("haulm", numbers=("low", "likely", "high"))
    return {
        str(row["crop"]): (str(row["haulm"]), (float(row["low"]), float(row["likely"]), float(row["high"])))
        for row in table.to_dict("records")
    }


@lru_cache(maxsize=None)
def _is_legume(crop: str) -> bool:
    """Return whether a crop fixes nitrogen: those of tables/fixation.csv do."""
    return crop in set(tables.load("fixation")["crop"])


@lru_cache(maxsize=None)
def _roots() -> dict[str, tuple[str, tuple[float, float, float]]]:
    """Return, by kind of crop, what its roots are and their share of the dry matter above ground."""
    table = tables.load("roots", numbers=("low", "likely", "high"))
    return {
        str(row["kind"]): (
            str(row["material"]),
            (float(row["low"]), float(row["likely"]), float(row["high"])),
        )
        for row in table.to_dict("records")
    }


def place_of(note: str, *, place: str) -> str:
    """Return where a dressing lies: as asked, or as its note says; on top when it says nothing.

    Examples
    --------
    >>> place_of("raked in", place="as noted"), place_of("", place="as noted"), place_of("", place="dug in")
    ('dug in', 'on top', 'dug in')
    >>> place_of("haulm returned, not dug in", place="as noted")
    'on top'
    """
    if place != AS_NOTED:
        return place
    return DUG_IN if IN_SOIL.search(note.casefold()) else ON_TOP


def _source(
    what: tuple[str, str], *, day: pd.Timestamp, place: str, row: pd.Series, dry: Numbers
) -> Source | Left:
    """Return what an amount of dry matter [kg/m2] brings, or why it is not counted."""
    missing = [name for name in ("C", "N") if limits(row, quantity=name) is None]
    if missing:
        return Left(day, what[0], f"holds no {' and no '.join(missing)} that is known")
    held = drawn(row, draws=len(dry), rng=np.random.default_rng([*str(row.name).encode()]))
    carbon, nitrogen = (G_PER_KG * dry * held[name] / PERCENT for name in ("C", "N"))
    if not nitrogen.any():
        return Left(day, what[0], "brings no nitrogen")
    return Source(*what, day, place, row, carbon, nitrogen)


def _generator(what: str, day: pd.Timestamp) -> np.random.Generator:
    """Return a generator of a thing's own, so that one source more does not move the others."""
    return np.random.default_rng([day.toordinal(), *what.encode()])


def _dressing(line: Mapping[str, Any], *, known: pd.DataFrame, area: float, place: str) -> Source | Left:
    name, day = str(line["material"]), pd.Timestamp(line["date"])
    if key(name) not in names(known):
        return Left(day, name, "is in neither materials.csv nor the tables")
    row = material(known, name=name)
    kg = dry_kg(
        float(line["amount"]),
        str(line["unit"]),
        row,
        area_m2=area,
        draws=DRAWS,
        rng=_generator(name, day),
    )
    lies = place_of(str(line.get("note") or ""), place=str(line.get("place") or place))
    return _source((str(row.name), "dressing"), day=day, place=lies, row=row, dry=kg / area)


def _logged(line: Mapping[str, Any], *, known: pd.DataFrame, area: float, place: str) -> Source | Left:
    """Return what a dressing of the record brings; one that cannot be weighed is left out with the reason."""
    try:
        return _dressing(line, known=known, area=area, place=place)
    except SoiltrendError as error:
        return Left(pd.Timestamp(line["date"]), str(line["material"]), f"{error.problem}: {error.remedy}")


def _left_behind(
    line: Mapping[str, Any], *, known: pd.DataFrame, area: float, place: str
) -> list[Source | Left]:
    """Return what a crop left: its roots always, its haulm where it stayed."""
    name, day = str(line["crop"]), pd.Timestamp(line["date"])
    crop = _crops().get(vocabulary.crop(name))
    if crop is None:
        return [Left(day, name, "is no crop of the tables, so what it left is not known")]
    rng = _generator(name, day)
    kg = float(line["kg"]) / area
    haulm, share = _haulm().get(crop["crop"], ("", (0.0, 0.0, 0.0)))
    out: list[Source | Left] = []
    above = np.full(DRAWS, kg * (1 - crop["water"] / PERCENT))
    if haulm:
        row = material(known, name=haulm)
        fresh = kg * _triangular(share, rng)
        dry = fresh * (1 - drawn(row, draws=DRAWS, rng=rng)["moisture"] / PERCENT)
        above = above + dry
        out.append(_haulm_of(line, crop, row=row, dry=dry, place=place))
    legume = _is_legume(crop["crop"])
    called, part = _roots()[PULSE if legume else ""]
    words = (f"{name}: roots", "legume roots" if legume else "roots")
    roots = material(known, name=called)
    out.append(_source(words, day=day, place=DUG_IN, row=roots, dry=above * _triangular(part, rng)))
    return out


def _haulm_of(
    line: Mapping[str, Any], crop: Mapping[str, Any], *, row: pd.Series, dry: Numbers, place: str
) -> Source | Left:
    """Return the haulm of a crop, or why it is not counted."""
    name, day = str(line["crop"]), pd.Timestamp(line["date"])
    if line["residue"] != KEPT:
        carried = line["residue"] or "not said to have been kept"
        return Left(day, f"{name}: haulm", f"{carried}, so it is not counted")
    words = (f"{name}: haulm left", "legume residue" if _is_legume(crop["crop"]) else "residue")
    lies = place_of(str(line.get("note") or ""), place=place)
    return _source(words, day=day, place=lies, row=row, dry=dry)


def _triangular(three: tuple[float, float, float], rng: np.random.Generator) -> Numbers:
    low, likely, high = three
    return rng.triangular(low, likely, high, DRAWS) if low < high else np.full(DRAWS, likely)


def bed_area(garden: Told, *, bed: str) -> float:
    """Return the area of a bed [m2]; a bed that is not there is refused with the beds that are."""
    rows = garden.beds[garden.beds["bed"] == bed]
    if rows.empty:
        raise SoiltrendError(
            f"'{bed}' is no bed of this garden",
            file="garden.toml",
            remedy=f"Beds: {', '.join(garden.beds['bed'])}",
        )
    return float(rows["area_m2"].iloc[0])


def _records(table: pd.DataFrame) -> list[dict[str, Any]]:
    """Return each line of a table as a dict."""
    return [{str(name): value for name, value in line.items()} for line in table.to_dict("records")]


def _planned_day(line: Mapping[str, Any], months: pd.DatetimeIndex, *, place: str) -> pd.Timestamp:
    """Return the day of something planned: its date, or the first of its month in the season."""
    if line.get("date"):
        try:
            return pd.Timestamp(line["date"])
        except ValueError as error:
            raise SoiltrendError(
                f"date = {line['date']!r} is no day",
                file=PLANNED,
                place=place,
                remedy="Write it as 2024-04-12",
            ) from error
    day = next((first for first in months[:-1] if first.month == line.get("month")), None)
    if day is None:
        raise SoiltrendError(
            f"month = {line.get('month')!r} is no month",
            file=PLANNED,
            place=place,
            remedy="Give a date, or month = 1 to 12",
        )
    return day


def planned(added: Planned | None, *, months: pd.DatetimeIndex) -> list[dict[str, Any]]:
    """Return what is thought of being added, checked, each with its day."""
    rows = [] if added is None else _records(added) if isinstance(added, pd.DataFrame) else list(added)
    out = []
    for number, told in enumerate(rows, start=1):
        place = f"line {number}"
        line = {name: value for name, value in told.items() if value != "" and not pd.isna(value)}
        check_keys(line, PLAN_KEYS, file=PLANNED, place=place)
        for wanted in ("material", "amount", "unit"):
            if wanted not in line:
                raise SoiltrendError(
                    f"{dict(line)!r} has no {wanted}",
                    file=PLANNED,
                    place=place,
                    remedy="Give material, amount, unit and a date or a month",
                )
        if line.get("place", ON_TOP) not in (ON_TOP, DUG_IN):
            raise SoiltrendError(
                f"place = {line['place']!r} is not known",
                file=PLANNED,
                place=place,
                remedy=f"Say '{ON_TOP}' or '{DUG_IN}'",
            )
        out.append({**line, "date": _planned_day(line, months, place=place)})
    return out


def gathered(
    garden: Told,
    *,
    bed: str,
    months: pd.DatetimeIndex,
    place: str,
    added: list[dict[str, Any]],
    own: pd.DataFrame | None,
) -> tuple[list[Source], list[Left]]:
    """Return what came to lie in a bed in a season and the years before it, and what is not counted."""
    materials = garden.materials if own is None else own
    known = known_materials(materials, cups=garden.settings.get("cups"))
    area = bed_area(garden, bed=bed)
    since, until = months[0] - pd.DateOffset(years=YEARS_BACK), months[-1] - pd.Timedelta(days=1)
    here = [
        _records(table[(table["bed"] == bed) & table["date"].between(since, until)])
        for table in (garden.applications, garden.harvests)
    ]
    inside = [line for line in added if since <= line["date"] <= until]
    found: list[Source | Left] = [
        Left(line["date"], str(line["material"]), "lies outside the season and the two years before it")
        for line in added
        if line not in inside
    ]
    found += [_logged(line, known=known, area=area, place=place) for line in here[0]]
    found += [_dressing(line, known=known, area=area, place=place) for line in inside]
    for line in here[1]:
        found += _left_behind(line, known=known, area=area, place=place)
    sources = [one for one in found if isinstance(one, Source)]
    return sources, [one for one in found if isinstance(one, Left)]
