"""A laboratory's file of any kind becomes the tidy frame.

The way of a value: a format module turns the file into grids of text cells
(:mod:`~soiltrend.reading.grid`), :mod:`~soiltrend.reading.layout` finds the tables in them,
:mod:`~soiltrend.reading.gather` lists every value as text with its place, and
:mod:`~soiltrend.reading.settle` makes results of them or sets them aside with a reason.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from importlib import import_module
from pathlib import Path
from typing import Any

import pandas as pd

from soiltrend import present
from soiltrend.errors import ReadError
from soiltrend.reading import answers as answering
from soiltrend.reading import crossed, days, gather, layout, placing, slips
from soiltrend.reading.answers import Answers
from soiltrend.reading.gather import Found
from soiltrend.reading.grid import Grid
from soiltrend.reading.reasons import NO_DATA, Talk
from soiltrend.reading.settle import settle
from soiltrend.writing import writable

LONGEST_REMARK = 160
REMARKS_SHOWN = 12


@dataclass(frozen=True, eq=False)
class Reading:
    """What one file held.

    Attributes
    ----------
    results : DataFrame
        The tidy frame (:mod:`soiltrend.frames`).
    set_aside : DataFrame
        Values that could not be used, each with its place and a reason.
    notes : tuple of str
        What was seen in the file besides values, and what was assumed.
    asks : tuple of str
        Lines of ``report.toml`` that would settle what was asked, with examples as answers.
    reported : Timestamp, optional
        The day on which the laboratory issued the report, the last of several; None when
        nothing tells.
    used : frozenset of (str, str)
        The answers by which a value was read, table and label.
    """

    results: pd.DataFrame
    set_aside: pd.DataFrame
    notes: tuple[str, ...] = field(default=())
    asks: tuple[str, ...] = field(default=())
    reported: pd.Timestamp | None = None
    used: frozenset[tuple[str, str]] = frozenset()

    @property
    def table(self) -> pd.DataFrame:
        """The results."""
        return self.results

    def _title(self) -> str:
        return f"{len(self.results)} values read, {len(self.set_aside)} set aside"

    def __repr__(self) -> str:
        shown = ["bed", "sampled", "season", "analyte", "method", "qualifier", "value", "unit", "place"]
        return present.plain(self._title(), self.results[shown])

    def _repr_html_(self) -> str:
        return present.page(self._title(), self.results)


def _mark_notes(found: Found) -> list[str]:
    counts = ", ".join(f"'{mark}' {count} times" for mark, count in sorted(found.missing.items()))
    return [f"printed marks for a missing value, which are no values: {counts}"] if counts else []


def _remark_notes(tables: list[layout.Table]) -> list[str]:
    """Return the lines that are no data, shortened, and the context that lines state."""
    remarks = list(dict.fromkeys(remark for table in tables for remark in table.remarks))
    shown = [f"{NO_DATA}{remark[:LONGEST_REMARK]}" for remark in remarks[:REMARKS_SHOWN]]
    rest = len(remarks) - REMARKS_SHOWN
    return shown + ([f"and {rest} more lines that are no data"] if rest > 0 else [])


def _tables(grids: list[Grid], answers: Answers, *, file: str) -> list[layout.Table]:
    """Return the tables of all grids of a file."""
    found: list[layout.Table] = []
    start = 0
    for grid in grids:
        for table in (layout.find(grid, answers) or crossed.find(grid, answers)
                      or slips.find(grid, answers)):
            table.first = start
            found.append(table)
        start += len(grid)
    if not found:
        raise ReadError("no table of soil values was found in it", file=file,
                        remedy="A table needs a row of headings that names the sample and what was measured.")
    return found


FORMATS = {
    ".csv": "delimited.read", ".tsv": "delimited.read", ".txt": "delimited.read", ".tab": "delimited.read",
    ".xlsx": "book.read", ".xlsm": "book.read", ".xls": "sheets.read_old", ".ods": "sheets.read_open",
    ".pdf": "pdf.read", ".xml": "modus.read_xml", ".json": "modus.read_json"}
"""Readers by the ending of the file's name: a module of this room and its function. A reader and the
library behind it are loaded when the first file of their kind is read."""


@dataclass(frozen=True, eq=False)
class Opened:
    """A file that was opened and not yet understood, so that other answers can be tried on it.

    Attributes
    ----------
    file : str
        Its name.
    held : Found, or list of Grid and list of str
        Its values, or its grids of cells and what was noticed about them.
    found : list of (Answers, Found)
        The values found last in the grids, with the answers by which they were.
    """

    file: str
    held: Found | tuple[list[Grid], list[str]]
    found: list[tuple[Answers, Found]] = field(default_factory=list, repr=False)

    def read(self, answers: Answers) -> Reading:
        """Return what the file holds, understood with some answers."""
        found = self._found(answers)
        settled = settle(found, answers, source=self.file)
        notes, asks = (*found.notes, *settled.notes), tuple(settled.asks)
        return Reading(settled.results, settled.set_aside, notes, asks, _reported(found, answers),
                       frozenset(answers.used))

    def beds(self, answers: Answers) -> pd.Series:
        """Return what stands in the column of the bed, or over the table, for each value, by its place."""
        found = self._found(answers)
        return pd.Series(found.texts("bed"), index=found.place, dtype="str")

    def origin(self, answers: Answers) -> tuple[set[str], pd.Timestamp | None]:
        """Return the laboratories that the file names, and its first day of sampling if it states one."""
        found = self._found(answers)
        labs = {str(word) or answers.lab for word in found.columns["lab"].words}
        moments = placing.moments(found, answers, Talk(self.file))
        return labs, min((moment.day for moment in moments if moment.day is not None), default=None)

    def _found(self, answers: Answers) -> Found:
        """Return the values: those the format's reader found, or those in the tables of the grids."""
        if isinstance(self.held, Found):
            return self.held
        (grids, notes), by = self.held, answers.of_headings()
        if not self.found or self.found[0][0] != by:
            tables = _tables(grids, by, file=self.file)
            found = gather.gather(tables, by)
            told = [*notes, *found.notes, *_mark_notes(found), *_remark_notes(tables)]
            self.found[:] = [(by, replace(found, notes=told))]
        return self.found[0][1]


