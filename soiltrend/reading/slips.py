"""One-sample sheets without headings: a label, its value, a unit and a rating in a row."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from soiltrend.reading import cells, meaning, roles
from soiltrend.reading.answers import Answers
from soiltrend.reading.grid import Grid
from soiltrend.reading.headers import LONG, analyte_of, examined
from soiltrend.reading.layout import Table, read_line

FEWEST = 3
"""Rows of label and value that make a sheet."""


def _pairs(grid: Grid, answers: Answers) -> dict[tuple[int, int], list[int]]:
    """Return the rows in which a label stands in one column and its value in the next filled one."""
    found: dict[tuple[int, int], list[int]] = {}
    for index in range(examined(grid)):
        row = grid.row(index)
        for at, text in enumerate(row):
            after = next((i for i in range(at + 1, len(row)) if row[i]), None)
            if after is not None and text and cells.is_value(row[after]) and analyte_of(text, answers):
                found.setdefault((at, after), []).append(index)
    return {columns: rows for columns, rows in found.items() if len(rows) >= FEWEST}


def _column(grid: Grid, rows: Sequence[int], columns: range, fits: Callable[[str], bool]) -> int | None:
    """Return the first of some columns in which most filled cells fit, or None."""
    for at in columns:
        filled = [text for index in rows if (text := grid.row(index)[at])]
        if filled and sum(map(fits, filled)) * 2 > len(filled):
            return at
    return None


def _slip(grid: Grid, label: int, value: int, rows: list[int], until: int) -> Table:
    """Return the rows of one block of labels and values as a long table."""
    behind = range(value + 1, until)
    found = {"analyte": label, "value": value}
    unit = _column(grid, rows, behind, meaning.is_unit)
    rating = _column(grid, rows, behind, lambda text: roles.of_mark(text) == "rating")
    found |= {name: at for name, at in (("unit", unit), ("rating", rating)) if at is not None}
    heads = [""] * len(grid.columns)
    for name, at in found.items():
        heads[at] = name
    return Table(grid, LONG, heads, found, rows=np.array(rows))


def _with_rest(grid: Grid, table: Table, until: int) -> list[Table]:
    """Return a block and, set aside, the numbers behind its values that nothing explains."""
    value = table.roles["value"]
    out = [table]
    for at in range(value + 1, until):
        rows = [index for index in table.rows.tolist() if cells.is_value(grid.row(index)[at])]
        if not rows or at in table.roles.values():
            continue
        heads = ["" if i == value else head for i, head in enumerate(table.heads)]
        heads[at] = "value"
        why = {index: f"it stands behind '{grid.row(index)[value]}' and nothing says what it is"
               for index in rows}
        out.append(Table(grid, LONG, heads, {**table.roles, "value": at}, rows=np.array(rows), problems=why))
    return out


def find(grid: Grid, answers: Answers) -> list[Table]:
    """Return a long table for each block of labels and values of a sheet without headings.

    Parameters
    ----------
    grid : Grid
        The cells.
    answers : Answers
        What the grower answered.
    """
    blocks = sorted(_pairs(grid, answers).items())
    ends = [*(columns[0] for columns, _ in blocks[1:]), len(grid.columns)]
    tables = [table for ((label, value), rows), until in zip(blocks, ends, strict=False)
              for table in _with_rest(grid, _slip(grid, label, value, rows, max(until, value + 1)), until)]
    taken = {index for _, rows in blocks for index in rows}
    for index in range(examined(grid)):
        row = grid.row(index)
        if tables and index not in taken and any(row):
            read_line(row, tables[0].meta)
            tables[0].remarks.append(" | ".join(filter(None, row)))
    for table in tables[1:]:
        table.meta = tables[0].meta
    return tables
