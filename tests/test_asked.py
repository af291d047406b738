"""Why a number moved, when the seasons are left to the tool."""

from dataclasses import replace

import pandas as pd
import pytest

import soiltrend as st
from soiltrend import frames
from soiltrend.budget.invented import Plot, invented

EXCHANGE = Plot(levels={"Ca": 1500.0, "Mg": 150.0, "K": 150.0, "acidity": 3.0})


@pytest.fixture(scope="module")
def garden():
    """Two beds with the four parts of an exchange capacity."""
    return invented(seed=3, recovery=0.3, plot=EXCHANGE).garden


def test_the_seasons_are_found(garden):
    """The two seasons that can answer are taken, as if they had been named."""
    found = st.why_latest(garden, bed="East")
    assert isinstance(found, st.WhyCEC)
    assert (found.before, found.after) == ("spring 2022", "spring 2024")
    assert set(found.table["bed"]) == {"East"}


def test_a_share_is_asked_for_by_its_cation(garden):
    """Any other question is the share of a cation."""
    found = st.why_latest(garden, question="K")
    assert isinstance(found, st.WhyShare)
    assert set(found.table["bed"]) == {"East", "Stand"}


@pytest.mark.parametrize("question", ["carbon", "Na"])
def test_no_tests_no_answer(garden, question):
    """Where nothing tells of it, a listing without rows says so."""
    found = st.why_latest(garden, question=question)
    assert isinstance(found, st.Listing)
    assert found.table.empty
    assert "nothing to take apart" in repr(found)


@pytest.mark.parametrize(
    ("question", "analyte", "unit"), [("CEC", "CEC", "cmol/kg"), ("K", "K saturation", "%")]
)
def test_what_the_laboratory_prints_cannot_be_taken_apart(garden, question, analyte, unit):
    """A capacity and shares on the report, and no sample whose parts are all known: said, and no error."""
    rows = garden.results[garden.results["analyte"].isin(["Ca", "K"])]
    printed = rows[rows["analyte"] == "K"].assign(analyte=analyte, unit=unit, value=12.0, method="")
    results = frames.results(pd.concat([rows, printed]))
    found = st.why_latest(replace(garden, results=results), question=question)
    assert found.table.empty
    assert "nothing to take apart" in repr(found)


def test_a_garden_never_tested_for_it_has_no_answer_either(garden):
    """Without a single row of exchange capacity there are no seasons to choose from, and that is said."""
    found = st.why_latest(replace(garden, results=garden.results[garden.results["analyte"] == "Ca"]))
    assert found.table.empty
    assert "nothing to take apart" in repr(found)


def test_what_was_tested_but_cannot_be_summed_gives_its_reason(garden):
    """Both springs lack magnesium: the reason is that, in the answer and on its picture."""
    calcium = garden.results[garden.results["analyte"].isin(["Ca", "K"])]
    found = st.why_latest(replace(garden, results=calcium))
    assert "No exchange capacity can be computed (not measured: Mg)" in repr(found)
    words = st.chart_why(found, bed="East").words
    assert words.subtitle == "No exchange capacity can be computed (not measured: Mg)"
    assert "two tests" not in repr(words)
