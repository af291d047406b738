"""What the newer kinds of chart draw: shares with amounts, accounts, plans, blends, seasons, luck."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from matplotlib.dates import date2num
from pictures import (
    KINDS,
    account,
    beds,
    capacity,
    comparison,
    log,
    months,
    planned,
    seasons,
    springs,
    texts,
    tidy,
    web,
)

from soiltrend import frames
from soiltrend.blend import nitrogen_season
from soiltrend.charts import (
    chart_budget,
    chart_change,
    chart_luck,
    chart_plan,
    chart_recovery,
    chart_saturation,
    chart_season,
    chart_trend,
    chart_why,
)
from soiltrend.charts.bars import LOOKS, span
from soiltrend.charts.style import BLUE, SIZES, VERMILION
from soiltrend.errors import SoiltrendError
from soiltrend.frames import GARDEN
from soiltrend.frames import results as results_of
from soiltrend.garden import open_garden
from soiltrend.latest import compare_latest
from soiltrend.luck import ALL, luck
from soiltrend.trend import trend


def written(chart):
    return [text.get_text() for text, _ in texts(chart)]


def bars(chart):
    """Return the bars of a chart by the height they stand at."""
    return {
        round(float(patch.get_y() + patch.get_height() / 2), 3): patch
        for axes in chart.axes
        for group in axes.containers
        for patch in group.patches
    }


def marks(chart, ink):
    """Return the places of the marks with an ink, each with whether it is filled."""
    return [
        (float(line.get_xdata()[0]), line.get_markerfacecolor() == ink)
        for axes in chart.axes
        for line in axes.lines
        if line.get_marker() in ("o", "<", ">") and line.get_markeredgecolor() == ink
    ]


def test_a_test_is_a_mark_of_its_own_series_alone():
    """A layer that is not told is a series of its own: eight marks and four, and not twelve."""
    day = {"topsoil": ("04-10", 0.0, 15.0, 6.0, 8), "untold": ("04-11", np.nan, np.nan, 7.5, 4)}
    rows = frames.results([
        {"bed": "East", "analyte": "pH", "unit": "pH", "season": f"spring {year}", "sampled": f"{year}-{at}",
         "top_cm": top, "bottom_cm": bottom, "value": value}
        for at, top, bottom, value, count in day.values() for year in range(2016, 2016 + count)])  # fmt: skip
    for results in (rows, rows.assign(sampled=pd.NaT)):
        axes = chart_trend(trend(results), results=results, analyte="pH").axes[0]
        marks = [line.get_ydata() for line in axes.lines if line.get_marker() in ("o", "s")]
        assert [(len(values), set(values)) for values in marks] == [(8, {6.0}), (4, {7.5})]


def test_the_line_of_a_trend_is_where_it_was_fitted():
    """An autumn years before springs that lie on a line is no part of the fit: line and springs are one."""
    days = ["2012-10-07", *(f"{year}-04-05" for year in range(2019, 2027))]
    results = tidy([("East", day, "pH", 5.6 + 0.1 * at) for at, day in enumerate(days)])
    axes = chart_trend(trend(results), results=results, analyte="pH").axes[0]
    line = max(axes.lines, key=lambda line: len(line.get_xdata()))
    springs_at = date2num(pd.to_datetime(days[1:]))
    wanted = 5.7 + 0.1 * (springs_at - springs_at[0]) / 365.25
    assert np.interp(springs_at, *line.get_data()) == pytest.approx(wanted, abs=0.003)


def test_no_share_stands_without_its_amount():
    """Every row that has a percent has mg/kg or cmol/kg beside it, also where there is little room."""
    for chart in (web("shares"), web("shares twice")):
        for told in (*chart.data["said"], *chart.data["short"]):
            assert "%" in told
            assert "mg/kg" in told or "cmol/kg" in told


def test_shares_add_up_and_agree_with_their_amounts():
    """Ca of 1560 mg/kg is 7.78 cmol/kg (40.078 g/mol, two charges: CRC Handbook)."""
    data = web("shares").data.set_index("ion")
    assert data["share"].sum() == pytest.approx(100)
    assert data.loc["Ca", "amount"] == 1560
    assert data.loc["Ca", "cmol"] == pytest.approx(1560 / (40.078 / 2) / 10, rel=1e-4)


def test_two_seasons_of_shares_are_open_and_filled():
    """The earlier one open above, the later one filled below."""
    faces = [patch.get_facecolor() for patch in bars(web("shares twice")).values()]
    assert len(faces) == 2 * len(web("shares twice").data)
    assert len(set(faces)) == 2


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"bed": "South"}, "no bed 'South' in the results"),
        ({"season": "spring 1999"}, "no shares of the exchange capacity in 'spring 1999'"),
        ({"before": "winter 2000"}, "no shares of the exchange capacity in 'winter 2000'"),
    ],
)
def test_shares_that_are_not_there_are_asked_about(given, said):
    """An unknown bed or season is answered with those there are."""
    with pytest.raises(SoiltrendError, match=said):
        chart_saturation(springs(4), **{"bed": beds(4)[0], **given})


def test_seasons_of_two_laboratories_do_not_share_a_picture_of_shares():
    """What was not measured alike is not set side by side; the page goes on."""
    results = springs(4)
    other = results.assign(lab=results["lab"].mask(results["season"] == "spring 2022", "Elsewhere"))
    chart = chart_saturation(other, bed=beds(4)[0], before="spring 2022")
    assert not chart.axes
    assert "spring 2022 and spring 2024 were not measured alike" in chart.words.caption


@pytest.mark.parametrize("lost", ["season", "before"])
def test_a_season_in_which_a_bed_has_no_shares_is_told_and_another_bed_is_drawn_where_none_is_named(lost):
    """What was measured of other beds in that season is not asked of this one."""
    results, (first, second, *_) = springs(4), beds(4)
    ends = {"season": "spring 2024", "before": "spring 2022"}
    gone = (results["bed"] == first) & (results["season"] == ends[lost])
    part = results[~(gone & results["analyte"].str.endswith("saturation"))]
    chart = chart_saturation(part, bed=first, **ends)
    assert not chart.axes
    gap = f"No shares of the exchange capacity can be reckoned in {first} in {ends[lost]}"
    assert chart.words.subtitle == gap
    assert set(chart_saturation(part, **ends).data["bed"]) == {second}


def test_a_share_with_a_limit_in_it_is_told_as_a_limit():
    """Two bags, <21.0 and 21.7 mg/kg: the mean is at most 21.35, the whole at most, other shares at least.

    By hand from the bounds: a mean with one value that is at most 21 is at most (21 + 21.7) / 2.
    """
    first = springs(4)
    rows = first[(first["bed"] == beds(4)[0]) & (first["season"] == "spring 2024")]
    bags = pd.concat([rows.assign(sample="one"), rows.assign(sample="two")], ignore_index=True)
    shares = bags["analyte"].str.endswith("saturation") & (bags["analyte"] != "base saturation")
    told = {"Na": 21.0, "CEC": None, "Na saturation": None}
    limited = (bags["sample"] == "one") & (shares | bags["analyte"].isin(list(told)))
    below = bags["analyte"].isin(list(told))
    bags.loc[limited, "qualifier"] = np.where(below[limited], "<", ">")
    bags.loc[bags["analyte"] == "Na", "value"] = [21.0, 21.7]
    chart = chart_saturation(bags, bed=beds(4)[0])
    drawn = chart.data.set_index("ion")
    assert drawn.loc["Na", "amount"] == pytest.approx(21.35)
    assert "<21.4 mg/kg" in drawn.loc["Na", "said"]
    assert drawn.loc["Na", "said"].startswith("<")
    assert drawn.loc["Ca", "said"].startswith(">")
    assert drawn["cmol"].isna().all(), "a limit in the share and in the whole leaves it open"
    assert "the whole is <" in " ".join(written(chart))
    assert ">" in chart.words.headline
    assert "sodium <" in chart.words.description


def test_shares_of_a_garden_without_any_are_said_to_be_missing():
    """A report without calcium gives words and no bars, and the reason of its own samples."""
    chart = chart_saturation(springs(30), bed=beds(30)[0])
    assert not chart.axes
    assert "nothing to show yet" in chart.words.headline
    assert chart.words.subtitle == "No exchange capacity can be computed (not measured: Ca, Mg)"
    for _, text in chart.words.parts():
        assert "two tests" not in text


def test_an_account_draws_what_came_and_what_went_to_either_side():
    """Three materials and earlier dressings to the right, the harvest hatched to the left."""
    chart = web("account")
    drawn = bars(chart)
    widths = [patch.get_width() for _, patch in sorted(drawn.items(), reverse=True)]
    assert widths == pytest.approx([60, 55, 5, 22, -14])
    hatched = [patch for patch in drawn.values() if patch.get_hatch()]
    assert [patch.get_width() for patch in hatched] == [-14]
    assert chart.axes[0].get_xlim()[0] < -14 * 1.5


def test_an_account_sets_expected_beside_observed():
    """Open for what should have come, filled for what the test says."""
    assert marks(web("account"), BLUE) == [(90.0, False)]
    assert marks(web("account"), VERMILION) == [(60.0, True)]
    assert "the soil should have gained" in " ".join(written(web("account")))


def test_all_beds_together_have_no_test():
    """The garden's account holds materials alone."""
    assert len(web("account of all").data) == 3


