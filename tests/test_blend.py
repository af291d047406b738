"""Mixtures toward a C:N and a moisture, against published worked examples and exhaustive search."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st_

import soiltrend as st
from soiltrend.blend import blend
from soiltrend.blend.ingredients import bucket_litres, heap
from soiltrend.blend.solve import Problem, misfit, solve
from soiltrend.errors import SoiltrendError
from soiltrend.materials import known_materials, released, warnings_of

GRASS = {"material": "grass", "moisture": 77, "C": 45, "N": 2.4}
LEAVES = {"material": "leaves", "moisture": 35, "C": 50, "N": 0.75}


# Published worked examples


def test_wet_clippings_hold_little_that_is_dry():
    """10 g of clippings dry to 2.3 g (Cornell Waste Management Institute, as reprinted)."""
    table = blend([{**GRASS, "kg": 10}]).table
    assert table["dry_kg"].tolist() == pytest.approx([2.3])


def test_leaves_for_ten_kilograms_of_grass():
    """C:N 30 wants 3.5 kg of leaves (the same series; its numbers from memory), exactly 3.474."""
    mixed = blend([{**GRASS, "kg": 10}, LEAVES], cn=30, moisture=None)
    assert mixed.table["kg"].iloc[1] == pytest.approx(3.474, abs=5e-4)
    assert mixed.met
    assert mixed.cn == pytest.approx(30.0)
    assert mixed.moisture == pytest.approx(66.2, abs=0.05)


def test_the_published_formulas_for_two_ingredients():
    """Q2 = Q1(G-M1)/(M2-G) and the one for C:N (Cornell Waste Management Institute 1996, calc/2)."""
    wet = blend([{**GRASS, "kg": 10}, LEAVES], cn=None, moisture=60)
    assert wet.table["kg"].iloc[1] == pytest.approx(10 * (60 - 77) / (35 - 60))
    ratio = blend([{**GRASS, "kg": 10}, LEAVES], cn=25, moisture=None)
    wanted = 10 * 2.4 * (25 - 45 / 2.4) * (100 - 77) / (0.75 * (50 / 0.75 - 25) * (100 - 35))
    assert ratio.table["kg"].iloc[1] == pytest.approx(wanted)


def test_two_ingredients_cannot_meet_two_aims():
    """At C:N 30 grass and leaves are 66.2 % wet, and it is said what each aim alone would bring."""
    mixed = blend([{**GRASS, "kg": 10}, LEAVES])
    assert not mixed.met
    assert mixed.why.startswith("Both cannot be met with these; the nearest is C:N 32.4 at 64.0 % moisture")
    assert "C:N 30.0 alone would come with 66.2 % moisture" in mixed.why
    assert "60.0 % moisture alone would come with C:N 36.7" in mixed.why


@pytest.mark.parametrize(("cn", "nitrogen"), [(15, 2.7), (20, 2.0), (50, 0.8), (100, 0.4), (500, 0.08)])
def test_nitrogen_from_a_ratio_alone(cn, nitrogen):
    """With 40 % carbon taken for granted (USDA-ARS/NRCS Akron, Feeding the soil), and that is said."""
    table = blend([{"material": "something", "CN": cn, "moisture": 0, "kg": 100}]).table
    assert table["N_kg"].iloc[0] == pytest.approx(nitrogen, abs=0.05 if nitrogen > 1 else 0.005)
    assert table["assumed"].iloc[0] == "carbon taken as 40 % of dry matter"


def test_each_row_bears_its_unit_and_says_why_there_is_so_much():
    """What was given, what the aims ask and within which bounds, and what was taken for granted."""
    grass = {"material": "grass", "moisture": 77, "C": 45, "N": 2.4}
    rest = [{"material": "leaves", "moisture": 35, "C": 50, "N": 0.75, "max": 9.0},
            {"material": "stalks", "CN": 60, "moisture": 12}]  # fmt: skip
    mixed = blend([grass | {"kg": 10}, *rest], moisture=None)
    assert set(mixed.table["unit"]) == {"kg"}
    assert mixed.table["why"].tolist() == [
        "10.0 kg as given; what is not given is as grass clippings in the tables",
        "as the aims ask, between 0 kg and 9.00 kg; what is not given is as tree leaves in the tables",
        "as the aims ask; carbon taken as 40 % of dry matter",
    ]
    assert "as the aims ask" not in repr(mixed)


def test_a_pound_of_nitrogen():
    """Of a 12 % material about 8 lb bring 1 lb of N (Oregon State Univ. Extension, Penhallegon)."""
    table = blend([{"material": "meal", "N": 12, "C": 45, "moisture": 0, "kg": 8.33}]).table
    assert table["N_kg"].iloc[0] == pytest.approx(1.0, abs=0.005)


def test_the_average_of_ratios_is_wrong():
    """Two parts of 20:1 and one of 60:1 average to 33 (a gardening page), and hold 25.7."""
    twenty = {"material": "a", "CN": 20, "C": 40, "moisture": 50, "density": 0.3, "kg": 2}
    sixty = {"material": "b", "CN": 60, "C": 40, "moisture": 50, "density": 0.3, "kg": 1}
    mixed = blend([twenty, sixty])
    ways = mixed.averaging.table.set_index("way")["C_N"]
    assert ways["carbon over nitrogen"] == pytest.approx(3 / (2 / 20 + 1 / 60))
    assert ways["carbon over nitrogen"] == pytest.approx(25.7, abs=0.05)
    assert ways["ratios averaged by wet weight"] == pytest.approx(33.3, abs=0.05)
    assert ways["ratios averaged by nitrogen"] == pytest.approx(ways["carbon over nitrogen"])
    assert "Averaging the ratios by wet weight would have said 33.3 instead of 25.7" in mixed.why


def test_no_lesson_where_the_average_is_near():
    """Of like materials the average is near enough, and nothing is said."""
    assert "Averaging" not in blend([{**GRASS, "kg": 1}, {**GRASS, "material": "more grass", "kg": 1}]).why


# Conservation

percent = st_.floats(0.1, 5.0)
mixture = st_.lists(
    st_.tuples(st_.floats(0, 95), st_.floats(20, 55), percent, st_.floats(0.1, 500)), min_size=1, max_size=4
)


@settings(max_examples=15, deadline=None)
@given(mixture)
def test_carbon_nitrogen_and_water_are_conserved(rows):
    """The sums are those of Q (100-M) C, to rounding, and the analysis of the whole says the same."""
    told = [
        {"material": f"m{n}", "moisture": m, "C": c, "N": x, "kg": q, "density": 0.5}
        for n, (m, c, x, q) in enumerate(rows)
    ]
    mixed = blend(told, cn=None, moisture=None)
    wet, carbon, nitrogen, kg = np.array(rows).T
    dry = kg * (1 - wet / 100)
    assert mixed.table["C_kg"].sum() == pytest.approx((dry * carbon).sum() / 100)
    assert mixed.cn == pytest.approx((dry * carbon).sum() / (dry * nitrogen).sum())
    row = mixed.analysis.iloc[0]
    whole = mixed.table["kg"].sum() * (1 - row["moisture"] / 100)
    assert whole * row["C"] / 100 == pytest.approx(mixed.table["C_kg"].sum())
    assert whole * row["N"] / 100 == pytest.approx(mixed.table["N_kg"].sum())
    assert row["density"] == pytest.approx(0.5)
    for name in ("C", "N", "moisture"):
        assert row[f"{name}_low"] <= row[name] <= row[f"{name}_high"]


# Against other ways to find the answer


def problem(rows, *, low=None, high=None, cn=30.0, moisture=0.6):
    """Return a problem of (moisture, C, N) rows."""
    wet, carbon, nitrogen = np.array(rows, dtype=float).T
    dry = 1 - wet / 100
    count = len(rows)
    return Problem(
        dry * carbon / 100,
        dry * nitrogen / 100,
        wet / 100,
        np.zeros(count) if low is None else np.array(low, dtype=float),
        np.full(count, np.inf) if high is None else np.array(high, dtype=float),
        cn,
        moisture,
        (10.0, 0.125),
    )


def simplex(steps):
    """Return every share of three parts on a grid."""
    return [np.array([a, b, steps - a - b]) / steps for a in range(steps + 1) for b in range(steps + 1 - a)]


@pytest.mark.parametrize(
    "rows",
    [
        [(77, 45, 2.4), (35, 50, 0.75), (80, 41, 3.2)],
        [(10, 42, 0.5), (13, 44, 0.6), (14, 44, 1.4)],
        [(85, 41, 2.6), (88, 38, 3.3), (68, 34, 4.5)],
        [(33, 49, 0.12), (35, 49, 0.1), (60, 42, 1.0)],
    ],
)
def test_the_nearest_is_as_near_as_an_exhaustive_search_finds(rows):
    """Nothing on a grid of a hundredth is nearer to both aims."""
    task = problem(rows)
    kg, met = solve(task)
    grid = min((misfit(task, share) ** 2).sum() for share in simplex(100) if share @ task.nitrogen > 0)
    assert not met
    assert (misfit(task, kg) ** 2).sum() <= grid + 1e-9
    assert (misfit(task, kg) ** 2).sum() == pytest.approx(grid, rel=0.05)


@pytest.mark.parametrize("most", [2.0, 4.0, 50.0])
def test_the_nearest_within_bounds(most):
    """Beside 10 kg of grass, with as much leaves and straw as there is, against a search over both."""
    rows = [(77, 45, 2.4), (35, 50, 0.75), (10, 42.5, 0.53)]
    task = problem(rows, low=[10, 0, 0], high=[10, most, 1.0], moisture=0.45)
    kg, met = solve(task)
    search = [
        (misfit(task, np.array([10.0, leaves, straw])) ** 2).sum()
        for leaves in np.linspace(0, most, 201)
        for straw in np.linspace(0, 1.0, 41)
    ]
    assert not met
    assert (kg >= task.low - 1e-9).all()
    assert (kg <= task.high + 1e-9).all()
    assert (misfit(task, kg) ** 2).sum() <= min(search) + 1e-9
    assert (misfit(task, kg) ** 2).sum() == pytest.approx(min(search), rel=0.02)


def test_three_ingredients_and_two_aims_have_one_answer():
    """Solved by elimination (numpy.linalg) it is the same."""
    rows = [(27, 40, 4.2), (10, 42.5, 0.53), (100, 0, 0)]
    task = problem(rows)
    kg, met = solve(task)
    wanted = np.linalg.solve(np.vstack([task.balances, np.ones(3)]), [0, 0, 100])
    assert met
    assert kg == pytest.approx(wanted)


def test_beside_fixed_amounts_the_work_is_shared():
    """Of all that would do the job, the largest part is as small as can be (search along the line)."""
    rows = [(77, 45, 2.4), (27, 40, 4.2), (10, 42.5, 0.53), (14, 44, 1.4)]
    task = problem(rows, low=[10, 0, 0, 0], high=[10, np.inf, np.inf, np.inf])
    kg, met = solve(task)
    one = np.linalg.lstsq(task.balances[:, 1:], -10 * task.balances[:, 0], rcond=None)[0]
    along = np.linalg.svd(task.balances[:, 1:])[2][-1]
    line = one + np.linspace(-50, 50, 200_001)[:, None] * along
    largest = line[(line >= -1e-9).all(axis=1)].max(axis=1)
    assert met
    assert len(largest) > 100
    assert kg[1:].max() == pytest.approx(largest.min(), abs=2e-3)


def test_bounds_that_can_be_met_are_met():
    """Both aims with least and most amounts, all held."""
    told = [
        {**GRASS, "kg": 20},
        {"material": "tree leaves", "min": 1, "max": 4},
        {"material": "wheat straw", "max": 8},
        {"material": "poultry litter", "max": 3},
    ]
    mixed = blend(told)
    assert mixed.met
    assert (mixed.cn, mixed.moisture) == (pytest.approx(30), pytest.approx(60))
    assert 1 <= mixed.table["kg"].iloc[1] <= 4
    assert mixed.table["kg"].iloc[2] <= 8


def test_upper_bounds_alone_scale_the_proportions():
    """With nothing fixed the proportions are those without bounds, as large as the bound allows."""
    free = blend(["poultry litter", "tree leaves", "wheat straw", "water"])
    held = blend(["poultry litter", {"material": "tree leaves", "max": 5}, "wheat straw", "water"])
    assert free.met
    assert held.table["kg"].iloc[1] == pytest.approx(5)
    assert (held.table["kg"] / free.table["kg"]).std() == pytest.approx(0, abs=1e-9)


# What is said


def test_amounts_in_buckets_and_litres():
    """A bucket is ten litres (tables/measures.csv), and a litre weighs its density."""
    assert bucket_litres() == 10.0
    table = blend(
        [{**GRASS, "density": 0.2, "buckets": 3}, {**LEAVES, "density": 0.1, "litres": 50}], cn=None
    ).table
    assert table["kg"].tolist() == pytest.approx([6.0, 5.0])
    assert table["buckets"].tolist() == pytest.approx([3.0, 5.0])


def test_a_dry_heap_is_told_its_water():
    """So much water brings it to the moisture wanted: and it does."""
    dry = blend([{"material": "wheat straw", "kg": 10}])
    assert "12.5 L of water would bring it to 60.0 %" in dry.why
    wet = blend([{"material": "wheat straw", "kg": 10}, {"material": "water", "kg": 12.5}], cn=None)
    assert wet.moisture == pytest.approx(60.0)
    assert wet.met


def test_out_of_the_acceptable_range_is_said():
    """C:N 20 to 40 and 40 to 65 % moisture (Cooperband 2002)."""
    assert (heap("C:N").low, heap("C:N").high, heap("moisture").high) == (20, 40, 65)
    assert "C:N 80.2 is outside the acceptable 20 to 40" in blend([{"material": "wheat straw", "kg": 1}]).why


def test_a_carbon_without_nitrogen_has_no_limit():
    """C:N of pure carbon is endless, not an error."""
    mixed = blend([{"material": "pure", "C": 40, "N": 0, "moisture": 10, "kg": 1}], cn=None, moisture=None)
    assert mixed.cn == np.inf


def test_names_dicts_and_tables_are_one():
    """The same ingredients in three forms give the same blend."""
    names = blend(["grass clippings", "tree leaves"], cn=30, moisture=None).table
    dicts = blend([{"material": "grass clippings"}, {"material": "tree leaves"}], cn=30, moisture=None).table
    frame = pd.DataFrame({"material": ["grass clippings", "tree leaves"], "kg": [np.nan, np.nan]})
    pd.testing.assert_frame_equal(names, dicts)
    pd.testing.assert_frame_equal(names, blend(frame, cn=30, moisture=None).table)


def test_own_figures_win():
    """The grower's row goes before the reference row of that name."""
    own = pd.DataFrame({"material": ["tree leaves"], "N": [2.0], "measured": ["yes"]})
    mixed = blend([{"material": "tree leaves", "kg": 10}], own=own)
    assert mixed.table["CN"].iloc[0] == pytest.approx(48 / 2.0)


