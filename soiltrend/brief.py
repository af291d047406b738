"""The garden on one page for the hurried: what changed, what is unclear, what to hold, what to add."""

from __future__ import annotations

import pandas as pd

from soiltrend import frames, verdicts
from soiltrend.compare import Comparison
from soiltrend.drift import STEADY, TOO_FEW, drift, told_last
from soiltrend.garden import Garden
from soiltrend.latest import compare_latest
from soiltrend.plan import NO_AIM, Plan, plan
from soiltrend.prepare import garden_noise, prepared
from soiltrend.present import Listing
from soiltrend.sampling import next_season
from soiltrend.story import PLAIN, Voice, amount, in_brief, listed, trends_in_brief
from soiltrend.trend import trend


def _unclear(comparison: Comparison, *, voice: Voice) -> str:
    """Return how much of the comparison is no answer yet."""
    beds = comparison.table[comparison.table["bed"] != frames.GARDEN]
    if beds.empty:
        return voice.say("brief.one_test")
    counts = beds["verdict"].value_counts()
    unclear, apart = (int(counts.get(name, 0)) for name in (verdicts.UNCLEAR, verdicts.NOT_COMPARABLE))
    told = [voice.say("brief.unclear_said", {"unclear": unclear, "n": len(beds)})]
    return " ".join([*told, voice.counted("brief.apart_said", apart)] if apart else told)


def _drifting(results: pd.DataFrame, *, voice: Voice) -> str:
    """Return which ratios and shares ask for a look by the series tested last, the firm ones by name."""
    table = told_last(drift(results).table)
    watched = table[table["flag"] != TOO_FEW]
    firm = watched[(watched["flag"] != STEADY) & watched["firm"]]
    if watched.empty:
        return voice.say("brief.few_tests")
    named = [
        f"{ratio} ({', '.join(part['bed'] + ': ' + part['flag'] for part in rows)})"
        for ratio, rows in ((name, group.to_dict("records")) for name, group in firm.groupby("ratio"))
    ]
    loose = int(((watched["flag"] != STEADY) & ~watched["firm"]).sum())
    told = voice.say("list.join").join(named) or voice.say("brief.drifting_none")
    waits = voice.counted("brief.loose_said", loose) if loose else ""
    return voice.say("brief.drifting_said", {"firm": told, "loose": waits})


def _hold(found: Plan, *, voice: Voice) -> list[str]:
    """Return what not to add, one sentence a bed, or that nothing is held back."""
    rows = found.hold.groupby("bed", sort=False)["what"].agg(
        lambda things: listed(list(dict.fromkeys(things)), voice=voice)
    )
    told = [voice.say("brief.held", {"bed": bed, "what": what}) for bed, what in rows.items()]
    return told or [voice.say("brief.held_none")]


def _dose(rows: pd.DataFrame, *, voice: Voice) -> str:
    """Return a material's equal doses in one phrase: how much each time, and on which days."""
    first = rows.iloc[0]
    told = {
        "material": first["material"],
        "amount": amount(float(first["g_per_m2"]), "g/m2", voice=voice),
        "cups": str(first["kitchen"] or "").partition(" (")[0],
        "days": listed(list(rows["date"]), voice=voice),
    }
    key = "brief.dose_measured" if told["cups"] else "brief.dose"
    return voice.counted(key, len(rows), told)


def _add(found: Plan, *, voice: Voice) -> list[str]:
    """Return what to add, one sentence a bed."""
    lines = []
    for bed, rows in found.doses.groupby("bed", sort=False):
        parts = rows.astype({"date": "str"}).groupby(["material", "g_per_m2"], sort=False)
        doses = voice.say("list.join").join(_dose(part, voice=voice) for _, part in parts)
        lines.append(voice.say("brief.added", {"bed": bed, "doses": doses}))
    unknown = found.cautions[found.cautions["about"] == NO_AIM]
    lines = lines or [voice.say("brief.added_none")]
    for row in unknown.to_dict("records"):
        names = row["caution"].partition(": ")[2]
        lines.append(voice.say("brief.added_unknown", {"beds": row["bed"], "names": names}))
    return lines


def in_short(garden: Garden, *, voice: Voice = PLAIN) -> Listing:
    """Return the garden on one page: each question with its answers, to be read in a minute.

    Parameters
    ----------
    garden : Garden
        What :func:`soiltrend.open_garden` gave.
    voice : Voice
        Language of the sentences, and units of those on change.

    Returns
    -------
    Listing
        Columns question, answer; a question with several answers stands
        on the first of several rows. What stands behind
        each is in the chapter, and the function, of its own.
    """
    results = prepared(garden)
    noise = garden_noise(garden, results=results)
    comparison = compare_latest(results, longest=True, noise=noise)
    season = next_season(garden)
    ends = {"before": comparison.before, "after": comparison.after}
    changed = voice.say("brief.changed_between" if len(comparison.table) else "brief.changed", ends)
    rows = [(changed, text) for text in in_brief(comparison, voice=voice)]
    rows += [(voice.say("brief.unclear"), _unclear(comparison, voice=voice))]
    going = trends_in_brief(trend(results, noise=noise), voice=voice) if len(results) else []
    rows += [(voice.say("brief.trends"), text) for text in going]
    rows += [(voice.say("brief.drifting"), _drifting(results, voice=voice))]
    if len(results):
        found, told = plan(garden, season=season), {"season": season}
        rows += [(voice.say("brief.hold"), text) for text in _hold(found, voice=voice)]
        rows += [(voice.say("brief.add", told), text) for text in _add(found, voice=voice)]
        rows += [(voice.say("brief.mind"), voice.say("brief.mind_said"))]
    rows += [(voice.say("brief.again"), voice.say("brief.again_said", {"season": season}))]
    table = pd.DataFrame(rows, columns=["question", "answer"], dtype="str")
    table["question"] = table["question"].mask(table["question"].duplicated(), "")
    return Listing(voice.say("brief.title", {"garden": garden.name}), table)
