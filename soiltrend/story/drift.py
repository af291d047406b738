"""A drift in words: one bed's ratios and shares."""

from __future__ import annotations

import numpy as np
import pandas as pd

from soiltrend import present
from soiltrend.drift import FLAGS, TOO_FEW, Drift, told_last
from soiltrend.slopes.batch import LEAST
from soiltrend.story.core import Words, alt, fitting, labs, layer, methods, named, nothing_words, where
from soiltrend.story.voice import PLAIN, Voice, figure

KEYS = dict(zip(FLAGS[:3], ("outside_said", "heading_said", "shifted_said"), strict=True))
"""The phrase of each flag that is told."""


def _once(known: pd.DataFrame) -> pd.DataFrame:
    """Return the rows without the second of two ratios that are one: by mass and by charge, or upside down.

    The one that is flagged stays.
    """
    pair = known["ratio"].str.partition(" (")[0].str.split(":").map(frozenset)
    order = known["flag"].map(list(FLAGS).index)
    kept = pair.loc[order.sort_values(kind="stable").index].drop_duplicates().index
    return known[known.index.isin(kept)]


def _told(known: pd.DataFrame, *, voice: Voice, most: int = 2) -> str:
    """Return what is flagged, the flags in order: "Ca:Mg (charge) is outside its band"."""
    parts = []
    for flag, key in KEYS.items():
        names = list(known.loc[known["flag"] == flag, "ratio"])
        if names:
            parts.append(
                voice.counted(f"drift.{key}", len(names), {"names": named(names, voice=voice, most=most)})
            )
    return voice.say("list.join").join(parts)


def _headline(known: pd.DataFrame, *, every: int, bed: str, voice: Voice) -> str:
    """Return what is flagged in a bed, in names where they fit, else in numbers; ``every`` counts twins."""
    flagged = int(known["flag"].isin(FLAGS[:3]).sum())
    told: dict[str, object] = {"bed": bed, "where": where(bed, voice=voice), "n": flagged, "of": len(known)}
    if not flagged:
        return voice.say("drift.steady", told | {"n": every})
    heads = [
        voice.say("drift.headline", told | {"told": _told(known, voice=voice, most=most)}) for most in (2, 1)
    ]
    key = "drift.headline_counted" if len(known) == every else "drift.headline_different"
    return fitting([*heads, voice.say(key, told)])


def _refusals(known: pd.DataFrame, *, voice: Voice) -> tuple[str, ...]:
    """Return what the headline did not say: what is not yet firm, and any grade."""
    shaky = known[known["flag"].isin(FLAGS[:3]) & ~known["firm"].astype(bool)]
    told = [
        voice.say("refused.shaky", {"claim": f"{row['ratio']} {row['flag']}"})
        for row in shaky.to_dict("records")
    ]
    return (*told, voice.say("refused.grade"), voice.say("refused.cause"))


def _caption(known: pd.DataFrame, once: pd.DataFrame, *, voice: Voice) -> str:
    """Return how to read the chart, with what is not drawn and what is not counted."""
    closed = np.isfinite(known[["low_edge", "high_edge"]].astype(float)).all(axis=None)
    keys = {"caption": True, "caption_open": not closed, "caption_once": len(once) < len(known)}
    return " ".join(voice.say(f"drift.{key}") for key, holds in keys.items() if holds)


def _unwatched(table: pd.DataFrame, *, voice: Voice) -> str:
    """Return why no ratio of a bed can be watched."""
    if table.empty:
        return voice.say("nothing.why.no_ratio")
    most = int(table["n"].max())
    if most >= LEAST:
        return voice.say("nothing.why.unseen_ratios")
    told = {"least": LEAST}
    if not most:
        return voice.say("nothing.why.none_ratios", told)
    return voice.counted("nothing.why.few_ratios", most, told)


def drift_words(drift: Drift, *, bed: str, voice: Voice = PLAIN) -> Words:
    """Return the words for the chart of one bed's ratios and shares."""
    table = told_last(drift.table[drift.table["bed"] == bed])
    known = table[table["flag"] != TOO_FEW]
    if known.empty:
        return nothing_words(bed, why=_unwatched(table, voice=voice), voice=voice)
    place, once = where(bed, voice=voice), _once(known)
    told = _told(once, voice=voice)
    steady = voice.say("drift.steady", {"bed": bed, "n": len(known)})
    head = _headline(once, every=len(known), bed=bed, voice=voice)
    rows = [
        voice.say("drift.row", {"name": row["ratio"], "flag": row["flag"], "now": figure(row["now"])})
        for row in known.to_dict("records")
    ]
    values = {
        "where": place,
        "n": int(known["n"].max()),
        "last": f"{known['last'].max():%Y}",
        "labs": labs(known, voice=voice),
        "layer": layer(known, voice=voice),
        "methods": methods(known, voice=voice, most=2),
        "told": told or steady,
        "head": head,
    }
    count = values | {"n": len(table), "rows": voice.say("list.join").join(rows)}
    return Words(
        head,
        voice.say("drift.subtitle", values),
        _caption(known, once, voice=voice),
        alt([voice.say(key, count) for key in ("drift.alt", "drift.alt_short")], head),
        voice.say("drift.description", count),
        voice.say("drift.paragraph", values),
        voice.say("drift.note", values),
        _refusals(known, voice=voice),
    )


def flags(drift: Drift) -> present.Listing:
    """Return the ratios and shares that are flagged by the series tested last, the surest first.

    Returns
    -------
    Listing
        Columns bed, ratio, now, flag, firm, why.
    """
    table = told_last(drift.table)
    rows = table[table["flag"].isin(FLAGS[:3])].sort_values("q", kind="stable")
    watched = int((table["flag"] != TOO_FEW).sum())
    return present.Listing(
        PLAIN.say("drift.flagged", {"n": len(rows), "of": watched}),
        rows[["bed", "ratio", "now", "flag", "firm", "why"]],
    )
