"""What went in, and why a capacity moved, in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import composites, frames
from soiltrend.budget.judge import shapeless
from soiltrend.budget.sources import logged, silences
from soiltrend.story import phrases
from soiltrend.story.core import (
    Words,
    alt,
    cut,
    labs,
    layer,
    methods,
    nothing_words,
    sentence,
    spoken,
    where,
)
from soiltrend.story.shapes import HasAccount, HasReasons
from soiltrend.story.voice import PLAIN, Voice, amount, amount_within, figure, language_of, listed, unit_of

SAID = ("showed", "partly", "not_seen", "more_than_expected", "the_other_way", "cannot_say")
"""What an account may say of a bed, in the order in which a headline counts them."""

NOT_TESTED = "not_tested"
MOST_SOURCES = 4
"""Materials named in a newsletter before the rest is left to the table."""

RECOVERY = "_recovery"
"""How the phrases of the chart of recovery end, where it has its own."""

ARTEFACTS = ("why.headline.artefact", "why.headline.may_be_an_artefact")


def nutrient_name(nutrient: str, *, voice: Voice = PLAIN) -> str:
    """Return a nutrient as a grower says it.

    Examples
    --------
    >>> nutrient_name("N"), nutrient_name("Ca")
    ('nitrogen', 'calcium')
    """
    key = f"nutrient.{nutrient}"
    return voice.say(key) if key in phrases.load(language_of(voice)) else spoken(nutrient)


def _key(stem: str, word: str) -> str:
    return f"{stem}.{str(word).replace(' ', '_')}"


def _verdict(row: Mapping[Any, Any] | pd.Series[Any], *, voice: Voice) -> str:
    """Return what an account says, as the end of a sentence; a word without a phrase is said as it is.

    Where the check bed's own movement was taken off, the sentence names the check.
    """
    key, check = _key("budget.said", row["said"]), str(row.get("check", "") or "")
    said = voice.say(key) if key in phrases.load(language_of(voice)) else str(row["said"])
    return (
        voice.say("budget.said_beside", {"check": check, "said": said})
        if check and said != row["said"]
        else said
    )


def _span(row: dict[str, Any], name: str, *, voice: Voice) -> str:
    """Return an amount of the account with its interval."""
    if not np.isfinite(float(row[name])):
        return voice.say("amount.unknown")
    ends = [float(row.get(f"{name}_{end}", np.nan)) for end in ("low", "high")]
    unit = str(row["unit"]).removesuffix(" CaCO3")
    value = amount_within(float(row[name]), unit, ends=(ends[0], ends[1]), voice=voice)
    if not np.isfinite(ends).all() or ends[0] == ends[1]:
        return value
    low, high = (amount(end, unit, voice=voice, digits=2) for end in ends)
    return voice.say("amount.about", {"value": value, "low": low, "high": high})


def _put(row: Mapping[Any, Any] | pd.Series[Any], by_log: pd.DataFrame) -> str:
    """Return how the phrases about what went on a bed end: all, nothing, or a part of it is known."""
    if np.isnan(float(row["put_in"])):
        return "_unknown" if (by_log["bed"] == row["bed"]).any() else "_unlogged"
    return "" if row["put_in"] != 0 else "_none"


def _took(row: pd.Series[Any], taken: str, *, voice: Voice) -> str:
    """Return what the harvest took, or that nobody knows."""
    unknown = np.isnan(float(row["taken_out"]))
    return voice.say("budget.took_unknown" if unknown else "budget.took", {"taken": taken})


def _headline_of(row: pd.Series[Any], by_log: pd.DataFrame, *, name: str, voice: Voice) -> str:
    """Return what went on one bed, and what its test did."""
    unit = str(row["unit"]).removesuffix(" CaCO3")
    taken, put_in = (
        amount(float(row[part]), unit, voice=voice, digits=2) for part in ("taken_out", "put_in")
    )
    told = {
        "name": name,
        "where": where(str(row["bed"]), voice=voice),
        "said": _verdict(row, voice=voice),
        "amount": put_in,
        "took": _took(row, taken, voice=voice),
    }
    return voice.say(f"budget.headline{_put(row, by_log)}", told)


def _headline(rows: pd.DataFrame, by_log: pd.DataFrame, *, name: str, voice: Voice) -> str:
    """Return on how many beds a nutrient went, and in how many what was seen; of one bed how much.

    A bed of which only a part of the dressings is known is counted, and that is said of it.
    """
    if len(rows) == 1:
        return sentence(_headline_of(rows.iloc[0], by_log, name=name, voice=voice))
    put = rows.apply(_put, axis=1, by_log=by_log)
    said = rows.loc[put == "", "said"].str.replace(" ", "_").replace(NOT_TESTED, SAID[-1]).value_counts()
    seen = [voice.say(_key("budget.beds", word), {"n": int(said[word])}) for word in SAID if word in said]
    blank = int((put == "_unknown").sum())
    if seen and blank:
        seen.append(voice.say("budget.beds.unknown", {"n": blank}))
    told = {"name": name, "fed": int(said.sum()) + blank, "of": len(rows), "when": _when(rows, voice=voice)}
    told["seen"] = voice.say("list.join").join(seen)
    end = next(end for end in ("", "_unknown", "_unlogged", "_none") if (put == end).any())
    return sentence(voice.say(f"budget.headline_beds{end}", told))


def _when(rows: pd.DataFrame, *, voice: Voice) -> str:
    """Return in which days of the log an account lies: of each bed those between its tests, if it has two."""
    untested = (rows["said"].str.replace(" ", "_") == NOT_TESTED).any()
    return voice.say(_key("budget.when", "untested" if untested else "tested"))


def _gaps(rows: pd.DataFrame, *, voice: Voice) -> str:
    """Return in which days the log is silent, for the beds of which it is not known what went on."""
    reasons = silences(rows.reindex(columns=["put_in", "why"]).query("put_in.isna()")["why"])
    return voice.say("budget.gaps", {"reasons": listed(reasons, voice=voice)}) if reasons else ""


def _rows(rows: pd.DataFrame, *, voice: Voice) -> str:
    told = []
    for row in rows.to_dict("records"):
        spans = {
            name: _span({str(k): v for k, v in row.items()}, name, voice=voice)
            for name in ("put_in", "taken_out", "expected", "observed")
        }
        told.append(voice.say("budget.row", {"bed": row["bed"], "said": _verdict(row, voice=voice)} | spans))
    return voice.say("list.join").join(told)


def _brought(budget: HasAccount, rows: pd.DataFrame) -> pd.DataFrame:
    """Return what each material brought to the beds of some rows of the account, in their periods."""
    of = ["bed", "nutrient", "period"]
    return budget.sources.merge(rows[of], on=of)


def _sources(brought: pd.DataFrame, *, bed: str | None, voice: Voice) -> list[str]:
    """Return what brought the most, the greatest first."""
    rows = brought.sort_values("put_in", ascending=False, kind="stable").head(MOST_SOURCES)
    return [
        voice.say(
            "budget.source" if bed else "budget.source_bed",
            {
                "material": row["material"],
                "bed": row["bed"],
                "amount": amount(
                    float(row["put_in"]), str(row["unit"]).removesuffix(" CaCO3"), voice=voice, digits=2
                ),
            },
        )
        for row in rows.to_dict("records")
    ]


def _of_bed(
    row: pd.Series[Any], by_log: pd.DataFrame, told: Mapping[str, object], *, voice: Voice
) -> dict[str, object]:
    """Return what a newsletter tells of one bed: what went on, what came off, what the test did."""
    cells = {str(name): cell for name, cell in row.items()}
    put_in = _span(cells, "put_in", voice=voice)
    return {
        "put": voice.say(f"budget.put{_put(row, by_log)}", dict(told) | {"put_in": put_in}),
        "took": _took(row, _span(cells, "taken_out", voice=voice), voice=voice),
        "said": sentence(_verdict(row, voice=voice)),
    }


def _cause(rows: pd.DataFrame, *, voice: Voice) -> str:
    """Return why no cause is named, and how far one may go where a bed was left as it was."""
    checks = [str(name) for name in rows["check"].unique() if name] if "check" in rows else []
    if not checks:
        return voice.say("budget.cause")
    return voice.say("budget.beside", {"check": listed(checks, voice=voice)})


def budget_words(budget: HasAccount, *, nutrient: str, bed: str | None = None, voice: Voice = PLAIN) -> Words:
    """Return the words for the account of a nutrient, in one bed or over all.

    Parameters
    ----------
    budget : Budget
        With ``table`` and ``sources``.
    nutrient : str
        Such as "Ca".
    bed : str, optional
        One bed; all of them by default.
    voice : Voice
        Language and units.
    """
    return _words(budget, nutrient=nutrient, bed=bed, voice=voice)


def recovery_words(budget: HasAccount, *, nutrient: str, voice: Voice = PLAIN) -> Words:
    """Return the words for how much of a nutrient showed in the tests, bed by bed.

    Parameters
    ----------
    budget : Budget
        With ``table`` and ``sources``.
    nutrient : str
        Such as "Ca".
    voice : Voice
        Language and units.
    """
    return _words(budget, nutrient=nutrient, bed=None, kind=RECOVERY, voice=voice)


def _shares(rows: pd.DataFrame, *, voice: Voice) -> str:
    """Return of each bed how much showed, with its interval."""
    told = []
    for row in rows.to_dict("records"):
        cells = {name: figure(100 * row[name], digits=2) for name in ("low", "high")}
        cells |= {"share": figure(100 * row["recovery"], digits=2), "bed": row["bed"]}
        no_share = shapeless(row["low"], row["high"]) or not np.isfinite(row["recovery"])
        key = "budget.row_unknown" if no_share else "budget.row_recovery"
        told.append(voice.say(key, cells | {"said": _verdict(row, voice=voice)}))
    return voice.say("list.join").join(told)


def _caveat(brought: pd.DataFrame, *, voice: Voice) -> str:
    """Return what is a guess in what went on, by how amounts and analyses were come by."""
    guesses = {
        "budget.caveat_volume": brought["by_volume"].astype("bool").any(),
        "budget.caveat_analysis": not brought["measured"].astype("bool").all(),
    }
    told = listed([voice.say(key) for key, is_one in guesses.items() if is_one], voice=voice)
    return voice.say("budget.caveat" if told else "budget.caveat_none", {"guesses": told})


def _tested(rows: pd.DataFrame, *, voice: Voice) -> str:
    """Return by which laboratory, in which layer and by which method the rows were tested."""
    tested = rows[rows["said"].str.replace(" ", "_") != NOT_TESTED]
    if tested.empty:
        return voice.say("budget.untested")
    told = {"labs": labs(tested, voice=voice), "layer": layer(tested, voice=voice)}
    return voice.say("budget.tested", told | {"method": methods(tested, voice=voice)})


def _words(budget: HasAccount, *, nutrient: str, bed: str | None, kind: str = "", voice: Voice) -> Words:
    """Return the words for a picture of the account; ``kind`` is the end of its phrases' names."""
    rows = budget.table[budget.table["nutrient"] == nutrient]
    rows = rows[rows["bed"] == bed] if bed is not None else rows
    rows = rows.drop_duplicates("bed", keep="last")
    name = nutrient_name(nutrient, voice=voice)
    if rows.empty:
        place = where(bed or frames.GARDEN, voice=voice)
        return nothing_words(f"{name} {place}", why=voice.say("nothing.why.no_account"), voice=voice)
    brought = _brought(budget, rows)
    by_log = logged(brought)
    head = _headline(rows, by_log, name=name, voice=voice)
    sources = _sources(brought, bed=bed, voice=voice)
    told: dict[str, object] = {"name": name, "bed": bed, "head": head}
    told |= {"beds": voice.counted("budget.count", len(rows)), "gaps": _gaps(rows, voice=voice)}
    told |= {"when": _when(rows, voice=voice)}
    told |= {"period": listed(list(dict.fromkeys(rows["period"])), voice=voice)}
    told |= {
        "tested": _tested(rows, voice=voice),
        "rows": _rows(rows, voice=voice),
        "sources": voice.say("budget.sources", {"listed": listed(sources, voice=voice)})
        if sources
        else voice.say("budget.no_sources"),
    }
    if bed is not None:
        told |= _of_bed(rows.iloc[0], by_log, told | {"sources": listed(sources, voice=voice)}, voice=voice)
    told |= {"show": voice.say(f"budget.show{kind}"), "caveat": _caveat(brought, voice=voice)}
    told |= {"shares": _shares(rows, voice=voice)} if kind else {}
    paragraph = "budget.paragraph" if bed is not None else "budget.paragraph_beds"
    keys = (f"budget.alt{kind}",) if bed is None else ("budget.alt_bed", "budget.alt_short")
    return Words(
        head,
        voice.say("budget.subtitle", told),
        voice.say(f"budget.caption{kind}" if bed is None else "budget.caption_bed", told),
        alt([sentence(voice.say(key, told)) for key in keys], head),
        voice.say(f"budget.description{kind}", told),
        voice.say(paragraph, told),
        voice.say("budget.note", told),
        (_cause(rows, voice=voice), voice.say("budget.unknown")),
    )


