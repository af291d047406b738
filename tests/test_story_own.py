"""A headline of the grower's own: what it claims is heard, and what the numbers do not carry is said."""

import pandas as pd
import pytest

from soiltrend import story
from soiltrend.compare import compare
from soiltrend.errors import SoiltrendError
from soiltrend.noise import noise_model
from soiltrend.present import Listing
from soiltrend.simulate import Design, simulate_garden
from soiltrend.story import own_headline
from soiltrend.story.hearing import EVERY, hear
from soiltrend.trend import trend

MOVED = {
    "pH": (6.0, 7.1),
    "K": (200, 90),
    "Ca": (1500, 1560),
    "P": (40, 41),
    "OM": (3.0, 6.5),
    "Ca saturation": (60, 85),
}
BEDS = ("East", "West Wall")


@pytest.fixture(scope="module")
def kept():
    """Return a place for what is made once."""
    return {}


@pytest.fixture
def change(kept, two_springs):
    if not kept:
        kept["change"] = compare(two_springs(MOVED, beds=BEDS), before="spring 2022", after="spring 2024")
    return kept["change"]


@pytest.mark.parametrize(
    ("text", "claims"),
    [
        ("pH rose", [("pH", "rose", [])]),
        ("pH and zinc rose in East", [("pH", "rose", ["East"]), ("Zn", "rose", ["East"])]),
        ("Potassium up, calcium down in East", [("K", "rose", ["East"]), ("Ca", "fell", ["East"])]),
        ("In East, pH gained and K dropped", [("pH", "rose", ["East"]), ("K", "fell", ["East"])]),
        ("A rise in potassium and zinc", [("K", "rose", []), ("Zn", "rose", [])]),
        ("More zinc in West Wall, less iron", [("Zn", "rose", ["West Wall"]), ("Fe", "fell", ["West Wall"])]),
        ("Organic matter did not fall", [("OM", "held", [])]),
        ("Calcium saturation doubled", [("Ca saturation", "rose", [])]),
        ("Humus held steady", [("OM", "held", [])]),
        ("Phosphorus did not clearly change", [("P", "", [])]),
        ("As we hoped, boron climbed", [("B", "rose", [])]),
        ("A fine day in the west", []),
    ],
)
def test_what_a_headline_claims_is_heard(text, claims):
    """Names before or after their verb, nots, beds, symbols and plain words."""
    found = [(claim.measure, claim.way, claim.beds) for claim in hear(text, beds=BEDS).claims]
    assert found == claims


def test_numbers_counts_and_years_are_told_apart():
    """40 % is an amount, 2 of 7 beds a count, 2024 a year."""
    heard = hear("pH rose by 0.4 in 2 of 7 beds since 2024, zinc fell by 40 %", beds=())
    assert [[(n.text, n.value, n.percent) for n in claim.numbers] for claim in heard.claims] == [
        [("0.4", 0.4, False)],
        [("40 %", 40.0, True)],
    ]
    assert heard.counts == [(2, 7)]
    assert heard.years == ["2024"]


@pytest.mark.parametrize(
    "text",
    [
        "pH rose in East",
        "pH climbed from 6.0 to 7.1 in East",
        "pH up by 1.1 in West Wall",
        "Potassium fell by 55 % in East",
        "Potassium more than halved in East",
        "pH rose in 2 of 2 beds",
        "pH rose and potassium fell in both East and West Wall between 2022 and 2024",
        "pH changed in East",
        "In both raised beds pH rose",
    ],
)
def test_what_the_numbers_carry_bears_no_warning(change, text):
    """Every claim is understood and carried."""
    found = own_headline(change, text=text)
    assert found.note == ""
    assert len(found.table) > 0
    assert found.table["carried"].all()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("pH fell in East", "pH rose in East"),
        ("Calcium rose in East", "what calcium did in East is unclear"),
        ("Phosphorus held in East", "unclear is not the same as unchanged"),
        ("pH did not change in East", "pH rose in East"),
        ("Organic matter doubled in East", "organic matter is slow and needs 3 years"),
        ("Calcium saturation rose in East", "a share of the whole"),
        ("Zinc rose in East", "zinc is not among the measures"),
        ("pH rose by 2.5 in East", "2.5 is not what was found for pH: 6.00 to 7.10"),
        ("Potassium fell by 20 percent in East", "20 % is not what was found for potassium: −55 %"),
        ("Potassium tripled in East", "potassium fell in East"),
        ("pH rose in 1 of 2 beds", "it is so in 2 of 2 beds"),
        ("pH rose since 2015", "2015 is not among the dates"),
        ("pH rose in East because of lime", "names a cause"),
        ("Lime raised pH in East", "names a cause"),
        ("pH is rising in East", "two dates are a difference"),
        ("pH rose in East, a healthier soil", "“healthier” is a grade"),
        ("pH rose in East and will rise again", "“will” is a forecast"),
        ("Calcium rose in all beds", "“all” is more than the numbers carry: 0 of 2"),
    ],
)
def test_what_the_numbers_do_not_carry_is_said(change, text, says):
    """The note quotes what is wrong and what was found; the headline itself is kept."""
    found = own_headline(change, text=text)
    assert says in found.note
    assert found.note.startswith("The headline is the grower's own.")
    assert found.text == text
    assert not found.table["carried"].all()


