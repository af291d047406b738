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


def test_a_bulk_density_that_is_assumed_is_told(tmp_path):
    """2,000,000 lb an acre are 224.17 kg/m2 (0.45359237 kg, 4046.856 m2): at 15.24 cm 1.471 g/cm3."""
    path = tmp_path / "a.csv"
    path.write_text("Sample,Bed,Sampled,Ca lb/acre,K2O lb/acre,OM %\n1,East,2024-10-08,2410,532,3.6\n"
                    "2,East,2024-10-09,n/a,x,3.5\n")
    found = read_report(path, answers={"depth_cm": 15.24})
    assert [note for note in found.notes if "density" in note] == [
        "2 values in lb/acre became mg/kg by a layer of 15.24 cm and a bulk density of 1.3 g/cm3, which is "
        "assumed; if you know a better one, write bulk_density into report.toml: 1.47 where the laboratory "
        "doubles its mg/kg (2,000,000 lb of soil an acre)"
    ]
    dense = 2e6 * 0.45359237 / 4046.856 / 152.4
    found = read_report(path, answers={"depth_cm": 15.24, "bulk_density": dense})
    assert found.results["value"].iloc[0] == pytest.approx(2410 / 2, rel=1e-6)
    assert [note for note in found.notes if "density" in note] == []
    path.write_text("Sample,Bed,Sampled,Depth,Ca kg/ha\n1,East,2024-10-08,0-15 cm,2410\n"
                    "2,East,2024-10-08,0-20 cm,2410\n")
    assert [note.split(" and a bulk")[0] for note in read_report(path).notes] == [
        "2 values in kg/ha became mg/kg by a layer of 15, 20 cm"
    ]
