"""What each source of a bed lets go or ties up, day by day and then by the month, in draws."""

from __future__ import annotations

import numpy as np
import pandas as pd

from soiltrend.blend import pools
from soiltrend.blend.sources import DRAWS, ON_TOP, Source
from soiltrend.materials import released

DAYS_A_YEAR = 365
G_PER_KG = 1000.0
NOTHING = 1e-12
Found = tuple[str, tuple[float, float, float]]


def pace_of(days: pd.DatetimeIndex, means: list[float]) -> np.ndarray:
    """Return the pace of each day by its month's mean temperature."""
    return pools.warmth(np.array(means, dtype=float)[days.month.to_numpy() - 1])


def _rng(salt: int) -> np.random.Generator:
    return np.random.default_rng([20, salt])


def _term(name: str, rng: np.random.Generator) -> np.ndarray:
    low, likely, high = pools.terms()[name]
    return rng.triangular(low, likely, high, DRAWS)


def _by_shares(source: Source, *, place: str, pace: np.ndarray) -> np.ndarray:
    """Return nitrogen let go by each day's end, by yearly shares spread as the months are warm."""
    rng = _rng(1)
    whole = np.maximum(np.cumsum(np.append(0.0, pace)), 0.0)
    years = np.arange(len(pace) + 1) / DAYS_A_YEAR
    out = np.zeros((len(pace) + 1, DRAWS))
    last = np.zeros(DRAWS)
    where = rng.random(DRAWS)
    for year in range(int(np.ceil(years[-1])) if len(pace) else 0):
        low, likely, high = released(source.row, years=year + 1)["N"]
        share = np.interp(where, (0.0, 0.5, 1.0), (low, likely, high))
        ends = np.searchsorted(years, (year, year + 1))
        inside = slice(ends[0], min(ends[1], len(pace)) + 1)
        span = whole[inside] - whole[ends[0]]
        full = _year_of_warmth(pace, first=int(ends[0]))
        out[inside] = last + (share - last) * (span / full if full > 0 else span)[:, None]
        last = share
    surface = _term("on top", rng) if place == ON_TOP else 1.0
    return np.asarray(out * source.nitrogen * surface)


def _year_of_warmth(pace: np.ndarray, *, first: int) -> float:
    """Return the warmth of the year that begins on a day."""
    return float(pace[first : first + DAYS_A_YEAR].sum())


def _by_pools(source: Source, *, place: str, pace: np.ndarray, found: Found) -> np.ndarray:
    """Return nitrogen let go by each day's end, by the C:N model and its stated error."""
    rng = _rng(2)
    kind, (low, likely, high) = found
    speed = rng.triangular(low, likely, high, DRAWS)
    cn = source.carbon / np.maximum(source.nitrogen, NOTHING)
    stuff = pools.pools(kind, place=place, cn=cn)
    wet = float(pools.terms()["wetness"][1])
    course = pools.rot(
        stuff,
        carbon=source.carbon,
        nitrogen=source.nitrogen,
        pace=wet * pace,
        speed=speed * _term("wetness", rng) / wet,
    )
    gone = 1 - course.residue / np.maximum(source.carbon, NOTHING)
    strayed = pools.terms()["fit"][2] * rng.standard_normal(DRAWS) * source.carbon / G_PER_KG
    return np.asarray(course.mineral + strayed * gone)


def course(source: Source, *, place: str, days: pd.DatetimeIndex, pace: np.ndarray) -> np.ndarray:
    """Return nitrogen let go by the end of each day of a span, draws in columns; nothing before its day.

    ``pace`` goes a year beyond the span, so that the warmth of each whole year of a source is known.
    """
    start = int(np.searchsorted(days.to_numpy(), source.day.to_datetime64()))
    rest, span = pace[start:], len(days) - 1 - start
    found = pools.decay_of(
        str(source.row.name), str(source.row["kind"]), str(source.row["release"]), place=place
    )
    tail = (
        _by_shares(source, place=place, pace=rest)[: span + 1]
        if found is None
        else _by_pools(source, place=place, pace=rest[:span], found=found)
    )
    return np.vstack([np.zeros((start, DRAWS)), tail])


def monthly(course: np.ndarray, *, days: pd.DatetimeIndex, months: pd.DatetimeIndex) -> np.ndarray:
    """Return what was let go in each month, months by draws."""
    edges = np.searchsorted(days.to_numpy(), months.to_numpy())
    return np.diff(course[edges], axis=0)
