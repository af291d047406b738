"""What changed, against hand arithmetic, published figures and simulated gardens of known truth."""

import numpy as np
import pandas as pd
import pytest
from calibration import Cell, gardens, judged
from scipy import stats

from soiltrend import frames, noise, verdicts
from soiltrend.compare import EXTRA, FIRST, compare
from soiltrend.compare.extremes import by_itself, extremes
from soiltrend.errors import SoiltrendError

SPRING, LATER, AUTUMN = (
    ("spring 2022", "2022-04-11"),
    ("spring 2024", "2024-04-11"),
    ("autumn 2024", "2024-10-11"),
)
ENDS = {"before": "spring 2022", "after": "spring 2024"}
UNITS = {"pH": "pH", "OM": "%", "K saturation": "%", "CEC": "cmol/kg"}


def rows(analyte, before, after, *, bed="East", later=LATER, **changes):
    """Return results of one bed: a value or a list of composites at each end."""
    return [
        {
            "bed": bed,
            "season": season,
            "sampled": day,
            "analyte": analyte,
            "value": value,
            "unit": UNITS.get(analyte, "mg/kg"),
            "method": "Olsen",
            "lab": "L",
        }
        | changes
        for (season, day), values in ((SPRING, before), (later, after))
        for value in np.atleast_1d(values)
    ]


def stated(**sd):
    """Return a noise model of known sds without occasion and season."""
    return noise.noise_model(overrides={name: {"sd": value, "occasion": 0.0} for name, value in sd.items()})


def first(results, *, model=None, **ends):
    return compare(frames.results(results), noise=model, **(ENDS | ends)).table.iloc[0]


@pytest.mark.parametrize(("n", "band"), [(1, 0.28), (2, 0.20), (3, 0.16), (5, 0.12)])
def test_band_of_n_composites(n, band):
    """1.96 sqrt(2/n) of 10 % or 0.1 pH (Ferrari & Vermeulen, NJAS); n = 1 is the limit of ISO 5725-6."""
    ph = first(rows("pH", [6.0] * n, [6.1] * n), model=stated(pH=0.1))
    assert ph["noise"] == pytest.approx(band, abs=0.005)
    k = first(rows("K", [100.0] * n, [110.0] * n), model=stated(K=0.1))
    assert np.log1p(k["noise"] / 100) == pytest.approx(1.959964 * 0.1 * np.sqrt(2 / n))


@pytest.mark.parametrize(("before", "after"), [("<", ""), ("", ">"), ("<", ">"), ("", "")])
def test_values_that_cannot_be_compared_are_shown_with_their_signs(before, after):
    """By two methods nothing is compared; what each end was is shown as printed, a limit as a limit."""
    results = rows("K", 40.0, 90.0)
    results[0] |= {"qualifier": before}
    results[1] |= {"qualifier": after, "method": "Mehlich-3"}
    found = first(results)
    assert found["verdict"] == "not comparable"
    assert found[["before_censored", "after_censored"]].tolist() == [before, after]
    assert found[["before", "after"]].tolist() == [40.0, 90.0]


def test_composites_that_cannot_be_compared_are_shown_by_their_mean():
    """The geometric mean of 40 and 90 is 60, and three composites are no more than one (scipy)."""
    results = rows("K", [40.0, 90.0], [100.0, 120.0, 80.0])
    for row in results[2:]:
        row["method"] = "Mehlich-3"
    found = first(results)
    assert found["verdict"] == "not comparable"
    assert found[["before", "after"]].tolist() == pytest.approx([60.0, stats.gmean([100.0, 120.0, 80.0])])


