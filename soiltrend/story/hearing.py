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

EVERY = -1
"""As many beds as there are."""

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
    counts: list[tuple[int, int]] = field(default_factory=list)
    numbers: list[Number] = field(default_factory=list)


@dataclass
class Hearing:
    """All that was understood of a text.

    Attributes
    ----------
    claims : list of Claim
        What is said of measures.
    counts : list of tuple
        "2 of 7 beds", as two numbers; the first :data:`EVERY` for "any bed", the second 0 where not said.
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
        self.lead: tuple[list[str], list[tuple[int, int]]] = ([], [])
        self.counting: set[int] = set()

    def listen(self) -> Hearing:
        """Return what was understood."""
        at = 0
        while at < len(self.tokens):
            at += self._step(at)
        self._close()
        self._share_places()
        if self.heard.claims and self.heard.loose:
            self.heard.claims[0].numbers += self.heard.loose
            self.heard.loose = []
        return self.heard

    def _share_places(self) -> None:
        """Give each claim without beds those of the one before it, else of the one after it."""
        claims = self.heard.claims
        for order in (claims, claims[::-1]):
            place = self.lead
            for claim in order:
                if claim.beds or claim.counts:
                    place = claim.beds, claim.counts
                claim.beds, claim.counts = place

    def _step(self, at: int) -> int:
        """Take in one token, or a name of several; return how many were taken."""
        token = self.tokens[at]
        if taken := self._beds_counted(at):
            return taken
        if token.startswith("\x00"):
            self._bed(self.beds[int(token.strip("\x00"))])
        elif token in ENDS:
            self._close()
        elif re.fullmatch(r"\d+(?:[.,]\d+)?", token) or token.casefold() in self._counted():
            return self._number(at)
        elif way := self._way_of(token, at):
            self._verb(way, at)
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
        near = range(max(0, at - REACH), at)
        before = [self.tokens[place] for place in near if place not in self.counting]
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

    def _verb(self, way: str, at: int) -> None:
        """Give the verb to the names before it, or keep it for those after it.

        Behind a count of beds ("rose in 2 and fell in 1") it is said of the same names once more.
        """
        if not self.pending and {at - 1, at - 2} & self.counting:
            self.pending = [claim.measure for claim in self.group]
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
            self.lead[0].append(bed)

    def _count_of(self, at: int) -> int | None:
        """Return the whole number that stands at a place, in digits or as a word, else None."""
        token = self.tokens[at] if at < len(self.tokens) else ""
        return int(token) if token.isdecimal() else self._counted().get(token.casefold())

    def _skip(self, at: int, kind: str) -> int:
        """Return the place after the words of a kind that stand at a place."""
        while at < len(self.tokens) and self._is(self.tokens[at], kind):
            at += 1
        return at

    def _quantity(self, at: int) -> tuple[int, int, int] | None:
        """Return how many, of how many and the place after it of "both", "none", "any" or a number."""
        token = self.tokens[at]
        if self._is(token, "none"):
            return 0, 0, at + 1
        if self._is(token, "any"):
            return EVERY, 0, at + 1
        turned = self._is(token, "not")
        at = self._skip(at, "not")
        if at < len(self.tokens) and self._is(self.tokens[at], "both"):
            return 2 - turned, 2, at + 1
        number = self._count_of(at)
        if number is None or (turned and number != 1):
            return None
        return number - turned, 0, at + 1

    def _beds_counted(self, at: int) -> int:
        """Take in "2 of our 7 beds", "both beds" or "none of the beds"; return how many tokens that was."""
        found = self._quantity(at)
        if found is None:
            return 0
        number, of, end = found
        after = self._skip(self._skip(end, "of"), "our")
        total = self._count_of(after) if after > end else None
        after = self._skip(after + (total is not None), "our")
        if after < len(self.tokens) and self._is(self.tokens[after], "bed"):
            end = after + 1
        elif total is not None and self._within(at) and set(self.tokens[after : after + 1]) <= set(ENDS):
            end = after
        elif (shared := self._shared(at)) is not None:
            total = shared
        elif self._alone(at, end):
            total = None
        else:
            return 0
        self.counting.update(range(at, end))
        self._count((number, of if total is None else total))
        return end - at

    def _shared(self, at: int) -> int | None:
        """Return of how many beds the first count is in "rose in 2 and fell in 1 of 7 beds", else None."""
        verb = self.tokens[at + 2 : at + 3]
        if not (verb and self._within(at) and self._way_of(verb[0], at + 2) and self._within(at + 4)):
            return None
        after = self._skip(self._skip(at + 5, "of"), "our")
        return self._count_of(after) if after > at + 5 else None

    def _within(self, at: int) -> bool:
        """Return whether an "in" or "over" stands before a place."""
        return at > 0 and self._is(self.tokens[at - 1], "in")

    def _alone(self, at: int, end: int) -> bool:
        """Return whether "in both" or "in none" speaks of beds without naming them."""
        word = self.tokens[at]
        if not self._within(at) or not any(self._is(word, kind) for kind in ("both", "none", "any")):
            return False
        follows = self.tokens[end : end + 1]
        named = any(word.startswith("\x00") for word in follows) or measure_at(self.tokens, end)[1]
        return not named and not self._is_of(follows)

    def _is_of(self, words: Sequence[str]) -> bool:
        return bool(words) and self._is(words[0], "of")

    def _count(self, count: tuple[int, int]) -> None:
        """Keep a count of beds, and give it to what was said last."""
        self.heard.counts.append(count)
        if self.group and not self.pending:
            for claim in self.group:
                claim.counts.append(count)
        else:
            self.lead[1].append(count)

    def _number(self, at: int) -> int:
        """Take in a number that counts no beds: a year, or an amount of what was said last."""
        text = self.tokens[at]
        value = float(self._counted().get(text.casefold(), 0)) or float(text.replace(",", "."))
        rest = self.tokens[at + 1 : at + 4]
        spelled = text.casefold() in self._counted()
        if self._is_of(rest) and self._count_of(at + 2) is not None:
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
    for made in words_for("made_bed", language):  # "raised beds" raise nothing
        masked = re.sub(rf"(?<!\w){re.escape(made)}(?!\w)", made.split()[-1], masked, flags=re.IGNORECASE)
    heard = _Ear(TOKEN.findall(masked), order, language).listen()
    for kind in ("cause", "grade", "forecast", "trend", "all", "garden"):
        heard.words[kind] = _present(masked, kind, language)
    return heard
