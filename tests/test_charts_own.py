"""A chart under a headline of the grower's own: drawn anew, and honest about it."""

from dataclasses import replace

import pandas as pd
import pytest

import soiltrend as st
from soiltrend.charts.chart import rewording
from soiltrend.charts.style import size_of
from soiltrend.errors import SoiltrendError
from soiltrend.story.core import ALT

MOVED = {"pH": (6.0, 7.1), "K": (200, 90), "OM": (3.0, 6.5)}


@pytest.fixture(scope="module")
def kept():
    """Return a place for what is made once."""
    return {}


@pytest.fixture
def change(kept, two_springs):
    if not kept:
        kept["change"] = st.compare(two_springs(MOVED), before="spring 2022", after="spring 2024")
    return kept["change"]


def shown(chart):
    """Return all that is written on a chart, line breaks undone."""
    return " ".join(text.get_text().replace("\n", " ") for text in chart.texts)


def test_a_headline_that_is_carried_stands_alone(change):
    """The text is on the picture, and no remark."""
    chart = st.retitled(st.chart_change(change, bed="East"), text="pH rose in East", result=change)
    assert chart.words.headline == "pH rose in East"
    assert "pH rose in East" in shown(chart)
    assert "grower's own" not in shown(chart)
    assert "grower's own" not in chart.words.caption


@pytest.mark.parametrize("size", ["talk", "newsletter"])
def test_a_headline_that_is_not_carried_says_so_at_every_size(change, size):
    """The remark is on the picture, and the reason in caption, note and refusals."""
    chart = st.retitled(st.chart_change(change, bed="East"), text="Lime raised K for good", result=change)
    for drawn in (chart, chart.again(size_of(size)), *chart.pages(size_of(size))):
        assert "Lime raised K for good" in shown(drawn)
        assert "the headline is the grower's own, and the numbers do not carry it" in shown(drawn)
        assert drawn.words.refusals[0] in drawn.words.caption
        assert "names a cause" in drawn.words.note
    assert chart.again(size_of(size)).size.name == size


@pytest.mark.parametrize("bed", ["East", "The long bed under the old pear tree by the wall of the barn"])
@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("pH rose", "Headed “pH rose”."),
        ("Potassium doubled", "Headed “Potassium doubled”, which the numbers do not carry."),
        ("Forty barrows later", "Headed “Forty barrows later”, which was not checked."),
        ("Potassium doubled " + "and our club says so again " * 6, ", which the numbers do not carry."),
    ],
)
def test_the_alt_text_bears_the_headline_that_is_printed(two_springs, bed, text, says):
    """Who cannot see the picture is told its kind, what stands on it and whether the numbers carry that."""
    change = st.compare(two_springs(MOVED, beds=(bed,)), before="spring 2022", after="spring 2024")
    chart = st.retitled(st.chart_change(change, bed=bed), text=text, result=change)
    for drawn in (chart, chart.again(size_of("newsletter"))):
        assert drawn.words.alt.startswith("Dot chart of 3 soil measures")
        assert f"Headed “{text[:17]}" in drawn.words.alt
        assert drawn.words.alt.endswith(says)
        assert len(drawn.words.alt) <= ALT


def test_other_charts_keep_their_headlines(change):
    """What is done to one chart reaches no other, even when the drawing fails."""
    first = st.chart_change(change, bed="East")
    before = first.words
    st.retitled(first, text="Potassium fell in East", result=change)
    assert first.words == before
    assert st.chart_change(change, bed="West").words.headline.startswith("pH rose")
    with (
        pytest.raises(SoiltrendError, match="North"),
        rewording(lambda words: replace(words, headline="Mine")),
    ):
        st.chart_change(change, bed="North")
    assert st.chart_change(change, bed="West").words.headline.startswith("pH rose")


def test_without_a_result_the_chart_itself_is_asked(change):
    """The bed of the chart is meant; the years that humus needs are known only to the comparison."""
    chart = st.chart_change(change, bed="East")
    assert "grower's own" not in shown(st.retitled(chart, text="Potassium fell"))
    assert "grower's own" in shown(st.retitled(chart, text="Potassium rose"))
    assert "grower's own" in shown(st.retitled(chart, text="Organic matter rose", result=change))


def test_a_chart_without_verdicts_says_that_it_could_not_be_checked(change):
    """The numbers of a blend, say, carry no verdict."""
    chart = st.chart_change(change, bed="East")
    chart.data = pd.DataFrame({"material": ["leaves"]})
    found = st.retitled(chart, text="A fine heap")
    assert "nothing in it could be checked" in found.words.caption
    assert "the grower's own and was not checked" in shown(found)


def test_a_blank_headline_is_refused(change):
    with pytest.raises(SoiltrendError, match="blank"):
        st.retitled(st.chart_change(change, bed="East"), text=" ")
