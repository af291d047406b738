"""What a headline of the grower's own claims: measures, ways, beds, numbers and words of cause.

The text is heard as a headline is written: names come before their verb ("pH and zinc rose") or
after it ("a rise in pH and zinc"); a bed belongs to what was said last and to all beside it that
names none. What is not understood is not claimed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from soiltrend import vocabulary
from soiltrend.story import phrases

ROSE, FELL, HELD, CHANGED = WAYS = ("rose", "fell", "held", "changed")
MOST_WORDS = 4
"""Words of the longest name of a measure that is looked for."""

REACH = 3
"""Words back from a verb within which a "not" turns it round."""

SYMBOL = 2
"""Letters of a chemical symbol; so short a name counts only as it is spelled ("Ca", and not "ca")."""

WORDS_NOT_SYMBOLS = ("As", "I", "In", "No", "He", "Be", "At", "Am")
"""Words at the start of a sentence that are symbols, too."""

YEARS = (1900, 2100)
COUNTS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
TIMES = {"half": -50.0, "double": 100.0, "triple": 200.0, "third": 100 / 3, "quarter": 25.0}
"""Percent that a word of amount stands for."""

TOKEN = re.compile(r"\x00\d+\x00|[^\W\d_]+(?:[-'’:+][^\W\d_]+)*|\d+(?:[.,]\d+)?|%|[;.!?]")
ENDS = (";", ".", "!", "?")


@dataclass(frozen=True)
class Number:
    """A number as it was said, and whether it is one of per cent."""

    text: str
    value: float
    percent: bool


@dataclass
class Claim:
    """One measure and what is said of it."""

    measure: str
    way: str
    beds: list[str] = field(default_factory=list)
    numbers: list[Number] = field(default_factory=list)


@dataclass
class Hearing:
    """All that was understood of a text.

    Attributes
    ----------
    claims : list of Claim
        What is said of measures.
    counts : list of tuple
        "2 of 7 beds", as two numbers; the second 0 where it was not said.
    years : list of str
        Calendar years named.
    words : dict of str to list
        Words of cause, grade, forecast, trend, all and garden that occur.
    """

    claims: list[Claim] = field(default_factory=list)
    counts: list[tuple[int, int]] = field(default_factory=list)
    years: list[str] = field(default_factory=list)
    loose: list[Number] = field(default_factory=list)
    words: dict[str, list[str]] = field(default_factory=dict)


@lru_cache(maxsize=None)
def words_for(kind: str, language: str) -> tuple[str, ...]:
    """Return the words of a kind in a language.

    Examples
    --------
    >>> words_for("all", "en")[:2]
    ('all', 'every')
    """
    return tuple(word.strip() for word in phrases.load(language)[f"heard.{kind}"].split(";"))


def _present(text: str, kind: str, language: str) -> list[str]:
    """Return the words and phrases of a kind that occur in a text."""
    return [
        word
        for word in words_for(kind, language)
        if re.search(rf"(?<!\w){re.escape(word)}(?!\w)", text, flags=re.IGNORECASE)
    ]


def measure_at(tokens: Sequence[str], at: int) -> tuple[str, int]:
    """Return the measure named from a token on and how many tokens its name takes, ("", 0) if none.

    Examples
    --------
    >>> measure_at(["calcium", "saturation", "rose"], 0)
    ('Ca saturation', 2)
    """
    for count in range(min(MOST_WORDS, len(tokens) - at), 0, -1):
        words = tokens[at : at + count]
        spelled = " ".join(words)
        name = vocabulary.analytes().get(vocabulary.key(spelled), "") or _by_name().get(
            spelled.casefold(), ""
        )
        short = len(spelled) <= SYMBOL
        if name and not (short and (spelled != name or spelled in WORDS_NOT_SYMBOLS)):
            return name, count
    return "", 0


@lru_cache(maxsize=None)
def _by_name() -> dict[str, str]:
    """Return the measures by the names that growers say."""
    known = set(vocabulary.analytes().values())
    return {vocabulary.facts(name).get("name", name).casefold(): name for name in known}


def _masked(text: str, beds: Sequence[str]) -> tuple[str, list[str]]:
    """Return the text with each bed's name as a number between marks, and the beds by number."""
    order = sorted(beds, key=len, reverse=True)
    for number, bed in enumerate(order):
        text = re.sub(rf"(?<!\w){re.escape(bed)}(?!\w)", f"\x00{number}\x00", text, flags=re.IGNORECASE)
    return text, order


