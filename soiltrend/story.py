"""Results in words: headline, subtitle, caption and alt text, each read off the table.

A headline claims only what the verdicts carry: a measure is named as risen or fallen when
its verdict says so, and everything else is counted. The words are "changed", never "because
of". Organic matter and summed exchange capacity are not put into a headline on two dates
alone (see :data:`SLOW`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import frames, present, vocabulary
from soiltrend.compare import Comparison
from soiltrend.drift import FLAGS as DRIFT_FLAGS
from soiltrend.drift import TOO_FEW as DRIFT_TOO_FEW
from soiltrend.drift import Drift
from soiltrend.trend import FALLING, RISING, TOO_FEW, Trend

SLOW = ("OM", "TOC", "CEC")
"""Measures that need years: Oregon State University EM 9251 gives three to five years before
a change of organic matter shows; exchange capacity follows it."""

SLOW_YEARS = 3.0
NAMED = 3
"""Measures named in a headline before it says "and so many more"."""


@dataclass(frozen=True)
class Words:
    """What is written on and beside a chart.

    Attributes
    ----------
    headline : str
        What was seen, in one sentence.
    subtitle : str
        What was measured, where, when and by whom.
    caption : str
        How to read the picture: marks, band, n.
    alt : str
        The picture for someone who cannot see it.
    """

    headline: str
    subtitle: str
    caption: str
    alt: str


def with_note(words: Words, note: str) -> Words:
    """Return the words with a note at the end of the subtitle, as on a chart that shows a part."""
    return replace(words, subtitle=f"{words.subtitle}; {note}") if note else words


def listed(items: list[str]) -> str:
    """Return items as a reader would say them.

    Examples
    --------
    >>> listed(["pH", "Ca", "K"])
    'pH, Ca and K'
    """
    if len(items) < 2:
        return "".join(items)
    return ", ".join(items[:-1]) + " and " + items[-1]


def spoken(analyte: str) -> str:
    """Return an analyte as a grower says it ("K" is potassium; pH stays pH)."""
    return vocabulary.facts(analyte).get("name", analyte)


def _sentence(text: str) -> str:
    keep = text[:2] == "pH"
    return text if keep else text[:1].upper() + text[1:]


def _apart(comparison: Comparison) -> float:
    """Return the years between the two occasions, by their names when they bear a year."""
    years = [
        pd.to_numeric(pd.Series([text]).str.extract(r"(\d{4})")[0]).iloc[0]
        for text in (comparison.before, comparison.after)
    ]
    return float(years[1] - years[0])


def _claims(table: pd.DataFrame, comparison: Comparison, verdict: str) -> list[str]:
    """Return the measures that may be named under a verdict, the clearest first.

    A claim must stand among all the comparisons made (``q``), not only by its own interval.
    Shares of the exchange capacity and ratios are not named: they never stand without the
    amounts behind them.
    """
    amount = table["analyte"].map(lambda name: vocabulary.facts(name).get("kind", "") not in ("share", ""))
    stands = table["q"] <= 1 - comparison.confidence
    rows = table[(table["verdict"] == verdict) & amount & stands]
    if _apart(comparison) < SLOW_YEARS:
        rows = rows[~rows["analyte"].isin(SLOW)]
    order = rows["in_noise"].abs().sort_values(ascending=False).index
    return list(dict.fromkeys(spoken(a) for a in rows.loc[order, "analyte"]))


def _named(names: list[str]) -> str:
    if len(names) <= NAMED:
        return listed(names)
    return ", ".join(names[:NAMED]) + f" and {len(names) - NAMED} more"


def _where(bed: str) -> str:
    return "over the garden" if bed == frames.GARDEN else f"in {bed}"


def headline(comparison: Comparison, *, bed: str) -> str:
    """Return what changed in one bed, in one sentence that its verdicts carry."""
    table = comparison.table[comparison.table["bed"] == bed]
    compared = table[table["verdict"] != "not comparable"]
    parts = [
        f"{_named(names)} {verdict}"
        for verdict in ("rose", "fell")
        if (names := _claims(compared, comparison, verdict))
    ]
    if parts:
        return _sentence(", ".join(parts)) + " " + _where(bed)
    if compared.empty:
        return f"Nothing can be compared {_where(bed)}"
    moved = int(compared["verdict"].isin(["rose", "fell"]).sum())
    if moved:
        told = f"{moved} of {len(compared)} measures left their band, as luck can among so many"
        return f"No sure change {_where(bed)}: {told}"
    return f"No sure change {_where(bed)}: {len(compared)} measures, none clear of the noise"


def headline_of_beds(comparison: Comparison, *, analyte: str) -> str:
    """Return what one measure did over the beds, in one sentence that the verdicts carry."""
    table = comparison.table[
        (comparison.table["analyte"] == analyte) & (comparison.table["bed"] != frames.GARDEN)
    ]
    compared = table[table["verdict"] != "not comparable"]
    name = _sentence(spoken(analyte))
    if compared.empty:
        return f"{name}: no bed can be compared"
    counts = compared["verdict"].value_counts()
    moved = [
        f"{verdict} in {counts[verdict]} of {len(compared)} beds"
        for verdict in ("rose", "fell")
        if verdict in counts
    ]
    if analyte in SLOW and _apart(comparison) < SLOW_YEARS:
        return f"{name}: too soon to say, it needs three years or more"
    return f"{name} {listed(moved)}" if moved else f"{name}: no sure change in any of {len(compared)} beds"


def _layer(table: pd.DataFrame) -> str:
    layers = table[["top_cm", "bottom_cm"]].dropna().drop_duplicates()
    texts = [f"{top:g}-{bottom:g} cm" for top, bottom in layers.to_numpy()]
    return listed(texts) or "layer not stated"


def _composites(table: pd.DataFrame) -> str:
    """Return how many composite samples a bed stand behind each end."""
    spans = []
    for column in ("n_before", "n_after"):
        counts = table[column].dropna().astype(int)
        spans.append(f"{counts.min()}" + (f" to {counts.max()}" if counts.max() > counts.min() else ""))
    return (
        f"n = {spans[0]} a bed each time"
        if spans[0] == spans[1]
        else f"n = {spans[0]}, then {spans[1]} a bed"
    )


def _measured(table: pd.DataFrame) -> str:
    """Return who measured, which layer and how many, for the rows that could be compared."""
    compared = table[table["verdict"] != "not comparable"]
    if compared.empty:
        return "nothing that can be compared"
    labs = listed(sorted(lab for lab in compared["lab"].unique() if lab)) or "laboratory not stated"
    return f"{labs}; {_layer(compared)}; {_composites(compared)}"


def shown(table: pd.DataFrame) -> str:
    """Return how many measures are shown of how many ("14 of 14 measures shown")."""
    refused = int((table["verdict"] == "not comparable").sum())
    text = f"{len(table)} of {len(table)} measures shown"
    return text + (f", {refused} of them not comparable" if refused else "")


def nothing_words(what: str) -> Words:
    """Return the words for a chart that has nothing to show, so that its place is not left blank."""
    return Words(
        f"{_sentence(what)}: nothing to compare yet",
        "Two tests of the same bed, by one laboratory and method, make a comparison.",
        "No two tests of one series were found.",
        f"A chart without marks: {what} has no two tests that can be compared.",
    )


def change_words(comparison: Comparison, *, bed: str) -> Words:
    """Return the words for the chart of one bed (or the garden) and all its measures."""
    table = comparison.table[comparison.table["bed"] == bed]
    confidence = f"{comparison.confidence:.0%}"
    caption = (
        f"Each line is one measure. The grey band is what sampling, laboratory and day can do by "
        f"themselves ({confidence} of the time); bars are {confidence} intervals. Filled marks rose or "
        f"fell; open marks did not clearly change. {_sentence(shown(table))}."
    )
    head = headline(comparison, bed=bed)
    return Words(
        head,
        f"{comparison.before} to {comparison.after}; {_measured(table)}",
        caption,
        f"Dot chart of {len(table)} soil measures {_where(bed)}, {comparison.before} to "
        f"{comparison.after}, against noise. {head}.",
    )


def beds_words(comparison: Comparison, *, analyte: str) -> Words:
    """Return the words for the chart of one measure over all beds."""
    table = comparison.table[comparison.table["analyte"] == analyte]
    confidence = f"{comparison.confidence:.0%}"
    log = " pH is a logarithmic scale: one unit is ten times the acidity." if "pH" in analyte else ""
    caption = (
        f"Open blue marks are {comparison.before}, filled vermilion marks {comparison.after}. The thin "
        f"bar is the {confidence} interval of the change, drawn from the open mark.{log}"
    )
    head = headline_of_beds(comparison, analyte=analyte)
    beds = table[table["bed"] != frames.GARDEN]
    return Words(
        head,
        f"\u25cb {comparison.before}  \u25cf {comparison.after}; {_measured(beds)}",
        caption,
        f"Before and after marks of {spoken(analyte)} in {len(beds)} beds, {comparison.before} to "
        f"{comparison.after}. {head}.",
    )


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
    name = _sentence(spoken(analyte))
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
        f"{years}; {labs}; {_layer(table)}; up to {int(table['n'].max())} tests a bed",
        "Each mark is one day's test of a bed. The blue line is the trend and the grey fan what its "
        f"{trend.confidence:.0%} interval allows. Squares and dashed lines are another method, laboratory or "
        f"layer, which is not joined. The headline counts trends that stand among all those fitted.{log}",
        f"Panels of {spoken(analyte)} over time in {table['bed'].nunique()} beds, {years}. {head}.",
    )


def drift_words(drift: Drift, *, bed: str) -> Words:
    """Return the words for the chart of one bed's ratios and shares."""
    table = drift.table[drift.table["bed"] == bed]
    table = table.sort_values(["last", "n"]).drop_duplicates("ratio", keep="last")
    known = table[table["flag"] != DRIFT_TOO_FEW]
    if known.empty:
        return nothing_words(bed)
    told = []
    for flag in DRIFT_FLAGS[:3]:
        names = list(known.loc[known["flag"] == flag, "ratio"])
        verb = "" if flag == "shifted" else "is " if len(names) == 1 else "are "
        told += [f"{_named(names)} {verb}{flag}"] if names else []
    head = f"{'; '.join(told)} in {bed}" if told else f"{bed}: all {len(known)} ratios and shares steady"
    return Words(
        head,
        f"to {known['last'].max():%Y}; {listed(sorted({lab for lab in known['lab'] if lab}))}; up to "
        f"{int(known['n'].max())} tests",
        "Each line is one ratio or share of the exchange capacity. The grey band is its own: a published "
        "range, yours, or the bed's first tests. Filled marks are outside, heading out or shifted; open "
        "marks are steady. A band is a description and not a grade: within usual ranges ratios were not "
        "found to set fertility (Kopittke & Menzies 2007). Look at the amounts.",
        f"Dot chart of {len(table)} ratios and shares in {bed} against their bands. {head}.",
    )


