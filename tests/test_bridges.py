"""Bridges: published comparisons, made-up laboratories of known truth, and the demo garden's splits."""

import importlib
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import optimize, stats

from soiltrend import frames
from soiltrend.bridges import BRIDGED, across, bridge
from soiltrend.bridges.core import LINE, MEAN
from soiltrend.bridges.lines import Points, left_out, line
from soiltrend.errors import SoiltrendError
from soiltrend.garden import open_garden
from soiltrend.noise import noise_model

DATA = Path(__file__).parents[1] / "data_demo"
OLD, NEW = ("Old", "Olsen"), ("New", "Olsen")

ARSENATE = np.array(
    [
        [
            8.71,
            7.01,
            3.28,
            5.6,
            1.55,
            1.75,
            0.73,
            3.66,
            0.9,
            9.39,
            4.39,
            3.69,
            0.34,
            1.94,
            2.07,
            1.38,
            1.81,
            1.27,
            0.82,
            1.88,
            5.66,
            0.0,
            0.0,
            0.4,
            0.0,
            1.98,
            10.21,
            4.64,
            5.66,
            19.25,
        ],
        [
            7.35,
            7.92,
            3.4,
            5.44,
            2.07,
            2.29,
            0.66,
            3.43,
            1.25,
            6.58,
            3.31,
            2.72,
            2.32,
            1.5,
            3.5,
            1.17,
            2.31,
            1.88,
            0.44,
            1.37,
            7.04,
            0.0,
            0.49,
            1.29,
            0.37,
            2.16,
            12.53,
            3.9,
            4.66,
            15.86,
        ],
        [
            1.92,
            1.56,
            0.76,
            1.26,
            0.39,
            0.43,
            0.22,
            0.84,
            0.25,
            2.07,
            1.0,
            0.84,
            0.13,
            0.47,
            0.5,
            0.36,
            0.45,
            0.33,
            0.23,
            0.46,
            1.27,
            0.06,
            0.06,
            0.15,
            0.06,
            0.48,
            2.24,
            1.05,
            1.27,
            4.18,
        ],
        [
            2.07,
            2.23,
            0.96,
            1.53,
            0.59,
            0.65,
            0.19,
            0.97,
            0.36,
            1.85,
            0.93,
            0.77,
            0.66,
            0.43,
            0.99,
            0.33,
            0.66,
            0.54,
            0.13,
            0.4,
            1.98,
            0.01,
            0.15,
            0.37,
            0.12,
            0.62,
            3.51,
            1.1,
            1.31,
            4.45,
        ],
    ]
)
"""Ripley & Thompson 1987, Analyst 112:377: arsenic in river water by two methods, with the standard
deviation of each result (open data of the R package deming)."""


WRIGHT = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
MINI = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]
"""Bland & Altman 1986, Lancet 327:307: peak flow of 17 people by two meters [L/min], first readings (from
memory; their mean difference and its interval agree with what is printed)."""


def splits(of, to, *, analyte="P", unit="mg/kg", sides=(OLD, NEW), day="2024-04-09"):
    """Return a frame in which every bucket was measured by two laboratories under one label."""
    return frames.results(
        [
            {
                "bed": f"bed {i}",
                "sample": f"s{i}",
                "sampled": day,
                "season": "spring 2024",
                "analyte": analyte,
                "unit": unit,
                "lab": lab,
                "method": method,
                "value": value,
            }
            for i, pair in enumerate(zip(of, to, strict=True))
            for (lab, method), value in zip(sides, pair, strict=True)
        ]
    )


def quiet(analyte, results, **terms):
    """Return a noise model in which the laboratory and the day add nothing but what is stated."""
    none = {"laboratory": 0.0, "preparation": 0.0, "occasion": 0.0, "relative": 0.0}
    return noise_model(results, overrides={analyte: none | terms})


def test_line_through_points_with_their_own_errors():
    """R deming 1.4, help page: intercept 0.1064, slope 0.9730, standard errors 0.2477 and 0.1430."""
    points = Points(ARSENATE[0], ARSENATE[1], ARSENATE[2] ** 2, ARSENATE[3] ** 2)
    assert line(points) == pytest.approx((0.10645, 0.97299), abs=5e-6)
    assert left_out(points) == pytest.approx((0.2477, 0.1430), abs=5e-5)