@pytest.mark.parametrize(
    ("text", "counts"),
    [
        ("Zinc fell in both beds", [(2, 2)]),
        ("Zinc fell in both of our beds", [(2, 2)]),
        ("Zinc fell in both", [(2, 2)]),
        ("Zinc fell in one of two beds", [(1, 2)]),
        ("Zinc fell in one of our two beds", [(1, 2)]),
        ("Zinc fell in 3 of the seven beds", [(3, 7)]),
        ("Zinc fell in both Raised Beds", [(2, 2)]),
        ("In one of our two raised beds zinc fell", [(1, 2)]),
        ("Zinc fell in neither bed", [(0, 0)]),
        ("None of the four beds gained zinc", [(0, 4)]),
        ("Not one bed gained zinc", [(0, 0)]),
        ("Zinc did not fall in either bed", [(EVERY, 0)]),
        ("Both zinc and iron fell", []),
        ("Zinc and iron both fell", []),
        ("Zinc fell in both East and West Wall", []),
        ("Two of seven measures moved", []),
    ],
)
def test_how_many_beds_are_meant_is_heard_in_words_and_in_figures(text, counts):
    """Words count as figures do; "both" before measures or names of beds counts no beds."""
    heard = hear(text, beds=BEDS)
    assert heard.counts == counts
    assert all(claim.counts == counts for claim in heard.claims)


def test_a_count_belongs_to_the_measure_it_was_said_of():
    """Each claim has its own count, or that of its neighbour."""
    heard = hear("Zinc and iron fell in one of two beds, pH rose in both beds", beds=BEDS)
    assert [(claim.measure, claim.way, claim.counts) for claim in heard.claims] == [
        ("Zn", "fell", [(1, 2)]),
        ("Fe", "fell", [(1, 2)]),
        ("pH", "rose", [(2, 2)]),
    ]
    assert [claim.way for claim in hear("No bed gained zinc", beds=BEDS).claims] == ["rose"]


def test_two_counts_of_one_measure_share_their_beds():
    """As the tool itself says it: each verb has its count, and both are of the same beds."""
    for counts in ("rose in 2 and fell in 1 of 7 beds", "rose in two and fell in one of our 7 beds"):
        heard = hear(f"Potassium {counts}", beds=BEDS)
        found = [(claim.measure, claim.way, claim.counts) for claim in heard.claims]
        assert found == [("K", "rose", [(2, 7)]), ("K", "fell", [(1, 7)])]
    heard = hear("Zinc rose in 2 of 7 beds, and pH fell in 1 of 7 beds", beds=BEDS)
    assert [(claim.measure, claim.way) for claim in heard.claims] == [("Zn", "rose"), ("pH", "fell")]


