"""Brews and inoculants are logged, credited with their analysis, and kindly told so."""

from dataclasses import replace

import pandas as pd
import pytest
from opened import demo_garden

from soiltrend.budget import budget
from soiltrend.why import brews


@pytest.fixture(scope="module")
def inoculated():
    """Return the demonstration garden with a packet of spores on one bed."""
    garden = demo_garden()
    one = garden.applications.iloc[:1].assign(
        date=pd.Timestamp("2023-05-01"), bed="Ferry", material="mycorrhizal inoculant", amount=100.0, unit="g"
    )
    return replace(garden, applications=pd.concat([garden.applications, one], ignore_index=True))


def test_a_brew_is_credited_with_its_analysis(inoculated):
    """Twelve cans of 2 L of comfrey ferment on 12 m2: 1.4 % dry, N 4.8 and K 11 % of that (her guess)."""
    row = brews(inoculated).table.set_index(["bed", "material"]).loc[("Ferry", "comfrey ferment")]
    dry = 24 * 1000 * 0.014 / 12
    assert row["times"] == 12
    assert row["N"] == pytest.approx(dry * 0.048, rel=0.15)
    assert row["K"] == pytest.approx(dry * 0.11, rel=0.15)
    assert "by a guessed analysis" in row["why"]
    assert "counts for no more than its analysis" in row["why"]


def test_what_holds_none_of_the_three_says_so(inoculated):
    """Calcium acetate holds no phosphorus by its formula."""
    row = brews(inoculated).table.set_index("material").loc["shells in vinegar"]
    assert row["P"] == 0
    assert "no nitrogen, phosphorus or potassium that is known" in row["why"]


def test_an_inoculant_enters_the_log_and_hardly_the_account(inoculated):
    """100 g of spores on 12 m2 bring no more than a quarter of a gram of nitrogen a square metre."""
    row = brews(inoculated).table.set_index("material").loc["microbial inoculant"]
    assert 0 < row["N"] < 0.25
    assert "observations" in row["why"]
    few = inoculated.results[
        (inoculated.results["bed"] == "Ferry") & inoculated.results["analyte"].isin(["K", "buffer pH"])
    ]
    found = budget(replace(inoculated, results=few), draws=200)
    told = found.not_counted[found.not_counted["what"] == "microbial inoculant"]
    assert told["why"].str.contains("analysis").all()
    assert len(told)


def test_a_material_that_the_log_spells_in_two_ways_is_one(inoculated):
    """Her "Comfrey Ferment" of some days is the comfrey ferment of the others."""
    log = inoculated.applications.copy()
    every_other = log.index[log["material"] == "comfrey ferment"][::2]
    log.loc[every_other, "material"] = "Comfrey  Ferment"
    spelled = brews(replace(inoculated, applications=log)).table
    pd.testing.assert_frame_equal(spelled, brews(inoculated).table)


def test_one_brew_is_told_as_one(inoculated):
    """Number and noun agree in the title."""
    log = inoculated.applications
    ferry = log[(log["material"] == "comfrey ferment") & (log["bed"] == "Ferry")]
    told = repr(brews(replace(inoculated, applications=ferry)))
    assert told.startswith("1 brew, ferment or inoculant by bed, ")
    assert " brews, ferments and inoculants by bed, " in repr(brews(inoculated))
