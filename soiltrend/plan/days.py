"""When: the first day of the dressing, and the day of the next test."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from soiltrend import frames
from soiltrend.frames import MIDDLE, YEAR
from soiltrend.garden import Garden
from soiltrend.plan.wants import PLANNED

MONTHS = 3
"""Months of a season."""

AFTER_TEST = 7
"""Days after a sampling before anything is spread, so that the bag stays clean (common practice)."""


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
    hemisphere : str
        "north" or "south".
    """

    season: str
    dressing: pd.Timestamp
    test: pd.Timestamp
    test_season: str
    hemisphere: str

    @property
    def years(self) -> float:
        """From the dressing to the test."""
        return float((self.test - self.dressing).days) / YEAR


def _usual_test(garden: Garden, name: str, start: pd.Timestamp) -> pd.Timestamp:
    """Return the day on which she sampled in a season; before, that of the last such one, or its middle."""
    rows = garden.results[garden.results["season"].map(frames.season_name) == name]
    rows = rows[rows["sampled"].notna() & rows["analyte"].isin(PLANNED)]
    rows = rows[rows["sampled"] < start + pd.DateOffset(months=MONTHS)]
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
    inside = sampled < start + pd.DateOffset(months=MONTHS)
    dressing = sampled + pd.Timedelta(days=AFTER_TEST) if inside else start
    test = sampled + pd.DateOffset(years=1)
    return Days(told, dressing, test, f"{name} {int(told[-4:]) + 1}", garden.hemisphere)