def test_normal_interval_of_two_means():
    """With known noise the interval is scipy's normal interval on the logarithms, turned back into ratios."""
    before, after = [90.0, 110.0], [150.0, 140.0, 160.0]
    found = first(rows("K", before, after), model=stated(K=0.12))
    low, high = stats.norm.interval(
        0.95, np.log(after).mean() - np.log(before).mean(), 0.12 * np.sqrt(1 / 2 + 1 / 3)
    )
    start = stats.gmean(before)
    assert found[["before", "after"]].tolist() == pytest.approx([start, stats.gmean(after)])
    assert found[["low", "high"]].tolist() == pytest.approx([start * np.expm1(low), start * np.expm1(high)])
    assert found["percent"] == pytest.approx(100 * found["change"] / start)
    assert found["in_noise_low"] == pytest.approx(low / ((high - low) / 2))
    assert found["in_noise_high"] == pytest.approx(high / ((high - low) / 2))


def test_t_interval_by_degrees_of_freedom():
    """With noise on 9 degrees of freedom the quantile is Student's (scipy), as in the paired t of 1908."""
    model = noise.noise_model(overrides={"pH": {"sd": 1.229995 / np.sqrt(2), "df": 9, "occasion": 0.0}})
    found = first(rows("pH", [6.0], [7.58]), model=model)
    assert (found["low"], found["high"]) == pytest.approx(stats.t.interval(0.95, 9, 1.58, 1.229995))


def test_occasion_does_not_shrink_with_composites_or_beds():
    """Ten beds of five composites still share one day at each end: the band stays above that of the day."""
    model = noise.noise_model(overrides={"pH": {"sd": 0.12, "occasion": 0.06}})
    results = [r for i in range(10) for r in rows("pH", [6.0] * 5, [6.1] * 5, bed=f"bed {i}")]
    table = compare(frames.results(results), **ENDS, noise=model).table
    bed, garden = table.iloc[0], table[table["bed"] == frames.GARDEN].iloc[0]
    assert bed["noise"] == pytest.approx(1.959964 * np.sqrt(2 * 0.12**2 / 5 + 2 * 0.06**2))
    assert garden["noise"] == pytest.approx(1.959964 * np.sqrt(2 * 0.12**2 / 50 + 2 * 0.06**2))


def test_two_days_are_two_occasions():
    """Composites of two days average the day's noise as well: occasion x sqrt(1/2 + 1)."""
    model = noise.noise_model(overrides={"pH": {"sd": 0.12, "occasion": 0.06}})
    two = rows("pH", [6.0, 6.0], [6.1])
    two[1]["sampled"] = "2022-04-20"
    assert first(two, model=model)["noise"] == pytest.approx(
        1.959964 * np.sqrt(0.12**2 * 1.5 + 0.06**2 * 1.5)
    )


def test_season_is_inside_the_band_of_unlike_seasons_only():
    """Spring against autumn carries the seasonal swing once, in beds and in the garden."""
    model = noise.noise_model(overrides={"pH": {"sd": 0.12, "occasion": 0.06, "season": 0.2}})
    beds = [r for i in range(4) for r in rows("pH", [6.0], [6.1], bed=f"bed {i}", later=AUTUMN)]
    table = compare(frames.results(beds), before="spring 2022", after="autumn 2024", noise=model).table
    assert not table["same_season"].any()
    assert table.iloc[0]["noise"] == pytest.approx(1.959964 * np.sqrt(2 * (0.12**2 + 0.06**2) + 0.2**2))
    assert table.iloc[-1]["noise"] == pytest.approx(1.959964 * np.sqrt(2 * (0.12**2 / 4 + 0.06**2) + 0.2**2))
    assert table["shared"].to_numpy() == pytest.approx(2 * 0.06**2 + 0.2**2), "what all beds have in common"
    assert "the usual swing between seasons (0.20 pH, one standard deviation)" in table.iloc[0]["why"]


def test_a_garden_is_of_like_seasons_only_when_every_bed_is():
    """One of three beds from spring to autumn: its swing is in the garden's band, and the row says so."""
    model = noise.noise_model(overrides={"pH": {"sd": 0.12, "occasion": 0.0, "season": 0.3}})
    beds = [
        row
        for at, later in enumerate((LATER, LATER, AUTUMN))
        for row in rows("pH", 6.0, 6.1, bed=f"bed {at}", later=later)
    ]
    garden = compare(frames.results(beds), before="2022", after="2024", noise=model).table.iloc[-1]
    assert garden["bed"] == frames.GARDEN
    assert not garden["same_season"]
    assert garden["noise"] == pytest.approx(1.959964 * np.sqrt(2 * 0.12**2 / 3 + (0.3 / 3) ** 2))
    assert "usual swing between seasons (0.10 pH, one standard deviation) is inside the band" in garden["why"]


