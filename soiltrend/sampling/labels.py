"""Names on bags: like those of before, unique, and none that tells the laboratory which two are one."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

LETTER = {"spring": "S", "summer": "M", "autumn": "A", "winter": "W"}
"""The letter that stands for the season on a bag."""

INVENTED = ("orchard", "hedge", "nutwalk", "meadow", "border", "westgate", "drying", "quince")
"""Places that a hidden duplicate may be named after, when no bed begins alike."""

_BAG = re.compile(r"([^\W\d_]{1,4}|[^\W\d_]?\d{1,2})-\d\d[A-Z]\d?")


def stem_of(label: str) -> str:
    """Return the part of a bag's label that stands for the bed, or "" when it is not of this form.

    Examples
    --------
    >>> stem_of("GA-26S"), stem_of("4711")
    ('GA', '')
    """
    match = _BAG.fullmatch(label)
    return match.group(1) if match else ""


def _letters(text: str) -> str:
    plain = unicodedata.normalize("NFKD", text)
    return "".join(sign for sign in plain if sign.isalpha()).upper()


def new_stem(bed: str, taken: Iterable[str]) -> str:
    """Return a short name for a bed that no other bears: two letters of it, or B and its number.

    Examples
    --------
    >>> new_stem("Long Reach", ["LO"]), new_stem("7", [])
    ('LN', 'B7')
    """
    letters, digits = _letters(bed), "".join(sign for sign in bed if sign.isdigit())
    pairs = [letters[0] + other for other in letters[1:]] if letters else []
    wanted = [
        *([f"B{digits}"] if digits and len(letters) < 2 else []),
        *pairs,
        *(f"B{n}" for n in range(1, 1000)),
    ]
    known = set(taken)
    return next(stem for stem in wanted if stem not in known)


def hidden_stem(before: Iterable[str], beds: Iterable[str]) -> str:
    """Return the name under which a duplicate goes out: the one used before, or one like those of the beds.

    Parameters
    ----------
    before : iterable of str
        Stems that hidden duplicates bore, in time.
    beds : iterable of str
        Stems of the beds.

    Examples
    --------
    >>> hidden_stem([], ["GA", "FE"]), hidden_stem(["OR"], ["GA"]), hidden_stem([], ["B1", "B2"])
    ('OR', 'OR', 'B3')
    """
    taken = list(beds)
    used = [stem for stem in before if stem and stem not in taken]
    if used:
        return used[-1]
    lettered = [len(stem) for stem in taken if not any(sign.isdigit() for sign in stem)]
    places = [place[: min(lettered)].upper() for place in INVENTED] if lettered else []
    wanted = [*places, *(f"B{n}" for n in range(1, 1000))]
    return next(stem for stem in wanted if stem not in taken)
