"""A trend in words: one measure over the years."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import frames, present, scales
from soiltrend.story.core import (
    Words,
    alt,
    by_methods,
    fitting,
    is_share,
    labs,
    layer,
    named,
    nothing_words,
    patience,
    sentence,
    spoken,
    where,
    with_scale,
)
from soiltrend.story.voice import PLAIN, Voice, factor_of, listed, unit_of
from soiltrend.trend import FALLING, RISING, TOO_FEW, Trend

TENTH = 0.1


def trend_said(row: dict[str, Any], *, confidence: float, voice: Voice = PLAIN) -> str:
    """Return one trend in a few words: verdict, and how much a year.

    What rises or falls by itself, but does not stand among all trends fitted (``q``), does so perhaps.
    """
    if row["verdict"] == TOO_FEW or not np.isfinite(row["slope_per_year"]):
        return str(row["verdict"])
    rate = row["percent_per_year"]
    unit = (
        voice.say("trend.points") if row["unit"] == "%" else unit_of(row["unit"], voice=voice) or row["unit"]
    )
    times = factor_of(row["unit"], voice=voice)
    slope = times * row["slope_per_year"]
    low, high = (times * row.get(end, np.nan) for end in ("low", "high"))
    points = present.within(slope, low=low, high=high, sign=True)
    told = f"{_rate(row)} %" if np.isfinite(rate) else f"{points} {unit}"
    weak = row["verdict"] in (RISING, FALLING) and (not row["q"] <= 1 - confidence or _early(row))
    key = "trend.rate_perhaps" if weak else "trend.rate"
    return voice.say(key, {"verdict": row["verdict"], "amount": told}).replace("-", "\u2212")


def _early(row: Mapping[Any, Any] | pd.Series[Any]) -> bool:
    """Return whether a measure is slow and was tested over fewer years than it needs to be news."""
    return bool(row["years"] < patience().get(str(row["analyte"]), 0.0))


def _rate(row: dict[str, Any]) -> str:
    """Return a rate [% a year] to a tenth; one that would then be nothing, as its interval allows."""
    rate = row["percent_per_year"]
    if abs(rate) >= TENTH / 2:
        return f"{rate:+.1f}"
    low, high = (row.get(f"percent_{end}", np.nan) for end in ("low", "high"))
    return present.within(rate, low=low, high=high, sign=True)


def _beds(trend: Trend, analyte: str) -> pd.DataFrame:
    """Return one record a bed of a measure, that of the most tests."""
    table = trend.table[(trend.table["analyte"] == analyte) & (trend.table["bed"] != frames.GARDEN)]
    return table.sort_values("n", ascending=False, kind="stable").drop_duplicates("bed")


def _standing(trend: Trend, fitted: pd.DataFrame) -> pd.DataFrame:
    """Return the beds whose trend stands among all those fitted and is not told too early."""
    moved = fitted[fitted["verdict"].isin([RISING, FALLING]) & (fitted["q"] <= 1 - trend.confidence)]
    return moved[~np.array([_early(row) for row in moved.to_dict("records")], dtype=bool)]


def _told(standing: pd.DataFrame, *, voice: Voice) -> str:
    """Return "rising in 2 and falling in 1"."""
    counts = standing["verdict"].value_counts()
    parts = [
        voice.say("trend.told", {"verb": voice.say(f"verb.{verb}"), "n": counts[verb]})
        for verb in (RISING, FALLING)
        if verb in counts
    ]
    return listed(parts, voice=voice)


def _amounts(trend: Trend, analyte: str, *, voice: Voice) -> str:
    """Return where the amounts behind a share or a ratio are going; a share never stands alone."""
    parts = scales.ratio_parts(analyte) or (analyte.removesuffix(" saturation"),)
    told = []
    for name in parts:
        beds = _beds(trend, name)
        fitted = beds[beds["verdict"] != TOO_FEW]
        moved = _told(_standing(trend, fitted), voice=voice)
        key = "amount_moved" if moved else "amount_unsure" if len(fitted) else ""
        told += [voice.say(f"trend.{key}", {"name": spoken(name), "told": moved})] if key else []
    return listed(told, voice=voice) if len(told) == len(parts) else voice.say("trend.amount_unknown")


def trend_headline(trend: Trend, *, analyte: str, voice: Voice = PLAIN) -> str:
    """Return where one measure is going over the beds, in one sentence that the verdicts carry.

    A bed counts as rising or falling when its trend stands among all those fitted (``q``), and a slow
    measure when it was tested for the years that it needs. With a share stand the amounts behind it.
    """
    beds = _beds(trend, analyte)
    fitted = beds[beds["verdict"] != TOO_FEW]
    told: dict[str, object] = {"name": sentence(spoken(analyte))}
    told["beds"] = voice.counted("count.bed", len(fitted))
    if fitted.empty:
        return voice.say("trend.too_few", told)
    told |= {"first": f"{fitted['first'].min():%Y}", "last": f"{fitted['last'].max():%Y}"}
    told["told"] = _told(_standing(trend, fitted), voice=voice)
    if told["told"] and is_share(analyte):
        told["amounts"] = _amounts(trend, analyte, voice=voice)
        return fitting([voice.say(f"trend.headline_share{end}", told) for end in ("", "_dated")])
    if told["told"]:
        return fitting([voice.say("trend.headline", told), voice.say("trend.headline_dated", told)])
    if _early(fitted.nlargest(1, "years").iloc[0]):
        return voice.say("beds.too_soon", told | {"years": f"{patience()[analyte]:g}"})
    keys = ("trend.none_sure", "trend.none_sure_dated")
    return fitting([voice.counted(key, len(fitted), told) for key in keys])


def trends_in_brief(trend: Trend, *, voice: Voice = PLAIN) -> list[str]:
    """Return a sentence for each measure of which a bed's trend stands among all those fitted, or for none.

    After them those of the garden as a whole. Shares of the exchange capacity are left out: they move with
    each other, and never stand alone.

    Parameters
    ----------
    trend : Trend
        What :func:`soiltrend.trend` gave.
    voice : Voice
        Language and units.
    """
    beds = trend.table[trend.table["bed"] != frames.GARDEN]
    names = [name for name in beds["analyte"].unique() if not is_share(name)]
    moved = [name for name in names if len(_standing(trend, _beds(trend, name)))]
    none = "trend.seen_none" if (beds["verdict"] != TOO_FEW).any() else "trend.seen_few"
    told = [trend_headline(trend, analyte=name, voice=voice) for name in moved] or [voice.say(none)]
    for row in _standing(trend, trend.table[trend.table["bed"] == frames.GARDEN]).to_dict("records"):
        said = trend_said({str(k): v for k, v in row.items()}, confidence=trend.confidence, voice=voice)
        if not is_share(row["analyte"]):
            told.append(voice.say("trend.whole", {"name": spoken(row["analyte"]), "said": said}))
    return told


def trend_headlines(trend: Trend) -> present.Listing:
    """Return one sentence a measure: where it is going over the beds, and in the garden as a whole.

    Returns
    -------
    Listing
        Columns analyte, beds (the sentence), garden (verdict and rate).
    """
    whole = trend.table[trend.table["bed"] == frames.GARDEN].sort_values("n", ascending=False, kind="stable")
    told = [
        (
            name,
            trend_headline(trend, analyte=name),
            next(
                (
                    trend_said({str(k): v for k, v in row.items()}, confidence=trend.confidence)
                    for row in whole[whole["analyte"] == name].to_dict("records")
                ),
                "",
            ),
        )
        for name in trend.table["analyte"].unique()
    ]
    table = pd.DataFrame(told, columns=["analyte", "beds", "garden"])
    return present.Listing(PLAIN.say("trend.title"), table)


def _refusals(trend: Trend, beds: pd.DataFrame, *, voice: Voice) -> tuple[str, ...]:
    """Return what the headline of a measure did not say, and why."""
    fitted = beds[beds["verdict"] != TOO_FEW]
    doubtful = fitted[fitted["verdict"].isin([RISING, FALLING])].drop(index=_standing(trend, fitted).index)
    told = []
    for row in doubtful.to_dict("records"):
        claim = {"verb": voice.say(f"verb.{row['verdict']}"), "where": where(row["bed"], voice=voice)}
        values = {"claim": voice.say("trend.claim", claim), "q": present.number(float(row["q"]), digits=2)}
        values["years"] = f"{patience().get(str(row['analyte']), 0.0):g}"
        told.append(voice.say("refused.slow" if _early(row) else "refused.luck", values))
    few = list(beds.loc[beds["verdict"] == TOO_FEW, "bed"])
    told += [voice.say("refused.few", {"names": named(few, voice=voice)})] if few else []
    told += [voice.say("refused.later"), voice.say("refused.cause")] if len(fitted) else []
    return tuple(told)


def _seen(trend: Trend, beds: pd.DataFrame, *, voice: Voice) -> str:
    fitted = beds[beds["verdict"] != TOO_FEW]
    if fitted.empty:
        return voice.say("trend.seen_few")
    standing = _standing(trend, fitted)
    if standing.empty:
        longest = fitted.nlargest(1, "years").iloc[0]
        years = f"{patience().get(str(longest['analyte']), 0.0):g}"
        return voice.say("beds.seen_too_soon" if _early(longest) else "trend.seen_none", {"years": years})
    told = {"told": _told(standing, voice=voice), "beds": voice.counted("count.bed", len(fitted))}
    seen, name = voice.counted("trend.seen_moved", len(standing), told), str(fitted["analyte"].iloc[0])
    return f"{seen} {sentence(_amounts(trend, name, voice=voice))}." if is_share(name) else seen


def _rows(beds: pd.DataFrame, *, confidence: float, voice: Voice) -> str:
    """Return every panel in words."""
    rows = [{str(k): v for k, v in row.items()} for row in beds.to_dict("records")]
    told = [
        voice.say(
            "trend.row",
            {
                "bed": row["bed"],
                "said": trend_said(row, confidence=confidence, voice=voice),
                "tests": voice.counted("count.test", int(row["n"])),
            },
        )
        for row in rows
    ]
    return voice.say("list.join").join(told)


def untested_words(analyte: str, *, voice: Voice = PLAIN) -> Words:
    """Return the words for a chart over the years of a measure without a dated test."""
    name = spoken(analyte)
    return nothing_words(name, why=voice.say("nothing.why.undated", {"name": name}), voice=voice)


def trend_words(trend: Trend, *, analyte: str, voice: Voice = PLAIN) -> Words:
    """Return the words for the chart of one measure over the years."""
    table = trend.table[(trend.table["analyte"] == analyte) & (trend.table["bed"] != frames.GARDEN)]
    if table["last"].isna().all():
        return untested_words(analyte, voice=voice)
    beds, most = _beds(trend, analyte).sort_index(), int(table["n"].max())
    head = trend_headline(trend, analyte=analyte, voice=voice)
    told = {
        "name": spoken(analyte),
        "first": f"{table['first'].min():%Y}",
        "last": f"{table['last'].max():%Y}",
        "labs": labs(table, voice=voice),
        "by": by_methods(table, voice=voice),
        "layer": layer(table, voice=voice),
        "tests": voice.counted("count.test", most),
        "times": voice.counted("count.times", most),
        "beds": voice.counted("count.bed", table["bed"].nunique()),
        "confidence": f"{trend.confidence:.0%}",
        "head": head,
        "rows": _rows(beds, confidence=trend.confidence, voice=voice),
        "seen": _seen(trend, beds, voice=voice),
    }
    words = Words(
        head,
        voice.say("trend.subtitle", told),
        voice.say("trend.caption", told),
        alt([sentence(voice.say(f"trend.{key}", told)) for key in ("alt_by", "alt", "alt_short")], head),
        voice.say("trend.description", told),
        voice.say("trend.paragraph", told),
        voice.say("trend.note", told),
        _refusals(trend, beds, voice=voice),
    )
    return with_scale(words, analyte=analyte, voice=voice)
