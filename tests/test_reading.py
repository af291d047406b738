"""The plain layouts: wide and long tables in text files and workbooks become the tidy frame."""

import datetime

import openpyxl
import pandas as pd
import pytest

from soiltrend import frames
from soiltrend.errors import ReadError
from soiltrend.reading import Reading, read_report


@pytest.fixture
def write(tmp_path):
    """Write a text file and return its path."""

    def _write(text, *, name="report.csv", encoding="utf-8"):
        path = tmp_path / name
        path.write_bytes(text.encode(encoding))
        return path

    return _write


@pytest.fixture
def sheets(tmp_path):
    """Write a workbook: sheet name -> rows, and return its path."""

    def _write(tables, *, formats=()):
        book = openpyxl.Workbook()
        book.remove(book.active)
        for name, rows in tables.items():
            sheet = book.create_sheet(name)
            for row in rows:
                sheet.append(row)
        for sheet, cell, form in formats:
            book[sheet][cell].number_format = form
        path = tmp_path / "report.xlsx"
        book.save(path)
        return path

    return _write


def values(reading):
    """Return {(bed, analyte): (qualifier, value)} of a reading."""
    return {(row.bed, row.analyte): (row.qualifier, row.value) for row in reading.results.itertuples()}


def why(reading):
    """Return {text: reason} of what was set aside."""
    return dict(zip(reading.set_aside["text"], reading.set_aside["reason"], strict=True))


WIDE = """Bed,Date sampled,Depth (cm),pH (1:1 water),P (Mehlich-3) ppm,OM (LOI) %,NA (Mehlich-3) ppm
Harbour,2024-04-12,0-15,6.4,<2.0,3.5,21
NA,2024-04-12,0-15,7.0,88,4.25,0
"""


def test_a_wide_table(write):
    """Beds down, analytes across: names, methods, units, layer and day stand in the frame."""
    reading = read_report(write(WIDE))
    frames.check(reading.results)
    assert values(reading) == {
        ("Harbour", "pH"): ("", 6.4), ("Harbour", "P"): ("<", 2.0), ("Harbour", "OM"): ("", 3.5),
        ("Harbour", "Na"): ("", 21.0), ("NA", "pH"): ("", 7.0), ("NA", "P"): ("", 88.0),
        ("NA", "OM"): ("", 4.25), ("NA", "Na"): ("", 0.0)}
    row = reading.results.iloc[0]
    assert (row.method, row.season, row.top_cm, row.bottom_cm) == ("water 1:1", "spring 2024", 0.0, 15.0)
    assert row.sampled == pd.Timestamp("2024-04-12")
    assert len(reading.set_aside) == 0


def test_the_place_names_line_and_column(write):
    """A value can be found again in the file."""
    results = read_report(write(WIDE)).results
    assert results.loc[results["analyte"] == "P", "place"].tolist() == [
        "line 2, column 'P (Mehlich-3) ppm'", "line 3, column 'P (Mehlich-3) ppm'"]
    assert set(results["source"]) == {"report.csv"}


LONG = """Sample ID;Bed;Sampled on;Analyte;Extractant;Result;Unit;Rating
17;East;12.04.2024;Potassium;Mehlich 3;120,5;mg/kg;high
17;East;12.04.2024;Zinc;DTPA;< 0,40;ppm;low
18;None;25.04.2024;pH;water;6,1;;
"""


def test_a_long_table_with_decimal_commas(write):
    """A row a value; semicolons, decimal commas, days with dots, the laboratory's own words."""
    reading = read_report(write(LONG, encoding="cp1252"))
    frames.check(reading.results)
    assert values(reading) == {("East", "K"): ("", 120.5), ("East", "Zn"): ("<", 0.4),
                               ("None", "pH"): ("", 6.1)}
    assert reading.results["rating"].tolist() == ["high", "low", ""]
    assert reading.results["reported_value"].tolist() == ["120,5", "< 0,40", "6,1"]
    assert reading.results["method"].tolist() == ["Mehlich-3", "DTPA", "water"]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
def test_encodings_and_separators(write, encoding, mark):
    """The same table in any usual dress gives the same values."""
    path = write(WIDE.replace("Harbour", "Böschung").replace(",", mark), encoding=encoding)
    assert values(read_report(path))["Böschung", "OM"] == ("", 3.5)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends(write, end):
    """Line ends of any system; the line in a place counts as an editor counts."""
    results = read_report(write(WIDE.replace("\n", end))).results
    assert results["place"].iloc[1] == "line 3, column 'pH (1:1 water)'"


