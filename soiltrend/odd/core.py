"""Odd values: results that fit neither their own series, nor their sample, nor their bed.

A value is held against the others of its series (same bed, analyte, method, laboratory and layer): their
middle, the line through them, and the tests just before and after it. What counts is the distance to the
nearest of all that lies between these, so that neither a steady rise nor a step to a new level is odd; a
lone spike is. The scale is the noise of one result and of a day of sampling, not the scatter of so short a
series, and it is widened where a garden's results of that kind are more restless than their noise.

Nothing is deleted or changed: a finding is a question to the laboratory, or to the bag.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import frames, present, scales, verdicts
from soiltrend.noise import Noise, noise_model
from soiltrend.odd import alone, together, words

COLUMNS = [
    "bed",
    "season",
    "analyte",
    "method",
    "value",
    "unit",
    "expected",
    "times",
    "kind",
    "why",
    "lab",
    "report",
    "sample",
    "source",
    "place",
]

RATE = 0.05
"""How often a garden without a slip may show any finding; shared alike by the three looks (at values, at the
traces of a sample, at pairs of bags)."""

LOOKS = 3


@dataclass(frozen=True, eq=False)
class Odd:
    """The odd values of a garden.

    Attributes
    ----------
    table : DataFrame
        One row a value, the farthest first: ``bed, season, analyte, method, value, unit``; ``expected`` (in
        ``unit``: what its series allows that is nearest to the value); ``times`` (how many standard
        deviations of noise it lies from that, negative below); ``kind`` ("far from its own", "decimal
        slip?", "bucket or bag?", "bags swapped?"); ``why``, which ends with what to do; ``lab, report,
        sample, source, place``.
    noise : Noise
        The noise model used.
    looked_at : int
        Values that were held against their series.
    left : int
        Measured values that could not be: beyond a limit, without a time, or with too few others.
    """

    table: pd.DataFrame
    noise: Noise
    looked_at: int
    left: int

    def __repr__(self) -> str:
        return present.plain(_title(self), self.table.drop(columns=["why", "place"]))

    def _repr_html_(self) -> str:
        return present.page(_title(self), self.table)


def _title(result: Odd) -> str:
    if not result.looked_at:
        return (
            f"Nothing could be judged yet: {present.counted(result.left, 'value')} with fewer than "
            f"{alone.OTHERS} others to be held against, or beyond a limit"
        )
    return (
        f"{len(result.table)} odd of {result.looked_at} values ({result.left} more have fewer than "
        f"{alone.OTHERS} others to be held against, or lie beyond a limit)"
    )


def odd(results: pd.DataFrame, *, noise: Noise | None = None) -> Odd:
    """Return the values that are too far from their own series, sample or bed to be left without a question.

    Parameters
    ----------
    results : DataFrame
        A tidy frame. Derived rows and the grower's own observations are not looked at.
    noise : Noise, optional
        How far results move by themselves; by default :func:`soiltrend.noise.noise_model` of these results.

    Returns
    -------
    Odd
        Whose ``table`` has no row when nothing is odd.

    Raises
    ------
    FrameError
        When the frame is not tidy.

    Notes
    -----
    Values, samples and pairs of bags are looked at by the false discovery rate of Benjamini & Hochberg
    (1995): in a garden without slips the chance of any finding is at most :data:`RATE`, however many values
    it has, as long as noise is what the model says. Where its tails are heavier (Student's t on 3 degrees
    of freedom) about one simulated garden in ten shows a finding. A value needs three others of its series.

    Examples
    --------
    >>> days = pd.to_datetime([f"{year}-04-05" for year in range(2019, 2025)])
    >>> rows = pd.DataFrame({"bed": "East", "analyte": "Mg", "unit": "mg/kg", "sampled": days,
    ...                      "season": frames.season(pd.Series(days)), "lab": "L",
    ...                      "value": [161, 150, 1580, 166, 148, 171]})
    >>> odd(frames.results(rows)).table[["season", "value", "kind"]].to_numpy().tolist()
    [['spring 2021', 1580.0, 'decimal slip?']]
    """
    frames.check(results)
    model = noise if noise is not None else noise_model(results)
    rows = alone.departures(results, model)
    measured = int(alone.measured(results).sum())
    rows["bag"] = together.bags(rows)
    rows["expected"] = scales.back(rows["nearest"].to_numpy(), rows["scale"].to_numpy())
    rows["end"] = _ends(rows)
    rows["high"] = [[]] * len(rows)
    rows["kind"] = np.where(_found(rows["p"]), words.FAR, "")
    rows["factor"] = words.factors(rows)
    _bucket(rows)
    rows.loc[(rows["kind"] != "") & rows["factor"].notna(), "kind"] = words.SLIP
    _swap(rows)
    table = rows[rows["kind"] != ""].sort_values("times", key=np.abs, ascending=False, kind="stable")
    table["why"] = [words.sentence(row) for row in table.to_dict("records")]
    return Odd(table[COLUMNS].reset_index(drop=True), model, len(rows), measured - len(rows))


def _found(p: pd.Series) -> np.ndarray:
    """Return which of one look's p-values are discoveries at its part of the rate."""
    return np.asarray(verdicts.discovery_rate(p.to_numpy(dtype=float)) <= RATE / LOOKS)


def _ends(rows: pd.DataFrame) -> np.ndarray:
    """Return "first" or "latest" where a value is that of its series, else ""."""
    time = rows["time"].groupby(rows["series"])
    return np.select(
        [rows["time"] == time.transform("max"), rows["time"] == time.transform("min")],
        ["latest", "first"],
        "",
    )


def _bucket(rows: pd.DataFrame) -> None:
    """Mark the high traces of samples in which several are high together."""
    traces = tuple(words.hints())
    found = together.high_together(rows, traces)
    high = rows["analyte"].isin(traces) & (rows["times"] >= together.HIGH)
    high &= rows["bag"].isin(found.index[_found(found["p"])])
    names = rows[high].groupby("bag")["analyte"].agg(lambda column: list(dict.fromkeys(column)))
    rows.loc[high, "kind"] = words.BUCKET
    rows.loc[high, "high"] = rows.loc[high, "bag"].map(names)


def _swap(rows: pd.DataFrame) -> None:
    """Mark what is odd in two bags that fit each other's beds, and at least the farthest value of each."""
    pairs = together.swaps(rows)
    rows["partner"], rows["telling"], rows["better"] = "", 0, 0
    for pair in pairs[_found(pairs["p"])].to_dict("records"):
        for bag, partner in ((pair["first"], pair["second_bed"]), (pair["second"], pair["first_bed"])):
            mine = rows["bag"] == bag
            farthest = rows["times"].abs().where(mine).idxmax()
            told = mine & ((rows["kind"] != "") | (rows.index == farthest))
            rows.loc[told, ["kind", "partner", "telling", "better"]] = [
                words.SWAPPED,
                partner,
                pair["telling"],
                pair["better"],
            ]
