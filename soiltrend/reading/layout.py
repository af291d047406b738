"""Where the tables of a grid are: header, rows of units and methods, data, remarks.

A row is a header when its words name roles (``tables/columns.csv``) and analytes
(``tables/analytes.csv``), not because it stands in a certain place.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from soiltrend import vocabulary
from soiltrend.reading import cells, meaning, roles
from soiltrend.reading.answers import Answers
from soiltrend.reading.grid import Grid

EXAMINED = 5000
"""Rows up to which every row of a grid is looked at; in a longer one only the first
:data:`HEAD` and everything below is data."""

HEAD = 250

FEWEST_NAMED = 0.2
"""Share of a header's cells that must name a role or an analyte."""

APART = 0.25
"""Share of the value columns below which a row after a gap is no sample of the table."""

LOOKED_BELOW = 20
LONGEST_LABEL = 60
"""Longest text before a colon that may name what stands behind it."""

WIDE, LONG, ACROSS = "wide", "long", "across"
IDENTITY = ("sample", "lab number", "bed", "farm", "part", "sampled", "date", "received", "reported", "year",
            "season", "depth", "top", "bottom", "lab", "report", "note", "context")


@dataclass(eq=False)
class Table:
    """A table found in a grid.

    Attributes
    ----------
    grid : Grid
        Where it stands.
    kind : str
        "wide" (a column is an analyte), "long" (a row is a value), "across" (a row is an
        analyte, a column a sample).
    heads : list of str
        The heading of each column.
    roles : dict
        Role to column; the first column of each role.
    units, methods : dict
        Column to the text of its cell in a row of units or methods.
    rows : array of int
        Rows of data.
    meta : dict
        What lines outside the table say: role to text.
    method : str
        A method that a remark names for the whole table.
    remarks : list of str
        Lines that are no data.
    problems : dict
        Row to the reason why it is no sample.
    places : array of str, optional
        The place of each row's value, where a row was made of a cell.
    first : int
        A number that, added to a row, makes it differ from all rows of the file's other grids.
    """

    grid: Grid
    kind: str
    heads: list[str]
    roles: dict[str, int]
    units: dict[int, str] = field(default_factory=dict)
    methods: dict[int, str] = field(default_factory=dict)
    rows: np.ndarray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    meta: dict[str, str] = field(default_factory=dict)
    method: str = ""
    remarks: list[str] = field(default_factory=list)
    problems: dict[int, str] = field(default_factory=dict)
    places: np.ndarray | None = None
    first: int = 0

    def others(self) -> list[int]:
        """Return the columns with a heading that have no role."""
        return [i for i, head in enumerate(self.heads) if head and not roles.of_heading(head)]


def analyte_of(text: str, answers: Answers) -> str:
    """Return the analyte a heading names, by answer or by vocabulary."""
    return answers.of("analytes", text) or meaning.read_heading(text).analyte


def header_kind(row: Sequence[str], answers: Answers) -> str:
    """Return the kind of table a row is the header of, or empty when it is none.

    Examples
    --------
    >>> header_kind(["Sample", "pH", "K ppm"], Answers())
    'wide'
    >>> header_kind(["Sample", "Test", "Result", "Unit"], Answers())
    'long'
    >>> header_kind(["East", "6.4", "120"], Answers())
    ''
    """
    filled = [text for text in row if text]
    named = {role for text in filled if (role := roles.of_heading(text))}
    known = {text for text in filled if not roles.of_heading(text) and analyte_of(text, answers)}
    figures = sum(cells.read(text).kind == "number" for text in filled)
    score = len(named) + len(known)
    if "analyte" in named and "value" not in named and len(filled) > len(named):
        return ACROSS
    if len(filled) < 2 or figures * 3 > score or score < FEWEST_NAMED * len(filled):
        return ""
    if "analyte" in named and "value" in named:
        return LONG
    return WIDE if (known and named) or len(known) > 2 else ""


def _examined(grid: Grid) -> int:
    return len(grid) if len(grid) <= EXAMINED else HEAD


def _first(row: Sequence[str]) -> str:
    return next((text for text in row if text), "")


