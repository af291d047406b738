"""Odd values: slips, spikes, dirty buckets and swapped bags are found; change and noise are not."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from soiltrend import frames, tables, vocabulary
from soiltrend.errors import FrameError
from soiltrend.garden import open_garden
from soiltrend.noise import noise_model
from soiltrend.odd import Odd, odd
from soiltrend.odd.alone import departures
from soiltrend.odd.core import RATE
from soiltrend.odd.together import bags, high_together, swaps
from soiltrend.simulate import Design, simulate_garden

DEMO = Path(__file__).parents[1] / "data_demo" / "oxmarrow-steps"
LEVELS = {"pH": 6.4, "OM": 5.0, "K": 150.0, "Mg": 180.0, "Zn": 4.0, "Cu": 1.5, "B": 0.7}
SEASONS = tuple(f"{name} {year}" for year in range(2020, 2023) for name in ("spring", "autumn"))
MODEL = noise_model()
STIR = np.array([1.0, 1.06, 0.95, 1.02, 0.97, 1.04, 0.99, 1.03])
"""Small movements of an ordinary series, as shares."""


def years(values, *, analyte="Mg", bed="East", month="04", start=2016, **changes):
    """Return one value a year of one series."""
    return [
        {
            "bed": bed,
            "sampled": f"{start + i}-{month}-10",
            "season": f"{'spring' if month == '04' else 'autumn'} {start + i}",
            "analyte": analyte,
            "value": value,
            "unit": vocabulary.canonical_unit(analyte),
            "lab": "L",
            "sample": f"{bed} {start + i}",
        }
        | changes
        for i, value in enumerate(values)
    ]


def found(rows, **given):
    """Return the odd values of the rows by the table's own noise."""
    return odd(frames.results(rows), noise=MODEL, **given).table


def garden(seed, *, apart=0.0, **changes):
    """Return a simulated garden; with ``apart`` its beds lie that far apart on logarithms."""
    rows = simulate_garden(seed=seed, design=Design(beds=4, seasons=SEASONS, levels=LEVELS), **changes)
    rng = np.random.default_rng(seed + 1000)
    for name in ("K", "Mg", "Zn", "Cu", "B"):
        factor = dict(zip(rows["bed"].unique(), np.exp(apart * rng.permutation(4)), strict=True))
        rows["value"] *= np.where(rows["analyte"] == name, rows["bed"].map(factor), 1.0)
    return rows


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (10, "divided by 10"),
        (100, "divided by 100"),
        (1000, "divided by 1,000"),
        (0.1, "times 10"),
        (0.01, "times 100"),
    ],
)
@pytest.mark.parametrize(("analyte", "level"), [("Mg", 180.0), ("OM", 5.0), ("B", 0.7)])
def test_a_slip_of_the_decimal_point(analyte, level, factor, words):
    """A value off by a power of ten is named as such, with what to do; nothing else of its series is."""
    values = level * STIR
    values[3] *= factor
    table = found(years(values, analyte=analyte))
    assert table[["season", "value", "kind"]].to_numpy().tolist() == [
        ["spring 2019", values[3], "decimal slip?"]
    ]
    assert f"It would fit the other tests {words}," in table["why"][0]
    assert table["why"][0].endswith("Ask the laboratory to run it again")


def test_a_lone_spike_is_no_slip():
    """Three and a half times is far from its own, and not near any power of ten."""
    values = 180.0 * STIR
    values[3] *= 3.5
    table = found(years(values))
    assert table["kind"].tolist() == ["far from its own"]
    assert table["times"][0] > 0
    assert table["expected"][0] == pytest.approx(values.max(where=values < 400, initial=0), rel=0.05)


def test_zinc_alone_is_given_its_usual_cause():
    """A single high zinc brings the hint of the table of contamination, a low one does not."""
    for factor, hinted in ((5.0, True), (1 / 5.0, False)):
        values = 4.0 * STIR
        values[3] *= factor
        why = found(years(values, analyte="Zn"))["why"]
        assert len(why) == 1
        assert ("galvanised" in why[0]) == hinted


@pytest.mark.parametrize(
    "values",
    [
        100.0 * 1.4 ** np.arange(8),
        100.0 * 1.4 ** -np.arange(8.0),
        np.repeat([100.0, 400.0], 4),
        np.repeat([400.0, 100.0], [6, 2]),
    ],
    ids=["rises", "falls", "step", "late step"],
)
def test_a_steady_change_or_a_new_level_is_not_odd(values):
    """A line and a step leave every value beside one that it fits."""
    assert found(years(values * STIR)).empty


