"""PDF tables by word positions: blanks stay blank, turned pages and continued tables are read."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soiltrend import frames
from soiltrend.errors import ReadError
from soiltrend.reading import read_report

LEFTS = (40, 120, 180, 240, 310, 370, 420)
HEADS = (("Sample", "Soil", "Organic", "Phosphorus", "Potassium", "Zn", "Boron"),
         ("ID", "pH", "matter %", "Olsen ppm", "ppm", "ppm", "ppm"))
ROWS = (("East bed", "6.4", "3.5", "22", "120", "", "<0.1"), ("West bed", "6.1", "", "18", "98 M", "", ""),
        ("Hill", "7.0", "4.1", "", "140", "1.2", ""))


def page_of(rows, *, heads=HEADS, top=500, width=0.0):
    """Return (x, y, text) for a table; ``width`` is that of a letter when cells end at one edge."""
    lines = [*heads, *rows]
    return [(left + (40 - width * len(text) if width and at else 0), top - 13 * number, text)
            for number, line in enumerate(lines)
            for at, (left, text) in enumerate(zip(LEFTS, line, strict=True)) if text]


def write_pdf(path, pages, *, rotate=0, upwards=False):
    """Write a PDF of one font after the open standard (ISO 32000-1): a page is a list of (x, y, text)."""
    size = (595, 842) if upwards else (842, 595)
    parts = [b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>"]
    root = 2 * len(pages) + 2
    for words in pages:
        shown = []
        for x, y, text in words:
            safe = text.replace("\\", r"\\").replace("(", r"\(").replace(")", r"\)")
            place = f"0 1 -1 0 {595 - y} {x}" if upwards else f"1 0 0 1 {x} {y}"
            shown.append(f"BT /F1 9 Tf {place} Tm ({safe}) Tj ET")
        content = "\n".join(shown).encode("cp1252")
        parts.append(b"<< /Length %d >>\nstream\n" % len(content) + content + b"\nendstream")
        parts.append(f"<< /Type /Page /Parent {root} 0 R /MediaBox [0 0 {size[0]} {size[1]}] "
                     f"/Rotate {rotate} /Resources << /Font << /F1 1 0 R >> >> "
                     f"/Contents {len(parts)} 0 R >>".encode())
    kids = " ".join(f"{3 + 2 * number} 0 R" for number in range(len(pages)))
    parts.append(f"<< /Type /Pages /Kids [{kids}] /Count {len(pages)} >>".encode())
    parts.append(f"<< /Type /Catalog /Pages {root} 0 R >>".encode())
    out, starts = b"%PDF-1.4\n", []
    for number, part in enumerate(parts, start=1):
        starts.append(len(out))
        out += b"%d 0 obj\n" % number + part + b"\nendobj\n"
    table = b"".join(b"%010d 00000 n \n" % start for start in starts)
    path.write_bytes(out + b"xref\n0 %d\n0000000000 65535 f \n" % (len(parts) + 1) + table
                     + b"trailer << /Size %d /Root %d 0 R >>\nstartxref\n%d\n%%%%EOF\n"
                     % (len(parts) + 1, len(parts), len(out)))
    return path


TOP = [(40, 560, "Hill Laboratory, soil report"), (40, 545, "Lab: Hill"),
       (300, 545, "Date sampled: 2024-04-12")]
FOOT = [(40, 380, "Values are given on dry soil. Call 555 1234 for questions.")]
EXPECTED = {("East bed", "pH"): 6.4, ("East bed", "OM"): 3.5, ("East bed", "P"): 22.0,
            ("East bed", "K"): 120.0, ("East bed", "B"): 0.1, ("West bed", "pH"): 6.1,
            ("West bed", "P"): 18.0, ("West bed", "K"): 98.0,
            ("Hill", "pH"): 7.0, ("Hill", "OM"): 4.1, ("Hill", "K"): 140.0, ("Hill", "Zn"): 1.2}


def values(reading):
    """Return {(bed, analyte): value}."""
    return {(row.bed, row.analyte): row.value for row in reading.results.itertuples()}


@pytest.mark.parametrize(("rotate", "upwards"), [(0, False), (90, False), (180, False), (0, True)])
def test_a_table_however_the_page_is_turned(tmp_path, rotate, upwards):
    """Headings over two lines, mostly blank columns, a rating in a cell; the page may be turned."""
    path = write_pdf(tmp_path / "a.pdf", [TOP + page_of(ROWS) + FOOT], rotate=rotate, upwards=upwards)
    reading = read_report(path)
    frames.check(reading.results)
    assert values(reading) == EXPECTED
    assert len(reading.set_aside) == 0
    row = reading.results.set_index(["bed", "analyte"]).loc[("West bed", "K")]
    assert (row.rating, row.lab, row.season, row.reported_value) == ("M", "Hill", "spring 2024", "98 M")
    assert row.place == "page 1, row 6, column 'Potassium ppm'"
    assert reading.results.set_index(["bed", "analyte"]).loc[("East bed", "B"), "qualifier"] == "<"


def test_a_table_over_two_pages(tmp_path):
    """A page without headings goes on in the columns of the page before."""
    more = (("Low", "5.9", "2.0", "", "", "0.9", ""), ("Top", "", "", "*", "33", "", ""))
    path = write_pdf(tmp_path / "a.pdf", [page_of(ROWS), page_of(more, heads=())])
    added = {("Low", "pH"): 5.9, ("Low", "OM"): 2.0, ("Low", "Zn"): 0.9, ("Top", "K"): 33.0}
    assert values(read_report(path)) == EXPECTED | added


CELL = st.one_of(st.just(""), st.floats(2, 11).map(lambda number: f"{number:.2f}"))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(*[CELL] * 6), min_size=1, max_size=8), st.sampled_from((0.0, 5.0)))
def test_blanks_move_nothing(tmp_path_factory, table, width):
    """Whatever cells are blank, every value stands under its own heading or is set aside."""
    rows = [(f"Bed {number}", *cells) for number, cells in enumerate(table)]
    written = {(row[0], name): cell for row in rows
               for name, cell in zip(("pH", "OM", "P", "K", "Zn", "B"), row[1:], strict=True) if cell}
    if len(written) < 2:
        return
    path = write_pdf(tmp_path_factory.mktemp("pdf") / "a.pdf", [page_of(rows, width=width)])
    try:
        reading = read_report(path)
    except ReadError:
        return
    for key, row in {(row.bed, row.analyte): row for row in reading.results.itertuples()}.items():
        assert row.reported_value == written[key]


def test_a_page_without_letters(tmp_path):
    """A picture of a report is said to be one, with what to do."""
    with pytest.raises(ReadError, match=r"picture of a report.*Ask the laboratory"):
        read_report(write_pdf(tmp_path / "scan.pdf", [[]]))


def test_a_broken_pdf(tmp_path):
    """A file cut short gives a clear error."""
    path = write_pdf(tmp_path / "a.pdf", [page_of(ROWS)])
    path.write_bytes(b"%PDF-1.4\n1 0 obj\n")
    with pytest.raises(ReadError, match=r"a\.pdf"):
        read_report(path)
