"""Saving a chart: the picture, and beside it its alt text, caption and data."""

from __future__ import annotations

from pathlib import Path

import matplotlib as mpl

from soiltrend.charts.chart import Chart
from soiltrend.charts.style import size_of
from soiltrend.errors import SoiltrendError

FORMATS = {".png": {"Software": None}, ".svg": {"Date": None}, ".pdf": {"CreationDate": None}}
"""Picture formats, with the metadata left out so that the same chart gives the same bytes."""


def save_chart(chart: Chart, path: str | Path, *, size: str = "talk") -> tuple[Path, ...]:
    """Write a chart at a size, and what belongs beside it.

    Parameters
    ----------
    chart : Chart
        What a ``chart_*`` function returned.
    path : str or Path
        The picture, ending in .png, .svg or .pdf; its folder is made when it is not there.

    size : str
        "talk" (1920 x 1080 pixels), "web", "newsletter" or "print"; the chart is drawn anew
        when it has another size.

    Returns
    -------
    tuple of Path
        The picture, the words (``.txt``: headline, caption, alt text) and the data
        (``.csv``).

    Raises
    ------
    SoiltrendError
        When the ending is none of these, or the size is not known.
    """
    path = Path(path)
    if path.suffix not in FORMATS:
        raise SoiltrendError(
            f"a picture cannot be saved as '{path.name}'",
            remedy="Let the name end in " + ", ".join(FORMATS) + ".",
        )
    wanted = size_of(size)
    chart = chart if chart.size == wanted else chart.again(wanted)
    path.parent.mkdir(parents=True, exist_ok=True)
    with mpl.rc_context({"svg.hashsalt": "soiltrend"}):
        chart.savefig(path, metadata=FORMATS[path.suffix])
    words, data = path.with_suffix(".txt"), path.with_suffix(".csv")
    told = (
        ("Headline", chart.words.headline),
        ("Subtitle", chart.words.subtitle),
        ("Caption", chart.words.caption),
        ("Alt text", chart.words.alt),
    )
    words.write_text("\n\n".join(f"{name}: {text}" for name, text in told) + "\n", encoding="utf-8")
    chart.data.to_csv(data, index=False, lineterminator="\n")
    return path, words, data