@pytest.mark.parametrize("ratio", [0.25, 1.0, 4.0])
def test_line_with_one_error_against_the_closed_form(ratio):
    """Deming's formula and a search for the least sum of squares by scipy."""
    x, y = ARSENATE[:2]
    sxx, syy, sxy = np.var(x), np.var(y), np.cov(x, y, bias=True)[0, 1]
    apart = syy - ratio * sxx
    wanted = (apart + np.sqrt(apart**2 + 4 * ratio * sxy**2)) / (2 * sxy)
    even = np.ones(len(x))
    slope = line(Points(x, y, even, ratio * even))[1]
    assert slope == pytest.approx(wanted, rel=1e-9)

    def squares(theta):
        return ((y - theta[0] - theta[1] * x) ** 2).sum() / (ratio + theta[1] ** 2)

    found = optimize.minimize(squares, np.polyfit(x, y, 1)[::-1], method="Nelder-Mead", tol=1e-10)
    assert slope == pytest.approx(found.x[1], rel=1e-6)


def test_without_error_in_x_it_is_least_squares():
    """numpy's polyfit is the limit of no error on one side."""
    x, y = ARSENATE[:2]
    found = line(Points(x, y, np.zeros(len(x)), np.ones(len(x))))
    assert found == pytest.approx(np.polyfit(x, y, 1)[::-1], rel=1e-9)


def test_points_in_one_place_have_no_line():
    """Without spread there is no slope."""
    same = np.ones(4)
    assert np.isnan(line(Points(same, np.arange(4.0), same, same))[1])


def test_mean_difference_of_bland_and_altman():
    """Lancet 1986: mean difference -2.1, SD 38.8 L/min, 95 % interval of the mean -22.0 to 17.8."""
    rows = splits(MINI, WRIGHT, analyte="puff", unit="L/min")
    row = bridge(rows, analyte="puff", of=OLD, to=NEW, noise=quiet("puff", rows)).table.iloc[0]
    assert (row["n"], row["model"]) == (17, MEAN)
    assert row["offset"] == pytest.approx(-2.1, abs=0.05)
    assert row["scatter"] == pytest.approx(38.8, abs=0.05)
    assert (row["low"], row["high"]) == pytest.approx((-22.0, 17.8), abs=0.15)
    paired = stats.ttest_rel(WRIGHT, MINI).confidence_interval()
    assert (row["low"], row["high"]) == pytest.approx((paired.low, paired.high), rel=1e-9)


def test_by_hand_on_logarithms():
    """Three buckets, 10, 12 and 8 % higher: the mean of the logarithms, t on 2 degrees of freedom."""
    rows = splits([40.0, 60.0, 100.0], [44.0, 67.2, 108.0])
    row = bridge(rows, analyte="P", of=OLD, to=NEW, noise=quiet("P", rows)).table.iloc[0]
    logs = np.log([1.10, 1.12, 1.08])
    assert row["offset"] == pytest.approx(logs.mean())
    assert row["se"] == pytest.approx(logs.std(ddof=1) / np.sqrt(3))
    assert row["high"] - row["offset"] == pytest.approx(stats.t.ppf(0.975, 2) * row["se"])
    assert np.isnan(row["slope"])


def test_never_surer_than_two_bags_and_the_day():
    """Differences that agree by chance count as two bags do; one day's batches do not average away."""
    rows = splits([40.0, 60.0, 100.0, 80.0], [44.0, 66.0, 110.0, 88.0])
    model = quiet("P", rows, laboratory=0.06, preparation=0.08, occasion=0.05)
    row = bridge(rows, analyte="P", of=OLD, to=NEW, noise=model).table.iloc[0]
    assert row["scatter"] == pytest.approx(0, abs=1e-9)
    assert row["se"] == pytest.approx(np.sqrt(2 * 0.1**2 / 4 + 2 * 0.05**2))
    assert "split on one day" in row["why"]
    later = pd.concat([rows, rows.assign(sampled=pd.Timestamp("2025-04-09"), season="spring 2025")])
    two = bridge(later, analyte="P", of=OLD, to=NEW, noise=model).table.iloc[0]
    assert two["days"] == 2
    assert two["se"] == pytest.approx(np.sqrt(2 * 0.1**2 / 8 + 2 * 0.05**2 / 2))
    assert "split on one day" not in two["why"]


def laboratories(rng, *, slope=1.0, beds=8, offset=0.1):
    """Return splits of beds between laboratories of known difference, and a bed beyond them."""
    true = np.log(60) + 0.5 * rng.standard_normal(beds)
    day = 0.04 * rng.standard_normal(2)
    of, to = (0.07 * rng.standard_normal((2, beds)).T + day).T
    moved = np.log(60) + offset + slope * (true - np.log(60))
    return splits(np.exp(true + of), np.exp(moved + to))


