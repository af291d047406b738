"""What a label with its unit and method means, or what must be asked before it means anything."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from soiltrend import units, vocabulary
from soiltrend.errors import UnitError
from soiltrend.reading import answers as answering
from soiltrend.reading import layers, unknown
from soiltrend.reading.answers import Answers
from soiltrend.vocabulary import Label

SHARES = {"Ca": "Ca saturation", "Mg": "Mg saturation", "K": "K saturation", "Na": "Na saturation",
          "acidity": "acidity saturation", "Al": "Al saturation"}
"""Ions whose "%" may be a share of the exchange capacity."""

SHARE = re.compile(r"[\[(]?\s*%?\s*(?:of\s+)?(?:the\s+)?\b(?:cec|ecec|tec|exchange capacity"
                   r"|base sat(?:uration|n|\.)?|sat(?:uration|\.)?)(?![a-z])\s*%?\s*[\])]?", re.IGNORECASE)
LIME_BUFFER = re.compile(r"\s*CaCO3\s*/\s*pH.*$", re.IGNORECASE)
IONS = {"NO3": "NO3-N", "NH4": "NH4-N"}
ASKS_SHARE = "'%' may be its share"
LEFT_OUT = "left out as answered"
INDEX = "index"
UNITLESS = ("pH", INDEX, "score", "count")
ASKED_DEPTH = ("area",)
ASKED_DENSITY = ("volume", "volume charge")


@dataclass(frozen=True)
class Meaning:
    """What the values under a label are.

    Attributes
    ----------
    analyte, method, canonical : str
        Canonical names, and the analyte's unit.
    unit : str
        The unit of the values as printed, with the form they count.
    needs : str
        "depth" or "density" when the unit asks for one, else empty.
    reason, ask : str
        Why the values cannot be used, and the line of ``report.toml`` that would settle it.
    """

    analyte: str = ""
    method: str = ""
    canonical: str = ""
    unit: str = ""
    needs: str = ""
    reason: str = ""
    ask: str = ""


@lru_cache(maxsize=8192)
def read_heading(text: str) -> Label:
    """Return what a heading names; a share of the exchange capacity is a saturation.

    Examples
    --------
    >>> read_heading("K (% of CEC)").analyte, read_heading("K ppm").analyte
    ('K saturation', 'K')
    """
    bare, _ = layers.in_heading(text)
    label = vocabulary.read_label(" ".join(bare.split()))
    if not label.analyte and "%" in bare and SHARE.search(bare):
        ion = vocabulary.read_label(SHARE.sub(" ", bare).replace("%", " ").strip()).analyte
        if ion in SHARES:
            return Label(analyte=SHARES[ion], unit="%")
    return label


@lru_cache(maxsize=4096)
def split_unit(text: str) -> tuple[str, str]:
    r"""Return (unit, method) of a cell in a row or column of units.

    Examples
    --------
    >>> split_unit("Mehlich\u00a01\u00a0\u00a0mg/kg\u00a0(ppm)")
    ('mg/kg (ppm)', 'Mehlich-1')
    >>> split_unit("ppm\n(parts per million)"), split_unit("-")
    (('ppm', ''), ('', ''))
    """
    bare = " ".join(text.split()).strip("[]")
    bare = bare[1:-1].strip() if bare.startswith("(") and bare.endswith(")") else bare
    if bare in ("-", "--", "–", "none", "None", "n/a", "unitless", ""):
        return "", ""
    if units.find(bare) or SHARE.search(bare):
        return bare, ""
    twice = re.fullmatch(r"(.+?)\s*[(\[](.+)[)\]]", bare)
    if twice and units.find(twice.group(1)):
        inner = units.find(twice.group(2))
        if (inner and units.find(twice.group(1)) == inner) or vocabulary.find_method(twice.group(2)):
            return twice.group(1), "" if inner else vocabulary.find_method(twice.group(2))
    if twice and units.find(twice.group(2)) and vocabulary.find_method(twice.group(1)):
        return twice.group(2), vocabulary.find_method(twice.group(1))
    words = bare.replace(",", " ").split()
    for cut in range(1, len(words)):
        for method, unit in ((words[:cut], words[cut:]), (words[cut:], words[:cut])):
            known = vocabulary.find_method(" ".join(method))
            if known and units.find(" ".join(unit)):
                return " ".join(unit), known
    return ("", vocabulary.find_method(bare)) if vocabulary.find_method(bare) else (bare, "")


def is_unit(text: str) -> bool:
    """Return whether a cell is a unit, with or without a method beside it."""
    unit, _ = split_unit(text)
    return bool(unit) and (units.find(unit) is not None or bool(LIME_BUFFER.search(unit)))


def takes_extractant(label: str) -> bool:
    """Return whether an extractant named for a whole table holds for a label: elements only.

    Examples
    --------
    >>> takes_extractant("K ppm"), takes_extractant("pH")
    (True, False)
    """
    facts = vocabulary.facts(read_heading(label).analyte)
    return bool(facts) and facts["element"] == facts["analyte"]


def _stated(texts: list[str]) -> tuple[str, str]:
    """Return the one unit that several places state, and why there is none, if they disagree."""
    known: dict[object, str] = {}
    for text in texts:
        if text and not (text == "%" and any(SHARE.search(other) for other in texts)):
            known.setdefault(units.find(text) or text, text)
    if len(known) > 1:
        return "", f"its unit is given twice: {' and '.join(repr(text) for text in known.values())}"
    return next(iter(known.values()), ""), ""


def _unit(label: str, read: Label, given: tuple[str, str], answers: Answers) -> tuple[str, str, str]:
    """Return (unit, method in the unit's cell, problem) of a label."""
    answered = answers.of("units", label, read.analyte)
    own, method = split_unit(given[0])
    if answered:
        return answered, method, ""
    unit, problem = _stated([read.unit, own, given[1]])
    in_name = "%" in label or "percent" in label.casefold()
    implied = "%" if in_name and vocabulary.canonical_unit(read.analyte) == "%" else ""
    return unit or (implied if not problem else ""), method, problem


def _formed(unit: str, form: str) -> str:
    """Return a unit with the form that a heading counts, unless the unit names its own."""
    known = units.find(unit)
    return f"{unit} {form}" if form and known and not known.form else unit


def _fail(found: Meaning, label: str, problem: str, table: str, example: str) -> Meaning:
    return Meaning(found.analyte, found.method, found.canonical, found.unit, "", problem,
                   answering.ask(table, label, example))


def _checked(found: Meaning, label: str) -> Meaning:
    """Return the meaning with what its unit needs, or why the unit cannot be used."""
    unit = units.find(found.unit)
    if found.unit == "" and found.canonical in UNITLESS:
        return Meaning(found.analyte, found.method, found.canonical, found.canonical)
    if found.unit == "":
        return _fail(found, label, "its unit is not stated", "units", found.canonical or "mg/kg")
    if unit is None:
        return _fail(found, label, f"the unit '{found.unit}' is not known here", "units", found.canonical)
    if found.analyte in SHARES and unit.name == "%" and not unit.form and found.method != "total digest":
        return _fail(found, label, f"{ASKS_SHARE} of the exchange capacity or of the soil's mass",
                     "units", "% of CEC")
    try:
        units.factor(found.unit, found.canonical, analyte=found.analyte)
    except UnitError as error:
        return _fail(found, label, error.problem, "units", found.canonical)
    needs = "depth" if unit.dimension in ASKED_DEPTH else "density" if unit.dimension in ASKED_DENSITY else ""
    itself = units.parse(found.canonical).dimension in (unit.dimension, "density")
    return Meaning(found.analyte, found.method, found.canonical, found.unit, "" if itself else needs)


def _of_index(found: Meaning, label: str, unit: str) -> Meaning:
    """Return what an index told under an element's name is: that element's index, or nothing to be kept."""
    scale = f"{found.analyte} {INDEX}"
    if vocabulary.facts(scale):
        return Meaning(scale, found.method, INDEX, unit)
    return Meaning(found.analyte, found.method, found.canonical, unit, "",
                   f"'{unit}' is a laboratory's own scale and no amount of {found.analyte}: it is never "
                   "converted", answering.ask("ignore", label, "not followed"))


def _analyte(label: str, read: Label, unit: str, answers: Answers) -> tuple[str, str]:
    """Return the analyte and the form it is counted in; an answer for a heading that is known tells both."""
    answered = answers.of("analytes", label)
    if answered:
        return answered, "" if read.analyte else read.form
    share = bool(SHARE.search(unit)) and read.analyte in SHARES
    return (SHARES[read.analyte], "") if share else (IONS.get(read.form, read.analyte), read.form)


def _unknown(label: str) -> Meaning:
    """Return why a heading that no name fits cannot be used, and the line for what it looks like."""
    like = unknown.looks_like(label)
    if like:
        return Meaning(reason=f"'{label}' is not a measurement known here, but looks like {like}; if it is "
                       f"something else, write {answering.ask('ignore', label, 'not followed')}",
                       ask=answering.ask("analytes", label, like))
    return Meaning(reason=f"'{label}' is not a measurement known here; if it has another name, give it "
                   "under [analytes]", ask=answering.ask("ignore", label, "not followed"))


@lru_cache(maxsize=8192)
def _named(method: str) -> str:
    return vocabulary.find_method(method) or " ".join(method.split())


def of(label: str, *, unit: str, method: str, cell_unit: str, answers: Answers) -> Meaning:
    """Return what the values under a label mean.

    Parameters
    ----------
    label : str
        Heading or row label as printed.
    unit, method : str
        From a row or a column of units and of methods; empty when the file has none.
    cell_unit : str
        A unit printed in the cell itself.
    answers : Answers
        What the grower answered.

    Examples
    --------
    >>> meaning = of("P2O5", unit="kg/ha", method="", cell_unit="", answers=Answers())
    >>> meaning.analyte, meaning.unit, meaning.needs
    ('P', 'kg/ha P2O5', 'depth')
    >>> of("K", unit="", method="", cell_unit="", answers=Answers()).ask
    '[units] "K" = "mg/kg"'
    """
    ignored = answers.of("ignore", label)
    if ignored:
        return Meaning(reason=f"{LEFT_OUT}: {ignored}")
    known = read_heading(label)
    read = known if known.analyte else unknown.parts(label, known)
    stated, in_unit, problem = _unit(label, read, (unit, cell_unit), answers)
    analyte, form = _analyte(label, read, stated, answers)
    if not analyte:
        return _unknown(label)
    told = answers.of("methods", label, analyte) or read.method or _named(method) or in_unit
    if analyte == "lime buffer capacity":
        stated = LIME_BUFFER.sub("", stated)
    if analyte in SHARES.values() and SHARE.search(stated):
        stated = "%"
    found = Meaning(analyte, told, vocabulary.canonical_unit(analyte), _formed(stated, form))
    scale = units.find(stated)
    if scale and scale.name == INDEX and found.canonical not in UNITLESS:
        return _of_index(found, label, stated)
    answered = units.find(answers.of("units", label, read.analyte))
    if problem:
        return _fail(found, label, problem, "units", found.canonical)
    if read.question and not (answered and answered.form) and not answers.of("analytes", label):
        return _fail(found, label, read.question, "units", f"mg/kg {form}")
    return _checked(found, label)
