"""Text files with a separator (CSV, TSV) as a grid."""

from __future__ import annotations

import csv
import io
import re
import warnings
from pathlib import Path

import numpy as np
import pandas as pd

from soiltrend import limits
from soiltrend.errors import ReadError
from soiltrend.reading import cells, meaning, roles
from soiltrend.reading.grid import Column, Grid, of_rows, reword

SEPARATORS = (",", ";", "\t", "|")
NAMES = {",": "comma", ";": "semicolon", "\t": "tab", "|": "stroke"}
SAMPLE_LINES = 80
SAMPLE_CELLS = 500
HEAD = 1_000_000
"""Letters at most in which the separator is sought."""

LARGE = 1_000_000
"""Letters above which a regular file is read by the quick parser; below, the careful one is as quick."""

MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))


def _encoding(raw: bytes) -> str:
    """Return the encoding of a text file: its mark, UTF-16 without one, UTF-8, else cp1252."""
    for mark, name in MARKS:
        if raw.startswith(mark):
            return name
    head = raw[:2000]
    if head and head.count(0) > len(head) // 4:
        return "utf-16-le" if head[1::2].count(0) > head[::2].count(0) else "utf-16-be"
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def decode(raw: bytes, *, file: str) -> tuple[str, str]:
    """Return the text of a file and its encoding.

    Raises
    ------
    ReadError
        When the bytes are no text.

    Examples
    --------
    >>> decode("Humus 3,5 °".encode("cp1252"), file="a.csv")
    ('Humus 3,5 °', 'cp1252')
    """
    name = _encoding(raw)
    try:
        text = raw.decode(name)
    except UnicodeDecodeError as error:
        raise ReadError(f"the bytes are no text in {name} ({error.reason} at byte {error.start})", file=file,
                        remedy="Open it in a spreadsheet program and save it as CSV in UTF-8.") from error
    if "\x00" in text:
        raise ReadError("the file holds bytes that are no text", file=file,
                        remedy="Give it the ending of its kind, such as .xlsx, .pdf or .csv.")
    return text, name


def _rows(text: str, separator: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True))


def _score(text: str, separator: str) -> tuple[int, int, int]:
    """Return how well a separator parts a text: known headings in one row, numbers, width."""
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator))
    except csv.Error:  # a cell longer than any
        return 0, 0, 0
    known = [sum(bool(roles.of_heading(cell.strip()) or meaning.read_heading(cell.strip()).analyte)
                 for cell in row[:SAMPLE_CELLS]) for row in rows]
    figures = sum(cells.is_value(cell.strip()) for row in rows for cell in row[:SAMPLE_CELLS] if len(row) > 1)
    return max(known, default=0), figures, max((len(row) for row in rows), default=0)


def separator_of(text: str) -> str:
    r"""Return the separator under which the first lines name the most known headings.

    Examples
    --------
    >>> separator_of("Sample;pH;K ppm\nEast;6,4;120\n")
    ';'
    """
    head = "".join(text[:HEAD].splitlines(keepends=True)[:SAMPLE_LINES])
    if head[:4].casefold() == "sep=" and len(head) > 4:
        return head[4]
    unparted = next((_score(head, mark) for mark in SEPARATORS if mark not in head), (0, 0, 0))
    return max(SEPARATORS, key=lambda mark: _score(head, mark) if mark in head else unparted)


def _plainly_quoted(raw: bytes, mark: bytes) -> bool:
    """Return whether every quotation mark opens or closes a whole cell that holds no separator."""
    sign = re.escape(mark)
    cell = re.compile(rb'"(?<![^\n' + sign + rb']")[^"\r\n' + sign + rb']*"(?![^\r\n' + sign + rb'])')
    return raw.count(b'"') == 2 * sum(1 for _ in cell.finditer(raw))


def _quick(raw: bytes, separator: str, *, file: str) -> Grid | None:
    """Return the grid of a large file in UTF-8 whose rows all have the same width, or None."""
    mark = separator.encode()
    lines = raw.count(b"\n") + (not raw.endswith(b"\n"))
    width = raw.count(mark, 0, raw.find(b"\n")) + 1
    limits.area(1, width, file=file, sheet="")
    stray = b"\r" in raw and raw.count(b"\r") != raw.count(b"\r\n")
    if raw.count(mark) != lines * (width - 1) or stray or width < 2 or not _plainly_quoted(raw, mark):
        return None
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            frame = pd.read_csv(io.BytesIO(raw), sep=separator, header=None, names=range(width),
                                dtype="category", na_filter=False, skip_blank_lines=False, index_col=False)
        except (pd.errors.ParserError, pd.errors.ParserWarning, ValueError):
            return None
    parts = [frame[name].array for name in frame]
    if len(frame) != lines or any(part.categories.dtype != "str" for part in parts):
        return None  # a column that is all numbers, its heading too, is no text any more
    return Grid([_column(part) for part in parts], np.arange(1, lines + 1))


def _column(values: pd.Categorical) -> Column:
    words = values.categories.to_numpy(dtype=object)
    part = Column(values.codes.astype(np.int32), words)
    stripped = [word.strip() for word in words]
    return part if stripped == words.tolist() else reword(part, stripped)


def _slow(text: str, separator: str, *, file: str) -> Grid:
    """Return the grid of any file, row by row, with the line on which each row ends."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    rows: list[list[str]] = []
    numbers: list[int] = []
    start = 1
    try:
        for row in reader:
            rows.append(row)
            numbers.append(start)
            start = reader.line_num + 1
    except csv.Error as error:
        raise ReadError(f"the quotation marks cannot be followed ({error})", file=file, place=f"line {start}",
                        remedy="A mark that opens a text must close it; the file may be cut.") from error
    widths = np.array([len(row) for row in rows])
    limits.area(1, int(widths.max(initial=0)), file=file, sheet="")
    return Grid(of_rows(rows), np.array(numbers), widths=widths, cut=not text.endswith(("\n", "\r")))


def read(path: Path) -> tuple[list[Grid], list[str]]:
    """Return the one grid of a text file, and what was noticed about the file.

    Raises
    ------
    ReadError
        When the file is empty, is no text, or its quotation marks do not close.
    """
    raw = limits.contents(path, most=limits.TEXT_BYTES)
    text, encoding = decode(raw, file=path.name)
    if not text or text.isspace():
        raise ReadError("the file is empty", file=path.name, remedy="Ask the laboratory to send it again.")
    separator = separator_of(text)
    notes = [] if encoding.startswith("utf-8") else [f"the text is in {encoding}"]
    notes += [] if separator == "," else [f"the cells are parted by {NAMES.get(separator, repr(separator))}s"]
    plain = raw if encoding == "utf-8" else text.encode()
    quick = _quick(plain, separator, file=path.name) if len(text) > LARGE else None
    grid = quick or _slow(text, separator, file=path.name)
    return [grid], notes
