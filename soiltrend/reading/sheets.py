"""Older and open workbooks (.xls, .ods) as grids, with what the format of each cell adds.

A file is opened by what it is and not by its name: laboratories save text, and newer
workbooks, under the ending ``.xls``.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Iterable
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element, ParseError

import numpy as np
import xlrd
from defusedxml import DefusedXmlException
from defusedxml import ElementTree as SafeTree

from soiltrend import limits
from soiltrend.errors import ReadError, SoiltrendError
from soiltrend.reading import book, delimited
from soiltrend.reading.grid import Grid, of_rows

Area = tuple[int, int, int, int]
"""Rows from, to and columns from, to of a merged range, the ends left out."""

OLD_WORKBOOK, ZIP = b"\xd0\xcf\x11\xe0", b"PK"
NOTHING = (xlrd.XL_CELL_EMPTY, xlrd.XL_CELL_BLANK)
TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
MOST_REPEATED = 1000
"""Repeats of a blank row or cell in an .ods file that are written out; more only fill the sheet."""

MOST_FILLED = 20_000
"""Repeats of a filled row or cell beyond which an .ods file is taken for hostile."""


def _repeats(element: Element, name: str, *, filled: bool) -> int:
    """Return how often a row or cell is to be written out.

    Raises
    ------
    ValueError
        When something filled is repeated beyond :data:`MOST_FILLED`.
    """
    count = int(element.get(f"{TABLE}{name}", "1"))
    if filled and count > MOST_FILLED:
        raise ValueError(f"a filled cell repeated {count} times")
    return count if filled else min(count, MOST_REPEATED)


def _grid(title: str, rows: list[list[str]], areas: Iterable[Area], file: str) -> Grid:
    limits.area(len(rows), max(map(len, rows), default=0), file=file, sheet=title)
    merged = book.covered(areas, rows, file=file, sheet=title)
    return Grid(of_rows(rows), np.arange(1, len(rows) + 1), where=f"sheet '{title}', cell ", lettered=True,
                typed=True, merged=merged)


def _old_cell(cell: Any, opened: Any) -> str:
    """Return a cell of an .xls sheet as text."""
    if cell.ctype == xlrd.XL_CELL_DATE:
        return book.text_of(xlrd.xldate_as_datetime(cell.value, opened.datemode), "")
    if cell.ctype == xlrd.XL_CELL_ERROR:
        return str(xlrd.error_text_from_code.get(cell.value, "#ERROR"))
    form = opened.format_map[opened.xf_list[cell.xf_index].format_key].format_str
    return book.text_of(bool(cell.value) if cell.ctype == xlrd.XL_CELL_BOOLEAN else cell.value, form)


def _old_sheet(sheet: Any, opened: Any, file: str) -> Grid:
    rows = [[_old_cell(sheet.cell(row, at), opened) if kind not in NOTHING else ""
             for at, kind in enumerate(sheet.row_types(row))] for row in range(sheet.nrows)]
    return _grid(sheet.name, rows, sheet.merged_cells, file)


def _some(grids: list[Grid], file: str) -> list[Grid]:
    """Return the grids that hold anything."""
    filled = [grid for grid in grids if any(any(part.words) for part in grid.columns)]
    if not filled:
        raise ReadError(f"the workbook '{file}' holds no cells", file=file,
                        remedy="Ask the laboratory to send it again.")
    return filled


def read_old(path: Path) -> tuple[list[Grid], list[str]]:
    """Return a grid for each sheet of an .xls workbook.

    Raises
    ------
    ReadError
        When the file cannot be opened, or is a web page under a wrong name.
    """
    raw = limits.contents(path, most=limits.TEXT_BYTES)
    if raw.startswith(ZIP):
        return book.read(path)
    if not raw.startswith(OLD_WORKBOOK):
        if raw.lstrip()[:1] == b"<":
            raise ReadError("the file is a web page and no workbook", file=path.name,
                            remedy="Open it in a spreadsheet program and save it as .xlsx.")
        grids, notes = delimited.read(path)
        return grids, ["the file is a text and no workbook", *notes]
    try:
        opened = xlrd.open_workbook(file_contents=raw, formatting_info=True, logfile=io.StringIO())
        grids = [_old_sheet(sheet, opened, path.name) for sheet in opened.sheets()]
    except SoiltrendError:
        raise
    except Exception as error:  # the library fails on a broken workbook in more ways than can be listed
        raise ReadError(f"the workbook cannot be opened ({error})", file=path.name,
                        remedy="Open it in a spreadsheet program and save it as .xlsx.") from error
    return _some(grids, path.name), []


def _open_cell(cell: Element) -> str:
    """Return a cell of an .ods sheet as text."""
    kind, value = cell.get(f"{OFFICE}value-type", ""), cell.get(f"{OFFICE}value", "")
    if kind == "percentage":
        return book.text_of(float(value), "0%")
    if kind in ("float", "currency"):
        shown = _shown(cell)
        sign = re.match(r"[<>≤≥~]", shown)
        return f"{sign.group() if sign else ''} {book.text_of(float(value), '')}".strip()
    if kind == "date":
        return cell.get(f"{OFFICE}date-value", "").replace("T", " ").removesuffix(" 00:00:00")
    return book.text_of(_shown(cell), "")


def _shown(cell: Element) -> str:
    return "\n".join("".join(part.itertext()) for part in cell if part.tag.endswith("}p")).strip()


def _open_row(row: Element, *, file: str, sheet: str) -> list[str]:
    """Return the cells of an .ods row, repeated ones written out."""
    out: list[str] = []
    for cell in row:
        if cell.tag in (f"{TABLE}table-cell", f"{TABLE}covered-table-cell"):
            text = _open_cell(cell) if cell.tag.endswith("}table-cell") else ""
            out += [text] * _repeats(cell, "number-columns-repeated", filled=bool(text))
            limits.area(1, len(out), file=file, sheet=sheet)
    while out and not out[-1]:
        out.pop()
    return out


def _open_sheet(table: Element, file: str) -> Grid:
    rows: list[list[str]] = []
    areas: list[Area] = []
    title, wide = table.get(f"{TABLE}name", ""), 0
    for row in table.iter(f"{TABLE}table-row"):
        cells = _open_row(row, file=file, sheet=title)
        times = int(row.get(f"{TABLE}number-rows-repeated", "1"))
        wide = max(wide, len(cells))
        areas += _spans(row, len(rows))
        limits.area(len(rows) + (times if cells else 0), wide, file=file, sheet=title)
        rows += [cells] * _repeats(row, "number-rows-repeated", filled=bool(cells))
    while rows and not rows[-1]:
        rows.pop()
    return _grid(title, rows, areas, file)


def _spans(row: Element, number: int) -> list[Area]:
    """Return the merged ranges that begin in a row."""
    out: list[Area] = []
    at = 0
    for cell in row:
        wide = int(cell.get(f"{TABLE}number-columns-spanned", "1"))
        high = int(cell.get(f"{TABLE}number-rows-spanned", "1"))
        if wide > 1 or high > 1:
            out.append((number, number + high, at, at + wide))
        at += int(cell.get(f"{TABLE}number-columns-repeated", "1"))
    return out


def read_open(path: Path) -> tuple[list[Grid], list[str]]:
    """Return a grid for each sheet of an .ods workbook.

    Raises
    ------
    ReadError
        When the file is no OpenDocument workbook, or holds no cells.
    """
    raw = limits.contents(path, most=limits.WORKBOOK_BYTES)
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            limits.unpacked(archive, file=path.name)
            root = SafeTree.fromstring(archive.read("content.xml"), forbid_dtd=True)
        grids = [_open_sheet(table, path.name) for table in root.iter(f"{TABLE}table")]
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, KeyError, ParseError,
            ValueError, DefusedXmlException, OSError, EOFError, LookupError) as error:
        raise ReadError(f"the workbook cannot be opened ({error})", file=path.name,
                        remedy="Open it in a spreadsheet program and save it as .xlsx.") from error
    return _some(grids, path.name), []
