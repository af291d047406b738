"""Files made to harm, or damaged beyond use, are refused in words; nothing hangs, fills up or runs."""

import io
import json
import os
import shutil
import zipfile
import zlib
from pathlib import Path

import fuzz
import openpyxl
import pandas as pd
import pytest
from test_reading_pdf import ROWS, TOP, page_of, write_pdf
from test_reading_sheets import ODS

import soiltrend as st
from soiltrend import book, cli, limits, present
from soiltrend.errors import GardenError, ReadError
from soiltrend.garden import account, open_garden
from soiltrend.reading import read_report
from soiltrend.reading.book import covered

GARDEN = '[beds."East"]\n[beds."West"]\n'
REPORT = "Sample,Date sampled,pH\nEast,2024-04-12,6.4\nWest,2024-04-12,6.1\n"


@pytest.fixture
def garden(tmp_path):
    """Return a function that writes a garden of two beds and one report, and more files."""

    def make(**files):
        (tmp_path / "reports").mkdir(exist_ok=True)
        (tmp_path / "garden.toml").write_text(GARDEN, encoding="utf-8")
        (tmp_path / "reports" / "spring.csv").write_text(REPORT, encoding="utf-8")
        for name, text in files.items():
            (tmp_path / name.replace("__", ".")).write_text(text, encoding="utf-8")
        return tmp_path

    return make


def zipped(path, parts):
    """Write a zip of named parts."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return path


def with_part(path, name, content):
    """Write a plain workbook with one of its parts put in another's place."""
    book_, out = openpyxl.Workbook(), io.BytesIO()
    for row in (["Sample", "pH"], ["East", 6.4]):
        book_.active.append(row)
    book_.save(out)
    with zipfile.ZipFile(out) as archive:
        parts = {part: archive.read(part) for part in archive.namelist()}
    return zipped(path, {**parts, name: content})


LAUGHS = '<!DOCTYPE a [<!ENTITY a "ha"><!ENTITY b "&a;&a;"><!ENTITY c SYSTEM "file:///etc/passwd">]>'


@pytest.mark.parametrize("name", ["a.xml", "a.xlsx", "a.ods"])
def test_entities_are_refused(tmp_path, name):
    """In the exchange format and inside both zipped workbooks ("billion laughs", CWE-776; CWE-611)."""
    path = tmp_path / name
    if name == "a.xml":
        path.write_text(f'<?xml version="1.0"?>{LAUGHS}<ModusResult>&b;&c;</ModusResult>')
    elif name == "a.xlsx":
        with_part(
            path,
            "xl/worksheets/sheet1.xml",
            LAUGHS + SHEET.replace("<t>Sample</t>", "<t>&b;</t>").format(""),
        )
    else:
        zipped(path, {"content.xml": ODS.replace("<office:doc", f"{LAUGHS}<office:doc", 1)})
    with pytest.raises(ReadError, match=r"refused|cannot be opened .*Entit|cannot be opened .*DTD"):
        read_report(path)


@pytest.mark.parametrize("name", ["a.xlsx", "a.ods", "a.xls"])
def test_a_zip_bomb_is_refused_before_it_is_unpacked(tmp_path, monkeypatch, name):
    """By the sizes that the archive states; the limit is lowered for the test."""
    monkeypatch.setattr(limits, "UNPACKED_BYTES", 1_000_000)
    path = zipped(tmp_path / name, {"content.xml": bytes(3_000_000), "xl/workbook.xml": b""})
    assert path.stat().st_size < 10_000
    with pytest.raises(ReadError, match=r"it unpacks to 3,000,000 bytes and no more than 1,000,000"):
        read_report(path)


def test_an_archive_that_lies_about_its_size_is_refused(tmp_path):
    """The reader of the archive stops at the size stated, and the sum does not fit."""
    path = zipped(tmp_path / "a.ods", {"content.xml": bytes(500_000)})
    raw = path.read_bytes()
    size = (500_000).to_bytes(4, "little")
    path.write_bytes(raw.replace(size, (50).to_bytes(4, "little")))
    with pytest.raises(ReadError, match="cannot be opened"):
        read_report(path)


