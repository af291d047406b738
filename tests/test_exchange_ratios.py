"""Ratios agree with published examples and open data, and keep basis and extractant apart."""

import numpy as np
import pytest
from molmass import Formula
from soils import computed, horton, mass, sample, two_extractants

from soiltrend import frames, tables, vocabulary
from soiltrend.exchange import ratio_gaps, ratios


@pytest.mark.parametrize(
    ("ratio", "printed"), [("Ca:Mg (charge)", 6.5), ("Ca:K (charge)", 13), ("Mg:K (charge)", 2)]
)
def test_ratios_of_the_proposed_mix(ratio, printed):
    """65 % Ca, 10 % Mg, 5 % K (Bear and others 1945): extension texts print Ca:Mg 6.5, Ca:K 13, Mg:K 2."""
    value = computed(ratios(sample(mass({"Ca": 6.5, "Mg": 1.0, "K": 0.5}))))
    assert value[ratio] == pytest.approx(printed, rel=1e-4)


def test_magnesium_for_a_wanted_ratio():
    """A course example: 1600 ppm Ca at Ca:Mg 2.1 by charge is 462.9 ppm Mg (457 with a divisor of 120)."""
    assert computed(ratios(sample({"Ca": 1600, "Mg": 462.9})))["Ca:Mg (charge)"] == pytest.approx(
        2.1, abs=0.01
    )


@pytest.mark.parametrize("pounds", [(250, 50), (2500, 500)])
def test_ratio_by_mass_and_by_charge(pounds):
    """Schulte & Kelling, Wisconsin A2986: 250:50 and 2500:500 lb/acre are both 5 by mass (3.0 by charge)."""
    value = computed(ratios(sample({"Ca": pounds[0] / 2, "Mg": pounds[1] / 2})))
    assert value["Ca:Mg (mass)"] == pytest.approx(5)
    assert value["Ca:Mg (charge)"] == pytest.approx(3.0, abs=0.05)


def test_kansas_soils():
    """Kansas State Univ. Agronomy eUpdate 582, table 1: Ca:Mg by charge of 13 soils, within its rounding."""
    calcium = np.array([42, 22, 198, 111, 202, 200, 127, 176, 35, 163, 19, 80, 158])
    magnesium = np.array([11, 4, 30, 29, 15, 12, 38, 37, 8, 28, 6, 23, 38])
    printed = np.array([3.7, 5.2, 6.7, 3.8, 13.2, 16.1, 3.3, 4.8, 4.5, 5.8, 3.3, 3.5, 4.2])
    low, high = (charge_ratio(calcium + step, magnesium - step) for step in (-0.5, 0.5))
    assert (low - 0.05 <= printed).all()
    assert (printed <= high + 0.05).all()


def charge_ratio(calcium, magnesium):
    """Return Ca:Mg by charge of many samples, from charges in cmol/kg."""
    amounts = [mass({"Ca": pair[0], "Mg": pair[1]}) for pair in zip(calcium, magnesium, strict=True)]
    frame = ratios(frames.join(*(sample(pair, sample=str(i)) for i, pair in enumerate(amounts))))
    return frame.loc[frame["analyte"] == "Ca:Mg (charge)", "value"].to_numpy()


@pytest.mark.parametrize(
    ("nitrogen", "step", "printed"),
    [(2.7, 0.05, 15), (2.0, 0.05, 20), (0.8, 0.05, 50), (0.4, 0.05, 100), (0.08, 0.005, 500)],
)
def test_carbon_to_nitrogen(nitrogen, step, printed):
    """USDA-ARS/NRCS Akron, Feeding the soil: % N at 40 % C for C:N of 15 to 500, within its rounding."""
    low, high = (
        computed(ratios(sample({"TOC": 40, "total N": end})))["C:N (mass)"]
        for end in (nitrogen + step, nitrogen - step)
    )
    assert low <= printed <= high


