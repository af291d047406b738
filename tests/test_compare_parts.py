"""Weights, variances and what is shared of a change, worked by hand; beds that were extreme before."""

import numpy as np
import pandas as pd
import pytest

from soiltrend import frames, noise
from soiltrend.comparable import match_ends
from soiltrend.compare.extremes import extremes
from soiltrend.compare.parts import GARDEN_KEY, bridging, composites_of, summed

PARTS = pd.DataFrame(
    {
        "key": 0,
        "end": [0, 0, 1, 1],
        "low": [6.0, 6.2, 6.4, 6.8],
        "high": [6.0, 6.4, 6.4, 6.8],
        "raw": [6.0, 6.4, 6.4, 6.8],
        "swing": [0.2, 0.2, 0.1, 0.3],
        "variance": [0.01, 0.03, 0.02, 0.04],
        "day": 0.1,
        "weight": [0.5, 0.5, 0.25, 0.75],
        "occasion": [0, 0, 1, 2],
        "bridge": ["A to B", "", "A to B", "A to B"],
        "bridged": [0.2, 0.0, 0.2, 0.2],
    }
)


def test_a_change_by_hand():
    """Weights squared for what composites vary by, day by day for what they share, once for a bridge."""
    row = summed(PARTS).loc[0]
    composites = 0.25 * (0.01 + 0.03), 0.0625 * 0.02 + 0.5625 * 0.04
    days = (0.05 + 0.05) ** 2 + 0.025**2 + 0.075**2
    assert row["b_variance"] == pytest.approx(composites[0])
    bridge = ((0.25 + 0.75 - 0.5) * 0.2) ** 2
    assert row["bridged"] == pytest.approx(bridge)
    assert row["shared"] == pytest.approx(days + bridge)
    assert row["variance"] == pytest.approx(sum(composites) + days + bridge)
    assert row["swing"] == pytest.approx((0.2 + 0.25) / 2)
    ends = row[["b_low", "b_high", "b_raw", "a_low", "a_high", "a_raw"]].tolist()
    assert ends == pytest.approx([6.1, 6.2, 6.2, 6.7, 6.7, 6.7])


def bag(sample, season, day, value, analyte="K", sign=""):
    """Return the row of one bag of the bed East."""
    unit = "pH" if analyte == "pH" else "mg/kg"
    told = {"bed": "East", "sample": sample, "season": season, "sampled": day, "analyte": analyte}
    return told | {"value": value, "unit": unit, "qualifier": sign, "method": "m", "lab": "L"}


def test_composites_by_hand():
    """A split halves what the laboratory adds, five cores leave more of the field; seasons weigh alike."""
    part = {"laboratory": 0.06, "preparation": 0.04, "between_cores": 0.3, "occasion": 0.05, "season": 0.07}
    results = frames.results(
        [
            bag("1", "spring 2022", "2022-04-11", 100.0),
            bag("2", "spring 2022", "2022-04-11", 121.0),
            bag("3", "spring 2022", "2022-04-11", 150.0),
            bag("4", "autumn 2022", "2022-10-11", 90.0),
            bag("5", "spring 2024", "2024-04-11", 160.0),
            bag("6", "autumn 2024", "2024-10-11", 80.0, sign="<"),
        ]
    )
    samples = pd.DataFrame(
        {
            "sample": ["2", "3"],
            "sampled": "2022-04-11",
            "duplicate_of": ["1", ""],
            "cores": [np.nan, 5],
        }
    )
    model = noise.noise_model(samples=samples, overrides={"K": {**part, "df": 1e9}})
    match = match_ends(results, model.composites, before="2022", after="2024")
    found = composites_of(match.rows, model).sort_values(["end", "weight", "low"]).reset_index(drop=True)
    lab, field = 0.06**2 + 0.04**2, 0.3**2
    assert found["weight"].tolist() == pytest.approx([0.25, 0.25, 0.5, 0.5, 0.5])
    assert np.exp(found["low"]).tolist() == pytest.approx([110.0, 150.0, 90.0, 0.0, 160.0])
    assert np.exp(found["high"]).tolist() == pytest.approx([110.0, 150.0, 90.0, 80.0, 160.0])
    wide = [lab / 2 + field / 15, lab + field / 5, *[lab + field / 15] * 3]
    assert found["variance"].tolist() == pytest.approx(wide)
    assert found["day"].tolist() == pytest.approx([0.05] * 5)
    assert found["swing"].tolist() == pytest.approx([0.07] * 5)
    assert found["occasion"].nunique() == 4


