"""Workbooks (.xlsx) as grids, one for each sheet, with cells as the sheet shows them.

A number keeps all its digits; what its format adds (percent, a sign, a unit in quotes,
leading zeros) is added to the text, because the reader of the sheet sees it too.
"""

from __future__ import annotations

import datetime
import re
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl

from soiltrend.errors import ReadError
from soiltrend.reading.grid import Grid, of_rows

DRESSED = re.compile(r'(?:"([^"]*)"|\\?([<>≤≥~]))?\s*([#0,.?]+(?:E[+-]0+)?%?)\s*(?:"([^"]*)")?')
ZEROS = re.compile(r"0{2,}")
LIKE_THOUSANDS = re.compile(r"[1-9][0-9]{0,2}\.[0-9]{3}")
FORMULA = "(a formula without its result)"


def _plain(value: float) -> str:
    """Return a number as text, whole ones without ".0"."""
    return str(int(value)) if float(value).is_integer() and abs(value) < 1e15 else repr(float(value))


def _number(value: float, form: str) -> str:
    """Return a number with what its format adds to it.

    Examples
    --------
    >>> _number(0.035, "0.0%"), _number(0.5, '"<"0.0'), _number(7, "000")
    ('3.5 %', '< 0.5', '007')
    """
    section = form.split(";")[0].strip()
    dressed = DRESSED.fullmatch(section)
    if "%" in re.sub(r'"[^"]*"', "", section):
        return f"{_plain(round(value * 100, 10))} %"
    if ZEROS.fullmatch(section) and float(value).is_integer():
        return _plain(value).zfill(len(section))
    before, sign, _, after = dressed.groups() if dressed else ("", "", "", "")
    parts = [(before or sign or "").strip(), _plain(value), (after or "").strip()]
    return " ".join(part for part in parts if part)


def text_of(value: Any, form: str) -> str:
    """Return a cell's value as the text a reader of the sheet would write down.

    Examples
    --------
    >>> text_of(451.0, "General"), text_of(datetime.datetime(2022, 7, 8), "m/d/yyyy")
    ('451', '2022-07-08')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, (int, float)):
        return _number(value, form)
    if isinstance(value, datetime.datetime):
        return value.isoformat(sep=" ").removesuffix(" 00:00:00")
    text = value.isoformat() if isinstance(value, (datetime.date, datetime.time)) else str(value).strip()
    return f"'{text}" if LIKE_THOUSANDS.fullmatch(text) else text


def _merged(sheet: Any) -> dict[tuple[int, int], str]:
    """Return the cells that merged ranges cover, with the text of their first cell."""
    out = {}
    for area in sheet.merged_cells.ranges:
        first = sheet.cell(area.min_row, area.min_col)
        text = text_of(first.value, first.number_format)
        for row in range(area.min_row - 1, area.max_row):
            for column in range(area.min_col - 1, area.max_col):
                out[row, column] = text
    return out


def _grid(sheet: Any, formulas: Any) -> Grid | None:
    """Return the grid of a sheet; a formula that was never calculated is said to be one."""
    rows = [[text_of(cell.value, cell.number_format) for cell in row] for row in sheet.iter_rows()]
    for line in formulas.iter_rows():
        for cell in line:
            if cell.data_type == "f" and not rows[cell.row - 1][cell.column - 1]:
                rows[cell.row - 1][cell.column - 1] = FORMULA
    if not any(any(row) for row in rows):
        return None
    return Grid(of_rows(rows), np.arange(1, len(rows) + 1), where=f"sheet '{sheet.title}', cell ",
                lettered=True, typed=True, merged=_merged(sheet))


def read(path: Path) -> tuple[list[Grid], list[str]]:
    """Return a grid for each sheet that holds anything, and what was noticed about the file.

    Raises
    ------
    ReadError
        When the file is no workbook that can be opened, or is empty.
    """
    try:
        book = openpyxl.load_workbook(path, data_only=True)
        formulas = openpyxl.load_workbook(path)
    except (zipfile.BadZipFile, KeyError, ValueError, TypeError, OSError, EOFError, SyntaxError) as error:
        raise ReadError(f"the workbook cannot be opened ({error})", file=path.name,
                        remedy="Open it in a spreadsheet program and save it again as .xlsx.") from error
    pairs = [(sheet, formulas[sheet.title]) for sheet in book.worksheets]
    grids = [grid for sheet, twin in pairs if (grid := _grid(sheet, twin))]
    hidden = [sheet.title for sheet in book.worksheets if sheet.sheet_state != "visible"]
    if not grids:
        raise ReadError("the workbook holds no cells", file=path.name,
                        remedy="Ask the laboratory to send it again.")
    return grids, [f"the sheet '{title}' is hidden and was read all the same" for title in hidden]
