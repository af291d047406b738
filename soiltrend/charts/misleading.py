"""Charts that mislead, on purpose and marked as such: for teaching what the other charts avoid.

Each trick draws a comparison that is there in the numbers and makes it say more than they carry. What
each claims, what is wrong with it and what mends it stand in ``tables/tricks.csv``.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from soiltrend import frames, story, tables, vocabulary
from soiltrend.charts.chart import Chart, only_words
from soiltrend.charts.style import VERMILION, one_look, size_of
from soiltrend.charts.tricks import SHARE, TRICKS, Trick
from soiltrend.compare import Comparison
from soiltrend.errors import SoiltrendError
from soiltrend.story import Words

NUMBERS = ("before", "after", "change", "percent")
ON_PURPOSE = "misleading on purpose"
"""What is written across every such chart, and begins its alt text."""

NEEDS = {
    "shares alone": "trick_shares",
    "picked measures": "trick_measures",
    "two axes": "trick_measures",
}
"""Why a trick that is about more than one measure has nothing to draw, by its key in the story."""


def _compared(comparison: Comparison) -> pd.DataFrame:
    """Return the rows with two numbers, each with the years of its two occasions."""
    table = comparison.table.astype(dict.fromkeys(NUMBERS, float))
    both = np.isfinite(table["before"]) & np.isfinite(table["after"])
    first, last = (_year(text) for text in (comparison.before, comparison.after))
    last = last if last > first else first + 1
    rows: pd.DataFrame = table[both & (table["verdict"] != "not comparable")]
    return rows.assign(
        whole=rows["bed"] == story.whole(comparison),
        year_before=first,
        year_after=last,
        season_before=comparison.before,
        season_after=comparison.after,
    )


def _year(text: str) -> int:
    """Return the year that the name of an occasion bears, 0 where it bears none."""
    found = pd.Series([text]).str.extract(r"(\d{4})")[0].iloc[0]
    return int(found) if isinstance(found, str) else 0


def _words(trick: str, drawn: Trick, comparison: Comparison) -> Words:
    """Return the words of a trick: its claim, and that it misleads, how, and what mends it."""
    row = tables.load("tricks").set_index("trick").loc[trick]
    claim, wrong = (row[name].format_map(drawn.figures) for name in (drawn.claim, "wrong"))
    span = f"{comparison.before} to {comparison.after}"
    return Words(
        claim[:1].upper() + claim[1:] if claim[:2] != "pH" else claim,
        f"{ON_PURPOSE}: {wrong}",
        f"This chart is {ON_PURPOSE}: {wrong}. What mends it: {row['mend']}.",
        f"{ON_PURPOSE.capitalize()}: a chart of {span} in which {wrong}.",
    )


@one_look()
def _stamped(chart: Chart) -> Chart:
    """Return the chart with its mark across it, which stays at every size."""
    again, pages = chart.again, chart.pages
    chart.again = lambda size: _stamped(again(size))
    chart.pages = lambda size: [_stamped(page) for page in pages(size)]
    chart.text(
        0.5,
        0.38,
        ON_PURPOSE,
        size=1.4 * chart.size.title,
        color=VERMILION,
        alpha=0.35,
        rotation=14,
        ha="center",
        va="center",
        weight="bold",
        gid=ON_PURPOSE,
    )
    return chart


def _measure(table: pd.DataFrame, analyte: str) -> str:
    """Return the measure to draw: the one asked for, or the first that is an amount in the soil."""
    if analyte:
        return vocabulary.analytes().get(vocabulary.key(analyte), analyte)
    beds = table[(table["bed"] != frames.GARDEN) & ~table["analyte"].str.endswith(SHARE)]
    return str(beds["analyte"].iloc[0]) if len(beds) else ""


def _of_bed(comparison: Comparison, table: pd.DataFrame, bed: str) -> pd.DataFrame:
    """Return the rows of one bed, which then stands for the whole; all rows when none is named."""
    beds = comparison.table["bed"]
    if bed and bed not in set(beds):
        names = ", ".join(map(str, beds[beds != frames.GARDEN].unique()))
        raise SoiltrendError(f"there is no bed '{bed}' in this comparison", remedy=f"There are: {names}")
    return table[table["bed"] == bed].assign(whole=True) if bed else table


def misleading(comparison: Comparison, *, trick: str, analyte: str = "", bed: str = "",
               size: str = "web") -> Chart:
    """Draw a comparison so that it misleads, marked as such, to be mended before a class.

    Parameters
    ----------
    comparison : Comparison
        What :func:`soiltrend.compare` gave.
    trick : str
        "cut axis", "picked measures", "unlike days", "two dates joined", "shares alone" or "two axes".
    analyte : str
        The measure; the first of the comparison when none is named.
    bed : str
        One bed; all when none is named, and of shares the first bed that has them. ``data`` tells which.
    size : str
        As for :func:`chart_change`.

    Returns
    -------
    Chart
        With "misleading on purpose" across it; its subtitle says what is wrong, its caption what
        mends it. Without marks where the comparison has nothing for the trick.

    Raises
    ------
    SoiltrendError
        When there is no such trick or bed.
    """
    if trick not in TRICKS:
        raise SoiltrendError(f"there is no trick '{trick}'", remedy="There are: " + ", ".join(TRICKS))
    table = _of_bed(comparison, _compared(comparison), bed)
    name = _measure(table, analyte)
    drawn = TRICKS[trick](table, name)
    if drawn is None:
        why = NEEDS.get(trick, "")
        words = story.uncompared_words(comparison, analyte="" if why else name, why=why)
        return only_words(words, size_of(size))
    return _stamped(drawn.draw(_words(trick, drawn, comparison), size_of(size)))
