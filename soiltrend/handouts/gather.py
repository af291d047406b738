"""What goes onto a page or into a set of slides: charts as given, or a garden's own."""

from __future__ import annotations

import base64
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import jinja2

from soiltrend.charts import Chart, Gallery, chart_change
from soiltrend.charts.chart import small_png
from soiltrend.charts.style import size_of
from soiltrend.compare import Comparison
from soiltrend.errors import SoiltrendError
from soiltrend.garden import Garden
from soiltrend.latest import compare_latest
from soiltrend.prepare import garden_noise, prepared
from soiltrend.present import page
from soiltrend.story import Voice, Words
from soiltrend.story.voice import language_of

Told = Chart | Gallery | Garden | Iterable[Chart]
"""What can be told: one chart, several, or a garden."""

SHOWN = (
    "bed",
    "analyte",
    "ratio",
    "nutrient",
    "material",
    "method",
    "unit",
    "before",
    "after",
    "change",
    "low",
    "high",
    "put_in",
    "observed",
    "now",
    "aim",
    "kg",
    "n",
    "slope_per_year",
    "verdict",
    "flag",
    "said",
)
"""Columns of a chart's data that a reader is shown, where they are there."""


@dataclass(frozen=True)
class Picture:
    """One picture as it stands on a page.

    Attributes
    ----------
    words : Words
        What belongs beside it.
    source : str
        The picture itself, as a data URL.
    part, parts : int
        Which of how many pictures of its chart it is.
    width, height : int
        In pixels.
    table : str
        The numbers as HTML, escaped.
    """

    words: Words
    source: str
    part: int
    parts: int
    width: int
    height: int
    table: str


def comparison_of(garden: Garden) -> Comparison:
    """Return the latest season of a garden beside the earliest that can stand beside it."""
    results = prepared(garden)
    noise = garden_noise(garden, results=results)
    return compare_latest(results, longest=True, noise=noise)


def charts_of(told: Told) -> list[Chart]:
    """Return the charts to tell; of a garden, that of what changed since its first test of a kind.

    Raises
    ------
    SoiltrendError
        When there is none, or one of them is no chart.
    """
    if isinstance(told, Garden):
        return [chart_change(comparison_of(told))]
    charts = [told] if isinstance(told, Chart) else list(told)
    for chart in charts:
        if not isinstance(chart, Chart):
            raise SoiltrendError(
                f"{type(chart).__name__} {str(chart)[:40]!r} is no chart",
                remedy="Give what a chart_ function returned",
            )
    if not charts:
        raise SoiltrendError(f"there is no chart to tell in {told!r}", remedy="Give at least one")
    return charts


def _table(chart: Chart) -> str:
    columns = [name for name in SHOWN if name in chart.data]
    return page(chart.words.headline, chart.data[columns]) if columns else ""


def pictures(chart: Chart, *, size: str) -> list[Picture]:
    """Return a chart's pictures at a size: one, or more where not all of it fits one in full type."""
    drawn = chart.pages(size_of(size))
    out = []
    for part, shown in enumerate(drawn, start=1):
        png = small_png(shown)
        width, height = (round(side * shown.size.dpi) for side in shown.get_size_inches())
        source = "data:image/png;base64," + base64.b64encode(png).decode("ascii")
        table = _table(chart) if part == 1 else ""
        out.append(Picture(chart.words, source, part, len(drawn), width, height, table))
    return out


@lru_cache(maxsize=None)
def _templates() -> jinja2.Environment:
    return jinja2.Environment(
        loader=jinja2.FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def filled(template: str, values: dict[str, object], *, voice: Voice) -> str:
    """Return a template of this room with its slots filled, every text escaped."""
    say = {"say": voice.say, "counted": voice.counted, "language": language_of(voice)}
    return _templates().get_template(template).render(say | values)
