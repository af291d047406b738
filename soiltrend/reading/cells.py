"""One cell: the number, the sign of a limit, the laboratory's word and the unit printed in it.

``1,234`` is two numbers, one to an English and one to a German eye. A cell is therefore read
both ways, and the evidence of the other cells decides (:func:`decimal_marks`).
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from soiltrend import units
from soiltrend.reading import roles

PLAIN = re.compile(r"-?[0-9]+(?:\.[0-9]*)?")
NUMBER = re.compile(r"[+-]?(?:[0-9][0-9.,]*(?:[ \u00a0\u202f'’][0-9]{3}(?![0-9]))*(?:[.,][0-9]+)?|[.,][0-9]+)"
                    r"(?:[eE][+-]?[0-9]{1,3})?")
SIGNS = (("<=", "<"), ("≤", "<"), ("less than", "<"), ("below", "<"), ("<", "<"),
         (">=", ">"), ("≥", ">"), ("greater than", ">"), ("more than", ">"), ("above", ">"), (">", ">"))
FOOTNOTE = re.compile(r"^(?:[*†‡§#^¹²³]+|\([0-9a-z*]\)|\[[0-9a-z*]\])")
TYPED_TEXT = "'"
"""What stands before a text of a workbook that looks like a number with thousands."""

DOT, COMMA, EITHER_COMMA, EITHER_DOT = "dot", "comma", "either comma", "either dot"


@dataclass(frozen=True)
class Cell:
    """A cell as read.

    Attributes
    ----------
    dot, comma : float
        The number with "." and with "," as its decimal mark; equal when there is no doubt.
    shape : str
        Which mark the cell shows to be the decimal one: "dot", "comma", "either comma",
        "either dot" or empty.
    qualifier : str
        "", "<" or ">".
    rating : str
        The laboratory's word beside the number.
    unit : str
        A unit printed in the cell.
    kind : str
        "number", "blank", "missing", "not detected" or "text".
    note : str
        What a reader must know before using the number.
    """

    dot: float = math.nan
    comma: float = math.nan
    shape: str = ""
    qualifier: str = ""
    rating: str = ""
    unit: str = ""
    kind: str = "text"
    note: str = ""


def _grouped(text: str, mark: str) -> str | None:
    """Return digits without the thousands mark when every group has its three digits, or None."""
    body = re.escape(mark)
    return text.replace(mark, "") if re.fullmatch(rf"[0-9]{{1,3}}(?:{body}[0-9]{{3}})+", text) else None


def _two_marks(text: str) -> tuple[str, str] | None:
    """Return (digits with a dot, shape) of a number that holds dots and commas."""
    last = max(text.rfind("."), text.rfind(","))
    whole = _grouped(text[:last], "," if text[last] == "." else ".")
    return None if whole is None else (f"{whole}.{text[last + 1:]}", DOT if text[last] == "." else COMMA)


def _readings(text: str) -> tuple[float, float, str] | None:
    """Return the number read with a decimal dot and a decimal comma, and what it shows."""
    if "." in text and "," in text:
        both = _two_marks(text)
        return both and (float(both[0]), float(both[0]), both[1])
    if text.count(",") > 1 or text.count(".") > 1:
        mark = "," if "," in text else "."
        whole = _grouped(text, mark)
        return None if whole is None else (float(whole), float(whole), DOT if mark == "," else COMMA)
    if re.fullmatch(r"[1-9][0-9]{0,2}[.,][0-9]{3}", text):
        thousands, fraction = float(re.sub("[.,]", "", text)), float(text.replace(",", "."))
        return (thousands, fraction, EITHER_COMMA) if "," in text else (fraction, thousands, EITHER_DOT)
    value = float(text.replace(",", "."))
    return value, value, COMMA if "," in text else DOT if "." in text else ""


def _digits(text: str) -> tuple[float, float, str] | None:
    """Return the readings of a signed number with an exponent or groups of thousands."""
    sign = -1.0 if text.startswith("-") else 1.0
    body, _, power = re.sub("[ \u00a0\u202f'’]", "", text.lstrip("+-")).lower().partition("e")
    read = _readings(body) if re.search("[0-9]", body) else None
    if read is None:
        return None
    scaled = [float(f"{np.format_float_positional(value)}e{power or 0}") * sign for value in read[:2]]
    return scaled[0], scaled[1], read[2]


def _sign(text: str) -> tuple[str, str]:
    """Return the qualifier at the start of a cell, and the rest of it."""
    for spelled, qualifier in SIGNS:
        if text.casefold().startswith(spelled):
            return qualifier, text[len(spelled):].lstrip()
    return "", text


def _tail(rest: str, cell: Cell) -> Cell | None:
    """Return the cell with what stands after its number (rating, unit, footnote), or None."""
    while rest:
        mark = FOOTNOTE.match(rest)
        bare = rest.strip("() ")
        if mark:
            cell = replace(cell, note=f"the report marks it with '{mark.group()}'")
            rest = rest[mark.end():].lstrip()
        elif roles.of_mark(bare) == "rating":
            return replace(cell, rating=bare)
        elif units.find(rest) and roles.of_mark(rest.rpartition(" ")[2]) != "rating":
            return replace(cell, unit=rest)
        else:
            words = rest.split(" ", 1)
            head = words[0].rstrip("*†‡§#")
            if (len(words) == 1 and head == words[0]) or not (roles.of_mark(head) or units.find(head)):
                return None
            known = _tail(head, cell)
            if known is None:
                return None
            cell, rest = known, rest[len(head):].lstrip()
    return cell


def _number(text: str) -> Cell | None:
    """Return a cell that begins with a number, or None when it does not or ends in other words."""
    qualifier, rest = _sign(text)
    about = not qualifier and rest.startswith("~")
    found = NUMBER.match(rest[1:].lstrip() if about else rest)
    read = _digits(found.group()) if found else None
    if found is None or read is None or not (math.isfinite(read[0]) and math.isfinite(read[1])):
        return None
    note = "the report marks it as approximate" if about else ""
    cell = Cell(*read, qualifier=qualifier, kind="number", note=note)
    return _tail((rest[1:].lstrip() if about else rest)[found.end():].strip(), cell)


@lru_cache(maxsize=65536)
def read(text: str) -> Cell:
    """Return what a cell holds.

    Examples
    --------
    >>> cell = read("142 VH")
    >>> cell.dot, cell.rating
    (142.0, 'VH')
    >>> read("< 0,40").qualifier, read("< 0,40").comma
    ('<', 0.4)
    >>> read("1,234").dot, read("1,234").comma
    (1234.0, 1.234)
    >>> read("*").kind, read("ND").kind, read("see note").kind
    ('missing', 'not detected', 'text')
    """
    text = text.removeprefix(TYPED_TEXT)
    if PLAIN.fullmatch(text) and not re.fullmatch(r"-?[1-9][0-9]{0,2}\.[0-9]{3}", text):
        value = float(text)
        return Cell(value, value, DOT if "." in text else "", kind="number")
    bare = " ".join(text.replace("\u2212", "-").split())
    if not bare:
        return Cell(kind="blank")
    mark = roles.of_mark(bare)
    if mark in ("missing", "not detected"):
        return Cell(kind=mark)
    return _number(bare) or Cell()


def is_value(text: str) -> bool:
    """Return whether a cell holds a number or a mark for one below a limit."""
    return read(text).kind in ("number", "not detected")


def is_missing(text: str) -> bool:
    """Return whether a cell is blank or holds a mark that stands for no value."""
    return read(text).kind in ("blank", "missing")


def decimal_marks(shapes: np.ndarray, labels: np.ndarray, names: Sequence[str]) -> dict[int, str]:
    """Return the decimal mark of each label: its own evidence, else that of the whole file.

    Parameters
    ----------
    shapes : array of str
        What each cell shows (:attr:`Cell.shape`), one for each pair in ``labels``.
    labels : array of int
        The label under which that cell stands.
    names : sequence of str
        The labels; only their number matters.

    Returns
    -------
    dict
        For each label ".", ",", "?" when the cells contradict each other, or "" when nothing
        decides.

    Examples
    --------
    >>> decimal_marks(np.array(["comma", "either comma"]), np.array([0, 1]), ["pH", "K"])
    {0: ',', 1: ','}
    """
    shown = {mark: np.bincount(labels[shapes == shape], minlength=len(names)) > 0
             for shape, mark in ((DOT, "."), (COMMA, ","))}
    everywhere = [mark for mark, where in shown.items() if where.any()]
    own = {i: [mark for mark, where in shown.items() if where[i]] for i in range(len(names))}
    return {i: _only(marks or everywhere) for i, marks in own.items()}


def _only(marks: Sequence[str]) -> str:
    return "?" if len(marks) > 1 else marks[0] if marks else ""
