"""Shapes of records: lines, steps at events and saw-teeth after dressings."""

import numpy as np
import pandas as pd
import pytest

from soiltrend import frames
from soiltrend.errors import SoiltrendError
from soiltrend.trend import shape

NOISE = 0.05 * np.array([0.3, -0.4, 0.1, 0.5, -0.2, -0.3, 0.4, 0.0, 0.2, -0.5, 0.1, -0.1])
DAYS = [f"{2010 + i}-04-0{1 + i % 5}" for i in range(12)]


def results(values, analyte="pH", unit="pH"):
    """Return yearly tests of one bed."""
    days = pd.to_datetime(pd.Series(DAYS[: len(values)]))
    frame = pd.DataFrame({"bed": "East", "analyte": analyte, "unit": unit, "sampled": days, "value": values})
    return frames.results(frame.assign(season=frames.season(days), lab="Hollin Bench"))


def row(values, events=("2015-10-01",), **what):
    """Return the row of the one series."""
    return shape(results(values, **what), events={"East": list(events)}).table.iloc[0]


def test_a_step_at_liming():
    """0.6 at once between two tests, and its interval holds it."""
    found = row(5.6 + 0.6 * (np.arange(12) >= 6) + NOISE)
    assert found["shape"] == "step"
    assert found["step_low"] < 0.6 < found["step_high"]
    assert "no cause" in found["why"]


def test_a_line_is_no_step():
    """0.1 a year."""
    found = row(5.6 + 0.1 * np.arange(12) + NOISE)
    assert found["shape"] == "line"
    assert found["score_step"] >= 2


def test_noise_is_flat_or_open():
    """Nothing but noise is never called a step."""
    rng = np.random.default_rng(3)
    seen = [row(6 + 0.1 * rng.normal(size=12))["shape"] for _ in range(60)]
    assert np.mean([name in ("step", "line", "saw-tooth") for name in seen]) <= 0.1


def test_a_saw_tooth_after_dressings():
    """A push after each of three dressings that is gone within some years."""
    events = ["2011-10-01", "2015-10-01", "2019-10-01"]
    years = (pd.to_datetime(pd.Series(DAYS)) - pd.Timestamp("2010-01-01")).dt.days.to_numpy() / 365.2425
    when = [(pd.Timestamp(day) - pd.Timestamp("2010-01-01")).days / 365.2425 for day in events]
    push = np.array([sum(np.exp(-(x - e)) for e in when if e < x) for x in years])
    assert row(5.6 + 0.8 * push + NOISE, events)["shape"] == "saw-tooth"


def test_a_step_of_a_concentration_is_told_in_its_unit():
    """K from 100 to 150 mg/kg."""
    found = row(np.where(np.arange(12) >= 6, 150, 100) * np.exp(NOISE), analyte="K", unit="mg/kg")
    assert found["shape"] == "step"
    assert found["step"] == pytest.approx(50, rel=0.1)


def test_criterion_is_that_of_statsmodels():
    """AICc from statsmodels' log-likelihood, up to the constant that all shapes share."""
    import statsmodels.api as sm

    y = 5.6 + 0.6 * (np.arange(12) >= 6) + NOISE
    found = row(y)
    frame = results(y)
    t = (frame["sampled"] - frame["sampled"].iloc[0]).dt.days.to_numpy() / 365.2425

    def score(design):
        fitted = sm.OLS(y, design).fit()
        n, k = 12, design.shape[1] + 1
        return -2 * fitted.llf + 2 * k + 2 * k * (k + 1) / (n - k - 1)

    after = (np.arange(12) >= 6).astype(float)
    step, line = score(sm.add_constant(after)), score(sm.add_constant(t))
    assert found["score_line"] - found["score_step"] == pytest.approx(line - step)


@pytest.mark.parametrize("n", [3, 7])
def test_few_tests_have_no_shape(n):
    """Shapes are compared from eight tests on."""
    assert row(6 + NOISE[:n])["shape"] == "too few"


def test_a_step_needs_tests_on_either_side():
    """An event after the last test but one cannot be a step."""
    found = row(5.6 + NOISE, events=("2020-10-01",))
    assert np.isnan(found["step"])


@pytest.mark.parametrize(
    ("events", "said"),
    [
        ({"West": ["2015-10-01"]}, "bed 'West', which has no results"),
        ({"East": ["soon"]}, "'soon' of bed 'East'"),
    ],
)
def test_events_that_are_none(events, said):
    """The message quotes bed and day."""
    with pytest.raises(SoiltrendError, match=said):
        shape(results(6 + NOISE), events=events)


@pytest.mark.parametrize("day", ["", None, "soon", "2019-02-30", "99999-01-01", []])
def test_an_event_that_is_no_day_is_refused(day):
    """Blank cells and words of a list among them."""
    test = {"bed": "East", "analyte": "pH", "unit": "pH", "sampled": "2019-04-03", "value": 6.0}
    rows = frames.results([test])
    with pytest.raises(SoiltrendError, match="of bed 'East' is no day"):
        shape(rows, events={"East": [day]})