def flags(drift: Drift) -> present.Listing:
    """Return the ratios and shares that are flagged, the surest first.

    Returns
    -------
    Listing
        Columns bed, ratio, now, flag, firm, why.
    """
    rows = drift.table[drift.table["flag"].isin(DRIFT_FLAGS[:3])].sort_values("q", kind="stable")
    watched = int((drift.table["flag"] != DRIFT_TOO_FEW).sum())
    return present.Listing(
        f"{len(rows)} of {watched} ratios and shares flagged",
        rows[["bed", "ratio", "now", "flag", "firm", "why"]],
    )


def headlines(comparison: Comparison) -> present.Listing:
    """Return one sentence for the garden and for each bed, as the verdicts carry it.

    Returns
    -------
    Listing
        Columns bed, headline.
    """
    beds = [frames.GARDEN, *(bed for bed in comparison.table["bed"].unique() if bed != frames.GARDEN)]
    told = [(bed, headline(comparison, bed=bed)) for bed in beds if not comparison.table.empty]
    title = (
        f"{comparison.before} to {comparison.after}, in a sentence each"
        if told
        else "No two tests to compare yet"
    )
    return present.Listing(title, pd.DataFrame(told, columns=["bed", "headline"]))


def refused(comparison: Comparison) -> present.Listing:
    """Return what was not compared and why, one row a reason.

    Returns
    -------
    Listing
        Columns reason, rows (how many beds and measures), bed, analyte.
    """
    rows = comparison.table[
        (comparison.table["verdict"] == "not comparable") & (comparison.table["bed"] != frames.GARDEN)
    ]
    beds = int((comparison.table["bed"] != frames.GARDEN).sum())
    return present.grouped(
        rows.rename(columns={"why": "reason"}),
        by="reason",
        listed=("bed", "analyte"),
        title=f"{len(rows)} of {beds} measures of beds not compared",
    )
