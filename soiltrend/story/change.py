"""A comparison in words: one bed with all its measures, one measure over all beds."""

from __future__ import annotations

import pandas as pd

from soiltrend import frames, vocabulary
from soiltrend.compare import Comparison
from soiltrend.story.core import Words, layer, listed, named, sentence, spoken, where

SLOW = ("OM", "TOC", "CEC")
"""Measures that need years: Oregon State University EM 9251 gives three to five years before
a change of organic matter shows; exchange capacity follows it."""

SLOW_YEARS = 3.0


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


def headline(comparison: Comparison, *, bed: str) -> str:
    """Return what changed in one bed, in one sentence that its verdicts carry."""
    table = comparison.table[comparison.table["bed"] == bed]
    compared = table[table["verdict"] != "not comparable"]
    parts = [
        f"{named(names)} {verdict}"
        for verdict in ("rose", "fell")
        if (names := _claims(compared, comparison, verdict))
    ]
    if parts:
        return sentence(", ".join(parts)) + " " + where(bed)
    if compared.empty:
        return f"Nothing can be compared {where(bed)}"
    moved = int(compared["verdict"].isin(["rose", "fell"]).sum())
    if moved:
        told = f"{moved} of {len(compared)} measures left their band, as luck can among so many"
        return f"No sure change {where(bed)}: {told}"
    return f"No sure change {where(bed)}: {len(compared)} measures, none clear of the noise"


def headline_of_beds(comparison: Comparison, *, analyte: str) -> str:
    """Return what one measure did over the beds, in one sentence that the verdicts carry."""
    table = comparison.table[
        (comparison.table["analyte"] == analyte) & (comparison.table["bed"] != frames.GARDEN)
    ]
    compared = table[table["verdict"] != "not comparable"]
    name = sentence(spoken(analyte))
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
    return f"{labs}; {layer(compared)}; {_composites(compared)}"


def shown(table: pd.DataFrame) -> str:
    """Return how many measures are shown of how many ("14 of 14 measures shown")."""
    refused = int((table["verdict"] == "not comparable").sum())
    text = f"{len(table)} of {len(table)} measures shown"
    return text + (f", {refused} of them not comparable" if refused else "")


def change_words(comparison: Comparison, *, bed: str) -> Words:
    """Return the words for the chart of one bed (or the garden) and all its measures."""
    table = comparison.table[comparison.table["bed"] == bed]
    confidence = f"{comparison.confidence:.0%}"
    caption = (
        f"Each line is one measure. The grey band is what sampling, laboratory and day can do by "
        f"themselves ({confidence} of the time); bars are {confidence} intervals. Filled marks rose or "
        f"fell; open marks did not clearly change. {sentence(shown(table))}."
    )
    head = headline(comparison, bed=bed)
    return Words(
        head,
        f"{comparison.before} to {comparison.after}; {_measured(table)}",
        caption,
        f"Dot chart of {len(table)} soil measures {where(bed)}, {comparison.before} to "
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
