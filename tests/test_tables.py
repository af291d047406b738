"""Every reference table is whole: keys once, a source for each row, spellings that mean one thing."""

from importlib.resources import files

import numpy as np
import pandas as pd
import pytest

from soiltrend import tables, units, vocabulary
from soiltrend.errors import SoiltrendError

NAMES = sorted(path.name[:-4] for path in files(tables).iterdir() if path.name.endswith(".csv"))
KEYS = {
    "acidity": ["formula"],
    "analytes": ["analyte"],
    "elements": ["symbol"],
    "forms": ["form"],
    "guards": ["guard"],
    "possible": ["analyte"],
    "methods": ["method"],
    "ratios": ["ratio"],
    "units": ["unit"],
}
"""The column that names a row, in the tables of the ground floor."""

NUMBERS = {
    "acidity": ("reference_pH", "slope", "floor"),
    "elements": ("atomic_mass",),
    "guards": ("limit",),
    "possible": ("most",),
    "units": ("factor",),
}
ANALYTES = tables.load("analytes")
METHODS = set(tables.load("methods")["method"])


@pytest.mark.parametrize("name", NAMES)
def test_every_row_has_a_source_and_says_how_good_it_is(name):
    """No row without a source; evidence is one of three words."""
    table = tables.load(name)
    assert len(table) > 0
    assert (table["source"].str.strip() != "").all()
    assert set(table["evidence"]) <= set(tables.EVIDENCE)


@pytest.mark.parametrize("name", NAMES)
def test_no_row_stands_twice(name):
    """No two rows are alike, whatever their source."""
    table = tables.load(name).drop(columns=["source", "evidence"])
    assert not table.duplicated().any()


@pytest.mark.parametrize("name", NAMES)
def test_no_cell_is_ragged(name):
    """No cell carries blanks at its ends or a column the heading does not name."""
    table = tables.load(name)
    assert not any(column.startswith("Unnamed") for column in table)
    assert table.map(lambda cell: cell == cell.strip()).all(axis=None)


@pytest.mark.parametrize("name", KEYS)
def test_keys_are_unique(name):
    """The name of a row is there once."""
    assert not tables.load(name).duplicated(KEYS[name]).any()


@pytest.mark.parametrize("name", NUMBERS)
def test_numbers_are_numbers(name):
    """Each cell of a number column is finite."""
    assert np.isfinite(tables.load(name, numbers=NUMBERS[name])[list(NUMBERS[name])]).all(axis=None)


def collisions(name, column, by):
    """Return the spellings of a table that mean two of its entries once they are normalised."""
    seen, clash = {}, []
    for entry, listed in zip(tables.load(name)[column], tables.load(name)["spellings"], strict=True):
        for text in {by(part) for part in (entry, *listed.split(";")) if part.strip()}:
            if seen.setdefault(text, entry) != entry:
                clash.append((text, seen[text], entry))
    return clash


@pytest.mark.parametrize(
    ("name", "column", "by"),
    [
        ("analytes", "analyte", vocabulary.key),
        ("methods", "method", vocabulary.key),
        ("units", "unit", units.normal),
        ("forms", "form", vocabulary.key),
    ],
)
def test_a_spelling_means_one_thing(name, column, by):
    """No spelling stands for two entries, with case, spaces and punctuation set aside."""
    assert collisions(name, column, by) == []


@pytest.mark.parametrize(
    ("name", "column"), [("analytes", "analyte"), ("methods", "method"), ("units", "unit")]
)
def test_a_spelling_is_listed_once(name, column):
    """An entry does not list a spelling twice, nor its own name."""
    table = tables.load(name)
    for entry, listed in zip(table[column], table["spellings"], strict=True):
        parts = [entry, *(part for part in listed.split(";") if part)]
        assert len(parts) == len(set(parts)), entry
        assert all(part == part.strip() for part in parts), entry


def test_no_heading_is_both_an_analyte_and_a_form():
    """A form that may stand alone is no spelling of an analyte."""
    assert set(vocabulary.forms()) & set(vocabulary.analytes()) == set()


def test_no_word_of_filler_is_an_analyte_but_one():
    """ "as" is arsenic by itself and a word between others; no other filler word is a name."""
    assert {vocabulary.key(word) for word in vocabulary.FILLER} & set(vocabulary.analytes()) == {"as"}


@pytest.mark.parametrize(("analyte", "unit"), ANALYTES[["analyte", "unit"]].to_numpy().tolist())
def test_every_analyte_has_a_unit_of_the_table(analyte, unit):
    """The canonical unit is one of tables/units.csv, under its own name."""
    assert unit in set(tables.load("units")["unit"]), analyte


