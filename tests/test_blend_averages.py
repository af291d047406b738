"""Averages of ratios by hand: what has no nitrogen, and what is not there."""

import numpy as np
import pandas as pd
import pytest

from soiltrend.blend.averages import RIGHT, averages, lesson

TABLE = pd.DataFrame(
    {
        "kg": [2.0, 1.0, 3.0, 0.0],
        "litres": [4.0, 12.0, 9.0, 5.0],
        "dry_kg": [1.0, 0.9, 2.0, 0.0],
        "C_kg": [0.4, 0.36, 1.0, 0.0],
        "N_kg": [0.02, 0.006, 0.0, 0.0],
        "CN": [20.0, 60.0, np.inf, 10.0],
    }
)


def test_every_average_by_hand():
    """Carbon of all, 1.76 kg, over 0.026 of nitrogen; ratios of the two that have one and are there."""
    found = averages(TABLE).set_index("way")
    assert found["C_N"].tolist() == pytest.approx(
        [
            1.76 / 0.026,
            (2 * 20 + 60) / 3,
            (4 * 20 + 12 * 60) / 16,
            (20 + 0.9 * 60) / 1.9,
            (0.02 * 20 + 0.006 * 60) / 0.026,
        ]
    )
    assert found["off"].tolist() == pytest.approx((found["C_N"] - 1.76 / 0.026).tolist())
    assert found.index[0] == RIGHT


def test_without_nitrogen_there_is_no_end_to_the_ratio():
    """Sawdust without nitrogen has an infinite ratio and no average; of an unknown volume neither."""
    bare = averages(TABLE.iloc[[2]])
    assert bare["C_N"].iloc[0] == np.inf
    assert bare["C_N"].iloc[1:].isna().all()
    unknown = averages(TABLE.assign(litres=[4.0, np.nan, 9.0, 5.0]))
    assert unknown["C_N"].isna().tolist() == [False, False, True, False, False]


@pytest.mark.parametrize(("off", "told"), [(1.0, True), (-1.0, True), (0.9, False), (np.nan, False)])
def test_an_average_is_told_from_one_on(off, told):
    """C:N is known no better than to one."""
    ways = pd.DataFrame({"way": [RIGHT, "wet"], "C_N": [25.0, 25.0 + off], "off": [0.0, off]})
    assert bool(lesson(ways)) is told
