"""Conversions agree with independent libraries and with worked examples in print."""

import numpy as np
import pandas as pd
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from molmass import Formula

from soiltrend import tables, units
from soiltrend.errors import UnitError

UREG = pint.UnitRegistry()
PINT = {
    "mg/kg": "mg/kg",
    "g/kg": "g/kg",
    "%": "percent",
    "mg/100g": "mg/(100 g)",
    "ug/kg": "ug/kg",
    "cmol/kg": "centimole/kg",
    "mmol/kg": "millimole/kg",
    "kg/ha": "kg/hectare",
    "t/ha": "metric_ton/hectare",
    "g/m2": "g/m**2",
    "kg/m2": "kg/m**2",
    "lb/acre": "lb/(43560 ft**2)",
    "lb/1000 sq ft": "lb/(1000 ft**2)",
    "lb/100 sq ft": "lb/(100 ft**2)",
    "oz/100 sq ft": "oz/(100 ft**2)",
    "oz/1000 sq ft": "oz/(1000 ft**2)",
    "oz/sq yd": "oz/yd**2",
    "mg/dm3": "mg/dm**3",
    "g/dm3": "g/dm**3",
    "meq/100cm3": "millimole/(100 cm**3)",
    "dS/m": "decisiemens/m",
    "uS/cm": "microsiemens/cm",
    "mS/m": "millisiemens/m",
    "g/cm3": "g/cm**3",
    "min": "minute",
}
"""Every unit with a physical meaning, in the words of the unit library pint (charge as moles)."""

DIMENSIONLESS = {"pH", "index", "ratio", "score", "count"}
TABLE = tables.load("units").set_index("unit")
PAIRS = [(a, b) for a in PINT for b in PINT if TABLE.at[a, "dimension"] == TABLE.at[b, "dimension"]]
FURROW_SLICE = {"depth_cm": 6.67 * 2.54, "bulk_density": 1.324}
"""The acre furrow slice of 2,000,000 lb [cm, g/cm3]."""


def test_every_unit_is_checked_here():
    """A new unit needs its counterpart, or a word that it has none."""
    assert set(PINT) | DIMENSIONLESS == set(TABLE.index)


@pytest.mark.parametrize(("unit", "to"), PAIRS)
def test_units_of_one_dimension(unit, to):
    """Within a dimension pint is the judge."""
    expected = (UREG(PINT[unit]) / UREG(PINT[to])).to("dimensionless").magnitude
    assert units.convert(1.0, unit=unit, to=to) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("spelling", "same"), [("mmho/cm", "millimho/cm"), ("umho/cm", "micromho/cm"), ("mS/cm", "mS/cm")]
)
def test_old_units_of_conductivity(spelling, same):
    """A mho is a siemens."""
    expected = UREG(same).to("decisiemens/m").magnitude
    assert units.convert(1.0, unit=spelling, to="dS/m") == pytest.approx(expected)


@pytest.mark.parametrize("unit", ["kg/m3", "g/L", "mg/dm3"])
def test_a_bulk_density_is_a_mass_by_a_volume(unit):
    """Pint is the judge; of no other measure does the one say the other."""
    expected = UREG(unit.replace("dm3", "dm**3").replace("m3", "m**3")).to("g/cm**3").magnitude
    found = units.convert(1.0, unit=unit, to="g/cm3", analyte="bulk density")
    assert found == pytest.approx(expected, rel=1e-9)
    with pytest.raises(UnitError):
        units.convert(1.0, unit=unit, to="g/cm3", analyte="K")


@given(
    st.floats(1, 100),
    st.floats(0.1, 2.0),
    st.sampled_from([u for u in PINT if TABLE.at[u, "dimension"] == "area"]),
)
def test_mass_fraction_to_area(depth, density, unit):
    """mg/kg times density times depth, worked out by pint."""
    layer = UREG.Quantity(density, "g/cm**3") * UREG.Quantity(depth, "cm")
    expected = (UREG("mg/kg") * layer / UREG(PINT[unit])).to("dimensionless").magnitude
    got = units.convert(1.0, unit="mg/kg", to=unit, depth_cm=depth, bulk_density=density)
    assert got == pytest.approx(expected)
    assert units.convert(got, unit=unit, to="mg/kg", depth_cm=depth, bulk_density=density) == pytest.approx(
        1.0
    )


