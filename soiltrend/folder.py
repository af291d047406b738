"""The grower's plain files: TOML and CSV, read with every fault named by file and line.

A table file (``samples.csv``, ``applications.csv`` ...) is comma or semicolon separated
text with a heading line. Lines that begin with ``#`` are remarks. All faults of a file are
reported at once.
"""

from __future__ import annotations

import csv
import difflib
import io
import tomllib
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import limits
from soiltrend.errors import GardenError
from soiltrend.writing import real

FAULTS_SHOWN = 8
LISTED = 24
"""How many known names are listed where none is like the word that was written."""



@dataclass(frozen=True)
class Columns:
    """The columns of one of the grower's tables.

    Attributes
    ----------
    text, number, day : tuple of str
        Columns by type. Numbers are written with a point; days as 2024-04-12.
    required : tuple of str
        Columns that must be there and filled on every line.
    choices : mapping of str to tuple of str
        Columns that hold one of a few words, or nothing.
    signed : tuple of str
        Numbers that may lie below 0; no other may.
    rising : tuple of pairs of str
        Numbers of which the second lies above the first, where a blank first one is 0.
    """

    text: tuple[str, ...]
    number: tuple[str, ...] = ()
    day: tuple[str, ...] = ()
    required: tuple[str, ...] = ()
    choices: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    signed: tuple[str, ...] = ()
    rising: tuple[tuple[str, str], ...] = ()

    @property
    def all(self) -> tuple[str, ...]:
        """All columns, days first as a grower would write them."""
        return (*self.day, *self.text, *self.number)


def nearest(word: str, known: Iterable[str]) -> str:
    """Return the known names most like a word, quoted, or all when none is like it.

    Of more than :data:`LISTED` the others are counted.

    Examples
    --------
    >>> nearest("Nort", ["North", "South", "Long bed"])
    "nearest: 'North'"
    >>> nearest("Spring", ["East", "North", "Orchard"])
    "known: 'North', 'Orchard', 'East'"
    """
    names = sorted(known)
    close = difflib.get_close_matches(word, names, n=3, cutoff=0.6)
    if not close:
        names.sort(key=lambda name: -difflib.SequenceMatcher(None, name, word).quick_ratio())
    listed = ", ".join(f"'{name}'" for name in (close or names[:LISTED]))
    rest = f" and {len(names) - LISTED} more" if len(names) > LISTED else ""
    return f"nearest: {listed}" if close else f"known: {listed or 'none'}{rest}"


def read_toml(path: Path) -> dict[str, Any]:
    """Return a TOML file as nested dictionaries.

    Raises
    ------
    GardenError
        When the file is missing, is not UTF-8 or is not TOML; the line is named.
    """
    if not path.exists():
        raise GardenError(
            f"there is no file {path.name} in {path.parent}",
            file=path.name,
            remedy="Start a garden with 'soiltrend new FOLDER', or name the folder that holds it.",
        )
    try:
        return tomllib.loads(_text(path))
    except RecursionError as error:
        raise GardenError(
            "brackets stand in brackets too deep to be followed",
            file=path.name,
            remedy="A garden's file needs three at the most.",
        ) from error
    except ValueError as error:  # also numbers and days that TOML lets through and Python does not
        raise GardenError(
            f"this is not TOML: {error}",
            file=path.name,
            remedy="Texts stand in quotes, dates as 2024-04-12, numbers with a point; a heading such as "
            "[units] stands once, with all its lines under it, and single settings stand above the first "
            "heading.",
        ) from error


def stays_inside(path: Path, folder: Path) -> bool:
    """Return whether a file lies in a folder when links are followed.

    Examples
    --------
    >>> stays_inside(Path("a/b.csv"), Path("a")), stays_inside(Path("a/../b.csv"), Path("a"))
    (True, False)
    """
    return real(path).is_relative_to(real(folder))


def _text(path: Path) -> str:
    """Return the text of one of the grower's own files."""
    if not stays_inside(path, path.parent):
        raise GardenError(
            f"it is a link to '{real(path)}', outside of the folder",
            file=path.name,
            remedy="Put the file itself in its place.",
        )
    try:
        text = limits.contents(path, most=limits.OWN_BYTES, error=GardenError).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise GardenError(
            f"byte {error.start} is not UTF-8 text", file=path.name, remedy="Save the file as UTF-8."
        ) from error
    return text.replace("\r\n", "\n").replace("\r", "\n")


def check_keys(given: Mapping[str, Any], known: Iterable[str], *, file: str, place: str) -> None:
    """Refuse a key that nothing reads, and name the nearest one that is.

    Raises
    ------
    GardenError
        When a key of ``given`` is not known.

    Examples
    --------
    >>> check_keys({"aera_m2": 12}, ["area_m2"], file="garden.toml", place="East")
    Traceback (most recent call last):
    ...
    soiltrend.errors.GardenError: garden.toml, East: 'aera_m2' is not a key known here (nearest: 'area_m2').
    """
    known = list(known)
    for key in given:
        if key not in known:
            raise GardenError(
                f"'{key}' is not a key known here ({nearest(str(key), known)})", file=file, place=place
            )


