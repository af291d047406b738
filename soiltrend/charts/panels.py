"""Charts of panels: one a bed, side by side, set out in inches and all on one scale."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import pandas as pd
from matplotlib.axes import Axes

from soiltrend.charts.chart import MARGIN, Chart, header, names, panel, rule
from soiltrend.charts.sign import sign
from soiltrend.charts.strips import strip_lines
from soiltrend.charts.style import INK, QUIET, Size, isolate, line_height, one_look, ordered, text_width, wrap
from soiltrend.errors import SoiltrendError
from soiltrend.story import Words, with_note

PANEL = {"web": (3, 2.0), "talk": (3, 2.4), "newsletter": (1, 1.25), "print": (3, 1.6)}
"""Panels side by side, and the least height of the drawing part of one [inches], by size."""

LEAST = 0.4
"""How much of that height a panel may lose on a picture of fixed height."""


@dataclass(frozen=True)
class Panels:
    """What a chart of panels shows.

    Attributes
    ----------
    titles : dict of str to str
        The name of each panel, and the line said under it.
    data : DataFrame
        One row a mark, by the bed of its panel.
    label : str
        What is measured, written above the panels.
    draw : callable
        Draws one panel by its name on axes of a width [inches].
    strips : int
        Lines of type kept free between the axis and its years.
    """

    titles: dict[str, str]
    data: pd.DataFrame
    label: str
    draw: Callable[[Axes, str, float], None]
    strips: int = 0


@dataclass(frozen=True)
class Grid:
    """How the panels stand, all in inches: panels side by side, their width, height, and where they begin."""

    across: int
    gap: float
    width: float
    deep: float
    top: float
    head: float
    foot: float

    def edges(self, number: int, chart: Chart) -> dict[str, float]:
        """Return the distances of one panel from the figure's edges."""
        row, column = divmod(number, self.across)
        width, height = chart.get_size_inches()
        left = MARGIN * width + self.gap + column * (self.width + self.gap)
        top = self.top + row * self.deep + self.head
        return {
            "left": left,
            "right": width - left - self.width,
            "top": top,
            "bottom": height - top - (self.deep - self.head - self.foot),
        }


def _title(chart: Chart, title: str, said: str, *, width: float) -> tuple[str, str]:
    """Return the name of a panel and the line under it, broken to a width [inches]."""
    body = chart.size.body
    return wrap(chart, title, body, width=width, bold=True), wrap(chart, said, body, width=width)


def _grid(chart: Chart, panels: Panels, *, top: float) -> Grid | None:
    """Set the panels out: as many side by side as the preset allows and most titles leave room for."""
    size, (width, height) = chart.size, chart.get_size_inches()
    line, gap = line_height(size.body), 3.2 * size.body / 72
    most, least = PANEL[size.name]
    room = width * (1 - 2 * MARGIN)
    widest = max(text_width(chart, said, size.body) for said in panels.titles.values()) + gap
    across = max(1, min(most, len(panels.titles), int(room / widest)))
    each = room / across - gap
    lines = max(
        sum(part.count("\n") + 1 for part in _title(chart, *title, width=each))
        for title in panels.titles.items()
    )
    down = -(-len(panels.titles) // across)
    head, foot = (lines + 0.5) * line, (1.7 + strip_lines(panels.strips, size)) * line
    deep = (height - top - 0.5 * line) / down if size.height else head + least + foot
    if deep - head - foot < LEAST * least:
        return None
    return Grid(across, gap, each, deep, top, head, foot)


def _blank(panels: Panels, *, words: Words, size: Size) -> tuple[Chart, Grid | None]:
    """Return an empty chart of the height the panels need, and how they stand on it."""

    def make(height: float) -> Chart:
        """Return an empty chart of a height."""
        return Chart(
            size,
            height=height,
            words=words,
            data=panels.data,
            again=lambda other: draw_panels(panels, words=words, size=other),
            pages=lambda other: panel_pages(panels, words=words, size=other),
        )

    draft = make(size.height or size.width)
    top = header(draft, extra=panels.label)
    grid = _grid(draft, panels, top=top)
    if size.height or grid is None:
        return draft, grid
    down = -(-len(panels.titles) // grid.across)
    chart = make(top + down * grid.deep + 1.6 * line_height(size.body))
    header(chart, extra=panels.label)
    return chart, grid


def _name(axes: Axes, title: tuple[str, str], *, size: Size) -> None:
    """Write the name of a panel above it, and what is said of it under the name."""
    under = title[1].count("\n")
    lifts = (under + 1.3, 0.3)  # of the last line of each, where a text of several lines has its baseline
    for text, weight, lift in zip(title, ("bold", "normal"), lifts, strict=True):
        axes.annotate(
            text,
            (0, 1),
            xycoords="axes fraction",
            xytext=(0, 1.3 * size.body * lift),
            textcoords="offset points",
            size=size.body,
            weight=weight,
            color=INK,
            va="baseline",
            linespacing=1.25,
            annotation_clip=False,
            parse_math=False,
        )


@one_look()
def draw_panels(panels: Panels, *, words: Words, size: Size) -> Chart:
    """Return a chart of panels.

    Raises
    ------
    SoiltrendError
        When the panels do not fit one picture of the size at its type size.
    """
    chart, grid = _blank(panels, words=words, size=size)
    if grid is None:
        raise SoiltrendError(
            f"{len(panels.titles)} beds do not fit a picture of size '{size.name}' in {size.body:g} pt type",
            remedy="Save it (save_chart and pages go on to as many pictures as it needs), choose size "
            "'web', or name the beds to show (beds=)",
        )
    known = names(chart)
    for number, (title, said) in enumerate(panels.titles.items()):
        axes = panel(chart, **grid.edges(number, chart))
        axes.spines["bottom"].set_visible(True)
        axes.spines["bottom"].set_color(QUIET)
        rule(axes, axis="y")
        axes.tick_params(axis="x", pad=3 + 1.3 * strip_lines(panels.strips, size) * size.body)
        panels.draw(axes, title, grid.width)
        broken = _title(chart, isolate(title, known), said, width=grid.width)
        _name(axes, (ordered(broken[0]), ordered(broken[1])), size=size)
    sign(chart)
    return chart


@one_look()
def panel_pages(panels: Panels, *, words: Words, size: Size) -> list[Chart]:
    """Return the chart on as few pictures as hold it, each saying which of the beds it shows.

    Raises
    ------
    SoiltrendError
        When not even one panel fits.
    """
    titles = list(panels.titles.items())
    for count in range(1, len(titles) + 1):
        each = -(-len(titles) // count)
        parts = [dict(titles[at : at + each]) for at in range(0, len(titles), each)]
        shown = [replace(panels, titles=part) for part in parts]
        told = [
            with_note(words, f"picture {at + 1} of {len(parts)}, {len(part)} of {len(titles)} beds")
            if len(parts) > 1
            else words
            for at, part in enumerate(parts)
        ]
        pairs = list(zip(shown, told, strict=True))
        if all(_blank(part, words=said, size=size)[1] is not None for part, said in pairs):
            break
    return [draw_panels(part, words=said, size=size) for part, said in pairs]