def test_analytes_are_of_known_kinds_and_scales():
    """The words that code asks for."""
    assert set(ANALYTES["scale"]) <= {"log", "plain", "share"}
    assert set(ANALYTES["kind"]) <= {
        "reaction",
        "mass",
        "charge",
        "conductivity",
        "density",
        "capacity",
        "index",
        "share",
        "ratio",
        "observation",
    }


def test_elements_and_charges_of_analytes():
    """Every element is in the table of masses, every charge a whole number with an element to bear it."""
    named = ANALYTES[ANALYTES["element"] != ""]
    assert set(named["element"]) <= set(tables.load("elements")["symbol"])
    charged = ANALYTES[ANALYTES["charge"] != ""]
    assert (charged["element"] != "").all()
    assert charged["charge"].isin(["1", "2", "3"]).all()


def test_forms_name_an_analyte_of_their_own_element():
    """NO3 counts nitrate nitrogen, and both count N."""
    for row in tables.load("forms").itertuples():
        assert vocabulary.facts(row.analyte)["element"] == row.element
        assert row.element in row.formula
        assert row.alone in ("clear", "ask", "no")


def test_methods_imply_analytes():
    """What a method measures when it stands alone is an analyte."""
    implied = tables.load("methods")["implies"]
    assert set(implied[implied != ""]) <= set(ANALYTES["analyte"])


def test_ratios_are_of_analytes_that_share_their_basis():
    """Both sides are analytes; by charge they carry one, by mass they have one unit, by moles an element."""
    for row in tables.load("ratios").itertuples():
        facts = [vocabulary.facts(part) for part in f"{row.numerator}+{row.denominator}".split("+")]
        assert row.ratio.endswith(f"({row.basis})")
        assert row.pairing in ("same", "any")
        assert row.method in METHODS | {""}
        needs = {
            "charge": all(fact["charge"] for fact in facts),
            "moles": all(fact["element"] for fact in facts),
            "mass": len({fact["unit"] for fact in facts}) == 1,
        }
        assert needs[row.basis], row.ratio


def test_ratios_are_analytes_too():
    """Each ratio has its row among the analytes, and no other analyte is a ratio."""
    assert set(tables.load("ratios")["ratio"]) == set(ANALYTES.loc[ANALYTES["kind"] == "ratio", "analyte"])


def test_formulas_name_their_buffer_and_unit():
    """Buffers are methods; the unit is one of charge."""
    table = tables.load("acidity")
    buffers = tables.load("methods").query("of == 'buffer'")["method"]
    assert set(table["buffer"]) <= set(buffers)
    assert {units.parse(unit).dimension for unit in table["unit"]} <= {"charge", "volume charge"}


def test_what_is_possible_stands_in_the_unit_it_is_kept_in():
    """A bound named after a mineral is its share by atomic masses, rounded up (IUPAC atomic weights)."""
    for row in tables.load("possible", numbers=("most",)).itertuples():
        assert row.unit == vocabulary.canonical_unit(row.analyte)
        assert row.likely == "" or units.factor(row.likely, row.unit, analyte=row.analyte) < 1
        formula = row.what.partition("(")[2].rstrip(")")
        if formula:
            share = units.molar_mass(row.analyte) / units.molar_mass(formula)
            assert 1e6 * share < row.most < 1.01e6 * share


def test_guards_name_what_they_look_at():
    """Analytes with their own unit, and methods of the table or any."""
    for row in tables.load("guards").itertuples():
        assert row.method in METHODS | {""}
        assert row.analyte == "" or vocabulary.canonical_unit(row.analyte) == row.unit


# Loading


def test_a_table_is_loaded_anew():
    """Writing into a loaded table does not reach the next one."""
    table = tables.load("elements")
    table.loc[0, "symbol"] = "changed"
    assert tables.load("elements").loc[0, "symbol"] == "H"


def test_numbers_are_floats_and_blanks_missing():
    """Whole numbers become floats, a blank cell becomes missing."""
    table = tables.load("acidity", numbers=("slope",))
    assert table["slope"].dtype == float
    assert tables.load("analytes", numbers=("charge",))["charge"].isna().any()


def test_an_unknown_table_is_named():
    """The error names it and lists the ones there are."""
    with pytest.raises(
        SoiltrendError, match=r"there is no reference table 'moon'. Known tables: .*analytes.*units"
    ):
        tables.load("moon")


def test_a_word_among_numbers_is_named():
    """The error names file, column and word."""
    with pytest.raises(SoiltrendError, match=r"^elements.csv: the column name holds a word: .*hydrogen"):
        tables.load("elements", numbers=("name",))


def test_a_table_without_sources_is_refused(tmp_path, monkeypatch):
    """A table says where its numbers come from or is not used."""
    pd.DataFrame({"a": [1]}).to_csv(tmp_path / "bare.csv", index=False)
    monkeypatch.setattr(tables, "files", lambda _: tmp_path)
    with pytest.raises(SoiltrendError, match=r"bare.csv: the column source is missing"):
        tables.load("bare")
