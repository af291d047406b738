"""The garden's trend: what its beds share, judged by the seasons and not by the number of beds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import composites, frames
from soiltrend.chances import stdtr
from soiltrend.series import Laid, season_groups
from soiltrend.slopes import lines
from soiltrend.slopes.batch import LEAST, Points
from soiltrend.slopes.joined import added, influence
from soiltrend.slopes.shared import Shared, date_chance, half_width, occasion_effects, share

KEY = list(frames.POOLED)
"""What the beds of one garden row have in common."""

ONE_BED = "only one bed: see its own row"
FEW = "fewer than three seasons that can stand together"
APART = "the beds were never sampled in the same seasons, so dates cannot be told from beds"
MODEL = "season means"
BY_DATES = "ranks over all beds"


@dataclass(frozen=True, eq=False)
class Grid:
    """The tests of one key: a row a bed, a column an occasion in order of time.

    ``moved`` holds for each bridge how far each test would go if its offset were wrong by one standard
    deviation.
    """

    low: np.ndarray
    high: np.ndarray
    time: np.ndarray
    season: np.ndarray
    n: int
    n_censored: int
    moved: tuple[np.ndarray, ...] = ()


def rows(laid: Laid, lined: pd.DataFrame, *, confidence: float) -> tuple[pd.DataFrame, np.ndarray]:
    """Return one row per analyte and series of the garden, and the shrunken slope of each bed's series.

    Parameters
    ----------
    laid : Laid
        The series in time.
    lined : DataFrame
        The same series with their lines.
    confidence : float
        Of the intervals.
    """
    series = laid.series
    shrunk = np.full(len(series), np.nan)
    key = composites.codes(series, KEY)
    place = np.unique(key, return_index=True)[1]
    out = series.iloc[place][[*KEY, "scale"]].reset_index(drop=True)
    members = _split(key, np.arange(len(series)))
    tests = _split(key[laid.tests.series], np.arange(len(laid.tests.series)))
    slope, centre = lined["rank_slope"].to_numpy(), lined["centre"].to_numpy()
    found = []
    for code, beds in members.items():
        row, own = _row(_grid(laid, beds, tests.get(code, np.empty(0, dtype=int))), confidence)
        shrunk[beds] = own
        if row.get("model") == BY_DATES:
            row = {**row, "slope": _median(slope[beds]), "centre": _median(centre[beds])}
        found.append(row)
    days = series.groupby(key)[["first", "last"]].agg({"first": "min", "last": "max"})
    out = pd.concat([out, pd.DataFrame(found), days], axis=1)
    out["beds"] = np.bincount(key, weights=series["n"] > 0, minlength=len(out)).astype(int)
    named = series["joined"].groupby(key).agg(lambda texts: " and ".join(dict.fromkeys(filter(None, texts))))
    return out.assign(bed=frames.GARDEN, left="", breaks="", warning="", undated=0, joined=named), shrunk


def _median(values: np.ndarray) -> float:
    """Return the median of the finite values, NaN when there is none."""
    finite = values[np.isfinite(values)]
    return float(np.median(finite)) if len(finite) else np.nan


def _split(code: np.ndarray, places: np.ndarray) -> dict[int, np.ndarray]:
    """Return the places of each code."""
    order = np.argsort(code, kind="stable")
    edges = np.flatnonzero(np.diff(code[order], prepend=-1))
    return {int(code[part[0]]): places[part] for part in np.split(order, edges[1:]) if len(part)}


def _grid(laid: Laid, beds: np.ndarray, at: np.ndarray) -> Grid:
    """Return the tests of some series by bed and occasion, several days of one season averaged."""
    tests = laid.tests.at(at)
    place = np.full(len(laid.series), -1)
    place[beds] = np.arange(len(beds))
    when, column = np.unique(tests.occasion, return_inverse=True)
    time = np.bincount(column, weights=tests.time, minlength=len(when)) / np.bincount(
        column, minlength=len(when)
    )
    order = np.argsort(time, kind="stable")
    rank = np.argsort(order, kind="stable")
    cell = place[tests.series] * len(when) + rank[column]
    shape = (len(beds), len(when))
    size = np.bincount(cell, minlength=shape[0] * shape[1])
    with np.errstate(invalid="ignore"):
        bounds = [
            np.where(
                size > 0, np.bincount(cell, weights=part, minlength=len(size)) / np.maximum(size, 1), np.nan
            )
            for part in (tests.low, tests.high)
        ]
    name = (when % (len(frames.SEASONS) + 1))[order]
    season, lone = season_groups(np.zeros(len(name), dtype=int), name, count=1)
    low, high = (part.reshape(shape)[:, ~lone] for part in bounds)
    steps = [np.bincount(cell, weights=step[at], minlength=len(size)) for step in laid.moved.values()]
    moved = tuple((step / np.maximum(size, 1)).reshape(shape)[:, ~lone] for step in steps if step.any())
    _, season = np.unique(season[~lone], return_inverse=True)
    censored = int((tests.low < tests.high).sum())
    return Grid(low, high, time[order][~lone], season, len(when), censored, moved)


def _row(grid: Grid, confidence: float) -> tuple[dict[str, object], np.ndarray]:
    """Return the numbers of one garden row, and the shrunken slopes of its beds."""
    blank = np.full(len(grid.low), np.nan)
    empty = {
        "n": grid.n,
        "n_censored": grid.n_censored,
        "n_used": len(grid.time),
        "kind": lines.NOTHING,
        "seasons": 0,
    }
    seen = np.asarray(np.isfinite(grid.low) | np.isfinite(grid.high))
    if seen.any(axis=1).sum() < 2:
        return {**empty, "reason": ONE_BED}, blank
    if len(grid.time) < max(LEAST, int(grid.season.max(initial=0)) + 3):
        return {**empty, "reason": FEW}, blank
    s, p_dates = date_chance(grid.low, grid.high, grid.season)
    exact = ~(grid.low < grid.high).any(axis=1)
    same = {
        **empty,
        "p_dates": p_dates,
        "reason": "",
        "span": grid.time[-1] - grid.time[0],
        "seasons": int(grid.season.max()) + 1,
    }
    if 2 * int((exact & seen.any(axis=1)).sum()) < max(4, int(seen.any(axis=1).sum())):
        more = _bridged(grid, np.arange(len(seen)))
        return {**same, **_by_dates(s, p_dates, confidence), "bridged": more}, blank
    found = share(grid.low[exact], grid.time, grid.season)
    if found is None:
        return {**same, "reason": APART}, blank
    blank[exact] = found.shrunk
    hidden = int((~exact).sum())
    more = _bridged(grid, np.flatnonzero(exact))
    return {**same, **_by_means(found, more, confidence), "hidden": hidden, "bridged": more}, blank


def _bridged(grid: Grid, beds: np.ndarray) -> float:
    """Return the standard error that bridges add to the slope of the occasions' means.

    All beds that a bridge moved err alike, so more of them do not average it away.
    """
    seen = np.isfinite(grid.low) | np.isfinite(grid.high)
    beds = beds[seen[beds].any(axis=1)]
    square = 0.0
    for step in grid.moved:
        effect = occasion_effects(np.where(seen[beds], step[beds], np.nan))
        if effect is not None:
            zero = np.zeros(len(grid.time), dtype=int)
            points = Points(zero, grid.season, grid.time, effect, effect)
            square += float(influence(points, effect, count=1)[0]) ** 2
    return float(np.sqrt(square))


def _by_means(found: Shared, more: float, confidence: float) -> dict[str, object]:
    """Return the trend of the occasions' means, with the error that bridges add."""
    half, tight = (half_width(found.se, found.df, level) for level in (confidence, 2 * confidence - 1))
    slope, p = found.slope, found.p
    if more > 0:
        se, df = added(found.se, float(found.df), more)
        half, tight = (half_width(se, df, level) for level in (confidence, 2 * confidence - 1))
        p = float(2 * stdtr(df, -abs(slope) / se))
    return {
        "kind": lines.LINE,
        "slope": slope,
        "low": slope - half,
        "high": slope + half,
        "tight_low": slope - tight,
        "tight_high": slope + tight,
        "p": p,
        "centre": found.centre,
        "model": MODEL,
        "confidence": confidence,
        "p_beds_like_mine": max(p, found.p_beds),
        "spread": found.spread,
    }


def _by_dates(s: int, p: float, confidence: float) -> dict[str, object]:
    """Return the direction alone, where limits hide too many values to tell a size."""
    sure = p <= 1 - confidence
    return {
        "kind": lines.MEDIAN,
        "low": 0.0 if sure and s > 0 else -np.inf,
        "high": 0.0 if sure and s < 0 else np.inf,
        "tight_low": -np.inf,
        "tight_high": np.inf,
        "p": p,
        "model": BY_DATES,
        "confidence": confidence,
    }