def test_what_the_account_does_not_hold_is_asked_about():
    """An unknown nutrient or bed."""
    with pytest.raises(SoiltrendError, match="no nutrient 'Xx'"):
        chart_budget(account(), nutrient="Xx")
    with pytest.raises(SoiltrendError, match="no bed 'South'"):
        chart_budget(account(), nutrient="Ca", bed="South")


def test_an_empty_account_gets_words():
    """Nothing logged, nothing drawn."""
    none = replace(account(), table=account().table.iloc[:0], sources=account().sources.iloc[:0])
    assert not chart_budget(none, nutrient="Ca").axes
    assert not chart_recovery(none, nutrient="Ca").axes


def test_recovery_fills_what_it_can_say_and_points_beyond_its_scale():
    """Five beds have a figure: the one of -4 stands at the edge; the one that cannot be said has no mark."""
    found = marks(web("recovery"), VERMILION)
    assert len(found) == 5
    low, high = web("recovery").axes[0].get_xlim()
    assert sum(abs(x - low) < 0.05 * (high - low) for x, _ in found) == 1
    assert all(filled for _, filled in found)


def test_a_capacity_is_filled_where_measured_and_hatched_where_faked():
    """Six parts; what undissolved lime can fake is hatched."""
    drawn = [patch for _, patch in sorted(bars(web("capacity")).items(), reverse=True)]
    assert [bool(patch.get_hatch()) for patch in drawn] == [False, False, False, False, True, False]
    assert drawn[1].get_width() == 1.9
    with pytest.raises(SoiltrendError, match="no bed 'South'"):
        chart_why(capacity(), bed="South")