@pytest.mark.parametrize("unit", ["mg/dm3", "g/dm3"])
def test_mass_fraction_to_volume(unit):
    """mg/kg times the density as scooped, worked out by pint."""
    expected = (UREG("50 mg/kg") * UREG("0.6 g/cm**3") / UREG(PINT[unit])).to("dimensionless").magnitude
    assert units.convert(50.0, unit="mg/kg", to=unit, bulk_density=0.6) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("analyte", "element", "charge"),
    [
        ("Ca", "Ca", 2),
        ("Mg", "Mg", 2),
        ("K", "K", 1),
        ("Na", "Na", 1),
        ("Al", "Al", 3),
        ("acidity", "H", 1),
        ("NH4-N", "N", 1),
        ("Mn", "Mn", 2),
        ("Zn", "Zn", 2),
        ("Cu", "Cu", 2),
    ],
)
def test_mass_to_charge(analyte, element, charge):
    """1 cmol of charge is a hundredth of a mole of charge, by the atomic masses of molmass."""
    expected = (
        (UREG("1 centimole/kg") * UREG.Quantity(Formula(element).mass / charge, "g/mol"))
        .to("mg/kg")
        .magnitude
    )
    assert units.convert(1.0, unit="cmol/kg", to="mg/kg", analyte=analyte) == pytest.approx(
        expected, rel=2e-4
    )


@pytest.mark.parametrize("symbol", tables.load("elements")["symbol"])
def test_atomic_masses(symbol):
    """The abridged IUPAC masses are those of molmass, to their digits."""
    assert units.molar_mass(symbol) == pytest.approx(Formula(symbol).mass, rel=2e-4)


@pytest.mark.parametrize("form", tables.load("forms")["form"])
def test_forms(form):
    """The element's share of every form is that of molmass."""
    element = units.forms()[form]
    assert units.mass_share(form) == pytest.approx(Formula(form).composition()[element].fraction, rel=2e-4)


# Worked examples in print


@pytest.mark.parametrize(
    ("form", "element", "factor"),
    [
        ("P2O5", "P", 2.2913),
        ("K2O", "K", 1.2046),
        ("CaO", "Ca", 1.3992),
        ("MgO", "Mg", 1.6583),
        ("SO4", "S", 2.996),
        ("NO3", "N", 4.4266),
        ("CaCO3", "Ca", 2.497),
    ],
)
def test_handbook_factors(form, element, factor):
    """Element to oxide, ion or carbonate: the factors of fertiliser handbooks, to their last digit."""
    got = units.convert(1.0, unit=f"mg/kg {element}", to=f"mg/kg {form}")
    assert got == pytest.approx(factor, rel=2e-4)
    assert units.convert(factor, unit=f"% {form}", to=f"% {element}") == pytest.approx(1.0, rel=2e-4)


def test_a_wrong_factor_in_circulation():
    """An association's appendix prints 2.23 for P to P2O5; atomic masses do not give it."""
    assert units.convert(1.0, unit="P", to="P2O5") != pytest.approx(2.23, abs=0.05)


@pytest.mark.parametrize(("form", "percent"), [("MgCO3", 119), ("CaO", 178), ("MgO", 250)])
def test_liming_value_by_molar_mass(form, percent):
    """Univ. of Nebraska plant and soil e-library, table 4.4 (whole molecular weights): CaCO3 = 100 %."""
    assert 100 * units.molar_mass("CaCO3") / units.molar_mass(form) == pytest.approx(percent, rel=0.01)


@pytest.mark.parametrize(("charge", "ppm", "analyte"), [(4, 800, "Ca"), (2, 180, "Al")])
def test_charge_of_a_course(charge, ppm, analyte):
    """Course manual, whole equivalent weights: 4 meq of Ca is 800 ppm, 2 cmol of charge of Al 180 ppm."""
    assert units.convert(charge, unit="meq/100 g", to="ppm", analyte=analyte) == pytest.approx(ppm, rel=0.003)


