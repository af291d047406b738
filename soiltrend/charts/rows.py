"""Charts whose marks stand in rows: a label, a place on a shared scale, a value in words.

The rows are set out in inches before anything is drawn: how many lines of type fit on the
size asked for, how wide the labels and the value texts are, what is left for the scale. So
texts cannot run into each other; where the rows do not fit one picture, they go on as many as
they need, and the type stays as large as it was.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import pandas as pd
from matplotlib.axes import Axes

from soiltrend.charts.chart import MARGIN, Chart, header, names, panel
from soiltrend.charts.sign import sign
from soiltrend.charts.style import INK, QUIET, Size, isolate, line_height, one_look, ordered, text_width, wrap
from soiltrend.errors import SoiltrendError
from soiltrend.story import Words, with_note

ROW, ROOMY = 1.02, 1.8
"""Least and most height of a row, in lines of body type."""

ROOMIER = 3.2
"""Most height of a row where the height of the picture is given: a slide of two rows is not left empty."""

LOOSE = 1.2
"""Height of a row where the picture may be as high as it needs."""

NARROWEST = 1.0
"""Narrowest scale that can still be read [inches per 11 pt of type]."""

LABELS = 0.34
"""Widest column of labels that are broken into lines, as a share of the width there is."""

TICKS = 1.4
"""Height of the tick labels under the rows, in lines of body type."""


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
    """How the rows are set out, all in inches.

    The text column used, how many columns of rows with how many rows each, the height of a row, the
    widths of labels and of values, and the labels as they are broken.
    """

    text: str
    columns: int
    each: int
    row: float
    labels: float
    said: float
    broken: list[str]


def _scale_label(chart: Chart, rows: Rows) -> str:
    return wrap(chart, rows.scale_label, chart.size.body, width=chart.size.width * (1 - 2 * MARGIN))


def _foot(chart: Chart, rows: Rows) -> float:
    """Return the height under the rows: tick labels, scale label, line of provenance, edge [inches]."""
    lines = TICKS + 1.3 + _scale_label(chart, rows).count("\n") + (0 if chart.size.height else 1.1)
    return lines * line_height(chart.size.body)


def _width(chart: Chart, texts: list[str], weights: pd.Series) -> float:
    """Return the width of a column of texts with its padding [inches]."""
    widest = max(
        text_width(chart, text, chart.size.body, bold=weight == "bold")
        for text, weight in zip(texts, weights, strict=True)
    )
    return widest + 0.6 * chart.size.body / 72


def _ways(chart: Chart, table: pd.DataFrame) -> Iterator[tuple[str, list[str]]]:
    """Yield the ways to write the rows, the fullest first: values in words or short, labels broken or not."""
    plain = table["label"].tolist()
    room = LABELS * chart.size.width * (1 - 2 * MARGIN)
    broken = [
        wrap(chart, text, chart.size.body, width=room, bold=weight == "bold")
        for text, weight in zip(plain, table["weight"], strict=True)
    ]
    for text in ("said", "short"):
        yield text, plain
        yield text, broken


def _set_out(chart: Chart, rows: Rows, *, top: float) -> Setting | None:
    """Return the roomiest setting that fits, or nothing where none does."""
    table, size = rows.table, chart.size
    line = line_height(size.body)
    room = chart.get_size_inches()[1] - top - _foot(chart, rows)
    for text, labels in _ways(chart, table):
        high = max(label.count("\n") for label in labels) + 1
        fit = int(room / (ROW * high * line) + 1e-6)
        if fit < 1:
            continue
        columns = -(-len(table) // fit)
        each = -(-len(table) // columns)
        wide, said = (_width(chart, column, table["weight"]) for column in (labels, table[text].tolist()))
        scale = size.width * (1 - 2 * MARGIN) / columns - wide - said
        if scale >= NARROWEST * size.body / 11:
            roomy = ROOMIER if size.height else ROOMY
            row = min(room / each, max(roomy, (LOOSE + high - 1)) * line)
            return Setting(text, columns, each, row, wide, said, labels)
    return None


def _blank(rows: Rows, *, words: Words, size: Size) -> Chart:
    """Return an empty chart of the size's own height, or as high as the rows need."""

    def make(height: float) -> Chart:
        """Return an empty chart of a height."""
        return Chart(
            size,
            height=height,
            words=words,
            data=rows.table,
            again=lambda other: draw_rows(rows, words=words, size=other),
            pages=lambda other: row_pages(rows, words=words, size=other),
        )

    draft = make(size.height or 100.0)
    if size.height or rows.table.empty:
        return draft if size.height else make(header(draft) + 2 * line_height(size.body))
    top = header(draft)
    setting = _set_out(draft, rows, top=top)
    lines = 1 if setting is None else 1 + max(label.count("\n") for label in setting.broken)
    each = LOOSE + lines - 1
    return make(top + len(rows.table) * each * line_height(size.body) + _foot(draft, rows))


