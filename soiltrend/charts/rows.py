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
from soiltrend.charts.style import INK, QUIET, Size, line_height, text_width, wrap
from soiltrend.errors import SoiltrendError
from soiltrend.story import Words

ROW, ROOMY = 1.02, 1.8
"""Least and most height of a row, in lines of body type."""

LOOSE = 1.2
"""Height of a row where the picture may be as high as it needs."""

NARROWEST = 1.0
"""Narrowest scale that can still be read [inches per 11 pt of type]."""


@dataclass(frozen=True)
class Rows:
    """What a chart of rows shows.

    Attributes
    ----------
    table : DataFrame
        One row a mark; holds the columns ``label``, ``said`` (the value in words), ``short``
        (the same for where room is scarce) and ``weight`` (of the type).
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


@dataclass(frozen=True)
class Setting:
    """How the rows are set out, all in inches: the text column used, how many columns of rows."""

    text: str
    columns: int
    each: int
    row: float
    labels: float
    said: float


TICKS = 1.4
"""Height of the tick labels under the rows, in lines of body type."""


def _scale_label(chart: Chart, rows: Rows) -> str:
    return wrap(chart, rows.scale_label, chart.size.body, width=chart.size.width * (1 - 2 * MARGIN))


def _foot(chart: Chart, rows: Rows) -> float:
    """Return the height under the rows: tick labels, scale label, edge [inches]."""
    return (TICKS + 1.3 + _scale_label(chart, rows).count("\n")) * line_height(chart.size.body)


def _columns_width(chart: Chart, table: pd.DataFrame, text: str) -> tuple[float, float]:
    """Return the widths of the label column and of a value column [inches]."""
    pad = 0.6 * chart.size.body / 72
    cells = [zip(table[name], table["weight"], strict=True) for name in ("label", text)]
    widest = [
        max(text_width(chart, word, chart.size.body, bold=weight == "bold") for word, weight in column)
        for column in cells
    ]
    return widest[0] + pad, widest[1] + pad


def _set_out(chart: Chart, rows: Rows, *, top: float) -> Setting:
    """Return the roomiest setting that fits, or say that none does."""
    table, size = rows.table, chart.size
    room = chart.get_size_inches()[1] - top - _foot(chart, rows)
    line = line_height(size.body)
    fit = max(1, int(room / (ROW * line) + 1e-6))
    columns = -(-len(table) // fit)
    each = -(-len(table) // columns)
    for text in ("said", "short"):
        labels, said = _columns_width(chart, table, text)
        scale = size.width * (1 - 2 * MARGIN) / columns - labels - said
        if scale >= NARROWEST * size.body / 11:
            return Setting(text, columns, each, min(room / each, ROOMY * line), labels, said)
    raise SoiltrendError(
        f"{len(table)} rows do not fit a picture of size '{size.name}' in type of {size.body:g} pt",
        remedy="Choose size 'web', or name the beds to show (beds=)",
    )


def _blank(rows: Rows, *, words: Words, size: Size) -> Chart:
    """Return an empty chart of the size's own height, or as high as the rows need."""

    def again(other: Size) -> Chart:
        return draw_rows(rows, words=words, size=other)

    draft = Chart(size, height=size.height or size.width, words=words, data=rows.table, again=again)
    if size.height:
        return draft
    need = header(draft) + len(rows.table) * LOOSE * line_height(size.body) + _foot(draft, rows)
    return Chart(size, height=need, words=words, data=rows.table, again=again)


def _write_row(axes: Axes, at: int, row: dict[str, str], *, pad: float, size: float) -> None:
    """Write a row's label to the left of the scale and its value to the right."""
    for x, text, side in ((-pad, row["label"], "right"), (1 + pad, row["said"], "left")):
        axes.text(
            x,
            -at,
            text,
            transform=axes.get_yaxis_transform(),
            ha=side,
            va="center",
            size=size,
            color=INK,
            weight=row["weight"],
            parse_math=False,
        )


def _column(chart: Chart, rows: Rows, part: pd.DataFrame, *, at: int, setting: Setting, top: float) -> None:
    """Draw one column of rows, the ``at``-th from the left."""
    size, (width, height) = chart.size, chart.get_size_inches()
    each = width * (1 - 2 * MARGIN) / setting.columns
    left = MARGIN * width + at * each + setting.labels
    right = width - MARGIN * width - (at + 1) * each + setting.said
    axes = panel(chart, left=left, right=right, top=top, bottom=height - top - len(part) * setting.row)
    axes.set_xlim(rows.limits)
    axes.set_ylim(-len(part) + 0.5, 0.5)
    axes.set_yticks([])
    axes.locator_params(axis="x", nbins=max(2, int((width - left - right) / (3.2 * size.body / 72))))
    rows.draw(axes, part)
    pad = 0.3 * size.body / 72 / (width - left - right)
    written = part.assign(said=part[setting.text])[["label", "said", "weight"]]
    for line, row in enumerate(written.to_dict("records")):
        _write_row(axes, line, {str(key): str(value) for key, value in row.items()}, pad=pad, size=size.body)


def draw_rows(rows: Rows, *, words: Words, size: Size) -> Chart:
    """Return a chart of rows.

    Raises
    ------
    SoiltrendError
        When the rows do not fit the size at its type size.
    """
    chart = _blank(rows, words=words, size=size)
    top = header(chart)
    if rows.table.empty:
        return chart
    setting = _set_out(chart, rows, top=top)
    for at in range(setting.columns):
        part = rows.table.iloc[at * setting.each : (at + 1) * setting.each].reset_index(drop=True)
        _column(chart, rows, part, at=at, setting=setting, top=top)
    below = (top + setting.each * setting.row + TICKS * line_height(size.body)) / chart.get_size_inches()[1]
    chart.text(
        0.5,
        1 - below,
        _scale_label(chart, rows),
        size=size.body,
        color=QUIET,
        ha="center",
        va="top",
        parse_math=False,
    )
    return chart
