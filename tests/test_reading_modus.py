"""The Modus exchange format: v1 XML, v1 JSON and slim JSON, made by hand after the open standard."""

import json

import pytest

from soiltrend import frames
from soiltrend.errors import ReadError
from soiltrend.reading import read_report
from soiltrend.reading.modus import method_of

RESULT = """<NutrientResult><Element>{0}</Element><Value>{1}</Value><ValueUnit>{2}</ValueUnit>
<ModusTestID>{3}</ModusTestID><ValueType>Measured</ValueType><ValueDesc>{4}</ValueDesc></NutrientResult>"""
ROWS = [("pH", "6.4", "none", "S-PH-1:1.02.07", "M"), ("P", "88.0", "ppm", "S-P-M3.04", "VH"),
        ("P", "31.5", "ppm", "S-P-BIC.01.03", "H"), ("K", "180", "lb/ac", "S-K-NH4AC.05", ""),
        ("BS-H", "0.000", "%", "S-BS-H.19", ""), ("CEC", "10.4", "meq/100g", "S-CEC.19", "M")]


ALL = "".join(RESULT.format(*row) for row in ROWS)


def xml(*, results=ALL, kind="<Soil/>", head=""):
    """A file of one event with one sample and one depth."""
    return f"""<?xml version="1.0"?>{head}
<ModusResult Version="1.0"><Event>
<LabMetaData><LabName>Hill &amp; Sons</LabName><Reports><Report ReportID="1"><LabReportID>R-17</LabReportID>
</Report></Reports></LabMetaData>
<EventMetaData><EventDate>2024-04-12</EventDate><EventType>{kind}</EventType></EventMetaData>
<EventSamples><Soil><SoilSample><Depths><Depth DepthID="1"><NutrientResults>{results}</NutrientResults>
<TextureResults><TextureResult><SoilClassification>Loam</SoilClassification><PercentClay>20</PercentClay>
<PercentSilt>40</PercentSilt><PercentSand>40</PercentSand></TextureResult></TextureResults></Depth></Depths>
<SampleMetaData><SampleNumber>7</SampleNumber></SampleMetaData>
<NutrientRecommendations><NutrientRecommendation><Element>P</Element><Value>50</Value>
</NutrientRecommendation></NutrientRecommendations></SoilSample>
<DepthRefs><DepthRef DepthID="1"><StartingDepth>0</StartingDepth><EndingDepth>6</EndingDepth>
<DepthUnit>in</DepthUnit></DepthRef></DepthRefs></Soil></EventSamples></Event></ModusResult>"""


@pytest.fixture
def write(tmp_path):
    """Write a file and return its path."""

    def _write(content, *, name="result.xml"):
        path = tmp_path / name
        path.write_text(content if isinstance(content, str) else json.dumps(content))
        return path

    return _write


def test_v1_xml(write):
    """Depths are joined, methods come from the codes, recommendations are no results, zero stays."""
    reading = read_report(write(xml()))
    frames.check(reading.results)
    table = reading.results.set_index(["analyte", "method"])
    assert table.loc[("P", "Mehlich-3"), "value"] == 88.0
    assert table.loc[("P", "Olsen"), "rating"] == "H"
    assert table.loc[("acidity saturation", "summation"), "value"] == 0.0
    assert table.loc[("K", "ammonium acetate"), "value"] == pytest.approx(180 * 1.1208511 / (0.13 * 15.24))
    assert table.loc[("clay", ""), "value"] == 20.0
    assert len(reading.results) == 9
    assert len(reading.set_aside) == 0
    row = reading.results.iloc[0]
    assert (row["sample"], row.lab, row.report, row.bottom_cm) == ("7", "Hill & Sons", "R-17", 15.24)
    assert row.place == "event 1, sample 7, pH (S-PH-1:1.02.07)"
    assert any("recommendations" in note for note in reading.notes)


def test_missing_children_are_told(write):
    """A result without its test code is read, and the lack is said."""
    bare = "<NutrientResult><Element>pH</Element><Value>6</Value></NutrientResult>"
    reading = read_report(write(xml(results=bare)))
    assert reading.results["value"].tolist()[0] == 6.0
    assert any("lack ModusTestID" in note for note in reading.notes)


def test_the_day_a_report_was_made(write):
    """XML says when it was processed; the date of a slim file counts when it is not that of sampling."""
    made = xml().replace("</LabMetaData>", "<ProcessedDate>2024-05-02</ProcessedDate></LabMetaData>")
    slim = {"id": "R-9", "date": "2024-05-02", "type": "soil", "samples": {
        "a": {"results": {"1": {"analyte": "PH", "value": 6.4, "units": "[pH]"}}}}}
    told = [read_report(write(content, name=name)).reported for content, name in (
        (made, "a.xml"), (xml(), "b.xml"), (slim | {"source": {"date": "2024-04-12"}}, "a.json"),
        (slim, "b.json"))]
    assert [f"{day:%Y-%m-%d}" if day else None for day in told] == ["2024-05-02", None, "2024-05-02", None]


@pytest.mark.parametrize("kind", ["<Plant/>", "<Nematode/>"])
def test_other_events_are_no_soil(write, kind):
    """A plant analysis is never read as soil."""
    reading = read_report(write(xml(kind=kind)))
    assert len(reading.results) == 0
    assert any("not of soil" in note for note in reading.notes)


