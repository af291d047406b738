"""A comparison in listings: a sentence for each bed, and what was refused."""

from __future__ import annotations

import pandas as pd

from soiltrend import frames, present
from soiltrend.compare import Comparison
from soiltrend.story.change import headline
from soiltrend.story.claims import claims_of, whole
from soiltrend.story.voice import PLAIN, Voice, listed


def headlines(comparison: Comparison) -> present.Listing:
    """Return one sentence for the garden and for each bed, as the verdicts carry it.

    Where a single bed can be compared there is no garden to tell of beside it.

    Returns
    -------
    Listing
        Columns bed, headline.
    """
    beds = [bed for bed in comparison.table["bed"].unique() if bed != frames.GARDEN]
    beds = [whole(comparison), *beds] if whole(comparison) == frames.GARDEN else beds
    told = [(bed, headline(comparison, bed=bed)) for bed in beds if not comparison.table.empty]
    ends = {"before": comparison.before, "after": comparison.after}
    title = PLAIN.say("lists.headlines", ends) if told else PLAIN.say("lists.nothing")
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
        title=PLAIN.say("lists.refused", {"n": len(rows), "of": beds}),
    )


def in_brief(comparison: Comparison, *, voice: Voice = PLAIN) -> list[str]:
    """Return a sentence for each bed of which something may be claimed, and one for all the others.

    Parameters
    ----------
    comparison : Comparison
        What :func:`soiltrend.compare` gave.
    voice : Voice
        Language and units.

    Examples
    --------
    >>> from soiltrend.compare import compare
    >>> rows = [{"bed": bed, "season": s, "sampled": d, "analyte": "K", "unit": "mg/kg", "value": v}
    ...         for bed, end in (("East", 81), ("West", 190))
    ...         for s, d, v in (("spring 2022", "2022-04-09", 80), ("spring 2024", "2024-04-11", end))]
    >>> in_brief(compare(frames.results(rows), before="spring 2022", after="spring 2024"))
    ['Potassium rose in West between spring 2022 and spring 2024', 'No sure change in East']
    """
    table = comparison.table[comparison.table["bed"] != frames.GARDEN]
    claimed = list(dict.fromkeys(claims_of(table, comparison).rows["bed"]))
    compared = table[table["verdict"] != "not comparable"]["bed"].unique()
    beds = list(table["bed"].unique())
    told = [headline(comparison, bed=bed, voice=voice) for bed in beds if bed in claimed]
    for key, rest in (
        ("lists.still", [bed for bed in beds if bed in compared and bed not in claimed]),
        ("lists.apart", [bed for bed in beds if bed not in compared]),
    ):
        told += [voice.say(key, {"beds": listed(rest, voice=voice)})] if rest else []
    return told


def bed_to_tell(comparison: Comparison, *, asked: str = "") -> str:
    """Return the bed asked for, or else the one of which most may be claimed; the garden when none.

    Where a single bed can be compared it is that one, whatever may be claimed.

    Parameters
    ----------
    comparison : Comparison
        What :func:`soiltrend.compare` gave.
    asked : str
        A bed's name, or nothing.

    Examples
    --------
    >>> from soiltrend.compare import compare
    >>> rows = [{"bed": bed, "season": s, "sampled": d, "analyte": "K", "unit": "mg/kg", "value": v}
    ...         for bed, end in (("East", 81), ("West", 190))
    ...         for s, d, v in (("spring 2022", "2022-04-09", 80), ("spring 2024", "2024-04-11", end))]
    >>> bed_to_tell(compare(frames.results(rows), before="spring 2022", after="spring 2024"))
    'West'
    """
    if asked:
        return asked
    table = comparison.table[comparison.table["bed"] != frames.GARDEN]
    claimed = claims_of(table, comparison).rows["bed"].value_counts(sort=False)
    return str(claimed.idxmax()) if len(claimed) else whole(comparison)