def test_lines_above_the_table(write):
    """"Name: value" above the table holds for all of it, also in two cells."""
    text = ("Lab: Hill Laboratory,,\nReport no,R-17,\nDate sampled: 4 May 2023,,\nSampling depth,0 to 6 in,\n"
            "Extractant: Mehlich III,,\n\nSample,K ppm,pH\nS1,120,6.4\n")
    row = read_report(write(text)).results.iloc[0]
    assert (row.lab, row.report) == ("Hill Laboratory", "R-17")
    assert (row.season, row.bottom_cm) == ("spring 2023", 15.24)
    assert row.method == "Mehlich-3"


@pytest.mark.parametrize("units", [
    "UNITS,,mg/kg,Percent,-\n", ",,mg/kg,%,\n", "UNITS,,Mehlich\u00a01\u00a0\u00a0mg/kg\u00a0(ppm),%,\n"])
@pytest.mark.parametrize("above", [True, False])
def test_a_row_of_units(write, units, above):
    """Units in a row of their own, over or under the headings, in words and with odd spaces."""
    head = "Sample,Depth,K,OM,pH\n"
    reading = read_report(write((units + head if above else head + units) + "S1,0-15 cm,120,3.5,6.4\n"))
    assert reading.results["value"].tolist() == [120.0, 3.5, 6.4]
    assert reading.results["method"].iloc[0] == ("Mehlich-1" if "Mehlich" in units else "")


def test_comments_and_limits_are_no_data(write):
    """COMMENT rows say something of the table; limits inside them are no values."""
    text = ("Lab,Point ID,Al,As\nUNITS,,ppm,ppm\nCOMMENT,,Total Acid Digestion,\n"
            "COMMENT,Values below this are of no concern,no limit,<20\n13,A,9982.25,<1.52\n\n"
            "COMMENT,see the web\n")
    reading = read_report(write(text))
    assert values(reading) == {("A", "Al"): ("", 9982.25), ("A", "As"): ("<", 1.52)}
    assert set(reading.results["method"]) == {"total digest"}
    assert len(reading.set_aside) == 0
    assert any("no concern" in note for note in reading.notes)


def test_rows_that_sum_up_are_set_aside(write):
    """A mean or a detection limit under the samples is no sample, and is not lost."""
    reading = read_report(write("Sample,K ppm\nS1,120\nS2,140\nAverage,130\nDetection limit,5\n"))
    assert len(reading.results) == 2
    assert why(reading)["130"] == "its row, 'Average', sums up other rows and is no sample"
    assert "holds limits" in why(reading)["5"]


def test_an_unknown_unit_is_never_guessed(write):
    """Without a unit the values wait, with the line that settles it; pH needs none."""
    path = write("Sample,K,pH\nS1,120,6.4\n")
    asked = read_report(path)
    assert len(asked.results) == 1
    assert '[units] "K" = "mg/kg"' in asked.asks
    answered = read_report(path, answers={"units": {"K": "mmol/kg"}}).results
    assert answered["value"].iloc[0] == pytest.approx(12 * 390.98)  # K 39.098 (IUPAC 2021, abridged)


def test_an_amount_per_area_needs_its_depth(write):
    """lb/acre becomes mg/kg only for a stated depth; the density is said."""
    path = write("Sample,K lb/acre\nS1,300\n")
    assert "depth of the layer is not stated" in read_report(path).set_aside["reason"][0]
    row = read_report(path, answers={"depth_cm": 15, "bulk_density": 1.2}).results.iloc[0]
    assert row.value == pytest.approx(300 * 1.1208511 / (0.1 * 15 * 1.2))
    assert row.note == "from an amount per area with a bulk density of 1.2 g/cm3, as answered"
    assert (row.reported_value, row.reported_unit) == ("300", "lb/acre")


def test_oxides_and_charges(write):
    """K2O counts the oxide and cmol/kg the charge: factors from atomic masses (IUPAC 2021)."""
    results = read_report(write("Sample,K2O mg/kg,Ca cmolc/kg\nS1,100,5\n")).results
    assert results["value"].tolist() == pytest.approx([100 * 2 * 39.0983 / 94.195, 5 * 200.39], rel=1e-4)


def test_a_percentage_of_an_ion_is_asked(write):
    """"Ca %" may be a share of the exchange capacity or of the soil's mass."""
    path = write("Sample,Ca %,Mg % saturation\nS1,68,12\n")
    asked = read_report(path)
    assert asked.results["analyte"].tolist() == ["Mg saturation"]
    answered = read_report(path, answers={"units": {"Ca %": "% of CEC"}})
    assert values(answered)["S1", "Ca saturation"] == ("", 68.0)


