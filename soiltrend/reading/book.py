"""Workbooks (.xlsx) as grids, one for each sheet, with cells as the sheet shows them.

A number keeps all its digits; what its format adds (percent, a sign, a unit in quotes,
leading zeros) is added to the text, because the reader of the sheet sees it too.
"""

from __future__ import annotations

import datetime
import html
import io
import re
import warnings
import zipfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
from openpyxl.utils.cell import range_boundaries

from soiltrend import limits
from soiltrend.errors import ReadError, SoiltrendError
from soiltrend.reading.grid import Grid, of_rows

DRESSED = re.compile(r'(?:"([^"]*)"|\\?([<>≤≥~]))?\s*([#0,.?]+(?:E[+-]0+)?%?)\s*(?:"([^"]*)")?')
ZEROS = re.compile(r"0{2,}")
LIKE_THOUSANDS = re.compile(r"[1-9][0-9]{0,2}\.[0-9]{3}")
LONGEST_SHEET = 1_048_576
"""Rows of a sheet: what a range of whole columns spans (ECMA-376)."""

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


RANGE = re.compile(r"<(?:\w+:)?(?:mergeCell|hyperlink)\s[^>]*?\bref\s*=\s*[\"']([^\"'>]*)")
"""Ranges of a sheet that the library writes out cell by cell when it opens a workbook."""


def _harmless(archive: zipfile.ZipFile, *, file: str) -> None:
    """Refuse a workbook with entities, or whose merged or linked ranges span more than a limit.

    Such ranges need not hold a cell, and a few bytes are enough to span a whole sheet.
    """
    cells = 0
    for name in (name for name in archive.namelist() if name.endswith(".xml")):
        raw = archive.read(name)
        double = raw[:2] in (b"\xff\xfe", b"\xfe\xff")
        text = raw.decode("utf-16" if double else "utf-8", errors="replace")
        if "<!" in text and re.search(r"<!(DOCTYPE|ENTITY)", text):
            raise ReadError(f"its part '{name}' defines entities or a document type and is refused",
                            file=file, remedy="A laboratory's file needs none; do not trust it.")
        for ref in RANGE.findall(text):
            left, top, right, bottom = range_boundaries(html.unescape(ref))
            wide = right - left + 1 if left and right else limits.COLUMNS
            cells += wide * (bottom - top + 1 if top and bottom else LONGEST_SHEET)
            limits.area(cells, 1, file=file, sheet="")


def _filled(sheet: Any) -> list[Any]:
    """Return the cells of a sheet that hold something; walking the sheet could take for ever."""
    return [cell for cell in sheet._cells.values() if cell.value is not None]


def covered(
    areas: Iterable[tuple[int, int, int, int]], rows: list[list[str]], *, file: str, sheet: str
) -> dict[tuple[int, int], str]:
    """Return the cells that merged ranges cover, with the text of their first cell.

    Parameters
    ----------
    areas : iterable of (top, bottom, left, right)
        From 0, the ends left out. What reaches beyond the rows is of no use and is cut.
    rows : list of list of str
        The cells of the sheet.
    file, sheet : str
        Their names.
    """
    out: dict[tuple[int, int], str] = {}
    width = max(map(len, rows), default=0)
    for top, bottom, left, right in areas:
        bottom, right = min(bottom, len(rows)), min(right, width)
        limits.area(len(out) + max(bottom - top, 0) * max(right - left, 0), 1, file=file, sheet=sheet)
        if top < bottom and left < right:
            text = rows[top][left] if left < len(rows[top]) else ""
            out |= {(row, column): text for row in range(top, bottom) for column in range(left, right)}
    return out


def _grid(sheet: Any, formulas: Any, file: str) -> Grid | None:
    """Return the grid of a sheet; a formula that was never calculated is said to be one."""
    cells = [(cell, text_of(cell.value, cell.number_format)) for cell in _filled(sheet)]
    cells += [(cell, FORMULA) for cell in _filled(formulas) if cell.data_type == "f"]
    high = max((cell.row for cell, text in cells if text), default=0)
    wide = max((cell.column for cell, text in cells if text), default=0)
    limits.area(high, wide, file=file, sheet=sheet.title)
    rows = [[""] * wide for _ in range(high)]
    for cell, text in cells:
        if text and not rows[cell.row - 1][cell.column - 1]:
            rows[cell.row - 1][cell.column - 1] = text
    if not rows:
        return None
    areas = [(area.min_row - 1, area.max_row, area.min_col - 1, area.max_col)
             for area in sheet.merged_cells.ranges]
    return Grid(of_rows(rows), np.arange(1, len(rows) + 1), where=f"sheet '{sheet.title}', cell ",
                lettered=True, typed=True, merged=covered(areas, rows, file=file, sheet=sheet.title))


def read(path: Path) -> tuple[list[Grid], list[str]]:
    """Return a grid for each sheet that holds anything, and what was noticed about the file.

    Raises
    ------
    ReadError
        When the file is no workbook that can be opened, or is empty.
    """
    raw = limits.contents(path, most=limits.WORKBOOK_BYTES)
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            limits.unpacked(archive, file=path.name)
            _harmless(archive, file=path.name)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of styles and forms that a reader of values does not need
            book = openpyxl.load_workbook(io.BytesIO(raw), data_only=True)
            formulas = openpyxl.load_workbook(io.BytesIO(raw))
    except SoiltrendError:
        raise
    except Exception as error:  # the library fails on a broken workbook in more ways than can be listed
        raise ReadError(f"the workbook cannot be opened ({str(error).partition(chr(10))[0]})", file=path.name,
                        remedy="Open it in a spreadsheet program and save it again as .xlsx.") from error
    pairs = [(sheet, formulas[sheet.title]) for sheet in book.worksheets]
    grids = [grid for sheet, twin in pairs if (grid := _grid(sheet, twin, path.name))]
    hidden = [sheet.title for sheet in book.worksheets if sheet.sheet_state != "visible"]
    if not grids:
        raise ReadError("the workbook holds no cells", file=path.name,
                        remedy="Ask the laboratory to send it again.")
    return grids, [f"the sheet '{title}' is hidden and was read all the same" for title in hidden]
