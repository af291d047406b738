"""PDF files with a text layer: tables by the positions of their words.

A row is a line of words. The columns of a table are where the cells of its rows of numbers
stand; a blank stays a blank and moves nothing. Words over the columns are headings; a line
without columns is a remark. Two cells that fall into one column are never joined to a number.
"""

from __future__ import annotations

import io
import logging
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pdfplumber
from pdfminer.pdfinterp import PDFPageInterpreter
from pdfplumber.page import PDFPageAggregatorWithMarkedContent
from pdfplumber.utils.text import extract_words

from soiltrend import limits
from soiltrend.errors import ReadError, SoiltrendError
from soiltrend.reading import cells, meaning, roles
from soiltrend.reading.grid import Grid, of_rows

GAP = 0.7
"""Gap between words, in heights of the letters, from which they are two cells; a blank between
words is about 0.3 of the height in the usual fonts (common practice)."""

FAR = 3.0
"""Gap between two lines, in heights of the letters, over which a heading does not reach."""

HEADER_ROWS = 4
"""Most lines right over the numbers that may be headings."""

Span = tuple[float, float]
APART = " | "
"""Between two cells that fall into one column; no number holds it."""


@dataclass(frozen=True)
class Word:
    """Words that stand together on a line.

    Attributes
    ----------
    text : str
        The words.
    left, right, top, height : float
        Where they stand on the page [points].
    """

    text: str
    left: float
    right: float
    top: float
    height: float


@dataclass(eq=False)
class Line:
    """A line of a page: its words and the cells they make.

    Attributes
    ----------
    place : str
        Page and row.
    words, cells : list of Word
        Single words, and words that belong together.
    """

    place: str
    words: list[Word]
    cells: list[Word] = field(default_factory=list)

    @property
    def is_body(self) -> bool:
        """Whether the line looks like a row of a table's numbers."""
        figures = sum(cells.is_value(cell.text) for cell in self.cells)
        return len(self.cells) > 1 and figures > 0 and (figures >= 2 or len(self.cells) <= 4)


def _turned(chars: list[dict[str, Any]], page: Any) -> list[dict[str, Any]]:
    """Return the letters of a page upright, as most of them run: along, up, down or upside down."""
    aside = [char for char in chars if not char["upright"]]
    if len(aside) * 2 <= len(chars):
        along = [char for char in chars if char["upright"]]
        if sum(char["matrix"][0] < 0 for char in along) * 2 <= len(along):
            return along
        return [_moved(char, (page.width - char["x1"], page.width - char["x0"]),
                       (page.height - char["bottom"], page.height - char["top"])) for char in along]
    if sum(char["matrix"][1] > 0 for char in aside) * 2 > len(aside):
        return [_moved(char, (page.height - char["bottom"], page.height - char["top"]),
                       (char["x0"], char["x1"])) for char in aside]
    return [_moved(char, (char["top"], char["bottom"]), (page.width - char["x1"], page.width - char["x0"]))
            for char in aside]


def _moved(char: dict[str, Any], across: Span, down: Span) -> dict[str, Any]:
    """Return a letter at another place."""
    return {**char, "x0": across[0], "x1": across[1], "top": down[0], "bottom": down[1], "doctop": down[0],
            "height": down[1] - down[0], "width": across[1] - across[0], "upright": True}


def _join(words: Sequence[Word]) -> Word:
    return Word(" ".join(word.text for word in words), words[0].left, words[-1].right, words[0].top,
                max(word.height for word in words))


def _cells(words: Sequence[Word]) -> list[Word]:
    """Return the words of a line joined where the gap between them is that of a blank."""
    groups = [[words[0]]]
    for before, word in pairwise(words):
        if word.left - before.right < GAP * min(before.height, word.height):
            groups[-1].append(word)
        else:
            groups.append([word])
    return [_join(group) for group in groups]


def _lines(page: Any) -> list[Line]:
    """Return the lines of a page from top to bottom."""
    found = extract_words(_turned(page.chars, page), x_tolerance_ratio=0.2, y_tolerance=2)
    words = sorted((Word(word["text"], word["x0"], word["x1"], (word["top"] + word["bottom"]) / 2,
                         word["bottom"] - word["top"]) for word in found), key=lambda word: word.top)
    rows: list[list[Word]] = []
    for word in words:
        if rows and abs(word.top - rows[-1][0].top) < 0.5 * min(word.height, rows[-1][0].height):
            rows[-1].append(word)
        else:
            rows.append([word])
    ordered = [sorted(row, key=lambda word: word.left) for row in rows]
    return [Line(f"page {page.page_number}, row {number}", row, _cells(row))
            for number, row in enumerate(ordered, start=1)]


