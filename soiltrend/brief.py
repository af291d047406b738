"""The garden on one page for the hurried: what changed, what is unclear, what to hold, what to add."""

from __future__ import annotations

import pandas as pd

from soiltrend import frames, present, verdicts
from soiltrend.compare import Comparison
from soiltrend.drift import STEADY, TOO_FEW, drift
from soiltrend.garden import Garden
from soiltrend.latest import compare_latest
from soiltrend.plan import Plan, plan
from soiltrend.prepare import garden_noise, prepared
from soiltrend.present import Listing
from soiltrend.sampling import next_season
from soiltrend.story import PLAIN, Voice, in_brief, listed

MIND = (
    "Every dose has its cautions: read them in the plan before anything is spread. The laboratory, local "
    "rules and a licensed adviser come first."
)


def _unclear(comparison: Comparison) -> str:
    """Return how much of the comparison is no answer yet."""
    beds = comparison.table[comparison.table["bed"] != frames.GARDEN]
    if beds.empty:
        return "No two tests can be compared yet: the next one makes a comparison."
    counts = beds["verdict"].value_counts()
    unclear, apart = (int(counts.get(name, 0)) for name in (verdicts.UNCLEAR, verdicts.NOT_COMPARABLE))
    return (
        f"{unclear} of {len(beds)} measures of beds are unclear, which is an answer: the change, if any, is "
        f"smaller than one could see. {apart} are not comparable; the chapter on what changed says why."
    )


def _drifting(results: pd.DataFrame) -> str:
    """Return which ratios and shares ask for a look, the firm ones by name."""
    table = drift(results).table
    watched = table[table["flag"] != TOO_FEW]
    firm = watched[(watched["flag"] != STEADY) & watched["firm"]]
    if watched.empty:
        return "Too few tests to watch ratios."
    named = [
        f"{ratio} ({', '.join(part['bed'] + ': ' + part['flag'] for part in rows)})"
        for ratio, rows in ((name, group.to_dict("records")) for name, group in firm.groupby("ratio"))
    ]
    loose = int(((watched["flag"] != STEADY) & ~watched["firm"]).sum())
    told = "; ".join(named) or "none for sure"
    return f"{told}. {loose} more wait for a second test. A ratio describes and does not grade."


def _hold(found: Plan) -> list[str]:
    """Return what not to add, one sentence a bed."""
    rows = found.hold.groupby("bed", sort=False)["what"].agg(
        lambda things: listed(list(dict.fromkeys(things)))
    )
    return [f"{bed}: {what}." for bed, what in rows.items()]


def _dose(rows: pd.DataFrame) -> str:
    """Return a material's equal doses in one phrase: how much each time, and on which days."""
    first = rows.iloc[0]
    cups = str(first["kitchen"] or "").partition(" (")[0]
    each = f"{present.number(first['g_per_m2'])} g/m2" + (f", {cups}," if cups else "")
    return f"{first['material']} {each} on {listed(list(rows['date']))}"


def _add(found: Plan) -> list[str]:
    """Return what to add, one sentence a bed."""
    lines = []
    for bed, rows in found.doses.groupby("bed", sort=False):
        parts = rows.astype({"date": "str"}).groupby(["material", "g_per_m2"], sort=False)
        doses = [_dose(part) for _, part in parts]
        lines.append(f"{bed}: {'; '.join(doses)}.")
    return lines or ["Nothing: no bed is short of anything that could sensibly be added."]


def in_short(garden: Garden, *, voice: Voice = PLAIN) -> Listing:
    """Return the garden on one page: each question with its answers, to be read in a minute.

    Parameters
    ----------
    garden : Garden
        What :func:`soiltrend.open_garden` gave.
    voice : Voice
        Language and units of the sentences on change.

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
    ends = f" from {comparison.before} to {comparison.after}" if len(comparison.table) else ""
    rows = [(f"What changed{ends}?", text) for text in in_brief(comparison, voice=voice)]
    rows += [("What is unclear?", _unclear(comparison)), ("Which ratios are drifting?", _drifting(results))]
    if len(results):
        found = plan(garden, season=season)
        rows += [("What to hold back?", text) for text in _hold(found)]
        rows += [(f"What to add in {season}?", text) for text in _add(found)]
        rows += [("What to mind?", MIND)]
    rows += [("When to test again?", f"In {season}: the same laboratory, layer and weeks of the year.")]
    table = pd.DataFrame(rows, columns=["question", "answer"], dtype="str")
    table["question"] = table["question"].mask(table["question"].duplicated(), "")
    return Listing(f"{garden.name} in short", table)
