"""A heading of no known name: what of it is known all the same, and what it looks like."""

from __future__ import annotations

import difflib
import re
from dataclasses import replace
from functools import lru_cache

from soiltrend import tables, vocabulary
from soiltrend.reading import layers
from soiltrend.vocabulary import Label

ALIKE = 0.8
"""Least likeness of two words, of at most 1, at which one is taken for a slip of the other."""

SPELLED_OUT = 4
"""Letters from which a word can bear a slip; a shorter one is a sign of its own ("N", "C")."""

IONS = ("ate", "ite", "ide", "ine")
"""Endings that make another substance and no slip: nitrite is no nitrate."""


def _words(text: str) -> list[str]:
    return re.findall(r"[^\s_,;()\[\]|/\u2013-]+", text)


def _methods(words: list[str]) -> tuple[list[str], list[str]]:
    """Return the methods that runs of words name, the longest run first, and the words left over."""
    for length in range(len(words), 0, -1):
        for at in range(len(words) - length + 1):
            method = vocabulary.find_method("".join(words[at:at + length]))
            if method:
                more, rest = _methods([*words[:at], *words[at + length:]])
                return list(dict.fromkeys([method, *more])), rest
    return [], words


def _taken_apart(text: str, unit: str) -> tuple[list[str], list[str], list[str]]:
    """Return the methods and the forms that a heading names beside its unit, and the words left over."""
    bare, _ = layers.in_heading(text)
    methods, words = _methods(_words(" ".join(bare.rsplit(unit, 1)) if unit else bare))
    named = {word: vocabulary.forms().get(vocabulary.key(word)) for word in words}
    sure = {word: label.form for word, label in named.items() if label and not label.question}
    return methods, list(dict.fromkeys(sure.values())), [word for word in words if word not in sure]


@lru_cache(maxsize=4096)
def parts(text: str, read: Label) -> Label:
    """Return what a heading of no known name tells of unit, method and form; of several, all of them.

    Examples
    --------
    >>> label = "Potasium K2O (Mehlich 3) ppm"
    >>> parts(label, vocabulary.read_label(label))
    Label(analyte='', method='Mehlich-3', unit='ppm', form='K2O', question='')
    """
    methods, forms, _ = _taken_apart(text, read.unit)
    return replace(read, method=" and ".join(methods), form=" and ".join(forms))


def _slip(word: str, known: str) -> float:
    """Return how alike a word is to one of a known name, 0 where the difference is no slip of the pen."""
    one, two = vocabulary.key(word), vocabulary.key(known)
    if one == two:
        return 1.0
    ends = [text.removesuffix("s")[-3:] for text in (one, two)]
    if min(len(one), len(two)) < SPELLED_OUT or one[0] != two[0] or (
            ends[0] != ends[1] and set(ends) <= set(IONS)):
        return 0.0
    return difflib.SequenceMatcher(None, one, two).ratio()


@lru_cache(maxsize=4096)
def looks_like(text: str) -> str:
    """Return the analyte whose name a heading bears with a slip of spelling, or empty.

    Examples
    --------
    >>> looks_like("Organic Mater %"), looks_like("Potasium (Mehlich 3) ppm"), looks_like("Organic N %")
    ('OM', 'K', '')
    """
    _, _, words = _taken_apart(text, vocabulary.read_label(text).unit)
    words = [word for word in words if vocabulary.key(word) and word.casefold() not in vocabulary.FILLER]
    best, nearest = 0.0, ""
    for spelling, analyte in tables.spellings("analytes", "analyte").items():
        known = _words(spelling)
        if words and len(known) == len(words):
            alike = min(_slip(*pair) for pair in zip(words, known, strict=True))
            best, nearest = max((best, nearest), (alike, analyte), key=lambda one: one[0])
    return nearest if best >= ALIKE else ""
