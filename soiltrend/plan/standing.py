"""Where a bed stands: the best estimate from the whole series of a measure, not its last number.

A measure has a level that wanders, a slope that dies away (Gardner & McKenzie 1985, Manage. Sci.
31:1237), and a swing between spring and autumn; a test sees them through its noise. What was put
on between two tests is expected to have moved it, so the slope is what the soil does by itself; how
much of that shows in this bed is learned from its tests too.
The filter of Kalman (1960, J. Basic Eng. 82:35) goes through the tests in order and weighs each
against what the earlier ones said; all series go together. A value beyond a laboratory's limit is no
number: what was thought is cut off at the limit, and the part that is left is told by its mean and its
variance (Tobin 1958, Econometrica 26:24).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import pandas as pd

from soiltrend import composites, frames, scales, series, tables
from soiltrend.chances import log_ndtr
from soiltrend.frames import YEAR
from soiltrend.noise import Noise, stretch
from soiltrend.swing import PLACE

Array: TypeAlias = np.ndarray
Dressed = Callable[[pd.DataFrame, Array], tuple[Array, Array]]
"""What dressings are expected to have added to each series by each day, in its unit, and how unsure the
share of it is that shows, where 1 is all that is expected."""

SHARE = 3
"""The place of that share in a state, after level, slope and swing."""

SIDE = {"spring": 0.5, "autumn": -0.5}
"""Half the swing is added in spring and taken off in autumn; summer and winter lie between."""

KEPT = 0.6
"""Share of a slope that is left after a year: what moved a bed two years ago seldom still does."""

DAY = 86400.0
"""Seconds."""

VAGUE = 25.0
"""Variance of the level before the first test: next to nothing is known."""

LEARNED = 0.5
"""Standard deviation of the share of what was expected of dressings that shows in a bed, where 1 is all of
it: beside the range of the response it holds what a log, a barrow and an analysis may be off (judgement)."""

SURE = 1e-9
"""Least share of a variance that a limit leaves: below it the sums that give it are rounding alone."""

_GENERAL = {scales.LOG: "(log)", scales.PLAIN: "(plain)", scales.SHARE: "(share)"}


@dataclass(frozen=True, eq=False)
class Standing:
    """The state of every bed and measure, on the analysis scale.

    Attributes
    ----------
    table : DataFrame
        One row a bed and analyte: bed, analyte, method, unit, lab, top_cm, bottom_cm, scale, n,
        first, last (days of the first and the last test), noise (sd of one test, its day
        included), wander and steep (sd of the level in a year, and of slopes); qualifier ("<" or ">" where
        every test lies beyond a limit, and no number stands for the bed) and bound (the last such limit, in
        its unit).
    mean : array (rows, 3)
        Level at the last test, slope a year, swing of spring above autumn.
    cov : array (rows, 3, 3)
        Their covariance.
    share : array (rows,)
        How much of what was expected of dressings has shown; 1 where nothing was learned of it.
    of : dict
        The places of each bed's rows.
    """

    table: pd.DataFrame
    mean: Array
    cov: Array
    share: Array
    of: dict[str, Array]


def _terms(rows: pd.DataFrame, name: str) -> Array:
    """Return a term of tables/wander.csv for each row: its analyte's, or its scale's."""
    table = tables.load("wander", numbers=("level", "slope")).set_index("analyte")[name]
    keys = rows["analyte"].where(rows["analyte"].isin(table.index), rows["scale"].map(_GENERAL))
    return table.loc[keys].to_numpy(dtype=float)


def _swings(rows: pd.DataFrame, noise: Noise, season: Array) -> tuple[Array, Array]:
    """Return what is known beforehand of each swing: the garden's own, or none within the usual."""
    own = noise.swings[(noise.swings["second"] == "spring") & (noise.swings["first"] == "autumn")]
    key = ["analyte", "method", *PLACE]
    found = rows[key].merge(own[[*key, "swing", "sd"]], on=key, how="left")[["swing", "sd"]].astype(float)
    return found["swing"].fillna(0.0).to_numpy(), found["sd"].fillna(pd.Series(season)).to_numpy()


