"""Every sentence of the story in one place: a file of phrases for each language.

A language is a file ``<language>.toml`` beside this one, with the keys of ``en.toml`` and the
same slots in braces. Nothing in this room writes a sentence of its own, so a new language is a
new file and no code.
"""

from __future__ import annotations

import string
import tomllib
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files
from typing import Any

from soiltrend.errors import SoiltrendError

FIRST = "en"
"""The language that every other one is checked against."""


def languages() -> list[str]:
    """Return the languages there are phrases for.

    Examples
    --------
    >>> "en" in languages()
    True
    """
    names = (path.name for path in files("soiltrend.story").iterdir())
    return sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml"))


def slots(text: str) -> set[str]:
    """Return the names in braces that a phrase is to be filled with.

    Examples
    --------
    >>> sorted(slots("{names} rose in {bed}"))
    ['bed', 'names']
    """
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def check(phrases: Mapping[str, str], *, language: str) -> None:
    """Refuse phrases that lack one of the first language's keys or slots, naming the first few.

    Raises
    ------
    SoiltrendError
        When a key is missing, or a phrase has other slots than the same in :data:`FIRST`.
    """
    model = load(FIRST)
    lacking = [key for key in model if key not in phrases]
    unlike = [key for key in model if key in phrases and not slots(phrases[key]) <= slots(model[key])]
    wrong = lacking or unlike
    if wrong:
        fault = "lacks" if lacking else "misfills"
        raise SoiltrendError(
            f"the language '{language}' {fault} {len(wrong)} phrases: {', '.join(wrong[:5])}",
            file=f"{language}.toml",
            remedy=f"Write them after {FIRST}.toml, with the same words in braces.",
        )


def flat(tree: Mapping[str, Any], *, above: str = "") -> dict[str, str]:
    """Return nested tables as one, keys joined by dots.

    Examples
    --------
    >>> flat({"verb": {"rose": "rose"}})
    {'verb.rose': 'rose'}
    """
    out: dict[str, str] = {}
    for key, value in tree.items():
        if isinstance(value, Mapping):
            out |= flat(value, above=f"{above}{key}.")
        else:
            out[above + key] = str(value)
    return out


@lru_cache(maxsize=None)
def load(language: str) -> dict[str, str]:
    """Return the phrases of a language by key.

    Raises
    ------
    SoiltrendError
        When there is no such language, or its file is not whole.

    Examples
    --------
    >>> load("en")["verb.rose"]
    'rose'
    """
    if language not in languages():
        raise SoiltrendError(
            f"there are no phrases for the language '{language}'",
            remedy="There are: " + ", ".join(languages()),
        )
    path = files("soiltrend.story") / f"{language}.toml"
    phrases = flat(tomllib.loads(path.read_text(encoding="utf-8")))
    if language != FIRST:
        check(phrases, language=language)
    return phrases
