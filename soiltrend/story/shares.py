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


SERIES = ["method", "lab", "top_cm", "bottom_cm"]


def means(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the mean of each analyte, with its unit, and as sign "<" or ">" where a limit counts in it.

    What holds a value below its limit is at most the mean with that limit, what holds one above it at least;
    of both together nothing is known.

    Examples
    --------
    >>> rows = pd.DataFrame({"analyte": ["Na", "Na", "Ca"], "value": [21.0, 21.7, 900.0],
    ...                      "qualifier": ["<", "", ""], "unit": "mg/kg"})
    >>> means(rows)["sign"].tolist(), round(float(means(rows).loc["Na", "value"]), 2)
    (['<', ''], 21.35)
    """
    groups = rows.groupby("analyte", sort=False)
    signs = groups["qualifier"].agg(lambda given: "".join(sorted(set(given))))
    table = pd.DataFrame({"value": groups["value"].mean(), "sign": signs, "unit": groups["unit"].first()})
    both = table["sign"].str.len() > 1
    table["value"], table["sign"] = table["value"].mask(both), table["sign"].mask(both, "")
    return table


def alike(tests: pd.DataFrame) -> pd.DataFrame:
    """Return the shares of the one series that holds most of them, the recomputed before others."""
    rows = tests[tests["analyte"].isin([part + SHARE for part in PARTS])]
    if rows.empty:
        return rows
    counts = rows.groupby(SERIES, dropna=False).size().reset_index(name="n")
    computed = rows[rows["source"] == frames.COMPUTED]["method"].unique()
    counts["own"] = counts["method"].isin(computed)
    best = counts.sort_values(["own", "n"], ascending=False, kind="stable").iloc[0]
    same = pd.Series(True, index=rows.index)
    for column in SERIES:
        same &= rows[column].eq(best[column]) | (rows[column].isna() & pd.isna(best[column]))
    return rows[same]


def amounts_beside(tests: pd.DataFrame, shares: pd.DataFrame) -> pd.DataFrame:
    """Return the amounts of the parts in the laboratory and layer of their shares."""
    first = shares.iloc[0]
    here = tests[(tests["lab"] == first["lab"]) & tests["analyte"].isin(PARTS)]
    rows: pd.DataFrame = here[here["bottom_cm"].eq(first["bottom_cm"]) | here["bottom_cm"].isna()]
    return rows


def _said(rows: pd.DataFrame, *, voice: Voice) -> dict[str, str]:
    """Return the mean of each analyte in words, with its unit, and its sign where it is a limit."""
    told = means(rows)
    cells = zip(told.index, told["value"], told["sign"], told["unit"], strict=True)
    return {str(name): f"{sign}{amount(value, unit, voice=voice)}" for name, value, sign, unit in cells}


def _parts(tests: pd.DataFrame, *, voice: Voice) -> list[tuple[float, dict[str, str]]]:
    """Return each part with its share and its amount in words, the greatest first."""
    rows = alike(tests)
    if rows.empty:
        return []
    shares, amounts = means(rows), _said(amounts_beside(tests, rows), voice=voice)
    told = []
    for full, share, sign in zip(shares.index, shares["value"], shares["sign"], strict=True):
        name = str(full).removesuffix(SHARE)
        values = {"name": spoken(name), "share": sign + figure(share, digits=3 if sign else 2)}
        if name in amounts:
            values["amount"] = amounts[name]
        told.append((float(share), values))
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
    shares = alike(rows)
    parts = _parts(rows, voice=voice)
    told: dict[str, object] = {"where": where(bed, voice=voice)}
    told |= _dates(mine, season, before, voice=voice)
    if not parts:
        return nothing_words(bed, why=voice.say("nothing.why.no_shares", told), voice=voice)
    first = parts[0][1]
    key = "saturation.headline" if "amount" in first else "saturation.headline_alone"
    head = voice.say(key, told | first | {"name": sentence(first["name"])})
    inflated = _inflated(shares, voice=voice)
    limits = voice.say("saturation.limits") if (shares["qualifier"] != "").any() else ""
    whole = rows[(rows["analyte"] == "CEC") & rows["method"].isin(shares["method"])]
    told |= {
        "labs": labs(shares, voice=voice),
        "layer": layer(shares, voice=voice),
        "method": methods(shares, voice=voice),
        "n": int(shares.groupby("analyte").size().max()),
        "cec": _said(whole, voice=voice).get("CEC", voice.say("saturation.cec_unknown")),
        "rows": _lines(parts, voice=voice),
        "inflated": inflated,
        "head": head,
    }
    return Words(
        head,
        voice.say("saturation.subtitle", told),
        " ".join(text for text in (voice.say("saturation.caption", told), limits, inflated) if text),
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