def _write_row(axes: Axes, at: int, row: dict[str, str], *, pad: float, size: float) -> None:
    """Write a row's label to the left of the scale and its value to the right."""
    for x, text, side in ((-pad, row["label"], "right"), (1 + pad, row["said"], "left")):
        axes.text(
            x,
            -at,
            text,
            transform=axes.get_yaxis_transform(),
            ha=side,
            va="center" if "\n" in text else "center_baseline",
            size=size,
            color=INK,
            weight=row["weight"],
            linespacing=1.1,
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


def _labelled(chart: Chart, table: pd.DataFrame, broken: list[str]) -> pd.DataFrame:
    """Return the table with its labels as they are broken, each line ordered for itself."""
    known = names(chart)
    return table.assign(label=[text if text in known else ordered(isolate(text, known)) for text in broken])


@one_look()
def draw_rows(rows: Rows, *, words: Words, size: Size) -> Chart:
    """Return a chart of rows.

    Raises
    ------
    SoiltrendError
        When the rows do not fit one picture of the size at its type size.
    """
    chart = _blank(rows, words=words, size=size)
    top = header(chart)
    if rows.table.empty:
        return chart
    setting = _set_out(chart, rows, top=top)
    if setting is None:
        raise SoiltrendError(
            f"{len(rows.table)} rows do not fit a picture of size '{size.name}' in type of {size.body:g} pt",
            remedy="Save it (save_chart and pages go on to as many pictures as it needs), choose size "
            "'web', or name the beds to show (beds=)",
        )
    table = _labelled(chart, rows.table, setting.broken)
    for at in range(setting.columns):
        part = table.iloc[at * setting.each : (at + 1) * setting.each].reset_index(drop=True)
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
    sign(chart)
    return chart


def _fits(rows: Rows, *, words: Words, size: Size) -> bool:
    chart = _blank(rows, words=words, size=size)
    return _set_out(chart, rows, top=header(chart)) is not None


@one_look()
def row_pages(rows: Rows, *, words: Words, size: Size) -> list[Chart]:
    """Return the chart on as few pictures as hold it, each saying which part of the rows it shows.

    Raises
    ------
    SoiltrendError
        When not even one row fits.
    """
    table = rows.table
    for count in range(1, max(1, len(table)) + 1):
        each = -(-len(table) // count)
        parts = [table.iloc[at : at + each] for at in range(0, len(table), each)] if len(table) else [table]
        told = [with_note(words, _part_note(at, parts)) if count > 1 else words for at in range(len(parts))]
        pages = [replace(rows, table=part) for part in parts]
        if table.empty or all(
            _fits(page, words=said, size=size) for page, said in zip(pages, told, strict=True)
        ):
            break
    return [draw_rows(page, words=said, size=size) for page, said in zip(pages, told, strict=True)]


def _part_note(at: int, parts: list[pd.DataFrame]) -> str:
    """Return which part of the rows a picture shows ("picture 2 of 3, rows 9 to 16 of 22")."""
    first = sum(len(part) for part in parts[:at])
    total = sum(map(len, parts))
    last = first + len(parts[at])
    lines = f"line {last}" if last == first + 1 else f"lines {first + 1} to {last}"
    return f"picture {at + 1} of {len(parts)}, {lines} of {total}"
