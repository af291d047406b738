"""Changes across a bridge: its error by hand."""

import numpy as np
import pandas as pd
import pytest

from soiltrend import frames
from soiltrend.compare import against_check, compare
from soiltrend.noise import noise_model

ENDS = {"before": "spring 2022", "after": "spring 2024"}
DAYS = {"spring 2022": "2022-04-11", "spring 2024": "2024-04-11"}
NAME = "P from Old (Olsen) to New (Olsen), by 4 split samples"
OWN, STEP = 0.1, 0.2


def rows(*, beds=1, composites=1, moved=("spring 2022",), before=40.0, after=60.0):
    """Return results of some beds; those of the seasons ``moved`` crossed a bridge of error STEP."""
    found = [
        {"bed": f"bed {bed}", "season": season, "sampled": day, "analyte": "P", "unit": "mg/kg",
         "method": "Olsen", "lab": "New", "value": before if season == "spring 2022" else after,
         "note": f"bridged: {NAME}; beyond the values that were split" if season in moved else ""}
        for bed in range(beds) for season, day in DAYS.items() for _ in range(composites)
    ]  # fmt: skip
    out = frames.results(found)
    return out.assign(bridged_sd=np.where(out["season"].isin(moved), STEP, 0.0))


def known():
    """Return a noise model of one known standard deviation, without occasion."""
    return noise_model(overrides={"P": {"sd": OWN, "occasion": 0.0}})


@pytest.mark.parametrize("composites", [1, 4])
def test_the_error_of_a_bridge_counts_once_by_hand(composites):
    """Two ends of n composites and one bridge: 2 * 0.1^2 / n + 0.2^2, and the step is shared."""
    row = compare(rows(composites=composites), noise=known(), **ENDS).table.iloc[0]
    assert row["se"] ** 2 == pytest.approx(2 * OWN**2 / composites + STEP**2)
    assert row["shared"] == pytest.approx(STEP**2)
    assert f"Joined by a bridge ({NAME}): its error (22 %, one standard deviation)" in row["why"]


def test_more_beds_do_not_average_a_bridge_away():
    """Five beds: 2 * 0.1^2 / 5 + 0.2^2 for the garden, of which the bridge's is shared."""
    table = compare(rows(beds=5), noise=known(), **ENDS).table
    garden = table[table["bed"] == frames.GARDEN].iloc[0]
    assert garden["se"] ** 2 == pytest.approx(2 * OWN**2 / 5 + STEP**2)
    assert garden["shared"] == pytest.approx(STEP**2)
    plain = compare(rows(beds=5).drop(columns="bridged_sd"), noise=known(), **ENDS).table.iloc[-1]
    assert garden["noise"] > 2 * plain["noise"]


def test_half_a_mean_moved_brings_half_the_error():
    """One of two composites of an end was moved: (0.2 / 2)^2."""
    frame = rows(composites=2)
    frame.loc[0, ["bridged_sd", "note"]] = [0.0, ""]
    row = compare(frame, noise=known(), **ENDS).table.iloc[0]
    assert row["se"] ** 2 == pytest.approx(OWN**2 + (STEP / 2) ** 2)


def test_two_bridges_add_and_one_cancels():
    """One bridge at both ends cancels; a bridge of its own at each end counts twice."""
    frame = rows(beds=3, moved=tuple(DAYS))
    table = compare(frame, noise=known(), **ENDS).table
    assert table["se"].iloc[-1] ** 2 == pytest.approx(2 * OWN**2 / 3)
    assert table["why"].str.contains("its error cancels").all()
    later = frame["season"] == "spring 2024"
    frame["note"] = frame["note"].where(~later, "bridged: P from Third (Olsen) to New (Olsen)")
    table = compare(frame, noise=known(), **ENDS).table
    assert table["se"].iloc[-1] ** 2 == pytest.approx(2 * OWN**2 / 3 + 2 * STEP**2)
    assert "Third (Olsen)" in table["why"].iloc[0]


def test_a_frame_without_bridges_stays_as_it_was():
    """No column, a column of zeros, and a blank column give one and the same table."""
    frame = rows(beds=3, composites=2, moved=())
    plain = compare(frame.drop(columns="bridged_sd"), noise=known(), **ENDS).table
    for value in (0.0, np.nan):
        marked = compare(frame.assign(bridged_sd=value), noise=known(), **ENDS).table
        pd.testing.assert_frame_equal(marked, plain, check_exact=True)
    assert plain["se"].iloc[0] ** 2 == pytest.approx(2 * OWN**2 / 2)


def test_treated_and_check_beds_share_a_bridge():
    """What one bridge did to all beds drops out of the difference of their changes."""
    moved = rows(beds=4)
    ask = {"checks": ["bed 0"], "noise": known(), **ENDS}
    found, plain = (against_check(f, **ask).table for f in (moved, moved.drop(columns="bridged_sd")))
    assert found["noise"].iloc[0] == pytest.approx(plain["noise"].iloc[0])
    part = moved.assign(bridged_sd=np.where(moved["bed"] == "bed 0", 0.0, moved["bridged_sd"]))
    assert against_check(part, **ask).table["noise"].iloc[0] > 1.5 * plain["noise"].iloc[0]
