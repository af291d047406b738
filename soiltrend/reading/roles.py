"""What the words around the values are for: roles of columns, of lines and of marks in cells.

All spellings stand in ``tables/columns.csv``.
"""

from __future__ import annotations

import re
from functools import lru_cache

from soiltrend import tables, vocabulary

ID_WORDS = ("id", "name", "no", "nr", "number", "code", "date")
"""Last words that make an unknown heading a name or a date and not a measurement."""

UNIT_IN_HEADING = re.compile(
    r"[\s_]*[\[(]?(?<![a-z])(cm|in|inch|inches|mm|ft|feet|m)\b\.?[\])]?\s*$", re.IGNORECASE)


ADVICE = ("recommend", "fertiliz", "fertilis", "requirement", "required", "to apply", "application",
          "lime rate", "removal")
"""Parts of words over advice and crop needs, which are no measurements of the soil."""


def is_advice(text: str) -> bool:
    """Return whether a heading stands over advice and not over measurements.

    Examples
    --------
    >>> is_advice("Recommended lb/acre"), is_advice("K lb/acre")
    (True, False)
    """
    return any(part in text.casefold() for part in ADVICE)


def clean(text: str) -> str:
    r"""Return a text with single ordinary spaces and no colon at its end.

    Examples
    --------
    >>> clean("Date\u00a0 sampled :")
    'Date sampled'
    """
    return " ".join(text.split()).rstrip(":").rstrip()


def _mark(text: str) -> str:
    """Return the spelling under which a mark in a cell is looked up."""
    return "".join(text.split()).casefold()


@lru_cache(maxsize=None)
def _listed(where: str) -> dict[str, str]:
    """Return every spelling listed for a kind of place, by its key, mapped to its role."""
    table = tables.load("columns")
    spelled = _mark if where == "cell" else _key
    return {spelled(text): str(role)
            for role, place, texts in zip(table["role"], table["where"], table["spellings"], strict=True)
            if place == where for text in str(texts).split(";") if text.strip()}


def _key(text: str) -> str:
    return vocabulary.key(clean(text)) or clean(text)


@lru_cache(maxsize=8192)
def of_heading(text: str) -> str:
    """Return the role of a column by its heading, or empty when it names none.

    Examples
    --------
    >>> of_heading("Sample ID"), of_heading("Depth_top_cm"), of_heading("K ppm")
    ('sample', 'top', '')
    """
    listed = _listed("heading")
    role = listed.get(_key(text), "")
    if not role and UNIT_IN_HEADING.search(text):
        role = listed.get(_key(UNIT_IN_HEADING.sub("", text)), "")
        role = role if role in ("depth", "top", "bottom") else ""
    return role


def depth_unit(heading: str) -> str:
    """Return the unit of length that a heading ends in, or empty.

    Examples
    --------
    >>> depth_unit("Depth (cm)"), depth_unit("depth_in"), depth_unit("Bottom")
    ('cm', 'in', '')
    """
    found = UNIT_IN_HEADING.search(heading)
    return found.group(1).casefold() if found else ""


@lru_cache(maxsize=8192)
def rated(heading: str) -> str:
    """Return what a heading of ratings rates, or empty when it is none.

    Examples
    --------
    >>> rated("K rating"), rated("K ppm")
    ('K', '')
    """
    stem, _, last = heading.strip().rpartition(" ")
    return stem if stem and _listed("heading").get(_key(last)) == "rating" else ""


@lru_cache(maxsize=8192)
def of_row(text: str) -> str:
    """Return what a row is by its first word: units, method, comment, summary, limits or empty.

    Examples
    --------
    >>> of_row("UNITS"), of_row("Average"), of_row("East bed")
    ('units', 'summary', '')
    """
    return _listed("row").get(_key(text), "")


@lru_cache(maxsize=8192)
def of_mark(text: str) -> str:
    """Return what a mark in a cell stands for: missing, not detected, rating or empty.

    Examples
    --------
    >>> of_mark("*"), of_mark("BDL"), of_mark("VH"), of_mark("6.4")
    ('missing', 'not detected', 'rating', '')
    """
    return _listed("cell").get(_mark(text), "")


@lru_cache(maxsize=8192)
def is_name(heading: str) -> bool:
    """Return whether an unknown heading announces a name, a number to tell things apart or a date.

    Examples
    --------
    >>> is_name("ownerName"), is_name("pair_id"), is_name("nematodes")
    (True, True, False)
    """
    words = re.findall(r"[A-Z]?[a-z]+|[A-Z]+|\d+", heading)
    return bool(words) and words[-1].casefold() in ID_WORDS
