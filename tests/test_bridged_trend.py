"""A record joined by a bridge: the bridge's own error is in the trend, against refits and by simulation."""

import numpy as np
import pandas as pd
import pytest
from pandas.testing import assert_frame_equal
from scipy import stats

from soiltrend import frames
from soiltrend.bridges import across, bridge
from soiltrend.trend import trend

NAME = "P by one as by the other, by 9 split samples"


def springs(values, moved, sd, bed="East", analyte="pH", seasons=("spring",)):
    """Return tests of one bed, the first of them moved across a bridge of a known error."""
    per = len(seasons)
    rows = []
    for number, value in enumerate(values):
        year, season = 2010 + number // per, seasons[number % per]
        day = {"spring": "04-10", "autumn": "10-10"}[season]
        rows.append(
            {
                "bed": bed,
                "analyte": analyte,
                "value": value,
                "unit": "pH" if analyte == "pH" else "mg/kg" if analyte == "K" else "score",
                "sampled": f"{year}-{day}",
                "season": f"{season} {year}",
                "lab": "B",
                "note": f"{frames.BRIDGED} {NAME}" if number < moved else "",
                "bridged_sd": sd if number < moved else 0.0,
            }
        )
    return pd.DataFrame(rows)


def first(table):
    """Return the first bed's row."""
    return table[table["bed"] != frames.GARDEN].iloc[0]


PH = np.array([6.0, 6.3, 6.1, 6.4, 6.2, 6.5, 6.6, 6.4, 6.7, 6.6])


@pytest.mark.parametrize(("n", "seasons"), [(5, ("spring",)), (7, ("spring",)), (6, ("spring", "autumn"))])
def test_the_error_is_that_of_a_refit_with_the_offset_moved(n, seasons):
    """Least squares again (numpy.linalg) with the moved tests one standard deviation higher."""
    sd = 0.15
    row = first(trend(frames.results(springs(PH[:n], 3, sd, seasons=seasons))).table)
    shifted = PH[:n] + sd * (np.arange(n) < 3)
    again = first(trend(frames.results(springs(shifted, 0, 0.0, seasons=seasons))).table)
    assert row["bridge_error"] == pytest.approx(abs(again["slope_per_year"] - row["slope_per_year"]))
    times = np.array(
        [pd.Timestamp(day).to_julian_date() for day in springs(PH[:n], 0, 0.0, seasons=seasons)["sampled"]]
    )
    levels = np.equal.outer(np.arange(n) % len(seasons), np.arange(len(seasons))).astype(float)
    design = np.column_stack([times / 365.2425, levels])
    fits = [np.linalg.lstsq(design, y, rcond=None)[0][0] for y in (PH[:n], shifted)]
    assert row["bridge_error"] == pytest.approx(abs(fits[1] - fits[0]))


def test_a_record_without_a_bridge_is_the_same_to_the_bit():
    """The column alone, or a bridge in another bed, changes nothing."""
    plain = frames.results(springs(PH, 0, 0.0).drop(columns="bridged_sd"))
    other = frames.results(springs(PH, 4, 0.2, bed="West"))
    alone = trend(plain).table
    beside = trend(frames.join(plain, other)).table
    same = [name for name in alone.columns if name not in ("q", "why", "shrunk_slope")]
    assert_frame_equal(
        alone[alone["bed"] == "East"][same],
        beside[beside["bed"] == "East"][same],
        check_dtype=False,
        check_exact=True,
    )
    zero = trend(frames.results(springs(PH, 0, 0.0))).table
    assert_frame_equal(alone, zero, check_exact=True)


def test_a_bridge_that_moved_every_test_adds_nothing():
    """An offset shared by all tests is a level and no slope."""
    whole, none = (trend(frames.results(springs(PH, moved, 0.2))).table for moved in (len(PH), 0))
    assert first(whole)["bridge_error"] == pytest.approx(0.0, abs=1e-12)
    assert first(whole)[["low", "high"]].tolist() == pytest.approx(first(none)[["low", "high"]].tolist())


