"""What may be claimed of a comparison: the rows whose verdict and adjusted chance carry it."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from soiltrend import frames, verdicts
from soiltrend.compare import Comparison
from soiltrend.story.core import is_share, patience, spoken

MOVED = (verdicts.ROSE, verdicts.FELL)


@dataclass(frozen=True, eq=False)
class Claims:
    """The rows that may be named as risen or fallen, the clearest first."""

    rows: pd.DataFrame

    def by_verb(self) -> dict[str, list[str]]:
        """Return the measures as they are spoken, by verdict."""
        out = {}
        for verb in MOVED:
            names = self.rows.loc[self.rows["verdict"] == verb, "analyte"]
            if len(names):
                out[verb] = list(dict.fromkeys(spoken(name) for name in names))
        return out


def apart(comparison: Comparison) -> float:
    """Return the years that lie between the two occasions for certain.

    Days are counted. Seasons and years are told apart by their year; two seasons of unlike name may
    lie a part of a year nearer than that, so that a whole year is taken off.
    """
    ends = pd.Series([comparison.before, comparison.after])
    days = pd.to_datetime(ends, format="%Y-%m-%d", errors="coerce")
    if days.notna().all():
        return float((days[1] - days[0]).days / frames.YEAR)
    years = pd.to_numeric(ends.str.extract(r"(\d{4})")[0])
    names = [frames.season_name(text) for text in ends]
    return float(years[1] - years[0] - (names[0] != names[1]))


def whole(comparison: Comparison) -> str:
    """Return what is told of where no bed is named: the garden, or the only bed that can be compared.

    A garden's average takes two beds; with one there is none, and the bed speaks for itself.
    """
    table = comparison.table
    compared = table[table["verdict"] != verdicts.NOT_COMPARABLE]
    places = compared["bed"] if len(compared) else table["bed"][table["bed"] != frames.GARDEN]
    beds = places.unique()
    return str(beds[0]) if len(beds) == 1 else frames.GARDEN


def years_needed(analyte: str, comparison: Comparison) -> float | None:
    """Return the years a slow measure needs when fewer lie between the ends, else None."""
    needed = patience().get(analyte)
    return needed if needed is not None and apart(comparison) < needed else None


def stands(table: pd.DataFrame, comparison: Comparison) -> pd.Series:
    """Return which rows rose or fell and stand among all the comparisons made."""
    return table["verdict"].isin(MOVED) & (table["q"] <= 1 - comparison.confidence)


def divided(table: pd.DataFrame) -> pd.Series:
    """Return which rows belong to a bed's measure of which some records rose and others fell."""
    moved = table[table["verdict"].isin(MOVED)]
    ways = moved.groupby(["bed", "analyte"])["verdict"].nunique()
    apart_ = ways[ways > 1].index
    return pd.Series(pd.MultiIndex.from_frame(table[["bed", "analyte"]]).isin(apart_), index=table.index)


def claims_of(table: pd.DataFrame, comparison: Comparison) -> Claims:
    """Return what may be claimed of some rows of a comparison, the clearest first.

    A claim must stand among all the comparisons made (``q``), not only by its own interval. Shares
    of the exchange capacity and ratios are not named: they never stand without the amounts behind
    them. Slow measures wait for their years. A measure of which one record rose and another fell is
    not named.
    """
    names = table["analyte"].unique()
    share = {name: is_share(name) for name in names}
    slow = {name: years_needed(name, comparison) is not None for name in names}
    kept = stands(table, comparison) & ~divided(table)
    kept &= ~table["analyte"].map(share).astype(bool) & ~table["analyte"].map(slow).astype(bool)
    rows = table[kept]
    order = rows["in_noise"].abs().sort_values(ascending=False, kind="stable").index
    return Claims(rows.loc[order])
