"""Values written in any plain layout come back exactly, or are set aside; nothing else comes back."""

import csv
import io
import math
import tempfile
from dataclasses import dataclass
from pathlib import Path

import openpyxl
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from soiltrend import frames
from soiltrend.errors import ReadError
from soiltrend.reading import cells, delimited, read_report

ANALYTES = {"pH": "", "K": "mg/kg", "Zn": "ppm", "OM": "%", "CEC": "cmol/kg", "EC": "dS/m", "Na": "mg/kg",
            "B": "mg/kg"}
BEDS = ("Harbour", "Hill", "NA", "None", "null", "3", "Bed 2", "Böschung", "inf", "P", "pH", "0-15")
MISSING = ("", "*", "NA", "-", ".", "ns")
PLACES = st.integers(0, 3)


@dataclass(frozen=True)
class Value:
    """A value to be written: its number, sign and digits after the point."""

    number: float
    sign: str
    places: int

    def text(self, mark):
        return self.sign + f"{self.number:.{self.places}f}".replace(".", mark)


@st.composite
def value(draw, analyte):
    """A value that a soil can have."""
    places = draw(PLACES)
    low, high = (2.0, 11.0) if analyte == "pH" else (0.0, 99.0 if ANALYTES[analyte] == "%" else 20000.0)
    number = round(draw(st.floats(low, high)), places)
    return Value(min(max(number, low), high), draw(st.sampled_from(("", "", "", "<", ">"))), places)


@st.composite
def report(draw):
    """Beds, analytes and the cells between them, some of them missing."""
    beds = draw(st.lists(st.sampled_from(BEDS), min_size=1, max_size=6, unique=True))
    names = draw(st.lists(st.sampled_from(sorted(ANALYTES)), min_size=2, max_size=6, unique=True))
    table = {(bed, name): draw(st.one_of(value(name), value(name), st.sampled_from(MISSING)))
             for bed in beds for name in names}
    return beds, names, table


@st.composite
def layout(draw):
    """How the report is written."""
    separator = draw(st.sampled_from((",", ";", "\t", "|")))
    return {"kind": draw(st.sampled_from(("wide", "long", "turned"))), "separator": separator,
            "mark": draw(st.sampled_from((".", ","))), "unit_row": draw(st.booleans()),
            "encoding": draw(st.sampled_from(("utf-8", "utf-8-sig", "cp1252", "utf-16"))),
            "title": draw(st.booleans()), "crop": draw(st.booleans()), "footer": draw(st.booleans()),
            "book": draw(st.booleans()), "end": draw(st.sampled_from(("\n", "\r\n")))}


def shown(cell, mark):
    return cell.text(mark) if isinstance(cell, Value) else cell


def rows_of(beds, names, table, how):
    """The rows of the report, title and footer included."""
    write = lambda bed, name: shown(table[bed, name], how["mark"])  # noqa: E731
    crop = ["Crop"] if how["crop"] else []
    if how["kind"] == "long":
        rows = [["Bed", *crop, "Analyte", "Result", "Unit"],
                *([bed, *(["beans"] if crop else []), name, write(bed, name), ANALYTES[name]]
                  for bed in beds for name in names)]
    elif how["kind"] == "turned":
        rows = [["Analyte", "Unit", *beds],
                *([name, ANALYTES[name], *(write(bed, name) for bed in beds)] for name in names)]
    elif how["unit_row"]:
        rows = [["Bed", *crop, *names],
                ["UNITS", *([""] if crop else []), *(ANALYTES[n] or "-" for n in names)],
                *([bed, *(["beans"] if crop else []), *(write(bed, n) for n in names)] for bed in beds)]
    else:
        rows = [["Bed", *crop, *(f"{n} {ANALYTES[n]}".strip() for n in names)],
                *([bed, *(["beans"] if crop else []), *(write(bed, n) for n in names)] for bed in beds)]
    width = len(rows[0])
    title = [["Lab: Hill", *[""] * (width - 1)], [""] * width] if how["title"] else []
    footer = [[""] * width, ["Values on dry soil", *[""] * (width - 1)]] if how["footer"] else []
    return [*title, *rows, *footer]


