"""What every chart's words are made of: the parts, and how lists and measures are spoken."""

from __future__ import annotations

from dataclasses import dataclass, replace

import pandas as pd

from soiltrend import frames, vocabulary

NAMED = 3
"""Measures named in a headline before it says "and so many more"."""


@dataclass(frozen=True)
class Words:
    """What is written on and beside a chart.

    Attributes
    ----------
    headline : str
        What was seen, in one sentence.
    subtitle : str
        What was measured, where, when and by whom.
    caption : str
        How to read the picture: marks, band, n.
    alt : str
        The picture for someone who cannot see it.
    """

    headline: str
    subtitle: str
    caption: str
    alt: str


def with_note(words: Words, note: str) -> Words:
    """Return the words with a note at the end of the subtitle, as on a chart that shows a part."""
    return replace(words, subtitle=f"{words.subtitle}; {note}") if note else words


def listed(items: list[str]) -> str:
    """Return items as a reader would say them.

    Examples
    --------
    >>> listed(["pH", "Ca", "K"])
    'pH, Ca and K'
    """
    if len(items) < 2:
        return "".join(items)
    return ", ".join(items[:-1]) + " and " + items[-1]


def spoken(analyte: str) -> str:
    """Return an analyte as a grower says it ("K" is potassium; pH stays pH)."""
    return vocabulary.facts(analyte).get("name", analyte)


def sentence(text: str) -> str:
    """Return a text with a capital at its start; pH keeps its own."""
    keep = text[:2] == "pH"
    return text if keep else text[:1].upper() + text[1:]


def named(names: list[str]) -> str:
    """Return the first few names, and how many more there are."""
    if len(names) <= NAMED:
        return listed(names)
    return ", ".join(names[:NAMED]) + f" and {len(names) - NAMED} more"


def where(bed: str) -> str:
    """Return the place a headline speaks of."""
    return "over the garden" if bed == frames.GARDEN else f"in {bed}"


def layer(table: pd.DataFrame) -> str:
    """Return the layers of the rows ("0-15 cm")."""
    layers = table[["top_cm", "bottom_cm"]].dropna().drop_duplicates()
    texts = [f"{top:g}-{bottom:g} cm" for top, bottom in layers.to_numpy()]
    return listed(texts) or "layer not stated"


def nothing_words(what: str) -> Words:
    """Return the words for a chart that has nothing to show, so that its place is not left blank."""
    return Words(
        f"{sentence(what)}: nothing to compare yet",
        "Two tests of the same bed, by one laboratory and method, make a comparison.",
        "No two tests of one series were found.",
        f"A chart without marks: {what} has no two tests that can be compared.",
    )