def test_spring_and_autumn_at_their_own_levels():
    """A swing between seasons is not odd, and a spring value is held against springs."""
    rows = years(100.0 * STIR, analyte="K") + years(220.0 * STIR, analyte="K", month="10")
    assert found(rows).empty
    rows[3]["value"] = 1000.0
    assert found(rows)["expected"].tolist() == pytest.approx([219.0], rel=0.1)


def test_three_others_are_needed():
    """Three values of a series are not looked at, four are; what is left is counted."""
    few, enough = (
        odd(frames.results(years([100.0, 100.0, 1000.0, 100.0][-n:])), noise=MODEL) for n in (3, 4)
    )
    assert (few.looked_at, few.left, len(few.table)) == (0, 3, 0)
    assert (enough.looked_at, enough.left, len(enough.table)) == (4, 0, 1)


@pytest.mark.parametrize("column", ["method", "lab", "bottom_cm"])
def test_another_method_laboratory_or_layer_is_another_series(column):
    """Nothing is held against what cannot be compared with it."""
    rows = years(100.0 * STIR[:4]) + years(
        [1000.0], start=2020, **{column: 30.0 if column == "bottom_cm" else "other"}
    )
    assert found(rows).empty


def test_limits_sums_and_observations_are_not_looked_at():
    """A value beyond a limit, a derived row and a count of earthworms give no finding and are no evidence."""
    values = [5.0, 5.0, 500.0, 5.0, 5.0]
    rows = years(values, analyte="earthworms") + years(values, source="computed") + years(values, bed="W")
    for row in rows[10:]:
        row["qualifier"] = "<"
    result = odd(frames.results(rows), noise=MODEL)
    assert (result.looked_at, result.left, len(result.table)) == (0, 5, 0)


def test_a_value_at_the_end_may_be_a_true_change():
    """The latest value has nothing after it to confirm it, which is said."""
    why = found(years([*(100.0 * STIR[:6]), 420.0]))["why"][0]
    assert "the latest of its series: a true change would look the same" in why


def test_line_through_the_others_is_that_of_theil_and_sen():
    """The nearest that a rising series allows is scipy's median line of the other values."""
    y = np.log(100.0 * 1.3 ** np.arange(8)) + 0.02 * np.sin(np.arange(8.0))
    y[-1] += 2.0
    rows = departures(frames.results(years(np.exp(y))), MODEL)
    time = rows["time"].to_numpy()
    line = stats.theilslopes(y[:7], time[:7], method="joint")
    assert rows["nearest"].iloc[-1] == pytest.approx(line.intercept + line.slope * time[-1])
    assert rows["middle"].iloc[-1] == pytest.approx(np.median(y[:7]))


def test_p_and_false_discoveries_by_scipy():
    """p is Student's (scipy) for the noise of value and middle; its Benjamini-Hochberg is ours."""
    results = garden(4)
    place = results.index[(results["analyte"] == "Mg") & (results["bed"] == "bed 2")][2]
    results.loc[place, "value"] *= 3.0
    rows = departures(results, MODEL)
    known = MODEL.of(rows)
    one = np.hypot(known["sd"], known["occasion"])
    season = np.where(rows["like"] > 0, 0.0, known["season"])
    mine = (rows["analyte"] != "OM").to_numpy()  # whose noise is a share of the level
    spread = np.hypot(one, season) * np.sqrt(1 + np.pi / 2 / rows["others"])
    assert rows["times"][mine].to_numpy() == pytest.approx(
        ((rows["y"] - rows["nearest"]) / spread)[mine].to_numpy()
    )
    p = 2 * stats.t.sf(rows["times"].abs() / rows["restless"], rows["df"])
    assert rows["p"].to_numpy() == pytest.approx(p)
    expected = rows[stats.false_discovery_control(p) <= RATE / 3]
    table = odd(results, noise=MODEL).table
    assert len(expected) > 0
    assert sorted(table["place"] + table["bed"] + table["analyte"]) == sorted(
        expected["place"] + expected["bed"] + expected["analyte"]
    )


