"""Shells and bones in vinegar by stoichiometry, and what a can of it brings to a bed."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from molmass import Formula

from soiltrend import tables, units
from soiltrend.errors import SoiltrendError
from soiltrend.materials import (
    acid_extract,
    drawn,
    dry_kg,
    extract_material,
    known_materials,
    liquid_dose,
)

ACETIC = Formula("C2H4O2").mass
CALCIUM = Formula("Ca").mass
CHALK = Formula("CaCO3").mass
APATITE = Formula("Ca5P3O13H").mass
SOLIDS = sorted(tables.load("solids")["solid"])


def test_what_a_litre_of_vinegar_can_hold():
    """50 g of acetic acid hold 16.7 g of calcium as acetate, from 41.7 g of carbonate (molmass)."""
    made = acid_extract("eggshell", grams=500, litres=1)
    most = 50 / ACETIC / 2 * CALCIUM
    assert made.table["most_per_L"].tolist() == pytest.approx([most], rel=1e-4)
    assert most == pytest.approx(16.68, abs=0.01)
    assert made.dissolved == pytest.approx(50 / ACETIC / 2 * CHALK, rel=1e-4)
    assert made.holds == pytest.approx(made.dissolved / 0.94)
    assert made.acid_left == 0
    assert made.left == pytest.approx(500 - made.dissolved)


def test_too_little_shell_leaves_the_acid_sour():
    """10 g of shell dissolve but for their membrane, and most of the acid stays."""
    made = acid_extract("eggshells", grams=10, litres=1)
    assert made.table["grams"].tolist() == pytest.approx([10 * 0.94 * CALCIUM / CHALK], rel=1e-4)
    assert made.left == pytest.approx(0.6)
    assert made.acid_left == pytest.approx(1 - 9.4 / CHALK * 2 * ACETIC / 50, rel=1e-4)
    assert made.table["why"].iloc[0].startswith("all of the mineral is dissolved")


def test_bones_give_five_of_calcium_to_three_of_phosphorus():
    """Apatite in a weak acid: 7 acid, 5 calcium, 3 dihydrogen phosphate (molmass)."""
    made = acid_extract("burnt bones", grams=500, litres=2)
    grams = made.table.set_index("nutrient")["grams"]
    assert grams["Ca"] == pytest.approx(100 / ACETIC / 7 * 5 * CALCIUM, rel=1e-4)
    assert grams["Ca"] / grams["P"] == pytest.approx(5 * CALCIUM / 3 / Formula("P").mass, rel=1e-4)
    assert made.dissolved == pytest.approx(100 / ACETIC / 7 * APATITE, rel=1e-4)


@given(
    st.sampled_from(SOLIDS),
    st.floats(0.1, 2000),
    st.floats(0.05, 20),
    st.floats(0.5, 24),
    st.sampled_from(["acetic acid", "lactic acid"]),
)
def test_nothing_comes_from_nothing(solid, grams, litres, strength, acid):
    """Solid in is dissolved and left; acid holds no more than it can; ends stand in order."""
    made = acid_extract(solid, grams=grams, litres=litres, strength=strength, acid=acid)
    assert made.dissolved + made.left == pytest.approx(grams)
    assert 0 < made.dissolved <= grams
    assert 0 <= made.acid_left < 1
    table = made.table
    assert (table["low"] <= table["grams"]).all()
    assert (table["grams"] <= table["high"]).all()
    assert (table["g_per_L"] <= table["most_per_L"] * (1 + 1e-9)).all()
    twice = acid_extract(solid, grams=2 * grams, litres=2 * litres, strength=strength, acid=acid)
    assert twice.table["grams"].to_numpy() == pytest.approx(2 * table["grams"].to_numpy())


@given(st.sampled_from(SOLIDS), st.floats(1, 2000), st.floats(0.1, 10))
def test_an_extract_as_a_material_holds_what_was_dissolved(solid, grams, litres):
    """Wet litres times dry matter times analysis is the calcium of the jar again."""
    made = acid_extract(solid, grams=grams, litres=litres)
    row = extract_material(made, name="jar").iloc[0]
    dry = litres * row["density"] * 1000 * (1 - row["moisture"] / 100)
    for nutrient, in_jar in zip(made.table["nutrient"], made.table["grams"], strict=True):
        assert dry * row[nutrient] / 100 == pytest.approx(in_jar)
    assert 0 < row["Ca"] + row["P"] + row["C"] < 100


def test_pure_calcium_acetate():
    """Shell in vinegar leaves calcium acetate: 25.3 % Ca (molmass), close to the table's row."""
    made = acid_extract("oyster shell", grams=200, litres=1)
    row = extract_material(made, name="jar").iloc[0]
    acetate = Formula("Ca(C2H3O2)2")
    assert row["Ca"] == pytest.approx(100 * CALCIUM / acetate.mass, rel=1e-4)
    known = known_materials().loc["vinegar extract of eggshell"]
    assert known["moisture_low"] <= row["moisture"] <= known["moisture_high"]


