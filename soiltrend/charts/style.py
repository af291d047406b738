"""One look for every chart: inks, sizes in real units, and text that is measured before it is set.

Two inks carry the message: blue for before, vermilion for after, from the set of Okabe and
Ito that eyes of every kind can tell apart; both keep a contrast of at least 3:1 on white.
Open and filled marks say the same thing again without colour.
"""

from __future__ import annotations

import re
import unicodedata
import warnings
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache

import matplotlib as mpl
from matplotlib import style
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, fontManager, get_font, get_font_names

from soiltrend.errors import SoiltrendError

BLUE = "#0072B2"
VERMILION = "#D55E00"
INK = "#1A1A1A"
QUIET = "#595959"
BAND = "#E3E3E3"
TYPEFACE = "DejaVu Sans"
"""The typeface of every chart, which comes with matplotlib."""

BOXES = "Last Resort High-Efficiency"
"""The typeface in which matplotlib draws a box for each letter that no other has."""

POINTS_PER_INCH = 72.0
APART = ("\u2068", "\u2069")
FROM_LEFT = "\u200e"
"""Signs of the Unicode bidirectional algorithm (UAX 9): what stands between the first two is ordered for
itself; a line that begins with the last is read from the left."""


@dataclass(frozen=True)
class Size:
    """A picture size with the smallest type that reads at it.

    Attributes
    ----------
    width, height : float
        In inches; a height of 0 grows with the rows of the chart.
    dpi : int
        Pixels per inch of the saved picture.
    body, title : float
        Type sizes [pt]; nothing on the chart is smaller than ``body``.
    """

    name: str
    width: float
    height: float
    dpi: int
    body: float
    title: float


SIZES = {
    size.name: size
    for size in (
        Size("talk", 1920 / 144, 1080 / 144, 144, 24.0, 32.0),  # 1920 x 1080 pixels, read from the back row
        Size("web", 9.6, 0.0, 125, 11.0, 16.0),  # 1200 pixels wide
        Size("newsletter", 8.4 / 2.54, 0.0, 300, 8.0, 10.0),  # one column of A4
        Size("print", 17.4 / 2.54, 0.0, 300, 9.0, 12.0),  # two columns of A4
    )
}


def size_of(name: str) -> Size:
    """Return a size by name.

    Raises
    ------
    SoiltrendError
        When there is no such size.

    Examples
    --------
    >>> size_of("talk").body
    24.0
    """
    if name not in SIZES:
        raise SoiltrendError(
            f"'{name}' is not a picture size known here", remedy="Known sizes: " + ", ".join(SIZES)
        )
    return SIZES[name]


@contextmanager
def one_look() -> Iterator[None]:
    """Draw by matplotlib's own settings and our typeface, whatever the machine's matplotlibrc says.

    A typeface that was chosen there (``font.family``) serves before others for letters that ours lacks.
    """
    there = get_font_names()
    faces = [name for name in dict.fromkeys([TYPEFACE, *mpl.rcParams["font.family"]]) if name in there]
    ours = style.context(["default", {"font.family": faces, "svg.hashsalt": "soiltrend"}])
    with ours, warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing from")  # told with a remedy
        yield


@lru_cache(maxsize=8)
def _letters(faces: tuple[str, ...]) -> frozenset[int]:
    """Return the codes of all letters that some typefaces have."""
    files = (findfont(FontProperties(family=[face])) for face in faces)
    return frozenset().union(*(get_font(file).get_charmap() for file in files))


def faces_of(text: str, faces: tuple[str, ...]) -> tuple[str, ...]:
    """Return the typefaces to set a text in: those given, and others that have the letters they lack."""
    strange = {sign for sign in set(text) if ord(sign) not in _letters(faces)}
    lacking = frozenset(sign for sign in strange if unicodedata.category(sign)[0] not in "CZ")
    return faces + _others(lacking) if lacking else faces


def _found(letters: frozenset[str], file: str) -> frozenset[str]:
    """Return which letters a typeface's file has: none when it is gone since matplotlib made its list."""
    try:
        return frozenset(sign for sign in letters if get_font(file).get_char_index(ord(sign)))
    except (OSError, RuntimeError):
        return frozenset()