def _latest(rows: pd.DataFrame) -> Array:
    """Return the places of one series for each bed and analyte: of the topsoil, last tested, longest."""
    order = composites.topsoil(rows.assign(place=np.arange(len(rows))), by=["bed", "analyte"])
    order = order.sort_values(["last", "n"], ascending=False, kind="stable")
    kept = order.drop_duplicates(["bed", "analyte"])["place"].sort_values()
    return kept.to_numpy()


@dataclass(frozen=True, eq=False)
class _Padded:
    """Tests of all series side by side: an array (series, tests) each, NaN beyond the last.

    Where ``low`` lies below ``high`` the value is known to lie between them and no more.
    """

    time: Array
    low: Array
    high: Array
    variance: Array
    side: Array


def _padded(laid: series.Laid, kept: Array, noise: Array) -> _Padded:
    """Return the tests of the series kept, with the variance of each."""
    tests = laid.tests
    new = np.full(len(laid.series), -1)
    new[kept] = np.arange(len(kept))
    mine = np.flatnonzero(new[tests.series] >= 0)
    of = new[tests.series[mine]]
    place = np.arange(len(of)) - np.searchsorted(of, of)  # series stand in order, tests within them
    shape = (len(kept), int(place.max(initial=0)) + 1)
    sides = np.array([SIDE.get(name, 0.0) for name in (*frames.SEASONS, "")])
    parts = (tests.time[mine], tests.low[mine], tests.high[mine], noise[of] ** 2, sides[tests.name[mine]])
    blank = np.full((len(parts), *shape), np.nan)
    for at, part in enumerate(parts):
        blank[at][of, place] = part
    return _Padded(*blank)


def between(mean: Array, sd: Array, *, low: Array, high: Array) -> tuple[Array, Array]:
    """Return mean and variance of normal numbers of which only the part between two ends is left.

    Parameters
    ----------
    mean, sd : array
        Of the whole.
    low, high : array
        The ends; infinite where there is none.

    Examples
    --------
    >>> found = between(np.zeros(1), np.ones(1), low=np.full(1, -np.inf), high=np.zeros(1))
    >>> [round(float(part[0]), 4) for part in found]  # half a bell: -sqrt(2/pi) and 1 - 2/pi
    [-0.7979, 0.3634]
    """
    start, end = (low - mean) / sd, (high - mean) / sd
    upper = start > 0  # the far tails are alike, and small chances are sure below 0 alone
    start, end = np.where(upper, -end, start), np.where(upper, -start, end)
    whole = log_ndtr(end)
    whole = whole + np.log1p(-np.exp(np.minimum(log_ndtr(start) - whole, -SURE)))
    with np.errstate(invalid="ignore"):
        heights = [np.exp(-(at**2) / 2 - whole) / np.sqrt(2 * np.pi) for at in (start, end)]
        along = [np.where(np.isfinite(at), at * height, 0.0)
                 for at, height in zip((start, end), heights, strict=True)]  # fmt: skip
    off = heights[0] - heights[1]
    left = np.clip(1 + along[0] - along[1] - off**2, SURE, 1.0)
    return np.clip(mean + sd * np.where(upper, -off, off), low, high), sd**2 * left


def _step(mean: Array, cov: Array, seen: tuple[Array, ...]) -> tuple[Array, Array]:
    """Return mean and covariance after one test each; a series without one is left as it is.

    Of a test beyond a limit the mean and the variance of what it may have been count in its place.
    """
    low, high, variance, side = seen
    look = np.zeros_like(mean)
    look[:, 0], look[:, 2] = 1.0, side
    along = np.einsum("rij,rj->ri", cov, look)
    spread = np.einsum("ri,ri->r", along, look) + variance
    gain = along / spread[:, None]
    thought = np.einsum("ri,ri->r", mean, look)
    value, left = low.copy(), np.zeros(len(low))
    cut = np.flatnonzero(low < high)
    if len(cut):
        ends = {"low": low[cut], "high": high[cut]}
        value[cut], left[cut] = between(thought[cut], np.sqrt(spread[cut]), **ends)
    known = np.isfinite(value)
    told = 1 - left / spread
    new = cov - told[:, None, None] * gain[:, :, None] * along[:, None, :]
    moved = mean + gain * np.where(known, value - thought, 0.0)[:, None]
    return np.where(known[:, None], moved, mean), np.where(known[:, None, None], new, cov)