def _columns(lines: Sequence[Line]) -> list[Span]:
    """Return where the columns of rows of numbers stand: cells that overlap are one column."""
    spans = sorted((cell.left, cell.right) for line in lines for cell in line.cells)
    out: list[Span] = []
    for left, right in spans:
        if out and left < out[-1][1]:
            out[-1] = out[-1][0], max(out[-1][1], right)
        else:
            out.append((left, right))
    return out


def _under(word: Word, columns: Sequence[Span]) -> list[int]:
    """Return the columns that a cell overlaps."""
    return [at for at, (left, right) in enumerate(columns) if word.left < right and word.right > left]


def _new_columns(heads: Sequence[Line], columns: list[Span]) -> list[Span]:
    """Return the columns, with one more for every heading that stands over none of them."""
    lonely = [cell for line in heads for cell in line.cells if not _under(cell, columns)]
    spans = [(cell.left, cell.right) for cell in lonely]
    merged = _columns([Line("", [], [Word("", left, right, 0, 0) for left, right in spans])]) if spans else []
    return sorted([*columns, *merged])


def _put(row: list[str], at: int, text: str, mark: str) -> None:
    row[at] = f"{row[at]}{mark}{text}" if row[at] else text


def _nearest(word: Word, columns: Sequence[Span], among: Sequence[int]) -> int:
    middle = (word.left + word.right) / 2
    return min(among, key=lambda at: max(columns[at][0] - middle, middle - columns[at][1], 0.0))


def _head_row(line: Line, columns: Sequence[Span]) -> list[str]:
    """Return the cells of a line of headings; a heading over several columns is parted by word."""
    row = [""] * len(columns)
    for cell in line.cells:
        over = _under(cell, columns)
        if len(over) == 1:
            _put(row, over[0], cell.text, " ")
            continue
        for word in [word for word in line.words if cell.left <= word.left and word.right <= cell.right]:
            _put(row, _nearest(word, columns, _under(word, columns) or over), word.text, " ")
    return row


def _body_row(line: Line, columns: Sequence[Span]) -> list[str]:
    """Return the cells of a row of numbers; a cell over several columns stays in the first."""
    row = [""] * len(columns)
    for cell in line.cells:
        over = _under(cell, columns)
        _put(row, over[0] if over else _nearest(cell, columns, range(len(columns))), cell.text, APART)
    return row


def _text_row(line: Line, columns: Sequence[Span]) -> list[str]:
    """Return the cells of a line that is no row of the table, beside its columns if there are several."""
    beside = [""] * len(columns) if len(line.cells) > 1 else []
    return [*beside, *(cell.text for cell in line.cells)]


def _names(line: Line) -> bool:
    """Return whether a line reads like headings: two of its cells or words name a role or an analyte."""
    def count(words: Sequence[Word]) -> int:
        """Return how many of some words name a role or an analyte."""
        return sum(bool(roles.of_heading(word.text) or meaning.read_heading(word.text).analyte)
                   for word in words)

    return len(line.cells) > 1 and not _tells(line) and max(count(line.cells), count(line.words)) > 1


def _tells(line: Line) -> bool:
    """Return whether a line is of the form "name: value"."""
    return any(":" in cell.text.strip(" :")[1:] or cell.text.endswith(":") for cell in line.cells)


@dataclass(eq=False)
class Block:
    """Lines before rows of numbers, and those rows with what stands between them."""

    before: list[Line] = field(default_factory=list)
    rows: list[Line] = field(default_factory=list)

    def body(self) -> list[Line]:
        """Return the rows that hold numbers."""
        return [line for line in self.rows if line.is_body]


def _blocks(lines: Sequence[Line]) -> list[Block]:
    """Return the tables of a page; a line under numbers begins another only if it reads like headings."""
    out = [Block()]
    for line in lines:
        if line.is_body and not _names(line):
            out[-1].rows.append(line)
        elif out[-1].rows and _names(line):
            out.append(Block([line]))
        elif out[-1].rows:
            out[-1].rows.append(line)
        else:
            out[-1].before.append(line)
    return out


def _parted(block: Block) -> tuple[list[Line], list[Line]]:
    """Return (lines of text, lines of headings) of what stands before rows of numbers."""
    spans = _columns(block.body())
    below = block.rows[0] if block.rows else None
    count = 0
    for line in reversed(block.before):
        fits = sum(len(_under(cell, spans)) > 0 for cell in line.cells)
        far = below is not None and below.words[0].top - line.words[0].top > FAR * line.words[0].height
        stray = fits * 2 < len(line.cells) and not _names(line)
        if count == HEADER_ROWS or len(line.cells) < 2 or stray or far or _tells(line):
            break
        count, below = count + 1, line
    cut = len(block.before) - count
    return block.before[:cut], block.before[cut:]


