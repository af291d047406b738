"""Tables become a frame of found values: one row for each value, everything still text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from soiltrend.reading import cells, days, faults, layers, meaning, roles
from soiltrend.reading.answers import Answers
from soiltrend.reading.grid import Column, column, constant, merge, reword, stack
from soiltrend.reading.headers import ACROSS, LONG, analyte_of
from soiltrend.reading.layout import Table

FIELDS = ("sample", "bed", "sampled", "season", "depth", "label", "method", "unit", "text", "limit",
          "rating", "lab", "report", "problem", "note")

@dataclass(frozen=True, eq=False)
class Found:
    """Values found in a file, one row each.

    Attributes
    ----------
    columns : dict
        The texts of :data:`FIELDS`.
    place : array of str
        Where in the file each value stands.
    notes : list of str
        What was read and is no value.
    missing : dict
        How often each printed mark for a missing value occurs.
    rows : array of int
        The row of a wide table in which a value stands, -1 where a row is one value.
    typed : bool
        Whether numbers were numbers in the file and not text.
    finished : tuple of str
        The days on which the laboratory issued the report, as texts.
    """

    columns: dict[str, Column]
    place: np.ndarray
    notes: list[str] = field(default_factory=list)
    missing: dict[str, int] = field(default_factory=dict)
    rows: np.ndarray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    typed: bool = False
    finished: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.place)

    def texts(self, name: str) -> np.ndarray:
        """Return a field as an array of text."""
        return self.columns[name].texts()

    def take(self, at: np.ndarray) -> Found:
        """Return some of the values."""
        columns = {name: part.take(at) for name, part in self.columns.items()}
        return replace(self, columns=columns, place=self.place[at], rows=self.rows[at])


def join(parts: Sequence[Found]) -> Found:
    """Return the values of several tables one below the other."""
    if len(parts) == 1:
        return parts[0]
    missing: dict[str, int] = {}
    for part in parts:
        for mark, count in part.missing.items():
            missing[mark] = missing.get(mark, 0) + count
    columns = {name: stack([part.columns[name] for part in parts]) for name in FIELDS}
    place = np.concatenate([part.place for part in parts]) if parts else np.array([], dtype=object)
    rows = np.concatenate([part.rows for part in parts]) if parts else np.zeros(0, dtype=np.int64)
    return Found(columns, place, [note for part in parts for note in part.notes], missing, rows,
                 any(part.typed for part in parts))


def _either(left: Column, right: Column) -> Column:
    return merge(left, right, lambda a, b: a or b)


def _lab_is_number(table: Table) -> bool:
    """Return whether the column headed "Lab" holds the laboratory's numbers and not its name."""
    part = table.grid.columns[table.roles["lab"]].take(table.rows)
    return any(part.words) and all(cells.read(str(text)).kind in ("number", "blank", "missing")
                                   for text in part.words)


def _column(table: Table, role: str) -> Column:
    """Return the column of a role, else what the lines outside the table say, else blanks."""
    at = table.roles.get(role)
    if role == "lab" and at is not None and _lab_is_number(table):
        at = None
    if role == "lab number" and at is None and "lab" in table.roles and _lab_is_number(table):
        at = table.roles["lab"]
    if at is None:
        return constant(table.meta.get(role, ""), len(table.rows))
    return table.grid.columns[at].take(table.rows)


def _without_marks(part: Column) -> Column:
    """Return a column of dates or depths without the marks that stand for no value."""
    return reword(part, ["" if cells.is_missing(word) else word for word in part.words])


def _bed(table: Table) -> Column:
    """Return the bed's name: farm, bed and part as far as the table has them."""
    bed, farm, part = (_column(table, role) for role in ("bed", "farm", "part"))
    if len(farm.words) > 1:
        bed = merge(farm, bed, lambda a, b: f"{a}, {b}" if a and b else b)
    if "part" in table.roles:
        head = table.heads[table.roles["part"]]
        bed = merge(bed, part, lambda a, b: f"{a}, {head} {b}" if a and not cells.is_missing(b) else a)
    return bed


def _sampled(table: Table, notes: list[str]) -> Column:
    """Return the day of sampling; a plain "Date" only when it is not the day of the report."""
    told = _without_marks(_column(table, "sampled"))
    plain = _without_marks(_column(table, "date"))
    if any(told.words) or not any(plain.words):
        return told
    reported = days.read(table.meta.get("reported", "")).day
    dates = {days.read(str(word)).day for word in plain.words if word}
    if reported is not None and dates == {reported}:
        notes.append(f"the day {reported:%Y-%m-%d} is when the laboratory finished, not the day of sampling")
        return told
    return plain


def _season(table: Table) -> Column:
    return merge(_column(table, "season"), _column(table, "year"), days.season_text)


def _depth(table: Table, answers: Answers) -> Column:
    """Return the layer as text, with the unit that its heading or an answer states."""
    if "top" in table.roles and "bottom" in table.roles:
        edges = merge(_column(table, "top"), _column(table, "bottom"),
                      lambda one, two: f"{one}-{two}" if one and two else "")
        return reword(edges, [_as_unit(word, _unit_of(table, "bottom", answers)) for word in edges.words])
    depth = _without_marks(_column(table, "depth"))
    return reword(depth, [_as_unit(word, _unit_of(table, "depth", answers)) for word in depth.words])


