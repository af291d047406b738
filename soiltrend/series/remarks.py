"""What is said of a series beside its numbers: results left out, breaks, and warnings of their notes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import composites, frames

_BROKEN = ("method", "lab", "unit", "top_cm", "bottom_cm", "n", "first_year", "last_year")
"""Columns of a series that tell where a record breaks, and when."""

LEFT = (
    "a value of 0 or less, which can only mean below a limit: write it as < with the limit",
    "a share of 0 or of the whole, which has no ratio to the rest",
    "may be inflated by undissolved lime or salts",
    "bears neither day nor year",
    "questioned by other figures of its own report",
    "is alone in its season",
)
"""Why a result is left out, by code from 1."""


@dataclass(frozen=True, eq=False)
class Notes:
    """The notes of results, each different one once.

    Attributes
    ----------
    codes : array of int
        For each result the place of its note in ``texts``.
    texts : list of str
        The different notes.
    """

    codes: np.ndarray
    texts: list[str]

    @classmethod
    def of(cls, column: pd.Series) -> Notes:
        """Return the notes of a column."""
        if composites.constant(column):
            return cls(np.zeros(len(column), dtype=np.int64), [column.iloc[0]])
        codes, texts = pd.factorize(column, use_na_sentinel=False)
        return cls(codes, texts.tolist())

    def bear(self, words: str, *, first: bool = False) -> np.ndarray:
        """Return which results bear a note with these words, or that begins with them."""
        told = [note.startswith(words) if first else words in note for note in self.texts]
        return np.array(told)[self.codes] if any(told) else np.zeros(len(self.codes), dtype=bool)


def warnings(notes: Notes, code: np.ndarray, used: np.ndarray, count: int) -> np.ndarray:
    """Return what notes of the results used say that bears on a trend."""
    text = np.full(count, "", dtype=object)
    changed, dressed = (notes.bear(words) & used for words in (frames.FORMULA_CHANGED, frames.DRESSING))
    for mine, words in ((changed, "the sums were not computed alike on all dates"), (dressed, "")):
        per = np.bincount(code[mine], minlength=count)
        for row in np.flatnonzero(per):
            told = (
                words
                or f"{per[row]} result{'s were' if per[row] > 1 else ' was'} taken soon after a dressing"
            )
            text[row] = f"{text[row]}; {told}" if text[row] else told[0].upper() + told[1:]
    return text


def joined(notes: Notes, code: np.ndarray, used: np.ndarray, count: int) -> np.ndarray:
    """Return the bridges that join each series, in words; empty where none does."""
    text = np.full(count, "", dtype=object)
    mine = notes.bear(frames.BRIDGED) & used
    if not mine.any():
        return text
    told = pd.Series(notes.texts, dtype="str").str.extract(f"{frames.BRIDGED} (.*?)(?:; |$)")[0]
    names = told.fillna("not named").iloc[notes.codes[mine]]
    for row, told in names.groupby(code[mine]):
        text[int(str(row))] = " and ".join(dict.fromkeys(told))
    return text


def left_out(left: np.ndarray) -> np.ndarray:
    """Return what was left out of each series, in words."""
    text = np.full(len(left), "", dtype=object)
    for row in np.flatnonzero(left[:, 1:].any(axis=1)):
        told = [
            f"{n} result{'s' if n > 1 else ''} left out ({why})"
            for n, why in zip(left[row, 1:], LEFT, strict=True)
            if n
        ]
        text[row] = "; ".join(told)
    return text


def breaks(series: pd.DataFrame) -> np.ndarray:
    """Return for each series of a bed and analyte that has several how the record breaks."""
    text = np.full(len(series), "", dtype=object)
    code = composites.codes(series, ["bed", "analyte"])
    if len(series) and code.max() + 1 == len(series):
        return text
    columns = {name: series[name].tolist() for name in _BROKEN}
    for rows in _several(code):
        parts = [{name: column[row] for name, column in columns.items()} for row in rows]
        parts.sort(key=lambda part: (part["first_year"] != part["first_year"], part["first_year"]))
        differs = [name for name in ("method", "lab", "unit") if len({part[name] for part in parts}) > 1]
        layered = len({(str(part["top_cm"]), str(part["bottom_cm"])) for part in parts}) > 1
        told = [_named(part, differs, layered) for part in parts]
        text[rows] = "The record breaks and is not joined: " + "; ".join(told)
    return text


def _several(code: np.ndarray) -> Iterator[np.ndarray]:
    """Yield the places of each code that occurs more than once."""
    order = np.argsort(code, kind="stable")
    edges = np.flatnonzero(np.diff(code[order])) + 1
    size = np.diff(np.concatenate([[0], edges, [len(code)]]))
    starts = np.concatenate([[0], edges])
    for start, n in zip(starts[size > 1], size[size > 1], strict=True):
        yield order[start : start + n]


def _named(row: dict[Any, Any], differs: list[str], layered: bool) -> str:
    """Return one part of a broken record: what it was measured by, and when."""
    parts = [row[name] or f"{name} not stated" for name in differs]
    if layered:
        known = row["bottom_cm"] == row["bottom_cm"]
        parts.append(f"{row['top_cm']:g}-{row['bottom_cm']:g} cm" if known else "layer not stated")
    if not row["n"]:
        return ", ".join([*parts, "no usable test"])
    first, last = f"{row['first_year']:.0f}", f"{row['last_year']:.0f}"
    return f"{', '.join(parts)} {first if first == last else f'{first} to {last}'}"