def test_years_average_season_by_season():
    """Between two years spring and autumn weigh alike, however many composites each has."""
    results = [
        {
            "bed": "East",
            "season": f"{name} {year}",
            "sampled": f"{year}-{month}-11",
            "analyte": "pH",
            "unit": "pH",
            "value": value,
        }
        for year, name, month, values in (
            (2022, "spring", "04", [6.0, 6.0, 6.0]),
            (2022, "autumn", "10", [7.0]),
            (2024, "spring", "04", [6.2]),
            (2024, "autumn", "10", [7.2, 7.2]),
        )
        for value in values
    ]
    found = first(results, before="2022", after="2024")
    assert found[["before", "after", "change"]].tolist() == pytest.approx([6.5, 6.7, 0.2])


def test_a_split_is_one_composite():
    """A split is averaged with its bag: laboratory and preparation halve, the cores do not."""
    model = noise.noise_model(
        overrides={
            "K": {"laboratory": 0.06, "preparation": 0.0, "between_cores": 0.3, "df": 1e9, "occasion": 0.0}
        }
    )
    results = frames.results(rows("K", [100.0, 100.0], [120.0])).assign(sample=["1", "2", "3"])
    samples = pd.DataFrame({"sample": ["2"], "sampled": "2022-04-11", "duplicate_of": ["1"]})
    split = noise.Noise(model.table, noise.noise_model(samples=samples).composites, model.overrides)
    found = compare(results, **ENDS, noise=split).table.iloc[0]
    assert found["n_before"] == 1
    assert np.log1p(found["noise"] / 100) == pytest.approx(
        1.959964 * np.sqrt(0.06**2 / 2 + 0.06**2 + 2 * 0.3**2 / 15), rel=1e-6
    )


def test_cores_of_the_record_count():
    """A composite of five cores is noisier than one of fifteen."""
    results = frames.results(rows("K", [100.0], [120.0])).assign(sample=["1", "2"])
    samples = pd.DataFrame({"sample": ["1", "2"], "sampled": ["2022-04-11", "2024-04-11"], "cores": 5})
    few = compare(results, **ENDS, noise=noise.noise_model(samples=samples)).table.iloc[0]
    assert few["noise"] > 1.2 * compare(results, **ENDS).table.iloc[0]["noise"]


@pytest.mark.parametrize(
    ("before", "after", "signs", "verdict"),
    [
        (0.2, 1.0, ("<", ""), "rose"),
        (0.9, 1.0, ("<", ""), "unclear"),
        (1.0, 0.2, ("", "<"), "fell"),
        (0.2, 0.2, ("<", "<"), "unclear"),
        (5.0, 1.0, (">", ""), "fell"),
        (1.0, 5.0, ("", ">"), "rose"),
    ],
)
def test_results_beyond_a_limit(before, after, signs, verdict):
    """A limit is no value: the verdict must hold for all that it allows, and half the limit is not put in."""
    results = rows("B", [before], [after])
    for result, sign in zip(results, signs, strict=True):
        result["qualifier"] = sign
    found = first(results)
    assert found["verdict"] == verdict
    assert np.isnan(found["change"])
    assert (found["before_censored"], found["after_censored"]) == signs
    assert np.isinf(found["high"]) == (signs in {("<", ""), ("<", "<"), ("", ">")})
    both = compare(frames.results(results + rows("B", [0.7], [0.7], bed="West")), **ENDS).table.iloc[-1]
    assert "laboratory's limit" in both["why"]
    if signs == ("<", ""):
        exact = first(rows("B", [before], [after]))
        assert found["low"] == pytest.approx(exact["low"])