def _unit_of(table: Table, role: str, answers: Answers) -> str:
    """Return the unit of length of a depth column: its heading's, its unit row's, an answer."""
    at = table.roles.get(role)
    stated = roles.depth_unit(table.heads[at]) or table.units.get(at, "") if at is not None else ""
    return stated if layers.known_unit(stated) else answers.depth_unit


def _as_unit(text: str, unit: str) -> str:
    """Return a depth with its unit written behind it, when it has none of its own."""
    return f"{text} {unit}" if text and unit and layers.read(text).problem.endswith("has no unit") else text


def _reference_at(table: Table) -> int | None:
    """Return the column headed "Ref" that names the samples: no other does, and it stands before all values.

    Behind them it holds ranges to compare with, and over the table the number of the report.
    """
    at = table.roles.get("reference")
    values = [table.roles["value"]] if "value" in table.roles else table.others()
    named = {"sample", "lab number"} & set(table.roles)
    return at if at is not None and not named and at < min(values, default=0) else None


def _label(table: Table) -> Column:
    """Return the sample's label: by its own column, else the laboratory's number, else a reference."""
    at = _reference_at(table)
    if at is not None:
        return _without_blank(table.grid.columns[at].take(table.rows))
    return _either(_without_blank(_column(table, "sample")), _column(table, "lab number"))


def _shared(table: Table, answers: Answers, notes: list[str]) -> dict[str, Column]:
    """Return the fields that all values of a row share."""
    blank = constant("", len(table.rows))
    return {"sample": _label(table), "bed": _bed(table), "sampled": _sampled(table, notes),
            "season": _season(table), "depth": _depth(table, answers), "lab": _column(table, "lab"),
            "report": _column(table, "report"), "problem": _problems(table), "rating": blank, "limit": blank,
            "note": blank}


def _problems(table: Table) -> Column:
    """Return for every row why its values cannot be used, or a blank."""
    if not table.problems and table.grid.widths is None:
        return constant("", len(table.rows))
    return column(faults.of_rows(table))


def _without_blank(part: Column) -> Column:
    return reword(part, [" ".join(word.split()) for word in part.words])


def _labels(table: Table) -> list[str]:
    """Return a label for every column; the second of two that nothing tells apart bears its number."""
    seen: set[tuple[str, str, str]] = set()
    out = []
    for index, head in enumerate(table.heads):
        told = head, table.units.get(index, ""), table.methods.get(index, "")
        out.append(f"{head} (column {index + 1})" if told in seen else head)
        seen.add(told)
    return out


def _count_marks(part: Column, missing: dict[str, int]) -> None:
    """Count the printed marks for a missing value of a column."""
    counts = np.bincount(part.codes, minlength=len(part.words))
    for word, count in zip(part.words, counts.tolist(), strict=True):
        if word and count and cells.read(word).kind == "missing":
            missing[word] = missing.get(word, 0) + count


def _is_measured(part: Column, head: str, answers: Answers) -> bool:
    """Return whether a column without a role holds values: a known analyte, or mostly numbers."""
    if analyte_of(head, answers) or answers.of("ignore", head):
        return True
    filled = [str(text) for text in part.words if not cells.is_missing(str(text))]
    return not roles.is_name(head) and sum(map(cells.is_value, filled)) * 2 > len(filled)


def _value_rows(part: Column) -> np.ndarray:
    return np.flatnonzero(part.when(not cells.is_missing(str(word)) for word in part.words))


def _of_column(table: Table, at: int, label: str, shared: dict[str, Column],
               missing: dict[str, int]) -> Found:
    """Return the values of one column of a wide table."""
    part = table.grid.columns[at].take(table.rows)
    rows = _value_rows(part)
    _count_marks(part, missing)
    told = table.methods.get(at, "") or (table.method if meaning.takes_extractant(label) else "")
    fields = {name: value.take(rows) for name, value in shared.items()}
    fields |= {"label": constant(label, len(rows)), "unit": constant(table.units.get(at, ""), len(rows)),
               "method": constant(told, len(rows)), "text": part.take(rows)}
    fault = "" if label == table.heads[at] else f"two columns are headed '{table.heads[at]}'"
    fault = "it stands under advice and is no measurement" if at in table.advice else fault
    fields["problem"] = _either(fields["problem"], constant(
        fault if table.heads[at] else "its column has no heading", len(rows)))
    depth = layers.in_heading(label)[1]
    if depth:
        fields["depth"] = constant(depth, len(rows))
    place = table.grid.places(table.rows[rows], at=at, label=label)
    return Found(fields, place, rows=table.rows[rows] + table.first, typed=table.grid.typed)