@pytest.mark.parametrize("n", [6, 10])
def test_the_interval_covers_the_truth_when_the_bridge_errs(n):
    """400 records whose offset errs by 0.3: 95 % intervals cover no trend; without the error they fail."""
    rng, sd, half = np.random.default_rng(11), 0.3, n // 2
    parts = []
    for number in range(400):
        y = rng.normal(6.5, 0.1, n) + (np.arange(n) < half) * rng.normal(0.0, sd)
        parts.append(springs(y, half, sd, bed=f"bed {number}"))
    together = pd.concat(parts)
    covered = {}
    for name, frame in (("with", together), ("without", together.assign(bridged_sd=0.0, note=""))):
        table = trend(frames.results(frame)).table
        table = table[table["bed"] != frames.GARDEN]
        covered[name] = ((table["low"] <= 0) & (table["high"] >= 0)).mean()
        called = table["verdict"].isin(["rising", "falling"]).mean()
        assert called <= 0.06 if name == "with" else called > 0.2
    assert covered["with"] >= 0.93
    assert covered["with"] <= 0.985 or n >= 8  # of the median the least-squares weight makes rather more
    assert covered["without"] < 0.8


def test_more_beds_do_not_average_a_bridge_away():
    """120 gardens of 5 beds whose shared offset errs by 0.3: the garden's interval covers no trend."""
    rng, sd, n = np.random.default_rng(12), 0.3, 8
    parts = []
    for garden in range(120):
        step = rng.normal(0.0, sd)
        days = rng.normal(0.0, 0.05, n)
        for bed in range(5):
            y = 3 + rng.normal(0.0, 0.1, n) + days + (np.arange(n) < 4) * step
            parts.append(springs(y, 4, sd, bed=f"bed {bed}", analyte=f"score {garden}"))
    table = trend(frames.results(pd.concat(parts))).table
    whole, beds = table[table["bed"] == frames.GARDEN], table[table["bed"] != frames.GARDEN]
    assert whole["bridge_error"].to_numpy() == pytest.approx(beds["bridge_error"].iloc[0])
    covered = ((whole["low"] <= 0) & (whole["high"] >= 0)).mean()
    assert 0.92 <= covered <= 0.985
    assert whole["verdict"].isin(["rising", "falling"]).mean() <= 0.07


@pytest.mark.parametrize(("n", "rank"), [(6, False), (10, True)])
def test_the_reader_is_told(n, rank):
    """Which bridge, how large its part of the slope is, and that it is inside."""
    row = first(trend(frames.results(springs(PH[:n], 3, 0.2))).table)
    assert f"Joined by a bridge ({NAME}): its own error ({row['bridge_error']:.2g} pH a year" in row["why"]
    assert "is inside the interval" in row["why"]
    assert ("by its weight on a least-squares line" in row["why"]) is rank


def band(values, moved, sd=0.3):
    """Return the middle and the half-width of the band of the next test."""
    row = first(trend(frames.results(springs(values, moved, sd))).table)
    return (row["next_low"] + row["next_high"]) / 2, (row["next_high"] - row["next_low"]) / 2


@pytest.mark.parametrize("moved", [2, 5, 8])
def test_the_next_test_is_less_sure_across_a_bridge(moved):
    """The band grows by what a refit with the offset moved makes of its middle (t of scipy.stats, 8 df)."""
    middle, half = band(PH, 0)
    shifted, _ = band(PH + 0.3 * (np.arange(10) < moved), 0)
    expected = np.hypot(half, stats.t.ppf(0.975, 8) * (shifted - middle))
    assert band(PH, moved) == pytest.approx((middle, expected))


def test_a_bridge_of_splits_reaches_the_trend():
    """From split bags to the slope: the bridge's own error times the weight of the moved tests."""
    splits = [
        {"bed": str(k), "sample": str(k), "lab": lab, "analyte": "K", "unit": "mg/kg", "value": value,
         "sampled": "2019-04-02", "season": "spring 2019"}
        for k, pair in enumerate([(100, 108), (150, 171), (210, 228), (90, 101), (130, 139)])
        for lab, value in zip(("A", "B"), pair, strict=True)
    ]  # fmt: skip
    record = [
        {"bed": "East", "sample": f"r{year}", "lab": "A" if year < 2015 else "B", "analyte": "K",
         "unit": "mg/kg", "value": 120.0 + year - 2010, "sampled": f"{year}-04-10",
         "season": f"spring {year}"}
        for year in range(2010, 2019)
    ]  # fmt: skip
    results = frames.results([*splits, *record])
    built = bridge(results, analyte="K", of=("A", ""), to=("B", ""))
    joined = across(results, bridge=built)
    row = trend(joined).table.query("bed == 'East'").iloc[0]
    mine = joined[(joined["bed"] == "East")]
    time = (mine["sampled"] - mine["sampled"].min()).dt.days / 365.2425
    weight = np.polyfit(time, mine["bridged_sd"], 1)[0]
    assert row["bridge_error"] == pytest.approx(abs(weight) * row["level"], rel=1e-6)
    assert row["n"] == 9
