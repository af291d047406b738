"""Plain shapes of the report files: one function a shape, all of the laboratories' own making.

A shape takes a :class:`Sheet` and returns the bytes of one file. Files are the same to the
byte on every run: spreadsheets are packed without compression, with a fixed date inside.
"""

from __future__ import annotations

import csv
import io
import re
import xml.etree.ElementTree as ElementTree
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet
from reports import Column, Report, Sample

PACKED = (2026, 11, 24, 0, 0, 0)
"""The date that every part of a spreadsheet file bears."""


@dataclass(frozen=True)
class Sheet:
    """A report ready to be laid out: its bags, its columns and the text of every cell."""

    report: Report
    samples: tuple[Sample, ...]
    columns: tuple[Column, ...]
    cells: dict[tuple[str, str], str]  # (label, symbol) to text; blank cells are absent
    remarks: tuple[str, ...] = ()

    def row(self, sample: Sample) -> list[str]:
        """Return the texts of one bag in the order of the columns."""
        return [self.cells.get((sample.label, column.symbol), "") for column in self.columns]


def _lines(rows: Iterable[Sequence[str]], delimiter: str = ",", end: str = "\n") -> str:
    text = io.StringIO()
    csv.writer(text, delimiter=delimiter, lineterminator=end).writerows(rows)
    return text.getvalue()


def _heading(column: Column, *, how: bool) -> str:
    """Return a heading with its unit, and with the method where the laboratory states it."""
    method = f" ({column.method})" if how and column.method else ""
    return f"{column.symbol}{method} {column.unit}".strip()


def identity(sheet: Sheet, sample: Sample) -> list[str]:
    """Return a bag's label, its bed and its day, as far as the sheet shows them."""
    layout = sheet.report.layout
    return [
        sample.label,
        *([sample.printed_bed] if layout.get("beds") else []),
        *([sample.day.strftime(layout["dates"])] if "dates" in layout else []),
    ]


def identity_heads(sheet: Sheet) -> list[str]:
    """Return the headings over what :func:`identity` returns."""
    layout = sheet.report.layout
    return ["Sample", *(["Bed"] if layout.get("beds") else []), *(["Sampled"] if "dates" in layout else [])]


def wide_csv(sheet: Sheet) -> bytes:
    """Lay out one line a bag; units, and sometimes methods, in the headings."""
    head = [_heading(column, how=sheet.report.layout.get("how", False)) for column in sheet.columns]
    rows = [[*identity(sheet, sample), *sheet.row(sample)] for sample in sheet.samples]
    return _lines([[*identity_heads(sheet), *head], *rows]).encode()


def wide_csv_unit_row(sheet: Sheet) -> bytes:
    """Lay out one line a bag; the units in a line of their own under the headings."""
    heads = identity_heads(sheet)
    rows = [
        [*heads, *(column.symbol for column in sheet.columns)],
        ["" for _ in heads] + [column.unit for column in sheet.columns],
    ]
    rows += [[*identity(sheet, sample), *sheet.row(sample)] for sample in sheet.samples]
    return _lines(rows).encode()


def semicolon_csv(sheet: Sheet) -> bytes:
    """Lay out one line a bag; semicolons, decimal commas, a unit line, a byte order mark and CRLF."""
    heads = ["Sample name", "Sampling date"]
    names = [
        f"{c.symbol} ({c.method})" if c.analyte in ("pH", "EC", "acidity") else c.symbol
        for c in sheet.columns
    ]
    rows = [[*heads, *names], ["", "", *(column.unit for column in sheet.columns)]]
    rows += [
        [*identity(sheet, sample), *(text.replace(".", ",") for text in sheet.row(sample))]
        for sample in sheet.samples
    ]
    return _lines(rows, ";", "\r\n").encode("utf-8-sig")


def _long_rows(sheet: Sheet) -> list[list[str]]:
    """Return one row a figure: bag, what, how, figure, unit."""
    return [
        [sample.label, column.symbol, column.method, text, column.unit]
        for sample in sheet.samples
        for column, text in zip(sheet.columns, sheet.row(sample), strict=True)
        if text
    ]


def long_csv(sheet: Sheet) -> bytes:
    """Lay out one line a figure, with its method, its unit and the day."""
    day = sheet.report.day.strftime(sheet.report.layout["dates"])
    rows = [[label, day, *rest] for label, *rest in _long_rows(sheet)]
    return _lines([["Sample", "Date sampled", "Determination", "Method", "Result", "Unit"], *rows]).encode()


