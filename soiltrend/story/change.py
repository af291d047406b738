"""A comparison in words: one bed with all its measures, one measure over all beds."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from soiltrend import frames, scales, verdicts
from soiltrend.compare import Comparison
from soiltrend.story import refusing
from soiltrend.story.apart import lone, pooled, told_apart
from soiltrend.story.claims import MOVED, Claims, claims_of, years_needed
from soiltrend.story.core import (
    Words,
    alt,
    by_methods,
    fitting,
    labs,
    layer,
    named,
    nothing_words,
    sentence,
    spoken,
    where,
    with_scale,
)
from soiltrend.story.voice import PLAIN, Voice, amount, listed

PLAINLY = "plain"
"""How many samples, as a newsletter says it."""

UNNAMED = ("share", "slow", "divided")
"""Why a measure that left its band, and not by luck, is not named."""


def _told(claims: Claims, *, most: int, voice: Voice) -> str:
    """Return the claims as "pH rose and potassium fell"."""
    parts = [
        voice.say(
            "change.claim", {"names": named(names, voice=voice, most=most), "verb": voice.say(f"verb.{verb}")}
        )
        for verb, names in claims.by_verb().items()
    ]
    return listed(parts, voice=voice)


def headline(comparison: Comparison, *, bed: str, voice: Voice = PLAIN) -> str:
    """Return what changed in one bed, in one sentence that its verdicts carry."""
    table = comparison.table[comparison.table["bed"] == bed]
    compared = table[table["verdict"] != verdicts.NOT_COMPARABLE]
    ends = {"before": comparison.before, "after": comparison.after, "where": where(bed, voice=voice)}
    claims = claims_of(table, comparison)
    measures = voice.counted("count.measure", compared["analyte"].nunique())
    if compared.empty:
        return sentence(voice.say("change.none_compared", ends))
    if not claims.rows.empty:
        counts = {"n": claims.rows["analyte"].nunique(), "measures": measures}
        told = [
            ends | counts | {"claims": sentence(_told(claims, most=most, voice=voice))} for most in (3, 2, 1)
        ]
        keys = ("change.headline_counted", "change.headline_dated", "change.headline")
        return fitting([voice.say(key, values) for values in told for key in keys])
    left = refusing.unclaimed(table, claims, comparison)
    if left.empty:
        return sentence(voice.say("change.none_sure", ends | {"measures": measures}))
    key = "none_sure_but" if (left["because"] == refusing.LUCK).all() else "none_named"
    return sentence(
        voice.counted(f"change.{key}", left["analyte"].nunique(), ends | {"measures": measures})
    )


def headline_of_beds(comparison: Comparison, *, analyte: str, voice: Voice = PLAIN) -> str:
    """Return what one measure did over the beds, in one sentence that the verdicts carry.

    A bed is counted when a record of it stands among all the comparisons made and no other record of
    it goes the other way.
    """
    table = _of_analyte(comparison, analyte)
    of = table[table["verdict"] != verdicts.NOT_COMPARABLE]["bed"].nunique()
    told = {
        "name": sentence(spoken(analyte)),
        "before": comparison.before,
        "after": comparison.after,
    }
    if not of:
        return voice.say("beds.none_compared", told)
    if (years := years_needed(analyte, comparison)) is not None:
        return voice.say("beds.too_soon", told | {"years": f"{years:g}"})
    claims = claims_of(table, comparison)
    moved = _moved(claims, of, voice=voice)
    if not moved:
        left = refusing.unclaimed(table, claims, comparison)
        lucky = bool((left["because"] == refusing.LUCK).all())
        key = "none_sure" if left.empty else "none_sure_but" if lucky else "none_named"
        return voice.counted(f"beds.{key}", of, told | {"left": left["bed"].nunique()})
    told |= {"moved": moved}
    return fitting([voice.say("beds.headline", told), voice.say("beds.headline_dated", told)])


def _of_analyte(comparison: Comparison, analyte: str) -> pd.DataFrame:
    table = comparison.table
    return table[(table["analyte"] == analyte) & (table["bed"] != frames.GARDEN)]


def _moved(claims: Claims, of: int, *, voice: Voice) -> str:
    """Return "rose in 2 and fell in 1 of 6 beds"."""
    counts = claims.rows.groupby("verdict")["bed"].nunique()
    found = [verb for verb in MOVED if verb in counts]
    parts = [
        voice.counted("beds.moved", of, {"verb": voice.say(f"verb.{verb}"), "count": counts[verb]})
        if verb == found[-1]
        else voice.say("beds.moved_more", {"verb": voice.say(f"verb.{verb}"), "n": counts[verb]})
        for verb in found
    ]
    return listed(parts, voice=voice)


def _composites(table: pd.DataFrame, *, voice: Voice, style: str = "composites") -> str:
    """Return how many composite samples stand behind each end: of a bed, or of all where they are pooled."""
    spans, most = [], []
    for column in ("n_before", "n_after"):
        counts = table[column].dropna().astype(int)
        low, high = int(counts.min()), int(counts.max())
        spans.append(voice.say("change.span", {"low": low, "high": high}) if high > low else str(low))
        most.append(high)
    alike = "same" if spans[0] == spans[1] else "unlike"
    key = f"change.{style}_{alike}{'_all' if (table['bed'] == frames.GARDEN).all() else ''}"
    told = {"n": spans[0], "m": spans[1]}
    return voice.counted(key, most[0], told) if style == PLAINLY else voice.say(key, told)


def _measured(table: pd.DataFrame, *, voice: Voice, key: str = "measured") -> str:
    """Return who measured, which layer and how many, for the rows that could be compared."""
    compared = table[table["verdict"] != verdicts.NOT_COMPARABLE]
    if compared.empty:
        return voice.say("change.unmeasured")
    told = {
        "labs": labs(compared, voice=voice),
        "layer": layer(compared, voice=voice),
        "composites": _composites(compared, voice=voice),
        "plain": _composites(compared, voice=voice, style=PLAINLY),
    }
    return voice.say(f"change.{key}", told)


def shown(table: pd.DataFrame, *, voice: Voice = PLAIN) -> str:
    """Return how many measures are shown of how many ("14 of 14 measures shown")."""
    refused = int((table["verdict"] == verdicts.NOT_COMPARABLE).sum())
    measures = table["analyte"].nunique()
    lines = "change.shown_lines" if len(table) > measures else "change.shown"
    told = {"n": len(table), "measures": voice.counted("count.measure", measures), "refused": refused}
    return voice.say(f"{lines}_but" if refused else lines, told)


def _amounts(row: dict[str, object], *, voice: Voice) -> dict[str, str]:
    """Return both ends of a row in words, limits with their sign."""
    return {
        end: f"{row[f'{end}_censored'] or ''}{amount(float(str(row[end])), str(row['unit']), voice=voice)}"
        for end in ("before", "after")
    }


def _rows(table: pd.DataFrame, *, by: str, voice: Voice) -> str:
    """Return every row of the picture in words; ``by`` is "change" or "beds"."""
    names = table["analyte"].map(spoken) if by == "change" else pooled(table, voice=voice, mean=True)
    apart = told_apart(table, names=names, voice=voice)
    told = []
    for row, name, what in zip(table.to_dict("records"), names, apart, strict=True):
        whole = voice.say("where.apart", {"name": name, "what": what}) if what else name
        refused = "_refused" if row["verdict"] == verdicts.NOT_COMPARABLE else ""
        mean = "_mean" if by == "beds" and row["bed"] == frames.GARDEN else ""
        values = {"name": whole, "bed": whole}
        if not refused:
            values["verdict"] = voice.say(f"verb.{row['verdict']}")
            values |= _amounts({str(k): v for k, v in row.items()}, voice=voice)
        told.append(voice.say(f"{by}.row{mean}{refused}", values))
    return sentence(voice.say("list.join").join(told))


def _seen(claims: Claims, left: pd.DataFrame, of: int, *, voice: Voice) -> str:
    """Return the claims of a bed with their amounts, for a newsletter; or what left its band without one."""
    measures = {"measures": voice.counted("count.measure", of)}
    if claims.rows.empty:
        lucky = left[left["because"] == refusing.LUCK]["analyte"].nunique()
        if lucky:
            return voice.counted("change.seen_luck", lucky, measures)
        return voice.say("change.seen_unnamed") if len(left) else voice.counted("change.seen_none", of)
    told = []
    for row in claims.rows.drop_duplicates("analyte").to_dict("records"):
        ends = voice.say("amount.from_to", _amounts({str(k): v for k, v in row.items()}, voice=voice))
        verb = voice.say(f"verb.{row['verdict']}")
        told.append(
            voice.say("change.seen_one", {"name": spoken(str(row["analyte"])), "verb": verb, "amounts": ends})
        )
    return voice.say("change.seen_moved", measures | {"claims": sentence(listed(told, voice=voice))})


def _rest(table: pd.DataFrame, claims: Claims, left: pd.DataFrame, *, voice: Voice) -> str:
    """Return what is to be said of the measures that are not claimed."""
    because = left.drop_duplicates(["analyte", "because"])["because"].value_counts()
    kinds = (refusing.LUCK, *UNNAMED) if len(claims.rows) else UNNAMED
    told = [voice.counted(f"change.rest_{kind}", because[kind]) for kind in kinds if kind in because]
    counts = table["verdict"].value_counts()
    if verdicts.UNCLEAR in counts:
        told.append(voice.counted("change.rest_unclear", counts[verdicts.UNCLEAR]))
    why = {"reasons": refusing.reasons(table, by="analyte", voice=voice)}
    for key, verdict in (("rest_held", verdicts.HELD), ("rest_refused", verdicts.NOT_COMPARABLE)):
        if verdict in counts:
            told.append(voice.say(f"change.{key}", why | {"n": counts[verdict]}))
    return " ".join(told)


def _note(table: pd.DataFrame, head: str, *, band: str, voice: Voice) -> str:
    """Return what the speaker says, with the caveat."""
    compared = table[table["verdict"] != verdicts.NOT_COMPARABLE]
    if compared.empty:
        return voice.say("nothing.note")
    most = np.nanmax(compared[["n_before", "n_after"]].to_numpy(dtype=float))
    alone = most <= 1 and not (compared["bed"] == frames.GARDEN).any()
    caveat = (
        voice.say("change.caveat_one")
        if alone
        else voice.say("change.caveat_more", {"composites": _composites(compared, voice=voice)})
    )
    like = bool(compared["same_season"].all())
    unlike = voice.say("change.like_seasons" if like else "change.unlike_seasons")
    told = {"head": head, "caveat": caveat, "unlike": unlike, "band": voice.say(f"change.{band}")}
    return voice.say("change.note", told).strip()


def _typical(table: pd.DataFrame, *, voice: Voice) -> str:
    """Return which mean of the beds the garden's values are, where it is not the plain one."""
    garden = table[(table["bed"] == frames.GARDEN) & (table["scale"] == scales.LOG)]
    return " " + voice.say("change.typical") if np.isfinite(garden["change"]).any() else ""


