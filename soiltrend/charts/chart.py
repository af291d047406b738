"""A chart: a matplotlib figure that carries its words and its data.

Being a figure it can be saved, shown and changed like any other; being a chart it knows the
headline it bears, the caption and alt text that go beside it, and the table it was drawn
from, so that none of them is lost on the way to a page.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, Literal

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.backend_bases import RendererBase
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from PIL import Image

from soiltrend import frames, present, story
from soiltrend.charts.style import (
    BAND,
    INK,
    QUIET,
    Size,
    faces_of,
    isolate,
    line_height,
    one_look,
    ordered,
    wrap,
)
from soiltrend.errors import SoiltrendError
from soiltrend.story import Words

COLOURS = 64
"""Colours of a picture inside a notebook; a chart has four inks and their blends at the edges."""

MARGIN = 0.03
"""Blank edge of a chart, as a share of its width."""


OWN: ContextVar[Callable[[Words], Words] | None] = ContextVar("own", default=None)
"""What is done to the words of every chart drawn meanwhile; see :func:`rewording`."""


@contextmanager
def rewording(change: Callable[[Words], Words]) -> Iterator[None]:
    """Let every chart that is drawn within bear its words changed, before anything is set out by them."""
    token = OWN.set(change)
    try:
        yield
    finally:
        OWN.reset(token)


LETTERS = "en"
"""The language by whose rules letters are joined; left out, the machine's is taken (Turkish joins no fi)."""


class Chart(Figure):
    """A figure with its words and data.

    Parameters
    ----------
    size : Size
        Width, resolution and type sizes.
    height : float
        Height of the figure [inches].
    words : Words
        Headline, subtitle, caption and alt text.
    data : DataFrame
        What the chart draws, one row a mark.
    again : callable
        Draws the same chart at another size.
    pages : callable, optional
        Draws it at a size on as many pictures as it needs there, each with all its type in full
        size; without it there is one.
    """

    savefig = one_look()(Figure.savefig)

    def __init__(
        self,
        size: Size,
        *,
        height: float,
        words: Words,
        data: pd.DataFrame,
        again: Callable[[Size], Chart],
        pages: Callable[[Size], list[Chart]] | None = None,
    ) -> None:
        super().__init__(figsize=(size.width, height), dpi=size.dpi, facecolor="white")
        FigureCanvasAgg(self)
        self.size = size
        change = OWN.get()
        self.words = change(words) if change else words
        self.data = data
        self.again = again
        self.pages = pages or (lambda other: [again(other)])

    @property
    def bed(self) -> str:
        """The only bed of which the chart draws anything; blank where there are several or none."""
        beds = set(self.data["bed"]) if "bed" in self.data else set()
        return str(beds.pop()) if len(beds) == 1 else ""

    @one_look()
    def draw(self, renderer: RendererBase) -> None:
        """Draw the chart, with letters joined as in one language, whatever the customs of the place are."""
        for text in self.findobj(Text):
            text.set_language(LETTERS)
            text.set_fontfamily(faces_of(text.get_text(), tuple(text.get_fontfamily())))
        super().draw(renderer)

    def _repr_mimebundle_(
        self,
        include: Any = None,  # noqa: ARG002 (IPython's signature)
        exclude: Any = None,  # noqa: ARG002 (IPython's signature)
    ) -> tuple[dict[str, Any], dict[str, Any]]:
        """Show the picture with its alt text wherever a notebook is read."""
        return (
            {"image/png": small_png(self), "text/plain": f"<Chart: {self.words.headline}>"},
            {"image/png": {"alt": self.words.alt}},
        )


def small_png(figure: Figure) -> bytes:
    """Return the figure as a PNG of few colours, a quarter of the size for a notebook to carry."""
    packed, canvas = io.BytesIO(), FigureCanvasAgg(figure)
    canvas.draw()
    drawn = Image.fromarray(np.asarray(canvas.buffer_rgba())).convert("RGB")
    drawn.quantize(COLOURS, method=Image.Quantize.FASTOCTREE).save(packed, format="png", optimize=True)
    return packed.getvalue()


def chart_of(axes: Axes) -> Chart:
    """Return the chart that axes stand on.

    Raises
    ------
    SoiltrendError
        When they stand on a figure of another kind.
    """
    figure = axes.figure
    if not isinstance(figure, Chart):
        raise SoiltrendError(f"these axes stand on a {type(figure).__name__}", remedy="Draw on a Chart")
    return figure