def test_the_interval_comes_from_the_ranges():
    """Of one material it is that of C over N, drawn apart (numpy's triangular as reference)."""
    mixed = blend([{"material": "tree leaves", "kg": 1}])
    rng = np.random.default_rng(99)
    ratio = rng.triangular(36.3, 48, 51.6, 200_000) / rng.triangular(0.66, 0.94, 1.62, 200_000)
    low, high = np.percentile(ratio, [2.5, 97.5])
    assert (mixed.cn_low, mixed.cn_high) == (pytest.approx(low, rel=0.05), pytest.approx(high, rel=0.05))


def test_a_measured_material_is_surer():
    """A laboratory's figure has the narrower spread."""
    guessed, tested = (blend([{**GRASS, "kg": 1, "measured": measured}]) for measured in ("no", "yes"))
    assert tested.cn_high - tested.cn_low < 0.6 * (guessed.cn_high - guessed.cn_low)


def test_the_same_seed_the_same_interval():
    """Draws are seeded."""
    one, two = (blend(["grass", "leaves"]) for _ in range(2))
    assert (one.cn_low, one.moisture_high) == (two.cn_low, two.moisture_high)


# A blend as a material


def test_a_blend_becomes_a_material():
    """Appended to the grower's materials it is known, comes free by its class, and is warned about."""
    mixed = blend(["grass clippings", "rotted manure", "straw"], name="spring heap")
    own = pd.concat([pd.DataFrame({"material": ["gypsum"], "Ca": [21.4]}), mixed.analysis], ignore_index=True)
    row = known_materials(own).loc["spring heap"]
    assert row["C"] / row["N"] == pytest.approx(mixed.cn)
    assert row["origin"] == "own"
    assert 0 < row["P_low"] < row["P"] < row["P_high"]
    assert released(row, years=1)["P"][1] > 0
    assert set(warnings_of(row)["caution"]) >= {"phosphorus", "nitrogen tie-up"}
    again = blend([{"material": "spring heap", "kg": 10}], own=own)
    assert again.cn == pytest.approx(mixed.cn)