def _lines(path: Path) -> list[tuple[int, list[str]]]:
    """Return the numbered lines of a table file that are neither blank nor remarks."""
    text = _text(path)
    head = next((line for line in io.StringIO(text) if line.strip() and not line.startswith("#")), "")
    separator = ";" if head.count(";") > head.count(",") else ","
    reader = csv.reader(io.StringIO(text), delimiter=separator, strict=True)
    try:
        rows = [(reader.line_num, [cell.strip() for cell in row]) for row in reader]
    except csv.Error as error:
        raise GardenError(
            f"the cells cannot be followed ({error})",
            file=path.name,
            place=f"line {reader.line_num}",
            remedy="A quotation mark that opens a cell must close it.",
        ) from error
    kept = [(number, row) for number, row in rows if any(row) and not row[0].startswith("#")]
    for number, row in kept:
        if len(row) > limits.OWN_COLUMNS:
            raise GardenError(
                f"{len(row):,} cells stand here, and no more than {limits.OWN_COLUMNS:,} are read",
                file=path.name,
                place=f"line {number}",
                remedy="See whether this is the file that you meant",
            )
    return kept


def _number(text: str) -> float:
    value = float(text)
    if not np.isfinite(value):
        raise ValueError(text)
    return value


def _amount(text: str) -> float:
    value = _number(text)
    if value < 0:
        raise ValueError(text)
    return value


def _parse(
    cells: list[str], lines: list[int], kind: Callable[[str], Any], *, says: str, column: str
) -> tuple[list[Any], list[str]]:
    """Return a column's values and the faults found in it."""
    values, faults = [], []
    for line, cell in zip(lines, cells, strict=True):
        try:
            values.append(kind(cell) if cell else None)
        except ValueError:
            values.append(None)
            faults.append(f"line {line}: {column} '{cell}' is not {says}")
    return values, faults


def _one_of(words: tuple[str, ...]) -> Callable[[str], str]:
    def pick(text: str) -> str:
        """Return the word, in small letters, if it is one of those allowed."""
        if text.casefold() not in words:
            raise ValueError(text)
        return text.casefold()

    return pick


def _layout_faults(rows: list[tuple[int, list[str]]], columns: Columns) -> list[str]:
    """Return faults of the heading and of lines that are longer than it."""
    header = rows[0][1] if rows else []
    often = Counter(header)
    faults = [f"the column '{name}' is missing" for name in columns.required if name not in header]
    faults += [f"the column '{name}' stands twice" for name in sorted(often) if often[name] > 1]
    faults += [
        f"line {line}: {len(row)} cells under {len(header)} headings (text with a comma needs quotes)"
        for line, row in rows[1:]
        if len(row) > len(header) and any(row[len(header) :])
    ]
    return faults


def _column(name: str, cells: list[str], lines: list[int], columns: Columns) -> tuple[pd.Series, list[str]]:
    """Return one column with its type set, and its faults."""
    faults = [
        f"line {line}: {name} is blank"
        for line, cell in zip(lines, cells, strict=True)
        if name in columns.required and not cell
    ]
    if name in columns.number:
        kind, says = (_number, "a number") if name in columns.signed else (_amount, "a number from 0 up")
        values, more = _parse(cells, lines, kind, says=f"{says} (write a decimal point)", column=name)
        return pd.Series(values, dtype=float), faults + more
    if name in columns.day:
        values, more = _parse(cells, lines, date.fromisoformat, says="a date like 2024-04-12", column=name)
        return pd.to_datetime(pd.Series(values, dtype="object")), faults + more
    if name in columns.choices:
        words = columns.choices[name]
        values, more = _parse(cells, lines, _one_of(words), says="one of " + ", ".join(words), column=name)
        return pd.Series(values, dtype="object").fillna("").astype("str"), faults + more
    return pd.Series(cells, dtype="str"), faults


def _falling(table: Mapping[str, pd.Series], lines: list[int], columns: Columns) -> list[str]:
    """Return faults of lines on which the second number of a pair is not above the first."""
    return [
        f"line {line}: {above} {high:g} is not more than {below} {low:g} (write the smaller in {below})"
        for below, above in columns.rising
        for line, low, high in zip(lines, table[below].fillna(0.0), table[above], strict=True)
        if high <= low
    ]


def read_table(path: Path, columns: Columns) -> pd.DataFrame:
    """Return one of the grower's tables; an absent file is an empty table.

    Parameters
    ----------
    path : Path
        The CSV file.
    columns : Columns
        What the file may and must hold. Columns beyond these are kept as text.

    Returns
    -------
    DataFrame
        The columns, and ``line``: the line each row stands on.

    Raises
    ------
    GardenError
        With every fault of the file: missing columns, blank required cells, numbers, dates
        and words that are none.
    """
    there = path.exists() or path.is_symlink()
    rows = _lines(path) if there else []
    faults = _layout_faults(rows, columns) if there else []
    header = rows[0][1] if rows else list(columns.all)
    lines = [line for line, _ in rows[1:]]
    table = {}
    for name in dict.fromkeys((*header, *columns.all)):
        at = header.index(name) if name in header else None
        cells = ["" if at is None or at >= len(row) else row[at] for _, row in rows[1:]]
        table[name], more = _column(name, cells, lines, columns)
        faults += more if at is not None else []
    faults += _falling(table, lines, columns)
    if faults:
        rest = f"; and {len(faults) - FAULTS_SHOWN} more" if len(faults) > FAULTS_SHOWN else ""
        raise GardenError("; ".join(faults[:FAULTS_SHOWN]) + rest, file=path.name)
    frame = pd.DataFrame(table).assign(line=pd.Series(lines, dtype="int64"))
    return frame.drop(columns=[""], errors="ignore")