@pytest.mark.parametrize("climbs", ["../../climbed.txt", "/tmp/climbed.txt", "..\\climbed.txt"])
@pytest.mark.parametrize("name", ["a.xlsx", "a.ods"])
def test_paths_in_a_zip_lead_nowhere(tmp_path, name, climbs):
    """A workbook is never unpacked into the folder, whatever its parts are called (CWE-22)."""
    inner = tmp_path / "in"
    inner.mkdir()
    if name == "a.xlsx":
        path = with_part(inner / name, climbs, b"x")
    else:
        path = zipped(inner / name, {climbs: b"x", "content.xml": ODS})
    assert len(read_report(path).results) >= 1
    assert sorted(file.name for file in tmp_path.rglob("*")) == [name, "in"]
    assert not Path("/tmp/climbed.txt").exists()


def test_a_stray_cell_at_the_far_corner_is_refused_and_a_stray_format_is_not(tmp_path):
    """17 thousand million blank cells are not walked; a format far away is no cell."""
    book_ = openpyxl.Workbook()
    for row in (["Sample", "pH"], ["East", 6.4]):
        book_.active.append(row)
    book_.active["XFD1048576"].number_format = "0.0"
    book_.save(tmp_path / "a.xlsx")
    assert read_report(tmp_path / "a.xlsx").results["value"].tolist() == [6.4]
    book_.active["XFD1048576"] = 1
    book_.save(tmp_path / "a.xlsx")
    with pytest.raises(ReadError, match=r"sheet 'Sheet': its cells span 1,048,576 rows and 16,384 columns"):
        read_report(tmp_path / "a.xlsx")


SHEET = (
    '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData><row r="1">'
    '<c r="A1" t="inlineStr"><is><t>Sample</t></is></c><c r="B1" t="inlineStr"><is><t>pH</t></is></c>'
    '</row><row r="2"><c r="A2" t="inlineStr"><is><t>East</t></is></c><c r="B2"><v>6.4</v></c></row>'
    "</sheetData>{}</worksheet>"
)
"""A sheet of one value (ECMA-376, part 1)."""


