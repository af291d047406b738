"""The numbers of all found values, each different text read once."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from soiltrend.reading import answers as answering
from soiltrend.reading import cells, meaning
from soiltrend.reading.answers import Answers
from soiltrend.reading.gather import Found
from soiltrend.reading.grid import Column, column, numbered, reword
from soiltrend.reading.reasons import Reasons


@dataclass(frozen=True, eq=False)
class Numbers:
    """The numbers of all values.

    Attributes
    ----------
    value : array of float
        As printed, before any conversion; NaN where there is none.
    qualifier, rating, note : Column
        Beside each number.
    unit : Column
        The unit printed in the cell.
    """

    value: np.ndarray
    qualifier: Column
    rating: Column
    note: Column
    unit: Column


def _marks(found: Found, shapes: np.ndarray, answers: Answers) -> np.ndarray:
    """Return the decimal mark of each label."""
    label = found.columns["label"]
    if answers.decimal:
        return np.full(len(label.words), answers.decimal)
    shape = reword(found.columns["text"], shapes.tolist())
    width = max(len(shape.words), 1)
    _, shown = numbered(label.codes, shape.codes, width=width)
    by_label = cells.decimal_marks(shape.words[shown % width], shown // width,
                                   [str(word) for word in label.words])
    return np.array([by_label[i] for i in range(len(label.words))] or [""])


def numbers(found: Found, answers: Answers, why: Reasons) -> Numbers:
    """Read the text of every value; what is no number, or two numbers, gets its reason."""
    text = found.columns["text"]
    read = [cells.read(str(word)) for word in text.words]
    shapes = np.array([cell.shape for cell in read] or [""], dtype=object)
    typed = np.array([found.typed and not str(word).startswith(cells.TYPED_TEXT)
                      for word in text.words] or [False])
    marks, label = _marks(found, shapes, answers), found.columns["label"].codes
    comma_or_not, dot_or_not = shapes == cells.EITHER_COMMA, shapes == cells.EITHER_DOT
    doubtful = (comma_or_not[text.codes] & ~np.isin(marks, [".", ","])[label]
                | (dot_or_not & ~typed)[text.codes] & (marks == "?")[label])
    why.put(doubtful, "it may be a thousand or a decimal fraction; nothing else in the file shows which",
            line='decimal = "."')
    comma = (marks == ",")[label] & ~(typed & dot_or_not)[text.codes]
    dots, commas = (np.array([getattr(cell, name) for cell in read] or [math.nan])
                    for name in ("dot", "comma"))
    value = np.where(comma, commas[text.codes], dots[text.codes])
    return Numbers(value, *(reword(text, [getattr(cell, name) for cell in read])
                            for name in ("qualifier", "rating", "note", "unit")))


def non_detects(found: Found, given: Numbers, meanings: list[meaning.Meaning], codes: np.ndarray,
                 answers: Answers) -> Numbers:
    """Give values below a limit that the cell does not state the limit of their row or an answer."""
    text = found.columns["text"]
    flags = text.when(cells.read(str(word)).kind == "not detected" for word in text.words)
    if not flags.any():
        return given
    limits, labels = found.texts("limit"), found.texts("label")
    value, qualifier = given.value.copy(), given.qualifier.texts().copy()
    for index in np.flatnonzero(flags).tolist():
        told = limits[index] or answers.of("limits", labels[index], meanings[codes[index]].analyte)
        limit = cells.read(str(told))
        if limit.kind == "number":
            value[index], qualifier[index] = limit.dot, "<"
    return Numbers(value, column(qualifier), given.rating, given.note, given.unit)


def no_number(found: Found, given: Numbers, why: Reasons) -> None:
    """Give a reason to every value without a number."""
    label, text = found.columns["label"], found.columns["text"]
    empty = np.isnan(given.value)
    undetected = text.when(cells.read(str(word)).kind == "not detected" for word in text.words)
    for code in np.unique(label.codes[empty & undetected]).tolist():
        why.put(empty & undetected & (label.codes == code),
                "it says 'below the limit' without the laboratory's limit",
                line=answering.ask("limits", str(label.words[code]), "0.5"))
    formula = text.when("a formula without its result" in str(word) for word in text.words)
    why.put(empty & formula, "the cell holds a formula that was never calculated: open and save the file "
            "once in a spreadsheet program")
    why.put(empty, "the text is no number")
