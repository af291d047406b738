"""Several growers' gardens side by side, without their names and on one scale.

Each garden brings the change of its own beds between two seasons, with its own noise; nothing is
pooled over gardens, for soils, laboratories and hands differ. Gardens are called by letters, dealt
anew for every seed, and beds are not named either; who is who stands in a list of its own that no
picture shows.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from soiltrend import frames, present
from soiltrend.compare import EXTRA, FIRST, Comparison
from soiltrend.errors import SoiltrendError
from soiltrend.garden import Garden, open_garden
from soiltrend.latest import Pair, compare_latest
from soiltrend.prepare import garden_noise, prepared
from soiltrend.verdicts import NOT_COMPARABLE

MOST = 26
"""Gardens that can be told apart by a letter."""

SHOWN = ["garden", "seasons", "analyte", "method", "unit", "lab", "top_cm", "bottom_cm", "of_beds", "before",
         "after", "change", "low", "high", "verdict", "why"]  # fmt: skip


@dataclass(frozen=True, eq=False)
class Workshop:
    """The changes of several gardens, one row a garden, measure, method, laboratory and layer.

    Attributes
    ----------
    table : DataFrame
        ``garden`` ("garden A"), ``seasons`` ("spring 2022 to spring 2024"), ``of_beds`` (of how many beds
        it is the mean: those that can be compared by that method and laboratory in that layer), then the
        columns of :class:`soiltrend.Comparison` for the garden as a whole, in canonical units.
    key : DataFrame
        ``garden`` and ``name``: for the leader of the workshop alone; it is not shown with the table.
    confidence : float
        Of the intervals.
    """

    table: pd.DataFrame
    key: pd.DataFrame
    confidence: float

    def __repr__(self) -> str:
        return present.plain(_title(self), self.table[SHOWN[:-1]])

    def _repr_html_(self) -> str:
        return present.page(_title(self), self.table[SHOWN])


def _title(result: Workshop) -> str:
    count, measures = len(result.key), result.table["analyte"].nunique()
    return f"{present.counted(count, 'garden')} side by side, {present.counted(measures, 'measure')}"


def _whole(comparison: Comparison) -> pd.DataFrame:
    """Return one row a series of a measure: the pooled one, or the bed's own where there is but one bed."""
    table = comparison.table
    pooled = table["bed"] == frames.GARDEN
    own = table[~pooled]
    if len(own["bed"].unique()) > 1:
        rows = table[pooled].assign(of_beds=table["beds"])
    else:
        rows = own.assign(of_beds=(own["verdict"] != NOT_COMPARABLE).astype(int))
    names = [re.escape(bed) for bed in sorted(table["bed"].unique(), key=len, reverse=True)]
    return rows.assign(why=rows["why"].str.replace(rf"\b(?:{'|'.join(names)})\b", "a bed", regex=True))


def _one(garden: Garden, *, asked: Pair) -> Comparison:
    results = prepared(garden)
    noise = garden_noise(garden, results=results)
    return compare_latest(results, asked=asked, longest=True, noise=noise)


def workshop(
    gardens: Sequence[Garden | str | Path], *, before: str = "", after: str = "", seed: int = 0
) -> Workshop:
    """Set the changes of several gardens side by side, by letter.

    Parameters
    ----------
    gardens : sequence of Garden, str or Path
        Gardens, or the folders they are in.
    before, after : str
        The seasons to compare in every garden; left empty, each garden's own latest and
        the earliest of the same name that can stand beside it.
    seed : int
        Deals the letters: the same seed and gardens give the same letters.

    Returns
    -------
    Workshop
        A garden without two tests that can be compared stands in ``key`` and has no rows.

    Raises
    ------
    SoiltrendError
        When there is no garden, or there are more than :data:`MOST`; and as :func:`soiltrend.compare`
        for seasons that a garden does not hold.
    """
    if isinstance(gardens, Garden | str | Path):
        raise SoiltrendError(
            f"one garden alone was given, '{getattr(gardens, 'name', gardens)}'",
            remedy="Put gardens in brackets, with commas between: [garden, other]",
        )
    if not 0 < len(gardens) <= MOST:
        raise SoiltrendError(
            f"{len(gardens)} gardens were given", remedy=f"A workshop takes from one to {MOST} gardens."
        )
    order = np.random.default_rng(seed).permutation(len(gardens))
    called = {at: f"garden {chr(ord('A') + place)}" for at, place in enumerate(order)}
    parts = [pd.DataFrame(columns=["garden", "seasons", "of_beds", *FIRST, *EXTRA])]
    opened = [given if isinstance(given, Garden) else open_garden(given) for given in gardens]
    found = [_one(garden, asked=(before, after)) for garden in opened]
    for at, comparison in enumerate(found):
        if len(comparison.table):
            seasons = f"{comparison.before} to {comparison.after}"
            parts.append(_whole(comparison).assign(garden=called[at], seasons=seasons, bed=called[at]))
    table = pd.concat(parts[1:] or parts, ignore_index=True)
    lead = ["garden", "seasons", "of_beds"]
    table = table[lead + [name for name in table.columns if name not in lead]]
    key = pd.DataFrame({"garden": [called[at] for at in called], "name": [garden.name for garden in opened]})
    return Workshop(
        table.sort_values("garden", kind="stable", ignore_index=True),
        key.sort_values("garden", ignore_index=True),
        found[0].confidence,
    )