def test_held_needs_proof():
    """'held' when the 90 % interval is inside 0.2 pH (Collins & Budden), 'unclear' when it is wide."""
    precise, usual = stated(pH=0.05), stated(pH=0.12)
    assert first(rows("pH", [6.0], [6.05]), model=precise)["verdict"] == verdicts.HELD
    assert first(rows("pH", [6.0], [6.0]), model=usual)["verdict"] == verdicts.UNCLEAR


@pytest.mark.parametrize(
    ("analyte", "before", "after", "margin"),
    [("pH", 6.0, 6.4, 0.2), ("OM", 2.0, 2.4, 0.3), ("OM", 5.0, 7.0, 0.6), ("P index", 2.0, 2.2, 0.42),
     ("K", 100.0, 180.0, 15.0)],
)  # fmt: skip
def test_the_margin_is_that_of_the_table(analyte, before, after, margin):
    """tables/margins.csv: points, a share of the mean of both ends, the larger of the two; of K of before."""
    unit = {"P index": "index"}.get(analyte, UNITS.get(analyte, "mg/kg"))
    assert first(rows(analyte, [before], [after], unit=unit))["margin"] == pytest.approx(margin)


def test_q_counts_all_beds_and_analytes():
    """q is Benjamini-Hochberg (scipy) over the bed rows, and over the garden rows for the garden."""
    rng = np.random.default_rng(3)
    results = [
        r
        for i in range(6)
        for name in ("pH", "K", "Zn")
        for r in rows(name, rng.normal(6.5, 0.2, 1), rng.normal(6.9, 0.2, 1), bed=f"bed {i}")
    ]
    table = compare(frames.results(results), **ENDS).table
    for part in (table["bed"] == frames.GARDEN, table["bed"] != frames.GARDEN):
        assert table["q"][part].to_numpy() == pytest.approx(stats.false_discovery_control(table["p"][part]))
    doubtful = table[table["verdict"].isin(["rose", "fell"]) & (table["q"] > 0.05)]
    assert len(doubtful) > 0
    assert doubtful["why"].str.contains("does not stand by itself").all()


def test_every_bed_and_analyte_has_its_row_and_the_garden_too():
    """What cannot be compared leaves with its values and its reason; no number pretends."""
    results = [
        *rows("K", [100.0], [120.0]),
        *rows("K", [90.0], [95.0], bed="West"),
        *rows("P", [30.0], [40.0]),
    ]
    results[-1]["method"] = "Bray P1"
    results += rows("pH", [6.0], [], bed="North")
    table = compare(frames.results(results), **ENDS).table
    assert list(table.columns) == FIRST + EXTRA
    assert set(zip(table["bed"], table["analyte"], strict=True)) == {
        ("East", "K"),
        ("West", "K"),
        ("East", "P"),
        ("North", "pH"),
        *((frames.GARDEN, a) for a in ("K", "P", "pH")),
    }
    broken = table[table["verdict"] == "not comparable"]
    assert broken[["change", "low", "high", "noise", "q", "in_noise"]].isna().all(axis=None)
    assert broken["why"].str.startswith("Not compared: ").all()
    east = table.set_index(["bed", "analyte"]).loc[("East", "P")]
    assert east[["before", "after", "n_before", "n_after"]].tolist() == [30.0, 40.0, 1, 1]


def test_garden_is_the_mean_of_its_beds():
    """Beds weigh alike, however many composites each sent; only beds of both ends count."""
    results = [
        *rows("pH", [6.0, 6.2], [6.4]),
        *rows("pH", [7.0], [7.0], bed="West"),
        *rows("pH", [5.0], [], bed="New"),
    ]
    garden = compare(frames.results(results), **ENDS).table.iloc[-1]
    assert garden[["before", "after", "change"]].tolist() == pytest.approx([6.55, 6.7, 0.15])
    assert garden[["beds", "n_before", "n_after"]].tolist() == [2, 3, 2]
    assert "2 of 3 beds" in garden["why"]