@pytest.mark.parametrize("head", [
    '<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]>', '<!DOCTYPE x SYSTEM "file:///etc/passwd">'])
def test_hostile_xml_is_refused(write, head):
    """Entities and document types are not needed by a laboratory."""
    with pytest.raises(ReadError, match="refused"):
        read_report(write(xml(head=head)))


@pytest.mark.parametrize(("content", "name", "match"), [
    ("<ModusResult><Event>", "a.xml", "no well-formed XML"), ("<Other/>", "a.xml", "no Modus file"),
    ("{", "a.json", "no JSON"),
    ('{"a": 1}', "a.json", "no Modus events"), ("[1, 2]", "a.json", "no Modus events"),
])
def test_broken_files(write, content, name, match):
    """A clear error names the fault."""
    with pytest.raises(ReadError, match=match):
        read_report(write(content, name=name))


def test_an_order_holds_no_results(write):
    """An order of tests is read as what it is."""
    reading = read_report(write(
        "<ModusSubmit Version='1.0'><Event><EventSamples><Soil><SoilSample><SampleMetaData><SampleNumber>1"
        "</SampleNumber></SampleMetaData></SoilSample></Soil></EventSamples></Event></ModusSubmit>"))
    assert len(reading.results) + len(reading.set_aside) == 0
    assert reading.notes == ("this is an order of tests of 1 soil samples that holds no results yet",)


def test_v1_json(write):
    """Arrays in the place of the wrappers; the same values."""
    results = [dict(zip(("Element", "Value", "ValueUnit", "ModusTestID", "ValueDesc"), row, strict=True))
               for row in ROWS]
    data = {"Events": [{
        "EventMetaData": {"EventDate": "2024-04-12", "EventType": {"Soil": True}},
        "LabMetaData": {"LabName": "Hill & Sons"},
        "EventSamples": {"Soil": {
            "DepthRefs": [{"DepthID": 1, "StartingDepth": 0, "EndingDepth": 6, "DepthUnit": "in"}],
            "SoilSamples": [{"SampleMetaData": {"SampleNumber": "7"},
                             "Depths": [{"DepthID": "1", "NutrientResults": results}]}]}}}]}
    for form in (data, {"ModusResult": data}):
        reading = read_report(write(form, name="result.json"))
        assert len(reading.results) == len(ROWS)
        assert reading.results["bottom_cm"].tolist() == [15.24] * len(ROWS)


def test_slim_json(write):
    """Defaults at the top, overridden by the sample; censored text; NA is sodium; plants are left."""
    data = {"id": "R-9", "date": "2024-05-01", "type": "soil", "lab": {"name": "Hill"},
            "depth": {"top": 0, "bottom": 15, "units": "cm"}, "samples": {
                "a": {"source": {"date": "2024-04-12"}, "results": {
                    "x": {"analyte": "NA", "value": 21.50, "units": "mg/kg", "modusTestID": "S-NA-M3.04"},
                    "y": {"analyte": "B", "value": "<0.5", "units": "[ppm]"},
                    "z": {"analyte": "CABS", "value": 71, "units": "%"}}},
                "b": {"depth": {"bottom": 30},
                      "results": {"x": {"analyte": "PH", "value": 6.1, "units": "[pH]"}}},
                "c": {"type": "plant-tissue", "results": {"x": {"analyte": "K", "value": 3, "units": "%"}}}}}
    results = read_report(write(data, name="slim.json")).results
    frames.check(results)
    assert results["analyte"].tolist() == ["Na", "B", "Ca saturation", "pH"]
    assert results["qualifier"].tolist() == ["", "<", "", ""]
    assert results["bottom_cm"].tolist() == [15.0, 15.0, 15.0, 30.0]
    assert results["season"].tolist() == ["spring 2024"] * 4
    assert results["sampled"].dt.day.tolist() == [12, 12, 12, 1]
    assert results["report"].tolist() == ["R-9"] * 4


@pytest.mark.parametrize(("code", "method"), [
    ("S-K-M3.04", "Mehlich-3"), ("s-p-b1-1:10.01.03", "Bray P1"), ("S-PH-1:2.5.02.07", "water 1:2.5"),
    ("S-BPH-SIK1.02", "Sikora"), ("S-SOM-LOI.15", "LOI"), ("S-ZN-DTPA-SORB.05", "DTPA-sorbitol"),
    ("S-BS-CA.19", "summation"), ("S-P-M3BRAYP1.19", "Bray P1 reckoned from Mehlich-3"), ("S-CL.01.04", "")])
def test_test_codes(code, method):
    """The structure of a test code tells the method (AgGateway Modus v1)."""
    assert method_of(code)[0] == method


def test_half_of_a_pair_of_codes_is_no_letter(write):
    r"""JSON may escape what no text can hold (RFC 8259, 8.2); a mark stands in its place."""
    slim = {"id": "R", "date": "2024-05-02", "type": "soil", "samples": {
        "Ea\ud800st \U0001f33f": {"results": {"1": {"analyte": "PH", "value": 6.4, "units": "[pH]"}}}}}
    reading = read_report(write(slim, name="a.json"))
    assert reading.results["sample"].tolist() == ["Ea?st \U0001f33f"]
    assert reading.results["value"].tolist() == [6.4]
