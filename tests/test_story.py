"""The words claim what the table carries, and nothing else."""

import pandas as pd
import pytest

from soiltrend import story
from soiltrend.compare import compare
from soiltrend.frames import GARDEN

MOVED = {"pH": (6.0, 7.1), "K": (200, 90), "Ca": (1500, 1560), "P": (40, 41), "OM": (3.0, 6.5)}


@pytest.fixture
def change(two_springs):
    return compare(two_springs(MOVED), before="spring 2022", after="spring 2024")


def test_the_headline_names_what_rose_and_fell(change):
    """pH rose and potassium fell: both are said, calcium and phosphorus are not."""
    assert story.headline(change, bed="East") == (
        "pH rose and potassium fell in East: 2 of 5 measures compared"
    )


def test_every_claim_is_in_the_table(change):
    """A measure named as risen or fallen has that verdict in the rows of the bed."""
    for bed in change.table["bed"].unique():
        head = story.headline(change, bed=bed)
        rows = change.table[change.table["bed"] == bed].set_index("analyte")
        for analyte in MOVED:
            for verdict in ("rose", "fell"):
                if any(
                    story.spoken(analyte).casefold() in part.casefold() and verdict in part
                    for part in head.split(" and ")
                ):
                    assert rows.loc[analyte, "verdict"] == verdict


def test_organic_matter_waits_for_three_years(change, two_springs):
    """Two years apart, a doubled humus is no headline; four years apart it is."""
    assert change.table.query("analyte == 'OM' and bed == 'East'")["verdict"].tolist() == ["rose"]
    assert "organic" not in story.headline(change, bed="East").casefold()
    assert "too soon" in story.headline_of_beds(change, analyte="OM")
    later = two_springs(MOVED)
    early = later["season"] == "spring 2022"
    years_back = later["sampled"] - pd.DateOffset(years=4)
    later["season"] = later["season"].mask(early, "spring 2018")
    later["sampled"] = later["sampled"].mask(early, years_back)
    long = compare(later, before="spring 2018", after="spring 2024")
    assert "organic matter" in story.headline(long, bed="East").casefold()


def test_nothing_sure_is_said_plainly(two_springs):
    """When no interval leaves out zero the headline says so and counts."""
    still = compare(
        two_springs({"pH": (6.4, 6.5), "K": (150, 160)}), before="spring 2022", after="spring 2024"
    )
    assert story.headline(still, bed="West").startswith("No sure change in West: 2 measures")
    assert story.headline_of_beds(still, analyte="K") == (
        "Potassium: no sure change in any of 2 beds, spring 2022 to spring 2024"
    )


def test_words_carry_season_lab_layer_and_n(change):
    """The subtitle says when, who, which layer and how many; the caption what the band is."""
    words = story.change_words(change, bed="East")
    for part in ("spring 2022", "spring 2024", "Hollin Bench", "0-15 cm", "n = 1"):
        assert part in words.subtitle
    assert "5 of 5 measures shown" in words.caption
    assert "95%" in words.caption
    assert words.headline in words.alt


@pytest.mark.parametrize("bed", ["East", GARDEN])
def test_no_cause_is_claimed(change, bed):
    """Words of cause do not occur: there is no check bed here."""
    words = story.change_words(change, bed=bed)
    text = " ".join((words.headline, words.subtitle, words.caption, words.alt)).casefold()
    assert not [word for word in ("because", "due to", "thanks to", "caused") if word in text]


def test_ph_is_said_to_be_logarithmic(change):
    """Beside a pH chart stands what a unit of pH is."""
    assert "logarithmic" in story.beds_words(change, analyte="pH").caption
    assert "logarithmic" not in story.beds_words(change, analyte="K").caption
