"""Charts that mislead on purpose: each does what it warns of, says so, and cannot lose its warning."""

import pytest
from pictures import beds, comparison, tidy, web

from soiltrend import tables
from soiltrend.charts import misleading, save_chart
from soiltrend.charts.misleading import ON_PURPOSE
from soiltrend.charts.style import SIZES
from soiltrend.charts.tricks import TRICKS
from soiltrend.compare import compare
from soiltrend.errors import SoiltrendError
from soiltrend.latest import compare_latest


def stamped(chart):
    return any(text.get_gid() == ON_PURPOSE for text in chart.texts)


@pytest.mark.parametrize("trick", TRICKS)
def test_the_warning_stays_at_every_size_and_in_the_words(trick, tmp_path):
    """Across the picture, redrawn or in parts, in the subtitle, the caption and the alt text."""
    chart = web(trick)
    assert stamped(chart)
    assert all(stamped(page) for page in chart.pages(SIZES["talk"]))
    assert stamped(chart.again(SIZES["newsletter"]))
    for words in (chart.words.subtitle, chart.words.caption, chart.words.alt.lower()):
        assert ON_PURPOSE in words
    *_, words, _ = save_chart(chart, tmp_path / "wrong.png", size="web")
    assert ON_PURPOSE in words.read_text(encoding="utf-8")


def test_every_trick_has_its_row_and_what_mends_it():
    """The table and the drawings name the same tricks; each is mended by a chart that there is."""
    table = tables.load("tricks").set_index("trick")
    assert set(table.index) == set(TRICKS)
    assert table["mend"].str.contains("chart_(?:change|trend|saturation)").all()


def test_picked_measures_are_few_of_many_and_the_farthest():
    """Three of the measures with a percent, none of which moved less than one that is left out."""
    data = comparison(4).table
    shown = web("picked measures").data
    every = data[(data["bed"] == "(garden)") & (data["verdict"] != "not comparable")]
    garden = every[every["percent"].notna()].drop_duplicates("analyte")
    down = (shown["percent"] < 0).all()
    left = garden[~garden["analyte"].isin(shown["analyte"])]["percent"]
    assert len(shown) == 3
    assert f"3 of {every['analyte'].nunique()} measures" in web("picked measures").words.subtitle
    assert (shown["percent"].max() <= left.min()) if down else (shown["percent"].min() >= left.max())


def test_two_dates_are_drawn_on_to_the_year_that_is_claimed():
    """Potassium went from 200 to 90 in two years: the line meets nothing after 90 / 55 more."""
    chart = web("two dates joined")
    dashed = next(line for line in chart.axes[0].lines if line.get_linestyle() == "--")
    assert dashed.get_xdata()[-1] == pytest.approx(2024 + 90 / 55)
    assert dashed.get_ydata()[-1] == pytest.approx(0)
    assert chart.words.headline == "Potassium will be used up by 2026"


def test_all_beds_are_those_of_the_comparison():
    """Of 100 and 400 the middle is 200 on the scale of the comparison; its own row of the garden has it."""
    ends = {"2022-04-04": (100.0, 400.0), "2024-04-08": (60.0, 240.0)}
    rows = [(bed, day, "K", value) for day, two in ends.items() for bed, value in zip("AB", two, strict=True)]
    found = compare_latest(tidy(rows))
    own = found.table.set_index("bed").loc["(garden)", ["before", "after"]].tolist()
    shown = misleading(found, trick="two dates joined", analyte="K").data["value"].tolist()
    assert shown == pytest.approx([200, 120])
    assert shown == pytest.approx(own)


def test_shares_alone_show_no_amount():
    """That is the trick."""
    assert not web("shares alone").data["said"].str.contains("kg").any()


def test_every_step_counts_as_a_change():
    """Of four beds all went down, the claim says, whatever the noise."""
    assert web("unlike days").words.headline == "Potassium is down in 4 of 4 beds between two samplings"