def _wide(table: Table, answers: Answers) -> Found:
    """Return the values of a table with a column for each analyte."""
    notes: list[str] = []
    missing: dict[str, int] = {}
    shared = _shared(table, answers, notes)
    labels = _labels(table)
    others = table.others()
    taken = [at for at in others
             if _is_measured(table.grid.columns[at].take(table.rows), table.heads[at], answers)]
    rating = {at: other for at in taken if (other := _rating_of(table, at, answers)) is not None}
    taken = [at for at in taken if at not in rating.values()]
    beside = {at: {**shared, "rating": _without_marks(table.grid.columns[other].take(table.rows))}
              for at, other in rating.items()}
    parts = [_of_column(table, at, labels[at] or f"column {at + 1}", beside.get(at, shared), missing)
             for at in sorted([*taken, *faults.headless(table)])]
    notes += _described(table, {*taken, *rating.values()})
    parts = [part for part in parts if len(part)] or parts[:1]
    return replace(join(parts) if parts else _nothing(), notes=notes, missing=missing)


def _rating_of(table: Table, at: int, answers: Answers) -> int | None:
    """Return the column that holds the ratings of a column ("K rating" beside "K ppm"), or None."""
    analyte = analyte_of(table.heads[at], answers)
    mine = [i for i, head in enumerate(table.heads)
            if head and roles.rated(head) and analyte_of(roles.rated(head), answers) == analyte]
    rivals = [i for i in table.others() if analyte_of(table.heads[i], answers) == analyte]
    return mine[0] if analyte and len(mine) == 1 and rivals == [at] else None


def _described(table: Table, taken: set[int]) -> list[str]:
    """Return a note on the filled columns that are neither values nor used to name them."""
    aside = ("", "context", "note", "received", "reported", "reference")
    unused = [i for i, head in enumerate(table.heads)
              if head and i not in {*taken, _reference_at(table)}
              and (roles.of_heading(head) in aside or _spare(table, i))]
    left = [table.heads[i] for i in unused if any(table.grid.columns[i].take(table.rows).words)]
    return [f"read as description and not as values: {', '.join(left)}"] if left else []


def _spare(table: Table, at: int) -> bool:
    """Return whether a column repeats a role that another column already has."""
    role = roles.of_heading(table.heads[at])
    return bool(role) and table.roles[role] != at


def _nothing() -> Found:
    return Found({name: column([]) for name in FIELDS}, np.array([], dtype=object))


def _signed(table: Table, text: Column) -> Column:
    """Return the values with the sign that stands in a column of its own."""
    if "qualifier" not in table.roles:
        return text
    return merge(_column(table, "qualifier"), text,
                  lambda sign, value: f"{sign}{value}" if sign in ("<", ">", "<=", ">=") and value else value)


def _long(table: Table, answers: Answers) -> Found:
    """Return the values of a table with a row for each value."""
    notes: list[str] = []
    missing: dict[str, int] = {}
    fields = _shared(table, answers, notes)
    text = _signed(table, _column(table, "value"))
    _count_marks(text, missing)
    label, method = _column(table, "analyte"), _column(table, "method")
    if table.method and not any(method.words):
        method = reword(label, [table.method if meaning.takes_extractant(str(word)) else ""
                                for word in label.words])
    inside = reword(label, [layers.in_heading(str(word))[1] for word in label.words])
    fields |= {"label": label, "unit": _column(table, "unit"), "method": _without_marks(method), "text": text,
               "rating": _column(table, "rating"), "limit": _column(table, "limit"),
               "depth": _either(inside, fields["depth"])}
    rows = _value_rows(text)
    notes += _described(table, set())
    every = table.grid.places(table.rows, at=table.roles["value"]) if table.places is None else table.places
    place = every[rows]
    return Found({name: fields[name].take(rows) for name in FIELDS}, place, notes, missing,
                 np.full(len(rows), -1), table.grid.typed)


def _across(table: Table, answers: Answers) -> Found:
    """Return the values of a table with a row for each analyte and a column for each sample."""
    return _long(faults.turned(table), answers)


def gather(tables: Sequence[Table], answers: Answers) -> Found:
    """Return every value of the tables of a file."""
    kinds = {LONG: _long, ACROSS: _across}
    parts = [kinds.get(table.kind, _wide)(table, answers) for table in tables]
    issued = [_without_marks(_column(table, "reported")) for table in tables]
    finished = {str(word) for part in issued for word in part.words if word}
    return replace(_last_cell(join(parts) if parts else _nothing(), tables), finished=tuple(sorted(finished)))


def _last_cell(found: Found, tables: Sequence[Table]) -> Found:
    """Set the last value of a file that ends in the middle of a line aside."""
    if not tables or not tables[-1].grid.cut or not len(found):
        return found
    grid = tables[-1].grid
    last, head = len(grid) - 1, len(tables[-1].heads)
    if grid.widths is None or grid.widths[last] >= head:
        return found
    prefix = f"{grid.where}{grid.numbers[last]}"
    hit = pd.Series(found.place).str.match(rf"{prefix}\b").to_numpy()
    texts = np.where(hit, "the file ends in the middle of its line", found.texts("problem"))
    return replace(found, columns={**found.columns, "problem": column(texts)})
