"""The next test with two seasons, and years to an aim worked by hand."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from soiltrend import frames
from soiltrend.trend import outlook, trend


def test_the_next_test_of_two_seasons_is_that_of_statsmodels():
    """OLS on time and a column for each season: one new test, a year after the last and in its season."""
    import statsmodels.api as sm

    days = pd.to_datetime([f"{year}-{month}" for year in range(2018, 2022) for month in ("04-03", "10-09")])
    y = np.array([6.1, 5.8, 6.3, 5.7, 6.2, 6.0, 6.5, 6.1])[:7]
    frame = frames.results(
        pd.DataFrame({"bed": "East", "analyte": "pH", "unit": "pH", "sampled": days[:7], "value": y})
    ).assign(season=[f"{'spring' if i % 2 == 0 else 'autumn'} {2018 + i // 2}" for i in range(7)])
    t = ((frame["sampled"] - frame["sampled"].iloc[0]).dt.days / 365.2425).to_numpy()
    spring = (np.arange(7) % 2 == 0).astype(float)
    fitted = sm.OLS(y, np.column_stack([t, spring, 1 - spring])).fit()
    new = np.array([[t[-1] + 1, 1.0, 0.0]])
    theirs = fitted.get_prediction(new).conf_int(obs=True, alpha=0.05)[0]
    found = trend(frame).table.set_index("bed").loc["East"]
    assert [found["next_low"], found["next_high"]] == pytest.approx(theirs.tolist())


@pytest.fixture(scope="module")
def rising():
    """Return a trend of one bed, to be given rows by hand."""
    days = pd.date_range("2016-04-03", periods=8, freq="365D")
    rows = {"bed": "East", "analyte": "K", "unit": "mg/kg", "sampled": days}
    return trend(frames.results(pd.DataFrame({**rows, "value": 80 * 1.1 ** np.arange(8)})))


def years(rising, aim, **changes):
    """Return the years to an aim for a record of 8 years about 100 mg/kg with a slope of 10 (5 to 20)."""
    told = {"level": 100.0, "slope_per_year": 10.0, "low": 5.0, "high": 20.0, "years": 8.0, "scale": "log"}
    table = rising.table.assign(**{**told, "verdict": "rising", **changes})
    return outlook(replace(rising, table=table), aims={"K": aim}).table.iloc[0]


FALLING = {"slope_per_year": -10.0, "low": -20.0, "high": -5.0, "verdict": "falling"}
GAP = np.log(2) - 0.4
"""100 mg/kg in the middle of 8 years at 0.1 a year stand 0.4 higher at their end; twice 100 is ln 2 away."""


@pytest.mark.parametrize(("aim", "changes", "now"), [(200, {}, 0.4), (50, FALLING, -0.4)])
def test_years_by_hand(rising, aim, changes, now):
    """As many as the gap holds slopes: of 0.1, at most 0.2 and at least 0.05 a year."""
    found = years(rising, aim, **changes)
    assert found["now"] == pytest.approx(100 * np.exp(now))
    told = found[["years", "years_low", "years_high"]].tolist()
    assert told == pytest.approx([GAP / 0.1, GAP / 0.2, GAP / 0.05])
    assert found["why"].endswith("3 years from the last test on (1 to 6 years)")


@pytest.mark.parametrize(
    ("low", "most", "told"),
    [(-1.0, np.inf, "never"), (0.0, np.inf, "never"), (1.0, GAP / 0.01, "more than 16 years")],
)
def test_the_slowest_slope_may_never_come_there(rising, low, most, told):
    """At 0 or backwards never; beyond twice the record of 8 years no number is told."""
    found = years(rising, 200, low=low)
    assert found["years_high"] == pytest.approx(most)
    assert found["why"].endswith(f"(1 to {told})")


@pytest.mark.parametrize(
    ("aim", "changes", "why"),
    [
        (140, {}, "beyond the aim"),  # it stands at 149 and rises
        (160, FALLING, "beyond the aim"),
        (340, {}, "further off than the 8.0 years"),  # ln 3.4 - 0.4 is 8.2 slopes
        (200, {"verdict": "steady"}, "the trend is steady"),
        (200, {"verdict": "too few"}, "No years: there are too few tests for a trend"),
        (200, {"q": 0.3}, "luck can make this one (q = 0.30)"),
    ],
)
def test_no_years(rising, aim, changes, why):
    """Nothing is told of an aim that is behind, out of reach of the record, or without a trend."""
    found = years(rising, aim, **changes)
    assert found[["years", "years_low", "years_high"]].isna().all()
    assert why in found["why"]
