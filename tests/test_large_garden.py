"""A garden of sixty beds and fifteen years: read whole, judged alike, drawn without shrinking."""

import numpy as np
import pytest
from gardens import LEVELS, large_garden
from matplotlib.text import Text

import soiltrend as st
from soiltrend import frames

BEDS, YEARS = 60, 15


@pytest.fixture(scope="module")
def garden(tmp_path_factory):
    return st.open_garden(large_garden(tmp_path_factory.mktemp("large") / "garden", beds=BEDS, years=YEARS))


@pytest.fixture(scope="module")
def trend(garden):
    return st.trend(garden.results)


def test_every_value_is_read(garden):
    """Sixty beds, fifteen springs, twelve measures: as many rows, none set aside."""
    assert len(garden.results) == BEDS * YEARS * len(LEVELS)
    assert garden.set_aside.empty
    assert (garden.beds["check"].sum(), len(garden.applications)) == (BEDS // 10, BEDS * 9 // 10 * YEARS)


def test_what_moves_is_found_and_what_does_not_is_left(trend):
    """Potassium rises by two per cent a year in dressed beds, and nothing else moves anywhere."""
    beds = trend.table[trend.table["bed"] != frames.GARDEN]
    held = beds["bed"].str.endswith("0")
    rises = (beds["analyte"] == "K") & ~held
    assert (beds["verdict"][rises] == "rising").mean() > 0.9, "the slope is four times its standard error"
    stands = beds["verdict"].isin(["rising", "falling"]) & (beds["q"] <= 0.05)
    assert stands[~rises].sum() <= 3
    np.testing.assert_allclose(beds.loc[rises, "percent_per_year"].median(), 2.0, atol=0.4)


def test_a_picture_of_sixty_beds_goes_on_over_pages(garden):
    """The type stays as large as it is for three beds; every bed stands on one of the pages."""
    change = st.compare(garden.results, before="spring 2010", after="spring 2024")
    chart = st.chart_change(change, analyte="K")
    drawn = list(st.pages(chart, size="talk").charts.values())
    texts = [text for page in drawn for text in page.findobj(Text) if text.get_text().strip()]
    assert len(drawn) > 1
    assert all(any(bed in text.get_text() for text in texts) for bed in garden.beds["bed"])
    assert min(text.get_fontsize() for text in texts) >= 24
