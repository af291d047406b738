"""garden.toml: what the grower says of the garden as a whole, checked before anything is read."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from soiltrend.errors import GardenError
from soiltrend.folder import check_keys, read_toml
from soiltrend.reading.answers import KEYS as ANSWERS
from soiltrend.writing import writable

TOP_KEYS = (
    "name",
    "place",
    "hemisphere",
    "units",
    "acidity",
    "story",
    "beds",
    "labs",
    "aims",
    "noise",
    "cups",
    "compare",
    "climate",
)

TEXTS = ("name", "place", "hemisphere", "units", "acidity", "story")
"""Keys that hold a text; the others are tables."""

CLIMATE_KEYS = ("monthly_mean_C", "note")
MONTHS = 12
COLDEST, HOTTEST = -60.0, 50.0
"""Between the coldest and the hottest monthly means on record anywhere; beyond them it is no Celsius."""


def read_settings(path: Path) -> dict[str, Any]:
    """Return garden.toml, checked, with its defaults filled in."""
    told = read_toml(path / "garden.toml")
    check_keys(told, TOP_KEYS, file="garden.toml", place="")
    _check_kinds(told)
    if not isinstance(told.get("beds"), dict) or not told["beds"]:
        raise GardenError(
            "no bed is described",
            file="garden.toml",
            remedy='Add a section for each bed: [beds."East"] and under it area_m2 = 12.',
        )
    hemisphere = told.setdefault("hemisphere", "north")
    if hemisphere not in ("north", "south"):
        raise GardenError(f'hemisphere = {hemisphere!r} is neither "north" nor "south"', file="garden.toml")
    units = told.setdefault("units", "metric")
    if units not in ("metric", "US"):
        raise GardenError(f'units = {units!r} is neither "metric" nor "US"', file="garden.toml")
    for lab, given in told.get("labs", {}).items():
        _check_lab(given, place=f"lab '{lab}'")
    if "climate" in told:
        _check_climate(told["climate"])
    told.setdefault("name", writable(path.name))
    told.setdefault("acidity", "lab")
    return told


def _check_kinds(told: dict[str, Any]) -> None:
    """Refuse a number where a text belongs, a text where a table belongs, and the like."""
    for key, value in told.items():
        if not isinstance(value, str if key in TEXTS else dict):
            remedy = f'Write {key} = "..."' if key in TEXTS else f"Write [{key}] and its lines under it"
            kind = "text in quotes" if key in TEXTS else "table"
            raise GardenError(f"{key} = {value!r} is not a {kind}", file="garden.toml", remedy=remedy)


def _check_lab(given: Any, *, place: str) -> None:
    """Refuse answers of a laboratory that nothing reads, or that hold from no day."""
    listed = given.get("answers", []) if isinstance(given, dict) else None
    if not isinstance(listed, list) or not all(isinstance(answers, dict) for answers in listed):
        raise GardenError(
            f"{given!r} holds no answers",
            file="garden.toml",
            place=place,
            remedy='Write [[labs."its name".answers]] and the lines under it',
        )
    check_keys(given, ("answers", "note"), file="garden.toml", place=place)
    for answers in listed:
        check_keys(answers, ("from", *ANSWERS), file="garden.toml", place=f"answers of {place}")
        since = answers.get("from", date.min)
        if type(since) is not date:
            raise GardenError(
                f"from = {since!r} is no day",
                file="garden.toml",
                place=f"answers of {place}",
                remedy="Write it without quotes: from = 2024-04-12",
            )


def _check_climate(given: Any) -> None:
    """Refuse a climate that is not twelve monthly means."""
    place, remedy = "climate", "Write monthly_mean_C = [twelve numbers, January first, in degrees Celsius]"
    if not isinstance(given, dict):
        raise GardenError(f"{given!r} is not a table", file="garden.toml", place=place, remedy=remedy)
    check_keys(given, CLIMATE_KEYS, file="garden.toml", place=place)
    means = given.get("monthly_mean_C", [])
    if not isinstance(means, list) or len(means) != MONTHS:
        found = len(means) if isinstance(means, list) else repr(means)
        raise GardenError(
            f"monthly_mean_C holds {found} and not {MONTHS} numbers",
            file="garden.toml",
            place=place,
            remedy=remedy,
        )
    for month, mean in enumerate(means, start=1):
        number = isinstance(mean, (int, float)) and not isinstance(mean, bool)
        if not number or not COLDEST <= mean <= HOTTEST:
            raise GardenError(
                f"monthly_mean_C of month {month} is {mean!r}", file="garden.toml", place=place, remedy=remedy
            )