@pytest.mark.parametrize(
    "more",
    [
        '<mergeCells><mergeCell ref="C1:XFD1048576"/></mergeCells>',
        "<mergeCells><mergeCell ref='C1&#58;XFD1048576'/></mergeCells>",
        '<hyperlinks><hyperlink location="x" ref="A:XFD"/></hyperlinks>',
    ],
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_ranges_of_the_whole_sheet_are_refused(tmp_path, more, encoding):
    """They would be written out cell by cell when the workbook is opened."""
    path = with_part(tmp_path / "a.xlsx", "xl/worksheets/sheet1.xml", SHEET.format(more).encode(encoding))
    with pytest.raises(ReadError, match=r"its cells span 17,1\d\d,\d\d\d,\d\d\d rows"):
        read_report(path)
    with_part(tmp_path / "a.xlsx", "xl/worksheets/sheet1.xml", SHEET.format("").encode(encoding))
    assert read_report(path).results["value"].tolist() == [6.4]


def test_merged_ranges_are_cut_at_the_filled_cells():
    """What lies beyond is not written out; many ranges over the same cells are too many."""
    rows = [["Sample", "pH"], ["East", "6.4"]]
    whole = (0, 65536, 0, 256)
    assert covered([(3, 65536, 0, 256), (1, 1, 0, 2)], rows, file="a.xls", sheet="S") == {}
    assert set(covered([whole], rows, file="a.xls", sheet="S")) == {(0, 0), (0, 1), (1, 0), (1, 1)}


@pytest.mark.parametrize("what", ["cells", "rows", "ranges"])
def test_repeats_of_an_open_workbook_are_bounded(tmp_path, what):
    """A filled cell repeated across and down, a row of many, a merged range over all."""
    many = {
        "cells": ODS.replace('<text:p>7</text:p></table:table-cell>', "<text:p>7</text:p></table:table-cell>"
                             + '<table:table-cell table:number-columns-repeated="20000"><text:p>1</text:p>'
                             "</table:table-cell>"),
        "rows": ODS.replace("<table:table-row>", '<table:table-row table:number-rows-repeated="2000000000">'),
        "ranges": ODS.replace(
            'office:value="7">',
            'office:value="7" table:number-columns-spanned="2000000000" '
            'table:number-rows-spanned="2000000000">',
        ),
    }[what]  # fmt: skip
    path = zipped(tmp_path / "a.ods", {"content.xml": many})
    if what == "ranges":
        assert len(read_report(path).results) == 2
    else:
        with pytest.raises(ReadError, match=r"its cells span|repeated 2000000000 times"):
            read_report(path)


def test_too_many_columns_are_refused(tmp_path):
    """A line of a hundred thousand headings, in a small file and in one for the quick parser."""
    for head, cell in (("", ""), ("pH", "6.4")):
        rows = [",".join(["Sample", *[text] * 100_000]) for text in (head, cell)]
        (tmp_path / "a.csv").write_text("\n".join(rows) + "\n")
        with pytest.raises(ReadError, match=r"span 1 rows and 100,001 columns; no more than 16,384"):
            read_report(tmp_path / "a.csv")


@pytest.mark.parametrize(("name", "limit"), [("a.csv", "TEXT_BYTES"), ("a.xlsx", "WORKBOOK_BYTES"),
                                             ("a.ods", "WORKBOOK_BYTES"), ("a.pdf", "PDF_BYTES"),
                                             ("a.xml", "EXCHANGE_BYTES"), ("a.json", "EXCHANGE_BYTES"),
                                             ("a.xls", "TEXT_BYTES")])  # fmt: skip
def test_a_file_too_large_is_not_opened(tmp_path, monkeypatch, name, limit):
    """Each kind has its limit, and the refusal names size and limit."""
    monkeypatch.setattr(limits, limit, 1000)
    (tmp_path / name).write_bytes(bytes(1001))
    with pytest.raises(ReadError, match=rf"{name}: it holds 1,001 bytes and no more than 1,000"):
        read_report(tmp_path / name)


def test_a_pdf_of_too_many_pages_is_refused(tmp_path, monkeypatch):
    """The pages are counted before any is read."""
    monkeypatch.setattr(limits, "PAGES", 2)
    path = write_pdf(tmp_path / "a.pdf", [TOP + page_of(ROWS)] * 3)
    with pytest.raises(ReadError, match=r"it has 3 pages; no more than 2"):
        read_report(path)


def test_a_pdf_page_of_too_many_letters_is_refused(tmp_path, monkeypatch):
    """They are counted while they are drawn, so that figures within figures stop too."""
    monkeypatch.setattr(limits, "MARKS", 50)
    path = write_pdf(tmp_path / "a.pdf", [TOP + page_of(ROWS)])
    with pytest.raises(ReadError, match=r"page 1 draws more than 50 letters and lines"):
        read_report(path)


def pdf_of(parts):
    """Return a PDF of objects without a table of their places, which readers make up (ISO 32000-1)."""
    body = b"".join(
        b"%d 0 obj\n" % number + part + b"\nendobj\n" for number, part in enumerate(parts, start=1)
    )
    return b"%PDF-1.4\n" + body + b"trailer << /Root 1 0 R >>\n%%EOF\n"


def test_pdf_figures_that_draw_each_other_stop(tmp_path):
    """Twelve figures, each drawing the next ten times: a million million marks in 2 kB."""
    first = 5
    figures = []
    for number in range(12):
        draws = b"/F Do " * 10 if number < 11 else b"BT ET"
        within = b"/Resources << /XObject << /F %d 0 R >> >>" % (first + number + 1)
        head = b"<< /Type /XObject /Subtype /Form /BBox [0 0 9 9] %s /Length %d >>"
        figures.append(head % (within, len(draws)) + b"\nstream\n" + draws + b"\nendstream")
    parts = [b"<< /Type /Catalog /Pages 2 0 R >>", b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
             b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 99 99] /Contents 4 0 R "
             b"/Resources << /XObject << /F 5 0 R >> >> >>",
             b"<< /Length 5 >>\nstream\n/F Do\nendstream", *figures]  # fmt: skip
    (tmp_path / "a.pdf").write_bytes(pdf_of(parts))
    with pytest.raises(ReadError, match=r"draws more than 200,000"):
        read_report(tmp_path / "a.pdf")


def test_a_packed_pdf_is_weighed_before_it_is_unpacked(tmp_path, monkeypatch):
    """Packed once or twice."""
    monkeypatch.setattr(limits, "PDF_UNPACKED_BYTES", 1_000_000)
    for packed in (zlib.compress(bytes(5_000_000)), zlib.compress(zlib.compress(bytes(20_000_000)))):
        content = b"<< /Filter /FlateDecode /Length %d >>\nstream\n%s\nendstream" % (len(packed), packed)
        (tmp_path / "a.pdf").write_bytes(pdf_of([content]))
        with pytest.raises(ReadError, match=r"unpacks to more than 1,000,000 bytes"):
            read_report(tmp_path / "a.pdf")


