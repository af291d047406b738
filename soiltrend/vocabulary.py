"""The trade's words: which analyte, method and unit a label names.

:func:`read_label` takes a column heading or a row label as a laboratory prints it and says
what it names, by the spellings in ``tables/analytes.csv``, ``methods.csv``, ``units.csv``
and ``forms.csv``. What it does not know it leaves unnamed; it never guesses.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from soiltrend import tables, units

FILLER = ("exchangeable", "exch", "extractable", "ext", "available", "avail", "plant available",
          "soil", "concentration", "conc", "result", "value", "total extractable", "in", "by", "as")
"""Words around an analyte's name that change nothing about what was measured."""

GLUED = 4
"""Shortest method name that is recognised when glued to an analyte ("olsenP"), in letters."""

PLURAL = re.compile(r"[a-z]s$|^[A-Z]{4,}S$")
"""An s at the end of a word makes a plural; sulfur is written large behind small letters, or stands apart."""

IONS = frozenset({"bicarbonate", "sodiumbicarbonate", "nahco3"})
"""Keys of extractants that are ions and salts of a soil too: a heading of nothing else does not say which."""


@dataclass(frozen=True)
class Label:
    """What a heading names.

    Attributes
    ----------
    analyte : str
        Canonical analyte, or empty when none is known.
    method : str
        Canonical method, or empty when the heading names none.
    unit : str
        The unit as spelled in the heading, or empty.
    form : str
        The oxide or ion counted (``"P2O5"``), or empty.
    question : str
        What must be asked before the values can be used, or empty.
    """

    analyte: str = ""
    method: str = ""
    unit: str = ""
    form: str = ""
    question: str = ""


def key(text: str) -> str:
    r"""Return a spelling without case, spaces, punctuation and subscripts, as names are looked up.

    Examples
    --------
    >>> key("Mehlich-3 P"), key("NO\u2083-N"), key("% clay")
    ('mehlich3p', 'no3n', '%clay')
    """
    return re.sub(r"[^0-9a-z%+:]", "", unicodedata.normalize("NFKC", text).casefold())


@lru_cache(maxsize=None)
def analytes() -> dict[str, str]:
    """Return every known spelling of an analyte, by :func:`key`, mapped to its name."""
    return {key(text): name for text, name in tables.spellings("analytes", "analyte").items()}


@lru_cache(maxsize=None)
def methods() -> dict[str, str]:
    """Return every known spelling of a method, by :func:`key`, mapped to its name."""
    return {key(text): name for text, name in tables.spellings("methods", "method").items()}


@lru_cache(maxsize=None)
def _crops(table: str) -> dict[str, str]:
    return {key(text): name for text, name in tables.spellings(table, "crop").items()}


def _listed(text: str, table: str) -> str:
    """Return the crop of a table that a word names, or empty; one and many of it are the same."""
    word, known = key(text), _crops(table)
    spelled = (word, word.removesuffix("s"), word.removesuffix("es"), f"{word}s", f"{word}es")
    return next((known[text] for text in spelled if text in known), "")


def crop(text: str) -> str:
    """Return the crop of ``tables/removal.csv`` that a grower's word names, or empty.

    Examples
    --------
    >>> crop("Broad-beans"), crop("Kale"), crop("moonbeams")
    ('broad bean', 'kale', '')
    """
    return _listed(text, "removal")


def crop_with_aims(text: str) -> str:
    """Return the crop of ``tables/crop_aims.csv`` that a word names, be it by its kind, or empty.

    Examples
    --------
    >>> crop_with_aims("kale"), crop_with_aims("new potatoes"), crop_with_aims("lettuce")
    ('brassica', 'potato', '')
    """
    return _listed(text, "crop_aims") or _listed(crop(text), "crop_aims")


@lru_cache(maxsize=None)
def forms() -> dict[str, Label]:
    """Return every spelling, by :func:`key`, of a form that a heading may name by itself.

    Examples
    --------
    >>> forms()["potash"].form, forms()["no3"].question
    ('K2O', 'NO3 may count the ion or its N')
    """
    table = tables.load("forms").set_index("form")
    known = {text: form for text, form in tables.spellings("forms", "form").items()
             if table["alone"][form] != "no"}
    doubt = {form: f"{form} may count the ion or its {element}" for form, element, alone
             in zip(table.index, table["element"], table["alone"], strict=True) if alone == "ask"}
    return {key(text): Label(str(table["analyte"][form]), form=form, question=doubt.get(form, ""))
            for text, form in known.items()}


@lru_cache(maxsize=None)
def facts(analyte: str) -> dict[str, str]:
    """Return the row of ``tables/analytes.csv`` for an analyte, empty when it is not there.

    Examples
    --------
    >>> facts("OM")["unit"], facts("unheard of")
    ('%', {})
    """
    table = tables.load("analytes").set_index("analyte", drop=False)
    return {str(k): str(v) for k, v in table.loc[analyte].items()} if analyte in table.index else {}