def test_ammonium_titration():
    """Course manual: 12.5 mL of 0.10 N acid for the ammonium of 5 g soil is 25 meq/100 g."""
    nitrogen = 12.5 * 0.10 * Formula("N").mass / 5 * 1000
    assert units.convert(nitrogen, unit="mg/kg", to="meq/100g", analyte="NH4-N") == pytest.approx(
        25, rel=2e-4
    )


@pytest.mark.parametrize(
    ("exact", "printed", "analyte"),
    [(200.4, 200, "Ca"), (121.5, 120, "Mg"), (391.0, 390, "K"), (229.9, 230, "Na")],
)
def test_divisors_of_extension_texts(exact, printed, analyte):
    """Crop File 1.04.132 divides by 200, 120, 390, 230; the exact 121.5 for Mg differs by 1.25 %."""
    got = units.convert(1.0, unit="meq/100g", to="ppm", analyte=analyte)
    assert got == pytest.approx(exact, abs=0.05)
    assert got == pytest.approx(printed, rel=0.013)


def test_furrow_slice():
    """Penn State Extension, acre furrow slice: 24,394 cubic feet of 82.99 lb weigh 2,024,458 lb."""
    depth = 24_394 / 43_560 * 30.48
    density = UREG("82.99 lb/ft**3").to("g/cm**3").magnitude
    pounds = 1e6 * units.convert(1.0, unit="mg/kg", to="lb/acre", depth_cm=depth, bulk_density=density)
    assert pounds == pytest.approx(2_024_458, rel=1e-5)


def test_six_inches_of_an_acre():
    """M. Wander (Univ. of Illinois, in L. Bryant, NRDC): 6 inches of an acre at 1.33 is 820,264 kg."""
    got = 1e6 * units.convert(1.0, unit="mg/kg", to="lb/acre", depth_cm=15.24, bulk_density=1.33)
    assert got == pytest.approx(1_808_322, rel=1e-4)
    assert got * 0.45359237 == pytest.approx(820_264, rel=1e-4)


def test_eight_inches_of_an_acre():
    """UC Davis Analytical Laboratory: an 8 inch furrow slice is 2.4 million lb (2.0 in 6.67 inch)."""
    deeper = {**FURROW_SLICE, "depth_cm": 8 * 2.54}
    assert units.convert(1.0, unit="ppm", to="lb/ac", **deeper) == pytest.approx(2.4, rel=1e-3)


@pytest.mark.parametrize(
    ("value", "unit", "to", "expected"), [(60, "lb/ac", "ppm", 30), (30, "ppm", "lb/ac", 60)]
)
def test_pounds_per_acre_and_ppm(value, unit, to, expected):
    """Ohio State Univ. agbmps, understanding soil test reports: 60 lb/acre P is 30 ppm."""
    assert units.convert(value, unit=unit, to=to, analyte="P", **FURROW_SLICE) == pytest.approx(
        expected, rel=1e-3
    )


def test_two_million_litres_a_hectare():
    """Mehlich 1972: 2,000,000 dm3/ha at 20 cm, so mg/dm3 times 2 is kg/ha whatever the density."""
    for density in (0.6, 1.3):
        got = units.convert(50.0, unit="mg/dm3", to="kg/ha", depth_cm=20, bulk_density=density)
        assert got == pytest.approx(100)


def test_carbon_stock():
    """SOC stock (t/ha) = % C x density x depth in cm (Lee and others 2009): 2 % at 1.3 over 20 cm is 52."""
    assert units.convert(2.0, unit="%", to="t/ha", depth_cm=20, bulk_density=1.3) == pytest.approx(52)


