"""What a headline might have said and did not, each with its reason."""

from __future__ import annotations

import pandas as pd

from soiltrend import frames, present, verdicts
from soiltrend.compare import Comparison
from soiltrend.story.claims import MOVED, Claims, divided, stands, years_needed
from soiltrend.story.core import is_share, named, sentence, spoken, where
from soiltrend.story.voice import Voice

LUCK = "luck"
"""Why a row is not claimed that left its band, but does not stand among all that was compared."""

REASONS = 2
"""Reasons that a newsletter gives before it counts the rest."""


def _reason(row: dict[str, object], comparison: Comparison) -> tuple[str, dict[str, str]]:
    """Return the key of the reason why a moved row is not named, and what fills it."""
    analyte = str(row["analyte"])
    if is_share(analyte):
        return "refused.share", {}
    if (years := years_needed(analyte, comparison)) is not None:
        return "refused.slow", {"years": f"{years:g}"}
    if row["divided"]:
        return "refused.divided", {}
    return "refused.luck", {"q": present.number(float(str(row["q"])), digits=2)}


def _moved(
    table: pd.DataFrame, claims: Claims, comparison: Comparison, *, voice: Voice, beds: bool
) -> list[str]:
    """Return a refusal for every row that rose or fell and is not claimed."""
    rows = table.assign(divided=divided(table))
    rows = rows[rows["verdict"].isin(MOVED) & ~rows.index.isin(claims.rows.index)]
    told = []
    for row in rows.to_dict("records"):
        key, values = _reason({str(k): v for k, v in row.items()}, comparison)
        claim = f"{spoken(row['analyte'])} {voice.say('verb.' + row['verdict'])}"
        place = f" {where(row['bed'], voice=voice)}" if beds else ""
        told.append(voice.say(key, values | {"claim": sentence(claim + place)}))
    return list(dict.fromkeys(told))


def unclaimed(table: pd.DataFrame, claims: Claims, comparison: Comparison) -> pd.DataFrame:
    """Return the rows that rose or fell and are not claimed, with ``because``: luck, share, slow or divided.

    A row is luck's where it does not stand among all that was compared. A bed's measure of which another
    row is claimed is not in it.
    """
    rows = table.assign(divided=divided(table))
    named_ = pd.MultiIndex.from_frame(claims.rows[["bed", "analyte"]])
    mine = pd.MultiIndex.from_frame(table[["bed", "analyte"]]).isin(named_)
    rows = rows[rows["verdict"].isin(MOVED) & ~mine]
    stand = stands(rows, comparison)
    reasons_ = [
        _reason({str(k): v for k, v in row.items()}, comparison)[0].partition(".")[2] if sure else LUCK
        for row, sure in zip(rows.to_dict("records"), stand, strict=True)
    ]
    return rows.assign(because=pd.Series(reasons_, index=rows.index, dtype=object))


def _compared(table: pd.DataFrame, column: str, *, voice: Voice) -> list[str]:
    """Return a refusal for every reason not to compare, with the measures or beds it concerns."""
    rows = table[table["verdict"] == verdicts.NOT_COMPARABLE]
    told = []
    for why, group in rows.groupby("why", sort=False):
        names = [spoken(name) for name in dict.fromkeys(group[column])]
        said = {"names": named(names, voice=voice), "reason": _reason_in(why)}
        told.append(voice.say("refused.compared", said))
    return told


def reasons(table: pd.DataFrame, *, by: str, voice: Voice) -> str:
    """Return why rows were not compared, the commonest reasons first, with the measures or beds of each."""
    rows = table[table["verdict"] == verdicts.NOT_COMPARABLE]
    groups = sorted(rows.groupby("why", sort=False), key=lambda pair: -len(pair[1]))
    told = []
    for why, group in groups[:REASONS]:
        names = named([spoken(name) for name in dict.fromkeys(group[by])], voice=voice)
        said = {"names": names, "reason": _reason_in(why)}
        told.append(voice.say("refused.reason_of", said) if len(groups) > 1 else said["reason"])
    rest = sum(len(group) for _, group in groups[REASONS:])
    told += [voice.say("refused.reason_rest", {"n": rest})] if rest else []
    return voice.say("list.join").join(told)


def why_nothing(comparison: Comparison, *, analyte: str, voice: Voice) -> str:
    """Return why a comparison has no numbers of a measure; nothing where no two tests can be compared.

    Of a measure that it holds these are the rows' own reasons.
    """
    if comparison.table.empty:
        return voice.say(f"nothing.why.no_{comparison.lacks}") if comparison.lacks else ""
    if not analyte:
        return ""
    rows = comparison.table[comparison.table["analyte"] == analyte]
    told = {"name": spoken(analyte), "before": comparison.before, "after": comparison.after}
    if rows.empty:
        return voice.say("nothing.why.unmeasured", told)
    beds = rows[rows["bed"] != frames.GARDEN]
    reason = {"reasons": reasons(beds, by="bed", voice=voice)}
    return voice.say("nothing.why.not_compared", told | reason) if reason["reasons"] else ""


def _reason_in(why: object) -> str:
    """Return the reason in a row's explanation, without "Not compared" before it."""
    return str(why).partition(": ")[2] or str(why)


def _always(table: pd.DataFrame, *, what: str, voice: Voice) -> list[str]:
    """Return what two dates without a check never say."""
    unclear = int((table["verdict"] == verdicts.UNCLEAR).sum())
    filled = {"what": voice.counted(f"count.{what}", unclear)}
    told = [voice.counted("refused.unchanged", unclear, filled)] if unclear else []
    if (table["verdict"] != verdicts.NOT_COMPARABLE).any():
        told += [voice.say("refused.trend"), voice.say("refused.cause")]
    return told


def of_change(
    table: pd.DataFrame, claims: Claims, comparison: Comparison, *, voice: Voice
) -> tuple[str, ...]:
    """Return the refusals of one bed's chart."""
    moved = _moved(table, claims, comparison, voice=voice, beds=False)
    return (*moved, *_compared(table, "analyte", voice=voice), *_always(table, what="measure", voice=voice))


def of_beds(table: pd.DataFrame, claims: Claims, comparison: Comparison, *, voice: Voice) -> tuple[str, ...]:
    """Return the refusals of one measure's chart over the beds."""
    moved = _moved(table, claims, comparison, voice=voice, beds=True)
    return (*moved, *_compared(table, "bed", voice=voice), *_always(table, what="bed", voice=voice))
