"""Numbers that contradict each other or their unit, told with the arithmetic.

A unit that the numbers contradict sets its values aside until answered; sums that only do
not add up are told in the note of the value they concern.
"""

from __future__ import annotations

import numpy as np

from soiltrend import units, vocabulary
from soiltrend.reading import answers as answering
from soiltrend.reading.meaning import Meaning
from soiltrend.reading.reasons import Reasons
from soiltrend.reading.twins import Values, subset

BASES = ("Ca", "Mg", "K", "Na")
BASE_SATURATION = "base saturation"
SHARES = ("Ca saturation", "Mg saturation", "K saturation", "Na saturation", "acidity saturation")
LEAST_CALCIUM = 0.01
"""Share of the exchange capacity that Ca fills at the least, even in sour sand (common practice)."""

OVERFULL = 5.0
"""Times its exchange capacity that a soil's extracted bases may come to: dissolved lime doubles or
trebles them (common practice)."""

LEAST_CAPACITY = 1.0
"""Exchange capacity [cmol/kg] below which it is the doubtful one beside its bases: bare sand holds one
to three (common practice)."""

CHARGES = ("charge", "volume charge")
LEAST_SHARE = 0.001
"""Percent of the soil below which organic matter, carbon or nitrogen is no soil's: a topsoil of
0.001 % organic carbon is not known (common practice)."""

SHARE_OF_SOIL = ("OM", "TOC", "total C", "total N")
SLACK = 1.15
"""How far a sum may exceed its whole before it is told (rounding, two methods; common practice)."""

FEWEST_ZEROS = 3


def _by_sample(values: Values, analytes: tuple[str, ...], why: Reasons) -> tuple[np.ndarray, np.ndarray]:
    """Return row and value of the one figure of each analyte (across) of each sample, -1 and NaN for none."""
    codes = [code for code, one in enumerate(values.meanings) if one.analyte in analytes and not one.reason]
    frame = subset(values, codes, why)[::-1]  # of several figures the first is written last, and stays
    column = np.array([analytes.index(values.meanings[code].analyte) for code in frame["code"]], dtype=int)
    at = np.full((int(frame["key"].max()) + 1 if len(frame) else 0, len(analytes)), -1)
    at[frame["key"].to_numpy(), column] = frame["at"].to_numpy()
    return at, np.where(at >= 0, values.value[at], np.nan)


def _has(values: Values, *analytes: str) -> bool:
    present = {one.analyte for one in values.meanings}
    return all(analyte in present for analyte in analytes)


def _text(values: Values, at: int) -> str:
    part = values.found.columns["text"]
    text, unit = str(part.words[part.codes[at]]), values.meanings[values.codes[at]].unit
    return text if unit and text.endswith(unit) else f"{text} {unit}"


def _label(values: Values, at: int) -> str:
    part = values.found.columns["label"]
    return str(part.words[part.codes[at]])


def _labelled_as_mass(values: Values, why: Reasons) -> None:
    """Set bases aside when Ca would fill next to nothing of the CEC: they are amounts of charge.

    With Ca go the other bases under the same unit whose number is no larger than the CEC's.
    """
    places, amounts = _by_sample(values, (*BASES, "CEC"), why)
    weight = units.MG_PER_CMOL * units.equivalent_weight("Ca")
    calcium, capacity = amounts[:, 0], amounts[:, -1]
    for sample in np.flatnonzero((calcium > 0) & (calcium / weight < LEAST_CALCIUM * capacity)).tolist():
        at, whole = int(places[sample, 0]), capacity[sample]
        unit = values.meanings[values.codes[at]].unit
        same = [other for other in places[sample].tolist()
                if other >= 0 and values.meanings[values.codes[other]].unit == unit
                and (other == at or values.value[other] <= whole)]
        charge = values.value[at] / weight
        why.put_at(same, f"the numbers contradict the unit: Ca of {_text(values, at)} would be {charge:.2g} "
                   f"cmol/kg beside a CEC of {whole:.3g}; they look like cmol/kg",
                   line=answering.ask("units", _label(values, at), "cmol/kg"))


