"""Intervals of amounts, shares and acidities, each worked by hand."""

import numpy as np
import pandas as pd
import pytest
from soils import buffered, computed, mass, note, sample

from soiltrend import frames
from soiltrend.exchange import bounds, exchange, exchange_gaps, extractant, inflated

SETTLED = [
    ((5.0, 5.0, 5.0), np.inf, 5.0, ""),
    ((0.0, 0.0, 0.0), np.inf, 0.0, ""),  # nothing is a value too
    ((9.85, 10.0, 10.0), np.inf, 10.0, ""),  # within 2 % of its upper end
    ((9.7, 10.0, 10.0), np.inf, 10.0, "<"),  # not within, and printed at the upper end
    ((9.7, 9.7, 10.0), np.inf, 9.7, ">"),  # printed at the lower end
    ((4.0, 6.0, 8.0), np.inf, 8.0, "<"),  # in the middle: the upper end is true whatever it is
    ((0.0, 2.0, 2.0), np.inf, 2.0, "<"),
    ((0.0, 0.0, 2.0), np.inf, 2.0, "<"),  # from nothing on there is no ">"
    ((8.0, 8.0, np.inf), np.inf, 8.0, ">"),
    ((0.0, 3.0, np.inf), np.inf, np.nan, ""),  # between nothing and no end
    ((40.0, 95.0, 100.0), 100.0, 40.0, ">"),  # "< 100 %" says nothing of a share
    ((0.0, 50.0, 100.0), 100.0, np.nan, ""),
    ((100.0, 100.0000001, 100.0000001), 100.0, 100.0, ""),  # no share is above 100
]


@pytest.mark.parametrize(("ends", "cap", "value", "sign"), SETTLED)
def test_what_an_interval_can_be_called(ends, cap, value, sign):
    """The least that can be said and is true, for (low, printed, high)."""
    given = pd.DataFrame([ends], columns=["low", "at", "high"])
    row = bounds.settle(given, cap=cap).iloc[0]
    assert row["value"] == pytest.approx(value, nan_ok=True)
    assert row["qualifier"] == sign


def test_repeats_of_a_limit_are_averaged_end_by_end():
    """K of 40 and "< 20": from (40 + 0) / 2 to (40 + 20) / 2; with "> 30" instead, from 35 on."""
    frame = frames.join(sample({"K": 40}), sample({"K": (20, "<")}))
    row = bounds.measured(frame.assign(composite=0), ["K"]).iloc[0]
    assert row[["low", "high", "n"]].tolist() == [20.0, 30.0, 2]
    frame = frames.join(sample({"K": 40}), sample({"K": (30, ">")}))
    row = bounds.measured(frame.assign(composite=0), ["K"]).iloc[0]
    assert row[["low", "high", "n"]].tolist() == [35.0, np.inf, 2]


def test_the_highest_of_a_bag():
    """Of pH 6.8, 7.4 and "< 9" it is 7.4; by water alone 6.8."""
    frame = frames.join(sample({"pH": 6.8}), sample({"pH": 7.4}), sample({"pH": (9.0, "<")}))
    frame["method"] = ["water", "CaCl2", "water"]
    frame["composite"] = 0
    assert bounds.highest(frame, "pH").tolist() == [7.4]
    assert bounds.highest(frame, "pH", method="water").tolist() == [6.8]


def test_a_limit_above_marks_what_it_moves():
    """By hand: Ca above 8 of 10 cmol/kg: the sum is above 10, Ca's share above 80, K's below 5."""
    calcium = (mass({"Ca": 8})["Ca"], ">")
    frame = exchange(sample({**mass({"Mg": 1, "K": 0.5, "acidity": 0.5}), "Ca": calcium}))
    rows = frame[frame["source"] == frames.COMPUTED].set_index("analyte")
    told = {name: (rows.at[name, "qualifier"], rows.at[name, "value"]) for name in rows.index}
    assert told["CEC"] == (">", pytest.approx(10, rel=1e-4))
    assert told["Ca saturation"] == (">", pytest.approx(80, rel=1e-4))
    assert told["K saturation"] == ("<", pytest.approx(5, rel=1e-4))
    assert told["base saturation"] == (">", pytest.approx(95, rel=1e-4))
    assert "Ca is above its limit and counts at that limit" in note(frame)


def test_acidity_never_falls_below_nothing():
    """12 x (7 - 7.2) is -2.4, which soil cannot hold: the acidity is 0 and the bases are all there is."""
    value = computed(exchange(buffered(7.2, "SMP"), acidity="SMP"))
    assert value["acidity"] == 0
    assert value["base saturation"] == pytest.approx(100)


def test_a_buffer_that_only_may_have_stayed_is_no_proof():
    """SMP "< 7.0" may be any buffer pH: acidity is not taken as 0, with a reading of 7.0 it is."""
    for reading, gaps in (((7.0, "<"), 1), (7.0, 0), (6.9, 1)):
        assert len(exchange_gaps(buffered(reading, "SMP", pH=6.0))) == gaps


def test_of_two_limed_samples_only_the_limed_one_warns():
    """pH 7.9 in one of two bags: its rows alone carry the warning."""
    amounts = {**mass({"Ca": 8, "Mg": 1, "K": 0.5}), "acidity": 0.5}
    frame = exchange(frames.join(sample({**amounts, "pH": 7.9}), sample({**amounts, "pH": 6.5}, sample="2")))
    ours = frame[frame["source"] == frames.COMPUTED]
    assert set(ours.loc[inflated(ours), "sample"]) == {""}
    assert set(ours.loc[~inflated(ours), "sample"]) == {"2"}
    assert (extractant(ours) == "").all()


def test_gaps_are_told_as_documented():
    """The columns of a composite and the reason, nothing else."""
    gaps = exchange_gaps(sample({"Ca": 900}))
    assert list(gaps.columns) == [*frames.COMPOSITE, "reason"]
