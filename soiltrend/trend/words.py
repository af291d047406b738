"""The sentence beside each trend, in words a grower can repeat."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from soiltrend import frames, present, scales, vocabulary
from soiltrend.chances import ndtri
from soiltrend.slopes import lines
from soiltrend.trend.garden import BY_DATES

VERDICTS = ("rising", "falling", "steady", "unclear", "too few")
COUNTED = {0: "no usable test", 1: "one test", 2: "two tests: a difference and not a trend"}
LIKENESS = 0.4
"""Correlation of neighbouring tests for which the sensitivity is told; an assumption, not an estimate."""

LEAST = 1e-4
"""A number below this is written with an exponent when two digits are asked for."""

SLOW = {
    "OM": "Organic matter",
    "TOC": "Organic carbon",
    "total C": "Total carbon",
    "total N": "Total nitrogen",
    "CEC": "Exchange capacity",
}
_LEAD = {
    "rising": "Rising by",
    "falling": "Falling by",
    "steady": "Steady: moves by",
    "unclear": "Cannot tell:",
}


def why(table: pd.DataFrame, confidence: float) -> np.ndarray:
    """Return the explanation of each row of a trend's numbers.

    Parameters
    ----------
    table : DataFrame
        The rows with their numbers, as made by :mod:`soiltrend.trend.core`.
    confidence : float
        Asked for.
    """
    out = np.empty(len(table), dtype=object)
    few = (table["kind"] == lines.NOTHING).to_numpy()
    out[few] = "Too few: " + table["reason"].fillna("").to_numpy(object)[few]
    told = np.flatnonzero(~few)
    out[told] = _measured(table.iloc[told])
    shown = table["verdict"].isin(VERDICTS[:2])
    extras = (
        _agreement(table),
        _sensitivity(table, confidence),
        _chances(table, shown, confidence),
        _closure(table, shown),
        _slowness(table, shown),
        _by_eye(table),
        _garden(table, confidence),
        _joined(table),
        table["left"].to_numpy(object),
        _undated(table),
        table["breaks"].to_numpy(object),
        table["warning"].to_numpy(object),
    )
    for extra in extras:
        some = np.flatnonzero(extra != "")
        out[some] = out[some] + ". " + extra[some]
    return out


def _measured(rows: pd.DataFrame) -> list[str]:
    """Return slope, interval, tests and years of each row, as a sentence."""
    logs = (rows["scale"] == scales.LOG).to_numpy()
    numbers = [
        np.where(logs, rows[percent], rows[unit])
        for percent, unit in (
            ("percent_per_year", "slope_per_year"),
            ("percent_low", "low"),
            ("percent_high", "high"),
        )
    ]
    nouns = {name: vocabulary.observed(name).get("noun", "") for name in rows["analyte"].unique()}
    noun = rows["analyte"].map(nouns).to_numpy(object)
    plain_unit = np.where(noun == "", rows["unit"], noun)
    unit = np.where(logs, "%", np.where(rows["unit"] == "%", "points", plain_unit))
    lead = rows["verdict"].map(_LEAD).to_numpy(object)
    garden = (rows["bed"] == frames.GARDEN).to_numpy()
    what = np.where(garden, "seasons", "tests")
    model = rows["model"].to_numpy(object)
    plain = (np.abs(np.array(numbers)) < 99.5).all(axis=0)
    plain &= np.abs(numbers[0]) >= present.FAR * (numbers[2] - numbers[1])
    plain &= (np.abs(np.array(numbers)) >= LEAST).all(axis=0)
    moved = np.where(rows["verdict"].isin(VERDICTS[:2]), np.abs(numbers[0]), numbers[0])
    parts: tuple[np.ndarray, ...] = (
        lead,
        moved,
        *numbers[1:],
        unit,
        rows["n_used"].to_numpy(dtype=int),
        what,
        rows["span"].to_numpy(),
        model,
        plain,
    )
    columns = zip(*(part.tolist() for part in parts), strict=True)
    return [
        f"{a} {s:.2g} {u} a year ({x:.2g} to {y:.2g}), {n} {w} in {t:.1f} years, {m}"
        if fine
        else _unbounded((a, s, x, y, u), f"{n} {w} in {t:.1f} years, {m}")
        for a, s, x, y, u, n, w, t, m, fine in columns
    ]


def _unbounded(parts: tuple[str, float, float, float, str], basis: str) -> str:
    """Return the sentence of a row whose numbers are large, next to nothing, or do not exist."""
    lead, slope, low, high, unit = parts
    if np.isnan(slope):
        way = "rising" if low >= 0 else "falling" if high <= 0 else ""
        size = (
            f"{way}, by how much the laboratory's limits hide"
            if way
            else "the laboratory's limits hide the slope"
        )
        return f"{'Cannot tell: ' if not way else ''}{size[0].upper() + size[1:] if way else size}, {basis}"
    ends = [present.two_digits(end) if np.isfinite(end) else "no bound" for end in (low, high)]
    told = present.within(slope, low=low, high=high)
    return f"{lead} {told} {unit} a year ({ends[0]} to {ends[1]}), {basis}"


def _agreement(table: pd.DataFrame) -> np.ndarray:
    """Return whether ranks and least squares part, for the rows where both are looked at."""
    out = np.full(len(table), "", dtype=object)
    both = (
        table["kind"].isin([lines.LINE, lines.MEDIAN])
        & (table["bed"] != frames.GARDEN)
        & (table["n_used"] >= 5)
    )
    part = both & (np.sign(table["rank_slope"]) * np.sign(table["line_slope"]) < 0)
    out[part.to_numpy()] = (
        "Least squares and the median of slopes point different ways: single tests decide it"
    )
    limited = (table["n_censored"] > 0) & (table["kind"] != lines.NOTHING)
    count = table["n_censored"].to_numpy()
    for row in np.flatnonzero(limited.to_numpy()):
        out[row] = (
            f"{count[row]} result{'s lie' if count[row] > 1 else ' lies'} beyond the laboratory's limit: "
            "ranks count only what is certain"
        )
    return out


def _sensitivity(table: pd.DataFrame, confidence: float) -> np.ndarray:
    """Return whether a trend would stand if neighbouring tests hung together."""
    out = np.full(len(table), "", dtype=object)
    mine = (table["verdict"].isin(VERDICTS[:2]) & (table["n_used"] >= 5)).to_numpy()
    p = table["p"].to_numpy(dtype=float)[mine]
    with np.errstate(divide="ignore"):
        z = -ndtri(p / 2) * np.sqrt((1 - LIKENESS) / (1 + LIKENESS))
    stands = np.where(z >= -ndtri((1 - confidence) / 2), "would", "would not")
    out[mine] = np.array(
        [f"It {word} stand if neighbouring tests hung together ({LIKENESS:g})" for word in stands],
        dtype=object,
    )
    return out


def _chances(table: pd.DataFrame, shown: pd.Series, confidence: float) -> np.ndarray:
    """Return for which trends chance alone would have one among so many."""
    out = np.full(len(table), "", dtype=object)
    weak = (shown & (table["q"] > 1 - confidence)).to_numpy()
    out[weak] = np.array(
        [
            f"Among all {n:.0f} trends such a one would come up by chance: it does not stand by itself "
            f"(q = {q:.2g})"
            for n, q in zip(table["family"][weak], table["q"][weak], strict=True)
        ],
        dtype=object,
    )
    return out


def _closure(table: pd.DataFrame, shown: pd.Series) -> np.ndarray:
    """Return beside each moving share what its own amount did: one part of a whole cannot move alone."""
    out = np.full(len(table), "", dtype=object)
    shares = np.flatnonzero(shown.to_numpy())
    shares = shares[table["analyte"].iloc[shares].str.endswith(" saturation").to_numpy(dtype=bool)]
    if not len(shares):
        return out
    where = ["bed", "analyte", "lab", "top_cm", "bottom_cm"]
    longest = table.assign(row=np.arange(len(table))).sort_values("n", kind="stable")
    rows = {tuple(map(str, key)): row for *key, row in longest[[*where, "row"]].itertuples(index=False)}
    for at in shares:
        share = table.iloc[at]
        own = share["analyte"].removesuffix(" saturation")
        place = tuple(str(own if name == "analyte" else share[name]) for name in where)
        amount = table.iloc[rows[place]] if place in rows else None
        out[at] = _beside(own, share["verdict"], None if amount is None else amount.to_dict())
    return out


def _beside(own: str, way: str, amount: dict[Any, Any] | None) -> str:
    """Return what the amount behind a share did."""
    if amount is None:
        return "No amounts stand beside this share, and a share alone does not say whether the amount changed"
    if amount["verdict"] == way:
        return f"The amount of {own} is {way} as well"
    return (
        f"Look at the amount: {own} itself is {amount['verdict']}, and a share also moves when the rest does"
    )


def _slowness(table: pd.DataFrame, shown: pd.Series) -> np.ndarray:
    """Return a word of patience for what moves over years."""
    out = np.full(len(table), "", dtype=object)
    early = shown & (table["patience"] > table["span"])
    for row in np.flatnonzero(early.to_numpy()):
        name = table["analyte"].iloc[row]
        out[row] = (
            f"{SLOW.get(name, name)} is slow: no headline before {table['patience'].iloc[row]:.0f} years"
        )
    return out


def _by_eye(table: pd.DataFrame) -> np.ndarray:
    """Return which way is better on the scale of what hand and eye measured."""
    words = {name: vocabulary.observed(name).get("words", "") for name in table["analyte"].unique()}
    grown = {name: text[:1].upper() + text[1:] for name, text in words.items()}
    told = table["analyte"].map(grown).where(table["kind"] != lines.NOTHING, "")
    return told.to_numpy(object)


def _garden(table: pd.DataFrame, confidence: float) -> np.ndarray:
    """Return what a garden row rests on and for which beds it holds."""
    out = np.full(len(table), "", dtype=object)
    mine = (table["bed"] == frames.GARDEN) & (table["kind"] != lines.NOTHING)
    for row in np.flatnonzero(mine.to_numpy()):
        out[row] = _pooled(table.iloc[row].to_dict(), confidence)
    return out


def _pooled(row: dict[Any, Any], confidence: float) -> str:
    """Return one garden row's basis."""
    told = [f"{row['beds']:.0f} beds, judged by seasons: what beds share on a day does not average away"]
    if row["model"] == BY_DATES:
        return told[0]
    if row["hidden"] > 0:
        told.append(f"{row['hidden']:.0f} of them left out of the mean, because limits hide their values")
    if row["verdict"] in VERDICTS[:2]:
        like = row["p_beds_like_mine"]
        told.append(
            "holds for beds like these in general too"
            if like <= 1 - confidence
            else f"holds for these beds, not surely for others like them (p = {like:.2g})"
        )
    if row["spread"] == 0:
        told.append("the beds' slopes differ no more than noise makes them")
    return "; ".join(told)


