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
