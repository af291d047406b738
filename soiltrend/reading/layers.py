"""Sampled layers as reports print them, in cm; a length without its unit is never guessed."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

CM = {"cm": 1.0, "mm": 0.1, "m": 100.0, "in": 2.54, "inch": 2.54, "inches": 2.54, '"': 2.54, "”": 2.54,
      "''": 2.54, "ft": 30.48, "feet": 30.48, "foot": 30.48, "'": 30.48}
"""Centimetres in a unit of length: SI, and the international inch and foot (NIST SP 811)."""

_UNIT = r"(cm|mm|m|inches|inch|in|ft|feet|foot|\"|”|''|')"
_NUMBER = r"([0-9]+(?:[.,][0-9]+)?)"
RANGE = re.compile(rf"{_NUMBER}\s*{_UNIT}?\s*(?:-|–|—|to|/|until)\s*{_NUMBER}\s*{_UNIT}?\.?", re.IGNORECASE)
SINGLE = re.compile(rf"{_NUMBER}\s*{_UNIT}?\.?", re.IGNORECASE)
IN_HEADING = re.compile(rf"[\s,;_(\[]*\b{RANGE.pattern}\b[)\]]*", re.IGNORECASE)
IN_NAME = re.compile(rf"^(.*\S)[\s_,;(]+({RANGE.pattern})\)?$", re.IGNORECASE)
SHARE_OF_NAMES = 0.8
"""Share of sample names that must end in a layer before any of them is read so."""


@dataclass(frozen=True)
class Layer:
    """A layer as far as a text tells it.

    Attributes
    ----------
    top, bottom : float
        Its edges [cm]; NaN when not known.
    problem : str
        What keeps the text from being a layer.
    """

    top: float = math.nan
    bottom: float = math.nan
    problem: str = ""


def known_unit(text: str) -> bool:
    """Return whether a text is a unit of length for depths."""
    return text.casefold() in CM


def read(text: str, *, unit: str = "", single: bool = True) -> Layer:
    """Return the layer that a text tells.

    Parameters
    ----------
    text : str
        A depth as printed: "0-12", "0 to 15 cm", "6 in".
    unit : str
        The unit of length when the text has none.
    single : bool
        Whether one number alone is the depth to which the cores went from the surface.

    Examples
    --------
    >>> read("0-6 in")
    Layer(top=0.0, bottom=15.24, problem='')
    >>> read("0-12").problem
    "the depth '0-12' has no unit"
    """
    bare = " ".join(text.split()).strip("()[] ")
    found, alone = RANGE.fullmatch(bare), SINGLE.fullmatch(bare)
    if found:
        first, own_first, second, own = found.groups()
    elif alone and single:
        first, own_first, second, own = "0", None, *alone.groups()
    else:
        return Layer(problem=f"the depth '{text}' is no layer that could be placed") if bare else Layer()
    unit = (own or own_first or unit).casefold()
    if not unit:
        return Layer(problem=f"the depth '{text}' has no unit")
    top, bottom = (round(float(part.replace(",", ".")) * CM[unit], 6) for part in (first, second))
    if bottom <= top:
        return Layer(problem=f"the depth '{text}' ends above its start")
    return Layer(top, bottom)


def in_heading(text: str) -> tuple[str, str]:
    """Return a heading without the layer inside it, and that layer; only with its unit.

    Examples
    --------
    >>> in_heading("NO3-N 0-12 in (ppm)")
    ('NO3-N (ppm)', '0-12 in')
    >>> in_heading("K 1962-80")
    ('K 1962-80', '')
    """
    for found in IN_HEADING.finditer(text):
        if found.group(4) or found.group(2):
            layer = found.group().strip(" ,;_([)]")
            rest = f"{text[:found.start()]} {text[found.end():]}"
            return " ".join(rest.split()), layer
    return text, ""


def in_names(names: Sequence[str]) -> dict[str, tuple[str, str]]:
    """Return (name, layer) for sample names that end in a layer, when they do so by habit.

    A single name such as "Bed 2-3" proves nothing: four names in five must end so, and at
    least one layer must begin at the surface.

    Examples
    --------
    >>> in_names(["East 0-10", "East 10-20"])["East 10-20"]
    ('East', '10-20')
    >>> in_names(["Bed 2-3", "Bed 4-5"])
    {}
    """
    found = {name: match for name in names if (match := IN_NAME.fullmatch(name))}
    ordered = {name: match for name, match in found.items()
               if float(match.group(3).replace(",", ".")) < float(match.group(5).replace(",", "."))}
    surface = any(float(match.group(3).replace(",", ".")) == 0 for match in ordered.values())
    if not surface or len(ordered) < SHARE_OF_NAMES * len([name for name in names if name]):
        return {}
    return {name: (match.group(1), match.group(2)) for name, match in ordered.items()}


def singles(texts: Sequence[str]) -> bool:
    """Return whether the depths hold at most one different number alone.

    Two of them (15 and 30) may be two depths from the surface, or a layer on a layer.
    """
    return len({text for text in texts if SINGLE.fullmatch(text.strip())}) <= 1