def _joined(table: pd.DataFrame) -> np.ndarray:
    """Return which bridge joins a record, and how much of the interval is its error."""
    out = np.full(len(table), "", dtype=object)
    mine = (table["joined"] != "") & (table["kind"] != lines.NOTHING)
    for at in np.flatnonzero(mine.to_numpy()):
        row = table.iloc[at]
        if not row["bridged"] > 0:
            out[at] = (
                f"Joined by a bridge ({row['joined']}), whose own error is not known or does not bear on "
                "this slope: a step there may be the bridge"
            )
            continue
        step = 100 * np.expm1(row["bridged"]) if row["scale"] == scales.LOG else row["bridge_error"]
        unit = "%" if row["scale"] == scales.LOG else "points" if row["unit"] == "%" else row["unit"]
        inside = "is not in the direction told" if row["model"] == BY_DATES else "is inside the interval"
        rank = ", by its weight on a least-squares line" if row["model"].startswith("median") else ""
        out[at] = (
            f"Joined by a bridge ({row['joined']}): its own error ({present.two_digits(step)} {unit} a year, "
            f"one standard deviation{rank}) {inside}, and more tests do not average it away"
        )
    return out


def _undated(table: pd.DataFrame) -> np.ndarray:
    """Return how many tests bear no day."""
    out = np.full(len(table), "", dtype=object)
    for row in np.flatnonzero((table["undated"] > 0).to_numpy()):
        count = table["undated"].iloc[row]
        out[row] = f"{count} of the tests bear no day and stand in the middle of their season or year"
    return out