def test_two_units_of_one_measurement(write):
    """The canonical unit is kept, its twin is set aside as the same measurement."""
    reading = read_report(write("Sample,Ca_cmolc.kg,Ca_mg.kg\nS1,6.6,1320\nS2,6.6,2640\n"))
    assert reading.results[["sample", "value"]].to_numpy().tolist() == [["S1", 1320.0]]
    assert why(reading)["6.6"].startswith("it contradicts its twin")
    assert sorted(reading.set_aside["sample"]) == ["S1", "S2", "S2"]


def test_an_amount_per_area_against_its_twin(write):
    """15 mg/kg and 50 lb/acre can be one thing, 14.4 and 2021 cannot."""
    reading = read_report(write("Sample,PMN mg/kg,PMN lb/acre\nS1,15,50\nS2,14.4,2021.25\n"))
    assert reading.results["value"].tolist() == [15.0, 14.4]
    assert why(reading)["50"].startswith("the same measurement as 'PMN mg/kg'")
    assert why(reading)["2021.25"].startswith("it contradicts 'PMN mg/kg' (14.4 mg/kg)")


@pytest.mark.parametrize(("column", "text", "reason"), [
    ("pH", "65", "pH lies between 2 and 11"), ("K ppm", "-4", "below zero"),
    ("OM %", "350", "more than 100 %"), ("K ppm", "2000000", "soil itself weighs"),
    ("K ppm", "lost", "no number"), ("K ppm", "5.0-6.0", "no number"),
    ("K ppm", "ND", "without the laboratory's limit")])
def test_values_that_cannot_be(write, column, text, reason):
    """A value no soil can have, or a text, is set aside and says why."""
    reading = read_report(write(f"Sample,{column}\nS1,6\nS2,{text}\nS3,7\n"))
    assert len(reading.results) == 2
    assert reason in why(reading)[text]


def test_a_limit_answers_a_non_detect(write):
    """ND becomes a censored value once its limit is known."""
    path = write("Sample,B ppm\nS1,ND\nS2,0.6\n")
    assert values(read_report(path, answers={"limits": {"B": "0.1"}}))["S1", "B"] == ("<", 0.1)


def test_marks_for_missing_are_counted(write):
    """A printed mark is no value; it is told in the notes, and a true zero stays."""
    reading = read_report(write("Sample,K ppm,B ppm\nS1,*,0\nS2,*,NA\nS3,12,-\n"))
    assert len(reading.results) + len(reading.set_aside) == 2
    assert values(reading)["S1", "B"] == ("", 0.0)
    assert any("'*' 2 times" in note and "'NA' 1 times" in note for note in reading.notes)


def test_ambiguous_thousands_are_asked(write):
    """1,234 alone may be either number; another cell or an answer decides."""
    assert "thousand" in why(read_report(write("Sample;K ppm\nS1;1,234\n")))["1,234"]
    assert values(read_report(write("Sample;K ppm\nS1;1,234\nS2;1,5\n")))["S1", "K"] == ("", 1.234)
    assert values(read_report(write("Sample;K ppm\nS1;1,234\nS2;1.5\n")))["S1", "K"] == ("", 1234.0)
    answered = read_report(write("Sample;K ppm\nS1;1,234\n"), answers={"decimal": "."})
    assert values(answered)["S1", "K"] == ("", 1234.0)


def test_days_that_may_be_either_are_asked(write):
    """3/4/2024 leaves the day open and keeps the year; another day of the file may decide."""
    row = read_report(write("Sample,Date sampled,pH\nS1,3/4/2024,6\n")).results.iloc[0]
    assert (row.season, pd.isna(row.sampled)) == ("2024", True)
    both = read_report(write("Sample,Date sampled,pH\nS1,3/4/2024,6\nS2,3/16/2024,6\n")).results
    assert both["sampled"].tolist() == [pd.Timestamp("2024-03-04"), pd.Timestamp("2024-03-16")]


def test_a_year_alone_is_a_season_without_a_day(write):
    """The year stands as the season; the day is missing."""
    row = read_report(write("year,sample,pH\n2022,S1,6.1\n")).results.iloc[0]
    assert (row.season, pd.isna(row.sampled)) == ("2022", True)