def _row(line: Line, columns: Sequence[Span]) -> list[str]:
    """Return the cells of a line among rows of numbers: in its columns, or as a line of text."""
    fits = len(line.cells) > 1 and all(len(_under(cell, columns)) == 1 for cell in line.cells)
    return _body_row(line, columns) if line.is_body or fits else _text_row(line, columns)


def _page_rows(lines: Sequence[Line], known: list[Span]) -> tuple[list[tuple[str, list[str]]], list[Span]]:
    """Return (place, cells) for every line of a page, and the columns last used.

    Rows of numbers without headings of their own stand in the columns of the table before.
    """
    out: list[tuple[str, list[str]]] = []
    for block in _blocks(lines):
        text, heads = _parted(block)
        if known and not any(map(_names, heads)):
            text, heads = block.before, []
        columns = _new_columns(heads, _columns(block.body())) if heads or not known else known
        out += [(line.place, _text_row(line, columns)) for line in text]
        out += [(line.place, _head_row(line, columns)) for line in heads]
        out += [(line.place, _row(line, columns)) for line in block.rows]
        known = columns if block.rows else known
    return out, known


class _Counted(PDFPageAggregatorWithMarkedContent):
    """What takes the marks of a page, up to a limit: a figure may draw others that draw others."""

    drawn = 0

    def _count(self, marks: int = 1) -> None:
        self.drawn += marks
        if self.drawn > limits.MARKS:
            raise ReadError(f"page {self.pageno} draws more than {limits.MARKS:,} letters and lines, and no "
                            "more are read", remedy="Ask the laboratory for the values as a table")

    def render_char(self, *given: Any) -> Any:
        """Take a letter."""
        self._count()
        return super().render_char(*given)

    def paint_path(self, *given: Any) -> None:
        """Take a line."""
        self._count()
        super().paint_path(*given)

    def begin_figure(self, *given: Any) -> None:
        """Take a figure, which costs as much time as several letters."""
        self._count(20)
        super().begin_figure(*given)


def _laid_out(page: Any, document: Any) -> Any:
    """Return a page with its marks taken."""
    device = _Counted(document.rsrcmgr, pageno=page.page_number, laparams=document.laparams)
    PDFPageInterpreter(document.rsrcmgr, device).process_page(page.page_obj)
    page._layout = device.get_result()  # where the page looks first for it
    return page


def _unpacked(raw: bytes, *, file: str) -> None:
    """Refuse a PDF whose parts come to more than a limit when unpacked."""
    size, view = 0, memoryview(raw)
    for start in re.finditer(rb"stream\r?\n", raw):
        size += limits.inflated(view[start.end():], most=limits.PDF_UNPACKED_BYTES)
        if size > limits.PDF_UNPACKED_BYTES:
            raise ReadError(f"it unpacks to more than {limits.PDF_UNPACKED_BYTES:,} bytes and is not read",
                            file=file, remedy="Do not trust a file that you did not ask for")


def _picture(path: Path) -> ReadError:
    return ReadError(f"'{path.name}' is a picture of a report: it has no letters to read", file=path.name,
                     remedy="Ask the laboratory for the file with its text or as a table, or type the values "
                     "into a CSV file.")


def read(path: Path) -> tuple[list[Grid], list[str]]:
    """Return one grid of all pages of a PDF, and what was noticed about the file.

    Raises
    ------
    ReadError
        When the file cannot be opened, is locked, or holds only pictures.
    """
    rows: list[tuple[str, list[str]]] = []
    notes: list[str] = []
    known: list[Span] = []
    for library in ("pdfminer", "pdfplumber"):  # what they remark on the way is told by what is read
        logging.getLogger(library).setLevel(logging.CRITICAL)
    raw = limits.contents(path, most=limits.PDF_BYTES)
    _unpacked(raw, file=path.name)
    try:
        with pdfplumber.open(io.BytesIO(raw)) as document:
            if len(document.pages) > limits.PAGES:
                raise ReadError(f"it has {len(document.pages):,} pages; no more than {limits.PAGES} are read",
                                file=path.name, remedy="Ask the laboratory for the values as a table")
            for page in document.pages:
                lines = _lines(_laid_out(page, document))
                if not lines and page.images:
                    notes.append(f"page {page.page_number} is a picture without letters and was not read")
                found, known = _page_rows(lines, known)
                rows += found
    except SoiltrendError:
        raise
    except Exception as error:  # the library fails on a broken PDF in more ways than can be listed
        raise ReadError(f"the PDF cannot be opened ({type(error).__name__}: {error})", file=path.name,
                        remedy="It may be cut short or locked; ask for it again.") from error
    if not rows:
        raise _picture(path)
    numbers = np.empty(len(rows), dtype=object)
    numbers[:] = [place for place, _ in rows]
    return [Grid(of_rows([row for _, row in rows]), numbers, where="")], notes
