"""One look for every chart: inks, sizes in real units, and text that is measured before it is set.

Two inks carry the message: blue for before, vermilion for after, from the set of Okabe and
Ito that eyes of every kind can tell apart; both keep a contrast of at least 3:1 on white.
Open and filled marks say the same thing again without colour.
"""

from __future__ import annotations

from dataclasses import dataclass

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties

from soiltrend.errors import SoiltrendError

BLUE = "#0072B2"
VERMILION = "#D55E00"
INK = "#1A1A1A"
QUIET = "#595959"
BAND = "#E3E3E3"
POINTS_PER_INCH = 72.0


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


def text_width(fig: Figure, text: str, points: float, *, bold: bool = False) -> float:
    """Return the width of a text as set on the figure [inches]."""
    canvas = fig.canvas if isinstance(fig.canvas, FigureCanvasAgg) else FigureCanvasAgg(fig)
    font = FontProperties(size=points, weight="bold" if bold else "normal")
    lines = text.split("\n")
    widths = [
        canvas.get_renderer().get_text_width_height_descent(line, font, ismath=False)[0] for line in lines
    ]
    return float(max(widths, default=0.0)) / fig.dpi


def wrap(fig: Figure, text: str, points: float, *, width: float, bold: bool = False) -> str:
    """Return the text broken into lines no wider than ``width`` [inches]."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(fig, longer, points, bold=bold) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return "\n".join(lines)


def line_height(points: float) -> float:
    """Return the height of a line of text [inches], with its leading."""
    return 1.3 * points / POINTS_PER_INCH