@pytest.mark.parametrize(("boron", "pounds", "ounces", "grams"), [(1, 8.8, 0.32, 1.0), (2, 17.6, 0.65, 2.0)])
def test_borax_for_a_bed(boron, pounds, ounces, grams):
    """1 and 2 lb B/acre as borax (11.34 % B): the doses on extension leaflets, by arithmetic."""
    borax = boron / 0.1134
    assert borax == pytest.approx(pounds, abs=0.05)
    assert units.convert(borax, unit="lb/acre", to="oz/100 sq ft") == pytest.approx(ounces, abs=0.005)
    assert units.convert(borax, unit="lb/acre", to="g/m2") == pytest.approx(grams, abs=0.05)


def test_gypsum_for_a_hundred_ppm_of_calcium():
    """100 ppm Ca in 2 million lb as gypsum, by arithmetic: 859 lb/acre, 1.97 lb/100 sq ft, 96 g/m2."""
    need = units.convert(100.0, unit="ppm", to="lb/acre", **FURROW_SLICE)
    gypsum = need / Formula("CaSO4(H2O)2").composition()["Ca"].fraction
    assert gypsum == pytest.approx(859, rel=1e-3)
    assert units.convert(gypsum, unit="lb/acre", to="lb/100 sq ft") == pytest.approx(1.97, abs=0.005)
    assert units.convert(gypsum, unit="lb/acre", to="g/m2") == pytest.approx(96, abs=0.5)


# Spellings


@pytest.mark.parametrize(
    ("text", "name", "form"),
    [
        ("ppm", "mg/kg", ""),
        ("PPM", "mg/kg", ""),
        ("mg kg-1", "mg/kg", ""),
        ("mg\u00a0kg\u207b\u00b9", "mg/kg", ""),
        ("mg.kg", "mg/kg", ""),
        ("Meq / 100 g", "cmol/kg", ""),
        ("me/100g", "cmol/kg", ""),
        ("cmol(+)/kg", "cmol/kg", ""),
        ("cmol(+) kg-1", "cmol/kg", ""),
        ("cmolc kg\u22121", "cmol/kg", ""),
        ("meq 100g-1", "cmol/kg", ""),
        ("meq 100 g-1", "cmol/kg", ""),
        ("lbs/ac", "lb/acre", ""),
        ("pounds per acre", "lb/acre", ""),
        ("lb/1000 ft\u00b2", "lb/1000 sq ft", ""),
        ("\u00b5S/cm", "uS/cm", ""),
        ("\u03bcS/cm", "uS/cm", ""),
        ("mmhos/cm", "dS/m", ""),
        ("g/cc", "g/cm3", ""),
        ("kg P2O5/ha", "kg/ha", "P2O5"),
        ("kg/ha P2O5", "kg/ha", "P2O5"),
        ("kg/ha (P2O5)", "kg/ha", "P2O5"),
        ("mg P kg-1", "mg/kg", "P"),
        ("mg P/kg", "mg/kg", "P"),
        ("lb K2O per acre", "lb/acre", "K2O"),
        ("% K\u2082O", "%", "K2O"),
    ],
)
def test_spellings(text, name, form):
    """The ways in which laboratories and journals write one unit."""
    assert (units.find(text).name, units.find(text).form) == (name, form)


@pytest.mark.parametrize("spelling", sorted(tables.spellings("units", "unit")))
def test_case_and_spaces_make_no_difference(spelling):
    """Every spelling of the table is known in capitals and with other spaces too."""
    name = tables.spellings("units", "unit")[spelling]
    for text in (
        spelling,
        spelling.upper(),
        spelling.lower(),
        f"  {spelling}\u00a0",
        spelling.replace(" ", "\u2009"),
    ):
        assert units.find(text).name == name


@pytest.mark.parametrize(
    "text", ["furlongs", "", "mg", "kg", "per", "K mg/kg", "mg/kg Xx", "Ca", "lb", "acre", "mg/kg/ha"]
)
def test_what_is_no_unit(text):
    """Near misses are not units, and nothing is guessed."""
    assert units.find(text) is None


# What is refused

NEVER = [
    ("index", "mg/kg"),
    ("pH", "%"),
    ("pH", "cmol/kg"),
    ("score", "index"),
    ("ratio", "%"),
    ("count", "ratio"),
    ("dS/m", "mg/kg"),
    ("g/cm3", "mg/dm3"),
    ("min", "index"),
]


