"""What every chart's words are made of: their parts, and how measures and places are spoken."""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType

import pandas as pd

from soiltrend import frames, tables, vocabulary
from soiltrend.story.voice import PLAIN, Voice, factor_of, listed, unit_of

NAMED = 3
"""Measures named in a headline before it says "and so many more"."""

ALT = 150
"""Most characters of an alt text: about 125 is advised (ONS service manual), what is longer is cut
off by some readers of the screen; the long description has no limit."""

KIND = 45
"""Characters of it that at least are left to what kind of picture it is."""

FEWEST, MOST = 10, 15
"""Words of a headline where it can be so."""


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
        The picture for someone who cannot see it, at most :data:`ALT` characters.
    description : str
        The same at length, every mark of the picture in words.
    paragraph : str
        For a newsletter: what was done, what was seen, and what it does not show.
    note : str
        For the speaker: what to say, in which order, and the caveat to say aloud.
    refusals : tuple of str
        What the headline might have said and did not, each with its reason.
    """

    headline: str
    subtitle: str
    caption: str
    alt: str
    description: str = ""
    paragraph: str = ""
    note: str = ""
    refusals: tuple[str, ...] = ()

    def parts(self, *, voice: Voice = PLAIN) -> list[tuple[str, str]]:
        """Return each part that is not empty, with what it is called."""
        told = [(name, getattr(self, name)) for name in PARTS]
        told += [("refusals", "\n".join(self.refusals))]
        return [(voice.say(f"part.{name}"), text) for name, text in told if text]

    def __repr__(self) -> str:
        """Return the parts, a paragraph each."""
        return "\n\n".join(f"{name}: {text}" for name, text in self.parts())

    def _repr_html_(self) -> str:
        rows = (
            f"<dt><strong>{html.escape(name)}</strong></dt>"
            + "".join(f"<dd>{html.escape(line)}</dd>" for line in text.splitlines())
            for name, text in self.parts()
        )
        return f'<dl class="soiltrend">{"".join(rows)}</dl>'


PARTS = ("headline", "subtitle", "caption", "alt", "description", "paragraph", "note")


def with_note(words: Words, note: str) -> Words:
    """Return the words with a note at the end of the subtitle, as on a chart that shows a part."""
    return replace(words, subtitle=f"{words.subtitle}; {note}") if note else words


def with_scale(words: Words, *, analyte: str, voice: Voice = PLAIN) -> Words:
    """Return the words of one measure with what to know of its scale: a logarithm, which end is better."""
    if "pH" in analyte:
        return replace(words, caption=f"{words.caption} {voice.say('log.ph')}")
    ends = vocabulary.observed(analyte).get("words", "")
    if not ends:
        return words
    caption, paragraph, note = (
        f"{text} {sentence(ends)}." if text else "" for text in (words.caption, words.paragraph, words.note)
    )
    return replace(words, caption=caption, paragraph=paragraph, note=note)


def spoken(analyte: str) -> str:
    """Return an analyte as a grower says it ("K" is potassium; pH stays pH).

    Examples
    --------
    >>> spoken("K"), spoken("pH")
    ('potassium', 'pH')
    """
    return vocabulary.facts(analyte).get("name", analyte)


def sentence(text: str) -> str:
    """Return a text with a capital at its start; pH keeps its own.

    Examples
    --------
    >>> sentence("potassium rose"), sentence("pH rose")
    ('Potassium rose', 'pH rose')
    """
    keep = text[:2] == "pH"
    return text if keep else text[:1].upper() + text[1:]


def named(names: Sequence[str], *, voice: Voice = PLAIN, most: int = NAMED) -> str:
    """Return the first few names, and how many more there are.

    Examples
    --------
    >>> named(["pH", "zinc"]), named(["pH", "zinc", "boron", "iron"], most=2)
    ('pH and zinc', 'pH, zinc and 2 more')
    >>> named(["pH", "zinc", "boron", "iron", "copper"])
    'pH, zinc, boron and 2 more'
    """
    if len(names) <= most:
        return listed(names, voice=voice)
    first = voice.say("list.comma").join(names[:most])
    return voice.say("list.more", {"first": first, "n": len(names) - most})


def where(bed: str, *, voice: Voice = PLAIN) -> str:
    """Return the place a headline speaks of.

    Examples
    --------
    >>> where("East"), where(frames.GARDEN)
    ('in East', 'over the garden')
    """
    return voice.say("where.garden") if bed == frames.GARDEN else voice.say("where.bed", {"bed": bed})


def layer(table: pd.DataFrame, *, voice: Voice = PLAIN) -> str:
    """Return the layers of the rows.

    Examples
    --------
    >>> rows = pd.DataFrame({"top_cm": [0.0], "bottom_cm": [15.24]})
    >>> layer(rows), layer(rows, voice=Voice(units="US"))
    ('0-15.2 cm', '0-6 in')
    """
    layers = table[["top_cm", "bottom_cm"]].dropna().drop_duplicates()
    times, unit = factor_of("cm", voice=voice), unit_of("cm", voice=voice)
    texts = [
        f"{round(top * times, 1):g}-{round(bottom * times, 1):g} {unit}" for top, bottom in layers.to_numpy()
    ]
    return listed(texts, voice=voice) or voice.say("layer.unknown")


def labs(table: pd.DataFrame, *, voice: Voice = PLAIN) -> str:
    """Return the laboratories of the rows; of what was seen in the beds, that no laboratory had it."""
    measures = set(table.get("analyte", ()))
    by_eye = bool(measures) and all(map(vocabulary.observed, measures))
    known = listed(sorted(lab for lab in table["lab"].unique() if lab), voice=voice)
    return known or voice.say("lab.none" if by_eye else "lab.unknown")


def methods(table: pd.DataFrame, *, voice: Voice = PLAIN, most: int = NAMED) -> str:
    """Return the first few methods of the rows, in their order, and how many more there are.

    Examples
    --------
    >>> methods(pd.DataFrame({"method": ["KCl", "", "LOI", "Olsen"]}), most=2)
    'KCl, LOI and 1 more'
    >>> methods(pd.DataFrame({"method": [""]}))
    'method not stated'
    """
    names = [name for name in table["method"].unique() if name]
    return named(names, voice=voice, most=most) or voice.say("method.unknown")


def by_methods(table: pd.DataFrame, *, voice: Voice = PLAIN) -> str:
    """Return ", by" and the methods of the rows of one measure, or nothing where none is known.

    Examples
    --------
    >>> by_methods(pd.DataFrame({"method": ["Olsen"]})), by_methods(pd.DataFrame({"method": [""]}))
    (', by Olsen', '')
    """
    if not (table["method"] != "").any():
        return ""
    return voice.say("method.by", {"methods": methods(table, voice=voice)})


@lru_cache(maxsize=None)
def patience() -> Mapping[str, float]:
    """Return the years that a slow measure needs before it is news, from ``tables/margins.csv``.

    Examples
    --------
    >>> patience()["OM"]
    3.0
    """
    table = tables.load("margins", numbers=("years",)).dropna(subset="years")
    return MappingProxyType(dict(zip(table["analyte"], table["years"].astype(float), strict=True)))


def is_share(analyte: str) -> bool:
    """Return whether a measure is a share or a ratio, which is not named without its amounts.

    Examples
    --------
    >>> is_share("Ca saturation"), is_share("Ca")
    (True, False)
    """
    return vocabulary.facts(analyte).get("kind", "") in ("share", "")


def fitting(candidates: Sequence[str], *, fewest: int = FEWEST, most: int = MOST) -> str:
    """Return the first candidate of as many words as a headline should have, else the nearest.

    Examples
    --------
    >>> fitting(["a b c d", "a b", "a"], fewest=1, most=2)
    'a b'
    """

    def off(text: str) -> int:
        """Return by how many words a text is too long or too short."""
        count = len(text.split())
        return max(fewest - count, count - most, 0)

    return min(candidates, key=off)


def cut(text: str, *, most: int = ALT) -> str:
    """Return a text of at most so many characters, cut between words.

    Examples
    --------
    >>> cut("one two three", most=9)
    'one two\u2026'
    """
    if len(text) <= most:
        return text
    return text[: most - 1].rsplit(" ", 1)[0].rstrip(" ,;:.") + "\u2026"


def alt(leads: Sequence[str], head: str) -> str:
    """Return the fullest alt text that fits: a lead and the headline, else the shortest lead and it, cut.

    What kind of picture it is stands first and stays; the headline is cut only where names leave no room.

    Examples
    --------
    >>> alt(["Dot chart of 3 soil measures in East.", "Dot chart."], "pH rose in East")
    'Dot chart of 3 soil measures in East. pH rose in East.'
    """
    whole = next((text for text in (f"{lead} {head}." for lead in leads) if len(text) <= ALT), "")
    if whole or not leads:
        return whole or cut(f"{head}.")
    kind = cut(min(leads, key=len), most=max(KIND, ALT - len(f" {head}.")))
    return f"{kind} {cut(f'{head}.', most=ALT - len(kind) - 1)}"


def headed(words: Words, told: Callable[[str], str], text: str) -> str:
    """Return the alt text of a chart over which another headline is printed, with that headline.

    Parameters
    ----------
    words : Words
        Of the chart under its own headline.
    told : function
        Returns what is said of a headline.
    text : str
        The other headline; cut where it leaves no room for the kind of picture and what is said.
    """
    tail = told(cut(text, most=max(KIND, ALT - KIND - 1 - len(told("")))))
    whole = f"{words.alt} {tail}"
    if len(whole) <= ALT:
        return whole
    lead = words.alt.removesuffix(f"{words.headline}.").strip() or words.alt
    return f"{cut(lead, most=max(KIND, ALT - len(tail) - 1))} {tail}"


def nothing_words(what: str, *, why: str = "", voice: Voice = PLAIN) -> Words:
    """Return the words for a chart without marks, so that its place is not left blank.

    Parameters
    ----------
    what : str
        A bed or a measure; without one they are of the garden.
    why : str
        Why nothing is drawn, as a clause without a point; by default that no two tests can be compared.
    voice : Voice
        Language and units.

    Examples
    --------
    >>> nothing_words("").headline, nothing_words("East").headline
    ('The garden: nothing to compare yet', 'East: nothing to compare yet')
    >>> nothing_words("boron", why="boron was not measured").paragraph
    'There is nothing to report of boron yet: boron was not measured.'
    """
    whole = what in ("", frames.GARDEN)
    name = voice.say("nothing.garden") if whole else what
    told, begun = {"what": name, "why": why}, {"what": sentence(name)}
    kind = "nothing.because" if why else "nothing"
    return Words(
        voice.say(f"{kind}.headline", begun),
        sentence(why) if why else voice.say("nothing.subtitle"),
        voice.say(f"{kind}.caption", told),
        cut(voice.say(f"{kind}.alt", told)),
        voice.say(f"{kind}.description", told),
        voice.say(f"{kind}.paragraph", told),
        voice.say(f"{kind}.note", told),
    )