def change_words(comparison: Comparison, *, bed: str, voice: Voice = PLAIN) -> Words:
    """Return the words for the chart of one bed (or the garden) and all its measures."""
    table = comparison.table[comparison.table["bed"] == bed]
    claims = claims_of(table, comparison)
    compared = table[table["verdict"] != verdicts.NOT_COMPARABLE]
    head = headline(comparison, bed=bed, voice=voice)
    left = refusing.unclaimed(table, claims, comparison)
    told = {
        "soil": voice.counted("count.soil", table["analyte"].nunique()),
        "where": where(bed, voice=voice),
        "before": comparison.before,
        "after": comparison.after,
        "measured": _measured(table, voice=voice),
        "plainly": _measured(table, voice=voice, key="measured_plainly"),
        "confidence": f"{comparison.confidence:.0%}",
        "shown": sentence(shown(table, voice=voice)),
        "rows": _rows(table, by="change", voice=voice),
        "seen": _seen(claims, left, compared["analyte"].nunique(), voice=voice),
        "rest": _rest(table, claims, left, voice=voice),
        "reasons": refusing.reasons(table, by="analyte", voice=voice),
    }
    return Words(
        head,
        voice.say("change.subtitle", told),
        voice.say("change.caption", told) + _typical(table, voice=voice),
        alt([voice.say(key, told) for key in ("change.alt", "change.alt_short")], head),
        voice.say("change.description", told),
        voice.say("change.paragraph" if len(compared) else "change.paragraph_none", told),
        _note(table, head, band="band", voice=voice),
        refusing.of_change(table, claims, comparison, voice=voice),
    )


