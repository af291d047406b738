"""Workbooks with more than one plain table: groups of headings, several tables, several sheets, the old kind.

The old kind is written by xlwt, which the tests bring along.
"""

from __future__ import annotations

import io
import re
from itertools import groupby

import xlwt
from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet
from reports import NO_ORCHARD, Column, Sample
from shapes import Sheet, identity, identity_heads, masthead, packed, put
from story import BEDS

UPPER = tuple(bed.name for bed in BEDS[:4])
SHARES = "Base saturation, %"


def _steps(sheet: Sheet) -> dict[str, list[Sample]]:
    """Return the bags by the steps they come from, as the laboratory knows them."""
    out: dict[str, list[Sample]] = {"Upper steps": [], "Lower steps": [], NO_ORCHARD: []}
    for sample in sheet.samples:
        upper = "Upper steps" if sample.bed in UPPER else "Lower steps"
        out[NO_ORCHARD if sample.printed_bed == NO_ORCHARD else upper].append(sample)
    return {steps: bags for steps, bags in out.items() if bags}


def _group(column: Column) -> str:
    """Return the words that stand over a column and its neighbours."""
    if column.analyte.endswith("saturation"):
        return SHARES
    return f"{column.method}, {column.unit}" if column.unit == "ppm" else "Soil"


def _under_group(column: Column) -> str:
    """Return the heading of a column without what its group says."""
    bare = column.symbol.removesuffix(" sat")
    return f"{bare} {column.unit}".strip() if _group(column) == "Soil" else bare


def _group_row(page: Worksheet, row: int, sheet: Sheet) -> None:
    """Write the groups over the headings, each one cell across its columns."""
    at = len(identity_heads(sheet)) + 1
    for text, members in groupby(sheet.columns, key=_group):
        last = at + len(list(members)) - 1
        page.cell(row, at).value = text
        page.merge_cells(start_row=row, end_row=row, start_column=at, end_column=last)
        at = last + 1


def grouped_xlsx(sheet: Sheet) -> bytes:
    """Lay out one sheet of several tables, one for each of the steps, under two lines of headings."""
    book = Workbook()
    page = book.active
    page.title = "Figures"
    row = masthead(page, sheet.report)
    for steps, bags in _steps(sheet).items():
        page.cell(row, 1).value = steps
        _group_row(page, row + 1, sheet)
        rows = [[*identity_heads(sheet), *map(_under_group, sheet.columns)]]
        rows += [[*identity(sheet, bag), *sheet.row(bag)] for bag in bags]
        for number, texts in enumerate(rows, start=row + 2):
            for at, text in enumerate(texts, start=1):
                put(page, (number, at), text)
        row += len(rows) + 3
    return packed(book)


def xlsx_of_sheets(sheet: Sheet) -> bytes:
    """Lay out a sheet for each of the steps, every one with its block above, headings and a row of units."""
    book = Workbook()
    book.remove(book.active)
    for steps, bags in _steps(sheet).items():
        page = book.create_sheet(steps)
        top = masthead(page, sheet.report)
        heads = identity_heads(sheet)
        rows = [
            [*heads, *(column.symbol for column in sheet.columns)],
            ["" for _ in heads] + [column.unit for column in sheet.columns],
        ]
        rows += [[*identity(sheet, bag), *sheet.row(bag)] for bag in bags]
        for number, texts in enumerate(rows, start=top):
            for at, text in enumerate(texts, start=1):
                put(page, (number, at), text)
    return packed(book)


def old_workbook(sheet: Sheet) -> bytes:
    """Lay out a workbook of the old kind: days and numbers with their own formats, limits as text."""
    book = xlwt.Workbook(encoding="utf-8")
    page = book.add_sheet("Analyses")
    for row, (name, text) in enumerate((("Laboratory", sheet.report.lab), ("Report", sheet.report.number))):
        page.write(row, 0, name)
        page.write(row, 1, text)
    names = [
        f"{c.symbol} ({c.method})" if c.analyte in ("pH", "EC", "acidity") else c.symbol
        for c in sheet.columns
    ]
    for at, (head, unit) in enumerate(
        zip(("Sample name", "Sampling date", *names), ("", "", *(c.unit for c in sheet.columns)), strict=True)
    ):
        page.write(3, at, head)
        page.write(4, at, unit)
    day = xlwt.easyxf(num_format_str="DD.MM.YYYY")
    for row, bag in enumerate(sheet.samples, start=5):
        page.write(row, 0, bag.label)
        page.write(row, 1, bag.day, day)
        for at, text in enumerate(sheet.row(bag), start=2):
            _put_old(page, (row, at), text)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _put_old(page: xlwt.Worksheet, at: tuple[int, int], text: str) -> None:
    """Write a text as a number where it is one, shown with its own decimals; a limit with its comma."""
    if re.fullmatch(r"\d+(\.\d+)?", text):
        decimals = len(text.partition(".")[2])
        form = "0." + "0" * decimals if decimals else "0"
        page.write(*at, float(text), xlwt.easyxf(num_format_str=form))
    elif text:
        page.write(*at, text.replace(".", ","))
