"""Older and open workbooks give the same values as the new kind."""

import datetime
import zipfile

import pytest
import xlwt

from soiltrend.errors import ReadError
from soiltrend.reading import read_report

ODS = """<?xml version="1.0"?><office:document-content
 xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"
 xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"
 xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><office:body><office:spreadsheet>
<table:table table:name="Data">
<table:table-row><table:table-cell office:value-type="string"><text:p>Sample</text:p></table:table-cell>
<table:table-cell office:value-type="string"><text:p>Date sampled</text:p></table:table-cell>
<table:table-cell office:value-type="string"><text:p>OM %</text:p></table:table-cell>
<table:table-cell office:value-type="string"><text:p>B ppm</text:p></table:table-cell></table:table-row>
<table:table-row>
<table:table-cell office:value-type="float" office:value="7"><text:p>7</text:p></table:table-cell>
<table:table-cell office:value-type="date" office:date-value="2024-04-12">
<text:p>12/04/24</text:p></table:table-cell>
<table:table-cell office:value-type="percentage" office:value="0.035"><text:p>3.5%</text:p></table:table-cell>
<table:table-cell office:value-type="float" office:value="0.1"><text:p>&lt;0.1</text:p></table:table-cell>
<table:table-cell table:number-columns-repeated="16000"/></table:table-row>
<table:table-row table:number-rows-repeated="1048574"><table:table-cell table:number-columns-repeated="1024"/>
</table:table-row></table:table></office:spreadsheet></office:body></office:document-content>"""


@pytest.fixture
def old(tmp_path):
    """An .xls workbook with formats."""
    book = xlwt.Workbook()
    sheet = book.add_sheet("Data")
    formats = {name: xlwt.easyxf(num_format_str=form) for name, form in (
        ("percent", "0.0%"), ("day", "D/M/YY"), ("below", '"<"0.0'))}
    for column, text in enumerate(("Sample", "Date sampled", "OM %", "B ppm")):
        sheet.write(0, column, text)
    sheet.write(1, 0, 7)
    sheet.write(1, 1, datetime.datetime(2024, 4, 12), formats["day"])
    sheet.write(1, 2, 0.035, formats["percent"])
    sheet.write(1, 3, 0.1, formats["below"])
    book.save(str(tmp_path / "report.xls"))
    return tmp_path / "report.xls"


@pytest.fixture
def opened(tmp_path):
    """An .ods workbook, written by hand after the OpenDocument standard (ISO/IEC 26300)."""
    with zipfile.ZipFile(tmp_path / "report.ods", "w") as archive:
        archive.writestr("content.xml", ODS)
    return tmp_path / "report.ods"


@pytest.mark.parametrize("kind", ["old", "opened"])
def test_cells_as_they_are_shown(request, kind):
    """Percent, day, sign and whole number are read as the sheet shows them."""
    results = read_report(request.getfixturevalue(kind)).results
    assert results[["sample", "analyte", "qualifier", "value"]].to_numpy().tolist() == [
        ["7", "OM", "", 3.5], ["7", "B", "<", 0.1]]
    assert results["sampled"].dt.strftime("%Y-%m-%d").tolist() == ["2024-04-12"] * 2
    assert results["place"].tolist() == ["sheet 'Data', cell C2", "sheet 'Data', cell D2"]


def test_a_text_under_the_ending_xls(tmp_path):
    """Laboratories save text under that ending; it is read as the text it is."""
    path = tmp_path / "report.xls"
    path.write_text("Sample\tpH\nS1\t6.4\n")
    reading = read_report(path)
    assert reading.results["value"].tolist() == [6.4]
    assert reading.notes[0] == "the file is a text and no workbook"


@pytest.mark.parametrize(("name", "content", "match"), [
    ("a.xls", b"<html><table></table></html>", "web page"),
    ("a.xls", b"\xd0\xcf\x11\xe0" + b"x" * 600, "opened"),
    ("a.ods", b"PK no", "opened"),
])
def test_broken_workbooks(tmp_path, name, content, match):
    """A clear error names the file."""
    (tmp_path / name).write_bytes(content)
    with pytest.raises(ReadError, match=match):
        read_report(tmp_path / name)
