"""What stands around and under the headers of a grid: units, methods, data, remarks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from soiltrend import vocabulary
from soiltrend.reading import cells, headers, meaning, roles
from soiltrend.reading.answers import Answers
from soiltrend.reading.grid import Grid
from soiltrend.reading.headers import LONG, WIDE, Header, roles_of

MOST_WORDS = 2
"""Words under headings of measurements that make a row no sample when numbers are no more."""

APART = 0.25
"""Share of the value columns up to which a row after a gap is no sample of the table."""

LONGEST_LABEL = 60
"""Longest text before a colon that may name what stands behind it."""

IDENTITY = ("sample", "lab number", "reference", "bed", "farm", "part", "sampled", "date", "received",
            "reported", "year", "season", "depth", "top", "bottom", "lab", "report", "note", "context")

TOLD = tuple(role for role in IDENTITY if role not in ("note", "context"))
"""What a row of a turned table may tell of each of its samples."""


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
    named : set of str
        Methods that remarks name for the whole table, and "".
    remarks : list of str
        Lines that are no data.
    problems : dict
        Row to the reason why it is no sample.
    advice : set of int
        Columns that stand under a group of advice.
    told : list of int
        Rows of a turned table that tell of its samples: their beds, days, layers.
    places : array of str, optional
        The place of each row's value, where a row was made of a cell.
    header : int
        The last row of its headings, -1 when it has none.
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
    named: set[str] = field(default_factory=set)
    remarks: list[str] = field(default_factory=list)
    problems: dict[int, str] = field(default_factory=dict)
    advice: set[int] = field(default_factory=set)
    told: list[int] = field(default_factory=list)
    places: np.ndarray | None = None
    header: int = -1
    first: int = 0

    @property
    def method(self) -> str:
        """The method named for the whole table, empty when there is none or more than one."""
        named = self.named - {""}
        return next(iter(named)) if len(named) == 1 else ""

    def others(self) -> list[int]:
        """Return the columns with a heading that have no role."""
        return [i for i, head in enumerate(self.heads) if head and not roles.of_heading(head)]


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


def _keep(table: Table, index: int, row: Sequence[str], *, into: dict[int, str]) -> None:
    """Keep the cells of a row of units or methods under their columns, if none of them has moved."""
    widths = table.grid.widths
    if widths is not None and table.header >= 0 and widths[index] != widths[table.header]:
        table.remarks.append(f"not used, for it has {widths[index]} cells under {widths[table.header]}: "
                             + " | ".join(filter(None, row)))
        return
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
    """Keep a row that is no data: what it says, the method it names for all, its words."""
    filled = list(dict.fromkeys(text for text in row if text and roles.of_row(text) != "comment"))
    if len(filled) == 1:
        table.named.add(meaning.split_unit(filled[0])[1])
    read_line(filled, table.meta)
    table.named.add(vocabulary.find_method(table.meta.get("method", "")))
    if filled:
        table.remarks.append(" | ".join(filled))


def _tells_of_samples(table: Table, row: Sequence[str]) -> bool:
    """Return whether a row of a turned table tells of each sample: its bed, its day, its layer."""
    if table.kind != headers.ACROSS or roles.of_heading(row[table.roles["analyte"]]) not in TOLD:
        return False
    samples = table.others()
    filled = [row[at] for at in samples if row[at]]
    return len(filled) >= min(len(samples), 2) > 0 and not any(map(roles.of_heading, filled))


def _values_in(table: Table) -> list[int]:
    """Return the columns in which values stand."""
    return [table.roles["value"]] if table.kind == LONG else table.others()


def _judge(table: Table, row: Sequence[str], columns: Sequence[int], *, gap: bool) -> str:
    """Return what a row under a header is: blank, told, units, method, remark, data, aside, or other."""
    if not any(row):
        return "blank"
    if _tells_of_samples(table, row):
        return "told"
    mark = _mark(row)
    if mark == "comment":
        return "remark"
    figures = sum(cells.is_value(row[i]) for i in columns if i < len(row))
    if mark in ("units", "method") and not figures:
        return mark
    if mark in ("summary", "limits") and figures and table.kind == WIDE:
        return "aside"
    if gap and figures and len(columns) > 3 and figures <= APART * len(columns):
        return "aside"
    if table.kind == WIDE and figures and _words(table, row, columns) >= max(figures, MOST_WORDS):
        return "aside"
    return "data" if figures else "other"


def _words(table: Table, row: Sequence[str], columns: Sequence[int]) -> int:
    """Return how many words a row holds under headings of measurements.

    A text that comes again, such as "not enough soil", says the same of each and counts once;
    a rating does not.
    """
    texts = [row[i] for i in columns if i < len(row) and meaning.read_heading(table.heads[i]).analyte
             and cells.read(row[i]).kind == "text"]
    rated = [text for text in texts if roles.of_mark(text) == "rating"]
    return len(rated) + len({text.casefold() for text in texts} - {text.casefold() for text in rated})


def _why_aside(row: Sequence[str]) -> str:
    mark = roles.of_row(_first(row))
    words = {"summary": "sums up other rows", "limits": "holds limits or controls"}
    return f"its row, '{_first(row)}', {words.get(mark, 'stands apart or holds words')} and is no sample"


def _sort_rows(table: Table, start: int, end: int) -> None:
    """Sort the rows from ``start`` to ``end`` into units, methods, data and remarks."""
    columns = _values_in(table)
    examined = min(end, max(headers.examined(table.grid), start))
    sorted_rows: dict[str, list[int]] = {kind: [] for kind in ("data", "aside", "other", "stray", "remark")}
    gap = False
    for index in range(start, examined):
        row = table.grid.row(index)
        data = bool(sorted_rows["data"] or sorted_rows["aside"])
        kind = _judge(table, row, columns, gap=gap and data)
        gap = kind == "blank" or (gap and kind != "data")
        if kind == "other" and not data:
            kind = _second_look(row, columns)
        if kind == "told":
            table.told.append(index)
        elif kind in ("units", "method"):
            _keep(table, index, row, into=table.units if kind == "units" else table.methods)
        elif kind != "blank":
            sorted_rows["stray" if kind == "other" and gap else kind].append(index)
    _file(table, sorted_rows, start=examined, end=end)


def _file(table: Table, found: dict[str, list[int]], *, start: int, end: int) -> None:
    """Keep sorted rows: the data, those set aside with a reason, and what the others say."""
    for index in found["aside"]:
        table.problems[index] = _why_aside(table.grid.row(index))
    data = sorted(found["data"] + found["aside"])
    inside = [index for kind in ("other", "stray") for index in found[kind]
              if _is_data(table, index, data, stray=kind == "stray")]
    looked_at = np.array(sorted([*data, *inside]), dtype=np.int64)
    table.rows = np.concatenate([looked_at, np.arange(start, end)])
    last = end if end == len(table.grid) else data[-1] if data else start
    for index in sorted(found["other"] + found["stray"] + found["remark"]):
        if index not in inside and index <= last:
            _remark(table, table.grid.row(index))


def _second_look(row: Sequence[str], columns: Sequence[int]) -> str:
    """Return what a row without numbers right under a header is: units, method or other."""
    return ("units" if _is_unit_row(row, columns) else "method" if _is_method_row(row, columns) else "other")


def _is_data(table: Table, index: int, data: Sequence[int], *, stray: bool) -> bool:
    """Return whether a row without a number is data all the same.

    It names a sample, holds a text under a heading, and stands among the data or right below.
    """
    row = table.grid.row(index)
    named = any(row[at] for role, at in table.roles.items() if role in IDENTITY)
    told = any(row[at] for at in _values_in(table))
    return bool(data) and data[0] < index and (index < data[-1] or not stray) and named and told


def _above(table: Table, start: int, header: int) -> None:
    """Read the rows above a header: what they say of the table, its units, methods and groups."""
    columns = _values_in(table)
    for index in range(start, header):
        row = headers.filled_row(table.grid, index)
        close = index >= header - 2
        if _tells_of_samples(table, row):
            table.told.append(index)
        elif close and _is_unit_row(row, columns):
            _keep(table, index, _without_titles(table, index, row), into=table.units)
        elif close and _is_method_row(row, columns) and sum(map(bool, row)) > 1:
            _keep(table, index, row, into=table.methods)
        elif close and _is_group_row(row, columns):
            _group(table, row)
        elif any(row):
            _remark(table, table.grid.row(index))


def _without_titles(table: Table, index: int, row: Sequence[str]) -> list[str]:
    """Return a row of units without the words that stand across several columns and are no unit."""
    titles = {at for at, text in enumerate(row) if (index, at) in table.grid.merged
              and not meaning.is_unit(text) and not _is_share(text)}
    return ["" if at in titles else text for at, text in enumerate(row)]


def _is_group_row(row: Sequence[str], columns: Sequence[int]) -> bool:
    """Return whether a row names methods, units or shares of the exchange capacity for columns below."""
    over = [row[at] for at in columns if at < len(row) and row[at]]
    return bool(over) and len(over) == sum(map(bool, row)) and any(
        meaning.is_unit(text) or meaning.split_unit(text)[1] or _is_share(text) or roles.is_advice(text)
        for text in over)


def _is_share(text: str) -> bool:
    return bool(meaning.SHARE.search(text)) and ("%" in text or "percent" in text.casefold())


def _group(table: Table, row: Sequence[str]) -> None:
    """Give the columns under a group's words their unit and method.

    Without a merged range only the column right below is under it; a share of the exchange
    capacity also holds for the ions that follow, which stand in the table a second time.
    """
    share = advice = False
    for at in table.others():
        text = row[at] if at < len(row) else ""
        advice = roles.is_advice(text) if text else advice
        if advice:
            table.advice.add(at)
        share = _is_share(text) if text else share and _ion(table, at)
        unit, method = meaning.split_unit(text)
        if share:
            table.units[at] = "% of CEC"
        elif text and meaning.is_unit(text):
            table.units.setdefault(at, unit)
        if text and method:
            table.methods.setdefault(at, method)
    table.remarks.append(" | ".join(dict.fromkeys(filter(None, row))))


def _ion(table: Table, at: int) -> bool:
    """Return whether a column is an ion that an earlier column holds too."""
    analyte = meaning.read_heading(table.heads[at]).analyte
    earlier = [meaning.read_heading(head).analyte for head in table.heads[:at]]
    return analyte in meaning.SHARES and (analyte in earlier or analyte == "acidity")


def _table(grid: Grid, header: Header) -> Table:
    return Table(grid, header.kind, list(header.heads), roles_of(header.heads), header=header.end - 1)


INHERITED = ("lab", "report", "reported", "received", "sampled", "date", "season", "year")
"""What a line above one table says of the tables below it too."""


def find(grid: Grid, answers: Answers) -> list[Table]:
    """Return the tables of a grid, in their order.

    Parameters
    ----------
    grid : Grid
        The cells.
    answers : Answers
        What the grower answered; only ``analytes`` matters here.
    """
    found = headers.find(grid, answers)
    tables: list[Table] = []
    above = 0
    ends = [*(header.start for header in found[1:]), len(grid)]
    for header, end in zip(found, ends, strict=False):
        table = _table(grid, header)
        _above(table, above, header.start)
        _sort_rows(table, header.end, end)
        if _tells_of_samples(table, grid.row(header.end - 1)):
            table.told.append(header.end - 1)
        if tables:
            table.meta = {**{role: text for role, text in tables[-1].meta.items() if role in INHERITED},
                          **table.meta}
        tables.append(table)
        above = int(table.rows[-1]) + 1 if len(table.rows) else header.end
    return tables