def forward(mean: Array, cov: Array, *, years: Array, wander: Array, steep: Array) -> tuple[Array, Array]:
    """Return mean and covariance after so many years without a test.

    Parameters
    ----------
    mean, cov : array
        The states (rows, 3) and (rows, 3, 3).
    years : array
        How long, by row.
    wander, steep : array
        Standard deviation of the level in a year, and of slopes.

    Examples
    --------
    >>> one = np.ones(1)
    >>> start, sure = np.array([[5.0, 1.0, 0.0]]), np.zeros((1, 3, 3))
    >>> mean, cov = forward(start, sure, years=one, wander=one, steep=one)
    >>> mean.round(2).tolist(), cov[0, 0, 0].round(2)
    ([[5.78, 0.6, 0.0]], np.float64(1.16))
    """
    left = KEPT**years
    move = np.broadcast_to(np.eye(cov.shape[-1]), cov.shape).copy()
    move[:, 0, 1], move[:, 1, 1] = (1 - left) / -np.log(KEPT), left
    out = np.einsum("rij,rjk,rlk->ril", move, cov, move)
    out[:, 0, 0] += wander**2 * years + steep**2 * (1 - left**2) * years**2 / 4
    out[:, 1, 1] += steep**2 * (1 - left**2)
    return np.einsum("rij,rj->ri", move, mean), out


def _put_on(mean: Array, cov: Array, added: Array, logs: Array) -> tuple[Array, Array]:
    """Return the states after an addition in units, of which the share learned so far shows.

    An error in the share moves the level by as much of the addition.
    """
    size = np.exp(np.clip(mean[:, 0], -20.0, 20.0))
    least = np.where(logs, -0.5 * size, -np.inf)
    added = np.maximum(added, least)
    shown = np.maximum(added * np.maximum(mean[:, SHARE], 0.0), least)
    moved = np.where(logs, np.log1p(shown / size), shown)
    move = np.broadcast_to(np.eye(cov.shape[-1]), cov.shape).copy()
    move[:, 0, SHARE] = np.where(logs, added / (size + np.maximum(shown, 0.0)), added)
    after = mean.copy()
    after[:, 0] += moved
    return after, np.einsum("rij,rjk,rlk->ril", move, cov, move)


@dataclass(frozen=True, eq=False)
class _Prior:
    """What is thought of each series before its tests, and how it moves by itself."""

    mean: Array
    cov: Array
    wander: Array
    steep: Array
    logs: Array


def _filtered(padded: _Padded, prior: _Prior, added: Array) -> tuple[Array, Array]:
    """Return the state of each series at its last test; ``added`` is cumulative, by series and test."""
    mean, cov = prior.mean, prior.cov
    before, put = padded.time[:, 0], added[:, 0]
    for at in range(padded.time.shape[1]):
        now = padded.time[:, at]
        tested = np.isfinite(now)
        years = np.where(tested, now - before, 0.0)
        mean, cov = forward(mean, cov, years=years, wander=prior.wander, steep=prior.steep)
        mean, cov = _put_on(mean, cov, np.where(tested, added[:, at] - put, 0.0), prior.logs)
        seen = (padded.low[:, at], padded.high[:, at], np.nan_to_num(padded.variance[:, at], nan=1.0))
        mean, cov = _step(mean, cov, (*seen, np.nan_to_num(padded.side[:, at])))
        before = np.where(tested, now, before)
        put = np.where(tested, added[:, at], put)
    return mean, cov


