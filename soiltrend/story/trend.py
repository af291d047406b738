"""A trend in words: one measure over the years."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from soiltrend import frames, present
from soiltrend.story.core import Words, layer, listed, nothing_words, sentence, spoken
from soiltrend.trend import FALLING, RISING, TOO_FEW, Trend


def trend_said(row: dict[str, Any]) -> str:
    """Return one trend in a few words: verdict, and how much a year."""
    if row["verdict"] == TOO_FEW or not np.isfinite(row["slope_per_year"]):
        return str(row["verdict"])
    rate = row["percent_per_year"]
    unit = "points" if row["unit"] == "%" else row["unit"]
    amount = f"{rate:+.1f} %" if np.isfinite(rate) else f"{row['slope_per_year']:+.2g} {unit}"
    return f"{row['verdict']}, {amount} a year".replace("-", "\u2212")


def trend_headline(trend: Trend, *, analyte: str) -> str:
    """Return where one measure is going over the beds, in one sentence that the verdicts carry.

    A bed counts as rising or falling when its trend stands among all those fitted (``q``).
    """
    table = trend.table[trend.table["analyte"] == analyte]
    beds = table[table["bed"] != frames.GARDEN].sort_values("n", ascending=False).drop_duplicates("bed")
    fitted = beds[beds["verdict"] != TOO_FEW]
    name = sentence(spoken(analyte))
    if fitted.empty:
        return f"{name}: too few tests for a trend in any bed"
    stands = fitted[fitted["q"] <= 1 - trend.confidence]["verdict"].value_counts()
    told = [f"{verdict} in {stands[verdict]}" for verdict in (RISING, FALLING) if verdict in stands]
    if told:
        return f"{name} is {listed(told)} of {len(fitted)} beds"
    return f"{name}: no sure trend in any of {len(fitted)} beds"


def trend_headlines(trend: Trend) -> present.Listing:
    """Return one sentence a measure: where it is going over the beds, and in the garden as a whole.

    Returns
    -------
    Listing
        Columns analyte, beds (the sentence), garden (verdict and rate).
    """
    whole = trend.table[trend.table["bed"] == frames.GARDEN].sort_values("n", ascending=False)
    told = [
        (
            name,
            trend_headline(trend, analyte=name),
            next(
                (
                    trend_said({str(k): v for k, v in row.items()})
                    for row in whole[whole["analyte"] == name].to_dict("records")
                ),
                "",
            ),
        )
        for name in trend.table["analyte"].unique()
    ]
    table = pd.DataFrame(told, columns=["analyte", "beds", "garden"])
    return present.Listing("Where each measure is going", table)


def trend_words(trend: Trend, *, analyte: str) -> Words:
    """Return the words for the chart of one measure over the years."""
    table = trend.table[(trend.table["analyte"] == analyte) & (trend.table["bed"] != frames.GARDEN)]
    head = trend_headline(trend, analyte=analyte)
    if table.empty:
        return nothing_words(spoken(analyte))
    years = f"{table['first'].min():%Y} to {table['last'].max():%Y}"
    labs = listed(sorted(lab for lab in table["lab"].unique() if lab)) or "laboratory not stated"
    log = " pH is a logarithmic scale: one unit is ten times the acidity." if "pH" in analyte else ""
    return Words(
        head,
        f"{years}; {labs}; {layer(table)}; up to {int(table['n'].max())} tests a bed",
        "Each mark is one day's test of a bed. The blue line is the trend and the grey fan what its "
        f"{trend.confidence:.0%} interval allows. Squares and dashed lines are another method, laboratory or "
        f"layer, which is not joined. The headline counts trends that stand among all those fitted.{log}",
        f"Panels of {spoken(analyte)} over time in {table['bed'].nunique()} beds, {years}. {head}.",
    )