class _Ear:
    """Goes through the words of a headline once."""

    def __init__(self, tokens: list[str], beds: list[str], language: str) -> None:
        self.tokens, self.beds, self.language = tokens, beds, language
        self.heard = Hearing()
        self.pending: list[str] = []
        self.group: list[Claim] = []
        self.way = ""
        self.lead: list[str] = []

    def listen(self) -> Hearing:
        """Return what was understood."""
        at = 0
        while at < len(self.tokens):
            at += self._step(at)
        self._close()
        self._share_beds()
        if self.heard.claims and self.heard.loose:
            self.heard.claims[0].numbers += self.heard.loose
            self.heard.loose = []
        return self.heard

    def _share_beds(self) -> None:
        """Give each claim without a bed that of the one before it, else of the one after it."""
        claims = self.heard.claims
        beds = list(self.lead)
        for claim in claims:
            claim.beds = beds = claim.beds or beds
        for claim in reversed(claims):
            claim.beds = beds = claim.beds or beds

    def _step(self, at: int) -> int:
        """Take in one token, or a name of several; return how many were taken."""
        token = self.tokens[at]
        if token.startswith("\x00"):
            self._bed(self.beds[int(token.strip("\x00"))])
        elif token in ENDS:
            self._close()
        elif re.fullmatch(r"\d+(?:[.,]\d+)?", token) or token.casefold() in self._counted():
            return self._number(at)
        elif way := self._way_of(token, at):
            self._verb(way)
            self._times(token)
        else:
            name, count = measure_at(self.tokens, at)
            if name:
                self._measure(name)
                return count
            self._times(token)
        return 1

    def _is(self, token: str, kind: str) -> bool:
        return token.casefold() in words_for(kind, self.language)

    def _counted(self) -> dict[str, int]:
        return {
            word: number
            for number, key in enumerate(COUNTS, start=1)
            for word in words_for(key, self.language)
        }

    def _way_of(self, token: str, at: int) -> str:
        """Return the way a token says, turned round by a "not" before it."""
        way = next((kind for kind in WAYS if self._is(token, kind)), "")
        if way and any(self._is(word, "than") for word in self.tokens[at + 1 : at + 2]):
            return ""  # "more than halved" tells how far, and not which way
        before = self.tokens[max(0, at - REACH) : at]
        if not way or not any(self._is(word, "not") for word in before):
            return way
        unsure = any(self._is(word, "sure") for word in (*before, *self.tokens[at : at + REACH]))
        return "" if unsure else CHANGED if way == HELD else HELD

    def _measure(self, name: str) -> None:
        if self.way and not self.pending:
            self._add(name, self.way)
        else:
            self.pending.append(name)

    def _add(self, name: str, way: str) -> None:
        claim = Claim(name, way)
        self.heard.claims.append(claim)
        self.group.append(claim)

    def _verb(self, way: str) -> None:
        """Give the verb to the names before it, or keep it for those after it."""
        self.way = ""
        self.group = []
        for name in self.pending:
            self._add(name, way)
        if not self.pending:
            self.way = way
        self.pending = []

    def _bed(self, bed: str) -> None:
        if self.group and not self.pending:
            for claim in self.group:
                claim.beds.append(bed)
        else:
            self.lead.append(bed)

    def _number(self, at: int) -> int:
        """Take in a number: a year, a count of beds, or an amount of what was said last."""
        text = self.tokens[at]
        value = float(self._counted().get(text.casefold(), 0)) or float(text.replace(",", "."))
        rest = self.tokens[at + 1 : at + 4]
        spelled = text.casefold() in self._counted()
        if len(rest) > 2 and self._is(rest[0], "of") and rest[1].isdigit() and self._is(rest[2], "bed"):
            self.heard.counts.append((int(value), int(rest[1])))
            return 4
        if rest and self._is(rest[0], "bed"):
            self.heard.counts.append((int(value), 0))
            return 2
        if len(rest) > 1 and self._is(rest[0], "of") and rest[1].isdigit():
            return 3
        if spelled:
            return 1
        if YEARS[0] <= value <= YEARS[1] and text.isdigit() and len(text) == 4:
            self.heard.years.append(text)
            return 1
        percent = bool(rest) and (self._is(rest[0], "percent") or self._is(" ".join(rest[:2]), "percent"))
        self._amount(Number(text + (" %" if percent else ""), value, percent))
        return 1

    def _times(self, token: str) -> None:
        """Take in a word that stands for an amount ("doubled")."""
        for kind, percent in TIMES.items():
            if self._is(token, kind):
                self._amount(Number(token, percent, True))

    def _amount(self, number: Number) -> None:
        if not self.group:
            self.heard.loose.append(number)
        for claim in self.group:
            claim.numbers.append(number)

    def _close(self) -> None:
        """End a sentence: names without a verb are mentioned and no more."""
        for name in self.pending:
            self._add(name, "")
        self.pending, self.group, self.way = [], [], ""


def hear(text: str, *, beds: Sequence[str], language: str = phrases.FIRST) -> Hearing:
    """Return what a headline claims.

    Parameters
    ----------
    text : str
        The headline.
    beds : sequence of str
        Names of beds that may occur in it.
    language : str
        Of the text.

    Examples
    --------
    >>> found = hear("pH and zinc rose in East, potassium did not fall", beds=["East"])
    >>> [(claim.measure, claim.way, claim.beds) for claim in found.claims]
    [('pH', 'rose', ['East']), ('Zn', 'rose', ['East']), ('K', 'held', ['East'])]
    """
    masked, order = _masked(text, beds)
    heard = _Ear(TOKEN.findall(masked), order, language).listen()
    for kind in ("cause", "grade", "forecast", "trend", "all", "garden"):
        heard.words[kind] = _present(masked, kind, language)
    return heard