def test_a_plan_keeps_each_measure_in_order_on_its_own_scale():
    """Now, aim and after of pH stand in the order of their numbers, the aim about the middle."""
    row = web("plan").data.set_index("analyte").loc["pH"]
    assert row["at_now"] < row["at_after"] < row["at_aim"] < 0 < row["at_aim_high"]
    assert row["at_now_low"] > -1
    assert (row["at_aim"] + row["at_aim_high"]) == pytest.approx(0)


def test_a_plan_without_an_aim_or_an_outcome_says_so():
    """Organic matter has no aim; of boron it is not known what comes."""
    data = web("plan").data.set_index("analyte")
    assert data.loc["OM", "said"] == "4.50 \u2192 4.70 %; aim none"
    assert data.loc["B", "said"] == "0.300 mg/kg \u2192 not known; aim from 0.500"
    assert len(marks(web("plan"), VERMILION)) == 3
    with pytest.raises(SoiltrendError, match="expects nothing of bed 'South'"):
        chart_plan(planned(), bed="South")


def test_a_blend_ends_at_its_own_ratio():
    """The heap's C:N, with all ingredients in, is that of the mixture."""
    chart = web("blend")
    assert chart.data["CN_so_far"].iloc[-1] == pytest.approx(30, rel=1e-6)
    assert set(chart.data["material"]) <= set(written(chart))


