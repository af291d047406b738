"""Treated beds beside beds left as they were."""

import numpy as np
import pandas as pd
import pytest
from statsmodels.stats.multitest import multipletests

from soiltrend import frames, noise
from soiltrend.compare import against_check
from soiltrend.errors import SoiltrendError
from soiltrend.simulate import Design, simulate_garden

ENDS = {"before": "spring 2022", "after": "spring 2024"}
UNITS = {"pH": "pH", "K": "mg/kg", "K saturation": "%", "OM": "%"}


def rows(bed, analyte, before, after, *, signs=("", ""), **changes):
    ends = (("spring 2022", "2022-04-11"), ("spring 2024", "2024-04-11"))
    return [
        {
            "bed": bed,
            "season": season,
            "sampled": day,
            "analyte": analyte,
            "unit": UNITS[analyte],
            "value": value,
        }
        | {"lab": "L", "qualifier": sign, "method": "m"}
        | changes
        for (season, day), value, sign in zip(ends, (before, after), signs, strict=True)
    ]


def found(results, **given):
    given = {"checks": ["Check"]} | given
    return against_check(frames.results(results), **ENDS, **given).table.iloc[0]


def stated(occasion=0.06, **sd):
    return noise.noise_model(
        overrides={name: {"sd": value, "occasion": occasion} for name, value in sd.items()}
    )


def test_difference_of_differences_by_hand():
    """Two treated beds and one check: the mean of changes less the check's; the day's part cancels."""
    results = [*rows("A", "pH", 6.0, 6.8), *rows("B", "pH", 6.2, 6.8), *rows("Check", "pH", 6.1, 6.2)]
    row = found(results, noise=stated(pH=0.12))
    half = 1.959964 * np.sqrt(2 * 0.12**2 / 2 + 2 * 0.12**2)
    assert row[["treated", "check", "difference"]].tolist() == pytest.approx([0.7, 0.1, 0.6])
    assert row[["low", "high", "noise"]].tolist() == pytest.approx([0.6 - half, 0.6 + half, half])
    assert row[["beds", "checks", "verdict"]].tolist() == [2, 1, "rose"]
    in_noise = [row["difference"] / half, row["low"] / half, row["high"] / half]
    assert row[["in_noise", "in_noise_low", "in_noise_high"]].tolist() == pytest.approx(in_noise)


def test_concentrations_differ_as_ratios():
    """K doubled where treated and rose by a quarter in the check: 2 / 1.25, 60 % more."""
    row = found([*rows("A", "K", 100.0, 200.0), *rows("Check", "K", 80.0, 100.0)])
    assert row[["treated", "check", "difference"]].tolist() == pytest.approx([100.0, 25.0, 60.0])
    assert row["unit"] == "%"


@pytest.mark.parametrize("day", [0.0, 1.5])
def test_what_a_day_does_to_all_beds_drops_out(day):
    """A wet day that shifts every bed alike changes nothing, however large the occasion's noise is."""
    results = [*rows("A", "pH", 6.0, 6.8 + day), *rows("Check", "pH", 6.1, 6.2 + day)]
    row = found(results, noise=stated(pH=0.12, occasion=3.0))
    assert row["difference"] == pytest.approx(0.7)
    assert row["noise"] == pytest.approx(1.959964 * np.sqrt(4 * 0.12**2))


def test_days_of_their_own_do_not_drop_out():
    """A check sampled on another day shares no occasion, and the band says so."""
    check = rows("Check", "pH", 6.1, 6.2)
    check[1]["sampled"] = "2024-04-19"
    row = found([*rows("A", "pH", 6.0, 6.8), *check], noise=stated(pH=0.12))
    assert row["noise"] == pytest.approx(1.959964 * np.sqrt(4 * 0.12**2 + 2 * 0.06**2))
    assert row["why"].endswith("not all sampled on the same days, and what a day does is a part of that")


def test_beds_of_one_day_share_what_the_day_did():
    """Two treated beds sampled on one other day: its part is the day's whole, not a half or a mean of it."""
    check = rows("Check", "pH", 6.1, 6.2)
    check[1]["sampled"] = "2024-04-19"
    treated = [*rows("A", "pH", 6.0, 6.8), *rows("B", "pH", 6.0, 6.8)]
    row = found([*treated, *check], noise=stated(pH=0.12))
    each = 2 * 0.12**2 / 2 + 2 * 0.12**2
    assert row["noise"] == pytest.approx(1.959964 * np.sqrt(each + 2 * 0.06**2))