def _beds_left(left: pd.DataFrame, of: int, *, voice: Voice) -> str:
    """Return in how many beds a measure left its band without a claim, and why there is none."""
    if left.empty:
        return voice.counted("beds.seen_none", of)
    kinds = left.groupby("because", sort=False)["bed"].nunique()
    return " ".join(voice.counted(f"beds.seen_{kind}", of, {"left": n}) for kind, n in kinds.items())


def _beds_seen(
    claims: Claims, left: pd.DataFrame, comparison: Comparison, analyte: str, *, of: int, voice: Voice
) -> str:
    """Return what one measure did, bed by bed, for a newsletter."""
    if (years := years_needed(analyte, comparison)) is not None:
        return voice.say("beds.seen_too_soon", {"years": f"{years:g}"})
    moved = _moved(claims, of, voice=voice)
    if not moved:
        return _beds_left(left, of, voice=voice)
    beds = [
        voice.say(
            "beds.bed",
            {
                "bed": row["bed"],
                "amounts": voice.say(
                    "amount.from_to", _amounts({str(k): v for k, v in row.items()}, voice=voice)
                ),
            },
        )
        for row in claims.rows.drop_duplicates("bed").to_dict("records")
    ]
    told = [voice.say("beds.seen_moved", {"moved": moved, "beds": listed(beds, voice=voice)})]
    lucky = left[left["because"] == refusing.LUCK]["bed"].nunique()
    told += [voice.counted("beds.seen_more", lucky)] if lucky else []
    return " ".join(told)