@pytest.mark.parametrize(("name", "text"), [
    ("a.json", "[" * 100_000), ("a.json", '{"Events":' * 300 + "1" + "}" * 300),
    ("a.xml", "<ModusResult>" + "<a>" * 5000 + "</a>" * 5000 + "</ModusResult>"),
    ("a.csv", '"' + "x" * 200_000 + '",pH\nEast,6.4\n'), ("a.csv", '"' * 9999),
    ("a.csv", "\x00" * 999)])  # fmt: skip
def test_absurd_nesting_and_length_is_said(tmp_path, name, text):
    """Brackets in brackets, elements in elements, a cell as long as a book."""
    (tmp_path / name).write_text(text)
    with pytest.raises(ReadError):
        read_report(tmp_path / name)


@pytest.mark.parametrize(("text", "said"), [
    ("a = " + "[" * 5000 + "]" * 5000, "too deep"),
    ("[" + ".".join("a" * 3000) + "]\nb = 1", "'a' is not a key known here"),
    ("area = " + "9" * 5000, "this is not TOML"),
    ("name = '" + "x" * 30_000_000 + "'", "no more than 20,000,000")])  # fmt: skip
def test_absurd_toml_is_said(garden, text, said):
    """Nesting, numbers of five thousand digits, thirty megabytes."""
    with pytest.raises(GardenError, match=said):
        open_garden(garden(garden__toml=text))


@pytest.mark.parametrize(
    "text",
    [
        'date,bed,material,amount,unit\n2024-04-12,East,"lime,1,kg\n2024-05-01,West,x,1,kg\n',
        "date,bed,material,amount,unit\n2024-04-12,East,%s,1,kg\n" % ("x" * 200_000),
    ],
)
def test_quotation_marks_that_swallow_lines_are_said(garden, text):
    """An open mark would take the rest of the file into one cell, and the lines would be lost."""
    with pytest.raises(GardenError, match=r"applications\.csv, line \d+: the cells cannot be followed"):
        open_garden(garden(applications__csv=text))


def test_a_report_that_is_a_link_out_of_the_garden_is_not_read(garden, tmp_path_factory):
    """A garden from a stranger must not bring a file of the reader's own into the report."""
    secret = tmp_path_factory.mktemp("home") / "secret.csv"
    secret.write_text(REPORT)
    path = garden()
    (path / "reports" / "linked.csv").symlink_to(secret)
    (path / "reports" / "gone.csv").symlink_to(path / "nothing.csv")
    os.mkfifo(path / "reports" / "pipe.csv")
    aside = open_garden(path).set_aside.set_index("source")["reason"]
    assert "outside of the garden's folder" in aside["reports/linked.csv"]
    assert "cannot be opened" in aside["reports/gone.csv"]
    assert "no plain file" in aside["reports/pipe.csv"]
    assert open_garden(path).results["source"].unique().tolist() == ["reports/spring.csv"]


@pytest.mark.parametrize("name", ["garden.toml", "samples.csv", "reports/report.toml", "reports/spring.toml"])
def test_a_grower_s_file_that_is_a_link_out_of_the_garden_is_refused(garden, tmp_path_factory, name):
    """The same for the files that describe the garden; a link within it is no matter."""
    path = garden()
    target = tmp_path_factory.mktemp("home") / "x"
    target.write_text(GARDEN if name == "garden.toml" else "")
    (path / name).unlink(missing_ok=True)
    (path / name).symlink_to(target)
    if name.startswith("reports"):
        assert "outside of the folder" in open_garden(path).set_aside["reason"].iloc[0]
    else:
        with pytest.raises(GardenError, match="outside of the folder"):
            open_garden(path)