def test_intervals_hold_the_truth():
    """Of 120 pairs of laboratories 91 % or more have an interval that holds the true difference, and at most
    5 % a slope that is not there."""
    rng = np.random.default_rng(4)
    model = noise_model(
        overrides={"P": {"laboratory": 0.07, "preparation": 0.0, "occasion": 0.04, "df": 1e6}}
    )
    found = [
        bridge(laboratories(rng), analyte="P", of=OLD, to=NEW, noise=model).table.iloc[0] for _ in range(120)
    ]
    hit = np.mean([row["low"] <= 0.1 <= row["high"] for row in found])
    assert hit >= 0.91
    assert np.mean([row["model"] == LINE for row in found]) <= 0.05


def test_a_slope_that_is_there_is_used():
    """Laboratories that part at high values: the line moves a value where one offset would not."""
    rows = laboratories(np.random.default_rng(1), slope=1.5, beds=14)
    model = noise_model(overrides={"P": {"laboratory": 0.07, "preparation": 0.0}})
    built = bridge(rows, analyte="P", of=OLD, to=NEW, noise=model)
    row = built.table.iloc[0]
    assert row["model"] == LINE
    assert row["slope"] == pytest.approx(1.5, abs=2.5 * row["slope_se"])
    more = frames.results(
        [
            {
                "bed": "far",
                "lab": "Old",
                "method": "Olsen",
                "analyte": "P",
                "unit": "mg/kg",
                "season": "spring 2022",
                "value": 150.0,
                "sample": "f",
            }
        ]
    )
    moved = across(frames.join(rows, more), bridge=built).iloc[-1]
    wanted = row["offset"] + row["centre"] + row["slope"] * (np.log(150) - row["centre"])
    assert np.log(moved["value"]) == pytest.approx(wanted)
    assert moved["bridged_sd"] > row["se"]


def test_what_moves_and_what_stays():
    """Rows of the side move with note and error; split buckets, limits and other rows stay what they are."""
    rows = splits([40.0, 60.0, 100.0], [44.0, 66.0, 111.0])
    common = {"lab": "Old", "method": "Olsen", "analyte": "P", "unit": "mg/kg", "season": "spring 2022"}
    more = frames.results(
        [
            common | {"bed": "a", "value": 50.0, "reported_value": "50", "sample": "a", "note": "dry"},
            common | {"bed": "b", "value": 10.0, "qualifier": "<", "sample": "b"},
            common | {"bed": "c", "value": 5.0, "analyte": "K", "sample": "c"},
        ]
    )
    built = bridge(rows, analyte="P", of=OLD, to=NEW)
    before = frames.join(rows, more)
    after = across(before, bridge=built)
    factor = np.exp(built.table.loc[0, "offset"])
    assert len(after) == len(before)
    assert after.loc[:5, "value"].tolist() == before.loc[:5, "value"].tolist()
    assert after.loc[6:7, "value"].tolist() == pytest.approx([50 * factor, 10 * factor])
    assert after.loc[6:, "lab"].tolist() == ["New", "New", "Old"]
    assert after.loc[6, "reported_value"] == "50"
    assert after.loc[6, "note"] == f"dry; {BRIDGED} {built.name}"
    assert after.loc[7, "note"].endswith("beyond the values that were split")
    assert (after.loc[7, "qualifier"], after.loc[8, "value"]) == ("<", 5.0)
    carried = after["bridged_sd"]
    assert carried[6] == pytest.approx(float(built.bridged_sd(np.array([50.0]))[0]))
    assert carried[[0, 1, 8]].tolist() == [0, 0, 0]
    assert frames.check(after) is after
    assert before.loc[6, "lab"] == "Old"


def test_a_limit_tells_nothing_of_the_difference():
    """A bucket with a limit on one side is left out and counted."""
    rows = splits([40.0, 60.0, 100.0, 5.0], [44.0, 66.0, 110.0, 6.0])
    rows.loc[7, "qualifier"] = "<"
    built = bridge(rows, analyte="P", of=OLD, to=NEW)
    assert built.table.loc[0, "n"] == 3
    with pytest.raises(
        SoiltrendError, match=r"2 buckets with a value on both sides .*\(3 were sent to both\)"
    ):
        bridge(rows.iloc[2:], analyte="P", of=OLD, to=NEW)


