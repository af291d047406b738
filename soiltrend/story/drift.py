"""A drift in words: one bed's ratios and shares."""

from __future__ import annotations

from soiltrend import present
from soiltrend.drift import FLAGS, TOO_FEW, Drift
from soiltrend.story.core import Words, listed, named, nothing_words


def drift_words(drift: Drift, *, bed: str) -> Words:
    """Return the words for the chart of one bed's ratios and shares."""
    table = drift.table[drift.table["bed"] == bed]
    table = table.sort_values(["last", "n"]).drop_duplicates("ratio", keep="last")
    known = table[table["flag"] != TOO_FEW]
    if known.empty:
        return nothing_words(bed)
    told = []
    for flag in FLAGS[:3]:
        names = list(known.loc[known["flag"] == flag, "ratio"])
        verb = "" if flag == "shifted" else "is " if len(names) == 1 else "are "
        told += [f"{named(names)} {verb}{flag}"] if names else []
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
    rows = drift.table[drift.table["flag"].isin(FLAGS[:3])].sort_values("q", kind="stable")
    watched = int((drift.table["flag"] != TOO_FEW).sum())
    return present.Listing(
        f"{len(rows)} of {watched} ratios and shares flagged",
        rows[["bed", "ratio", "now", "flag", "firm", "why"]],
    )