def test_links_to_folders_and_in_circles_are_told(garden, tmp_path_factory):
    """Nothing behind them is read, nothing hangs, and none is passed over in silence."""
    path = garden()
    elsewhere = tmp_path_factory.mktemp("home")
    (elsewhere / "secret.csv").write_text(REPORT)
    (path / "reports" / "elsewhere").symlink_to(elsewhere)
    (path / "reports" / "up").symlink_to(path)
    (path / "reports" / "loop.csv").symlink_to("loop.csv")
    (path / "reports" / "loop").symlink_to("loop")
    opened = open_garden(path)
    assert opened.results["source"].unique().tolist() == ["reports/spring.csv"]
    aside = opened.set_aside.set_index("source")["reason"]
    assert "outside of the garden's folder" in aside["reports/elsewhere"]
    assert "'up' is a link to a folder" in aside["reports/up"]
    assert "cannot be opened (Too many levels" in aside["reports/loop.csv"]
    assert len(aside) == 4
    (path / "samples.csv").symlink_to("samples.csv")
    with pytest.raises(GardenError, match=r"samples\.csv: it cannot be opened \(Too many levels"):
        open_garden(path)


def test_a_folder_of_reports_that_may_not_be_listed_is_told(garden, monkeypatch):
    """And a file in its place."""
    path = garden()
    (path / "reports" / "2023").mkdir()
    (path / "reports" / "2023" / "a.csv").write_text(REPORT)
    listed = os.scandir

    def refuse(place):
        if str(place).endswith("2023"):
            raise PermissionError(13, "Permission denied", str(place))
        return listed(place)

    monkeypatch.setattr(os, "scandir", refuse)
    aside = open_garden(path).set_aside
    assert aside["source"].tolist() == ["reports/2023"]
    assert "a folder that may not be listed" in aside["reason"].item()
    monkeypatch.undo()
    shutil.rmtree(path / "reports")
    (path / "reports").write_text(REPORT)
    assert "'reports', which has no ending, is not a report" in open_garden(path).set_aside["reason"].item()


def test_names_that_are_no_text_are_read_and_written(tmp_path):
    """A garden and a report whose names are bytes that no letters stand for (PEP 383)."""
    path = tmp_path / os.fsdecode(b"G\xe4rten")
    (path / "reports").mkdir(parents=True)
    (path / "garden.toml").write_text(GARDEN)
    (path / "reports" / os.fsdecode(b"Fr\xfchling.csv")).write_text(REPORT)
    (path / "reports" / os.fsdecode(b"Fr\xfcchte.doc")).write_text("")
    opened = open_garden(path)
    assert len(opened.results) == 2
    assert opened.name == r"G\udce4rten"
    st.save_table(account(opened), path / "out" / "account.csv")
    assert r"Fr\udcfchling.csv" in (path / "out" / "account.csv").read_text(encoding="utf-8")
    assert r"Fr\udcfcchte.doc" in opened.set_aside["source"].item()
    assert cli.main(["check", str(path)]) == cli.PROBLEMS


FINDINGS = sorted((Path(__file__).parent / "findings").glob("*.bin"))


@pytest.mark.parametrize("finding", FINDINGS, ids=lambda path: path.stem)
def test_what_a_campaign_found_is_mended(tmp_path, finding):
    """Inputs that once ended in a traceback, a warning or ten seconds (tests/fuzz.py)."""
    fuzz.attempt(finding.name.rpartition("-")[0], finding.read_bytes(), tmp_path)


NAMES = ['<script>alert("x")</script>', '"><img src=x onerror=alert(1)>', "../../etc/passwd", "=1+1", "$x_{$",
         "CON", "Ñandú", "{{ 7*7 }}", "<!-- -->"]  # fmt: skip


def strange(tmp_path):
    """Write a garden whose beds bear the strange names, tested in two springs."""
    (tmp_path / "reports").mkdir()
    beds = "".join(f"[beds.{json.dumps(name, ensure_ascii=False)}]\n" for name in NAMES)
    (tmp_path / "garden.toml").write_text(f"name = {json.dumps(NAMES[0])}\n{beds}", encoding="utf-8")
    for year in (2022, 2024):
        rows = pd.DataFrame(
            {
                "Bed": NAMES,
                "Date sampled": f"{year}-04-12",
                "pH": 6.0 + (year - 2022) / 4,
                "K ppm": 120 + year % 7,
                "OM %": 3.5,
            }
        )
        rows.to_csv(tmp_path / "reports" / f"{year}.csv", index=False)
    return tmp_path


