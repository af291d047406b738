"""Rows of one picture are told apart, and beds are counted as they were tested."""

import pandas as pd
import pytest

from soiltrend import story
from soiltrend.blend import blend
from soiltrend.charts import chart_change
from soiltrend.compare import compare
from soiltrend.drift import drift
from soiltrend.exchange import ratios
from soiltrend.frames import GARDEN
from soiltrend.latest import compare_latest

BEFORE, AFTER = "spring 2022", "spring 2024"


@pytest.fixture
def patchy(two_springs):
    """Return a comparison: East and West alike, Path in another layer, Old tested before and New after."""
    values = {"pH": (6.0, 6.1), "K": (150.0, 151.0)}
    made = two_springs(values, beds=("East", "West", "Path", "Old", "New"))
    made.loc[made["bed"] == "Path", "bottom_cm"] = 20.0
    gone = (made["bed"] == "Old") & (made["season"] == AFTER)
    gone |= (made["bed"] == "New") & (made["season"] == BEFORE)
    twice = made[(made["bed"] == "East") & (made["season"] == AFTER)].assign(sample="second bag")
    results = pd.concat([made[~gone], twice], ignore_index=True)
    return compare(results, before=BEFORE, after=AFTER)


def test_a_newsletter_counts_the_beds_that_were_tested(patchy):
    """Counted by hand: East, West, Path and Old before; East, West, Path and New after; three of both."""
    told = story.beds_words(patchy, analyte="pH").paragraph
    begun = "We tested pH in 4 beds in spring 2022 and in 4 beds in spring 2024; 3 beds can be compared ("
    assert told.startswith(begun)
    assert "1 composite sample a bed, then 1 to 2" in told
    assert "1 composite samples" not in told


def test_where_all_beds_were_tested_twice_they_are_counted_once(two_springs):
    """Two beds, each tested at both ends."""
    change = compare(two_springs({"pH": (6.0, 6.1)}), before=BEFORE, after=AFTER)
    told = story.beds_words(change, analyte="pH")
    assert told.paragraph.startswith("We tested pH in 2 beds in spring 2022 and again in spring 2024 (")
    assert "one composite sample a bed each time" in told.paragraph
    assert "the mean of all beds " in told.description


def test_a_mean_says_of_how_many_beds_it_is(patchy):
    """East and West are pooled; Path alone has no mean beside its own row."""
    labels = chart_change(patchy, analyte="K").data["label"].tolist()
    assert labels[-1] == "mean of 2 beds"
    assert sorted(labels[:-1]) == ["East", "New", "Old", "Path", "West"]
    told = story.beds_words(patchy, analyte="K").description
    assert "the mean of 2 beds " in told
    assert "all beds" not in told


def test_rows_that_differ_in_their_layer_alone_bear_it(patchy):
    """The garden's potassium at 0-15 cm (two beds) and at 0-20 cm (Path)."""
    labels = chart_change(patchy, bed=GARDEN).data["label"].tolist()
    assert labels == ["pH, 0-15 cm", "pH, 0-20 cm", "K, 0-15 cm", "K, 0-20 cm"]
    told = story.change_words(patchy, bed=GARDEN)
    assert "potassium (0-20 cm) not comparable" in told.description
    assert told.alt.startswith("Dot chart of 2 soil measures")
    assert "4 lines of 2 measures shown" in told.caption


def test_rows_are_told_apart_by_what_they_differ_in():
    """Method, laboratory and layer, each where it differs; a name that stands once bears nothing."""
    rows = pd.DataFrame(
        {
            "method": ["Olsen", "", "Olsen", "KCl"],
            "lab": ["Hollin Bench", "Hollin Bench", "Orrelby Soil Room", ""],
            "top_cm": 0.0,
            "bottom_cm": [15.0, 15.0, 30.0, 15.0],
        }
    )
    told = story.told_apart(rows, names=pd.Series(["P", "P", "P", "K"]))
    assert told.tolist() == [
        "Olsen, Hollin Bench, 0-15 cm",
        "method not stated, Hollin Bench, 0-15 cm",
        "Olsen, Orrelby Soil Room, 0-30 cm",
        "",
    ]


def test_a_picture_without_marks_says_what_it_lacks(tidy):
    """Two springs can be compared with each other and with no autumn; one test with nothing."""
    springs = tidy([("East", day, "K", value) for day, value in (("2025-04-04", 90.0), ("2026-04-08", 95.0))])
    apart = chart_change(compare_latest(springs, like=False)).words
    assert apart.subtitle.startswith("No two tests of different seasons of the year")
    assert "two tests that can be compared" not in apart.alt
    measure = story.uncompared_words(compare_latest(springs, like=False), analyte="K")
    assert measure.headline == "Potassium: nothing to show yet"
    assert measure.subtitle == apart.subtitle
    halves = tidy([("East", day, "K", value) for day, value in (("2025-04-04", 90.0), ("2025-10-08", 95.0))])
    like = chart_change(compare_latest(halves)).words
    assert like.subtitle.startswith("No two tests of one season of the year")
    alone = chart_change(compare_latest(springs[springs["season"] == "spring 2025"], like=False)).words
    assert alone.headline == "The garden: nothing to compare yet"


@pytest.mark.parametrize(
    ("tests", "says"),
    [
        (1, "To watch a ratio takes 3 tests of it that can stand together, and there is 1 at most"),
        (2, "To watch a ratio takes 3 tests of it that can stand together, and there are 2 at most"),
    ],
)
def test_ratios_with_too_few_tests_say_how_many_there_are(tidy, tests, says):
    """Two tests make a comparison and no drift: the table says so of each ratio, and the picture with it."""
    days, both = ("2024-04-04", "2025-04-04")[:tests], (("Ca", 1500.0), ("Mg", 150.0))
    rows = [("East", day, analyte, value) for day in days for analyte, value in both]
    found = drift(ratios(tidy(rows)))
    words = story.drift_words(found, bed="East")
    assert words.headline == "East: nothing to show yet"
    assert words.subtitle == says
    assert f"{tests} test" in found.table["why"].iloc[0]


def test_no_ratio_at_all_is_told_as_that(tidy):
    """Potassium alone makes no ratio."""
    words = story.drift_words(drift(tidy([("East", "2024-04-04", "K", 90.0)])), bed="East")
    assert words.subtitle == "No ratio or share of it was measured"


def test_the_parts_of_a_blend_add_up_to_what_it_is_said_to_be():
    """52.6 kg are 116 lb (0.45359237 kg each, NIST SP 811), and not 120."""
    made = blend(["tree leaves", {"material": "grass clippings", "kg": 40.0}])
    told = story.blend_words(made, voice=story.Voice(units="US")).subtitle
    pounds = made.table["kg"].sum() / 0.45359237
    assert abs(float(told.split(" lb")[0]) - pounds) < 0.005 * pounds