@lru_cache(maxsize=256)
def _others(letters: frozenset[str]) -> tuple[str, ...]:
    """Return as few typefaces of this machine as have the letters; warn, once, of those that none has."""
    upright = sorted({(one.name, one.fname) for one in fontManager.ttflist if one.style == "normal"})
    has = [(name, _found(letters, file)) for name, file in upright if name != BOXES]
    faces: list[str] = []
    left = letters
    while any(known & left for _, known in has):
        name, known = max(has, key=lambda one: len(one[1] & left))
        faces, left = [*faces, name], left - known
    if left:
        warnings.warn_explicit(
            f"boxes stand for {' '.join(sorted(left))}: no typeface that matplotlib knows here has them. "
            "Install one, remove its list of them (matplotlib.get_cachedir() says where), and draw again",
            UserWarning,
            filename="chart",  # what a page shows before it, and no place in our code
            lineno=1,
        )
    return tuple(faces)


def text_width(fig: Figure, text: str, points: float, *, bold: bool = False) -> float:
    """Return the width of a text as set on the figure [inches]."""
    faces, dpi = faces_of(text, tuple(mpl.rcParams["font.family"])), float(fig.dpi)
    return max((_line_width(line, points, bold, dpi, faces) for line in text.split("\n")), default=0.0)


@lru_cache(maxsize=1 << 14)
def _line_width(line: str, points: float, bold: bool, dpi: float, faces: tuple[str, ...]) -> float:
    """Return the width of a line of type [inches]; the same few texts are measured again and again."""
    font = FontProperties(family=faces, size=points, weight="bold" if bold else "normal")
    return float(_measure(dpi).get_text_width_height_descent(line, font, ismath=False)[0]) / dpi


@lru_cache(maxsize=8)
def _measure(dpi: float) -> RendererAgg:
    """Return what measures type at a resolution."""
    return RendererAgg(1, 1, dpi)


def wrap(fig: Figure, text: str, points: float, *, width: float, bold: bool = False) -> str:
    """Return the text broken into lines no wider than ``width`` [inches], a word only where it must be.

    A no-break space holds together what it stands in.
    """
    lines: list[str] = []
    for word in text.replace("\n", " ").split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(fig, longer, points, bold=bold) <= width:
            lines[-1] = longer
            continue
        if text_width(fig, word, points, bold=bold) <= width:
            lines.append(word)
            continue
        lines.append("")
        for letter in word:
            if lines[-1] and text_width(fig, lines[-1] + letter, points, bold=bold) > width:
                lines.append("")
            lines[-1] += letter
    return "\n".join(lines)


def is_right_to_left(text: str) -> bool:
    """Return whether the text holds letters that are read from the right, as Hebrew and Arabic are.

    Examples
    --------
    >>> is_right_to_left("bed 3"), is_right_to_left("\u05de\u05d6\u05e8\u05d7 3")
    (False, True)
    """
    return any(unicodedata.bidirectional(letter) in ("R", "AL") for letter in text)


def isolate(text: str, names: Iterable[str]) -> str:
    """Return the text with the names that are read from the right set apart from what stands around them.

    Without it the numbers after such a name are drawn into it: matplotlib orders each line by the Unicode
    bidirectional algorithm (from 3.11), which takes a digit after a Hebrew letter for a part of the word.
    """
    for name in sorted({name for name in names if is_right_to_left(name)}, key=len, reverse=True):
        text = re.sub(rf"(?<!{APART[0]}){re.escape(name)}", f"{APART[0]}{name}{APART[1]}", text)
    return text


def ordered(text: str) -> str:
    """Return a broken text whose lines are each read from the left, and whose set-apart names each close."""
    if not is_right_to_left(text):
        return text
    lines, still = [], 0
    for line in text.split("\n"):
        opened = still + line.count(APART[0])
        still = opened - line.count(APART[1])
        lines.append(FROM_LEFT + APART[0] * (opened - line.count(APART[0])) + line + APART[1] * still)
    return "\n".join(lines)


def line_height(points: float) -> float:
    """Return the height of a line of text [inches], with its leading."""
    return 1.3 * points / POINTS_PER_INCH