def test_layers_in_sample_names(write):
    """Names that end in layers by habit give them up once the unit is known, and not before."""
    path = write("Point ID,K ppm\nA 0-10,120\nA 10-20,90\n")
    assert read_report(path).results["bed"].tolist() == ["A 0-10", "A 10-20"]
    told = read_report(path, answers={"depth_unit": "cm"}).results
    assert told["bed"].tolist() == ["A", "A"]
    assert told["bottom_cm"].tolist() == [10.0, 20.0]


def test_a_depth_without_unit_keeps_layers_apart(write):
    """0-18 of what? The layer is left open, and the two layers do not become one series."""
    path = write("plot,depth,pH\n1,0-18,5\n1,18-30,6\n")
    asked = read_report(path)
    assert asked.results["bed"].tolist() == ["1 (0-18)", "1 (18-30)"]
    assert 'depth_unit = "cm"' in asked.asks
    assert read_report(path, answers={"depth_unit": "cm"}).results["bottom_cm"].tolist() == [18.0, 30.0]


@pytest.mark.parametrize(("heads", "cells", "layer"), [
    ("Depth_top_cm,Depth_bottom_cm", "10,30", (10.0, 30.0)),
    ("Depth from (in),Depth to (in)", "0,6", (0.0, 15.24)),
    ("depth_in", "0-6", (0.0, 15.24)), ("Sampling depth", "0-0.2 m", (0.0, 20.0)),
    ("Depth [cm]", "15", (0.0, 15.0))])
def test_layers_in_columns(write, heads, cells, layer):
    """Layers in one or two columns, with the unit in the heading or in the cell (1 in is 2.54 cm)."""
    row = read_report(write(f"Bed,{heads},pH\nEast,{cells},6.1\n")).results.iloc[0]
    assert (row.top_cm, row.bottom_cm) == layer


def test_beds_by_answer(write):
    """The answer names the bed of a sample whatever the case; near misses are told, not taken."""
    path = write("Sample,pH\ns1,6\nSS2,7\n")
    reading = read_report(path, answers={"beds": {"S1": "Harbour", "S2": "Hill"}})
    assert reading.results["bed"].tolist() == ["Harbour", "SS2"]
    assert any("'SS2'" in note and "'s2'" in note for note in reading.notes)


def test_same_bed_names_on_two_farms_stay_apart(write):
    """Field 1 of one farm is not Field 1 of another."""
    results = read_report(write("farm,field,pH\nMill,1,6\nHill,1,7\n")).results
    assert results["bed"].tolist() == ["Mill, 1", "Hill, 1"]


def test_unknown_columns_with_numbers_are_set_aside(write):
    """A measurement not known here is not dropped; a description is told."""
    path = write("Sample,Crop,pH,Sparkle\nS1,beans,6,3.2\n")
    reading = read_report(path)
    assert why(reading)["3.2"].startswith("'Sparkle' is not a measurement known here")
    assert any("Crop" in note for note in reading.notes)
    told = read_report(path, answers={"ignore": {"Sparkle": "a toy"}})
    assert why(told)["3.2"] == "left out as answered: a toy"


def test_shifted_lines_are_not_trusted(write):
    """A line with a cell too many or too few cannot be read by its columns."""
    reading = read_report(write("Sample,K ppm,B ppm\n" + "".join(f"S{i},{i},1\n" for i in range(1, 7))
                                + "S7,1,234,1\nS8,5\n"))
    assert set(reading.results["sample"]) == {f"S{i}" for i in range(1, 7)}
    assert all("headings" in reason for reason in reading.set_aside["reason"])


def test_two_equal_headings_are_not_told_apart(write):
    """The second "K ppm" may be anything."""
    reading = read_report(write("Sample,K ppm,K ppm\nS1,120,240\n"))
    assert why(reading)["240"] == "two columns are headed 'K ppm'"


def test_two_tables_in_one_file(write):
    """A second header starts a second table."""
    reading = read_report(write("Sample,pH\nS1,6\n\nSample,K ppm\nS1,120\n"))
    assert values(reading) == {("S1", "pH"): ("", 6.0), ("S1", "K"): ("", 120.0)}


def test_analytes_down_and_samples_across(write):
    """The turned table: rows are analytes."""
    reading = read_report(write("Test,Unit,Harbour,Hill\npH,,6.1,6.4\nPotassium,ppm,120,<20\n"))
    assert values(reading) == {("Harbour", "pH"): ("", 6.1), ("Hill", "pH"): ("", 6.4),
                               ("Harbour", "K"): ("", 120.0), ("Hill", "K"): ("<", 20.0)}
    assert reading.results["place"].iloc[3] == "line 3, column 'Hill'"