@pytest.mark.parametrize(
    ("crossed", "share"), [("", 0), ("A", 0.5), ("A B", 1), ("Check", 1), ("A Check", 0.5), ("A B Check", 0)]
)
def test_a_swing_between_seasons_drops_out_as_far_as_both_sides_bear_it(crossed, share):
    """Some beds go from spring to autumn, the others to spring: the band holds what is left of the swing."""
    model = noise.noise_model(overrides={"pH": {"sd": 0.12, "occasion": 0.0, "season": 0.2}})
    results = [*rows("A", "pH", 6.0, 6.8), *rows("B", "pH", 6.1, 6.8), *rows("Check", "pH", 6.1, 6.2)]
    for row in results[1::2]:
        if row["bed"] in crossed.split():
            row.update(season="autumn 2024", sampled="2024-10-11")
    one = against_check(frames.results(results), checks=["Check"], before="2022", after="2024", noise=model)
    each = 2 * 0.12**2 / 2 + 2 * 0.12**2
    assert one.table["noise"].tolist() == pytest.approx([1.959964 * np.sqrt(each + (share * 0.2) ** 2)])


@pytest.mark.parametrize(
    ("bed", "sign", "open_end"), [("A", ">", "high"), ("A", "<", "low"), ("Check", ">", "low")]
)
def test_a_limit_opens_the_interval_on_its_own_side_alone(bed, sign, open_end):
    """The treated bed at more than 6.8: at least 0.7 more than the check's 0.1, with no end above."""
    signs = {name: ("", sign) if name == bed else ("", "") for name in ("A", "Check")}
    results = [*rows("A", "pH", 6.0, 6.8, signs=signs["A"]),
               *rows("Check", "pH", 6.1, 6.2, signs=signs["Check"])]  # fmt: skip
    row = found(results, noise=stated(pH=0.12))
    half = 1.959964 * np.sqrt(4 * 0.12**2)
    told = {"low": 0.7 - half, "high": 0.7 + half}
    shut = "low" if open_end == "high" else "high"
    assert not np.isfinite(row[open_end]) or abs(row[open_end] - told[open_end]) > 3
    assert row[shut] == pytest.approx(told[shut])


@pytest.mark.parametrize(
    ("beds", "words"),
    [
        (["A", "B"], "no check bed has comparable results"),
        (["Check"], "no treated bed has comparable results"),
    ],
)
def test_a_side_that_is_missing(beds, words):
    """Without one of the sides nothing is compared, and the reason is given."""
    results = [row for bed in beds for row in rows(bed, "K", 100.0, 150.0)]
    other = "Check" if "Check" not in beds else "A"
    row = found(results + rows(other, "pH", 6.0, 6.0))
    assert row["verdict"] == "not comparable"
    assert words in row["why"]
    assert np.isnan(row["difference"])


@pytest.mark.parametrize(
    ("treated", "signs", "verdict"),
    [((10.0, 100.0), ("<", ""), "rose"), ((90.0, 100.0), ("<", ""), "unclear")],
)
def test_limits_hold_the_verdict_back(treated, signs, verdict):
    """A limit may be anything below: the verdict must hold for all of it."""
    row = found([*rows("A", "K", *treated, signs=signs), *rows("Check", "K", 100.0, 100.0)])
    assert row["verdict"] == verdict
    assert np.isnan(row["difference"])
    assert np.isinf(row["high"])


def test_shares_are_compared_by_their_odds():
    """A saturation is compared as the odds of a share."""
    row = found([*rows("A", "K saturation", 4.0, 6.0), *rows("Check", "K saturation", 4.0, 4.0)])
    assert row["difference"] == pytest.approx(100 * ((6 / 94) / (4 / 96) - 1))


@pytest.mark.parametrize(
    ("analyte", "from_to", "sd", "verdict"),
    [
        ("OM", (2.0, 2.5), 0.01, "rose"),
        ("OM", (8.0, 8.5), 0.01, "held"),
        ("OM", (8.0, 9.0), 0.01, "rose"),
        ("OM", (2.0, 2.2), 0.01, "held"),
        ("K", (100.0, 110.0), 0.005, "held"),
        ("K", (100.0, 120.0), 0.005, "rose"),
    ],
)
def test_a_difference_too_small_to_matter_is_held(analyte, from_to, sd, verdict):
    """Of organic matter 0.3 points or a tenth, whichever is more; of potassium 15 % (tables/margins.csv)."""
    level = from_to[0]
    results = [*rows("A", analyte, *from_to), *rows("Check", analyte, level, level)]
    assert found(results, noise=stated(**{analyte: sd}, occasion=0.0))["verdict"] == verdict


@pytest.mark.parametrize(
    ("after", "said"),
    [
        (200.0, "+100 %"),
        (350.0, "+250 %"),
        (1340.0, "+1200 %"),
        (190.0, "+90 %"),
        (50.5, "-50 %"),
        (100.0, "+0 %"),
    ],
)
def test_a_change_bears_no_exponent(after, said):
    """Two digits and as many noughts as it takes."""
    why = found([*rows("A", "K", 100.0, after), *rows("Check", "K", 100.0, 110.0)])["why"]
    assert why.startswith(f"1 treated bed changed by {said}, 1 left as it was by +10 %:")


