"""Rows whose cells may not stand under their headings, and tables turned upright."""

from __future__ import annotations

import numpy as np

from soiltrend.reading import cells, roles
from soiltrend.reading.grid import Grid, column
from soiltrend.reading.headers import LONG, filled_row
from soiltrend.reading.layout import Table

SHORT_ROWS = 0.2
"""Share of rows with fewer cells than headings up to which such a row is a fault and no habit."""


def _beyond(table: Table, from_: int) -> np.ndarray:
    """Return for every row whether it holds anything in columns from ``from_`` on."""
    out = np.zeros(len(table.rows), dtype=bool)
    for part in table.grid.columns[from_:]:
        out |= part.take(table.rows).when(bool(word) for word in part.take(table.rows).words)
    return out


def _misfit(table: Table) -> np.ndarray:
    """Return for every row of a text file whether its cells may have moved.

    A row with more cells than the line of headings has moved. Shorter rows are a habit of
    files that leave blank ends away; one short row among full ones is not, and neither are
    rows that are all short by the same number.
    """
    widths = table.grid.widths
    if widths is None or not len(table.rows) or table.header < 0:
        return np.zeros(len(table.rows), dtype=bool)
    have = widths[table.rows]
    want = max((at + 1 for at, head in enumerate(table.heads) if head), default=0)
    short = have < want
    habit = short.mean() > SHORT_ROWS and len(np.unique(have)) > 1
    return np.asarray(_beyond(table, int(widths[table.header])) | (short & (not habit)))


def of_rows(table: Table) -> np.ndarray:
    """Return for every row of a table why its values cannot be used, or a blank."""
    out = np.full(len(table.rows), "", dtype=object)
    for index in np.flatnonzero(np.isin(table.rows, list(table.problems))).tolist():
        out[index] = table.problems[int(table.rows[index])]
    for index in np.flatnonzero(_misfit(table)).tolist():
        have = int(table.grid.widths[table.rows[index]]) if table.grid.widths is not None else 0
        out[index] = (f"its line has {have} cells and the line of headings does not, so that it cannot be "
                      "seen under which heading each cell belongs")
    return out


def headless(table: Table) -> list[int]:
    """Return columns without a heading in which numbers stand."""
    return [at for at, head in enumerate(table.heads) if not head
            and any(cells.is_value(str(word)) for word in table.grid.columns[at].take(table.rows).words)]


def _is_no_sample(head: str) -> bool:
    return roles.of_row(head) in ("summary", "limits") or roles.is_advice(head)


def _told(table: Table, samples: list[int]) -> dict[str, tuple[str, str, list[str]]]:
    """Return what rows of a turned table tell of its samples: role to (words, unit, a text a sample)."""
    out: dict[str, tuple[str, str, list[str]]] = {}
    for index in table.told:
        row = filled_row(table.grid, index)
        words = row[table.roles["analyte"]]
        unit = row[table.roles["unit"]] if "unit" in table.roles else ""
        out.setdefault(roles.of_heading(words), (words, unit, [row[at] for at in samples]))
    return out


def turned(table: Table) -> Table:
    """Return a table whose rows are analytes as a long table, one row for each cell."""
    grid = table.grid
    samples = sorted([*table.others(), *headless(table)])
    rows = np.repeat(table.rows, len(samples))
    values = np.array([str(grid.row(row)[at]) for row in table.rows.tolist() for at in samples], dtype=object)
    names = [table.heads[at] for at in samples] * len(table.rows)
    kept = {role: at for role, at in table.roles.items() if role not in ("sample", "value")}
    told = _told(table, samples)
    columns = [column(values), column(names), *(grid.columns[at].take(rows) for at in kept.values()),
               *(column(texts * len(table.rows)) for _, _, texts in told.values())]
    heads = ["value", "sample", *(table.heads[at] for at in kept.values()), *(told[role][0] for role in told)]
    fresh = Grid(columns, grid.numbers[rows], where=grid.where, lettered=False, typed=grid.typed)
    found = {"value": 0, "sample": 1, **{role: number for number, role in enumerate((*kept, *told), start=2)}}
    units = {found[role]: unit for role, (_, unit, _) in told.items()}
    cell = [grid.places(table.rows, at=at, label=table.heads[at]) for at in samples]
    places = np.array(cell, dtype=object).T.reshape(-1) if cell else np.array([], dtype=object)
    reasons = np.repeat(of_rows(table), len(samples))
    nameless = np.tile(np.array([not table.heads[at] for at in samples], dtype=bool), len(table.rows))
    reasons = np.where((reasons == "") & nameless, "its column has no heading", reasons)
    sums = np.array([_is_no_sample(table.heads[at]) for at in samples], dtype=bool)
    no_sample = np.tile(sums, len(table.rows))
    reasons = np.where((reasons == "") & no_sample, "its column holds limits, sums or advice, not a sample",
                       reasons)
    return Table(fresh, LONG, heads, found, rows=np.arange(len(rows)), meta=table.meta, named=table.named,
                 units=units, places=places,
                 problems={index: text for index, text in enumerate(reasons) if text})