def _mark(row: Sequence[str]) -> str:
    """Return what the first words of a row make of it."""
    leading = [text for text in row[:2] if text] or [_first(row)]
    return next((mark for text in leading if (mark := roles.of_row(text))), "")


def _is_unit_row(row: Sequence[str], columns: Sequence[int]) -> bool:
    """Return whether most filled cells of the value columns are units and none is a number."""
    filled = [row[i] for i in columns if i < len(row) and row[i] and not cells.is_missing(row[i])]
    fitting = sum(meaning.is_unit(text) for text in filled)
    figures = any(cells.read(text).kind == "number" for text in filled)
    return bool(filled) and not figures and fitting * 2 > len(filled)


def _is_method_row(row: Sequence[str], columns: Sequence[int]) -> bool:
    """Return whether every filled cell of the value columns is a method."""
    filled = [row[i] for i in columns if i < len(row) and row[i]]
    named = [text for text in filled if meaning.split_unit(text)[1]]
    return bool(filled) and len(named) == len(filled) and all(not meaning.split_unit(t)[0] for t in filled)


def _keep(table: Table, row: Sequence[str], *, into: dict[int, str]) -> None:
    """Keep the cells of a row of units or methods under their columns."""
    for index, text in enumerate(row[: len(table.heads)]):
        if text and not (index < 2 and roles.of_row(text)):
            into[index] = text


def _say(meta: dict[str, str], name: str, value: str) -> bool:
    role = roles.of_heading(name)
    if not role or not value:
        return False
    meta.setdefault(role, value)
    return True


def read_line(row: Sequence[str], meta: dict[str, str]) -> None:
    """Keep what a line outside a table says in the form "name: value" or in two cells.

    Examples
    --------
    >>> meta = {}
    >>> read_line(["Lab: Hill Laboratory", "", "Report no", "A-17"], meta)
    >>> meta
    {'lab': 'Hill Laboratory', 'report': 'A-17'}
    """
    filled = [text for text in row if text]
    skip = False
    for index, text in enumerate(filled):
        name, colon, value = text.partition(":")
        after = filled[index + 1] if index + 1 < len(filled) else ""
        if skip or len(name) > LONGEST_LABEL:
            skip = False
        elif colon and value.strip():
            _say(meta, name, value.strip())
        elif not roles.of_heading(after):
            skip = _say(meta, name, after)


def _remark(table: Table, row: Sequence[str]) -> None:
    """Keep a row that is no data: what it says, the method it names, its words."""
    filled = [text for text in row if text and roles.of_row(text) != "comment"]
    for text in filled:
        known = meaning.split_unit(text)[1]
        table.method = table.method or known
    read_line(filled, table.meta)
    table.method = table.method or vocabulary.find_method(table.meta.get("method", ""))
    if filled:
        table.remarks.append(" | ".join(dict.fromkeys(filled)))


def _roles(heads: Sequence[str]) -> dict[str, int]:
    found: dict[str, int] = {}
    for index, head in enumerate(heads):
        role = roles.of_heading(head)
        if role:
            found.setdefault(role, index)
    return found


def _values_in(table: Table) -> list[int]:
    """Return the columns in which values stand."""
    return [table.roles["value"]] if table.kind == LONG else table.others()


def _judge(table: Table, row: Sequence[str], columns: Sequence[int], *, gap: bool) -> str:
    """Return what a row under a header is: blank, units, method, remark, data, aside, or other."""
    if not any(row):
        return "blank"
    mark = _mark(row)
    if mark == "comment":
        return "remark"
    figures = sum(cells.is_value(row[i]) for i in columns if i < len(row))
    if mark in ("units", "method") and not figures:
        return mark
    if mark in ("summary", "limits") and figures and table.kind == WIDE:
        return "aside"
    if gap and figures and len(columns) > 3 and figures < APART * len(columns):
        return "aside"
    return "data" if figures else "other"


def _why_aside(row: Sequence[str]) -> str:
    mark = roles.of_row(_first(row))
    words = {"summary": "sums up other rows", "limits": "holds limits or controls"}
    return f"its row, '{_first(row)}', {words.get(mark, 'stands apart from the table')} and is no sample"