@lru_cache(maxsize=None)
def observed(analyte: str) -> dict[str, str]:
    """Return the row of ``tables/observations.csv`` of what hand and eye measure, empty for anything else.

    Examples
    --------
    >>> observed("structure score")["words"], observed("K")
    ('1 is friable and best, 5 very compact: lower is better', {})
    """
    table = tables.load("observations").set_index("measure")
    return {str(k): str(v) for k, v in table.loc[analyte].items()} if analyte in table.index else {}


@lru_cache(maxsize=None)
def most(analyte: str, bounds: str = "possible") -> dict[str, Any]:
    """Return the row of a table of bounds, empty where nothing is known.

    ``"possible"`` holds what no soil can reach, ``"unlikely"`` what hardly any extract gives.

    Examples
    --------
    >>> float(most("bulk density")["most"]), most("pH"), float(most("P", "unlikely")["most"])
    (2.65, {}, 1366.0)
    """
    table = tables.load(bounds, numbers=("most",)).set_index("analyte")
    return {str(k): v for k, v in table.loc[analyte].items()} if analyte in table.index else {}


DEEPEST = 200.0
"""Where a soil ends, by convention [cm] (Soil Survey Staff, Soil Taxonomy: set at 200 cm; from memory)."""


def most_told(key: str) -> tuple[float, str]:
    """Return the most that a grower's number about a bed can be, and how it is written.

    Examples
    --------
    >>> most_told("bulk_density")
    (2.65, 'g/cm3, such as 1.3 for 1300 kg/m3')
    """
    if key == "bulk_density":
        return float(most("bulk density")["most"]), "g/cm3, such as 1.3 for 1300 kg/m3"
    return (DEEPEST, "cm, such as 15 for 150 mm") if key == "depth_cm" else (math.inf, "")


def canonical_unit(analyte: str) -> str:
    """Return the unit in which an analyte's values are kept, or empty for one not known.

    Examples
    --------
    >>> canonical_unit("K"), canonical_unit("CEC")
    ('mg/kg', 'cmol/kg')
    """
    return facts(analyte).get("unit", "")


def find_method(text: str) -> str:
    """Return the method that a text names as a whole, or empty.

    Examples
    --------
    >>> find_method("Mehlich III"), find_method("by moonlight")
    ('Mehlich-3', '')
    """
    return methods().get(key(text), "")


def _unit_at_end(text: str) -> tuple[str, str] | None:
    """Return what stands before the unit that a text ends in behind a space or a dot, and it; or None."""
    for mark in re.finditer(r"(?<=\S)(?:\s+|\.)(?=\S)", text):
        if units.find(text[mark.end():]):
            return text[:mark.start()], text[mark.end():]
    return None


def _unit_before_method(text: str) -> tuple[str, str] | None:
    """Return the heading without its unit, and it, where a method in brackets stands behind; or None.

    In "K index (Olsen)" the unit is part of the name.
    """
    behind = re.fullmatch(r"(.+?)\s*[\[(]([^\[\]()]+)[\])]", text)
    of_method = behind and find_method(behind.group(2)) and _named(text) is None
    found = _unit_at_end(behind.group(1)) if behind and of_method else None
    return (f"{found[0]} ({behind.group(2)})", found[1]) if behind and found else None


def _split_unit(text: str) -> tuple[str, str]:
    """Return the heading without its unit, and the unit as spelled there."""
    for pattern in (r"[\[(](.*)[\])]", r"[\[(]([^\])]*)[\])]", r"[,;:|_\n](?!.*[,;:|_\n])\s*(.+)$"):
        for match in re.finditer(pattern, text):
            if units.find(match.group(1)):
                return f"{text[:match.start()]} {text[match.end():]}".strip(), match.group(1).strip()
    known = _unit_at_end(text.strip()) or _unit_before_method(text.strip())
    if known:
        return known
    words = text.split()
    if "%" in words[1:-1]:
        return " ".join(word for word in words if word != "%"), "%"
    if text.strip().startswith("%") and key(text) not in analytes():
        return text.strip()[1:].strip(), "%"
    if text.rstrip().endswith("%"):
        return text.rstrip()[:-1].strip(), "%"
    return text, ""


@lru_cache(maxsize=None)
def _implied() -> dict[str, tuple[str, str]]:
    """Return methods that are a heading by themselves ("Bray P1"), with what they measure."""
    table = tables.load("methods").query("implies != ''").set_index("method")["implies"]
    sure = {text: name for text, name in methods().items() if text not in IONS}
    return {text: (str(table[name]), name) for text, name in sure.items() if name in table.index}


@lru_cache(maxsize=None)
def _filler_keys() -> frozenset[str]:
    return frozenset(key(word) for word in FILLER)