def test_what_is_not_known_of_a_part_is_not_known_of_the_whole():
    """No nutrient is counted as nothing; one that none of the used parts lacks is known."""
    mixed = blend([{**GRASS, "material": "my grass", "kg": 10}, {"material": "tree leaves", "kg": 5}])
    assert np.isnan(mixed.analysis["P"].iloc[0])
    assert np.isfinite(mixed.analysis["N"].iloc[0])


def test_it_shows_itself():
    """Title, table and reason, in text and in HTML."""
    mixed = blend(["grass", "leaves"], cn=30, moisture=None)
    assert repr(mixed).startswith("A blend of 100 kg: C:N 30.0 (")
    assert "<caption" in mixed._repr_html_()
    assert st.blend.__wrapped__ is blend


@pytest.mark.parametrize("part", [["water"], [{"material": "x", "kg": 3, "moisture": 10, "C": 40, "N": 0}]])
def test_a_mixture_without_nitrogen_has_no_ratio(part):
    """It is said, no gap is left where a number would stand, and there is no chart of it."""
    mixed = blend(part, cn=None)
    assert ": no C:N (nothing in it holds nitrogen), moisture" in repr(mixed)
    assert "the nearest is no C:N (nothing in it holds nitrogen) at" in mixed.why
    assert "C:N  " not in mixed.why
    with pytest.raises(SoiltrendError, match="so it has no C:N to tell or to draw"):
        st.chart_blend(mixed)