@pytest.mark.parametrize(("unit", "to"), [*NEVER, *((to, unit) for unit, to in NEVER)])
def test_what_never_converts(unit, to):
    """An index, a pH, a score are their own; the error names both units and what they measure."""
    with pytest.raises(UnitError, match=f"'{unit}' cannot be turned into '{to}'.*measures"):
        units.convert(1.0, unit=unit, to=to)


def test_a_share_of_the_exchange_capacity_never_converts():
    """5 % of the exchange capacity is not 5 % of the soil."""
    with pytest.raises(UnitError, match="'K saturation' is a share of the exchange capacity"):
        units.convert(5.0, unit="%", to="mg/kg", analyte="K saturation")
    assert units.convert(5.0, unit="percent", to="%", analyte="K saturation") == 5.0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (
            {"unit": "furlongs", "to": "mg/kg"},
            "'furlongs' is not a unit known here. Write it as one of: mg/kg",
        ),
        ({"unit": "mg/kg", "to": "cmol/kg"}, "'' has no charge"),
        ({"unit": "mg/kg", "to": "cmol/kg", "analyte": "P"}, "'P' has no charge"),
        ({"unit": "mg/kg P2O5", "to": "mg/kg K2O"}, "'P2O5' and 'K2O' do not count the same element"),
        (
            {"unit": "mg/kg P2O5", "to": "mg/kg", "analyte": "K"},
            "'P2O5' and 'K' do not count the same element",
        ),
        (
            {"unit": "mg/kg P2O5", "to": "g/kg"},
            "'g/kg' may count P2O5 or its P. Write 'g/kg P2O5' or 'g/kg P'",
        ),
        ({"unit": "mg/kg", "to": "kg/ha", "depth_cm": 0}, "depth_cm = 0 is not a positive number"),
        ({"unit": "mg/kg", "to": "kg/ha", "bulk_density": -1.3}, "bulk_density = -1.3 is not"),
        ({"unit": "mg/kg", "to": "kg/ha", "depth_cm": float("nan")}, "depth_cm = nan is not"),
    ],
)
def test_errors_quote_what_they_found(arguments, said):
    """Each message holds the value and, where there is one, the way out."""
    with pytest.raises(UnitError) as error:
        units.convert(1.0, **arguments)
    assert said in str(error.value)


@pytest.mark.parametrize("formula", ["", "CaSO4(H2O)2", "ca", "12", "Ca-O"])
def test_what_is_no_formula(formula):
    """Formulas without brackets only."""
    with pytest.raises(UnitError, match="is not a chemical formula"):
        units.molar_mass(formula)


def test_an_unknown_element():
    """The element is named, and the table to add it to."""
    with pytest.raises(UnitError, match=r"'U' of 'UO2' is not in tables/elements.csv"):
        units.molar_mass("UO2")


# Forms and the analyte


def test_the_analyte_settles_what_a_bare_unit_counts():
    """For the analyte P, mg/kg is P, whatever the other unit counts."""
    assert units.convert(100.0, unit="mg/kg P2O5", to="mg/kg", analyte="P") == pytest.approx(43.64, abs=0.005)


def test_an_oxide_may_be_the_analyte():
    """For K2O both bare units count K2O."""
    assert units.convert(1.0, unit="%", to="g/kg", analyte="K2O") == pytest.approx(10)


def test_a_form_names_the_element_of_a_charge():
    """cmol/kg Ca needs no analyte beside it."""
    assert units.convert(1.0, unit="cmol/kg Ca", to="mg/kg Ca") == pytest.approx(200.39)


def test_nitrate_counted_as_ion():
    """44.27 mg/kg of nitrate is 10 mg/kg of nitrate nitrogen."""
    assert units.convert(44.266, unit="mg/kg NO3", to="mg/kg", analyte="NO3-N") == pytest.approx(10, rel=1e-4)


# Numbers of any kind

DIMENSIONS = sorted(set(TABLE["dimension"]) & {"mass fraction", "area", "volume", "charge", "volume charge"})
REACHABLE = [u for u in PINT if TABLE.at[u, "dimension"] in DIMENSIONS]