def test_share_is_judged_as_a_ratio_to_the_rest():
    """4 % against 5 % of the capacity is a change of the log odds, shown in points."""
    found = first(
        rows("K saturation", [4.0], [5.0], method="summation"), model=stated(**{"K saturation": 0.02})
    )
    odds = np.log(5 / 95) - np.log(4 / 96)
    assert found["in_noise"] == pytest.approx(odds / (1.959964 * 0.02 * np.sqrt(2)))
    assert found["change"] == 1.0
    assert found["low"] < 1.0 < found["high"]


def test_organic_matter_level_widens_its_band():
    """At 9 % organic matter the band is that of 5 % of the value, not of 0.15 points."""
    assert first(rows("OM", [9.0], [9.0]))["noise"] == pytest.approx(
        3 * first(rows("OM", [2.0], [2.0]))["noise"], rel=0.01
    )


def test_the_default_noise_learns_from_these_results():
    """Repeated composites in the frame move the band; a model given is used as it is."""
    spread = [80.0, 100.0, 125.0]
    results = frames.results([r for i in range(6) for r in rows("K", spread, spread, bed=f"bed {i}")])
    learned = compare(results, **ENDS)
    given = compare(results, **ENDS, noise=noise.noise_model())
    assert learned.noise.table.loc[0, "repeats"] == 24
    assert learned.table.loc[0, "noise"] > given.table.loc[0, "noise"]


@pytest.mark.parametrize(("after", "apart"), [([6.0, 6.1, 6.0, 6.1], False), ([6.0, 7.0, 6.0, 7.0], True)])
def test_beds_that_did_not_move_alike(after, apart):
    """Changes that scatter by more than noise are remarked on (chi-square of scipy below 1 %)."""
    results = [r for i, value in enumerate(after) for r in rows("pH", [6.0], [value], bed=f"bed {i}")]
    why = compare(frames.results(results), **ENDS, noise=stated(pH=0.12)).table.iloc[-1]["why"]
    model = noise.noise_model(overrides={"pH": {"sd": 0.12, "occasion": 0.0, "season": 0.5}})
    autumn = frames.results(pd.DataFrame(results).replace(dict(zip(LATER, AUTUMN, strict=True))))
    swung = compare(autumn, before=SPRING[0], after=AUTUMN[0], noise=model).table.iloc[-1]
    assert ("did not move alike" in swung["why"]) == apart, "the swing is shared, so that it hides nothing"
    q = ((np.array(after) - np.mean(after)) ** 2).sum() / (2 * 0.12**2)
    assert (stats.chi2.sf(q, 3) < 0.01) == apart
    assert ("did not move alike" in why) == apart


@pytest.mark.parametrize(("stated", "df"), [({"df": 9}, 9), ({}, np.inf)])
def test_beds_are_apart_where_an_f_test_says_so(stated, df):
    """Of 1 to 6 beds at 200 laboratories: as scipy's F of their scatter beyond noise; the day is shared."""
    rng = np.random.default_rng(11)
    model = noise.noise_model(overrides={"pH": {"sd": 0.12, "occasion": 0.3} | stated})
    steps = {lab: rng.normal(0.5, 0.12 * rng.uniform(1.5, 4), 1 + lab % 6) for lab in range(200)}
    results = [r for lab, each in steps.items() for bed, step in enumerate(each)
               for r in rows("pH", [6.0], [6.0 + step], bed=f"bed {bed}", lab=f"lab {lab}")]  # fmt: skip
    table = compare(frames.results(results), **ENDS, noise=model).table
    garden = table[table["bed"] == frames.GARDEN].set_index("lab")["why"]
    more = {lab: each for lab, each in steps.items() if len(each) > 1}
    p = pd.Series({
        f"lab {lab}": stats.f.sf(each.var(ddof=1) / (2 * 0.12**2), len(each) - 1, min(df, 1e9))
        for lab, each in more.items()
    })  # fmt: skip
    assert 20 < (p < 0.01).sum() < 130
    assert garden[p.index].str.contains("did not move alike").equals(p < 0.01)
    assert not garden.drop(p.index).str.contains("did not move alike").any()


