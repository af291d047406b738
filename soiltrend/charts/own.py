"""A chart under a headline of the grower's own."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from soiltrend.charts.chart import Chart, rewording
from soiltrend.charts.style import Size
from soiltrend.present import HasTable, Listing
from soiltrend.story import PLAIN, OwnHeadline, Words, headed, own_headline

NEEDED = ("bed", "analyte", "verdict")


def _judged(chart: Chart, text: str, result: HasTable | None) -> OwnHeadline:
    """Return the headline held against the result, or against what the chart shows."""
    shown = result if result is not None else Listing("", chart.data)
    if not all(name in shown.table for name in NEEDED):
        return OwnHeadline(text, pd.DataFrame(), PLAIN.say("own.unknown"))
    beds = list(chart.data["bed"].unique()) if "bed" in chart.data else []
    return own_headline(shown, text=text, bed=str(beds[0]) if len(beds) == 1 else None)


def retitled(chart: Chart, *, text: str, result: HasTable | None = None) -> Chart:
    """Return the chart under another headline, with a warning where the numbers do not carry it.

    Parameters
    ----------
    chart : Chart
        What a ``chart_*`` function returned.
    text : str
        The grower's own headline.
    result : Comparison, Trend ..., optional
        What the headline is held against; by default what the chart shows, which knows nothing of
        the years that a slow measure needs.

    Returns
    -------
    Chart
        Drawn anew. Where the numbers do not carry the headline, its subtitle says so first, the alt text
        says so beside the headline, and caption and refusals give the reason; the headline that was
        there stands among the refusals.

    Raises
    ------
    SoiltrendError
        When the headline is blank.

    Examples
    --------
    >>> from soiltrend import frames
    >>> from soiltrend.charts import chart_change
    >>> from soiltrend.compare import compare
    >>> rows = [{"bed": "East", "season": s, "sampled": d, "analyte": "K", "unit": "mg/kg", "value": v}
    ...         for s, d, v in (("spring 2022", "2022-04-09", 80), ("spring 2024", "2024-04-11", 150))]
    >>> change = compare(frames.results(rows), before="spring 2022", after="spring 2024")
    >>> chart = retitled(chart_change(change, bed="East"), text="More potassium in East", result=change)
    >>> chart.words.headline, "the headline is the grower's own" in chart.words.subtitle
    ('More potassium in East', False)
    """
    found = _judged(chart, text, result)
    remark = "own.subtitle" if len(found.table) else "own.subtitle_unknown"
    tail = PLAIN.say(remark) if found.note else ""
    spoken = "own.alt" if not found.note else "own.alt_bad" if len(found.table) else "own.alt_unknown"

    def change(words: Words) -> Words:
        """Return a chart's words under the grower's headline."""
        return replace(
            words,
            headline=text,
            subtitle="; ".join(part for part in (tail, words.subtitle) if part),
            alt=headed(words, lambda said: PLAIN.say(spoken, {"text": said}), text),
            caption=" ".join(part for part in (words.caption, found.note) if part),
            note=" ".join(part for part in (words.note, found.note) if part),
            refusals=(*([found.note] if found.note else []), *words.refusals),
        )

    def again(size: Size) -> Chart:
        """Return the chart at a size, under that headline."""
        with rewording(change):
            drawn = chart.again(size)
        drawn.again, drawn.pages = again, pages
        return drawn

    def pages(size: Size) -> list[Chart]:
        """Return the chart on as many pictures as it needs, under that headline."""
        with rewording(change):
            drawn = chart.pages(size)
        for page in drawn:
            page.again, page.pages = again, pages
        return drawn

    return again(chart.size)