def opened(path: str | Path) -> Opened:
    """Return a laboratory's file opened by the reader of its kind.

    Raises
    ------
    ReadError
        When there is no such file, or it cannot be opened.
    """
    file = Path(path)
    if not file.is_file():
        raise ReadError("there is no such file", file=str(path), remedy="Check the folder and the spelling.")
    reader = FORMATS.get(file.suffix.casefold())
    if reader is None:
        raise ReadError(f"files ending in '{file.suffix}' cannot be read", file=file.name,
                        remedy="Kinds known: " + ", ".join(FORMATS))
    module, name = reader.split(".")
    return Opened(writable(file.name), getattr(import_module(f"soiltrend.reading.{module}"), name)(file))


def _reported(found: Found, answers: Answers) -> pd.Timestamp | None:
    """Return the last day on which the laboratory issued the report, or None when one cannot be read."""
    texts = [answers.reported] if answers.reported else list(found.finished)
    told = [moment.day for moment in days.column(texts, order=answers.dates, hemisphere=answers.hemisphere)]
    known = [day for day in told if day is not None]
    return max(known) if known and len(known) == len(told) else None


def read_report(path: str | Path, *, answers: Mapping[str, Any] | None = None) -> Reading:
    r"""Return the values of a laboratory's file, each with its place; nothing is guessed.

    Parameters
    ----------
    path : str or Path
        A text file with a separator (.csv, .tsv, .txt), a workbook (.xlsx, .xls, .ods), a
        PDF with a text layer, or a file in the
        Modus exchange format (.xml, .json).
    answers : mapping, optional
        What the file does not say, as ``report.toml`` holds it: lab, report, reported (the day
        of the report), sampled, season, hemisphere, dates, decimal, depth_cm, depth_unit,
        bulk_density, and by label beds, units, methods, analytes, ignore, limits.

    Returns
    -------
    Reading
        Every value of the file stands either in ``results`` or, with a reason, in
        ``set_aside``. A blank cell or a printed mark for a missing value ("*", "NA", "-") is
        no value; such marks are counted in ``notes``. A mark for "below the limit" ("ND") is
        a value: it is set aside until its limit is known. Text columns that describe the
        sample (crop, county) are named in ``notes``.

    Raises
    ------
    ReadError
        When the file cannot be opened or holds no table of soil values, or an answer cannot
        be used.

    Examples
    --------
    >>> import tempfile
    >>> path = Path(tempfile.mkdtemp()) / "spring.csv"
    >>> _ = path.write_text("Bed,Date sampled,pH,K (Mehlich-3) ppm\nEast,2024-04-12,6.4,<20\n")
    >>> read_report(path).results[["bed", "season", "analyte", "method", "qualifier", "value"]]
        bed       season analyte     method qualifier  value
    0  East  spring 2024      pH                         6.4
    1  East  spring 2024       K  Mehlich-3         <   20.0
    """
    told = answering.check(answers)
    return opened(path).read(told)