def _tested(table: pd.DataFrame, ends: Mapping[str, object], *, voice: Voice) -> str:
    """Return in how many beds a measure was tested at each end, and how many of them can be compared."""
    counts = {
        "first": table.loc[table["n_before"] > 0, "bed"].nunique(),
        "second": table.loc[table["n_after"] > 0, "bed"].nunique(),
        "both": table.loc[table["verdict"] != verdicts.NOT_COMPARABLE, "bed"].nunique(),
    }
    told = {name: voice.counted("count.bed", n) for name, n in counts.items()}
    key = "tested_alike" if len(set(counts.values())) == 1 else "tested_unlike"
    return voice.say(f"beds.{key}", dict(ends) | told | {"beds": told["first"]})


def beds_words(comparison: Comparison, *, analyte: str, voice: Voice = PLAIN) -> Words:
    """Return the words for the chart of one measure over all beds."""
    whole = comparison.table[comparison.table["analyte"] == analyte]
    whole = whole[~lone(whole)]
    table = _of_analyte(comparison, analyte)
    claims = claims_of(table, comparison)
    left = refusing.unclaimed(table, claims, comparison)
    head = headline_of_beds(comparison, analyte=analyte, voice=voice)
    of = table[table["verdict"] != verdicts.NOT_COMPARABLE]["bed"].nunique()
    told = {
        "name": spoken(analyte),
        "beds": voice.counted("count.bed", table["bed"].nunique()),
        "before": comparison.before,
        "after": comparison.after,
        "measured": _measured(table, voice=voice),
        "plainly": _measured(table, voice=voice, key="measured_plainly"),
        "by": by_methods(table[table["verdict"] != verdicts.NOT_COMPARABLE], voice=voice),
        "confidence": f"{comparison.confidence:.0%}",
        "rows": _rows(whole, by="beds", voice=voice),
        "seen": _beds_seen(claims, left, comparison, analyte, of=of, voice=voice),
        "reasons": refusing.reasons(table, by="bed", voice=voice),
    }
    told["tested"] = _tested(table, told, voice=voice)
    words = Words(
        head,
        voice.say("beds.subtitle", told),
        voice.say("beds.caption", told) + _typical(whole, voice=voice),
        alt([sentence(voice.say(key, told)) for key in ("beds.alt", "beds.alt_short")], head),
        voice.say("beds.description", told),
        voice.say("beds.paragraph" if of else "beds.paragraph_none", told),
        _note(table, head, band="bar", voice=voice),
        refusing.of_beds(table, claims, comparison, voice=voice),
    )
    return with_scale(words, analyte=analyte, voice=voice)


def uncompared_words(
    comparison: Comparison, *, analyte: str = "", bed: str = "", why: str = "", voice: Voice = PLAIN
) -> Words:
    """Return the words for a chart of one measure, or one bed, of which a comparison has nothing to draw.

    ``why`` is the key of another reason under ``nothing.why``.
    """
    ends = {"before": comparison.before, "after": comparison.after}
    told = refusing.why_nothing(comparison, analyte=analyte, voice=voice)
    if why and len(comparison.table):
        told = voice.say(f"nothing.why.{why}", ends)
    return nothing_words(bed or spoken(analyte), why=told, voice=voice)