def _is_charge(unit: str) -> bool:
    known = units.find(unit)
    return known is not None and known.dimension in CHARGES


def _instead(one: Meaning, label: str, likely: str) -> str:
    """Return the answer that would settle a value which cannot be: a likelier unit, or to leave it out."""
    told, canonical = units.find(one.unit), units.find(one.canonical)
    other = likely if told == canonical else one.canonical
    if other and told != units.find(other):
        return answering.ask("units", label, other)
    return answering.ask("ignore", label, "cannot be")


def impossible(values: Values, why: Reasons) -> None:
    """Set values aside that are beyond what the stuff of soils can hold (``tables/possible.csv``)."""
    for code, one in enumerate(values.meanings):
        bound = vocabulary.most(one.analyte)
        hit = (values.codes == code) & (values.value >= bound["most"]) if bound else np.zeros(0, dtype=bool)
        if bound and hit.any():
            at = int(np.flatnonzero(hit)[0])
            amount = f"{values.value[at]:,g} {one.canonical}"
            why.put(hit, f"{_text(values, at)} of {one.analyte} would be {amount}, which no soil can have "
                    f"({bound['what']} comes to {bound['most']:,g}): see whether its unit is right",
                    line=_instead(one, _label(values, at), bound["likely"]))


def _doubtful_bases(values: Values, places: np.ndarray, charge: np.ndarray, capacity: float,
                    why: Reasons) -> bool:
    """Set the bases of a sample aside that a unit of charge makes overfill it; return whether there are any.

    A mass is left as it is: an acid extract of a limy soil may well hold many times the capacity.
    """
    told = [values.meanings[values.codes[at]].unit for at in places.tolist()]
    largest = told[int(np.nanargmax(charge))]
    for at, unit, amount in zip(places.tolist(), told, charge.tolist(), strict=True):
        if at >= 0 and unit == largest and _is_charge(unit):
            one, label = values.meanings[values.codes[at]], _label(values, at)
            why.put_at([at], f"the numbers contradict the unit: {one.analyte} of {_text(values, at)} would "
                       f"be {amount:.3g} cmol/kg beside a CEC of {capacity:.3g}, which the bases overfill "
                       "many times", line=_instead(one, label, ""))
    return _is_charge(largest)


def _labelled_as_share(values: Values, why: Reasons) -> None:
    """Set organic matter, carbon and nitrogen aside that come to next to nothing: they are percent."""
    for code, one in enumerate(values.meanings):
        if one.analyte in SHARE_OF_SOIL and units.find(one.unit) != units.find("%"):
            hit = (values.codes == code) & (values.value > 0) & (values.value < LEAST_SHARE)
            if not hit.any():
                continue
            at = int(np.flatnonzero(hit)[0])
            why.put(hit, f"the numbers contradict the unit: {_text(values, at)} would be "
                    f"{values.value[at]:.2g} % of the soil",
                    line=answering.ask("units", _label(values, at), "%"))


def _sums(values: Values, why: Reasons) -> dict[int, str]:
    """Return notes for exchange capacities below the sum of their bases."""
    places, amounts = _by_sample(values, (*BASES, "CEC"), why)
    weight = units.MG_PER_CMOL * np.array([units.equivalent_weight(base) for base in BASES])
    total, capacity = np.nansum(amounts[:, :-1] / weight, axis=1), amounts[:, -1]
    notes = {}
    for sample in np.flatnonzero(total > SLACK * capacity).tolist():
        at, amount = int(places[sample, -1]), total[sample]
        overfull = amount > OVERFULL * capacity[sample]
        if overfull and capacity[sample] < LEAST_CAPACITY:
            why.put_at([at], f"it contradicts the exchangeable bases, which come to {amount:.3g} cmol/kg")
            continue
        bases = (places[sample, :-1], amounts[sample, :-1] / weight)
        if overfull and _doubtful_bases(values, *bases, capacity[sample], why):
            continue
        notes[at] = (f"the exchangeable bases come to {amount:.3g} cmol/kg, more than this CEC: free lime "
                     "or salts were dissolved with them, or a unit is wrong")
    return notes