def test_the_sentence():
    """It says "differ", names both sides, and never why."""
    why = found([*rows("A", "pH", 6.0, 6.9), *rows("Check", "pH", 6.1, 6.1)])["why"]
    assert why.startswith(
        "1 treated bed changed by +0.9 pH, 1 left as it was by +0 pH: they differ by 0.90 pH"
    )
    assert "because" not in why
    assert why.endswith("95 % of the time; the day of sampling is the same for both and drops out")
    beds = [*rows("A", "pH", 6.0, 6.9), *rows("B", "pH", 6.0, 6.9), *rows("C", "pH", 6.0, 6.9)]
    assert found([*beds, *rows("Check", "pH", 6.1, 6.1)])["why"].startswith("3 treated beds changed by")
    assert "drops out" in found([*beds, *rows("Check", "pH", 6.1, 6.1)])["why"]


@pytest.mark.parametrize(("after", "way"), [(90.0, -1), (110.0, 1), (100.0, 1)])
def test_the_band_is_said_in_the_direction_of_the_change(after, way):
    """A fall is set beside the band of falls: 1 - exp(-half), a rise beside exp(half) - 1."""
    row = found([*rows("A", "K", 100.0, after), *rows("Check", "K", 100.0, 100.0)], noise=stated(K=0.1))
    half = np.log1p(row["noise"] / 100)
    band = 100 * abs(np.expm1(way * half))
    assert f"they differ by {abs(after - 100):.0f} %, which is within the {band:.0f} %" in row["why"]


def test_a_difference_that_does_not_stand_among_all_says_so():
    """Of twenty differences one leaves its band: q by the Benjamini & Hochberg of statsmodels."""
    still = [row for at in range(19) for bed in ("A", "Check")
             for row in rows(bed, "K", 100.0, 100.0, method=f"m{at}")]  # fmt: skip
    moved = [*rows("A", "K", 100.0, 140.0, method="last"), *rows("Check", "K", 100.0, 100.0, method="last")]
    results, said = frames.results([*still, *moved]), stated(K=0.08)
    contrast = against_check(results, **ENDS, checks=["Check"], noise=said)
    row = contrast.table.set_index("method").loc["last"]
    adjusted = multipletests(contrast.table["p"], method="fdr_bh")[1]
    assert contrast.table["q"].to_numpy() == pytest.approx(adjusted)
    assert row["verdict"] == "rose"
    assert row["q"] > 0.05
    told = "Among all 20 differences such a one could come up by chance: it does not stand by itself (q = "
    assert told in row["why"]
    assert "q" in repr(contrast).splitlines()[1].split()
    alone = against_check(frames.results(moved), **ENDS, checks=["Check"], noise=said).table.iloc[0]
    assert "does not stand" not in alone["why"]


def test_rounding_of_the_machine_is_no_change():
    """Beds that did not move differ by exactly nothing."""
    beds = [row for i in range(7) for row in rows(f"bed {i}", "pH", 6.1, 6.1)]
    row = found([*beds, *rows("Check", "pH", 6.3, 6.3)])
    assert row[["treated", "check", "difference"]].tolist() == [0.0, 0.0, 0.0]


def test_false_alarms_with_a_rough_day():
    """100 gardens in which nothing was done and days differ much: at most 5 % alarms (3 binomial errors)."""
    design = Design(beds=6, levels={"pH": 6.4})
    model = noise.noise_model(overrides={"pH": {"occasion": 0.5}})
    parts = [
        simulate_garden(seed=i, design=design, noise=model).assign(lab=f"lab {i}", method=f"way {i}")
        for i in range(100)
    ]
    table = against_check(pd.concat(parts), checks=["bed 5", "bed 6"], **ENDS).table
    assert len(table) == 100
    assert table["verdict"].isin(["rose", "fell"]).mean() <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 100)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"checks": ["Nowhere"]}, "'Nowhere' is not in the frame. Beds here: 'A', 'Check'"),
        ({"checks": []}, "0 check beds of 2"),
        ({"checks": ["A", "Check"]}, "2 check beds of 2 leave nothing"),
        ({"confidence": 2.0}, "confidence = 2.0"),
        ({"confidence": 1.0}, "confidence = 1.0 does not lie between 0.5 and 1"),
        ({"confidence": 0.5}, "confidence = 0.5 does not lie between 0.5 and 1"),
    ],
)
def test_checks_that_cannot_be(given, message):
    """A wrong check is refused with the beds there are."""
    with pytest.raises(SoiltrendError, match=message):
        found([*rows("A", "K", 1.0, 2.0), *rows("Check", "K", 1.0, 2.0)], **given)


def test_how_it_shows_itself():
    """Text and HTML name the checks; one name will do for a list of one."""
    results = frames.results([*rows("A", "K", 1.0, 2.0), *rows("Check", "K", 1.0, 2.0)])
    result = against_check(results, checks="Check", **ENDS)
    assert repr(result).startswith("spring 2022 to spring 2024: treated beds beside Check, 95 % intervals")
    assert "<caption" in result._repr_html_()
