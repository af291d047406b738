"""The handout: one page that prints on A4 and Letter alike."""

from __future__ import annotations

from pathlib import Path

from soiltrend import writing
from soiltrend.charts import Chart, chart_change
from soiltrend.garden import Garden
from soiltrend.handouts.gather import Picture, Told, charts_of, comparison_of, filled, pictures
from soiltrend.story import PLAIN, Voice, in_brief

ALONE, BESIDE = "print", "newsletter"
"""Sizes of a chart that has the width of the page, and of charts that stand side by side."""

TALLEST = 1.7
"""Height over width up to which a chart stands in one of two columns; a taller one takes the page's width."""


def _placed(chart: Chart, *, alone: bool) -> tuple[str, list[Picture]]:
    """Return how a chart stands on the page and its pictures: "narrow" beside another, or "wide"."""
    if not alone:
        found = pictures(chart, size=BESIDE)
        if len(found) == 1 and found[0].height <= TALLEST * found[0].width:
            return "narrow", found
    return "wide", pictures(chart, size=ALONE)


def handout(told: Told, path: str | Path, *, title: str = "", voice: Voice = PLAIN) -> Path:
    """Write a handout: a page that prints on A4 and Letter, without the internet.

    Parameters
    ----------
    told : Chart, Gallery, sequence of Chart, or Garden
        One chart has the page to itself, more stand in two columns. Of a garden the change since its
        first test of a kind is told, with a sentence for each bed.
    path : str or Path
        The page, such as ``garden.path / "out" / "handout.html"``.
    title : str
        Its heading; by default the garden's name or the headline.
    voice : Voice
        Language and units of the words around the charts.

    Returns
    -------
    Path
        Where it was written. The same charts give the same bytes.

    Raises
    ------
    SoiltrendError
        When there is no chart, or the path cannot be written to.

    Examples
    --------
    >>> import tempfile
    >>> from soiltrend import frames
    >>> from soiltrend.charts import chart_change
    >>> from soiltrend.compare import compare
    >>> rows = [{"bed": "East", "season": s, "sampled": d, "analyte": "K", "unit": "mg/kg", "value": v}
    ...         for s, d, v in (("spring 2022", "2022-04-09", 80), ("spring 2024", "2024-04-11", 150))]
    >>> change = compare(frames.results(rows), before="spring 2022", after="spring 2024")
    >>> path = Path(tempfile.mkdtemp()) / "handout.html"
    >>> handout(chart_change(change, bed="East"), path).read_text(encoding="utf-8")[:15]
    '<!DOCTYPE html>'
    """
    comparison = comparison_of(told) if isinstance(told, Garden) else None
    charts = [chart_change(comparison)] if comparison else charts_of(told)
    named = told.name if isinstance(told, Garden) else ""
    values: dict[str, object] = {
        "title": title or named or charts[0].words.headline,
        "charts": [_placed(chart, alone=len(charts) == 1) for chart in charts],
        "beds": in_brief(comparison, voice=voice) if comparison else [],
        "most_refusals": 4 if len(charts) == 1 and not named else 2,
    }
    path = Path(path)
    writing.text(path, filled("handout.html.j2", values, voice=voice))
    return path
