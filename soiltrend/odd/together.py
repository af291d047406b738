"""What several values say together: traces of one sample all high, or two bags in each other's place."""

from __future__ import annotations

from itertools import combinations
from math import comb

import numpy as np
import pandas as pd

from soiltrend import composites, frames
from soiltrend.chances import stdtr

HIGH = 2.0
"""Noise standard deviations from which one trace of a sample that is high as a whole is listed."""

APART = 2.0
"""How far two beds must lie apart in a measure, in standard deviations of their difference, for it to
tell their bags from each other. Judgement."""

TELLING = 3
"""Measures that must tell two beds apart before their bags are looked at. Judgement."""

MOST = 2 / 3
"""Share of the telling measures that must fit the other bed better, in both bags. Judgement."""

REPORT = ["lab", "report", "source", "sampled", "season", "top_cm", "bottom_cm"]
MEASURE = ["analyte", "method", "unit"]
PAIR = ["first", "second", "first_bed", "second_bed", "telling", "better", "p"]
_GRID = ["y", "middle", "spread", "middle_spread", "df"]
OWN_KINDS = ("mass", "charge", "reaction", "conductivity")
"""Kinds of measure that are determined for themselves; sums and shares repeat what they are made of."""


def high_together(rows: pd.DataFrame, traces: tuple[str, ...]) -> pd.DataFrame:
    """Return for each sample with two traces or more how unlikely it is that two are so high by noise.

    Parameters
    ----------
    rows : DataFrame
        From :func:`soiltrend.odd.alone.departures`.
    traces : tuple of str
        Analytes that are looked at together.

    Returns
    -------
    DataFrame
        By ``bag`` (a number of the rows' sample): ``p`` that at least two of its traces lie as high as its
        second highest does, and ``count`` (traces looked at).

    Examples
    --------
    >>> rows = frames.results([{"bed": "East", "sample": "7", "analyte": a} for a in ("Zn", "Cu", "B")])
    >>> rows = rows.assign(bag=0, times=[5.0, 4.0, 0.1], df=20.0, restless=1.0)
    >>> high_together(rows, ("Zn", "Cu", "B")).round(6).to_dict("index")
    {0: {'p': 0.0, 'count': 3}}
    """
    part = rows[rows["analyte"].isin(traces)].drop_duplicates(["bag", "analyte"])
    above = stdtr(part["df"], -part["times"] / part["restless"])
    above = pd.Series(np.where(part["times"] > 0, above, 1.0), index=part.index)
    ranked = above.sort_values().groupby(part["bag"])
    count = ranked.size()
    second = ranked.nth(1)
    p = pd.Series(second.to_numpy(), index=part["bag"].loc[second.index]).sort_index()
    count = count.reindex(p.index)
    return pd.DataFrame({"p": _at_least_two(p.to_numpy(), count.to_numpy()), "count": count})


def _at_least_two(p: np.ndarray, count: np.ndarray) -> np.ndarray:
    """Return the chance that at least two of so many independent p-values are p or less."""
    return np.array(
        [
            sum(comb(int(n), k) * x**k * (1 - x) ** (n - k) for k in range(2, int(n) + 1))
            for x, n in zip(p, count, strict=True)
        ]
    )


def swaps(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the pairs of bags of one report that can be told apart, and how badly each fits its own bed.

    Parameters
    ----------
    rows : DataFrame
        From :func:`soiltrend.odd.alone.departures`, with ``bag``.

    Returns
    -------
    DataFrame
        ``first, second`` (bags), ``first_bed, second_bed``, ``telling`` (measures that tell the beds apart),
        ``better`` (those by which both bags fit the other bed better), ``p`` (that bags in their own place
        look so; 1 where they fit it).

    Notes
    -----
    With x the difference of the two bags and d that of the two beds' middles, both of one measure, x - d has
    variance v and is summed over the telling measures with weight d / v. Bags in each other's place give
    about -2 d. What the error of d adds to that sum, because it is in its weight too, is taken off.
    """
    keep = rows[rows["kind_of"].isin(OWN_KINDS)]
    keep = keep.assign(
        spread=keep["spread"] * keep["restless"], middle_spread=keep["middle_spread"] * keep["restless"]
    )
    page, measure = composites.codes(keep, REPORT), composites.codes(keep, MEASURE)
    keep = keep.assign(page=page, measure=measure).drop_duplicates(["page", "bed", "measure"])
    found = []
    for at in keep.groupby("page", sort=False).indices.values():
        found += _pairs(keep.iloc[at])
    return pd.DataFrame(found, columns=PAIR)


def _pairs(page: pd.DataFrame) -> list[tuple[int, int, str, str, int, int, float]]:
    """Return the pairs of bags of one report that enough measures tell apart."""
    bed, names = pd.factorize(page["bed"])
    measure, kinds = pd.factorize(page["measure"])
    grid = np.full((len(names), len(kinds), len(_GRID)), np.nan)
    grid[bed, measure] = page[_GRID]
    bag = page["bag"].to_numpy()[[int(np.flatnonzero(bed == i)[0]) for i in range(len(names))]]
    found = []
    for i, j in combinations(range(len(names)), 2):
        told = _fit(grid[i].T, grid[j].T)
        if told is not None:
            found.append((int(bag[i]), int(bag[j]), str(names[i]), str(names[j]), *told))
    return found


def _fit(first: np.ndarray, second: np.ndarray) -> tuple[int, int, float] | None:
    """Return how many measures tell two bags apart, how many say they are swapped, and p; else None."""
    (y, own, s, m, df), (z, other, t, n, free) = first, second
    d, middle = own - other, m**2 + n**2
    v = s**2 + t**2 + middle
    telling = np.abs(d) > APART * np.sqrt(v)
    count = int(telling.sum())
    if count < TELLING:
        return None
    wrong = (np.abs(y - other) < np.abs(y - own)) & telling, (np.abs(z - own) < np.abs(z - other)) & telling
    if any(side.sum() < MOST * count for side in wrong):
        return count, int((wrong[0] & wrong[1]).sum()), 1.0
    moved = (d * (d - (y - z)) - middle)[telling] / v[telling]
    score = moved.sum() / np.sqrt((d[telling] ** 2 / v[telling]).sum())
    p = float(stdtr(min(df[telling].min(), free[telling].min()), -score))
    return count, int((wrong[0] & wrong[1]).sum()), p


def bags(rows: pd.DataFrame) -> np.ndarray:
    """Return a number for each row that is the same for all values of one sample as reported."""
    return composites.codes(rows, list(frames.COMPOSITE))