def save(rows, how, folder):
    """Write the rows as a workbook or a text file."""
    if how["book"]:
        book = openpyxl.Workbook()
        for row in rows:
            book.active.append(row)
        book.save(folder / "report.xlsx")
        return folder / "report.xlsx"
    text = io.StringIO()
    csv.writer(text, delimiter=how["separator"], lineterminator=how["end"]).writerows(rows)
    (folder / "report.csv").write_bytes(text.getvalue().encode(how["encoding"]))
    return folder / "report.csv"


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(report(), layout())
def test_written_values_come_back_or_are_set_aside(given_report, how):
    """Every value comes back with its number and sign, or is set aside; none is invented."""
    beds, names, table = given_report
    written = {key: cell for key, cell in table.items() if isinstance(cell, Value)}
    if not written:
        return
    with tempfile.TemporaryDirectory() as folder:
        reading = read_report(save(rows_of(beds, names, table, how), how, Path(folder)))
    frames.check(reading.results)
    assert len(reading.results) + len(reading.set_aside) == len(written)
    back = {(row.bed, row.analyte): row for row in reading.results.itertuples()}
    assert len(back) == len(reading.results)
    for key, row in back.items():
        assert (row.value, row.qualifier) == (written[key].number, written[key].sign)
        assert row.reported_value == written[key].text(how["mark"])
    aside = sorted(reading.set_aside["text"])
    assert aside == sorted(cell.text(how["mark"]) for key, cell in written.items() if key not in back)


PLAIN = st.sampled_from(("pH", "6.4", "6.40", '"a"', '""', " b ", ""))
ODD = st.sampled_from(("pH", '"a,b"', '"', 'x"y', '"x"y', '"\n"', '"a ""b"""'))


@settings(max_examples=400, deadline=None)
@given(st.integers(1, 3).flatmap(lambda width: st.lists(st.lists(PLAIN, min_size=width, max_size=width),
                                                        min_size=1, max_size=4)),
       st.lists(ODD, max_size=3), st.sampled_from(("\n", "\r\n", "\r")), st.booleans())
def test_the_quick_parser_reads_as_the_careful_one_or_steps_aside(rows, odd, end, closed):
    """Whatever cells, quotation marks and line ends a file holds."""
    text = end.join(",".join(row) for row in [*rows, *([odd] if odd else [])]) + end * closed
    quick = delimited._quick(text.encode(), ",", file="a.csv")
    if quick is not None:
        careful = delimited._slow(text, ",", file="a.csv")
        assert [part.texts().tolist() for part in quick.columns] == [
            part.texts().tolist() for part in careful.columns]
        assert quick.numbers.tolist() == careful.numbers.tolist()
        assert len(set(careful.widths)) == 1


def test_the_quick_parser_is_not_asked_in_vain():
    text = 'Bed,"Lab",pH\n"East",b,6.4\nWest,"","6.1"\n'
    assert delimited._quick(text.encode(), ",", file="a.csv").row(2) == ["West", "", "6.1"]


@given(st.floats(0, 1e9, allow_nan=False), PLACES, st.sampled_from(("", ",", " ", "'", "\u00a0")))
def test_grouped_numbers_are_read(number, places, mark):
    """Thousands grouped in any usual way give the number, unless a lone group could be a fraction."""
    text = f"{number:,.{places}f}".replace(",", mark)
    cell = cells.read(text)
    assert cell.kind == "number"
    assert cell.dot == float(f"{number:.{places}f}")
    assert cell.shape != cells.EITHER_COMMA or math.isclose(cell.comma * 1000, cell.dot)


@given(st.text(max_size=12))
def test_no_text_breaks_a_cell(text):
    """Whatever stands in a cell, it is a number, blank, a mark or a text, and a number is finite."""
    cell = cells.read(text)
    assert cell.kind in ("number", "blank", "missing", "not detected", "text")
    assert (cell.kind == "number") == math.isfinite(cell.dot)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(st.sampled_from(
    ("", "pH", "K ppm", "Sample", "Bed", "Date", "6.4", "<0.5", "ND", "UNITS", "mg/kg", "COMMENT", "Analyte",
     "Result", "Unit", "East", "1,5", "3/4/2024", "Mean", "0-15 cm", "Mehlich-3", "*", "Lab: X")), min_size=1,
    max_size=5), min_size=1, max_size=9))
def test_any_shuffle_of_words_is_read_or_refused(rows):
    """Tables that make no sense end in an error of the family or in a valid frame."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.csv"
        path.write_text("\n".join(",".join(f'"{cell}"' for cell in row) for row in rows))
        try:
            reading = read_report(path)
        except ReadError:
            return
    frames.check(reading.results)
    assert set(reading.set_aside["reason"]) & {""} == set()
