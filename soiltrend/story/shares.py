"""Shares of the exchange capacity in words, never without the amounts."""

from __future__ import annotations

import pandas as pd

from soiltrend import frames
from soiltrend.errors import SoiltrendError
from soiltrend.exchange import exchange_gaps
from soiltrend.story.core import Words, alt, labs, layer, methods, nothing_words, sentence, spoken, where
from soiltrend.story.refusing import REASONS
from soiltrend.story.voice import PLAIN, Voice, amount, figure

SHARE = " saturation"
PARTS = ("Ca", "Mg", "K", "Na", "acidity", "Al")
"""Parts of the exchange capacity; their shares add up to the whole, the base saturation does not join in."""


def _means(rows: pd.DataFrame) -> dict[str, tuple[float, str]]:
    """Return the mean value and the unit of each analyte."""
    return {
        str(name): (float(group["value"].mean()), str(group["unit"].iloc[0]))
        for name, group in rows.groupby("analyte", sort=False)
    }


def _parts(rows: pd.DataFrame, *, voice: Voice) -> list[tuple[float, dict[str, str]]]:
    """Return each part with its share and its amount in words, the greatest first."""
    means = _means(rows)
    told = []
    for name in PARTS:
        if name + SHARE in means:
            share = means[name + SHARE][0]
            values = {"name": spoken(name), "share": figure(share, digits=2)}
            if name in means:
                values["amount"] = amount(*means[name], voice=voice)
            told.append((share, values))
    return sorted(told, key=lambda part: -part[0])


def _inflated(rows: pd.DataFrame, *, voice: Voice) -> str:
    """Return the warning that the shares bear, if any."""
    if "note" not in rows:
        return ""
    notes = [str(note) for note in rows["note"] if str(note).startswith(frames.INFLATED)]
    first = next(iter(notes), "")
    told = first.removeprefix(frames.INFLATED).strip(" :.").partition(";")[0]
    return voice.say("saturation.inflated", {"note": told}) if first else ""


def _lines(parts: list[tuple[float, dict[str, str]]], *, voice: Voice) -> str:
    """Return the parts as one list in words."""
    keys = ("saturation.row" if "amount" in part else "saturation.row_alone" for _, part in parts)
    lines = [voice.say(key, part) for key, (_, part) in zip(keys, parts, strict=True)]
    return voice.say("list.join").join(lines)


def _dates(known: pd.DataFrame, season: str, before: str, *, voice: Voice) -> dict[str, object]:
    """Return the season, or both, and what an earlier one held."""
    told: dict[str, object] = {"season": season, "dates": season, "then": ""}
    if not before:
        return told
    earlier = _lines(_parts(known[known["season"] == before], voice=voice), voice=voice)
    told |= {"before": before, "earlier": earlier or voice.say("saturation.before_none")}
    return told | {name: voice.say(f"saturation.{name}", told) for name in ("dates", "then")}


def no_shares_words(
    results: pd.DataFrame, *, bed: str, season: str = "", before: str = "", voice: Voice = PLAIN
) -> Words:
    """Return the words for a picture of shares where there are none to draw, with the reason.

    Without a bed they are of the garden. A season named is one in which the bed has none, though it has
    some in others; two are not measured alike. Else no exchange capacity was computed; the reasons are
    those of a sum with acidity as the laboratory reports it, also of a garden that takes it from a buffer pH.
    """
    if season:
        ends = {"where": where(bed, voice=voice), "season": season, "before": before}
        why = voice.say("nothing.why.not_alike" if before else "nothing.why.no_shares", ends)
        return nothing_words(bed, why=why, voice=voice)
    gaps = exchange_gaps(results[results["bed"] == bed] if bed else results)
    found = list(gaps["reason"].value_counts().index[:REASONS])
    told = {"reasons": voice.say("list.join").join(found)}
    why = voice.say("nothing.why.no_sum" if found else "nothing.why.no_sum_here", told)
    return nothing_words(bed, why=why, voice=voice)


def why_nothing_words(bed: str, *, before: str, after: str, voice: Voice = PLAIN) -> Words:
    """Return the words for a change of exchange capacity of which there is none to take apart."""
    why = voice.say("nothing.why.no_pair", {"before": before, "after": after})
    return nothing_words(bed, why=why, voice=voice)


def saturation_words(
    results: pd.DataFrame, *, bed: str, season: str, before: str = "", voice: Voice = PLAIN
) -> Words:
    """Return the words for the shares of one bed's exchange capacity, with the amounts.

    Parameters
    ----------
    results : DataFrame
        A tidy frame with shares (:func:`soiltrend.exchange`).
    bed, season : str
        Which.
    before : str
        An earlier season that stands beside it, if any.
    voice : Voice
        Language and units.

    Raises
    ------
    SoiltrendError
        When the frame holds no such bed.
    """
    if bed not in set(results["bed"]):
        known = ", ".join(f"'{name}'" for name in results["bed"].unique())
        raise SoiltrendError(f"the results hold no bed '{bed}'", remedy=f"They hold: {known}.")
    mine = results[results["bed"] == bed]
    rows = mine[mine["season"] == season]
    shares = rows[rows["analyte"].str.endswith(SHARE)]
    parts = _parts(rows, voice=voice)
    told: dict[str, object] = {"where": where(bed, voice=voice)}
    told |= _dates(mine, season, before, voice=voice)
    if not parts:
        return nothing_words(bed, why=voice.say("nothing.why.no_shares", told), voice=voice)
    first = parts[0][1]
    key = "saturation.headline" if "amount" in first else "saturation.headline_alone"
    head = voice.say(key, told | first | {"name": sentence(first["name"])})
    means = _means(rows)
    told |= {
        "labs": labs(shares, voice=voice),
        "layer": layer(shares, voice=voice),
        "method": methods(shares, voice=voice),
        "n": int(shares.groupby("analyte").size().max()),
        "cec": amount(*means["CEC"], voice=voice) if "CEC" in means else voice.say("saturation.cec_unknown"),
        "rows": _lines(parts, voice=voice),
        "inflated": _inflated(shares, voice=voice),
        "head": head,
    }
    return Words(
        head,
        voice.say("saturation.subtitle", told),
        f"{voice.say('saturation.caption', told)} {told['inflated']}".strip(),
        alt([voice.say(key, told) for key in ("saturation.alt", "saturation.alt_short")], head),
        voice.say("saturation.description", told).strip(),
        voice.say("saturation.paragraph", told).strip(),
        voice.say("saturation.note", told).strip(),
        (
            voice.say("saturation.refused_ideal"),
            voice.say("saturation.refused_two" if before else "saturation.refused_one"),
            voice.say("refused.cause"),
        ),
    )