def test_the_bubbles_leave_the_jar():
    """A litre of vinegar takes up its 41.7 g of carbonate and loses 18.3 g of carbon dioxide (molmass)."""
    made = acid_extract("eggshell", grams=100, litres=1)
    moles = 50 / ACETIC / 2
    grams = 1005 + moles * (CHALK - Formula("CO2").mass)
    assert extract_material(made, name="jar")["density"].iloc[0] == pytest.approx(grams / 1000, rel=1e-5)


def test_the_jar_goes_into_the_table_of_materials():
    """The row is taken by known_materials, weighed and drawn like any other."""
    made = acid_extract("eggshell", grams=100, litres=1)
    known = known_materials(extract_material(made, name="Shell jar"))
    row, rng = known.loc["shell jar"], np.random.default_rng(3)
    assert row["origin"] == "own"
    kg = dry_kg(1, "L", row, area_m2=10, draws=4000, rng=rng)
    calcium = kg * drawn(row, draws=4000, rng=rng)["Ca"] / 100
    assert 1000 * calcium.mean() == pytest.approx(made.table["grams"].iloc[0], rel=0.06)


def test_a_thinned_can_is_told_kindly():
    """1 in 500 on 12 m2: a third of a gram, a trace; unthinned it counts."""
    made = acid_extract("eggshell", grams=100, litres=1)
    thin = liquid_dose(made, litres=10, area_m2=12, parts_water=500).table.iloc[0]
    assert thin["grams"] == pytest.approx(made.table["g_per_L"].iloc[0] * 10 / 501)
    assert thin["g_per_m2"] == pytest.approx(thin["grams"] / 12)
    assert thin["said"].startswith("a trace: good practice")
    little = liquid_dose(made, litres=10, area_m2=12, parts_water=30).table.iloc[0]
    assert little["said"].startswith("a little")
    much = liquid_dose(made, litres=10, area_m2=12).table.iloc[0]
    assert much["said"].startswith("it counts")
    expected = units.convert(much["g_per_m2"], unit="g/m2", to="mg/kg", depth_cm=15, bulk_density=1.3)
    assert much["mg_per_kg"] == pytest.approx(expected)


@pytest.mark.parametrize("name", ["comfrey ferment", "compost brew", "milk whey"])
def test_a_ferment_has_a_wide_range(name):
    """A liquid of the table gives ranges, in order, for what it is known to hold."""
    dose = liquid_dose(known_materials().loc[name], litres=10, area_m2=10, parts_water=10)
    table = dose.table
    assert {"N", "K", "Ca"} <= set(table["nutrient"])
    assert "C" not in set(table["nutrient"])
    assert (table["low"] <= table["grams"]).all()
    assert (table["grams"] <= table["high"]).all()
    assert (table["said"] != "").all()
    assert "itself, on 10 m2" in repr(dose)
    assert "<table" in dose._repr_html_()


REFUSED = [
    ({"solid": "pearls"}, "'pearls' is no solid known here"),
    ({"acid": "aqua regia"}, "'aqua regia' is no acid known here"),
    ({"litres": 0}, "litres = 0 is not a positive number"),
    ({"strength": -5}, "strength = -5 is not a positive number"),
    ({"strength": 500}, "strength = 500 is more acid than liquid"),
]


@pytest.mark.parametrize(("told", "words"), REFUSED)
def test_a_jar_of_nothing_is_refused(told, words):
    """The error quotes what was given."""
    asked = {"grams": 10, "litres": 1} | told
    with pytest.raises(SoiltrendError, match=words):
        acid_extract(asked.pop("solid", "eggshell"), **asked)


def test_a_liquid_of_unknown_strength_is_refused():
    """Without moisture or density grams cannot be told; amounts must be positive."""
    row = known_materials(pd.DataFrame({"material": ["bog water"], "N": [2.0]})).loc["bog water"]
    with pytest.raises(SoiltrendError, match="moisture of 'bog water' is not known"):
        liquid_dose(row, litres=1, area_m2=1)
    made = acid_extract("eggshell", grams=100, litres=1)
    with pytest.raises(SoiltrendError, match="area_m2 = 0 is not a positive number"):
        liquid_dose(made, litres=1, area_m2=0)
    with pytest.raises(SoiltrendError, match="parts_water = -1 is less than none"):
        liquid_dose(made, litres=1, area_m2=1, parts_water=-1)


def test_the_jar_shows_itself():
    """The line above the table says what it holds and what stays at the bottom."""
    made = acid_extract("eggshell", grams=100, litres=1)
    assert repr(made).startswith(
        "100 g of eggshell in 1 L of 5 % acetic acid: it can use up 44.3 g of it at most; "
        "41.7 g of mineral dissolve and 58.3 g stay at the bottom"
    )
    assert "<table" in made._repr_html_()
