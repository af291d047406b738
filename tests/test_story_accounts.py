"""The words and pictures of an account: of the same days, and of no more than the log tells."""

import dataclasses

import pandas as pd
import pytest

import soiltrend as st
from soiltrend.budget.invented import DRESSINGS, Plot, invented
from soiltrend.frames import GARDEN

LATER = ("2024-06-01", "gypsum", 500.0, "g/m2")


@pytest.fixture(scope="module")
def dressed_again():
    """An account of two beds, one of which was dressed once more after its last test."""
    return st.budget(invented(seed=3, plot=Plot(dressings=(*DRESSINGS, LATER))).garden, draws=300)


def test_all_beds_are_drawn_over_the_days_that_their_words_name(dressed_again):
    """What went on after the last test is in no bar; half of what the one bed got lies on two like beds."""
    chart = st.chart_budget(dressed_again, nutrient="Ca")
    (row,) = dressed_again.table.query("nutrient == 'Ca' and bed == 'East'").to_dict("records")
    assert chart.data["value"].sum() == pytest.approx(row["put_in"] / 2)
    assert set(chart.data["period"]) == {"spring 2022 to spring 2024"}
    assert chart.words.subtitle.startswith("spring 2022 to spring 2024;")
    assert set(chart.data["last"]) == {row["end"]}


def test_the_words_of_a_bed_with_several_periods_are_of_the_last_as_its_picture_is(dressed_again):
    """Of the period before neither the subtitle nor the description tells."""
    table, sources = dressed_again.table, dressed_again.sources
    before = [part.assign(period="spring 2020 to spring 2022") for part in (table, sources)]
    older = before[1][before[1]["bed"] != GARDEN].assign(material="old shell")
    each = dataclasses.replace(
        dressed_again, table=pd.concat([before[0], table]), sources=pd.concat([older, sources])
    )
    for bed in ("East", None):
        chart = st.chart_budget(each, nutrient="Ca", bed=bed)
        assert "spring 2020" not in " ".join(dict(chart.words.parts()).values())
        assert "old shell" not in chart.words.description
        assert set(chart.data["period"]) == {"spring 2022 to spring 2024"}


ASH = (("2022-05-01", "wood ash", 1.5, "kg"),)


@pytest.fixture(scope="module")
def fell_silent():
    """An account of three beds, two of them dressed in the spring of 2022, after which nothing was logged."""
    one = invented(seed=3, plot=Plot(dressings=ASH, harvests=())).garden
    beds = pd.concat([one.beds.assign(check=False), one.beds[:1].assign(bed="West")], ignore_index=True)
    results = pd.concat([one.results, one.results.query("bed == 'East'").assign(bed="West")])
    gypsum = one.applications.assign(bed="West", material="gypsum", line=3)
    fed = pd.concat([one.applications, gypsum], ignore_index=True)
    garden = dataclasses.replace(one, beds=beds, results=results, applications=fed)
    return st.budget(garden, draws=300)


def test_where_the_log_falls_silent_what_it_holds_is_not_denied(fell_silent):
    """Ash went on one of three beds and is drawn; how much in all nobody knows, and since when."""
    words = st.chart_budget(fell_silent, nutrient="K").words
    assert words.headline == "Potassium went on 1 of 3 beds between their tests; how much in all is not known"
    assert "not known: nothing was logged from May 2022 to April 2024 and " in words.description
    both = st.chart_budget(fell_silent, nutrient="Ca").words.headline
    assert both.startswith("Calcium went on 2 of 3 beds")
    bare = dataclasses.replace(fell_silent, sources=fell_silent.sources.query("nutrient != 'N'"))
    none = st.chart_budget(bare, nutrient="N").words.headline
    days = "in the days accounted for"
    assert none == f"Nitrogen: nothing that holds it is logged for any of 3 beds {days}, and the log has gaps"


def test_a_dose_stands_once_among_the_sources_of_all_beds(fell_silent):
    """On the bed that got it, and not a second time averaged over the garden."""
    told = st.chart_budget(fell_silent, nutrient="K").words.description
    assert told.count("wood ash") == 1
    assert GARDEN not in told


def test_an_unknown_amount_is_not_called_an_estimate(fell_silent):
    """What is logged stands in brackets; of a bed with nothing logged it is said that the log has gaps."""
    told = st.chart_budget(fell_silent, nutrient="K", bed="East").words
    assert "an estimated" not in told.paragraph
    assert "potassium went on East (what is logged: wood ash" in told.paragraph
    assert "but how much in all is not known, and what the harvest took is not known" in told.paragraph
    assert told.headline.startswith("Potassium in East: some went in, and how much in all is not known;")
    told = st.chart_budget(fell_silent, nutrient="K", bed="West").words
    assert told.headline.startswith("Potassium in West: whether any went in is not known;")
    assert "nothing that holds potassium is logged for West, but the log has gaps" in told.paragraph