def test_a_season_ties_up_below_the_line_and_lets_go_above():
    """Twelve columns from zero; those below are hatched."""
    patches = [patch for axes in web("season").axes for group in axes.containers for patch in group.patches]
    heights = np.array([patch.get_height() for patch in patches])
    assert heights == pytest.approx(months().table["likely"].to_numpy())
    assert [bool(patch.get_hatch()) for patch in patches] == (heights < 0).tolist()
    assert any("kale" in text for text in written(web("season")))


def test_a_season_without_entries_gets_words():
    """Nothing was laid down."""
    assert not chart_season(replace(months(), table=months().table.iloc[:0])).axes


@pytest.mark.parametrize(("bed", "place"), [("East", "in East"), ("", "over the garden")])
def test_a_season_that_cannot_be_reckoned_says_why(tmp_path, bed, place):
    """Without temperatures, or without an entry: the season's own reason, and no word of two tests."""
    (tmp_path / "garden.toml").write_text("beds.East.area_m2 = 10\n", encoding="utf-8")
    season = nitrogen_season(open_garden(tmp_path), bed=bed, year=2026)
    assert ("monthly_mean_C" in season.why) == bool(bed)
    words = chart_season(season).words
    assert words.headline == f"When nitrogen comes free or is tied up {place} cannot be reckoned yet"
    assert words.caption == season.why
    assert all(season.why in text for text in (words.description, words.paragraph, words.note))
    assert "two tests" not in repr(words).lower()


@pytest.mark.parametrize(("bed", "subject"), [("", "the garden"), (GARDEN, "the garden"), ("East", "East")])
def test_an_empty_chart_has_a_subject(bed, subject):
    """One test of one bed, and no bed named: the chart without marks is of the garden."""
    chart = chart_change(compare_latest(tidy([("East", "2024-04-08", "S", 11.0)])), bed=bed)
    assert chart.words.alt == f"A chart without marks: {subject} has no two tests that can be compared."


def test_luck_counts_every_drawn_garden_once():
    """The columns add up to all of them; the mark stands where the comparison does."""
    drawn = luck(comparison(4), draws=100)
    chart = chart_luck(drawn)
    assert chart.data["gardens"].sum() == pytest.approx(100)
    mean = float((chart.data["measures"] * chart.data["gardens"]).sum() / 100)
    row = drawn.table.set_index("bed").loc[ALL]
    assert mean == pytest.approx(row["expected_by_luck"])
    assert [line.get_xdata()[0] for line in chart.axes[0].lines if line.get_marker() == "v"] == [row["seen"]]
    with pytest.raises(SoiltrendError, match="no bed 'South' in the drawn gardens"):
        chart_luck(drawn, bed="South")


def test_bars_look_different_without_colour():
    """Filled, open and hatched."""
    looks = {(look["facecolor"] == "white", look["hatch"]) for look in LOOKS.values()}
    assert len(looks) == len(LOOKS)


def test_a_scale_holds_zero_and_everything_finite():
    """Infinite ends of intervals do not stretch it."""
    assert span([1.0, np.inf, np.nan, 4.0], edge=0.0) == (0.0, 4.0)
    assert span([], edge=0.0) == (0.0, 0.0)
    low, high = span([-2.0, 3.0])
    assert low < -2
    assert high > 3


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_its_words_and_its_data(kind):
    """Headline, caption and alt text; a table that can be written."""
    chart = web(kind)
    assert chart.words.headline
    assert chart.words.caption
    assert chart.words.alt
    assert isinstance(chart.data, pd.DataFrame)
    assert len(chart.data) > 0


def test_a_bed_without_a_harvest_has_its_trend(kept_log):
    """One bed was never picked, and a line of nothing is no dressing: marks stand under the other alone."""
    found, results = seasons(2)
    chart = chart_trend(found, results=results, analyte="K", garden=kept_log)
    marked = [
        [line.get_marker() for line in axes.lines if line.get_marker() in "^|" and len(line.get_xdata())]
        for axes in chart.axes
    ]
    assert sorted(marked) == [[], ["^", "|"]]


@pytest.fixture
def kept_log():
    """The log of one bed of two, with a line that says that nothing went on the other."""
    mine = log(1)
    none = mine.applications.head(1).assign(bed=beds(2)[1], amount=0.0)
    return SimpleNamespace(applications=pd.concat([mine.applications, none]), harvests=mine.harvests)


