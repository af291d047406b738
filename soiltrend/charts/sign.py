"""Where a chart comes from: a hash of its data, the version that drew it, the newest sample in it.

The clock of the day is left out, so that the same data give the same picture, byte by byte.
"""

from __future__ import annotations

import hashlib

import pandas as pd

from soiltrend import __version__, frames
from soiltrend.charts.chart import MARGIN, Chart
from soiltrend.charts.style import QUIET, line_height, text_width

DAYS = ("sampled", "last", "end")
SEASONS = ("season_after", "season")
DIGITS = "%.6g"
"""Six digits are hashed: more than a test can carry, fewer than two machines can differ by."""


def written(data: pd.DataFrame) -> str:
    """Return the data of a chart as CSV text, as it is hashed."""
    return data.to_csv(index=False, lineterminator="\n", float_format=DIGITS)


def newest(data: pd.DataFrame) -> str:
    """Return the day or the season of the newest sample in the data, or "" where none is told.

    Examples
    --------
    >>> newest(pd.DataFrame({"season_after": ["spring 2022", "autumn 2026"]}))
    'autumn 2026'
    >>> newest(pd.DataFrame({"last": pd.to_datetime(["2026-10-14", "2025-04-02"])}))
    '2026-10-14'
    """
    for column in DAYS:
        if (
            column in data
            and pd.api.types.is_datetime64_any_dtype(data[column])
            and data[column].notna().any()
        ):
            return f"{data[column].max():%Y-%m-%d}"
    for column in SEASONS:
        if column in data and len(data):
            named = pd.DataFrame({"season": data[column].astype("str"), "sampled": pd.NaT})
            return frames.seasons(named)[-1] if (named["season"] != "").any() else ""
    return ""


def _parts(chart: Chart) -> tuple[str, str, str]:
    """Return hash, version and newest sample, each as it is said."""
    mark = hashlib.sha256(written(chart.data).encode()).hexdigest()[:8]
    when = newest(chart.data)
    return f"data {mark}", f"soiltrend {__version__}", f"newest sample {when}" if when else ""


def provenance(chart: Chart) -> str:
    """Return where a chart comes from, in one line."""
    return ", ".join(part for part in _parts(chart) if part)


def sign(chart: Chart) -> None:
    """Write where the chart comes from along its lower edge, as much as fits where a line is kept for it."""
    width, height = chart.get_size_inches()
    size, (mark, version, when) = chart.size, _parts(chart)
    ways = [
        ", ".join(part for part in parts if part) for parts in ((mark, version, when), (mark, when), (mark,))
    ]
    text = next((way for way in ways if text_width(chart, way, size.body) <= width * (1 - 2 * MARGIN)), "")
    if size.height or not text:
        return
    chart.text(
        1 - MARGIN,
        0.35 * line_height(size.body) / height,
        text,
        size=size.body,
        color=QUIET,
        ha="right",
        va="bottom",
        parse_math=False,
    )