def autumns_and_springs():
    """Two beds over four years whose potassium is lower every autumn and rises all the same."""
    ends = [(f"{year}-{month}", 120 + 12 * (year - 2020) - (60 if month == "10-10" else 0))
            for year in range(2020, 2024) for month in ("04-10", "10-10")]
    rows = [(bed, day, "K", value + more) for day, value in ends for bed, more in (("A", 0), ("B", 9))]
    return compare(tidy(rows), before="spring 2023", after="autumn 2023")


def test_what_is_counted_is_what_is_drawn():
    """The swing of the season is in the arrows, so it is in the claim, whatever the comparison takes off."""
    found = autumns_and_springs()
    beds_only = found.table[found.table["bed"] != "(garden)"]
    assert not (beds_only["change"] < -30).any()  # the fall is the season's
    chart = misleading(found, trick="unlike days", analyte="K")
    assert (chart.data["after"] < chart.data["before"]).all()
    assert chart.words.headline == "Potassium is down in 2 of 2 beds between two samplings"


def test_a_measure_without_a_percent_was_compared_all_the_same():
    """pH moves in units of its own and counts among what is left out."""
    days = (("2022-04-04", (6.0, 200)), ("2024-04-08", (6.6, 90)))
    rows = [(bed, day, name, value) for bed in "AB" for day, both in days
            for name, value in zip(("pH", "K"), both, strict=True)]
    words = misleading(compare_latest(tidy(rows)), trick="picked measures").words
    assert "1 of 2 measures are shown" in words.subtitle


def test_one_bed_is_drawn_alone_when_it_is_asked_for():
    """Its shares, its line and no other's; a bed that is none is refused with those there are."""
    name = beds(4)[2]
    for trick in ("shares alone", "two dates joined", "two axes", "cut axis"):
        assert misleading(comparison(4), trick=trick, analyte="K", bed=name).bed == name
    assert web("shares alone").bed in beds(4)  # so that the amounts of the same bed can be set beside it
    assert web("cut axis").bed == ""
    with pytest.raises(SoiltrendError, match="no bed 'Nowhere'"):
        misleading(comparison(4), trick="shares alone", bed="Nowhere")


@pytest.mark.parametrize("trick", TRICKS)
def test_nothing_to_compare_is_said(trick):
    """One measure in one bed once: words and no picture."""
    rows = tidy([(beds(1)[0], "2024-04-08", "S", 11.0)])
    chart = misleading(compare_latest(rows), trick=trick)
    assert not chart.axes
    assert chart.words.headline == "The garden: nothing to compare yet"


def test_a_trick_that_has_nothing_to_draw_says_what_it_lacks():
    """Two tests of one measure: no shares, no second measure, no boron, and never for want of tests."""
    rows = tidy([(beds(1)[0], day, "S", value) for day, value in (("2022-04-04", 11), ("2024-04-08", 19))])
    change = compare_latest(rows)
    for trick, analyte, why in (
        ("shares alone", "", "No share of the exchange capacity can be compared between spring 2022 and"),
        ("two axes", "", "The trick takes two measures or more"),
        ("cut axis", "B", "Boron was not measured at either of the two dates"),
    ):
        words = misleading(change, trick=trick, analyte=analyte).words
        assert words.subtitle.startswith(why)
        assert "two tests" not in repr(words)


def test_measures_of_the_only_bed_can_be_picked():
    """A garden of one bed has no average; its bed is picked from."""
    ends = {"S": (11, 19), "K": (200, 90), "P": (40, 41), "Mg": (90, 95)}
    days = ("2022-04-04", "2024-04-08")
    rows = [(beds(1)[0], day, name, value) for name, both in ends.items()
            for day, value in zip(days, both, strict=True)]
    chart = misleading(compare_latest(tidy(rows)), trick="picked measures")
    assert chart.axes
    assert set(chart.data["bed"]) == {beds(1)[0]}
    assert "3 of 4 measures" in chart.words.subtitle


def test_an_unknown_trick_is_answered():
    """With the tricks there are."""
    with pytest.raises(SoiltrendError, match="no trick 'pie'"):
        misleading(comparison(1), trick="pie")
