"""Days and seasons as reports print them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import pandas as pd

from soiltrend import frames

MONTHS = {name: number for number, names in enumerate(
    ("jan january", "feb february", "mar march", "apr april", "may", "jun june", "jul july",
     "aug august", "sep sept september", "oct october", "nov november", "dec december"), start=1)
    for name in names.split()}
SEASON_WORDS = {**{name: name for name in frames.SEASONS}, "fall": "autumn"}
PIVOT = 69
"""Two-digit years below it belong to 2000, the rest to 1900 (POSIX, strptime ``%y``)."""

TIME = r"(?:[ T]+[0-9]{1,2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]+)?)?(?: ?[ap]m)?(?:Z|[+-][0-9:]+)?)?"
YEAR_FIRST = re.compile(rf"([12][0-9]{{3}})([-/.])([0-9]{{1,2}})\2([0-9]{{1,2}}){TIME}", re.IGNORECASE)
PACKED = re.compile(r"([12][0-9]{3})([01][0-9])([0-3][0-9])")
YEAR_LAST = re.compile(rf"([0-9]{{1,2}})([-/.])([0-9]{{1,2}})\2([0-9]{{4}}|[0-9]{{2}}){TIME}", re.IGNORECASE)
NAMED = re.compile(
    rf"([0-9]{{1,2}})(?:st|nd|rd|th)?[ \-./]*([a-z]{{3,9}})\.?[ ,\-/]*([0-9]{{4}}|[0-9]{{2}}){TIME}",
    re.IGNORECASE)
NAME_FIRST = re.compile(
    rf"([a-z]{{3,9}})\.? *([0-9]{{1,2}})(?:st|nd|rd|th)?,? +([0-9]{{4}}){TIME}", re.IGNORECASE)
MONTH_YEAR = re.compile(r"(?:([a-z]{3,9})\.?[ ,\-]*([12][0-9]{3})|([12][0-9]{3})-([01][0-9]))", re.IGNORECASE)
SEASON = re.compile(r"([a-z]+)[ ,\-]*([12][0-9]{3})|([12][0-9]{3})[ ,\-]*([a-z]+)", re.IGNORECASE)
WEEKDAY = re.compile(r"^(?:mon|tues?|wed(?:nes)?|thu(?:rs)?|fri|sat(?:ur)?|sun)(?:day)?,? +", re.IGNORECASE)


@dataclass(frozen=True)
class When:
    """A moment as far as a text tells it.

    Attributes
    ----------
    day : Timestamp or None
        The day, when it is known.
    season : str
        "spring 2024" or "2024" when only that is known.
    problem : str
        What keeps the text from being a day.
    """

    day: pd.Timestamp | None = None
    season: str = ""
    problem: str = ""


NO_DAY = "there is no day"
"""How a problem begins whose text names a day that no calendar has."""


ORDERS = {"DMY": 1, "MDY": 3}
"""The orders that a file may leave open, and which part of :data:`YEAR_LAST` is the day then."""


def _century(year: str) -> int:
    number = int(year)
    return number if len(year) == 4 else number + (2000 if number < PIVOT else 1900)


def _on(year: int, month: int, day: int) -> When:
    try:
        return When(pd.Timestamp(year=year, month=month, day=day))
    except ValueError:
        return When(problem=f"{NO_DAY} {year}-{month:02d}-{day:02d}")


def _spelled(text: str) -> When | None:
    """Return the day of a text that names its month, or None."""
    for pattern, order in ((NAMED, (1, 2, 3)), (NAME_FIRST, (2, 1, 3))):
        found = pattern.fullmatch(text)
        if found and found.group(order[1]).casefold() in MONTHS:
            day, month, year = (found.group(i) for i in order)
            return _on(_century(year), MONTHS[month.casefold()], int(day))
    return None


def proof(text: str) -> str:
    """Return the one order in which a text like 13/4/2024 may be a day, or "".

    Examples
    --------
    >>> proof("13/4/2024"), proof("4/13/2024"), proof("3/4/2024"), proof("31/31/2024")
    ('DMY', 'MDY', '', '')
    """
    found = YEAR_LAST.fullmatch(" ".join(text.split()))
    days = [order for order, part in ORDERS.items() if found and int(found.group(part)) > 12]
    return days[0] if len(days) == 1 else ""


def _last(text: str, order: str) -> When | None:
    """Return the day of a text like 3/4/2024 in the given order, or None."""
    found = YEAR_LAST.fullmatch(text)
    if not found:
        return None
    first, second, year = int(found.group(1)), int(found.group(3)), _century(found.group(4))
    if first == second or (found.group(2) == "." and not order):
        order = "DMY"  # the same either way, or written with dots, which put the day first
    if order not in ORDERS:
        order = proof(text)
    if not order:
        return When(season=str(year), problem=f"'{text}' may be day or month first")
    day, month = (first, second) if order == "DMY" else (second, first)
    return _on(year, month, day)


def _coarse(text: str, hemisphere: str) -> When | None:
    """Return the season of a text that names a year, a month or a season, or None."""
    if re.fullmatch(r"[12][0-9]{3}", text):
        return When(season=text)
    found = MONTH_YEAR.fullmatch(text)
    if found:
        month = MONTHS.get((found.group(1) or "").casefold(), int(found.group(4) or 0))
        if 1 <= month <= 12:
            middle = pd.Series([pd.Timestamp(int(found.group(2) or found.group(3)), month, 15)])
            return When(season=str(frames.season(middle, hemisphere=hemisphere)[0]))
    found = SEASON.fullmatch(text)
    word = (found.group(1) or found.group(4)).casefold() if found else ""
    if found and word in SEASON_WORDS:
        return When(season=f"{SEASON_WORDS[word]} {found.group(2) or found.group(3)}")
    return None


@lru_cache(maxsize=65536)
def read(text: str, *, order: str = "", hemisphere: str = "north") -> When:
    """Return the day or season that a text tells; day-first or month-first only by ``order``.

    Parameters
    ----------
    text : str
        A date as printed.
    order : str
        "DMY", "MDY", "YMD" or "" when nothing is known of the order.
    hemisphere : str
        "north" or "south"; used for a month without a day.

    Examples
    --------
    >>> read("Jul 08, 2022").day
    Timestamp('2022-07-08 00:00:00')
    >>> read("fall 2021").season, read("2022").season
    ('autumn 2021', '2022')
    >>> read("3/4/2024").problem
    "'3/4/2024' may be day or month first"
    >>> read("13/4/2024").day == read("4/13/2024").day
    True
    """
    bare = WEEKDAY.sub("", " ".join(text.split()))
    if not bare:
        return When()
    first = YEAR_FIRST.fullmatch(bare)
    parts = first.group(1, 3, 4) if first else packed.groups() if (packed := PACKED.fullmatch(bare)) else ()
    if parts:
        return _on(*(int(part) for part in parts))
    found = _last(bare, order) or _spelled(bare) or _coarse(bare, hemisphere)
    return found or When(problem=f"'{text}' is no day")


def proofs(texts: Iterable[str]) -> dict[str, str]:
    """Return the orders that days of a file prove, each with the first day that does.

    Examples
    --------
    >>> proofs(["3/4/2024", "8/16/2024", "16/8/2024", "17/8/2024"])
    {'MDY': '8/16/2024', 'DMY': '16/8/2024'}
    """
    found: dict[str, str] = {}
    for text in texts:
        found.setdefault(proof(text), text)
    return {order: text for order, text in found.items() if order}


def order_of(texts: Iterable[str]) -> str:
    """Return "DMY" or "MDY" when the days of a file prove one of them and no other, or "".

    Examples
    --------
    >>> order_of(["3/4/2024", "8/16/2024"]), order_of(["3/4/2024"])
    ('MDY', '')
    """
    shown = list(proofs(texts))
    return shown[0] if len(shown) == 1 else ""


def season_text(season: str, year: str) -> str:
    """Return a season and a year from two cells as one text ("spring", "2024")."""
    return season if re.search("[0-9]{4}", season) or not year else f"{season} {year}".strip()


def column(texts: Sequence[str], *, order: str, hemisphere: str) -> list[When]:
    """Return the moment of every text; the file's own evidence decides an order not given."""
    order = order or order_of(texts)
    return [read(text, order=order, hemisphere=hemisphere) for text in texts]
