"""What a result shows: numbers a measurement can carry, tables that escape and say what they leave out."""

import html.parser
import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soiltrend import present

BEDS = pd.DataFrame(
    {
        "bed": ["East", "West"],
        "pH": [6.4, np.nan],
        "n": [3, 12],
        "limed": [True, False],
        "sampled": pd.to_datetime(["2024-04-02", None]),
    }
)


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (1234.5, "1230"),
        (120.0, "120"),
        (6.4, "6.40"),
        (0.04567, "0.0457"),
        (9.996, "10.0"),
        (99.96, "100"),
        (0.9996, "1.00"),
        (-3.14159, "-3.14"),
        (-9.996, "-10.0"),
        (0.0, "0"),
        (-0.0, "0"),
        (1e-9, "0.00000000100"),
        (999.6, "1000"),
        (123456.0, "123000"),
        (float("nan"), ""),
        (float("inf"), "no limit"),
        (float("-inf"), "no limit"),
    ],
)
def test_numbers(value, shown):
    """Three significant digits, no exponent, words for what is no number."""
    assert present.number(value) == shown


@given(st.floats(1e-6, 1e9), st.integers(1, 6))
def test_numbers_are_right_to_their_digits(value, digits):
    """What is shown lies within half a unit of its last digit, and never has more digits than asked for."""
    shown = present.number(value, digits=digits)
    assert abs(float(shown) - value) <= 0.5000001 * 10 ** (math.floor(math.log10(value)) + 1 - digits)
    assert "e" not in shown
    if "." in shown:
        assert len(shown.replace(".", "").lstrip("0")) == digits


def test_cells_are_text():
    """Days as days, truth as yes and no, whole numbers whole, missing as blank."""
    assert present.cells(BEDS).to_numpy().tolist() == [
        ["East", "6.40", "3", "yes", "2024-04-02"],
        ["West", "", "12", "no", ""],
    ]


def test_none_is_blank():
    """A cell with nothing in it shows nothing."""
    assert present.cells(pd.DataFrame({"why": [None, "x"]}, dtype=object))["why"].tolist() == ["", "x"]


def test_plain_text():
    """A title and the table."""
    text = present.plain("Two beds", BEDS[["bed", "pH"]])
    assert text.splitlines()[0] == "Two beds"
    assert [line.split() for line in text.splitlines()[1:]] == [["bed", "pH"], ["East", "6.40"], ["West"]]


def test_an_empty_table_says_so():
    """No rows is a sentence, not a blank."""
    assert present.plain("No beds", BEDS.head(0)) == "No beds\n(no rows)"


@pytest.mark.parametrize("show", [present.plain, present.page])
def test_long_tables_say_what_they_leave_out(show):
    """Sixty rows, then the number of the others; a table of sixty says nothing."""
    long = pd.DataFrame({"n": range(64)})
    assert "... and 4 more rows" in show("Long", long)
    assert "more rows" not in show("Sixty", long.head(60))


class Outline(html.parser.HTMLParser):
    """Collects the tags of a page, and its text by tag."""

    def __init__(self, page):
        super().__init__()
        self.open, self.texts, self.attributes = [], [], []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        if tag == "wbr":  # where a long name may break; it has no end
            return
        self.open.append(tag)
        self.attributes.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.texts.append((self.open[-1], data))


def test_page_is_a_table_with_a_caption_and_scoped_headers():
    """What a screen reader needs: caption, and headers that say they head a column."""
    outline = Outline(present.page("Two beds", BEDS))
    assert outline.open == []
    assert ("caption", "Two beds") in outline.texts
    assert [text for tag, text in outline.texts if tag == "th"] == list(BEDS)
    heads = [attributes for tag, attributes in outline.attributes if tag == "th"]
    assert {head["scope"] for head in heads} == {"col"}


@given(st.text(min_size=1), st.text(min_size=1))
def test_every_text_is_escaped(title, cell):
    """No title, heading or cell can open a tag: what comes back is what was put in."""
    outline = Outline(present.page(title, pd.DataFrame({cell: [cell]}, dtype=object)))
    known = {"div", "table", "caption", "thead", "tbody", "tr", "th", "td"}
    assert {tag for tag, _ in outline.attributes} == known
    assert outline.attributes[0][1]["aria-label"] == title
    back = {
        tag: "".join(text for other, text in outline.texts if other == tag) for tag in ("caption", "th", "td")
    }
    assert back == {"caption": title, "th": cell, "td": cell}


def test_a_table_scrolls_by_the_keyboard_and_gives_sentences_room():
    """WCAG 2.2, 2.1.1: what scrolls can be reached by keyboard; a column of sentences is not squeezed."""
    table = pd.DataFrame({"bed": ["East"], "why": ["a reason of many words " * 4]})
    attributes = Outline(present.page("One bed", table)).attributes
    tag, box = attributes[0]
    assert (tag, box["tabindex"], box["role"]) == ("div", "0", "group")
    heads = [given["style"] for tag, given in attributes if tag == "th"]
    assert ["min-width" in style for style in heads] == [False, True]


def test_a_listing_shows_itself():
    """As text at the prompt, as a table in a notebook."""
    listing = present.Listing("Beds", BEDS)
    assert repr(listing) == present.plain("Beds", BEDS)
    assert listing._repr_html_() == present.page("Beds", BEDS)


def test_a_saved_table_comes_back(tmp_path):
    """Unrounded, without the index, into a folder that is made."""
    path = tmp_path / "out" / "beds.csv"
    present.save_table(present.Listing("Beds", BEDS.assign(pH=[6.123456789, 7.0])), path)
    back = pd.read_csv(path, parse_dates=["sampled"])
    pd.testing.assert_frame_equal(back, BEDS.assign(pH=[6.123456789, 7.0]), check_dtype=False)


@given(st.floats(-1e3, 1e3), st.floats(1e-3, 1e3), st.floats(0.0, 1.0))
def test_a_number_within_its_interval_reads_as_nothing_only_far_below_its_width(value, width, at):
    """By arithmetic: rounded to a fortieth of the width at most, no more than an eightieth of it is lost."""
    told = float(present.within(value, low=value - at * width, high=value + (1 - at) * width))
    assert abs(told - value) <= max(0.0125 * width, 0.05 * abs(value)) * (1 + 1e-9)
    if abs(value) > 0.0125 * width:
        assert np.sign(told) == np.sign(value)


def test_a_slope_far_below_its_interval_keeps_sign_and_digit():
    """-3.3 % a year within -43 to 64 is -3 and not 0; what is far below that is nothing."""
    assert present.within(-3.3, low=-43.0, high=64.0) == "-3"
    assert present.within(2.7, low=-43.0, high=64.0, sign=True) == "+3"
    assert present.within(-0.4, low=-43.0, high=64.0) == "0"