def test_strange_names_are_text_everywhere(tmp_path):
    """In tables, pages, the account and files beside a chart no name becomes markup, path or formula."""
    garden = st.open_garden(strange(tmp_path))
    assert set(garden.results["bed"]) == set(NAMES)
    change = st.compare(garden.results, before="spring 2022", after="spring 2024")
    for page in (
        garden._repr_html_(),
        change._repr_html_(),
        account(garden)._repr_html_(),
        present.page(NAMES[0], change.table),
    ):
        assert "<script" not in page
        assert "<img" not in page
    page = book.page([book.Chapter(NAMES[0], NAMES[0], "", NAMES[0])], title=NAMES[0], foot=NAMES[0])
    assert "<script" not in page
    out = garden.path / "out"
    for name in NAMES[:6]:
        st.save_chart(st.chart_change(change, bed=name), out / "c.svg")
        drawn = (out / "c.svg").read_text(encoding="utf-8")
        assert "<script" not in drawn
        assert "onerror=alert" not in drawn.replace("&gt;&lt;img src=x onerror", "").replace(
            "onerror=alert(1)&gt;", ""
        )
    st.save_table(change, out / "change.csv")
    assert "\n=1+1" not in (out / "change.csv").read_text(encoding="utf-8")
    gallery = st.chart_beds(change)
    assert st.save_charts(gallery, out / "charts") == len(gallery.charts)
    assert len(list((out / "charts").glob("*.png"))) == len(gallery.charts)
    assert sorted(file.name for file in tmp_path.iterdir()) == ["garden.toml", "out", "reports"]


def test_alt_text_is_escaped_on_the_page(tmp_path):
    """The words of a picture that name a bed are text in the page's markup."""
    import nbformat

    out = nbformat.v4.new_output(
        "display_data",
        data={"image/png": "aaaa"},
        metadata={"image/png": {"alt": '"><script>alert(1)</script>'}},
    )
    plain = nbformat.v4.new_output("stream", text="<script>alert(2)</script>")
    cell = nbformat.v4.new_code_cell("1", outputs=[out, plain], execution_count=1)
    from nbconvert import HTMLExporter

    body, _ = HTMLExporter(template_name="basic").from_notebook_node(nbformat.v4.new_notebook(cells=[cell]))
    assert "<script>alert" not in body


def test_check_prints_no_control_signs(garden, capsys):
    """A text with an escape sequence does not colour, clear or retitle the reader's terminal."""
    path = garden()
    (path / "reports" / "spring.csv").write_text(f"{REPORT}\x1b[2JNorth,2024-04-12,\x1b]0;title\x07low\n")
    assert cli.main(["check", str(path)]) == cli.PROBLEMS
    said = capsys.readouterr().out
    assert "]0;titlelow" in said
    assert not set(said) & {"\x1b", "\x07"}


def test_a_bed_with_signs_that_cannot_be_printed_is_refused(garden):
    """An escape written as such in TOML."""
    with pytest.raises(GardenError, match=r"'a\\x1b\[31mb' holds signs that cannot be printed"):
        open_garden(garden(garden__toml='[beds."a\\u001b[31mb"]'))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name = 5", r"name = 5 is not a text in quotes. Write name = "),
        ('labs = "Hill"', r"labs = 'Hill' is not a table"),
        ("noise = [1]", r"noise = \[1\] is not a table"),
        ('[labs]\nHill = "x"', r"lab 'Hill': 'x' holds no answers"),
        ("[labs.Hill]\nanswers = [1]", r"holds no answers"),
        ('[beds.North]\naliases = "N1"', r"aliases = 'N1' is not a list"),
        ("[beds]\nNorth = 5", r"bed 'North': 5 is not a table"),
    ],
)
def test_a_wrong_kind_of_thing_is_said(garden, text, said):
    """A number for a text, a text for a table or a list: named with its place and a remedy."""
    with pytest.raises(GardenError, match=said):
        open_garden(garden(garden__toml=text + ("" if "[beds" in text else f"\n{GARDEN}")))


@pytest.mark.parametrize(
    "text", ["beds = 5", "units = [1]", "lab = 7", "depth_cm = {a = 1}", "[beds]\nK = ''"]
)
def test_a_wrong_kind_of_answer_sets_the_file_aside(garden, text):
    """What report.toml holds concerns one file, and the garden opens without it."""
    path = garden()
    (path / "reports" / "report.toml").write_text(text)
    opened = open_garden(path)
    assert len(opened.results) == 0
    assert opened.set_aside["place"].tolist() == ["the whole file"]
    assert "report.toml" in opened.set_aside["reason"].item()