@pytest.mark.parametrize(
    ("change", "match"),
    [
        (lambda rows: (rows, OLD, OLD), "both sides of the bridge are Old"),
        (lambda rows: (rows, ("Elsewhere", ""), NEW), r"Elsewhere \(method not stated\) measured no 'P'"),
        (lambda rows: (rows.iloc[:4], OLD, NEW), "2 buckets .* too few to bridge P from Old"),
        (lambda rows: (rows.assign(note=f"{BRIDGED} P"), OLD, NEW), "has crossed a bridge already"),
        (
            lambda rows: (rows.assign(unit=["mg/kg", "index"] * 3), OLD, NEW),
            "'mg/kg' on one side and in 'index'",
        ),
    ],
)
def test_bridges_that_cannot_be_built(change, match):
    """Each refusal says what was found."""
    rows, of, to = change(splits([40.0, 60.0, 100.0], [44.0, 66.0, 110.0]))
    with pytest.raises(SoiltrendError, match=match):
        bridge(rows, analyte="P", of=of, to=to)


def test_a_chain_is_refused():
    """What crossed one bridge does not cross another, and nothing to be moved is said."""
    rows = splits([40.0, 60.0, 100.0], [44.0, 66.0, 110.0])
    built = bridge(rows, analyte="P", of=OLD, to=NEW)
    with pytest.raises(SoiltrendError, match=r"3 values of Old .* and none to be moved"):
        across(rows, bridge=built)
    extra = rows.iloc[[0]].assign(sample="x", bed="x")
    moved = across(pd.concat([rows, extra]), bridge=built)
    back = bridge(rows, analyte="P", of=NEW, to=OLD)
    with pytest.raises(SoiltrendError, match="crossed a bridge already"):
        across(moved, bridge=back)


def test_how_it_shows_itself():
    """Text and HTML name the bridge; HTML says why."""
    built = bridge(splits([40.0, 60.0, 100.0], [44.0, 66.0, 110.0]), analyte="P", of=OLD, to=NEW)
    assert repr(built).startswith("Bridge for P from Old (Olsen) to New (Olsen), by 3 split samples")
    assert "3 buckets of spring 2024 were measured by both" in built._repr_html_()


@pytest.fixture(scope="module")
def garden():
    return open_garden(DATA / "oxmarrow-steps")


@pytest.fixture(scope="module")
def planted():
    """The demo's own module of soil truths."""
    sys.path.insert(0, str(DATA))
    module = importlib.import_module("soil")
    sys.path.remove(str(DATA))
    return module


def test_the_demo_splits_show_the_planted_bias(garden, planted):
    """Kestholm reads high or low as planted: within the interval for nine of ten analytes or more."""
    model = noise_model(garden.results, samples=garden.samples)
    bias = planted.BIAS[planted.KESTHOLM]
    sides = [(lab, "Mehlich-3") for lab in (planted.ORRELBY, planted.KESTHOLM)]
    rows = {
        name: bridge(garden.results, analyte=name, of=sides[0], to=sides[1], noise=model).table.iloc[0]
        for name in planted.ELEMENTS
    }
    assert {name: row["n"] for name, row in rows.items()} == dict.fromkeys(planted.ELEMENTS, 8) | {"B": 7}
    inside = [row["low"] <= bias.get(name, 0.0) <= row["high"] for name, row in rows.items()]
    assert np.mean(inside) >= 0.9
    apart = np.array([row["offset"] - bias.get(name, 0.0) for name, row in rows.items()])
    assert (np.abs(apart) <= 3 * np.array([row["se"] for row in rows.values()])).all()


def test_the_demo_change_of_ph_medium(garden, planted):
    """Calcium chloride reads 0.5 to 1.0 below water (Kissel et al. 2009, CSSPA; from memory)."""
    of, to = (planted.ORRELBY, "water 1:1"), (planted.KESTHOLM, "CaCl2")
    row = bridge(garden.results, analyte="pH", of=of, to=to, samples=garden.samples).table.iloc[0]
    assert row["low"] <= -0.5 <= row["high"]
    assert row["high"] < 0


def test_the_demo_autumn_is_moved(garden, planted):
    """Autumn 2024 went to Kestholm; moved, it joins the series of Orrelby, and the splits stay."""
    of, to = (planted.KESTHOLM, "Mehlich-3"), (planted.ORRELBY, "Mehlich-3")
    built = bridge(garden.results, analyte="K", of=of, to=to, samples=garden.samples)
    after = across(garden.results, bridge=built)
    moved = after[after["bridged_sd"] > 0]
    assert set(moved["season"]) == {"autumn 2024"}
    assert set(moved["lab"]) == {planted.ORRELBY}
    assert len(moved) == 8