def test_a_restless_kind_is_held_to_its_own_scatter():
    """Where every value of a kind scatters by five times its noise, none of them is odd."""
    rng = np.random.default_rng(8)
    rows = [
        row
        for bed in range(6)
        for row in years(np.exp(rng.normal(5, 0.5, 8)), bed=f"bed {bed}", analyte="Mg")
    ]
    measured = departures(frames.results(rows), MODEL)
    assert measured["restless"].iloc[0] > 1.5
    assert (2 * stats.t.sf(measured["times"].abs(), measured["df"])).min() < 1e-4
    assert found(rows).empty


def dirty(factor=2.1, names=("Zn", "Cu", "B")):
    """Return a garden in which one sample has traces high together, each too little to stand out alone."""
    results = garden(21)
    sample = results["sample"] == results["sample"].unique()[7]
    results.loc[sample & results["analyte"].isin(names), "value"] *= factor
    return results, results[sample]


def test_traces_high_together_point_to_bucket_or_bag():
    """Zinc, copper and boron of one sample up together are one finding, with where each comes from."""
    results, sample = dirty()
    table = odd(results, noise=MODEL).table
    assert set(table["kind"]) == {"bucket or bag?"}
    assert set(table["sample"]) == set(sample["sample"])
    assert set(table["analyte"]) == {"Zn", "Cu", "B"}
    assert (table["times"] >= 2).all()
    assert table["why"].str.contains("a galvanised bucket or tool.*a brass|a brass.*a galvanised").all()
    assert table["why"].str.endswith("or ask the laboratory to run it again").all()
    assert table["why"].str.contains("Cooperative Extension").all()


def test_traces_low_together_are_no_dirt():
    """Nothing in a bucket takes zinc away."""
    results, _ = dirty(factor=1 / 2.1)
    assert "bucket or bag?" not in set(odd(results, noise=MODEL).table["kind"])


def test_chance_of_two_high_traces_by_scipy():
    """That two of n traces are so high by noise is the upper tail of scipy's binomial."""
    rows = pd.DataFrame(
        {
            "bag": [0, 0, 0, 1, 1, 2],
            "analyte": ["Zn", "Cu", "B", "Zn", "Cu", "Zn"],
            "times": [3.0, 2.0, 0.5, 1.0, -4.0, 9.0],
            "df": 15.0,
            "restless": 1.0,
        }
    )
    got = high_together(rows, ("Zn", "Cu", "B"))
    assert got.index.tolist() == [0, 1]
    assert got.loc[0, "p"] == pytest.approx(stats.binom.sf(1, 3, stats.t.sf(2.0, 15)))
    assert got.loc[1, "p"] == 1.0


def swapped(seed=5, *, apart=0.9, season="autumn 2021"):
    """Return a garden in which the bags of two beds changed places once."""
    results = garden(seed, apart=apart)
    now = results["season"] == season
    results["bed"] = results["bed"].where(~now, results["bed"].replace({"bed 2": "bed 3", "bed 3": "bed 2"}))
    return results


def test_swapped_bags_are_found():
    """Two bags that each fit the other bed are both named, and the other beds are left alone."""
    table = odd(swapped(), noise=MODEL).table
    assert set(table["kind"]) == {"bags swapped?"}
    assert set(table["bed"]) == {"bed 2", "bed 3"}
    assert set(table["season"]) == {"autumn 2021"}
    assert table["why"].str.contains("The bags of bed [23] and bed [23] may have been swapped").all()
    assert table["why"].str.endswith("ask the laboratory to run both again").all()


def test_restless_measures_tell_bags_apart_less():
    """Where values scatter by a fifth more than their noise, swapped bags are found less surely."""
    rows = departures(swapped(), MODEL)
    rows["bag"] = bags(rows)
    calm, wild = (swaps(rows.assign(restless=factor)) for factor in (1.0, 1.2))
    worst = calm["p"].idxmin()
    pair = wild[(wild["first"] == calm["first"][worst]) & (wild["second"] == calm["second"][worst])].iloc[0]
    assert {pair["first_bed"], pair["second_bed"]} == {"bed 2", "bed 3"}
    assert calm["p"][worst] < pair["p"] < 0.01


def test_beds_that_are_alike_cannot_be_told_apart():
    """Swapped bags of beds with like soil are no finding: nobody could see it."""
    assert "bags swapped?" not in set(odd(swapped(apart=0.0), noise=MODEL).table["kind"])


