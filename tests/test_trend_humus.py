"""The charge of organic matter across beds, against a published range and an independent fit."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from soiltrend import frames
from soiltrend.trend import humus


def results(matter, capacity, **more):
    """Return one test of organic matter and capacity in each bed."""
    rows = []
    for i, (om, cec) in enumerate(zip(matter, capacity, strict=True)):
        same = {
            "bed": f"bed {i}",
            "sampled": "2024-04-02",
            "season": "spring 2024",
            "lab": "Hollin Bench",
            **more,
        }
        rows.append({**same, "analyte": "OM", "value": om, "unit": "%", "method": "LOI"})
        rows.append({**same, "analyte": "CEC", "value": cec, "unit": "cmol/kg", "method": "summation"})
    return frames.results(rows)


OM = np.array([2.5, 3.1, 4.0, 5.2, 6.3, 7.9, 9.0])
NOISE = np.array([0.4, -0.3, 0.2, -0.5, 0.1, 0.3, -0.2])


@pytest.mark.parametrize(("charge", "verdict"), [(200, "agrees"), (600, "differs"), (20, "differs")])
def test_charge_is_that_of_a_line_through_the_beds(charge, verdict):
    """scipy.stats.linregress; published 100 to 300 cmol/kg (Stevenson 1994, from memory)."""
    capacity = 5 + charge * OM / 100 + NOISE
    found = humus(results(OM, capacity)).table.iloc[0]
    line = stats.linregress(OM / 100, capacity)
    half = stats.t.ppf(0.975, 5) * line.stderr
    assert found["charge"] == pytest.approx(line.slope)
    assert [found["low"], found["high"]] == pytest.approx([line.slope - half, line.slope + half])
    assert found["verdict"] == verdict


def test_noise_says_nothing():
    """An interval that holds 0 and the published range decides nothing."""
    assert humus(results(OM, 10 + 30 * NOISE)).table["verdict"].tolist() == ["cannot tell"]


def test_few_beds_are_told():
    """Four beds are no garden to check by."""
    few = humus(results(OM[:4], OM[:4])).table.iloc[0]
    assert few["verdict"] == "too few"
    assert few["why"].startswith("4 beds with both: ")
    assert humus(results(OM[:1], OM[:1])).table["why"].iloc[0].startswith("1 bed with both: ")


def test_a_bed_counts_once():
    """Twice the same tests are no more beds."""
    frame = results(OM, 5 + 2 * OM + NOISE)
    again = frame.assign(sampled=frame["sampled"] + pd.Timedelta(days=365), season="spring 2025")
    one, two = humus(frame).table.iloc[0], humus(frames.join(frame, again)).table.iloc[0]
    assert [two["low"], two["high"], two["beds"]] == pytest.approx([one["low"], one["high"], one["beds"]])


def test_inflated_sums_are_left_out():
    """Sums that free lime swells are no witness."""
    frame = results(OM, 5 + 2 * OM + NOISE)
    frame.loc[frame["analyte"] == "CEC", "note"] = f"{frames.INFLATED} pH 7.8"
    assert len(humus(frame).table) == 0


def test_it_shows_itself():
    """Plain and as a page."""
    found = humus(results(OM, 5 + 2 * OM + NOISE))
    assert repr(found).startswith("Charge of organic matter")
    assert "<caption" in found._repr_html_()
