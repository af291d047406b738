"""Which rows of a grid are headers: one, two or three rows of words that name what stands below.

A row is a header when its words name roles (``tables/columns.csv``) and analytes
(``tables/analytes.csv``), not because it stands in a certain place. Two or three rows are one
header when more columns are understood together than alone ("Organic" over "matter").
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from soiltrend import vocabulary
from soiltrend.reading import cells, days, meaning, roles
from soiltrend.reading.answers import Answers
from soiltrend.reading.grid import Grid

EXAMINED = 5000
"""Rows up to which every row of a grid is looked at; in a longer one only the first
:data:`HEAD` and everything below is data."""

HEAD = 250
FEWEST_NAMED = 0.2
"""Share of a header's cells that must name a role or an analyte."""

LOOKED_BELOW = 20
MOST_ROWS = 3
WIDE, LONG, ACROSS = "wide", "long", "across"
CORNERS = ("sample", "bed", "lab number")
"""What may stand in the corner of a turned table, over its analytes and beside its samples."""

FEWEST_ANALYTES = 2


@dataclass(frozen=True)
class Header:
    """A header found in a grid.

    Attributes
    ----------
    start, end : int
        Its first row, and the first row below it.
    kind : str
        "wide", "long" or "across".
    heads : tuple of str
        The heading of each column.
    """

    start: int
    end: int
    kind: str
    heads: tuple[str, ...]


def examined(grid: Grid) -> int:
    """Return how many rows of a grid are looked at one by one."""
    return len(grid) if len(grid) <= EXAMINED else HEAD


def analyte_of(text: str, answers: Answers) -> str:
    """Return the analyte a heading names, by answer or by vocabulary."""
    return answers.of("analytes", text) or meaning.read_heading(text).analyte


def kind_of(row: Sequence[str], answers: Answers) -> str:
    """Return the kind of table a row is the header of, or empty when it is none.

    Examples
    --------
    >>> kind_of(["Sample", "pH", "K ppm"], Answers())
    'wide'
    >>> kind_of(["Sample", "Test", "Result", "Unit"], Answers())
    'long'
    >>> kind_of(["East", "6.4", "120"], Answers())
    ''
    """
    filled = [text for text in row if text]
    named = {role for text in filled if (role := roles.of_heading(text))}
    figures = sum(cells.read(text).kind == "number" for text in filled)
    if "analyte" not in named and figures * 3 > len(filled):
        return ""
    known = {text for text in filled if not roles.of_heading(text) and analyte_of(text, answers)}
    score = len(named) + len(known)
    if "analyte" in named and "value" not in named and len(filled) > len(named):
        return ACROSS
    if len(filled) < 2 or figures * 3 > score or score < FEWEST_NAMED * len(filled):
        return ""
    if "analyte" in named and "value" in named:
        return LONG
    return WIDE if (known and named) or len(known) > 2 else ""


def roles_of(heads: Sequence[str]) -> dict[str, int]:
    """Return the first column of each role.

    Examples
    --------
    >>> roles_of(["Sample", "pH", "Bed"])
    {'sample': 0, 'bed': 2}
    """
    found: dict[str, int] = {}
    for index, head in enumerate(heads):
        role = roles.of_heading(head)
        if role:
            found.setdefault(role, index)
    return found


def filled_row(grid: Grid, index: int) -> list[str]:
    """Return the cells of a row, those that a merged range covers filled with its text."""
    row = grid.row(index)
    return [text or grid.merged.get((index, at), "") for at, text in enumerate(row)] if grid.merged else row


def _understood(heads: Sequence[str], answers: Answers) -> int:
    return sum(bool(roles.of_heading(head) or analyte_of(head, answers)) for head in heads if head)


def _wordy(row: Sequence[str]) -> bool:
    """Return whether a row may be part of a header: some words, no numbers, no mark of another row."""
    filled = [text for text in row if text]
    figures = any(cells.read(text).kind == "number" for text in filled)
    told = any(roles.of_heading(text.partition(":")[0]) and text.partition(":")[2].strip() for text in filled)
    return bool(filled) and not figures and not told and roles.of_row(filled[0]) not in (
        "comment", "units", "summary", "limits")


def _joined(rows: Sequence[Sequence[str]]) -> tuple[str, ...]:
    """Return one heading for each column from the words above each other, equal ones once."""
    return tuple(" ".join(" ".join(dict.fromkeys(column)).split()) for column in zip(*rows, strict=True))


