"""The chart of a blend: how much of each ingredient, and where its C:N takes the heap."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from soiltrend import present, story
from soiltrend.blend import Blend
from soiltrend.charts.bars import FILLED, OPEN, bar, for_reader, span, zero
from soiltrend.charts.chart import Chart, only_words, rule
from soiltrend.charts.rows import Rows, draw_rows
from soiltrend.charts.style import size_of

FREE = "free"


def _ratio(value: float) -> str:
    return present.number(value, digits=2) if np.isfinite(value) else "none"


def _said(row: dict[str, Any]) -> str:
    """Return an ingredient in words: weight, volume, its C:N, and the heap's C:N once it is in."""
    litres = f", {story.amount(row['litres'], 'L', digits=2)}" if np.isfinite(row["litres"]) else ""
    own = f"C:N {_ratio(row['CN'])}" if np.isfinite(row["CN"]) else "no C:N"
    return f"{story.amount(row['kg'], 'kg', digits=2)}{litres};  {own}, heap {_ratio(row['CN_so_far'])}"


def _draw(axes: Axes, part: pd.DataFrame) -> None:
    """Draw the weight of each ingredient: filled where it was given, open where the blend found it."""
    rule(axes)
    for at, row in enumerate(for_reader(part, "kg", unit="kg").to_dict("records")):
        bar(axes, row["kg"], -at, look=OPEN if row["given"] == FREE else FILLED)
    zero(axes)


def chart_blend(blend: Blend, *, size: str = "web") -> Chart:
    """Draw a mixture: how much of each ingredient, and the C:N of the heap on its way.

    Parameters
    ----------
    blend : Blend
        What :func:`soiltrend.blend` gave.
    size : str
        As for :func:`chart_change`.

    Returns
    -------
    Chart
        Bars from zero [kg, wet]: filled what was given, open what the blend found. Beside each its
        own C:N and that of the heap with it and all above it, the last being that of the mixture.
    """
    words = story.blend_words(blend)
    table = blend.table[blend.table["kg"] > 0]
    if table.empty:
        return only_words(words, size_of(size))
    with np.errstate(divide="ignore", invalid="ignore"):
        heap = table["C_kg"].fillna(0).cumsum() / table["N_kg"].fillna(0).cumsum()
    table = table.assign(CN_so_far=heap.replace([np.inf, -np.inf], np.nan))
    records = [{str(key): value for key, value in row.items()} for row in table.to_dict("records")]
    table = table.assign(
        label=table["material"],
        said=[_said(row) for row in records],
        short=[f"{story.amount(row['kg'], 'kg', digits=2)}, C:N {_ratio(row['CN'])}" for row in records],
        weight="normal",
    )
    label = f"{story.unit_of('kg')}, wet; \u25a0\u00a0given, \u25a1\u00a0found; heap: C:N with all above it"
    limits = span(table["kg"] * story.factor_of("kg"))
    return draw_rows(Rows(table, limits, label, _draw), words=words, size=size_of(size))