@pytest.fixture
def one_of_two(kept, two_springs):
    """Return a comparison in which potassium fell in East alone; over both beds it fell, too."""
    if "one" not in kept:
        frames_ = [
            two_springs({"K": ends, "pH": (6.0, 7.1), "Ca": (1500, 1510)}, beds=(bed,))
            for bed, ends in (("East", (400, 90)), ("West Wall", (180, 182)))
        ]
        kept["one"] = compare(pd.concat(frames_), before="spring 2022", after="spring 2024")
    return kept["one"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("Potassium fell in both beds", "it is so in 1 of 2 beds"),
        ("Potassium fell in both", "it is so in 1 of 2 beds"),
        ("Potassium fell in neither bed", "it is so in 1 of 2 beds"),
        ("No bed lost potassium", "it is so in 1 of 2 beds"),
        ("Potassium rose in none of the beds", "what potassium did in West Wall is unclear"),
        ("Potassium did not fall in either bed", "it is so in 0 of 2 beds"),
        ("Potassium fell in one of three beds", "it is so in 1 of 2 beds"),
        ("pH rose in one of two beds, potassium fell in one of two beds", "it is so in 2 of 2 beds"),
        ("Potassium fell in one of two beds", ""),
        ("Potassium fell in one of our two beds", ""),
        ("Potassium fell in one of the 2 beds", ""),
        ("pH rose in both beds", ""),
        ("pH fell in neither bed", ""),
        ("No bed lost any pH", ""),
        ("pH rose in both beds, potassium fell in one of the two", ""),
    ],
)
def test_a_count_of_beds_is_held_against_the_beds(one_of_two, text, says):
    """What one of two beds did is not carried for both, and is carried for one of two."""
    note = own_headline(one_of_two, text=text).note
    assert says in note
    assert bool(note) == bool(says)


def test_a_move_that_luck_can_make_is_said_to_be_one(two_springs):
    """Calcium alone moved, among many measures: its interval leaves out nothing, its q does not stand."""
    still = {f"{name}": (50, 50.5) for name in ("P", "K", "Mg", "S", "Zn", "Mn", "Fe", "Cu")}
    change = compare(
        two_springs(still | {"Ca": (1500, 2050)}, beds=("East",)), before="spring 2022", after="spring 2024"
    )
    row = change.table.query("analyte == 'Ca' and bed == 'East'").iloc[0]
    assert row["verdict"] == "rose"
    assert row["q"] > 0.05
    assert "luck can do that" in own_headline(change, text="Calcium rose in East").note


def test_what_cannot_be_checked_is_said_to_be_so(change):
    """Nothing understood: the note says that, and the table is empty."""
    found = own_headline(change, text="Forty barrows later")
    assert found.table.empty
    assert "nothing in it could be checked" in found.note


def test_where_no_bed_is_named_the_bed_of_the_chart_is_meant(change):
    """A chart of one bed speaks of it; of all beds, of the garden."""
    one = Listing("", change.table[change.table["bed"] == "East"])
    assert own_headline(one, text="pH rose").table["said"].tolist() == ["pH rose in East"]
    assert own_headline(change, text="pH rose").table["said"].tolist() == ["pH rose over the garden"]
    assert own_headline(change, text="pH rose", bed="West Wall").note == ""


@pytest.mark.parametrize("text", ["", "  \n"])
def test_a_blank_headline_is_refused(change, text):
    with pytest.raises(SoiltrendError, match="blank"):
        own_headline(change, text=text)


def test_a_result_without_verdicts_is_refused(change):
    with pytest.raises(SoiltrendError, match="without the column 'verdict'"):
        own_headline(Listing("", change.table[["bed", "analyte"]]), text="pH rose")


def test_the_tools_own_headlines_pass(change):
    """What the story says of an invented garden is never warned of when it is written by hand."""
    garden = simulate_garden(seed=7, design=Design(beds=3), change={"pH": 1.0, "K": -0.9, "Zn": 1.2})
    found = compare(garden, before="spring 2022", after="spring 2024", noise=noise_model())
    heads = [(story.headline(found, bed=bed), bed) for bed in found.table["bed"].unique()]
    heads += [(story.headline_of_beds(found, analyte=name), None) for name in ("pH", "K", "Zn", "Mg")]
    told = [own_headline(found, text=head, bed=bed) for head, bed in heads]
    assert any(len(one.table) for one in told)
    assert all(one.table["carried"].all() for one in told)


def test_a_trend_is_held_against_slopes():
    """Eight springs that climb: rising is carried, falling is not, and a rate is compared."""
    seasons = tuple(f"spring {year}" for year in range(2017, 2025))
    design = Design(beds=1, seasons=seasons, levels={"K": 150.0})
    garden = simulate_garden(seed=1, design=design, change={"K": 1.5})
    found = trend(garden, noise=noise_model())
    rate = found.table.loc[found.table["bed"] == "bed 1", "percent_per_year"].iloc[0]
    assert own_headline(found, text=f"Potassium is rising by {rate:.0f} % a year in bed 1").note == ""
    assert "potassium rising in bed 1" in own_headline(found, text="Potassium is falling in bed 1").note
    assert "is not what was found" in own_headline(found, text="Potassium rose by 90 % a year in bed 1").note
