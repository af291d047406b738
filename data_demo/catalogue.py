"""Every shape a report may come in: its name, the ending of its file and the function that lays it out."""

from __future__ import annotations

from collections.abc import Callable

import modus_files
import pages
import shapes
import workbooks
from shapes import Sheet

SHAPES: dict[str, tuple[str, Callable[[Sheet], bytes]]] = {
    "wide csv": (".csv", shapes.wide_csv),
    "wide csv, unit row": (".csv", shapes.wide_csv_unit_row),
    "semicolon csv": (".csv", shapes.semicolon_csv),
    "long csv": (".csv", shapes.long_csv),
    "across csv": (".csv", shapes.across_csv),
    "wide xlsx": (".xlsx", shapes.wide_xlsx),
    "long xlsx": (".xlsx", shapes.long_xlsx),
    "grouped xlsx": (".xlsx", workbooks.grouped_xlsx),
    "xlsx of sheets": (".xlsx", workbooks.xlsx_of_sheets),
    "old workbook": (".xls", workbooks.old_workbook),
    "pdf": (".pdf", pages.pdf),
    "modus xml": (".xml", modus_files.modus_xml),
    "slim json": (".json", modus_files.slim_json),
}