def _sort_rows(table: Table, start: int, end: int) -> None:
    """Sort the rows from ``start`` to ``end`` into units, methods, data and remarks."""
    columns = _values_in(table)
    examined = min(end, max(_examined(table.grid), start))
    data: list[int] = []
    others: list[int] = []
    stray: list[int] = []
    gap = False
    for index in range(start, examined):
        row = table.grid.row(index)
        kind = _judge(table, row, columns, gap=gap and bool(data))
        gap = kind == "blank" or (gap and kind != "data")
        if kind == "other" and not data:
            kind = _second_look(row, columns)
        if kind in ("data", "aside"):
            data.append(index)
            if kind == "aside":
                table.problems[index] = _why_aside(row)
        elif kind in ("units", "method"):
            _keep(table, row, into=table.units if kind == "units" else table.methods)
        elif kind == "other":
            others.append(index)
            stray += [index] * gap
        elif kind == "remark":
            _remark(table, row)
    data += _between(table, others, data, stray)
    table.rows = np.array([*sorted(data), *range(examined, end)], dtype=np.int64)


def _second_look(row: Sequence[str], columns: Sequence[int]) -> str:
    """Return what a row without numbers right under a header is: units, method or other."""
    return ("units" if _is_unit_row(row, columns) else "method" if _is_method_row(row, columns) else "other")


def _between(table: Table, others: Sequence[int], data: Sequence[int], stray: Sequence[int]) -> list[int]:
    """Return the rows without a number that are data all the same; the rest are remarks.

    They name a sample, hold a text under a heading, and stand among the data or right below.
    """
    inside = []
    for index in others:
        row = table.grid.row(index)
        named = any(row[i] for role, i in table.roles.items() if role in IDENTITY)
        told = any(row[i] for i in _values_in(table))
        beneath = bool(data) and data[0] < index and (index < data[-1] or index not in stray)
        if beneath and named and told:
            inside.append(index)
        else:
            _remark(table, row)
    return inside


def _above(table: Table, start: int, header: int) -> None:
    """Read the rows above a header: what they say of the table, its units and methods."""
    columns = _values_in(table)
    for index in range(start, header):
        row = table.grid.row(index)
        if _is_unit_row(row, columns) and index >= header - 2:
            _keep(table, row, into=table.units)
        elif _is_method_row(row, columns) and index >= header - 2 and sum(map(bool, row)) > 1:
            _keep(table, row, into=table.methods)
        elif any(row):
            _remark(table, row)


def _names_analytes(grid: Grid, header: int, answers: Answers) -> bool:
    """Return whether the rows under the header of a turned table begin with analytes."""
    at = _roles(grid.row(header))["analyte"]
    beneath = [grid.row(index)[at] for index in range(header + 1, min(header + 1 + LOOKED_BELOW, len(grid)))]
    return any(analyte_of(text, answers) for text in beneath if text)


def _headers(grid: Grid, answers: Answers) -> list[tuple[int, str]]:
    """Return (row, kind) of every header; in a long table only after a blank row or for a like one."""
    found: list[tuple[int, str]] = []
    for index in range(_examined(grid)):
        kind = header_kind(grid.row(index), answers)
        if kind == ACROSS and not _names_analytes(grid, index, answers):
            kind = ""
        inside_long = bool(found) and found[-1][1] == LONG and kind != LONG and any(grid.row(index - 1))
        if kind and not inside_long:
            found.append((index, kind))
    return found


def find(grid: Grid, answers: Answers) -> list[Table]:
    """Return the tables of a grid, in their order.

    Parameters
    ----------
    grid : Grid
        The cells.
    answers : Answers
        What the grower answered; only ``analytes`` matters here.
    """
    headers = _headers(grid, answers)
    tables: list[Table] = []
    above = 0
    ends = [*(row for row, _ in headers[1:]), len(grid)]
    for (header, kind), end in zip(headers, ends, strict=False):
        heads = [re.sub(r"\s+", " ", text) for text in grid.row(header)]
        table = Table(grid, kind, heads, _roles(heads))
        _above(table, above, header)
        _sort_rows(table, header + 1, end)
        tables.append(table)
        above = int(table.rows[-1]) + 1 if len(table.rows) else header + 1
    return tables
