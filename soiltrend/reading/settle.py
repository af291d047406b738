"""Found values and answers become results, or are set aside with a reason.

Every text is interpreted once: a column is a code per row into its different texts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from pandas.api.extensions import ExtensionArray

from soiltrend import frames, present, units
from soiltrend.errors import UnitError
from soiltrend.reading import chemistry, figures, meaning, placing, shares, twins
from soiltrend.reading.answers import Answers
from soiltrend.reading.cells import TYPED_TEXT
from soiltrend.reading.figures import Numbers
from soiltrend.reading.gather import Found
from soiltrend.reading.grid import Column, column, constant, merge, numbered, pair
from soiltrend.reading.meaning import Meaning
from soiltrend.reading.placing import Where
from soiltrend.reading.reasons import Reasons, Talk

PH_RANGE = (2.0, 11.0)
"""Soils lie between pH 2 (acid sulfate) and 11 (sodic); outside it a value is a slip (common practice)."""

MG_KG_IN_ALL = 1e6
DENSITY = 1.3
"""Bulk density [g/cm3] of :func:`soiltrend.units.convert` when none is answered."""


def _meanings(found: Found, numbers: Numbers, answers: Answers) -> tuple[np.ndarray, list[Meaning]]:
    """Return a code for each value and what each code means."""
    first, labels_units = pair(found.columns["label"], found.columns["unit"])
    second, methods_cells = pair(found.columns["method"], numbers.unit)
    count = max(len(methods_cells), 1)
    codes, both = numbered(first, second, width=count)
    out = []
    for index in both.tolist():
        (label, unit), (method, cell_unit) = labels_units[index // count], methods_cells[index % count]
        out.append(meaning.of(label, unit=unit, method=method, cell_unit=cell_unit, answers=answers))
    return codes, out


@dataclass(frozen=True, eq=False)
class Case:
    """All that is known of a file's values before they are kept or set aside.

    Attributes
    ----------
    found : Found
        The texts.
    answers : Answers
        What the grower answered.
    source : str
        The file's name.
    numbers : Numbers
        The numbers as printed.
    codes, meanings : array of int, list of Meaning
        What each value means: ``meanings[code]``.
    where : Where
        Where and when each was sampled.
    why : Reasons
        What stands against each.
    """

    found: Found
    answers: Answers
    source: str
    numbers: Numbers
    codes: np.ndarray
    meanings: list[Meaning]
    where: Where
    why: Reasons

    @property
    def density(self) -> float:
        """Bulk density for amounts per area [g/cm3]."""
        return DENSITY if math.isnan(self.answers.bulk_density) else self.answers.bulk_density

    def by_meaning(self, texts: Sequence[str]) -> Column:
        """Return a column from one text for each meaning."""
        return Column(self.codes.astype(np.int32), np.array(list(texts) or [""], dtype=object))


def _factor(one: Meaning, depth_cm: float, density: float) -> float:
    """Return the factor to the canonical unit, NaN for a meaning with a reason against it."""
    if one.reason or not one.analyte:
        return math.nan
    try:
        return units.factor(one.unit, one.canonical, analyte=one.analyte, depth_cm=depth_cm,
                            bulk_density=density)
    except UnitError:
        return math.nan


def _factors(case: Case) -> np.ndarray:
    """Return the factor to the canonical unit for each value; a missing depth or density is asked."""
    plain = np.array([math.nan if one.needs else _factor(one, 1.0, 1.0) for one in case.meanings] or [1.0])
    out: np.ndarray = plain[case.codes]
    for index in [i for i, one in enumerate(case.meanings) if one.needs]:
        one, hit = case.meanings[index], case.codes == index
        if one.needs == "depth":
            out[hit] = _factor(one, 1.0, case.density) / (case.where.bottom[hit] - case.where.top[hit])
            case.why.put(hit & np.isnan(case.where.bottom),
                         f"'{one.unit}' is an amount per area and the depth of the layer is not stated",
                         line="depth_cm = 15")
        elif not math.isnan(case.answers.bulk_density):
            out[hit] = _factor(one, 1.0, case.density)
        else:
            case.why.put(hit, f"'{one.unit}' is an amount per volume and the density of the soil as "
                         "scooped is not stated", line="bulk_density = 1.0")
    return out


def _implausible(case: Case, value: np.ndarray) -> None:
    """Give a reason to values that no soil can have."""
    def kept_in(unit: str) -> np.ndarray:
        """Return for each value whether it is kept in a unit."""
        return np.asarray(np.array([one.canonical == unit for one in case.meanings] or [False])[case.codes])

    acid = kept_in("pH") & ((value < PH_RANGE[0]) | (value > PH_RANGE[1]))
    case.why.put(acid, f"a soil's pH lies between {PH_RANGE[0]:g} and {PH_RANGE[1]:g}")
    case.why.put((value < 0), "it is below zero, which no soil can be")
    most = np.array([chemistry.most_percent(one.analyte) for one in case.meanings] or [100.0])[case.codes]
    case.why.put(kept_in("%") & (value > most), "it comes to more than 100 %")
    case.why.put(kept_in("mg/kg") & (value > MG_KG_IN_ALL), "it comes to more than the soil itself weighs")
    chemistry.impossible(twins.Values(case.found, case.codes, case.meanings, value, case.where), case.why)


def _notes(case: Case, told: dict[int, str]) -> Column:
    """Return the note of each value: footnotes, the density used, and what is told of single values."""
    known = "assumed" if math.isnan(case.answers.bulk_density) else "as answered"
    turned = f"from an amount per area with a bulk density of {case.density:g} g/cm3, {known}"
    by = case.by_meaning([turned if one.needs == "depth" else "" for one in case.meanings])
    both = merge(merge(case.numbers.note, by, _sentence), case.found.columns["note"], _sentence)
    if not told:
        return both
    texts = np.full(len(case.found), "", dtype=object)
    texts[list(told)] = list(told.values())
    return merge(both, column(texts), _sentence)


DOUBLED = "lb/acre"
"""The unit in which laboratories print twice their mg/kg: 2,000,000 lb of soil to the acre."""


def _density_note(case: Case, keep: np.ndarray) -> list[str]:
    """Return a note on the values kept that an assumed bulk density turned into mg/kg."""
    by_area = [i for i, one in enumerate(case.meanings) if one.needs == "depth"]
    at = np.flatnonzero(np.isin(case.codes, by_area) & keep)
    if not len(at) or not math.isnan(case.answers.bulk_density):
        return []
    names = sorted({case.meanings[code].unit.split(" ")[0] for code in np.unique(case.codes[at]).tolist()})
    layers = np.unique(np.round(case.where.bottom[at] - case.where.top[at], 2)).tolist()
    shown = ", ".join(f"{layer:g}" for layer in layers)
    doubled = ""
    if names == [DOUBLED] and len(layers) == 1:
        half = 2.0 * units.factor(DOUBLED, "mg/kg", depth_cm=layers[0], bulk_density=1.0)
        doubled = f": {half:.2f} where the laboratory doubles its mg/kg (2,000,000 lb of soil an acre)"
    return [f"{present.counted(len(at), 'value')} in {' and '.join(names)} became mg/kg by a layer of {shown}"
            f" cm and a bulk density of {case.density:g} g/cm3, which is assumed; if you know a better one, "
            f"write bulk_density into report.toml{doubled}"]


def _sentence(one: str, two: str) -> str:
    return "; ".join(filter(None, (one, two)))


Kept = np.ndarray | slice
"""A flag for each value, or all of them, which then need no copy."""


def _text(part: Column, keep: Kept, *, default: str = "") -> ExtensionArray:
    """Return a text column of a frame from codes, without touching each text again."""
    words = [str(word) or default for word in part.words]
    return pd.array(words or [""], dtype="str").take(part.codes[keep].astype(np.int64))


def _printed(part: Column) -> Column:
    texts = [str(word).removeprefix(TYPED_TEXT) for word in part.words]
    return Column(part.codes, np.array(texts or [""], dtype=object))


def _printed_unit(one: Meaning) -> str:
    return "" if one.canonical in meaning.UNITLESS and one.unit == one.canonical else one.unit


def _rating(case: Case) -> Column:
    codes, both = pair(case.found.columns["rating"], case.numbers.rating)
    return Column(codes.astype(np.int32), np.array([one or two for one, two in both] or [""], dtype=object))


def _results(case: Case, value: np.ndarray, keep: Kept, told: dict[int, str]) -> pd.DataFrame:
    """Return the tidy frame of the values that have nothing against them."""
    found, where, answers, numbers = case.found.columns, case.where, case.answers, case.numbers
    texts = {
        "bed": where.bed, "season": where.season, "qualifier": numbers.qualifier,
        "analyte": case.by_meaning([one.analyte for one in case.meanings]),
        "method": case.by_meaning([one.method for one in case.meanings]),
        "unit": case.by_meaning([one.canonical for one in case.meanings]),
        "reported_value": _printed(found["text"]),
        "reported_unit": case.by_meaning([_printed_unit(one) for one in case.meanings]),
        "sample": where.sample, "source": constant(case.source, len(value)), "rating": _rating(case),
        "note": _notes(case, told)}
    columns: dict[str, ExtensionArray | np.ndarray] = {
        name: _text(part, keep) for name, part in texts.items()}
    columns |= {"lab": _text(found["lab"], keep, default=answers.lab),
                "report": _text(found["report"], keep, default=answers.report),
                "place": pd.array(case.found.place[keep], dtype="str")}
    columns |= {name: numbers[keep] for name, numbers in (
        ("sampled", where.day), ("value", value), ("top_cm", where.top), ("bottom_cm", where.bottom))}
    return pd.DataFrame({name: columns[name] for name in frames.RESULTS}, copy=False)


def _set_aside(case: Case, keep: np.ndarray) -> pd.DataFrame:
    """Return the frame of the values that have something against them."""
    found = case.found.columns
    why = Column(case.why.codes.astype(np.int32), np.array(case.why.texts, dtype=object))
    texts = {"source": constant(case.source, len(keep)), "sample": found["sample"], "label": found["label"],
             "text": _printed(found["text"]), "reason": why}
    columns = {name: _text(part, keep) for name, part in texts.items()}
    columns["place"] = pd.array(case.found.place[keep], dtype="str")
    return pd.DataFrame({name: columns[name] for name in frames.SET_ASIDE})


def _case(found: Found, answers: Answers, source: str, talk: Talk) -> Case:
    """Return what is known of the values, with the reasons that need no conversion."""
    why = Reasons(np.zeros(len(found), dtype=np.int64), talk)
    problem = found.columns["problem"]
    why.put_each(problem.codes, [str(word) for word in problem.words])
    numbers = figures.numbers(found, answers, why)
    codes, meanings = _meanings(found, numbers, answers)
    proven = shares.proven(found, numbers, codes, meanings)
    if proven:
        talk.notes.append(f"{', '.join(proven)} sum to 100 in each sample: shares of the exchange capacity")
        answers = shares.answered(answers, proven)
        codes, meanings = _meanings(found, numbers, answers)
    numbers = figures.non_detects(found, numbers, meanings, codes, answers)
    why.put_each(codes, [one.reason if one.reason.startswith(meaning.LEFT_OUT) else "" for one in meanings])
    figures.no_number(found, numbers, why)
    why.put_each(codes, [one.reason for one in meanings], lines=[one.ask for one in meanings])
    where = placing.place(found, answers, talk)
    return Case(found, answers, source, numbers, codes, meanings, where, why)


@dataclass(frozen=True, eq=False)
class Settled:
    """What a file's values became.

    Attributes
    ----------
    results, set_aside : DataFrame
        The two frames of :mod:`soiltrend.frames`; together one row for each value found.
    notes, asks : list of str
        What the reader of the report should know; lines of ``report.toml`` that would settle
        what was asked.
    """

    results: pd.DataFrame
    set_aside: pd.DataFrame
    notes: list[str]
    asks: list[str]


def settle(found: Found, answers: Answers, *, source: str) -> Settled:
    """Return results and set-aside values of what was found in a file.

    Parameters
    ----------
    found : Found
        One row for each value, all text.
    answers : Answers
        What the grower answered.
    source : str
        The file's name.
    """
    talk = Talk(source)
    case = _case(found, answers, source, talk)
    twins.depthless(twins.Values(found, case.codes, case.meanings, case.numbers.value, case.where), case.why)
    value = case.numbers.value * _factors(case)
    _implausible(case, value)
    values = twins.Values(found, case.codes, case.meanings, value, case.where)
    twins.same(values, case.why)
    told = chemistry.check(values, case.why)
    case.why.put(~np.isfinite(value), "it could not be turned into the unit in which values are kept")
    keep = case.why.codes == 0
    talk.notes += _density_note(case, keep)
    results = _results(case, value, slice(None) if keep.all() else keep, told)
    return Settled(results, _set_aside(case, ~keep), talk.notes, list(dict.fromkeys(talk.asks)))
