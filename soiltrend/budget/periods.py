"""The periods of an account: two tests of one bed that may be compared, of the same season."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import pandas as pd

from soiltrend import frames, verdicts
from soiltrend.comparable import years
from soiltrend.compare import compare
from soiltrend.errors import SoiltrendError
from soiltrend.noise import Noise

MEASURED_BY = {"N": ("total N",), "C": ("TOC", "total C", "OM"), "acidity": ("acidity",)}
"""Tests that tell of a nutrient, the best first; of any other its own."""

SPANS = ("longest", "each")
SERIES = list(frames.SERIES)
ENDS = ["before_season", "after_season"]


@dataclass(frozen=True, eq=False)
class Found:
    """The periods of a garden.

    Attributes
    ----------
    rows : DataFrame
        One row a bed, nutrient and period: the numbers of :func:`soiltrend.compare`, ``nutrient``,
        ``before_season, after_season``, ``start`` and ``end`` (days).
    compared : DataFrame
        All comparable rows of the pairs of seasons that were looked at, of all beds.
    """

    rows: pd.DataFrame
    compared: pd.DataFrame


def analytes(nutrient: str) -> tuple[str, ...]:
    """Return the tests that tell of a nutrient, the best first.

    Examples
    --------
    >>> analytes("P"), analytes("C")
    (('P',), ('TOC', 'total C', 'OM'))
    """
    return MEASURED_BY.get(nutrient, (nutrient,))


def _candidates(results: pd.DataFrame, nutrients: tuple[str, ...]) -> pd.DataFrame:
    """Return every pair of like seasons that one series has, one row a pair and nutrient."""
    order = {name: place for place, name in enumerate(frames.seasons(results))}
    rank = {
        test: (nutrient, place) for nutrient in nutrients for place, test in enumerate(analytes(nutrient))
    }
    rows = results[results["analyte"].isin(list(rank)) & (results["season"] != "")]
    times = rows.assign(time=years(rows)).groupby([*SERIES, "season"], dropna=False)["time"].min()
    found = []
    for series, part in times.reset_index().groupby(SERIES, dropna=False, sort=False):
        ends = sorted(zip(part["season"].map(order), part["season"], part["time"], strict=True))
        nutrient, place = rank[part["analyte"].iloc[0]]
        found += [
            (*series, nutrient, place, first, second, until - since, until)
            for (_, first, since), (_, second, until) in combinations(ends, 2)
            if frames.season_name(first) == frames.season_name(second)
        ]
    return pd.DataFrame(found, columns=[*SERIES, "nutrient", "place", *ENDS, "span", "until"])


def _ordered(pairs: pd.DataFrame, *, span: str, asked: tuple[str, str]) -> pd.DataFrame:
    """Return the candidates of each bed and nutrient in the order in which they are to be tried.

    ``turn`` numbers the periods that are wanted: one for the longest, one for each later end otherwise.
    """
    if any(asked):
        named = [text.strip().casefold() for text in asked]
        pairs = pairs[
            (pairs["before_season"].str.casefold() == named[0])
            & (pairs["after_season"].str.casefold() == named[1])
        ]
    pairs = pairs.assign(
        longer=-pairs["span"] if span == SPANS[0] else pairs["span"],
        turn=pairs["after_season"] if span == SPANS[1] else "",
    )
    return pairs.assign(late=-pairs["until"]).sort_values(["place", "longer", "late"], kind="stable")


def _check(results: pd.DataFrame, span: str, asked: tuple[str, str]) -> None:
    if span not in SPANS:
        raise SoiltrendError(f"periods = {span!r} is not known", remedy=f"Give one of {', '.join(SPANS)}")
    if any(asked) and not all(asked):
        raise SoiltrendError(
            f"asked = {asked!r} names one season of two", remedy="Name both, or leave both empty"
        )
    ends = [text.strip().casefold() for text in asked if text]
    if len(set(map(frames.season_name, ends))) > 1:
        raise SoiltrendError(
            f"'{asked[0]}' and '{asked[1]}' are not of one season, and the swing between them is no account",
            remedy="Name two springs, or two autumns",
        )
    here = frames.seasons(results)
    order = {season.casefold(): place for place, season in enumerate(here)}
    for text in asked:
        if text and text.strip().casefold() not in order:
            raise SoiltrendError(f"no result belongs to '{text}'", remedy=f"Seasons here: {', '.join(here)}")
    if ends and order[ends[1]] <= order[ends[0]]:
        raise SoiltrendError(
            f"'{asked[1]}' does not come after '{asked[0]}'", remedy="Name the earlier season first"
        )


def tests(
    results: pd.DataFrame, *, nutrients: tuple[str, ...], noise: Noise, span: str, asked: tuple[str, str]
) -> Found:
    """Return the periods of each bed and nutrient, with the movement of the test over them.

    Parameters
    ----------
    results : DataFrame
        A tidy frame.
    nutrients : tuple of str
        Elements, "C" and "acidity".
    noise : Noise
        How far results move by themselves.
    span : str
        "longest": of each bed and nutrient the two tests farthest apart; "each": every test against the
        one of the same season before it.
    asked : tuple of str
        Before and after instead, or two empty texts.

    Returns
    -------
    Found
        A pair that cannot be compared is left for the next; a bed and nutrient without any has no row.

    Raises
    ------
    SoiltrendError
        When ``span`` is not known or a season asked for has no result.
    """
    _check(results, span, asked)
    queue = _ordered(_candidates(results, nutrients), span=span, asked=asked)
    wanted = [test for nutrient in nutrients for test in analytes(nutrient)]
    rows = results[results["analyte"].isin(wanted)]
    seen: dict[tuple[str, str], pd.DataFrame] = {}
    found = [pd.DataFrame(columns=["bed", "nutrient", "turn"])]
    while len(queue):
        first = queue.drop_duplicates(["bed", "nutrient", "turn"])
        for _, part in first.groupby(ENDS, sort=False):
            pair = (part["before_season"].iloc[0], part["after_season"].iloc[0])
            if pair not in seen:
                seen[pair] = _compared(rows, pair, noise)
            found.append(part.drop(columns=ENDS).merge(seen[pair], on=SERIES, how="inner"))
        done = pd.MultiIndex.from_frame(pd.concat(found)[["bed", "nutrient", "turn"]])
        rest = queue.drop(first.index)
        queue = rest[~pd.MultiIndex.from_frame(rest[["bed", "nutrient", "turn"]]).isin(done)]
    out = pd.concat([part for part in found if len(part)] or found, ignore_index=True)
    both = pd.concat(list(seen.values()), ignore_index=True) if seen else out
    return Found(out, both)


def _compared(rows: pd.DataFrame, ends: tuple[str, str], noise: Noise) -> pd.DataFrame:
    """Return the comparable bed rows of one pair of seasons, with the days of their tests."""
    dated = frames.in_time(rows)
    table = compare(rows, before=ends[0], after=ends[1], noise=noise, confidence=0.9).table
    table = table[(table["bed"] != frames.GARDEN) & (table["verdict"] != verdicts.NOT_COMPARABLE)]
    table = table.rename(columns={"before": "value_before", "after": "value_after", "why": "compared"})
    table = table.assign(before_season=ends[0], after_season=ends[1])
    for name, season in (("start", ends[0]), ("end", ends[1])):
        tests = dated[dated["season"] == season].groupby(SERIES, dropna=False)["sampled"]
        table = table.merge(tests.median().rename(name).reset_index(), on=SERIES, how="left")
    return table
