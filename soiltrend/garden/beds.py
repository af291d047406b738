"""Beds: what garden.toml says of them, and every way their names may be written."""

from __future__ import annotations

import re
import unicodedata
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import frames, vocabulary
from soiltrend.errors import GardenError
from soiltrend.folder import check_keys, nearest

BED_KEYS = (
    "area_m2",
    "area_ft2",
    "depth_cm",
    "depth_in",
    "bulk_density",
    "medium",
    "check",
    "crop",
    "sowing",
    "harvest",
    "ended",
    "aliases",
    "note",
)
US_KEYS = {"area_ft2": ("area_m2", 0.3048**2), "depth_in": ("depth_cm", 2.54)}
"""Keys in feet and inches: the metric key each stands for, and its factor (international foot, exact)."""


def same(text: str) -> str:
    """Return a bed's name as it is matched: case, spaces, accents' encoding, a leading "bed"."""
    name = re.sub(r"\s+", " ", unicodedata.normalize("NFC", text)).strip().casefold()
    return re.sub(r"^(bed|plot)[ .:#-]*(?=.)", "", name)


def bed_names(beds: pd.DataFrame) -> dict[str, str]:
    """Return every way a bed may be written, normalised, mapped to the bed.

    Raises
    ------
    GardenError
        When one way of writing could mean two beds.
    """
    names: dict[str, str] = {}
    for bed, aliases in zip(beds["bed"], beds["aliases"], strict=True):
        for text in (bed, *aliases):
            if names.setdefault(same(text), bed) != bed:
                raise GardenError(
                    f"'{text}' could mean bed '{names[same(text)]}' or bed '{bed}'",
                    file="garden.toml",
                    remedy="Give the beds names that differ.",
                )
    return names


def _positive(value: Any, *, key: str, place: str) -> float:
    if (
        isinstance(value, bool)
        or not isinstance(value, (int, float))
        or not value > 0
        or not np.isfinite(value)
    ):
        raise GardenError(f"{key} = {value!r} is not a positive number", file="garden.toml", place=place)
    most, write = vocabulary.most_told(key)
    if value > most:
        raise GardenError(
            f"{key} = {value!r} is more than the {most:g} that a soil can have",
            file="garden.toml",
            place=place,
            remedy=f"Write it in {write}.",
        )
    return float(value)


def _metric(given: dict[str, Any], *, place: str) -> dict[str, Any]:
    """Return what was given with feet and inches turned into the keys the house works with."""
    metric = dict(given)
    for key, (other, factor) in US_KEYS.items():
        if key in metric:
            if other in metric:
                raise GardenError(
                    f"{other} = {metric[other]!r} and {key} = {metric[key]!r} both stand here",
                    file="garden.toml",
                    place=place,
                    remedy="Keep one of the two.",
                )
            metric[other] = factor * _positive(metric.pop(key), key=key, place=place)
    return metric


def _aliases(given: Any, *, place: str) -> tuple[str, ...]:
    """Return the other names of a bed; a text alone would be taken letter by letter."""
    if not isinstance(given, list):
        raise GardenError(
            f"aliases = {given!r} is not a list",
            file="garden.toml",
            place=place,
            remedy='Write aliases = ["H1", "Harbour bed"]',
        )
    return tuple(str(alias) for alias in given)


def _day(value: Any, *, key: str, place: str) -> pd.Timestamp | None:
    """Return the day of sowing, of harvest or of a bed's end, or None where none is told."""
    if value is not None and type(value) is not date:
        raise GardenError(
            f"{key} = {value!r} is no day",
            file="garden.toml",
            place=place,
            remedy=f"Write it without quotes: {key} = 2027-04-20",
        )
    return None if value is None else pd.Timestamp(value)


def bed(name: str, given: Any) -> dict[str, Any]:
    """Return one bed of garden.toml as a row."""
    place = f"bed '{name}'"
    if not isinstance(given, dict):
        raise GardenError(
            f"{given!r} is not a table",
            file="garden.toml",
            place=place,
            remedy=f'Write [beds."{name}"] and area_m2 = 12 under it.',
        )
    check_keys(given, BED_KEYS, file="garden.toml", place=place)
    given = _metric(given, place=place)
    if any(unicodedata.category(sign) == "Cc" for sign in name):
        raise GardenError(
            f"the name {name!r} holds signs that cannot be printed", file="garden.toml", place="beds"
        )
    if name in (frames.GARDEN, ""):
        raise GardenError(f"no bed may be called '{name}'", file="garden.toml", place=place)
    if not isinstance(given.get("check", False), bool):
        raise GardenError(
            f"check = {given['check']!r} is neither true nor false", file="garden.toml", place=place
        )
    return {
        "bed": name,
        "area_m2": _positive(given.get("area_m2", 1.0), key="area_m2", place=place),
        "depth_cm": _positive(given.get("depth_cm", 15.0), key="depth_cm", place=place),
        "bulk_density": _positive(given.get("bulk_density", 1.3), key="bulk_density", place=place),
        "medium": str(given.get("medium", "mineral soil")),
        "check": given.get("check", False),
        "crop": str(given.get("crop", "")),
        "sowing": _day(given.get("sowing"), key="sowing", place=place),
        "harvest": _day(given.get("harvest"), key="harvest", place=place),
        "ended": _day(given.get("ended"), key="ended", place=place),
        "aliases": _aliases(given.get("aliases", []), place=place),
        "note": str(given.get("note", "")),
    }


def read_beds(given: dict[str, Any]) -> pd.DataFrame:
    """Return the beds of garden.toml as a table, one row a bed, in the order given.

    Raises
    ------
    GardenError
        When a bed is not described as it should be, or two beds share a way of writing.
    """
    beds = pd.DataFrame([bed(name, told) for name, told in given.items()])
    beds = beds.astype(dict.fromkeys(("sowing", "harvest", "ended"), "datetime64[s]"))
    bed_names(beds)
    return beds


def on_beds(table: pd.DataFrame, beds: pd.DataFrame, *, file: str) -> pd.DataFrame:
    """Return one of the grower's tables with its beds under their own names."""
    names = bed_names(beds)
    matched = table["bed"].map(lambda text: names.get(same(text)))
    if matched.isna().any():
        faults = [
            f"line {line}: '{bed}' is not a bed of this garden ({nearest(bed, beds['bed'])})"
            for line, bed in table.loc[matched.isna(), ["line", "bed"]].head(8).to_numpy()
        ]
        raise GardenError("; ".join(faults), file=file, remedy="Beds and their aliases stand in garden.toml.")
    return table.assign(bed=matched.astype("str"))