@pytest.mark.parametrize("back", [False, True])
@pytest.mark.parametrize(("others", "alike"), [((140.0, 150.0, 130.0), False), ((340.0, 330.0, 350.0), True)])
def test_one_bed_beyond_a_limit_does_not_speak_for_the_garden(others, alike, back):
    """Three beds as they were and one below 25: no verdict, and said; all four: a verdict, both ways."""
    after = (25.0 if alike else value for value in others)
    results = [r for bed, (was, now) in enumerate(zip((*others, 340.0), (*after, 25.0), strict=True))
               for r in rows("Mg", [was], [now], bed=f"bed {bed}")]  # fmt: skip
    for result in results:
        result["qualifier"] = "<" if result["value"] == 25 else ""
    if back:
        for one, two in zip(results[::2], results[1::2], strict=True):
            for name in ("value", "qualifier"):
                one[name], two[name] = two[name], one[name]
    table = compare(frames.results(results), **ENDS).table
    moved = verdicts.ROSE if back else verdicts.FELL
    garden = table.iloc[-1]
    assert table.loc[3, "verdict"] == moved
    assert garden["verdict"] == (moved if alike else verdicts.UNCLEAR)
    assert ("did not move alike" in garden["why"]) != alike
    steps = np.log([25 / 340, 1, 1, 1])
    expected = table.loc[0, "se"] / 2 if alike else steps.std(ddof=1) / 2
    assert garden["se"] ** 2 - garden["shared"] == pytest.approx(
        expected**2 - (table.loc[0, "shared"] / 4 if alike else 0)
    )
    assert garden["df"] == (table.loc[0, "df"] if alike else 3)


def test_nothing_can_be_compared():
    """When the laboratory changed for all, every row says so and none is lost."""
    results = rows("K", [100.0], [120.0]) + rows("P", [30.0], [40.0])
    for result in results[1::2]:
        result["lab"] = "M"
    table = compare(frames.results(results), **ENDS).table
    assert (table["verdict"] == "not comparable").all()
    assert table["bed"].tolist() == ["East", "East", frames.GARDEN, frames.GARDEN]
    assert table.loc[2:, ["beds", "n_before", "n_after"]].eq(0).all(axis=None)


def test_ends_may_be_days_of_pandas():
    """A Timestamp names a day as well as its text does."""
    days = {"before": pd.Timestamp("2022-04-11"), "after": pd.Timestamp("2024-04-11")}
    result = compare(frames.results(rows("K", [100.0], [120.0])), **days)
    assert result.before.startswith("2022-04-11")
    assert result.table.loc[0, "change"] == 20.0


@pytest.mark.parametrize("confidence", [0.5, 1.0, 95])
def test_confidence_that_cannot_be(confidence):
    """A confidence outside (0.5, 1) is refused."""
    with pytest.raises(SoiltrendError, match=str(confidence)):
        compare(frames.results(rows("K", [1.0], [2.0])), **ENDS, confidence=confidence)


def test_how_it_shows_itself():
    """The title counts the verdicts; text is escaped in HTML."""
    result = compare(frames.results(rows("K", [100.0], [300.0], bed="<b>")), **ENDS)
    assert repr(result).startswith("spring 2022 to spring 2024: 1 bed, 1 analyte (1 rose), 95% intervals")
    assert "&lt;b&gt;" in result._repr_html_()


def test_a_large_frame_agrees_with_a_small_one():
    """Bed rows do not depend on how many other beds stand in the frame, but for q."""
    results = frames.results([r for i in range(300) for r in rows("K", [100.0 + i], [130.0], bed=f"bed {i}")])
    model = noise.noise_model()
    many = compare(results, **ENDS, noise=model).table
    one = compare(results[results["bed"] == "bed 7"], **ENDS, noise=model).table
    columns = ["before", "after", "change", "low", "high", "noise", "verdict"]
    pd.testing.assert_series_equal(
        many[many["bed"] == "bed 7"].iloc[0][columns], one.iloc[0][columns], check_names=False
    )


# Calibration: tolerances are 3 binomial standard errors of the number of gardens.