def test_a_part_without_nitrogen_is_told_to_have_no_ratio():
    """Water in a heap."""
    mixed = blend([{"material": "grass clippings", "kg": 5}, {"material": "water", "kg": 5}], cn=None)
    assert "water: 5.0 kg, C:N none" in st.chart_blend(mixed).words.description

# Refusals


@pytest.mark.parametrize(
    ("ingredients", "said"),
    [
        ([], "ingredients: there are none"),
        ([{"kg": 3}], "ingredient 1: .'kg': 3. names no material"),
        ([42], "ingredient 1: 42 names no material"),
        (
            [{"material": "grass", "litre": 3}],
            "ingredient 1: 'litre' is not a key known here .nearest: 'litres'",
        ),
        (["moondust"], "ingredient 1 'moondust': its moisture is not known"),
        ([{"material": "x", "moisture": 50, "C": 40}], "its N is not known"),
        ([{"material": "x", "moisture": 150, "C": 40, "N": 1}], "moisture = 150 is no number of at most 100"),
        ([{"material": "x", "moisture": "wet", "C": 40, "N": 1}], "moisture = 'wet' is no number"),
        ([{"material": "grass", "kg": [1, 2]}], r"kg = \[1, 2\] is no number from 0 up"),
        ([{"material": "grass", "kg": -1}], "kg = -1 is no number from 0 up"),
        ([{"material": "grass", "kg": 1, "litres": 3}], "kg = 1, litres = 3 say the amount twice"),
        ([{"material": "grass", "kg": 1, "max": 3}], "kg = 1, max = 3 say the amount twice"),
        ([{"material": "grass", "min": 4, "max": 3}], "min = 4 kg is above max = 3 kg"),
        ([{"material": "grass", "min": 4, "unit": "hats"}], "unit = 'hats' is not known here"),
        (
            [{"material": "x", "C": 40, "N": 1, "moisture": 5, "litres": 9}],
            "9 litres of 'x' cannot be weighed",
        ),
        ([{"material": "x", "C": 40, "N": 1, "CN": 60, "moisture": 5}], "CN = 60 does not agree with C = 40"),
        ([{"material": "x", "CN": 60, "N": 5, "moisture": 5}], "make 300 % carbon"),
        ([{"material": "x", "CN": 0, "N": 5, "moisture": 5}], "CN = 0 is no ratio"),
    ],
)
def test_what_cannot_be_understood_is_refused(ingredients, said):
    """The place, the value and what to do."""
    with pytest.raises(SoiltrendError, match=said):
        blend(ingredients)


