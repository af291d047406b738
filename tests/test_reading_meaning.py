"""What a label means with its unit: an index, and the orders in which headings state their parts."""

import pytest

from soiltrend.reading import read_report

A_DAY = {"sampled": "2024-04-12", "depth_cm": 15}


@pytest.fixture
def read(tmp_path):
    """Read a text as a CSV file."""

    def _read(text, **answers):
        (tmp_path / "a.csv").write_text(text)
        return read_report(tmp_path / "a.csv", answers={**A_DAY, **answers})

    return _read


def kept(reading):
    """Return (analyte, method, value, unit) of each result."""
    return list(reading.results[["analyte", "method", "value", "unit"]].itertuples(index=False, name=None))


@pytest.mark.parametrize(("text", "answers", "method"), [
    ("bed,analyte,value,unit,method\nEast,K,2,index,Olsen\n", {}, "Olsen"),
    ("bed,analyte,value,unit,method\nEast,potassium,2,idx,\n", {}, ""),
    ("bed,analyte,value,unit,method\nEast,K2O,2,index,\n", {}, ""),
    ("Bed,pH,K\nEast,6.4,2\n", {"units": {"K": "index"}}, ""),
    ("Bed,pH,K index\nEast,6.4,2\n", {}, ""),
])
def test_an_element_told_as_an_index_is_its_index(read, text, answers, method):
    """Index 2 under "K" is the potassium index, as under a heading "K index", and no 2 mg/kg of K."""
    reading = read(text, **answers)
    assert ("K index", method, 2.0, "index") in kept(reading)
    assert reading.set_aside.empty
    assert not [line for line in reading.asks if line.startswith("[units]")]


@pytest.mark.parametrize("label", ["Fe", "OM", "NO3"])
def test_an_index_that_is_not_known_is_no_amount(read, label):
    """Where no index of that name is kept, no unit of mass is proposed, which would file 2 mg/kg."""
    reading = read(f"bed,analyte,value,unit\nEast,pH,6.4,\nEast,{label},2,index\n")
    assert reading.results["analyte"].tolist() == ["pH"]
    assert not [line for line in reading.asks if line.startswith("[units]")]
    assert "mg/kg" not in reading.set_aside["reason"][0]
    assert "no amount" in reading.set_aside["reason"][0]
    assert "never converted" in reading.set_aside["reason"][0]


@pytest.mark.parametrize(("heading", "analyte", "method"), [
    ("K mg/kg (Mehlich-3)", "K", "Mehlich-3"),
    ("P ppm (Olsen)", "P", "Olsen"),
    ("P ppm [Bray P1]", "P", "Bray P1"),
    ("K index (Olsen)", "K index", "Olsen"),
    ("Water pH", "pH", "water"),
    ("H2O pH", "pH", "water"),
    ("Soil pH", "pH", ""),
    ("K.ppm", "K", ""),
    ("Olsen.P.mg.kg", "P", "Olsen"),
    ("olsenP_mg.kg", "P", "Olsen"),
])
def test_unit_and_method_of_a_heading_in_any_order(read, heading, analyte, method):
    """The unit before a bracketed method, or behind a dot; a method before "pH", which is name and unit."""
    units = {"K": "mg/kg", "P": "mg/kg", "K index": "index", "pH": "pH"}
    assert (analyte, method, 7.0, units[analyte]) in kept(read(f"Bed,Na ppm,{heading}\nEast,9,7\n"))


def test_a_bulk_density_in_kilograms_to_the_cubic_metre(read):
    """1,250 kg/m3 are 1.25 g/cm3; no density of the scooped soil is asked for."""
    reading = read("Bed,bulk density kg/m3\nEast,1250\n")
    assert kept(reading) == [("bulk density", "", 1.25, "g/cm3")]
