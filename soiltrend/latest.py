"""The latest comparison a garden allows, when the reader has not said which seasons she means."""

from __future__ import annotations

import numpy as np
import pandas as pd

from soiltrend import composites, frames
from soiltrend.comparable import tally
from soiltrend.compare import EXTRA, FIRST, Comparison, Contrast, against_check, compare
from soiltrend.noise import Noise, noise_model
from soiltrend.present import Listing

Pair = tuple[str, str]
NONE = "(none)"

USUAL = 0.5
"""Share of the comparable rows of the best earlier season that another must have to be chosen."""

ENOUGH = 0.25
"""Share of the comparable rows of the best pair below which a later season is no whole test: judgement."""


def latest_pair(
    results: pd.DataFrame, *, like: bool = True, longest: bool = False, samples: pd.DataFrame | None = None
) -> Pair:
    """Return the latest two seasons that can be compared.

    The later season is the last of which at least :data:`ENOUGH` as many rows can be compared as of the
    best pair, so that one count of earthworms takes the place of no soil test. The earlier is taken from
    those that give at least :data:`USUAL` as many comparable rows as the best of them.

    Parameters
    ----------
    results : DataFrame
        A tidy frame.
    like : bool
        True for two seasons of one name (spring and spring), False for two of different names
        (spring and the autumn after it).
    longest : bool
        Take the earliest season that can stand beside the latest, and not the nearest.
    samples : DataFrame, optional
        The sampling record, which tells of splits and of the surface.

    Returns
    -------
    tuple of str
        The earlier and the later season, or two empty texts when there is no such pair.

    Examples
    --------
    >>> days = pd.to_datetime(["2023-04-01", "2023-10-01", "2024-04-01"])
    >>> rows = frames.results(pd.DataFrame({"bed": "East", "analyte": "pH", "unit": "pH", "sampled": days,
    ...                                     "value": [6.1, 6.2, 6.3]}))
    >>> rows["season"] = frames.season(rows["sampled"])
    >>> latest_pair(rows), latest_pair(rows, like=False)
    (('spring 2023', 'spring 2024'), ('autumn 2023', 'spring 2024'))
    """
    counts = tally(results, composites.record(samples))
    names = np.array([frames.season_name(str(season)) for season in counts], dtype=object)
    found = np.triu(counts.to_numpy() * ((names[:, None] == names) == like), k=1)
    best = found.max(axis=0, initial=0)
    whole = np.flatnonzero((best > 0) & (best >= ENOUGH * best.max(initial=0)))
    if not len(whole):
        return "", ""
    at = whole[-1]
    earlier = np.flatnonzero((found[:, at] > 0) & (found[:, at] >= USUAL * best[at]))
    return str(counts.columns[earlier[0 if longest else -1]]), str(counts.columns[at])


def compare_latest(
    results: pd.DataFrame,
    *,
    asked: Pair = ("", ""),
    like: bool = True,
    longest: bool = False,
    noise: Noise | None = None,
) -> Comparison:
    """Compare the two seasons asked for, or else the latest two that can be compared.

    Parameters
    ----------
    results : DataFrame
        A tidy frame.
    asked : tuple of str
        Before and after, as for :func:`soiltrend.compare`; two empty texts leave the choice to
        :func:`latest_pair`.
    like, longest : bool
        For that choice: two seasons of one name or of different ones; the nearest two or those
        farthest apart.
    noise : Noise, optional
        As for :func:`soiltrend.compare`.

    Returns
    -------
    Comparison
        With no rows, and "(none)" for both seasons, when no two such seasons share a series: one
        test of a garden is a beginning and not an error. ``lacks`` tells where two others do.

    Raises
    ------
    SoiltrendError
        As :func:`soiltrend.compare` for the seasons asked for.
    """
    model = noise if noise is not None else noise_model(results)
    before, after = asked
    record = model.composites.rename(columns={"parent": "duplicate_of"})
    if not any(asked):
        before, after = latest_pair(results, like=like, longest=longest, samples=record)
    if not before and not after:
        other = any(latest_pair(results, like=not like, samples=record))
        lacks = ("like" if like else "unlike") if other else ""
        return Comparison(pd.DataFrame(columns=FIRST + EXTRA), NONE, NONE, 0.95, model, lacks)
    return compare(results, before=before, after=after, noise=model)


def beside_check(comparison: Comparison, *, results: pd.DataFrame, beds: pd.DataFrame) -> Contrast | Listing:
    """Set the changes of a comparison against those of the beds left without amendment.

    Parameters
    ----------
    comparison : Comparison
        Its two seasons and its noise model are used again.
    results : DataFrame
        The tidy frame it was made of.
    beds : DataFrame
        A garden's beds, of which the column ``check`` tells those left as they were.

    Returns
    -------
    Contrast or Listing
        The difference of differences; or, where the garden has no check bed or nothing to
        compare, an empty listing that says so.
    """
    here = set(results["bed"])
    checks = [bed for bed in beds.loc[beds["check"], "bed"] if bed in here]
    if comparison.table.empty or not checks or here == set(checks):
        title = "No bed was left without amendment, so no change can be laid at the door of one"
        return Listing(title, pd.DataFrame(columns=["analyte", "treated", "check", "difference"]))
    return against_check(
        results,
        checks=checks,
        before=comparison.before,
        after=comparison.after,
        noise=comparison.noise,
        confidence=comparison.confidence,
    )
