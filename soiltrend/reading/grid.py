"""A rectangle of text cells with their places: what every file format becomes first.

A column keeps each different text once and a code for every row, so that a text is
interpreted once however often it stands in the file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pandas as pd


@dataclass(frozen=True, eq=False)
class Column:
    """Texts of a column: ``words[codes[row]]``.

    Attributes
    ----------
    codes : array of int
        For every row the position of its text in ``words``.
    words : array of object
        Each different text once.
    """

    codes: np.ndarray
    words: np.ndarray

    def texts(self) -> np.ndarray:
        """Return the text of every row."""
        return np.asarray(self.words[self.codes])

    def take(self, rows: np.ndarray) -> Column:
        """Return the column of the given rows, with the words that stand in them."""
        if len(self.words) == 1 and len(rows):
            return Column(np.zeros(len(rows), dtype=np.int32), self.words)
        codes = self.codes[rows]
        used = np.bincount(codes, minlength=len(self.words)) > 0
        if used.all():
            return Column(codes, self.words)
        fresh = np.cumsum(used, dtype=np.int32) - 1
        return Column(fresh[codes].astype(np.int32), self.words[used])

    def when(self, flags: Iterable[bool]) -> np.ndarray:
        """Return a flag for every row from a flag for every word."""
        return np.asarray(np.fromiter(flags, dtype=bool, count=len(self.words))[self.codes])


def column(texts: Sequence[str] | np.ndarray) -> Column:
    """Return the column of a sequence of texts.

    Examples
    --------
    >>> column(["a", "b", "a"]).codes.tolist()
    [0, 1, 0]
    """
    values = np.empty(len(texts), dtype=object)
    values[:] = texts
    codes, words = pd.factorize(values)
    return Column(codes.astype(np.int32), np.asarray(words, dtype=object))


def constant(text: str, rows: int) -> Column:
    """Return a column with one text in every row."""
    words = np.empty(1, dtype=object)
    words[0] = text
    return Column(np.zeros(rows, dtype=np.int32), words)


def reword(part: Column, words: Sequence[str]) -> Column:
    """Return a column with other words in the place of its own, equal ones made one.

    Examples
    --------
    >>> reword(column(["a ", "a"]), ["a", "a"]).words.tolist()
    ['a']
    """
    fresh = column(words)
    return Column(fresh.codes[part.codes], fresh.words)


def stack(parts: Sequence[Column]) -> Column:
    """Return columns one below the other.

    Examples
    --------
    >>> stack([column(["a", "b"]), column(["b"])]).texts().tolist()
    ['a', 'b', 'b']
    """
    if len(parts) == 1:
        return parts[0]
    joint = column(np.concatenate([part.words for part in parts])) if parts else column([])
    if len(joint.words) == 1:
        return Column(np.zeros(sum(len(part.codes) for part in parts), dtype=np.int32), joint.words)
    starts = np.cumsum([0, *(len(part.words) for part in parts)])
    codes = [joint.codes[start + part.codes] for start, part in zip(starts, parts, strict=False)]
    return Column(np.concatenate(codes).astype(np.int32) if codes else joint.codes, joint.words)


def numbered(left: np.ndarray, right: np.ndarray, *, width: int) -> tuple[np.ndarray, np.ndarray]:
    """Return a code for every pair of codes that occurs, and the pairs as ``left * width + right``.

    Pairs are counted in 32 bits where they fit, which takes a fifth of the time.

    Examples
    --------
    >>> numbered(np.array([2, 2, 0]), np.array([1, 1, 3]), width=4)
    (array([0, 0, 1]), array([9, 3], dtype=int32))
    """
    fits = (int(left.max(initial=0)) + 1) * width <= np.iinfo(np.int32).max
    both = np.multiply(left, width, dtype=np.int32 if fits else np.int64, casting="same_kind")
    np.add(both, right, out=both, casting="same_kind")
    return pd.factorize(both)


def pair(left: Column, right: Column) -> tuple[np.ndarray, list[tuple[str, str]]]:
    """Return a code for every pair of texts that occurs, and the pairs.

    Examples
    --------
    >>> pair(column(["a", "a"]), column(["x", "y"]))[1]
    [('a', 'x'), ('a', 'y')]
    """
    if len(left.words) == len(right.words) == 1 and len(left.codes):
        return np.zeros(len(left.codes), dtype=np.int64), [(str(left.words[0]), str(right.words[0]))]
    width = max(len(right.words), 1)
    codes, both = numbered(left.codes, right.codes, width=width)
    return codes, [(str(left.words[i // width]), str(right.words[i % width])) for i in both.tolist()]


def merge(left: Column, right: Column, rule: Callable[[str, str], str]) -> Column:
    """Return the column that a rule makes of two, each pair of texts once.

    Examples
    --------
    >>> merge(column(["a", "b"]), column(["x", "x"]), lambda one, two: one + two).texts().tolist()
    ['ax', 'bx']
    """
    codes, both = pair(left, right)
    fresh = column([rule(one, two) for one, two in both])
    return Column(fresh.codes[codes], fresh.words)


def letters(index: int) -> str:
    """Return the letters of a spreadsheet column, counted from 0.

    Examples
    --------
    >>> letters(0), letters(27)
    ('A', 'AB')
    """
    text = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        text = chr(65 + rest) + text
    return text


@dataclass(frozen=True, eq=False)
class Grid:
    """A rectangle of text cells.

    Attributes
    ----------
    columns : list of Column
        The cells, column by column, without spaces around them.
    numbers : array of int
        The number by which the file counts each row, from 1.
    where : str
        What stands before that number in a place: ``"line "``, ``"sheet 'Data', cell "``.
    lettered : bool
        Whether a place bears the letters of its column ("C12").
    typed : bool
        Whether numbers were numbers in the file and not text.
    widths : array of int, optional
        Cells in each row as the file has them, where a row can be short.
    merged : dict
        Cells (row, column) that a merged range covers, mapped to that range's text.
    cut : bool
        Whether the file ends in the middle of its last row.
    """

    columns: list[Column]
    numbers: np.ndarray
    where: str = "line "
    lettered: bool = False
    typed: bool = False
    widths: np.ndarray | None = None
    merged: dict[tuple[int, int], str] = field(default_factory=dict)
    cut: bool = False

    def row(self, index: int) -> list[str]:
        """Return the cells of a row."""
        return [str(part.words[part.codes[index]]) for part in self.columns]

    @cached_property
    def _lines(self) -> np.ndarray:
        """The place of each row, which the columns of a wide table share."""
        out, where = np.empty(len(self), dtype=object), self.where
        out[:] = [f"{where}{number}" for number in self.numbers.tolist()]
        return out

    def places(self, rows: np.ndarray, *, at: int, label: str = "") -> np.ndarray:
        """Return the place of each of the rows in column ``at``; ``label`` names one of many columns."""
        if not self.lettered:
            return np.asarray(self._lines[rows] + (f", column '{label}'" if label else ""))
        out, start = np.empty(len(rows), dtype=object), self.where + letters(at)
        out[:] = [f"{start}{number}" for number in self.numbers[rows].tolist()]
        return out

    def __len__(self) -> int:
        return len(self.numbers)


def of_rows(rows: Sequence[Sequence[str]]) -> list[Column]:
    """Return the columns of rows of texts, short rows filled with blanks.

    Examples
    --------
    >>> [part.texts().tolist() for part in of_rows([["a", "b"], ["c"]])]
    [['a', 'c'], ['b', '']]
    """
    width = max((len(row) for row in rows), default=0)
    return [column([row[i].strip() if i < len(row) else "" for row in rows]) for i in range(width)]