def test_one_bed_that_moved_is_not_swapped():
    """A bed raised to its neighbour's level leaves the neighbour where it was."""
    results = garden(5, apart=0.9)
    now = results["season"] == "autumn 2021"
    other = results[now & (results["bed"] == "bed 3")].set_index("analyte")["value"]
    mine = now & (results["bed"] == "bed 2")
    results.loc[mine, "value"] = results.loc[mine, "analyte"].map(other)
    kinds = set(odd(results, noise=MODEL).table["kind"])
    assert kinds
    assert "bags swapped?" not in kinds


GARDENS = 100


@pytest.mark.parametrize("apart", [0.0, 0.9])
def test_a_garden_without_slips_seldom_has_a_finding(apart):
    """At most 5 % of gardens of plain noise show anything, give or take 3 binomial standard errors."""
    any_found = [len(odd(garden(seed, apart=apart), noise=MODEL).table) > 0 for seed in range(GARDENS // 2)]
    assert np.mean(any_found) <= RATE + 3 * np.sqrt(RATE * (1 - RATE) / len(any_found))


def test_each_look_holds_its_level():
    """At a level of 5 % the p-values of values, samples and pairs fall below it in at most 5 %."""
    parts = [garden(seed, apart=0.5).assign(lab=f"garden {seed}") for seed in range(GARDENS)]
    rows = departures(pd.concat(parts, ignore_index=True), MODEL)
    rows["bag"] = bags(rows)
    looks = (
        rows["p"],
        high_together(rows, tuple(tables.load("contamination")["analyte"]))["p"],
        swaps(rows)["p"],
    )
    for p in looks:
        assert len(p) >= 10 * GARDENS
        assert (p <= 0.05).mean() <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / GARDENS)


def test_slips_are_found_in_nearly_every_garden():
    """One tenfold Mg among 168 values is found in at least 95 % of gardens."""
    seen = []
    for seed in range(30):
        results = garden(seed)
        at = results.index[results["analyte"] == "Mg"][7 + seed % 10]
        results.loc[at, "value"] *= 10
        table = odd(results, noise=MODEL).table
        seen.append(((table["value"] == results.loc[at, "value"]) & (table["kind"] == "decimal slip?")).any())
    assert np.mean(seen) >= 0.95


def test_the_demo_garden():
    """The Mg printed ten times too high is found, and hardly anything else in over 1,000 values."""
    opened = open_garden(DEMO)
    result = odd(opened.results, noise=noise_model(opened.results, samples=opened.samples))
    slip = result.table.iloc[0]
    assert slip[["bed", "season", "analyte", "kind"]].tolist() == [
        "Plum",
        "autumn 2025",
        "Mg",
        "decimal slip?",
    ]
    assert slip["source"].startswith("reports/")
    assert slip["place"]
    assert result.looked_at > 1000
    assert len(result.table) <= 5


def test_values_stay_as_they_are():
    """The frame that was given is not changed, and the finding shows the value as it stands in it."""
    results = swapped()
    before = results.copy(deep=True)
    table = odd(results, noise=MODEL).table
    pd.testing.assert_frame_equal(results, before)
    assert table["value"].isin(results["value"]).all()


def test_a_frame_that_is_not_tidy():
    """An untidy frame is refused with what is wrong in it."""
    with pytest.raises(FrameError, match="column 'lab' is missing"):
        odd(frames.results(years([1.0])).drop(columns="lab"))


def test_how_it_shows_itself():
    """The title counts; an empty result is a table without rows; text is escaped."""
    none = odd(frames.results(years(100.0 * STIR)))
    assert isinstance(none, Odd)
    few = repr(odd(frames.results(years([100.0, 101.0]))))
    assert few.startswith("Nothing could be judged yet: 2 values with fewer than 3 others")
    assert repr(none).startswith("0 odd of 8 values (0 more have fewer than 3 others")
    one = odd(frames.results(years([100.0, 100.0, 1000.0, 100.0], bed="<b>")))
    assert "&lt;b&gt;" in one._repr_html_()


def test_contamination_names_traces_of_the_vocabulary():
    """Each row of the table is a known analyte, once, with a cause and a remedy."""
    table = tables.load("contamination")
    assert table["analyte"].is_unique
    assert all(vocabulary.facts(name) for name in table["analyte"])
    assert (table[["from", "instead"]] != "").all(axis=None)
