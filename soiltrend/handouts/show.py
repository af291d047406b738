"""Slides: one file that is shown from a stick, with notes for the speaker."""

from __future__ import annotations

from pathlib import Path

from soiltrend import writing
from soiltrend.garden import Garden
from soiltrend.handouts.gather import Told, charts_of, filled, pictures
from soiltrend.story import PLAIN, Voice

SIZE = "talk"
"""1920 x 1080 pixels, nothing below 24 pt."""


def slides(told: Told, path: str | Path, *, title: str = "", voice: Voice = PLAIN) -> Path:
    """Write a set of slides as one file that needs no internet.

    Parameters
    ----------
    told : Chart, Gallery, sequence of Chart, or Garden
        What is shown, a slide a picture of 1920 x 1080 pixels; a chart that does not fit one in type
        of 24 pt takes more.
    path : str or Path
        The file, such as ``garden.path / "out" / "slides.html"``.
    title : str
        On the first slide; by default the garden's name or the first headline.
    voice : Voice
        Language and units of the words around the charts.

    Returns
    -------
    Path
        Where it was written. The same charts give the same bytes. Arrow keys, space, Page Up and Page
        Down turn the slides, N shows and hides the speaker's notes; without scripts, and in
        print, the slides stand one under another with their notes.

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
    >>> path = Path(tempfile.mkdtemp()) / "slides.html"
    >>> slides(chart_change(change, bed="East"), path).read_text(encoding="utf-8")[:15]
    '<!DOCTYPE html>'
    """
    charts = charts_of(told)
    named = told.name if isinstance(told, Garden) else ""
    values: dict[str, object] = {
        "title": title or named or charts[0].words.headline,
        "pictures": [picture for chart in charts for picture in pictures(chart, size=SIZE)],
    }
    path = Path(path)
    writing.text(path, filled("slides.html.j2", values, voice=voice))
    return path