def _shares(values: Values, why: Reasons) -> dict[int, str]:
    """Return notes for saturations that together exceed the whole."""
    places, shares = _by_sample(values, SHARES, why)
    total = np.nansum(shares, axis=1)
    return {int(at): f"the saturations of this sample sum to {total[sample]:.4g} %"
            for sample in np.flatnonzero(total > 100 * SLACK).tolist() for at in places[sample] if at >= 0}


def most_percent(analyte: str) -> float:
    """Return the largest percentage: dissolved lime takes the bases beyond the capacity they are shares of.

    Examples
    --------
    >>> most_percent("base saturation"), most_percent("OM")
    (500.0, 100.0)
    """
    return 100.0 * (OVERFULL if analyte == BASE_SATURATION else 1.0)


def _overfull(values: Values) -> dict[int, str]:
    """Return notes for base saturations above the whole, which are kept as they are."""
    codes = [code for code, one in enumerate(values.meanings) if one.analyte == BASE_SATURATION]
    over = np.flatnonzero(np.isin(values.codes, codes) & (values.value > 100.0)).tolist()
    return dict.fromkeys(over, "above 100 %: free lime or salts were dissolved with the exchangeable bases")


TOTAL = "total digest"
"""The method of what is all of an element in a soil and no extract."""

SHARE = "%"
"""A unit of totals: what an extractant takes is printed in parts per million (common practice)."""


def _unlikely(values: Values, why: Reasons) -> None:
    """Remark on extracts of more than soils were seen to give, and on those printed as totals are."""
    for code, one in enumerate(values.meanings):
        bound, printed = vocabulary.most(one.analyte, "unlikely"), units.find(one.unit)
        if not bound or one.method == TOTAL or one.canonical != bound["unit"]:
            continue
        share = printed is not None and printed.name.split(" ")[0] == SHARE
        hit = (values.codes == code) & (why.codes == 0) & ((values.value > bound["most"]) | share)
        if not hit.any():
            continue
        at = int(np.flatnonzero(hit)[np.argmax(values.value[hit])])
        beyond = values.value[at] > bound["most"]
        told = (f"{bound['most']:,g} {one.canonical} is {bound['what']}" if beyond else
                "an extract is printed in mg/kg as a rule and a total in %")
        why.talk.notes.append(
            f"{one.analyte} of {_text(values, at)} is {values.value[at]:,g} {one.canonical}, and {told}: see "
            "whether its unit is right; if it is all the soil holds and no extract, write in report.toml: "
            + answering.ask("methods", _label(values, at), TOTAL))


def _zeros(values: Values, why: Reasons) -> None:
    """Ask about labels under which every value is zero."""
    label = values.found.columns["label"]
    printed = values.value == 0
    zero = np.bincount(label.codes[printed], minlength=len(label.words))
    every = np.bincount(label.codes, minlength=len(label.words))
    for code in np.flatnonzero((zero == every) & (zero >= FEWEST_ZEROS)).tolist():
        why.talk.notes.append(f"all {zero[code]} values under '{label.words[code]}' are 0; if that stands "
                              "for 'not measured', say so in report.toml: "
                              + answering.ask("ignore", str(label.words[code]), "not measured"))


def check(values: Values, why: Reasons) -> dict[int, str]:
    """Set values aside whose unit the numbers contradict, and return notes for others by their row.

    Parameters
    ----------
    values : Values
        All values, converted to canonical units.
    why : Reasons
        Takes the reasons.
    """
    _labelled_as_share(values, why)
    if _has(values, "Ca", "CEC"):
        _labelled_as_mass(values, why)
    _zeros(values, why)
    _unlikely(values, why)
    notes = _overfull(values) | (_sums(values, why) if _has(values, "Ca", "CEC") else {})
    return notes | (_shares(values, why) if _has(values, "Ca saturation", "Mg saturation") else {})