def kept_by(*records):
    """Return springs of potassium, one row a test, of beds with their methods and seasons."""
    rows = [
        {"bed": bed, "season": f"{season} {year}", "analyte": "K", "value": 150.0 + year % 7,
         "method": method, "sampled": pd.Timestamp(f"{year}-{'04' if season == 'spring' else '10'}-05")}
        for bed, method, season, years in records
        for year in years
    ]  # fmt: skip
    table = pd.DataFrame(rows).assign(top_cm=0.0, bottom_cm=15.0, lab="Hollin Bench", unit="mg/kg")
    return results_of(table)


OLD, NEW = "ammonium acetate", "Mehlich-3"


def test_a_trend_says_which_mark_is_which_method():
    """Round is the record of most tests, the square the other, with their fillings where there are two."""
    results = kept_by(*((bed, *of) for bed in ("East", "West") for of in (
        (OLD, "spring", range(2018, 2024)), (NEW, "spring", range(2024, 2025)))))  # fmt: skip
    found = chart_trend(trend(results), results=results, analyte="K")
    under = " ".join(written(found)).replace("\n", " ").replace("\u00a0", " ")
    assert f"potassium [mg/kg]; \u25cb {OLD}, \u25a1 {NEW};" in under
    shapes = {line.get_marker() for axes in found.axes for line in axes.lines if len(line.get_xdata()) == 1}
    assert shapes == {"s"}
    later = kept_by(("East", OLD, "spring", range(2018, 2024)), ("East", NEW, "autumn", range(2023, 2025)))
    found = chart_trend(trend(later), results=later, analyte="K")
    assert f"\u25cb\u25cf {OLD}, \u25a1\u25a0 {NEW};" in " ".join(written(found)).replace("\n", " ").replace(
        "\u00a0", " "
    )


def test_a_square_is_named_by_the_first_thing_in_which_it_differs_and_long_names_give_way():
    """Another method, else another laboratory; where the names would fill the picture they are not listed."""
    rows = kept_by(("East", NEW, "spring", range(2014, 2022)), ("East", OLD, "spring", range(2022, 2024)))
    away = kept_by(("East", NEW, "spring", range(2024, 2026)))

    def under(lab):
        """Return what stands on the picture, the last two tests sent to a laboratory of that name."""
        results = results_of(pd.concat([rows, away.assign(lab=lab)], ignore_index=True))
        chart = chart_trend(trend(results), results=results, analyte="K")
        assert len(chart.pages(SIZES["talk"])) == 1
        return " ".join(written(chart)).replace("\n", " ").replace("\u00a0", " ")

    assert f"\u25cb {NEW}, \u25a1 {OLD} and Far Bench" in under("Far Bench")
    assert "\u25cb a bed's longest record, \u25a1 others" in under("The Bench of a Very Long Name " * 3)


def test_where_beds_differ_in_their_longest_method_each_panel_names_its_own():
    """One bed is mostly of the old method, the other mostly of the new: round is each one's own."""
    results = kept_by(
        ("East", OLD, "spring", range(2016, 2022)),
        ("East", NEW, "spring", range(2022, 2024)),
        ("West", OLD, "spring", range(2016, 2018)),
        ("West", NEW, "spring", range(2018, 2024)),
    )
    chart = chart_trend(trend(results), results=results, analyte="K")
    texts_ = [text.replace("\n", " ").replace("\u00a0", " ") for text in written(chart)]
    assert any(text.endswith(f"; \u25cb {OLD}, \u25a1 {NEW}") for text in texts_)
    assert any(text.endswith(f"; \u25cb {NEW}, \u25a1 {OLD}") for text in texts_)
    assert "\u25cb a bed's longest record, \u25a1 others" in " ".join(texts_)


def test_a_trend_of_one_record_needs_no_key_to_its_marks():
    """All marks are round: the method stands beside the measure as it did."""
    results = kept_by(("East", OLD, "spring", range(2018, 2024)))
    assert f"potassium [mg/kg], {OLD};" in " ".join(
        written(chart_trend(trend(results), results=results, analyte="K"))
    ).replace("\n", " ")
