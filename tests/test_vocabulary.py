"""Headings are named as laboratories print them, and what is not known stays unnamed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soiltrend import tables, vocabulary
from soiltrend.vocabulary import Label, read_label

HEADINGS = {
    "pH": ("pH", "", "", ""),
    "Soil pH 1:1": ("pH", "water 1:1", "", ""),
    "pH (H2O)": ("pH", "water", "", ""),
    "pH water 1:2.5": ("pH", "water 1:2.5", "", ""),
    "pH in 0.01 M CaCl2": ("pH", "CaCl2", "", ""),
    "pH_KCl": ("pH", "KCl", "", ""),
    "Buffer pH (SMP)": ("buffer pH", "SMP", "", ""),
    "Sikora buffer": ("buffer pH", "Sikora", "", ""),
    "BpH Adams-Evans": ("buffer pH", "Adams-Evans", "", ""),
    "OM % (LOI)": ("OM", "LOI", "%", ""),
    "Organic Matter LOI %": ("OM", "LOI", "%", ""),
    "LOI (%)": ("OM", "LOI", "%", ""),
    "Organic carbon (Walkley-Black) %": ("TOC", "Walkley-Black", "%", ""),
    "Total N (%)": ("total N", "", "%", ""),
    "TKN %": ("total N", "", "%", ""),
    "NO3-N ppm": ("NO3-N", "", "ppm", ""),
    "NO\u2083\u2013N ppm": ("NO3-N", "", "ppm", ""),
    "Nitrate-N (mg/kg)": ("NO3-N", "", "mg/kg", ""),
    "Ammonium as N": ("NH4-N", "", "", ""),
    "CEC meq/100g": ("CEC", "", "meq/100g", ""),
    "CEC (sum) meq/100 g": ("CEC", "summation", "meq/100 g", ""),
    "H meq/100g": ("acidity", "", "meq/100g", ""),
    "Acidity (H+Al) cmol/kg": ("acidity", "", "cmol/kg", ""),
    "P (Mehlich-3) ppm": ("P", "Mehlich-3", "ppm", ""),
    "M3-K": ("K", "Mehlich-3", "", ""),
    "K_M3": ("K", "Mehlich-3", "", ""),
    "Mehlich III Ca mg/kg": ("Ca", "Mehlich-3", "mg/kg", ""),
    "Phosphorus (P) Mehlich-3 ppm": ("P", "Mehlich-3", "ppm", ""),
    "Phosphorus, Olsen (ppm)": ("P", "Olsen", "ppm", ""),
    "olsenP_mg.kg": ("P", "Olsen", "mg.kg", ""),
    "P-Olsen": ("P", "Olsen", "", ""),
    "Bray-1 P": ("P", "Bray P1", "", ""),
    "Bray P2 (lb/a)": ("P", "Bray P2", "lb/a", ""),
    "K by AA": ("K", "ammonium acetate", "", ""),
    "Calcium (Ca) AA meq/100g": ("Ca", "ammonium acetate", "meq/100g", ""),
    "Exch. Ca (cmol(+)/kg)": ("Ca", "", "cmol(+)/kg", ""),
    "Exch Mg cmol(+) kg-1": ("Mg", "", "cmol(+) kg-1", ""),
    "Potassium, K, exchangeable": ("K", "", "", ""),
    "NA": ("Na", "", "", ""),
    "Al aluminum": ("Al", "", "", ""),
    "Arsenic (As) mg/kg": ("As", "", "mg/kg", ""),
    "Lead (Pb) ppm": ("Pb", "", "ppm", ""),
    "Total P": ("P", "total digest", "", ""),
    "Zn (DTPA) mg/kg": ("Zn", "DTPA", "mg/kg", ""),
    "Boron (hot water) ppm": ("B", "hot water", "ppm", ""),
    "SO4-S ppm": ("S", "", "ppm", ""),
    "Mg #/acre": ("Mg", "", "#/acre", ""),
    "Ca**": ("Ca", "", "", ""),
    "P2O5 kg/ha": ("P", "", "kg/ha", "P2O5"),
    "P\u2082O\u2085 kg/ha": ("P", "", "kg/ha", "P2O5"),
    "K2O [kg/ha]": ("K", "", "kg/ha", "K2O"),
    "Potash lb/acre": ("K", "", "lb/acre", "K2O"),
    "K2O (Potassium) ppm": ("K", "", "ppm", "K2O"),
    "Potassium (K2O) ppm": ("K", "", "ppm", "K2O"),
    "Potassium as K2O mg/kg": ("K", "", "mg/kg", "K2O"),
    "P as P2O5 (%)": ("P", "", "%", "P2O5"),
    "Potash as K": ("K", "", "", ""),
    "Sulfate as S": ("S", "", "", ""),
    "Sulfur as SO4 mg/kg": ("S", "", "mg/kg", "SO4"),
    "CaCO3 %": ("lime content", "", "%", ""),
    "K Sat %": ("K saturation", "", "%", ""),
    "K % sat": ("K saturation", "", "", ""),
    "Base Saturation % Ca": ("Ca saturation", "", "", ""),
    "% Base Sat": ("base saturation", "", "", ""),
    "ESP": ("Na saturation", "", "", ""),
    "EC 1:5 dS/m": ("EC", "water 1:5", "dS/m", ""),
    "Soluble Salts 1:2 mmho/cm": ("EC", "water 1:2", "mmho/cm", ""),
    "W/V": ("scoop density", "", "", ""),
    "Sand %": ("sand", "", "%", ""),
    "P-I": ("P index", "", "", ""),
    "C:N ratio": ("C:N (mass)", "", "", ""),
    "Ca:Mg (charge)": ("Ca:Mg (charge)", "", "", ""),
}
"""Headings as laboratories and surveys print them (common practice): analyte, method, unit, form."""

STRANGERS = [
    "shoe size",
    "Lab No",
    "Sample ID",
    "Date",
    "Field",
    "Depth",
    "Crop",
    "Rating",
    "Fe deficiency",
    "Calcite",
    "Potassium permanganate",
    "AAS",
    "DTPA",
    "M3",
    "H2O",
    "Soil type",
    "SAR",
    "CN",
    "COD",
    "In",
    "I",
    "C",
    "N",
    "Ca:Mg ratio",
    "Lead Pb Cd",
    "K and Mg",
    "Total",
    "Index",
    "Recommended lime t/ha",
    "P rating",
    "by",
    "",
    " ",
    "%",
    "ppm",
    "mg/kg",
    "12.5",
    "Kalium karbonat",
    "Phone",
    "Clayton",
    "Cadmium road",
    "Bicarbonate (ppm)",
    "NaHCO3",
    "Bicarbonates",
    "BICARBONATES",
    "hot waters",
]


@pytest.mark.parametrize("text", HEADINGS)
def test_headings(text):
    """Analyte, method, unit and form of a heading."""
    label = read_label(text)
    said = (label.analyte, label.method, label.unit, label.form)
    assert (*said[:2], said[2] if HEADINGS[text][2] else "", said[3]) == HEADINGS[text]


@pytest.mark.parametrize("text", STRANGERS)
def test_strangers_stay_unnamed(text):
    """What is not known is not guessed."""
    assert read_label(text).analyte == ""


@pytest.mark.parametrize(
    ("text", "question"),
    [
        ("SO4 ppm", "SO4 may count the ion or its S"),
        ("NO3 ppm", "NO3 may count the ion or its N"),
        ("Nitrate ion", "NO3 may count the ion or its N"),
        ("NH4", "NH4 may count the ion or its N"),
        ("PO4 (mg/kg)", "PO4 may count the ion or its P"),
        ("Sulfates (ppm)", "SO4 may count the ion or its S"),
        ("SULPHATES", "SO4 may count the ion or its S"),
        ("SO4-S", ""),
        ("sulfate-s", ""),
        ("Sulfate as S", ""),
        ("P2O5", ""),
    ],
)
def test_questions(text, question):
    """An ion that laboratories count either way is asked about, once it is not said."""
    assert read_label(text).question == question


def test_ions_of_nitrogen_name_their_analyte():
    """NO3 is nitrate nitrogen counted as the ion, and never an unknown N."""
    assert (read_label("NO3").analyte, read_label("NH4").analyte) == ("NO3-N", "NH4-N")


@pytest.mark.parametrize("text", ["Base saturation (% Zn)", "pH % P2O5", "K mg/kg P2O5"])
def test_a_unit_that_counts_another_element_names_nothing(text):
    """A form that does not belong to the analyte makes the heading unreadable, not half read."""
    assert read_label(text).analyte == ""


plain = [text for text in HEADINGS if text not in ("Mg #/acre",)]


@given(st.sampled_from(plain), st.sampled_from([str.upper, str.lower, str.swapcase, str.title]))
def test_case_makes_no_difference(text, change):
    """Capitals do not change what a heading names."""
    one, other = read_label(text), read_label(change(text))
    assert (other.analyte, other.method, other.form, other.question) == (
        one.analyte,
        one.method,
        one.form,
        one.question,
    )
    assert other.unit.casefold() == one.unit.casefold()


@given(st.sampled_from(plain), st.sampled_from(["  ", "\u00a0", "\t", "\n", " \u2009"]))
def test_spaces_make_no_difference(text, space):
    """Nor do wide, narrow, non-breaking or doubled spaces and line breaks."""
    one, other = read_label(text), read_label(f"{space}{text.replace(' ', space)}{space}")
    assert (other.analyte, other.method, other.form) == (one.analyte, one.method, one.form)


@given(st.text(max_size=12))
def test_any_text_is_read_without_complaint(text):
    """Whatever stands in a cell, the answer is a label whose analyte is known or empty."""
    label = read_label(text)
    assert isinstance(label, Label)
    assert label.analyte == "" or vocabulary.facts(label.analyte)


@pytest.mark.parametrize("spelling", sorted(tables.spellings("analytes", "analyte")))
def test_every_spelling_of_an_analyte_names_it(spelling):
    """A heading that is a spelling of the table names its analyte, alone and with a unit behind it."""
    name = tables.spellings("analytes", "analyte")[spelling]
    assert read_label(spelling).analyte == name
    if vocabulary.facts(name)["kind"] in ("mass", "charge"):
        assert read_label(f"{spelling} ({vocabulary.canonical_unit(name)})").analyte == name


@pytest.mark.parametrize("spelling", sorted(tables.spellings("methods", "method")))
def test_every_spelling_of_a_method_is_found(spelling):
    """A method is found alone and beside an analyte."""
    name = tables.spellings("methods", "method")[spelling]
    assert vocabulary.find_method(spelling) == name
    assert vocabulary.find_method(f" {spelling.upper()} ") == name
    assert read_label(f"Mg ({spelling})").method == name


def test_an_unknown_method_is_not_found():
    """No method is guessed."""
    assert vocabulary.find_method("by moonlight") == ""


def test_facts_and_units():
    """The row of an analyte, and its unit; nothing for a stranger."""
    assert vocabulary.facts("Ca")["charge"] == "2"
    assert vocabulary.canonical_unit("Ca") == "mg/kg"
    assert (vocabulary.facts("beetles"), vocabulary.canonical_unit("beetles")) == ({}, "")


@pytest.mark.parametrize("name", tables.load("removal")["crop"])
def test_a_crop_is_known_with_an_s_with_hyphens_and_in_capitals(name):
    """However a grower writes it, one crop is meant."""
    for word in (name, f"{name}s", name.replace(" ", "-"), name.upper(), name.replace(" ", "")):
        assert vocabulary.crop(word) == name


@pytest.mark.parametrize("word", ["bean", "beans", "Pole bean", "pole beans", "climbing bean"])
def test_a_bean_is_a_bean_in_one_and_in_many(word):
    """The word of one stands for that of many, and the other way round."""
    assert vocabulary.crop(word) == "french bean"