@pytest.mark.parametrize("aims", [{"cn": -3}, {"moisture": 130}, {"cn": 0}, {"cn": np.inf}])
def test_an_aim_that_is_none_is_refused(aims):
    """The value is quoted."""
    with pytest.raises(SoiltrendError, match="is no aim"):
        blend(["grass"], **aims)


def test_nothing_to_mix_is_refused():
    """No aim and no amount make no blend."""
    with pytest.raises(SoiltrendError, match="2 ingredients and 0 kg make no blend"):
        blend(["grass", "leaves"], cn=None, moisture=None)


def test_what_comes_from_the_tables_is_said_to():
    """By the origin of each row: tables alone, the grower's own list for a part, what is given, and water."""
    mine = pd.DataFrame({"material": ["tree leaves"], "N": [1.1], "measured": ["yes"]})
    made = blend(["tree leaves", "grass clippings", {"material": "wheat straw", "N": 0.5}], own=mine)
    table = made.table.set_index("material")
    assert table["assumed"].to_dict() == {
        "tree leaves": "what your list lacks is as in the tables",
        "grass clippings": "all figures as in the tables",
        "wheat straw": "what is not given is as wheat straw in the tables",
    }
    assert table["why"]["grass clippings"].endswith("; all figures as in the tables")
    wet = blend(["tree leaves", "water"], cn=None).table.set_index("material")
    assert wet["assumed"]["water"] == ""
