"""Numbers that contradict their unit or each other."""

import pytest

from soiltrend.reading import read_report


@pytest.fixture
def read(tmp_path):
    """Read a text as a CSV file."""

    def _read(text):
        (tmp_path / "a.csv").write_text(text)
        return read_report(tmp_path / "a.csv")

    return _read


def test_charge_labelled_as_mass(read):
    """Ca of 6.6 mg/kg cannot stand beside a CEC of 10 cmol/kg: 6.6 mg/kg is 0.033 cmol/kg."""
    reading = read("Sample,Ca mg/kg,Mg mg/kg,K mg/kg,CEC cmol/kg\n"
                   "S1,6.6,2.5,120,10.4\nS2,1320,302,140,10.4\n")
    kept = reading.results.groupby("sample")["analyte"].apply(list).to_dict()
    assert kept == {"S1": ["K", "CEC"], "S2": ["Ca", "Mg", "K", "CEC"]}
    assert "would be 0.033 cmol/kg beside a CEC of 10.4" in reading.set_aside["reason"][0]
    assert '[units] "Ca mg/kg" = "cmol/kg"' in reading.asks


def test_a_capacity_that_cannot_hold_its_bases(read):
    """A CEC of 0.1 beside 2004 mg/kg Ca (10 cmol/kg) is set aside."""
    reading = read("Sample,Ca mg/kg,CEC cmol/kg\nS1,2004,0.1\n")
    assert reading.results["analyte"].tolist() == ["Ca"]
    assert reading.set_aside["reason"].tolist() == [
        "it contradicts the exchangeable bases, which come to 10 cmol/kg"]


def test_percent_labelled_as_ppm(read):
    """3.5 ppm of organic matter is 0.00035 % of the soil."""
    reading = read("Sample,OM ppm,TOC g/kg\nS1,3.5,21\n")
    assert reading.results["value"].tolist() == [2.1]
    assert "3.5 ppm would be 0.00035 % of the soil" in reading.set_aside["reason"][0]


def test_bases_above_the_capacity_are_told(read):
    """4000 mg/kg Ca is 20 cmol/kg (20.04 g of Ca a mole of charge), twice the CEC of 10."""
    results = read("Sample,Ca mg/kg,CEC cmol/kg\nS1,4008,10\nS2,1503,10\n").results
    notes = results[results["analyte"] == "CEC"]["note"].tolist()
    assert notes[0].startswith("the exchangeable bases come to 20 cmol/kg, more than this CEC")
    assert notes[1] == ""


def test_saturations_above_the_whole_are_told(read):
    """Shares that sum to 130 % are kept and told."""
    results = read("Sample,Ca % saturation,Mg % saturation\nS1,90,40\nS2,70,15\n").results
    assert results["note"].tolist() == ["the saturations of this sample sum to 130 %", "",
                                        "the saturations of this sample sum to 130 %", ""]


def test_a_column_of_zeros_is_questioned(read):
    """All zeros may stand for "not measured"; they are kept and asked about."""
    reading = read("Sample,Mo ppm,B ppm\nS1,0,0\nS2,0,0.4\nS3,0,0.5\n")
    assert len(reading.results) == 6
    assert [note for note in reading.notes if "are 0" in note] == [
        "all 3 values under 'Mo ppm' are 0; if that stands for 'not measured', say so in report.toml: "
        '[ignore] "Mo ppm" = "not measured"']