GARDENS = 150


@pytest.fixture(scope="module", params=[1, 3])
def still(request):
    """Return judged rows of gardens in which nothing changed."""
    return judged(gardens(Cell(composites=request.param), count=GARDENS, seed=11))


def test_intervals_cover_the_truth(still):
    """95 % intervals hold the truth in 93 to 97 %, give or take the error of so many gardens."""
    error = 3 * np.sqrt(
        0.05 * 0.95 / (2 * GARDENS)
    )  # beds of one garden share a day: two rows' worth a garden
    for part in (still["garden"], ~still["garden"]):
        assert 0.93 - error < still["covered"][part].mean() < 0.97 + error


def test_false_alarms_and_what_the_naive_test_does(still):
    """Nothing changed: 'rose' or 'fell' in at most 5 %; a paired t-test over beds alarms in over 15 %."""
    error = 3 * np.sqrt(0.05 * 0.95 / (4 * GARDENS))  # four analytes a garden
    assert still["moved"][still["garden"]].mean() < 0.05 + error
    assert still["moved"][~still["garden"]].mean() < 0.05 + error
    beds = still[~still["garden"]].assign(d=lambda t: t["in_noise"])
    naive = beds.groupby(["lab", "analyte"])["d"].apply(lambda d: stats.ttest_1samp(d, 0).pvalue)
    assert (naive < 0.05).mean() > 0.15


def test_held_is_not_given_at_the_margin():
    """A true change of just the margin is called 'held' in at most 5 %."""
    margins = {"pH": 0.2, "OM": 0.5, "K": float(np.log(1.15)), "B": float(np.log(1.2))}
    edge = judged(gardens(Cell(composites=5), count=60, change=margins, seed=5), change=margins)
    assert (edge["verdict"] == verdicts.HELD).mean() < 0.05


# Regression to the mean: a bed that was extreme comes back by itself.


@pytest.mark.parametrize(("beds", "published"), [(6, 0.89), (12, 1.15), (30, 1.43)])
def test_the_worst_bed_recovers_by_itself(beds, published):
    """With equal sds of beds and of noise the worst bed comes back by sqrt(1/2) of the largest of n normals.

    The mean of the largest of n normals is that of Harter 1961, Biometrika 48:151 (1.267, 1.629, 2.043 for
    n = 6, 12, 30); simulated beds, tested again with no change, move by as much.
    """
    rng = np.random.default_rng(beds)
    truth = rng.standard_normal((20_000, beds))
    first, second = (truth + rng.standard_normal(truth.shape) for _ in range(2))
    worst = first.argmin(axis=1)[:, None]
    moved = np.take_along_axis(second - first, worst, axis=1)
    told = by_itself(np.take_along_axis(first, worst, axis=1), noise=np.array(1.0), total=np.array(2.0))
    assert told.mean() == pytest.approx(published, abs=0.02)
    assert moved.mean() == pytest.approx(told.mean(), abs=0.03)


@pytest.mark.parametrize("between", [0.0, 1.0, 2.0])
def test_six_beds_tell_the_movement_well_enough(between):
    """With the spread taken from six beds, simulated beds move as foretold, to a quarter of the noise."""
    rng = np.random.default_rng(17)
    count, beds = 3000, 6
    truth = between * rng.standard_normal((count, beds))
    first, second = (truth + rng.standard_normal(truth.shape) for _ in range(2))
    keys = {"unit": "pH", "lab": "", "method": "", "analyte": np.repeat(np.arange(count), beds).astype(str)}
    low = pd.DataFrame(
        {"b_low": first.ravel(), "b_high": first.ravel(), **keys, "top_cm": 0.0, "bottom_cm": 15.0}
    )
    top = first.ravel() == np.repeat(first.max(axis=1), beds)
    told = extremes(low.assign(comparable=True, b_variance=1.0, step=np.where(top, -1.0, 1.0)))["back"][top]
    moved = (second - second.mean(axis=1, keepdims=True) - first + first.mean(axis=1, keepdims=True)).ravel()[
        top
    ]
    assert told.notna().all()
    assert told.mean() == pytest.approx(moved.mean(), abs=0.25)


