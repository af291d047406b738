"""Saving a chart: the picture, and beside it its alt text, caption and data."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from soiltrend import writing
from soiltrend.charts.chart import Chart
from soiltrend.charts.sign import provenance
from soiltrend.charts.style import size_of
from soiltrend.errors import SoiltrendError

FORMATS = {".png": {"Software": None}, ".svg": {"Date": None}, ".pdf": {"CreationDate": None}}
"""Picture formats, with the metadata left out so that the same chart gives the same bytes."""

TOLD = {
    ".png": ("Title", "Description", "Source"),
    ".svg": ("Title", "Description", "Source"),
    ".pdf": ("Title", "Subject", "Keywords"),
}
"""The metadata of each format that bear headline, alt text and provenance."""


def _metadata(chart: Chart, ending: str) -> dict[str, Any]:
    """Return what is written into the picture's file besides the picture."""
    said = (chart.words.headline, chart.words.alt, provenance(chart))
    return FORMATS[ending] | dict(zip(TOLD[ending], said, strict=True))


def _numbered(path: Path, pictures: int) -> list[Path]:
    """Return the names of a chart's pictures: its own for one, numbered for more."""
    if pictures == 1:
        return [path]
    return [path.with_name(f"{path.stem}_{at}{path.suffix}") for at in range(1, pictures + 1)]


def _earlier(path: Path, files: list[Path]) -> list[Path]:
    """Return pictures of this name that an earlier run needed and this one does not.

    A numbered picture with words of its own beside it is another chart.
    """
    ours = re.compile(rf"{re.escape(path.stem)}(_\d+)?{re.escape(path.suffix)}")
    there = [file for file in path.parent.iterdir() if ours.fullmatch(file.name) and file not in files]
    return [file for file in there if file == path or not file.with_suffix(".txt").exists()]


def _words(chart: Chart) -> str:
    """Return what belongs beside a chart, as text."""
    told = [*chart.words.parts(), ("Provenance", provenance(chart))]
    return "\n\n".join(f"{name}: {text}" for name, text in told) + "\n"


def save_chart(chart: Chart, path: str | Path, *, size: str = "talk") -> tuple[Path, ...]:
    """Write a chart at a size, and what belongs beside it.

    Parameters
    ----------
    chart : Chart
        What a ``chart_*`` function returned.
    path : str or Path
        The picture, ending in .png, .svg or .pdf; its folder is made when it is not there.
    size : str
        "talk" (1920 x 1080 pixels), "web", "newsletter" (one column of A4) or "print" (two
        columns); the chart is drawn anew when it has another size. What does not fit one picture
        in full type is written on several, numbered; under a garden's ``out/``, numbers that an
        earlier run needed and this one does not are removed.

    Returns
    -------
    tuple of Path
        The picture or pictures, the words (``.txt``: headline, subtitle, caption, alt text and
        provenance) and the data (``.csv``).

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
    pictures = [chart] if chart.size == wanted else chart.pages(wanted)
    files = _numbered(path, len(pictures))
    for picture, file in zip(pictures, files, strict=True):
        with writing.aside(file) as fresh:
            picture.savefig(fresh, metadata=_metadata(chart, path.suffix))
    words, data = path.with_suffix(".txt"), path.with_suffix(".csv")
    writing.text(words, _words(chart))
    writing.table(data, chart.data)
    for old in _earlier(path, files):
        writing.withdraw(old)
    return *files, words, data
