"""In which language and in whose units the words are spoken."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from soiltrend import present, units
from soiltrend.errors import SoiltrendError
from soiltrend.story import phrases

SYSTEMS = ("metric", "US")
US = {
    "mg/kg": "ppm",
    "cmol/kg": "meq/100 g",
    "g/m2": "lb/1000 sq ft",
    "kg/m2": "lb/1000 sq ft",
    "kg/ha": "lb/acre",
}
"""Units of the trade in the United States; the factors are those of ``tables/units.csv``."""

US_PLAIN = {
    "cm": ("in", 2.54),
    "g": ("oz", 28.349523125),
    "kg": ("lb", 0.45359237),
    "L": ("gal", 3.785411784),
}
"""What one of the US unit is in metric: international inch and avoirdupois pound, US gallon (NIST SP 811)."""

NAMELESS = ("pH", "ratio", "index", "score", "count")
"""Units that are not said after a number."""


_SPOKEN = {"language": phrases.FIRST, "units": SYSTEMS[0]}
"""What is spoken where a voice leaves it open; :func:`speak` sets it."""


@dataclass(frozen=True)
class Voice:
    """How words are spoken.

    Attributes
    ----------
    language : str
        One of :func:`soiltrend.story.phrases.languages`; empty for that of :func:`speak`.
    units : str
        "metric" or "US"; empty for those of :func:`speak`.

    Examples
    --------
    >>> Voice().say("where.bed", {"bed": "East"})
    'in East'
    """

    language: str = ""
    units: str = ""

    def __post_init__(self) -> None:
        if self.units and self.units not in SYSTEMS:
            raise SoiltrendError(
                f"units '{self.units}' are not known", remedy="Choose " + " or ".join(SYSTEMS)
            )
        phrases.load(language_of(self))

    def say(self, key: str, values: Mapping[str, object] | None = None) -> str:
        """Return the phrase of a key, its slots filled."""
        return phrases.load(language_of(self))[key].format_map(dict(values or {}))

    def counted(self, key: str, number: int, values: Mapping[str, object] | None = None) -> str:
        """Return the phrase of a key for one or for many, with the number in its slot ``n``."""
        return self.say(f"{key}.{'one' if number == 1 else 'many'}", {"n": number} | dict(values or {}))


def language_of(voice: Voice) -> str:
    """Return the language a voice speaks."""
    return voice.language or _SPOKEN["language"]


def system_of(voice: Voice) -> str:
    """Return the units a voice speaks in, "metric" or "US"."""
    return voice.units or _SPOKEN["units"]


PLAIN = Voice()
"""As :func:`speak` set it; English and metric at first."""


def speak(*, units: str = SYSTEMS[0], language: str = phrases.FIRST) -> Voice:
    """Set the units and the language of all words from here on, and return them as a voice.

    Charts drawn before keep the words they have.

    Parameters
    ----------
    units : str
        "metric" or "US".
    language : str
        One there are phrases for.

    Raises
    ------
    SoiltrendError
        When either is not known; nothing is then set.

    Examples
    --------
    >>> voice = speak(units="US")
    >>> amount(180, "mg/kg")
    '180 ppm'
    >>> voice = speak()
    >>> amount(180, "mg/kg")
    '180 mg/kg'
    """
    voice = Voice(language, units)
    _SPOKEN.update(language=voice.language, units=voice.units)
    return voice


def listed(items: Sequence[str], *, voice: Voice = PLAIN) -> str:
    """Return items as a reader would say them.

    Examples
    --------
    >>> listed(["pH", "Ca", "K"])
    'pH, Ca and K'
    """
    if len(items) < 2:
        return "".join(items)
    return voice.say("list.last", {"first": voice.say("list.comma").join(items[:-1]), "last": items[-1]})


def figure(value: float, *, digits: int = 3) -> str:
    """Return a number as it is said, with a true minus sign.

    Examples
    --------
    >>> figure(-0.5)
    '\u22120.500'
    """
    return present.number(float(value), digits=digits).replace("-", "\u2212")


def unit_of(unit: str, *, voice: Voice = PLAIN) -> str:
    """Return a unit as the reader knows it.

    Examples
    --------
    >>> unit_of("mg/kg", voice=Voice(units="US"))
    'ppm'
    """
    if unit in NAMELESS:
        return ""
    if system_of(voice) == "US":
        return US.get(unit, US_PLAIN[unit][0] if unit in US_PLAIN else unit)
    return unit


def factor_of(unit: str, *, voice: Voice = PLAIN) -> float:
    """Return what a value in a unit is multiplied by to stand in the reader's.

    Examples
    --------
    >>> round(factor_of("cm", voice=Voice(units="US")), 4)
    0.3937
    """
    if system_of(voice) == "metric" or unit not in (*US, *US_PLAIN):
        return 1.0
    if unit in US_PLAIN:
        return 1 / US_PLAIN[unit][1]
    return float(units.factor(unit, US[unit]))


def weight(grams: float, *, voice: Voice = PLAIN) -> str:
    """Return a weight in the larger unit of the reader where it makes one or more of that.

    Examples
    --------
    >>> weight(2268), weight(180), weight(2268, voice=Voice(units="US")), weight(180, voice=Voice(units="US"))
    ('2.27 kg', '180 g', '5.00 lb', '6.35 oz')
    """
    kg = grams / 1000
    whole = kg * factor_of("kg", voice=voice) >= 1
    return amount(kg, "kg", voice=voice) if whole else amount(grams, "g", voice=voice)


def amount(value: float, unit: str, *, voice: Voice = PLAIN, digits: int = 3) -> str:
    """Return a value with its unit, in the reader's units.

    Examples
    --------
    >>> amount(180, "mg/kg"), amount(180, "mg/kg", voice=Voice(units="US")), amount(6.4, "pH")
    ('180 mg/kg', '180 ppm', '6.40')
    """
    if not np.isfinite(value):
        return voice.say("amount.unknown")
    said = figure(value * factor_of(unit, voice=voice), digits=digits)
    name = unit_of(unit, voice=voice)
    return f"{said} {name}" if name else said


def amount_within(value: float, unit: str, *, ends: tuple[float, float], voice: Voice = PLAIN) -> str:
    """Return a value with its unit in two digits, or as finely as its interval allows.

    Examples
    --------
    >>> amount_within(-0.0076, "g/m2", ends=(-2.2, 2.1)), amount_within(-30.2, "g/m2", ends=(-43.0, -19.0))
    ('0.0 g/m2', '\u221230 g/m2')
    """
    low, value, high = (number * factor_of(unit, voice=voice) for number in (ends[0], value, ends[1]))
    said = present.within(value, low=low, high=high).replace("-", "\u2212")
    return f"{said} {unit_of(unit, voice=voice)}".rstrip()
