"""When: the day of the dressing, its parts, and the day of the next test."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import aims, frames
from soiltrend.garden import Garden
from soiltrend.plan.shed import greatest

MIDDLE = 45
"""Days from the start of a season to its middle."""

AFTER_TEST = 7
"""Days after a sampling before anything is spread, so that the bag stays clean (common practice)."""

QUICK_N = 0.5
"""Share of nitrogen come free in the first year from which a material counts as quick: judgement."""

WEEK = 7


@dataclass(frozen=True)
class Days:
    """The days of a plan.

    Attributes
    ----------
    season : str
        The season planned.
    dressing : Timestamp
        First day on which something may be spread.
    test : Timestamp
        The next test of the same season, a year on, by which the plan is judged.
    test_season : str
        Its season.
    """

    season: str
    dressing: pd.Timestamp
    test: pd.Timestamp
    test_season: str

    @property
    def years(self) -> float:
        """From the dressing to the test."""
        return float((self.test - self.dressing).days) / 365.2425


def _usual_test(garden: Garden, name: str, start: pd.Timestamp) -> pd.Timestamp:
    """Return the day of a season on which she samples, as in the last such season; else its middle."""
    rows = garden.results[garden.results["season"].map(frames.season_name) == name]
    rows = rows[rows["sampled"].notna() & (rows["lab"] != "") & (rows["sampled"] < start)]
    if rows.empty:
        return start + pd.Timedelta(days=MIDDLE)
    last = pd.Timestamp(rows["sampled"].max())
    day = last + pd.DateOffset(years=start.year - last.year)
    return day if day >= start else day + pd.DateOffset(years=1)


def plan_days(garden: Garden, *, season: str) -> Days:
    """Return the days of a plan for a season such as "spring 2027".

    Raises
    ------
    SoiltrendError
        When the text names no season and year.
    """
    told = " ".join(str(season).split()).casefold()
    start = frames.season_starts(told, hemisphere=garden.hemisphere)
    name = frames.season_name(told)
    sampled = _usual_test(garden, name, start)
    inside = sampled < start + pd.DateOffset(months=3)
    dressing = sampled + pd.Timedelta(days=AFTER_TEST) if inside else start
    test = sampled + pd.DateOffset(years=1)
    return Days(told, dressing, test, f"{name} {int(told[-4:]) + 1}")


def _first_day(day: pd.Timestamp, months: tuple[int, ...]) -> pd.Timestamp:
    """Return the first day from this on that lies in one of the months, or this one when none is named."""
    if not months or day.month in months:
        return day
    later = pd.date_range(day, periods=13, freq="MS")
    return next(first for first in later if first.month in months)


@lru_cache(maxsize=1024)
def _rules(name: str, kind: str, hemisphere: str) -> list[dict[Any, Any]]:
    """Return the rules by which a material is split; nobody writes to them."""
    return aims.splitting(name, kind=kind, hemisphere=hemisphere).to_dict("records")


def split(
    row: pd.Series, *, grams: float, days: Days, hemisphere: str, sowing: pd.Timestamp | None = None
) -> tuple[list[pd.Timestamp], str]:
    """Return the days on which a year's amount of a material is given, and the rules that made them.

    Parameters
    ----------
    row : Series
        The material.
    grams : float
        g/m2 in the year.
    days : Days
        The days of the plan.
    hemisphere : str
        "north" or "south".
    sowing : Timestamp, optional
        Of the bed's crop; caustic materials keep away from it.
    """
    name, kind = str(row.name), str(row["kind"])
    rules = _rules(name, kind, hemisphere)
    held = [rule for rule in rules if grams > rule["above"]]
    parts = max([1, *(int(rule["parts"]) for rule in held)])
    limit = greatest(row, per="dressing")
    parts = max(parts, int(np.ceil(grams / limit - 1e-9)) if limit > 0 else 1)
    gap = max([WEEK * 4.0, *(rule["gap_days"] for rule in rules if np.isfinite(rule["gap_days"]))])
    months = next((rule["months"] for rule in rules if rule["months"]), ())
    first = _first_day(_clear(days.dressing, rules, sowing), months)
    when = [first + pd.Timedelta(days=round(gap * at)) for at in range(parts)]
    told = list(dict.fromkeys(f"{rule['words']} ({rule['source']})" for rule in held))
    wait = max([0.0, *(rule["before_harvest_days"] for rule in held if rule["before_harvest_days"] > 0)])
    if wait:
        ripe = when[-1] + pd.Timedelta(days=wait)
        told.append(f"no crop that touches the soil is picked before {ripe:%Y-%m-%d}")
    return when, "; ".join(told)


def _clear(day: pd.Timestamp, rules: list[dict[Any, Any]], sowing: pd.Timestamp | None) -> pd.Timestamp:
    """Return the day, put off until the crop is out of danger when it stands too near before or after."""
    away = max(
        [0.0, *(rule["before_sowing_days"] for rule in rules if np.isfinite(rule["before_sowing_days"]))]
    )
    if sowing is None or not away or (sowing - day).days >= away:
        return day
    return sowing + pd.DateOffset(months=6)