@given(
    st.sampled_from(REACHABLE), st.sampled_from(REACHABLE), st.sampled_from(REACHABLE), st.floats(0.001, 1e6)
)
def test_any_path_gives_the_same(first, second, third, value):
    """For a cation all these units reach each other, and the way does not matter."""
    given_ = {"analyte": "Ca", "depth_cm": 18.0, "bulk_density": 1.1}
    there = units.convert(value, unit=first, to=second, **given_)
    by_way = units.convert(there, unit=second, to=third, **given_)
    assert by_way == pytest.approx(units.convert(value, unit=first, to=third, **given_))
    assert units.convert(by_way, unit=third, to=first, **given_) == pytest.approx(value)


@pytest.mark.parametrize("kind", [np.array, pd.Series])
def test_arrays_and_series(kind):
    """The type is kept, a missing value stays missing, and the argument is left alone."""
    values = kind([1.0, np.nan, 3.0])
    got = units.convert(values, unit="%", to="mg/kg")
    assert type(got) is type(values)
    assert np.asarray(got) == pytest.approx([1e4, np.nan, 3e4], nan_ok=True)
    assert np.asarray(values)[0] == 1.0


@pytest.mark.parametrize("density", [0.7, 1.0, 1.4])
def test_charge_of_a_volume_of_soil(density):
    """pint: 12 mmol of charge in 100 cm3 of soil, whose mass its density tells, as charge and as Ca."""
    ureg = pint.UnitRegistry()
    scooped = 12 * ureg.millimole / (100 * ureg.cm**3)
    by_mass = scooped / (density * ureg.g / ureg.cm**3)
    charge = by_mass.to("centimole/kg").magnitude
    given_ = {"bulk_density": density}
    assert units.convert(12, unit="meq/100cm3", to="cmol/kg", **given_) == pytest.approx(charge)
    assert units.convert(charge, unit="cmol/kg", to="meq/100cm3", **given_) == pytest.approx(12)
    calcium = (by_mass * Formula("Ca").mass / 2 * ureg.g / ureg.mole).to("mg/kg").magnitude
    found = units.convert(12, unit="meq/100cm3", to="mg/kg", analyte="Ca", **given_)
    assert found == pytest.approx(calcium, rel=2e-4)


def test_what_is_taken_when_nothing_is_said():
    """By hand: 1e8 cm2/ha x 15 cm x 1.3 g/cm3 is 1.95e9 g of soil, so 1 mg/kg of it is 1.95 kg/ha."""
    assert units.convert(1.0, unit="mg/kg", to="kg/ha") == pytest.approx(1.95)
    assert units.factor("mg/kg", "kg/ha") == pytest.approx(1.95)


def test_a_form_alone_is_its_mass():
    """By atomic masses (molmass): of 1 mg/kg P2O5 the P; and as a share, 1e6 mg are a kg."""
    share = Formula("P2O5").composition()["P"].fraction
    assert units.convert(1.0, unit="P2O5", to="mg/kg P") == pytest.approx(share, rel=2e-4)
    assert units.convert(1e4, unit="P2O5", to="% P2O5") == pytest.approx(1.0)


def test_an_oxide_as_analyte_beside_its_element():
    """By molmass: what a bare unit counts is the oxide named, what the other says it counts is its own."""
    share = Formula("K2O").composition()["K"].fraction
    assert units.convert(1.0, unit="%", to="% K", analyte="K2O") == pytest.approx(share, rel=2e-4)
    assert units.convert(1.0, unit="% K", to="%", analyte="K2O") == pytest.approx(1 / share, rel=2e-4)


@pytest.mark.parametrize(("unit", "to"), [("cmol/kg Ca", "mg/kg"), ("cmol/kg", "mg/kg Ca")])
def test_an_element_on_one_side_is_enough(unit, to):
    """Half the molar mass of Ca (molmass) is 20.04 g a mole of charge, whichever side names the element."""
    assert units.convert(1.0, unit=unit, to=to) == pytest.approx(10 * Formula("Ca").mass / 2, rel=2e-4)