def test_phosphorus_saturation_is_by_moles():
    """Maguire & Sims 2002, SSSAJ 66:2033: the ratio P/[Al + Fe] of the Mehlich-3 extract is molar."""
    value = computed(ratios(sample({"P": 100, "Al": 800, "Fe": 200}, method="Mehlich-3")))
    moles = {name: amount / Formula(name).mass for name, amount in {"P": 100, "Al": 800, "Fe": 200}.items()}
    assert value["P:(Al+Fe) (moles)"] == pytest.approx(moles["P"] / (moles["Al"] + moles["Fe"]), rel=1e-4)


def test_phosphorus_saturation_is_for_its_extract_only():
    """No such ratio is given for another extractant than the one it was proposed for."""
    assert "P:(Al+Fe) (moles)" not in computed(ratios(sample({"P": 9, "Al": 80, "Fe": 20}, method="Morgan")))


def test_ratios_of_open_data():
    """Median Ca:Mg by depth: 1.70, 1.01, 0.66, 0.58 by charge."""
    frame = ratios(horton())
    medians = frame[frame["analyte"] == "Ca:Mg (charge)"].groupby("season")["value"].median()
    assert medians.round(2).tolist() == [1.70, 1.01, 0.66, 0.58]


@pytest.mark.parametrize(
    ("top", "bottom", "mark", "value"),
    [("", "", "", 5.0), ("<", "", "<", 5.0), ("", "<", ">", 5.0), (">", "", ">", 5.0), ("", ">", "<", 5.0)],
)
def test_ratios_of_limits(top, bottom, mark, value):
    """A limit above makes "<" or ">", a limit below the opposite."""
    frame = ratios(sample({"P": (10, top), "Zn": (2, bottom)}))
    row = frame[frame["analyte"] == "P:Zn (mass)"].iloc[0]
    assert (row["qualifier"], row["value"]) == (mark, value)


@pytest.mark.parametrize(("top", "bottom"), [((10, "<"), (2, "<")), (10, 0), ((10, ">"), (2, ">"))])
def test_ratios_that_say_nothing_are_gaps(top, bottom):
    """Two limits, or nothing to divide by: no ratio, and the gap is told."""
    frame = sample({"P": top, "Zn": bottom})
    assert computed(ratios(frame)).empty
    gaps = ratio_gaps(frame)
    assert gaps["analyte"].tolist() == ["P:Zn (mass)"]
    assert gaps["reason"].str.contains("zero or below, or both are below their limits").all()


def test_cation_ratios_keep_their_extractant():
    """One ratio for each extractant, named by it, so that series break where the extractant does."""
    frame = ratios(two_extractants())
    rows = frame[frame["analyte"] == "Ca:Mg (charge)"].set_index("method")["value"]
    assert rows.to_dict() == pytest.approx({"Mehlich-3": 4.0, "ammonium acetate": 3.0}, rel=1e-4)


def test_phosphorus_and_zinc_may_have_two_extractants():
    """Olsen P stands beside DTPA Zn on alkaline soils; both are named."""
    frame = frames.join(sample({"P": 20}, method="Olsen"), sample({"Zn": 2}, method="DTPA"))
    rows = ratios(frame)
    row = rows[rows["analyte"] == "P:Zn (mass)"].iloc[0]
    assert (row["method"], row["value"]) == ("Olsen / DTPA", 10.0)


def test_one_extractant_for_both_is_preferred():
    """With P by two extractants and Zn by one of them, only the pair of one extractant is given."""
    frame = frames.join(sample({"P": 20}, method="Olsen"), sample({"P": 60, "Zn": 2}, method="Mehlich-3"))
    rows = ratios(frame)
    assert rows.loc[rows["analyte"] == "P:Zn (mass)", "method"].tolist() == ["Mehlich-3"]


def test_every_ratio_of_the_table_can_be_formed():
    """A full report by one extractant gives all of them, each named as in the table and in the vocabulary."""
    full = ratios(
        sample(
            dict.fromkeys(
                ["Ca", "Mg", "K", "Na", "P", "Zn", "Fe", "Mn", "Al", "TOC", "total N", "clay"], 2.0
            ),
            method="Mehlich-3",
        )
    )
    names = tables.load("ratios")["ratio"]
    assert sorted(computed(full).index) == sorted(names)
    assert {vocabulary.canonical_unit(name) for name in names} == {"ratio"}
