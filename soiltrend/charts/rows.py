"""Charts whose marks stand in rows: a label, a place on a shared scale, a value in words.

The rows are set out in inches before anything is drawn: how many lines of type fit on the
size asked for, how wide the labels and the value texts are, what is left for the scale. So
texts cannot run into each other; where they do not fit, the chart says so instead.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import pandas as pd
from matplotlib.axes import Axes

from soiltrend.charts.chart import MARGIN, Chart, header, panel
from soiltrend.charts.style import INK, QUIET, Size, line_height, text_width
from soiltrend.errors import SoiltrendError
from soiltrend.story import Words

ROW = 1.15
"""Height of a row in lines of body type."""

NARROWEST = 1.2
"""Narrowest scale that can still be read [inches per 11 pt of type]."""


@dataclass(frozen=True)
class Rows:
    """What a chart of rows shows.

    Attributes
    ----------
    table : DataFrame
        One row a mark; must hold the columns ``label`` and ``said`` (the value in words).
    limits : tuple of float
        The shared scale, from left to right.
    scale_label : str
        What the scale measures.
    draw : callable
        Draws the marks of a part of ``table`` on the axes, row ``i`` at height ``-i``.
    """

    table: pd.DataFrame
    limits: tuple[float, float]
    scale_label: str
    draw: Callable[[Axes, pd.DataFrame], None]


def _foot(size: Size) -> float:
    """Return the height under the rows: tick labels, scale label, edge [inches]."""
    return 2.9 * line_height(size.body) + 0.3 * MARGIN * size.width


def _layout(chart: Chart, table: pd.DataFrame, *, top: float) -> tuple[int, int, float, float]:
    """Return columns, rows in each, and the widths of labels and value texts [inches]."""
    size = chart.size
    pad = 0.6 * size.body / 72
    labels = max(text_width(chart, text, size.body) for text in table["label"]) + pad
    said = max(text_width(chart, text, size.body) for text in table["said"]) + pad
    room = chart.get_size_inches()[1] - top - _foot(size)
    fit = max(1, int(room / (ROW * line_height(size.body)) + 1e-6))
    columns = -(-len(table) // fit)
    each = (size.width * (1 - 2 * MARGIN)) / columns
    if each - labels - said < NARROWEST * size.body / 11:
        raise SoiltrendError(
            f"{len(table)} rows do not fit a picture of size '{size.name}' in type of {size.body:g} pt",
            remedy="Choose size 'web', or show fewer beds or measures.",
        )
    return columns, -(-len(table) // columns), labels, said


def _blank(rows: Rows, *, words: Words, size: Size) -> Chart:
    """Return an empty chart of the size's own height, or as high as the rows need."""

    def again(other: Size) -> Chart:
        return draw_rows(rows, words=words, size=other)

    draft = Chart(size, height=size.height or size.width, words=words, data=rows.table, again=again)
    if size.height:
        return draft
    need = header(draft) + len(rows.table) * ROW * line_height(size.body) + _foot(size)
    return Chart(size, height=need, words=words, data=rows.table, again=again)


def _column(chart: Chart, rows: Rows, part: pd.DataFrame, *, left: float, right: float, top: float) -> None:
    """Draw one column of rows between two edges [inches from left and from right]."""
    size = chart.size
    deep = len(part) * ROW * line_height(size.body)
    axes = panel(chart, left=left, right=right, top=top, bottom=chart.get_size_inches()[1] - top - deep)
    axes.set_xlim(rows.limits)
    axes.set_ylim(-len(part) + 0.5, 0.5)
    axes.set_yticks([])
    rows.draw(axes, part)
    pad = 0.3 * size.body / 72 / (chart.get_size_inches()[0] - left - right)
    for at, (label, said, weight) in enumerate(zip(part["label"], part["said"], part["weight"], strict=True)):
        for x, text, side in ((-pad, label, "right"), (1 + pad, said, "left")):
            axes.text(
                x,
                -at,
                text,
                transform=axes.get_yaxis_transform(),
                ha=side,
                va="center",
                size=size.body,
                color=INK,
                weight=weight,
                parse_math=False,
            )
    axes.set_xlabel(rows.scale_label, size=size.body, color=QUIET, parse_math=False)


def draw_rows(rows: Rows, *, words: Words, size: Size) -> Chart:
    """Return a chart of rows.

    Raises
    ------
    SoiltrendError
        When the rows do not fit the size at its type size.
    """
    table = rows.table if "weight" in rows.table else rows.table.assign(weight="normal")
    chart = _blank(rows, words=words, size=size)
    top = header(chart)
    columns, each, labels, said = _layout(chart, table, top=top)
    edge = MARGIN * size.width
    width = (size.width - 2 * edge) / columns
    for column in range(columns):
        part = table.iloc[column * each : (column + 1) * each].reset_index(drop=True)
        left = edge + column * width
        _column(chart, rows, part, left=left + labels, right=size.width - left - width + said, top=top)
    return chart