def across_csv(sheet: Sheet) -> bytes:
    """Lay out one line a determination and one column a bag; beds and days in lines of their own."""
    days = [sample.day.strftime(sheet.report.layout["dates"]) for sample in sheet.samples]
    rows = [
        ["Determination", "Unit", *(sample.label for sample in sheet.samples)],
        ["Bed", "", *(sample.printed_bed for sample in sheet.samples)],
        ["Sampled", "", *days],
    ]
    rows += [
        [column.symbol, column.unit, *(sheet.cells.get((s.label, column.symbol), "") for s in sheet.samples)]
        for column in sheet.columns
    ]
    return _lines(rows).encode()


def put(page: Worksheet, at: tuple[int, int], text: str) -> None:
    """Write a text as a number where it is one, shown with its own decimals."""
    cell = page.cell(*at)
    if re.fullmatch(r"\d+(\.\d+)?", text):
        decimals = len(text.partition(".")[2])
        cell.value = float(text) if decimals else int(text)
        cell.number_format = "0." + "0" * decimals if decimals else "0"
    else:
        cell.value = text or None


def _put_day(page: Worksheet, at: tuple[int, int], day: date) -> None:
    cell = page.cell(*at)
    cell.value = day
    cell.number_format = "dd mmm yyyy"


def masthead(page: Worksheet, report: Report) -> int:
    """Write the block above the table and return the row after it."""
    page.cell(1, 1).value = f"{report.lab} - figures for one garden"
    told = (("Laboratory", report.lab), ("Report number", report.number), ("For", "Merrin, Oxmarrow Steps"))
    for row, (name, text) in enumerate(told, start=2):
        page.cell(row, 1).value, page.cell(row, 2).value = name, text
    for row, (name, day) in enumerate(
        (("Date sampled", report.day), ("Date reported", report.day.replace(day=28))), start=5
    ):
        page.cell(row, 1).value = name
        _put_day(page, (row, 2), day)
    return 8


def wide_xlsx(sheet: Sheet) -> bytes:
    """Lay out a spreadsheet: a block about the report, headings, a row of units, one row a bag, remarks."""
    book = Workbook()
    page = book.active
    page.title = "Figures"
    top = masthead(page, sheet.report)
    heads = identity_heads(sheet)
    rows = [
        [*heads, *(column.symbol for column in sheet.columns)],
        ["" for _ in heads] + [column.unit for column in sheet.columns],
    ]
    rows += [[*identity(sheet, sample), *sheet.row(sample)] for sample in sheet.samples]
    rows += [[], *([remark] for remark in sheet.remarks)]
    for row, texts in enumerate(rows, start=top):
        for column, text in enumerate(texts, start=1):
            put(page, (row, column), text)
    return packed(book)


def long_xlsx(sheet: Sheet) -> bytes:
    """Lay out a spreadsheet with one row a figure, under a block about the report."""
    book = Workbook()
    page = book.active
    page.title = "Figures"
    top = masthead(page, sheet.report)
    rows = [["Sample", "Determination", "Method", "Result", "Unit"], *_long_rows(sheet)]
    for row, texts in enumerate(rows, start=top):
        for column, text in enumerate(texts, start=1):
            put(page, (row, column), text)
    return packed(book)


def packed(book: Workbook) -> bytes:
    """Return a workbook's file without anything that depends on the day or the machine."""
    book.properties.creator = "figures desk"
    book.properties.created = datetime(*PACKED)
    raw, out = io.BytesIO(), io.BytesIO()
    book.save(raw)
    with zipfile.ZipFile(raw) as packed, zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as fixed:
        for name in sorted(packed.namelist(), key=lambda part: (part != "[Content_Types].xml", part)):
            part = ElementTree.canonicalize(packed.read(name).decode("utf-8"))
            if name == "docProps/core.xml":
                part = re.sub(r"(<dcterms:modified[^>]*>)[^<]*", r"\g<1>2026-11-24T00:00:00Z", part)
            info = zipfile.ZipInfo(name, PACKED)
            info.external_attr, info.create_system = 0o644 << 16, 3
            fixed.writestr(info, part.encode("utf-8"))
    return out.getvalue()