def rule(axes: Axes, *, axis: Literal["x", "y"] = "x") -> None:
    """Draw pale lines across the axes at the ticks of its scale, as thin as its type is small."""
    axes.grid(axis=axis, color=BAND, lw=chart_of(axes).size.body / 14)
    axes.set_axisbelow(True)


def names(chart: Chart) -> set[str]:
    """Return the names of the beds that a chart shows."""
    return set(chart.data["bed"].astype("str")) if "bed" in chart.data else set()


def header(chart: Chart, *, extra: str = "") -> float:
    """Write the headline, and subtitle and ``extra`` under it; return the height they take [inches]."""
    size, (width, height) = chart.size, chart.get_size_inches()
    edge = MARGIN * width
    top = edge
    under = "; ".join(text for text in (extra, chart.words.subtitle) if text).replace(" = ", "\u00a0=\u00a0")
    for text, points, bold, ink in (
        (chart.words.headline, size.title, True, INK),
        (under, size.body, False, QUIET),
    ):
        if not text:
            continue
        broken = wrap(chart, isolate(text, names(chart)), points, width=width - 2 * edge, bold=bold)
        chart.text(
            edge / width,
            1 - top / height,
            ordered(broken),
            size=points,
            color=ink,
            va="top",
            ha="left",
            weight="bold" if bold else "normal",
            linespacing=1.15,
            parse_math=False,
        )
        top += line_height(points) * (broken.count("\n") + 1)
    return float(top + 0.5 * line_height(size.body))


def panel(chart: Chart, *, left: float, right: float, top: float, bottom: float) -> Axes:
    """Return axes set by their distance from the figure's edges [inches], without a frame."""
    width, height = chart.get_size_inches()
    axes = chart.add_axes(
        (left / width, bottom / height, (width - left - right) / width, (height - top - bottom) / height)
    )
    axes.spines[:].set_visible(False)
    axes.tick_params(labelsize=chart.size.body, colors=INK, length=0)
    return axes


def only(table: pd.DataFrame, beds: Sequence[str] | None) -> tuple[pd.DataFrame, str]:
    """Return the rows of the beds to show, in that order, and what to say of it on the chart.

    The garden's own row is kept.

    Raises
    ------
    SoiltrendError
        When one of the beds is not in the table.
    """
    if beds is None:
        return table, ""
    known = [bed for bed in table["bed"].unique() if bed != frames.GARDEN]
    for bed in beds:
        if bed not in known:
            raise SoiltrendError(f"there is no bed '{bed}' to show", remedy="There are: " + ", ".join(known))
    order = {bed: at for at, bed in enumerate([*beds, frames.GARDEN])}
    rows = table[table["bed"].isin(order)]
    rows = rows.assign(order=rows["bed"].map(order)).sort_values("order", kind="stable")
    return rows.drop(columns="order"), f"{len(set(beds))} of {present.counted(len(known), 'bed')} shown"


@one_look()
def only_words(words: Words, size: Size) -> Chart:
    """Return a chart that bears words alone, where there is nothing to draw."""

    def make(height: float) -> Chart:
        """Return the chart at a height."""
        return Chart(
            size,
            height=height,
            words=words,
            data=pd.DataFrame(),
            again=lambda other: only_words(words, other),
        )

    chart = make(size.height or header(make(100.0)) + 1.5 * line_height(size.body))
    header(chart)
    return chart


def measured(analyte: str, *, units: Iterable[str], methods: Iterable[str]) -> str:
    """Return what a scale measures: the measure's name, its unit and its methods; of pH, that it is a log.

    Examples
    --------
    >>> measured("K", units=["mg/kg", "mg/kg"], methods=["Mehlich-3"])
    'potassium [mg/kg], Mehlich-3'
    >>> measured("pH", units=["pH"], methods=["water 1:1"])
    'pH (logarithmic: one unit is tenfold), water 1:1'
    """
    told = [unit for unit in units if unit not in ("", "pH", analyte)]
    unit = " or ".join(dict.fromkeys(story.unit_of(unit) or unit for unit in told))
    method = ", ".join(dict.fromkeys(method for method in methods if method))
    log = " (logarithmic: one unit is tenfold)" if "pH" in analyte else ""
    return story.spoken(analyte) + log + (f" [{unit}]" if unit else "") + (f", {method}" if method else "")
