"""Tables of one measurement: places across, years or days down (or the other way round).

The measurement, its unit and its layer stand in a title over the table and not in a heading.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from soiltrend.reading import cells, days, layers, meaning
from soiltrend.reading.answers import Answers
from soiltrend.reading.grid import Grid, column
from soiltrend.reading.headers import LONG, analyte_of
from soiltrend.reading.layout import Table

FEWEST_ROWS = 2


def _title(grid: Grid, answers: Answers) -> tuple[int, str] | None:
    """Return (row, text) of the last line with one cell that names a measurement and its unit, or None."""
    found = None
    for index in range(len(grid)):
        filled = [text for text in grid.row(index) if text]
        if any(cells.read(text).kind == "number" for text in filled):
            break
        if len(filled) == 1 and _names_measurement(filled[0], answers):
            found = index, filled[0]
    return found


def _names_measurement(text: str, answers: Answers) -> bool:
    bare = layers.in_heading(text)[0]
    analyte = analyte_of(bare, answers)
    return bool(analyte) and (bool(meaning.read_heading(bare).unit) or analyte == "pH"
                              or bool(answers.of("units", text, analyte)))


def _is_moment(text: str) -> bool:
    moment = days.read(text)
    return moment.day is not None or bool(moment.season)


def _header(grid: Grid, start: int) -> int | None:
    """Return the row of headings: texts over columns in which numbers stand."""
    for index in range(start, len(grid) - 1):
        row, beneath = grid.row(index), grid.row(index + 1)
        over = [text for text, value in zip(row, beneath, strict=True)
                if text and cells.read(value).kind == "number"]
        if over and sum(map(bool, row)) >= len(over) and not any(cells.is_value(t) and not _is_moment(t)
                                                                 for t in over):
            return index
    return None


def _rows(grid: Grid, header: int, columns: Sequence[int]) -> list[int]:
    """Return the rows under a header that hold a value, up to the first that does not."""
    found = []
    for index in range(header + 1, len(grid)):
        row = grid.row(index)
        if not any(cells.is_value(row[at]) for at in columns):
            break
        found.append(index)
    return found


def _label_column(grid: Grid, rows: Sequence[int], columns: Sequence[int]) -> int | None:
    """Return the first column left of the values that is filled in every row."""
    free = [at for at in range(columns[0]) if all(grid.row(row)[at] for row in rows)]
    return free[-1] if free else None


def _long(grid: Grid, title: str, header: int, rows: Sequence[int]) -> Table | None:
    """Return the crossed table as a long one, or None when neither side tells the time."""
    heads = grid.row(header)
    columns = [at for at, text in enumerate(heads) if text and any(cells.is_value(grid.row(row)[at])
                                                                   for row in rows)]
    side = _label_column(grid, rows, columns) if columns else None
    if side is None:
        return None
    columns = [at for at in columns if at != side]
    down = [grid.row(row)[side] for row in rows]
    time_down = all(map(_is_moment, down))
    if not time_down and not all(_is_moment(heads[at]) for at in columns):
        return None
    pairs = [(index, at) for index in range(len(rows)) for at in columns]
    beds = [heads[at] if time_down else down[index] for index, at in pairs]
    times = [down[index] if time_down else heads[at] for index, at in pairs]
    values = [grid.row(rows[index])[at] for index, at in pairs]
    fresh = Grid([column(values), column([title] * len(pairs)), column(beds), column(times)],
                 np.array([grid.numbers[rows[index]] for index, _ in pairs]), where=grid.where,
                 typed=grid.typed)
    places = [str(grid.places(np.array([rows[index]]), at=at, label=heads[at])[0]) for index, at in pairs]
    names = ["value", "analyte", "bed", "sampled"]
    return Table(fresh, LONG, names, {name: i for i, name in enumerate(names)}, rows=np.arange(len(pairs)),
                 places=np.array(places, dtype=object))


def find(grid: Grid, answers: Answers) -> list[Table]:
    """Return the crossed table of a grid in a list, which is empty when there is none.

    Parameters
    ----------
    grid : Grid
        The cells.
    answers : Answers
        What the grower answered.
    """
    title = _title(grid, answers)
    header = _header(grid, title[0] + 1) if title else None
    if title is None or header is None:
        return []
    columns = [at for at, text in enumerate(grid.row(header)) if text]
    rows = _rows(grid, header, columns)
    table = _long(grid, " ".join(title[1].split()), header, rows) if len(rows) >= FEWEST_ROWS else None
    if table is None:
        return []
    outside = [index for index in range(len(grid)) if index not in rows and index not in (header, title[0])]
    table.remarks = [" | ".join(filter(None, grid.row(index))) for index in outside if any(grid.row(index))]
    return [table]