def why_words(why: HasReasons, *, bed: str, voice: Voice = PLAIN) -> Words:
    """Return the words for a change of summed exchange capacity, taken apart.

    Parameters
    ----------
    why : WhyCEC
        With ``table``, ``headlines``, ``before``, ``after`` and ``confidence``.
    bed : str
        One bed; of its layers the uppermost is told.
    voice : Voice
        Language and units.
    """
    found, parts = (
        composites.topsoil(told[told["bed"] == bed], by=["bed"]) for told in (why.headlines, why.table)
    )
    place = where(bed, voice=voice)
    word = str(found["said"].iloc[0]) if len(found) else "cannot say"
    told = {"where": place, "said": word, "before": why.before, "after": why.after}
    told["unit"] = unit_of("cmol/kg", voice=voice)
    key = _key("why.headline", word)
    known = key in phrases.load(language_of(voice))
    head = voice.say(key if known else "why.headline.other", told)
    rows = [
        voice.say(
            "why.row",
            {"part": row["part"], "unit": told["unit"]}
            | {name: figure(row[name], digits=2) for name in ("change", "low", "high")},
        )
        for row in parts.to_dict("records")
    ]
    told |= {
        "labs": labs(parts, voice=voice),
        "layer": layer(parts, voice=voice),
        "method": listed([text for text in dict.fromkeys(parts["method"]) if text], voice=voice),
        "confidence": f"{why.confidence:.0%}",
        "rows": voice.say("list.join").join(rows),
        "sentence": str(found["sentence"].iloc[0]) + "." if len(found) else "",
        "head": head,
    }
    refused = [voice.say("refused.trend"), voice.say("refused.cause")]
    if _key("why.headline", word) in ARTEFACTS:
        refused.insert(0, voice.say("why.refused", {"claim": voice.say("why.claim"), "said": word}))
    return Words(
        head,
        voice.say("why.subtitle", told),
        voice.say("why.caption", told),
        alt([voice.say(key, told) for key in ("why.alt", "why.alt_short")], head),
        voice.say("why.description", told),
        cut(str(told["sentence"]), most=2000),
        voice.say("why.note", told),
        tuple(refused),
    )