@lru_cache(maxsize=None)
def _glued() -> dict[int, frozenset[str]]:
    """Return what is recognised when glued to an analyte, by its length, the longest first."""
    words = [word for word in set(methods()) | _filler_keys() if len(word) >= GLUED]
    lengths = sorted({len(word) for word in words}, reverse=True)
    return {length: frozenset(word for word in words if len(word) == length) for length in lengths}


def _substance(name: str) -> Label | None:
    """Return what a bare name's key stands for, or None."""
    if name in analytes():
        return Label(analytes()[name])
    if name in forms():
        return forms()[name]
    if name in _implied():
        return Label(*_implied()[name])
    return None


def _cuts(words: tuple[str, ...]) -> list[tuple[tuple[str, ...], str]]:
    """Return (what is left, the key cut off) for every cut at either end of a name.

    Whole words are cut first; letters glued to the name ("olsenP") only when they are as
    long as :data:`GLUED`, so that "AAS" does not become sulfur by ammonium acetate.
    """
    spans = [(words[i:], words[:i]) for i in range(len(words) - 1, 0, -1)]
    spans += [(words[:i], words[i:]) for i in range(1, len(words))]
    cuts = [(rest, key("".join(cut))) for rest, cut in spans]
    name = key("".join(words))
    plural = PLURAL.search("".join(words[-1:]))
    for length, known in _glued().items():
        if length < len(name):
            after = name[length:]
            cuts += [((after,), name[:length])] * (name[:length] in known and not (plural and after == "s"))
            cuts += [((name[:-length],), name[-length:])] * (name[-length:] in known)
    return cuts


@lru_cache(maxsize=8192)
def _name(words: tuple[str, ...]) -> Label | None:
    """Return what a name means once methods and filler words are cut from its ends."""
    whole = _substance(key("".join(words))) or _stated_as(words) or _agreeing(words)
    if whole:
        return whole
    for rest, cut in _cuts(words):
        known = cut in methods() or cut in _filler_keys()
        label = _name(rest) if known else None
        if label:
            return replace(label, method=label.method or methods().get(cut, ""))
    return None


@lru_cache(maxsize=8192)
def read_label(text: str) -> Label:
    """Return what a heading names: analyte, method, unit and form.

    Parameters
    ----------
    text : str
        A heading as printed, with unit and method inside it or not.

    Examples
    --------
    >>> read_label("P (Mehlich-3) ppm")
    Label(analyte='P', method='Mehlich-3', unit='ppm', form='', question='')
    >>> read_label("olsenP_mg.kg").method
    'Olsen'
    >>> read_label("K mg/kg (Mehlich-3)").method, read_label("K.ppm").unit, read_label("Water pH").method
    ('Mehlich-3', 'ppm', 'water')
    >>> read_label("K2O [kg/ha]").form
    'K2O'
    >>> read_label("shoe size").analyte
    ''
    >>> read_label("SO4 ppm").question
    'SO4 may count the ion or its S'
    """
    text = text.strip()
    bare, unit = (text, "") if key(text) in analytes() else _split_unit(text)
    label, whole = _named(bare), _named(text) if unit else None
    if label is None and whole:  # "Water pH": what looks like its unit is its name
        return whole
    if label is None or not _fits(label.analyte, unit):
        return Label(unit=unit)
    return replace(label, unit=unit)


def _named(bare: str) -> Label | None:
    words = re.findall(r"[^\s_,;()\[\]|/\u2013-]+", bare)
    return _name(tuple(map(_singular, words)))


def _singular(word: str) -> str:
    """Return "Sulfate" for "Sulfates", which is no sulfate-S; any other word as it is."""
    return word[:-1] if PLURAL.search(word) and key(word[:-1]) in forms() else word


def _fits(analyte: str, unit: str) -> bool:
    """Return whether the form a unit counts, if any, is of the analyte's own element."""
    known = units.find(unit)
    return not (known and known.form) or units.forms()[known.form] == facts(analyte)["element"]


def _stated_as(words: tuple[str, ...]) -> Label | None:
    """Return the substance of "phosphorus as P2O5": what stands after "as" is what was counted."""
    at = _folded(words).index("as", 1) if "as" in _folded(words[1:-1]) else 0
    what, counted = (_name(words[:at]), _name(words[at + 1:])) if at else (None, None)
    if what is None or counted is None or what.analyte != counted.analyte:
        return None
    return replace(counted, method=what.method or counted.method, question="")


def _folded(words: tuple[str, ...]) -> list[str]:
    return [word.casefold() for word in words]


def _agreeing(words: tuple[str, ...]) -> Label | None:
    """Return the one substance that all words of a heading name ("Al aluminum"), or None.

    Of "potassium (K2O)" it is the oxide, whichever word comes first.
    """
    if len(words) < 2:
        return None
    named = [_substance(key(word)) for word in words if key(word) not in _filler_keys()]
    found = {label for label in named if label}
    exact = {label for label in found if label.form} or found
    same = len({label.analyte for label in found}) == 1 and all(named)
    return next(iter(exact)) if same and len(exact) == 1 else None