@pytest.mark.parametrize(("cut", "tests"), [(0.5, 1), (1.0, 1), (1.5, 2)])
def test_movement_of_all_beyond_a_cut(cut, tests):
    """Averaged over all beyond a cut it is the formula of Barnett, van der Pols & Dobson 2005 (IJE 34:215).

    noise / total * phi(z) / (1 - Phi(z)) with the noise divided by the number of first tests averaged.
    """
    rng = np.random.default_rng(7)
    within, between = 0.8**2 / tests, 0.6**2
    total = within + between
    first = rng.normal(0, np.sqrt(total), 400_000)
    chosen = first[first > cut * np.sqrt(total)]
    published = within / np.sqrt(total) * stats.norm.pdf(cut) / stats.norm.sf(cut)
    told = by_itself(chosen, noise=np.array(within), total=np.array(total))
    assert -told.mean() == pytest.approx(published, rel=0.01)


BEFORE_PH = (6.0, 6.1, 6.2, 6.3, 7.0)


def returning(after, before=BEFORE_PH):
    """Return the rows by bed of a comparison of so many beds."""
    pairs = enumerate(zip(before, after, strict=True))
    results = [r for i, (a, b) in pairs for r in rows("pH", [a], [b], bed=f"bed {i}")]
    return compare(frames.results(results), **ENDS, noise=stated(pH=0.12)).table.set_index("bed")


def test_a_bed_that_was_extreme_is_warned_of():
    """The highest and the lowest of five that move inward are; the others and the garden are not."""
    table = returning([6.2, 6.1, 6.2, 6.3, 6.5])
    warned = table["why"].str.contains("come back towards the others")
    assert table.index[warned].tolist() == ["bed 0", "bed 4"]
    expected = (7.0 - np.mean(BEFORE_PH)) * 0.12**2 / np.var(BEFORE_PH, ddof=1)
    assert "the highest of 5 beds in spring 2022" in table.loc["bed 4", "why"]
    assert f"about {expected:.2g}" in table.loc["bed 4", "why"]
    assert "the lowest of 5 beds" in table.loc["bed 0", "why"]


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (BEFORE_PH, [5.5, 6.1, 6.2, 6.3, 7.6]),
        (BEFORE_PH[2:], [6.2, 6.3, 6.5]),
        ([6.5] * 5, [6.4] * 5),
    ],
    ids=["moved outward", "three beds", "all alike"],
)
def test_no_warning_without_reason(before, after):
    """Nothing is said of a bed that went farther out, of fewer than four beds, or of beds that were alike."""
    assert not returning(after, before)["why"].str.contains("come back towards the others").any()


def test_no_bed_is_the_lowest_beside_a_limit():
    """Where a bed lies below the laboratory's limit, it is not known which was the lowest."""
    results = [
        r for i, b in enumerate([0.2, 0.9, 1.0, 1.1, 2.0]) for r in rows("B", [b], [1.0], bed=f"bed {i}")
    ]
    assert compare(frames.results(results), **ENDS).table["why"].str.contains("come back").sum() == 2
    results[0]["qualifier"] = "<"
    assert not compare(frames.results(results), **ENDS).table["why"].str.contains("come back").any()


def test_more_composites_come_back_less():
    """The mean of four buckets holds a quarter of the noise, so it comes back a quarter as far."""
    keys = dict.fromkeys(["analyte", "method", "unit", "lab", "top_cm", "bottom_cm"], "")
    low = [6.0, 6.1, 6.2, 7.0]
    one, four = (
        extremes(
            pd.DataFrame(
                {"comparable": True, "b_low": low, "b_high": low, "b_variance": v, "step": -0.3}
            ).assign(**keys)
        ).loc[3, "back"]
        for v in (0.04, 0.01)
    )
    assert one == pytest.approx(4 * four)
    assert four == pytest.approx(-(7.0 - np.mean(low)) * 0.01 / np.var(low, ddof=1))
