"""When a season's dressing may begin, and by which test it is judged."""

from types import SimpleNamespace

import pandas as pd
import pytest

from soiltrend import frames
from soiltrend.errors import SoiltrendError
from soiltrend.plan.days import plan_days


def dug(*days, analyte="pH", hemisphere="north"):
    """Return a garden tested on these days."""
    rows = pd.DataFrame({"bed": "East", "analyte": analyte, "sampled": pd.to_datetime(list(days))})
    rows = rows.assign(season=frames.season(rows["sampled"], hemisphere=hemisphere))
    return SimpleNamespace(results=rows, hemisphere=hemisphere)


@pytest.mark.parametrize(
    ("garden", "season", "dressing", "test"),
    [
        (dug("2025-04-08", "2026-04-10"), "spring 2027", "2027-04-17", "2028-04-10"),  # as last time
        (dug("2027-04-20", "2026-04-10"), "spring 2027", "2027-04-27", "2028-04-20"),  # this season
        (dug("2027-05-31"), "spring 2027", "2027-06-07", "2028-05-31"),  # on its last day
        (dug("2027-06-01", "2026-04-10"), "spring 2027", "2027-04-17", "2028-04-10"),  # of summer: is none
        (dug("2028-04-08", "2026-04-10"), "spring 2027", "2027-04-17", "2028-04-10"),  # of a later spring
        (dug("2026-03-01"), "spring 2027", "2027-03-08", "2028-03-01"),  # on its first day
        (dug("2026-10-02"), "spring 2027", "2027-04-22", "2028-04-15"),  # none of spring: its middle
        (dug("2026-01-20"), "winter 2027", "2027-01-27", "2028-01-20"),  # a winter bears its later year
        (dug("2025-12-10"), "winter 2027", "2026-12-17", "2027-12-10"),
        (dug("2024-02-29"), "winter 2027", "2027-03-07", "2028-02-28"),  # no such day in that year
        (dug("2026-10-04", hemisphere="south"), "spring 2027", "2027-10-11", "2028-10-04"),
        (dug("2026-04-10", analyte="earthworms"), "spring 2027", "2027-04-22", "2028-04-15"),
    ],
)
def test_dressing_and_next_test(garden, season, dressing, test):
    """A week after the soil was taken; the test a year after it, of the same season."""
    found = plan_days(garden, season=season)
    assert (f"{found.dressing:%Y-%m-%d}", f"{found.test:%Y-%m-%d}") == (dressing, test)
    assert found.test_season == f"{season[:-4]}{int(season[-4:]) + 1}"
    assert found.years == pytest.approx((found.test - found.dressing).days / 365.2425)


def test_a_season_that_is_none_is_refused():
    """With how to write one."""
    with pytest.raises(SoiltrendError, match="Write it as 'spring 2027'"):
        plan_days(dug("2026-04-10"), season="next spring")
