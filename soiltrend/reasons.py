"""The sentence beside each verdict of a comparison, in words a grower can repeat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import composites, frames, present, scales, verdicts, vocabulary

VERDICTS = (verdicts.ROSE, verdicts.FELL, verdicts.HELD, verdicts.UNCLEAR, verdicts.NOT_COMPARABLE)
PARTS_OF_WHOLE = ("Ca", "Mg", "K", "Na", "acidity")
"""Parts of the exchange capacity whose shares are compared."""

_SENTENCE = ["comparable", "reason", "verdict", "moved", "band", "matters_said", "swing_said", "shift_said",
             "swing_why", "shift", "amount_unit", "q_said", "n_before", "n_after", "beds", "asked", "garden",
             "family", "same_season", "slow", "apart", "warning", "alone", "extreme", "back_said",
             "bridges", "bridge_said", "by_eye"]
"""What a sentence is made of: rows that agree in all of it share one."""

_SHOWN = (("moved", "step"), ("band", "half"), ("matters_said", "matters_here"), ("swing_said", "swing"),
          ("shift_said", "shift"), ("back_said", "back"), ("bridge_said", "bridge_sd"))
SLOW = {"OM": "organic matter", "TOC": "organic carbon", "total C": "total carbon",
        "total N": "total nitrogen", "CEC": "exchange capacity"}


Amounts = dict[tuple[str, str], dict[Any, Any]]


@dataclass(frozen=True)
class Ends:
    """What was compared: the two ends as asked for, the confidence, and the years between."""

    before: str
    after: str
    confidence: float
    years: float


def why(table: pd.DataFrame, ends: Ends) -> np.ndarray:
    """Return the explanation of each row of a comparison's numbers.

    Parameters
    ----------
    table : DataFrame
        The rows with their numbers, as made by :mod:`soiltrend.compare`.
    ends : Ends
        What was compared.
    """
    garden = (table["bed"] == frames.GARDEN).to_numpy()
    family = np.where(garden, (table["p"].notna() & garden).sum(), (table["p"].notna() & ~garden).sum())
    rows = pd.concat([table.assign(family=family, garden=garden), _said(table)], axis=1)
    plain = (rows["scale"] != scales.SHARE) & ~rows["analyte"].str.endswith(" saturation") & (
        (rows["before_censored"] == "") & (rows["after_censored"] == ""))
    rows["alone"] = np.where(plain, -1, np.arange(len(rows)))
    eye = {name: name if vocabulary.observed(name) else "" for name in rows["analyte"].unique()}
    rows["by_eye"] = rows["analyte"].map(eye)
    rows["slow"] = rows["analyte"].where(rows["years"] > ends.years, "")
    code = composites.codes(rows, _SENTENCE)
    amounts = _amounts(table)
    first = rows[~pd.Series(code, index=rows.index).duplicated()]
    sentences = [_sentence(row, ends, amounts) for row in first.to_dict("records")]
    return np.asarray(np.array(sentences, dtype=object)[code])


def _said(table: pd.DataFrame) -> pd.DataFrame:
    """Return the amounts of the sentence as a reader sees them: %, points or units, in two digits."""
    on, way = table["scale"].to_numpy(), np.where(table["step"] < 0, -1.0, 1.0)
    start = scales.forward(table["before"].to_numpy(), on)
    said = pd.DataFrame(index=table.index)
    for name, column in _SHOWN:
        step = way * np.abs(table[column].to_numpy(dtype=float))
        points = scales.back(start + step, on) - table["before"].to_numpy()
        amount = np.select([on == scales.LOG, on == scales.SHARE], [100 * np.expm1(step), points], step)
        said[name] = _two_digits(np.abs(amount))
    nouns = {name: vocabulary.observed(name).get("noun", "") for name in table["analyte"].unique()}
    noun = table["analyte"].map(nouns)
    unit = " " + table["unit"].where(table["unit"] != "%", "points").where(noun == "", noun)
    said["amount_unit"] = unit.where(on != scales.LOG, " %")
    doubtful = table["verdict"].isin([verdicts.ROSE, verdicts.FELL]).to_numpy()
    said["q_said"] = np.where(doubtful, np.round(table["q"].to_numpy(), 3), 0.0)
    return said


def _two_digits(value: np.ndarray) -> np.ndarray:
    """Return values rounded to two significant digits."""
    with np.errstate(divide="ignore", invalid="ignore"):
        unit = 10.0 ** np.where(value > 0, np.floor(np.log10(value)) - 1, 0.0)
    return np.where(np.isfinite(value), np.round(value / unit) * unit, value)


def _amounts(table: pd.DataFrame) -> Amounts:
    """Return the rows of the amounts behind the shares, by bed and analyte, when a share changed."""
    share = table["analyte"].str.endswith(" saturation")
    beds = table["bed"][share & table["verdict"].isin([verdicts.ROSE, verdicts.FELL])]
    rows = table[table["analyte"].isin(PARTS_OF_WHOLE) & table["bed"].isin(beds) & table["comparable"]]
    return {(row["bed"], row["analyte"]): row for row in rows.to_dict("records")}


def _sentence(row: dict[Any, Any], ends: Ends, amounts: Amounts) -> str:
    """Return the whole explanation of one row."""
    if not row["comparable"]:
        return f"Not compared: {row['reason']}"
    told = [_core(row, ends) + _basis(row)]
    if not row["same_season"]:
        told.append(_swing(row, ends))
    if row["bridges"]:
        told.append(_bridge(row))
    if row["verdict"] in (verdicts.ROSE, verdicts.FELL):
        if row["q_said"] > 1 - ends.confidence:
            told.append(f"Among all {row['family']} comparisons such a change could come up by chance: it "
                        f"does not stand by itself (q = {row['q_said']:.2g})")
        if row["analyte"].endswith(" saturation"):
            told.append(_closure(row, amounts))
    if row["extreme"]:
        told.append(f"It was the {row['extreme']} in {ends.before}: such a bed is expected to come back "
                    f"towards the others by about {_amount(row, 'back_said')} with no change in the soil")
    if row["apart"]:
        told.append("The beds did not move alike: look at each of them")
    if row["slow"]:
        told.append(f"{SLOW.get(row['analyte'], row['analyte']).capitalize()} is slow: no headline before "
                    f"{row['years']:.0f} years, and here are {ends.years:.1f}")
    if row["by_eye"]:
        words = vocabulary.observed(row["by_eye"])["words"]
        told.append(words[0].upper() + words[1:])
    if row["warning"]:
        told.append(row["warning"][0].upper() + row["warning"][1:])
    return ". ".join(told)


def _core(row: dict[Any, Any], ends: Ends) -> str:
    """Return what moved and how that stands against noise."""
    if row["before_censored"] or row["after_censored"]:
        return _limits(row)
    moved, band, matters = (_amount(row, name) for name in ("moved", "band", "matters_said"))
    if row["verdict"] == verdicts.HELD:
        return f"Moved by {moved}, and the change is less than the {matters} that matters"
    verb = "Moved" if row["verdict"] == verdicts.UNCLEAR else row["verdict"].capitalize()
    than = ("which is within" if row["verdict"] == verdicts.UNCLEAR else "which is more than")
    such = "averages" if row["garden"] else "results"
    return (f"{verb} by {moved}, {than} the {band} that two such {such} differ by with no change in the "
            f"soil, {100 * ends.confidence:g} % of the time")


def _limits(row: dict[Any, Any]) -> str:
    """Return what results beyond a limit allow."""
    if row["garden"]:
        hides = row["verdict"] == verdicts.UNCLEAR
        return ("The laboratory's limit hides the change of some beds" if hides else
                f"{row['verdict'].capitalize()}, whatever lies beyond the laboratory's limit in some beds")
    which = {"<": "below", ">": "above"}
    at = {end: f"{float(present.number(row[end])):.15g} {row['unit']}" for end in ("before", "after")}
    sides = [f"{which[row[f'{end}_censored']]} {at[end]} {end}"
             for end in ("before", "after") if row[f"{end}_censored"]]
    if row["verdict"] == verdicts.UNCLEAR:
        return f"The laboratory's limit hides the change ({', '.join(sides)})"
    return f"{row['verdict'].capitalize()}, whatever lies beyond the laboratory's limit ({', '.join(sides)})"


def _amount(row: dict[Any, Any], name: str) -> str:
    """Return an amount of the sentence with its unit."""
    return str(present.number(row[name], digits=2) + row["amount_unit"]).strip()


def _basis(row: dict[Any, Any]) -> str:
    """Return what the sentence rests on: composites, and for the garden beds."""
    look = vocabulary.observed(row["by_eye"]).get("look", "composite")
    counts = f"{row['n_before']} {look}{'s' if row['n_before'] > 1 else ''} before, {row['n_after']} after"
    if row["bed"] != frames.GARDEN:
        return f" ({counts})"
    beds = f"{row['beds']} beds" if row["beds"] == row["asked"] else f"{row['beds']} of {row['asked']} beds"
    return f" ({beds}, {counts}; what a day does is shared by the beds of that day and does not average away)"


def _swing(row: dict[Any, Any], ends: Ends) -> str:
    """Return what was done about seasons that differ."""
    pair = f"{ends.before} stands against {ends.after}"
    pair = pair[0].upper() + pair[1:]
    if row["swing_why"]:
        way = "above" if row["shift"] > 0 else "below"
        return (f"{pair}: in this garden the later season usually lies "
                f"{_amount(row, 'shift_said')} {way} the earlier ({row['swing_why']}), which is taken off; "
                f"what is unknown of it ({_amount(row, 'swing_said')}, one standard deviation) is inside it")
    return (f"{pair}: the usual swing between seasons "
            f"({_amount(row, 'swing_said')}, one standard deviation) is inside the band")


def _bridge(row: dict[Any, Any]) -> str:
    """Return which bridge values crossed, and what its error does."""
    joined = f"Joined by a bridge ({row['bridges']})"
    if not row["bridge_said"] > 0:
        return f"{joined}, which moved both ends alike: its error cancels"
    return (f"{joined}: its error ({_amount(row, 'bridge_said')}, one standard deviation) is inside the "
            "band; more samples and beds do not average it away")


def _closure(row: dict[Any, Any], amounts: Amounts) -> str:
    """Return whether a share moved because its own amount did, or because the rest did."""
    name = row["analyte"].removesuffix(" saturation")
    own = amounts.get((row["bed"], name))
    if own is None:
        return "No amounts stand beside this share, and a share alone does not say whether the amount changed"
    amount = (f"{name} itself went from {present.number(own['before'])} to {present.number(own['after'])} "
              f"{own['unit']}")
    if own["verdict"] == row["verdict"]:
        return f"The amount {row['verdict']} as well: {amount}"
    opposite = verdicts.FELL if row["verdict"] == verdicts.ROSE else verdicts.ROSE
    parts = [(row["bed"], part) for part in PARTS_OF_WHOLE if part != name]
    others = [amounts[key] for key in parts if key in amounts and amounts[key]["verdict"] == opposite]
    if not others:
        return f"Look at the amount: {amount}, which is {own['verdict']}"
    cause = max(others, key=lambda part: abs(part["in_noise"]))
    return f"The share {row['verdict']} because {cause['analyte']} {opposite}: {amount} ({own['verdict']})"
