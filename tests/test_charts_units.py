"""A chart is drawn in the units its words are spoken in; what is written beside it keeps its own."""

import re

import pytest
from pictures import KINDS, texts

from soiltrend import story

METRIC = re.compile(r"(?<![\w/])(?<!100 )(mg/kg|cmol/kg|g/m2|kg/m2|kg|g|L|cm)(?![\w/])")
POUND, FOOT = 0.45359237, 0.3048
"""Kilograms in a pound and metres in a foot, both exact (NIST SP 811, appendix B.8)."""

DRAWN = {"account": FOOT**2 / POUND, "blend": 1 / POUND, "season": FOOT**2 / POUND}
"""What bars are multiplied by: g/m2 to lb/1000 sq ft, kg to lb."""


@pytest.fixture
def american():
    story.speak(units="US")
    yield
    story.speak()


@pytest.mark.parametrize("kind", KINDS)
def test_a_chart_names_the_units_of_its_words(american, kind):
    """No metric unit stands on a picture whose words are spoken in those of the United States."""
    chart = KINDS[kind]("web")
    assert not [text.get_text() for text, _ in texts(chart) if METRIC.search(text.get_text())]


def bars(chart):
    """Return how far each bar or column of a chart reaches from zero."""
    return [patch.get_width() if patch.get_x() == 0 else patch.get_height()
            for axes in chart.axes for group in axes.containers for patch in group.patches]  # fmt: skip


@pytest.mark.parametrize("kind", DRAWN)
def test_bars_reach_as_far_as_the_unit_says(american, kind):
    """A bar of 1 g/m2 reaches to 0.205 lb/1000 sq ft, one of 1 kg to 2.20 lb; the data stay metric."""
    there = KINDS[kind]("web")
    story.speak()
    here = KINDS[kind]("web")
    assert bars(there) == pytest.approx([DRAWN[kind] * value for value in bars(here)])
    assert any(bars(here))
    columns = here.data.select_dtypes("number").columns
    assert there.data[columns].equals(here.data[columns])
