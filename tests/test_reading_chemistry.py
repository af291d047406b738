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


@pytest.mark.parametrize(("heading", "text", "said", "ask"), [
    ("Ca meq/100g", "2500", "2500 meq/100g of Ca would be 500,975 mg/kg",
     '[units] "Ca meq/100g" = "mg/kg"'),
    ("K mg/kg", "900000", "potassium feldspar (KAlSi3O8) comes to 141,000",
     '[ignore] "K mg/kg" = "cannot be"'),
    ("EC dS/m", "250", "sea water nearly twice over comes to 100", '[units] "EC dS/m" = "uS/cm"'),
    ("Bulk density g/cm3", "1300", "quartz without a pore comes to 2.65",
     '[ignore] "Bulk density g/cm3" = "cannot be"'),
    ("CEC meq/100g", "1200", "humus without any mineral comes to 500", '[units] "CEC meq/100g" = "mmol/kg"'),
])
def test_what_no_soil_can_have_is_set_aside(read, heading, text, said, ask):
    """By tables/possible.csv: minerals by atomic masses, quartz of 2.65 g/cm3, sea water of 53 dS/m."""
    reading = read(f"Sample,pH,{heading}\nS1,6.4,{text}\n")
    assert reading.results["analyte"].tolist() == ["pH"]
    assert said in reading.set_aside["reason"][0]
    assert "see whether its unit is right" in reading.set_aside["reason"][0]
    assert ask in reading.asks


@pytest.mark.parametrize(("analyte", "unit", "text", "kept"), [
    ("Bulk density", "g/cm3", "1.3", 1.3), ("EC", "uS/cm", "250", 0.25), ("Ca", "mg/kg", "300000", 3e5)])
def test_what_a_soil_can_have_is_kept(read, analyte, unit, text, kept):
    """250 uS/cm are 0.25 dS/m (SI); 300,000 mg/kg of Ca is a soil three quarters lime."""
    assert read(f"Sample,pH,{analyte} {unit}\nS1,6.4,{text}\n").results["value"][1] == pytest.approx(kept)


def test_bases_that_overfill_a_sound_capacity_are_the_doubtful_ones(read):
    """Mg 180 and K 120 meq/100g cannot stand beside a CEC of 12; as mg/kg they are 1.5 and 0.3 of it."""
    text = "Sample,Ca mg/kg,Mg meq/100g,K meq/100g,Na mg/kg,CEC meq/100g\nS1,1400,180,8,20,12\n"
    reading = read(text)
    assert reading.results["analyte"].tolist() == ["Ca", "Na", "CEC"]
    assert "Mg of 180 meq/100g would be 180 cmol/kg beside a CEC of 12" in reading.set_aside["reason"][0]
    assert {f'[units] "{base} meq/100g" = "mg/kg"' for base in ("Mg", "K")} <= set(reading.asks)


def test_an_acid_extract_of_a_limy_soil_is_kept_beside_its_capacity(read):
    """Mehlich-3 takes up free lime (Kansas Agric. Exp. Stn. Res. Reports 7(8)): 40,080 mg/kg beside 12."""
    reading = read("Sample,Ca mg/kg,K mg/kg,CEC cmol/kg\nS1,40080,120,12\n")
    assert reading.results["analyte"].tolist() == ["Ca", "K", "CEC"]
    assert "free lime or salts were dissolved with them" in reading.results["note"][2]


def test_a_base_saturation_above_the_whole_is_kept_and_told(read):
    """Bases of 35.0 beside a capacity of 23.0, as in a published profile, are 152 %: lime was dissolved."""
    reading = read("Sample,pH,Base saturation %,Ca saturation %\nS1,7.9,152,118\nS2,6.4,600,70\n")
    rows = reading.results.set_index(["sample", "analyte"])
    assert rows.loc[("S1", "base saturation"), "value"] == 152.0
    assert rows.loc[("S1", "base saturation"), "note"].startswith("above 100 %: free lime")
    assert reading.set_aside["text"].tolist() == ["600", "118"]


def test_an_extract_of_more_than_soils_give_is_remarked_on(read):
    """121.5 mg/kg of Mg are a cmol/kg (24.305 g/mol, two charges): 114 g/kg is 938, and humus holds 300."""
    found = read("Sample,P,Mg g/kg,K mg/kg\nS1,\"0.05 %\",114,120\nS2,28 mg/kg,0.093,98\n")
    assert len(found.results) == 6
    assert [note for note in found.notes if "unit is right" in note] == [
        "P of 0.05 % is 500 mg/kg, and an extract is printed in mg/kg as a rule and a total in %: see "
        "whether its unit is right; if it is all the soil holds and no extract, write in report.toml: "
        '[methods] "P" = "total digest"',
        "Mg of 114 g/kg is 114,000 mg/kg, and 36,450 mg/kg is as much as pure humus could hold "
        "exchangeable with nothing else on it: see whether its unit is right; if it is all the soil holds "
        'and no extract, write in report.toml: [methods] "Mg g/kg" = "total digest"',
    ]
    humus = 24.305 / 2 * 10 * 300
    assert humus == pytest.approx(36450, rel=1e-3)


@pytest.mark.parametrize("heading", ["Mg (total digest) g/kg", "Ca g/kg", "Mg mg/kg"])
def test_totals_and_lime_are_not_remarked_on(read, heading):
    """A total may be all of a mineral, an extract takes up lime; 114 mg/kg is what soils give."""
    assert [note for note in read(f"Sample,{heading}\nS1,114\n").notes if "unit is right" in note] == []