def _end(low: Array, high: Array) -> Array:
    """Return the values themselves, and of what lies beyond a limit the limit."""
    return np.where(np.isfinite(high), high, low)


def _prior(rows: pd.DataFrame, padded: _Padded, noise: Noise, season: Array, unsure: Array) -> _Prior:
    """Return what is thought of each series before its tests."""
    swing, swing_sd = _swings(rows, noise, season)
    wander, steep = _terms(rows, "level"), _terms(rows, "slope")
    none, first = np.zeros(len(rows)), _end(padded.low[:, 0], padded.high[:, 0])
    mean = np.column_stack([np.nan_to_num(first), none, swing, none + 1])
    cov = np.zeros((len(rows), SHARE + 1, SHARE + 1))
    cov[:, 0, 0], cov[:, 1, 1], cov[:, 2, 2] = VAGUE, steep**2, swing_sd**2
    cov[:, SHARE, SHARE] = unsure**2 + LEARNED**2
    return _Prior(mean, cov, wander, steep, (rows["scale"] == scales.LOG).to_numpy())


def standing(results: pd.DataFrame, *, noise: Noise, dressed: Dressed | None = None) -> Standing:
    """Return where each bed stands in each of its measures.

    Parameters
    ----------
    results : DataFrame
        A tidy frame; of several series of one bed and analyte the one tested last is taken.
    noise : Noise
        How far a result moves by itself, and the garden's swings.
    dressed : callable, optional
        Given the table of series and their days (series, tests; days since 1970, NaN beyond the
        last), what dressings are expected to have added to each by then, in its unit, and by series the
        standard deviation of the share of it that shows.

    Examples
    --------
    >>> from soiltrend.noise import noise_model
    >>> days = pd.to_datetime(["2023-04-03", "2024-04-02", "2025-04-01"])
    >>> rows = frames.results(pd.DataFrame({"bed": "East", "analyte": "K", "unit": "mg/kg",
    ...     "sampled": days, "season": ["spring 2023", "spring 2024", "spring 2025"],
    ...     "value": [100.0, 100.0, 130.0]}))
    >>> found = standing(rows, noise=noise_model(rows))
    >>> float(np.exp(found.mean[0, 0])).__round__()  # nearer to the record than to the last number
    117
    """
    laid = series.lay_out(results, sampling=noise.composites)
    used = laid.series[laid.series["n"] > 0]
    kept = used.index.to_numpy()[_latest(used)]
    rows = laid.series.loc[kept].reset_index(drop=True)
    if not len(rows):
        none = rows.assign(noise=0.0, wander=0.0, steep=0.0, qualifier="", bound=0.0)
        return Standing(none, np.zeros((0, 3)), np.zeros((0, 3, 3)), np.ones(0), {})
    model = noise.of(rows)
    last = scales.back(_end(rows["last_low"].to_numpy(), rows["last_high"].to_numpy()), rows["scale"])
    grown = stretch(model, last)
    one = grown * np.hypot(model["sd"].to_numpy(dtype=float), model["occasion"].to_numpy(dtype=float))
    padded = _padded(laid, kept, one)
    none = np.zeros_like(padded.time)
    days = padded.time * YEAR + laid.origin.timestamp() / DAY
    added, unsure = (none, none[:, 0]) if dressed is None else dressed(rows, days)
    prior = _prior(rows, padded, noise, model["season"].to_numpy(dtype=float), unsure)
    mean, cov = _filtered(padded, prior, added)
    unread = (rows["n_censored"] == rows["n"]).to_numpy()
    sign = np.where(unread, np.where(np.isfinite(rows["last_high"]), "<", ">"), "")
    table = rows.assign(noise=one, wander=prior.wander, steep=prior.steep, qualifier=sign, bound=last)
    of = {str(bed): places for bed, places in rows.groupby("bed", sort=False).indices.items()}
    return Standing(table, mean[:, :SHARE], cov[:, :SHARE, :SHARE], np.maximum(mean[:, SHARE], 0.0), of)