def _at(grid: Grid, start: int, answers: Answers) -> Header | None:
    """Return the header that begins in a row, or None; more rows only if they understand more."""
    best: Header | None = None
    most = 0
    rows: list[list[str]] = []
    for end in range(start + 1, min(start + 1 + MOST_ROWS, len(grid) + 1)):
        row = filled_row(grid, end - 1)
        if rows and not (_wordy(rows[0]) and _wordy(row)):
            break
        rows.append(row)
        heads = _joined(rows)
        kind = kind_of(heads, answers)
        understood = _understood(heads, answers) if kind else 0
        if understood > most and (kind != ACROSS or _names_analytes(grid, end, heads, answers)):
            best, most = Header(start, end, kind, heads), understood
    return best


def _names_analytes(grid: Grid, start: int, heads: Sequence[str], answers: Answers) -> bool:
    """Return whether the rows under the header of a turned table begin with analytes."""
    at = roles_of(heads)["analyte"]
    beneath = [grid.row(index)[at] for index in range(start, min(start + LOOKED_BELOW, len(grid)))]
    return any(analyte_of(text, answers) for text in beneath if text)


def _best(grid: Grid, start: int, answers: Answers) -> Header | None:
    """Return the header that begins in a row, or a later one within it that understands as much."""
    header = _at(grid, start, answers)
    while header and header.end > header.start + 1:
        later = [other for row in range(header.start + 1, header.end) if (other := _at(grid, row, answers))]
        best = max(later, key=lambda other: _understood(other.heads, answers), default=None)
        if best is None or _understood(best.heads, answers) < _understood(header.heads, answers):
            return header
        header = best
    return header


def _turned(grid: Grid, start: int, answers: Answers) -> Header | None:
    """Return the header of a turned table whose corner is blank or names the samples, or None.

    Under it the first column must name analytes, and every number must stand under a sample.
    """
    row = filled_row(grid, start)
    beneath = _beneath(grid, start + 1)
    at = min((next(i for i, text in enumerate(line) if text) for line in beneath), default=len(row))
    samples = [i for i in range(at + 1, len(row)) if row[i]]
    role = roles.of_heading(row[at]) if samples else ""
    if len(samples) < 2 or any(row[:at]) or (row[at] and role not in CORNERS):
        return None
    measured = [line for line in beneath if analyte_of(line[at], answers)]
    if any(roles.of_heading(line[at]) == "analyte" for line in beneath):
        return None  # the headings are still to come
    named = sum(bool(line[at] and not roles.of_heading(line[at])) for line in beneath)
    if len(measured) < FEWEST_ANALYTES or len(measured) * 3 < named * 2 \
            or not all(_is_sample(row[i], answers, corner=role) for i in samples) \
            or not _hold_numbers(measured, samples):
        return None
    heads = ["analyte" if i == at else text or _side([line[i] for line in measured]) if i > at else ""
             for i, text in enumerate(row)]
    return Header(start, start + 1, ACROSS, tuple(heads))


def _beneath(grid: Grid, start: int) -> list[list[str]]:
    """Return some rows from ``start`` on, up to the first blank one."""
    out: list[list[str]] = []
    for index in range(start, min(start + LOOKED_BELOW, len(grid))):
        row = grid.row(index)
        if not any(row):
            break
        out.append(row)
    return out


def _is_sample(text: str, answers: Answers, *, corner: str) -> bool:
    """Return whether a text over a column may name a sample; a number only beside a corner that says so."""
    figure = cells.read(text).kind == "number" and not corner
    return not (figure or roles.of_heading(text) or analyte_of(text, answers) or days.read(text).day)


def _hold_numbers(rows: Sequence[Sequence[str]], samples: Sequence[int]) -> bool:
    """Return whether values stand under every sample, mostly so, and nowhere else."""
    for at in range(len(rows[0])):
        filled = [row[at] for row in rows if row[at]]
        values = sum(map(cells.is_value, filled))
        if (values * 2 <= len(filled)) if at in samples else values:
            return False
    return True


def _side(texts: Sequence[str]) -> str:
    """Return the heading that a column without one deserves: unit, method, or none."""
    filled = [text for text in texts if text]
    if not filled:
        return ""
    if all(map(meaning.is_unit, filled)):
        return "unit"
    return "method" if all(map(vocabulary.find_method, filled)) else ""


def find(grid: Grid, answers: Answers) -> list[Header]:
    """Return the headers of a grid; in a long or turned table only after a blank row or for a like one."""
    found: list[Header] = []
    index = 0
    while index < examined(grid):
        header = _best(grid, index, answers)
        if header is None and (not found or not any(grid.row(index - 1))):
            header = _turned(grid, index, answers)
        inside = bool(found) and found[-1].kind != WIDE and header is not None \
            and header.kind != found[-1].kind and any(grid.row(header.start - 1))
        if header and not inside:
            found.append(header)
            index = header.end
        else:
            index += 1
    return found