def test_a_sign_in_a_column_of_its_own(write):
    """A long table may keep "<" beside the number."""
    reading = read_report(write("Sample,Parameter,Qualifier,Value,Units\nS1,Zn,<,0.5,ppm\n"))
    assert values(reading) == {("S1", "Zn"): ("<", 0.5)}


def test_a_workbook_as_it_is_shown(sheets):
    """Percent, signs in formats, whole numbers, days and sheets are read as the sheet shows them."""
    path = sheets({"Data": [["Sample", "Date sampled", "OM %", "B ppm", "pH"],
                            [451.0, datetime.datetime(2024, 4, 12), 0.035, 0.1, 6.25],
                            [452, datetime.date(2024, 4, 13), 0.04, 0.3, 6]],
                   "More": [["Sample", "K ppm"], [451, 120]]},
                  formats=[("Data", "C2", "0.0%"), ("Data", "C3", "0.0%"), ("Data", "D2", '"<"0.0')])
    reading = read_report(path)
    frames.check(reading.results)
    assert values(reading) == {("451", "OM"): ("", 3.5), ("452", "OM"): ("", 4.0), ("451", "B"): ("<", 0.1),
                               ("452", "B"): ("", 0.3), ("451", "pH"): ("", 6.25), ("452", "pH"): ("", 6.0),
                               ("451", "K"): ("", 120.0)}
    assert reading.results["place"].iloc[0] == "sheet 'Data', cell C2"
    assert reading.results["sampled"].iloc[0] == pd.Timestamp("2024-04-12")


def test_a_formula_without_result_is_not_lost(sheets):
    """A workbook written by a program may hold formulas that were never calculated."""
    reading = read_report(sheets({"A": [["Sample", "K ppm"], ["S1", 120], ["S2", "=B2*2"]]}))
    assert len(reading.results) == 1
    assert "never calculated" in reading.set_aside["reason"][0]


def test_numbers_typed_as_text_in_a_workbook(sheets):
    """A real number is never taken for thousands because a text beside it has a comma."""
    reading = read_report(sheets({"A": [["Sample", "K ppm"], ["S1", 1.234], ["S2", "1,5"], ["S3", "2.345"]]}))
    assert values(reading) == {("S1", "K"): ("", 1.234), ("S2", "K"): ("", 1.5), ("S3", "K"): ("", 2345.0)}


@pytest.mark.parametrize(("name", "content", "match"), [
    ("a.csv", b"", "empty"), ("a.csv", b"hello\nworld\n", "no table of soil values"),
    ("a.xlsx", b"no zip", "cannot be opened"), ("a.docx", b"x", "cannot be read"),
    ("a.csv", b'Sample,pH\n"S1,6\nS2,7\n', "quotation marks"), ("a.csv", b"\x00\x01\x02PK", "no text")])
def test_files_that_cannot_be_read(tmp_path, name, content, match):
    """A clear error names the file."""
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(ReadError, match=match) as error:
        read_report(path)
    assert name in str(error.value)


def test_a_missing_file():
    """The error names the path."""
    with pytest.raises(ReadError, match=r"nowhere\.csv: there is no such file"):
        read_report("nowhere.csv")


def test_a_reading_shows_itself(write):
    """Plain and HTML forms tell how many values were read and set aside."""
    reading = read_report(write(WIDE))
    assert isinstance(reading, Reading)
    assert repr(reading).startswith("8 values read, 0 set aside")
    assert ">8 values read, 0 set aside</caption>" in reading._repr_html_()
    assert reading.table is reading.results


@pytest.mark.parametrize("odd", ["", "Bed 1,2024-04-12,K,5,mg/kg,\n", 'Bed 1,2024-04-12,"K",5,mg/kg\n'])
def test_a_large_file_is_read_like_a_small_one(write, monkeypatch, odd):
    """The quick parser gives what the careful one gives; an odd line makes it step aside."""
    lines = [f"Bed {i % 7},2024-04-{1 + i % 28:02d},{name},{i % 9 + 0.5},{unit}\n"
             for i in range(40) for name, unit in (("pH", ""), ("K", "mg/kg"), ("Zn", "ppm"))]
    path = write("Bed,Date sampled,Analyte,Result,Unit\n" + "".join(lines) + odd)
    careful = read_report(path)
    monkeypatch.setattr("soiltrend.reading.delimited.LARGE", 100)
    quick = read_report(path)
    pd.testing.assert_frame_equal(quick.results, careful.results)
    pd.testing.assert_frame_equal(quick.set_aside, careful.set_aside)
    assert len(quick.results) + len(quick.set_aside) == 120 + bool(odd)