def test_the_lines_of_a_silent_log_say_since_when_it_is_silent(fell_silent, dressed_again):
    """Dressings were logged; what is missing is the rest of the log."""
    title = st.account_lines(fell_silent).title
    known = fell_silent.sources["bed"].isin(["East", "West"]).sum()
    assert title.startswith(f"Of {known} dressings by bed and nutrient it is not known how much went on in ")
    assert "nothing was logged from May 2022 to April 2024" in title
    assert "not known" not in st.account_lines(dressed_again).title


def test_an_account_of_one_bed_is_told_of_that_bed():
    """No "1 of 1 beds": the headline is that of the bed, and the bed is counted in words."""
    one = st.budget(invented(seed=3, plot=Plot(check=False)).garden, draws=300)
    words = st.chart_budget(one, nutrient="K").words
    assert words.headline == st.chart_budget(one, nutrient="K", bed="East").words.headline
    assert "kept account of potassium in one bed." in words.paragraph
    assert "1 bed" not in " ".join(dict(words.parts()).values())


def test_each_picture_of_an_account_has_a_caption_of_its_own(dressed_again):
    """Of one bed bars and two marks, of all beds bars alone, of recovery marks between two lines."""
    one, every = (st.chart_budget(dressed_again, nutrient="Ca", bed=bed).words for bed in ("East", None))
    showed = st.chart_recovery(dressed_again, nutrient="Ca").words
    assert "hatched" in one.caption
    assert "open mark is what the soil should have gained" in one.caption
    assert "Bars" in every.caption
    assert "mark" not in every.caption + every.alt
    assert "bar" not in (showed.caption + showed.alt).lower()
    for word in ("nothing", "all of it", "Filled", "open ones"):
        assert word in showed.caption
    (row,) = dressed_again.table.query("nutrient == 'Ca' and bed == 'East'").to_dict("records")
    assert f"East: {round(100 * row['recovery'], -1):.0f} %" in showed.description
    assert "Stand: " in showed.description
    assert "material by material" not in showed.note
    assert "material by material" in one.note


@pytest.mark.parametrize(
    ("unit", "measured", "says"),
    [
        ("kg", "yes", "weights and analyses are measured here, and yet a sample of a heap is not the heap,"),
        ("kg", "no", "say aloud: analyses that were not measured are wide guesses,"),
        ("bucket", "yes", "say aloud: amounts by volume are wide guesses,"),
        ("bucket", "no", "amounts by volume and analyses that were not measured are wide guesses,"),
    ],
)
def test_the_caveat_is_of_what_was_guessed(unit, measured, says):
    """A compost weighed and analysed is no guess from a table; one by the bucket is."""
    garden = invented(seed=3).garden
    own = {"material": "own compost", "kind": "compost", "K": 1.2, "moisture": 40.0, "density": 0.6}
    log = garden.applications[:1].assign(material="own compost", amount=3.0, unit=unit)
    own |= {"measured": measured, "source": "invented"}
    garden = dataclasses.replace(garden, materials=pd.DataFrame([own]), applications=log)
    assert says in st.chart_budget(st.budget(garden, draws=300), nutrient="K").words.note


@pytest.mark.parametrize(
    ("ends", "label", "said"),
    [
        ((-30.0, -43.0, -19.0), "the test says it lost", "30 g/m2 (19 to 43)"),
        ((-2.6, -82.0, 74.0), "the test says it moved by", "\u22123 g/m2 (\u221282 to 74)"),
        ((-9.5, -82.0, 63.0), "the test says it moved by", "\u22129.5 g/m2 (\u221282 to 63)"),
        ((69.0, 6.1, 130.0), "the test says it gained", "69 g/m2 (6.1 to 130)"),
    ],
)
def test_a_negative_gain_is_called_a_loss(dressed_again, ends, label, said):
    """Where all of the interval is below nothing; its mark stays to the left of nothing."""
    table = dressed_again.table.copy()
    table[["observed", "observed_low", "observed_high"]] = ends
    chart = st.chart_budget(dataclasses.replace(dressed_again, table=table), nutrient="Ca", bed="East")
    last = chart.data.iloc[-1]
    assert (last["label"], last["said"], last["value"]) == (label, said, ends[0])