def test_much_organic_matter_is_noisier_in_every_part():
    """At 9 % 0.05 x 9 points for 0.15: three times what days and seasons add, nine times the variance."""
    found = []
    for value in (2.0, 9.0):
        ends = (("spring 2022", "2022-04-11"), ("spring 2024", "2024-04-11"))
        both = [bag("", *end, value, "OM") | {"unit": "%"} for end in ends]
        model = noise.noise_model()
        match = match_ends(frames.results(both), model.composites, before="2022", after="2024")
        found.append(composites_of(match.rows, model).iloc[0])
    times = [found[1][name] / found[0][name] for name in ("day", "swing", "within", "field", "variance")]
    assert times == pytest.approx([3, 3, 9, 9, 9], rel=0.01)


def test_below_a_limit_a_plain_value_lies_from_nothing_on():
    """pH "< 5" lies between 0 and 5 on its own scale, ">" 8 from 8 on."""
    rows_ = [
        bag("1", "spring 2022", "2022-04-11", 5.0, "pH", "<"),
        bag("2", "spring 2024", "2024-04-11", 8.0, "pH", ">"),
    ]
    model = noise.noise_model()
    match = match_ends(frames.results(rows_), model.composites, before="2022", after="2024")
    found = composites_of(match.rows, model).sort_values("end")
    assert found["low"].tolist() == [0.0, 8.0]
    assert found["high"].tolist() == [5.0, np.inf]


def test_bridges_by_hand():
    """One bridge in both directions (0.5 - 0.25) x 0.2, another 1 x 0.1; a change without any has none."""
    parts = pd.DataFrame(
        {
            "key": [0, 0, 0, 1],
            "weight": [0.5, -0.25, 1.0, 1.0],
            "bridged": [0.2, 0.2, 0.1, 0.0],
            "bridge": ["A to B", "A to B", "B to C", ""],
        }
    )
    found = bridging(parts)
    assert found["bridged"].tolist() == pytest.approx([0.05**2 + 0.1**2, 0.0])
    assert found["bridges"].tolist() == ["A to B and B to C", ""]


def rows(values, steps, **changes):
    """Return bed rows of one series of the garden."""
    count = len(values)
    table = pd.DataFrame(dict.fromkeys(GARDEN_KEY, ""), index=range(count))
    told = {"comparable": True, "b_low": values, "b_high": values, "b_variance": 0.05, "step": steps}
    return table.assign(**{**told, **changes})


VALUES = [5.0, 6.0, 6.1, 6.2, 6.2]


def test_the_lowest_bed_by_hand():
    """0.9 below the mean of 5.9; variance 1.04 / 4 among beds, 0.05 of it noise: 0.9 x 0.05 / 0.26 back."""
    found = extremes(rows(VALUES, [0.3, 0.0, 0.0, 0.0, 0.0]))
    assert found["back"].tolist() == pytest.approx([0.9 * 0.05 / 0.26] + [np.nan] * 4, nan_ok=True)
    assert found["extreme"].tolist() == ["lowest of 5 beds", "", "", "", ""]


def test_two_highest_beds_are_both_told():
    """Equals at the top both count as highest, where they fell; the lowest did not rise."""
    found = extremes(rows(VALUES, [-0.1, -0.1, -0.1, -0.1, -0.1]))
    assert found["extreme"].tolist() == ["", "", "", "highest of 5 beds", "highest of 5 beds"]
    assert found["back"].tolist()[3:] == pytest.approx([-0.3 * 0.05 / 0.26] * 2)


@pytest.mark.parametrize(
    ("values", "changes"),
    [
        (VALUES[:3], {}),  # three beds
        ([6.0] * 5, {}),  # all alike: none is extreme
        (VALUES, {"b_high": [5.5, *VALUES[1:]]}),  # one is only known to lie between
        (VALUES, {"comparable": [True, True, True, False, False]}),  # three that can be compared
        (VALUES, {"comparable": False}),
    ],
)
def test_where_nothing_is_said(values, changes):
    """Too few, all alike, or a limit among them."""
    steps = [0.3] + [-0.1] * (len(values) - 1)
    found = extremes(rows(values, steps, **changes))
    assert found["back"].isna().all()
    assert (found["extreme"] == "").all()


def test_series_are_kept_apart():
    """Beds of two analytes are extreme among their own."""
    both = pd.concat([rows(VALUES, [0.3] * 5), rows(VALUES, [0.3] * 5, analyte="pH")], ignore_index=True)
    assert extremes(both)["extreme"].tolist() == ["lowest of 5 beds", "", "", "", ""] * 2
