"""Next year's plan in words: what to hold back comes first."""

from __future__ import annotations

import re

import pandas as pd

from soiltrend import frames
from soiltrend.story.core import (
    Words,
    alt,
    fitting,
    labs,
    layer,
    methods,
    named,
    nothing_words,
    spoken,
    where,
)
from soiltrend.story.shapes import HasPlan
from soiltrend.story.voice import PLAIN, Voice, factor_of, figure, listed, unit_of, weight

MOST_CAUTIONS = 3
"""Cautions read aloud; all of them stand in the plan."""

WEIGHED = re.compile(r"^[\d.]+ (?:lb|oz|kg|g): ")
"""A weight before the measures of a kitchen, which the words have said already."""


def _of(table: pd.DataFrame, bed: str) -> pd.DataFrame:
    """Return the rows of a bed, with those of the garden."""
    return table[table["bed"].isin([bed, frames.GARDEN])] if "bed" in table else table


def _headline(holds: list[str], materials: list[str], doses: int, *, bed: str, voice: Voice) -> str:
    start = "plan.start_garden" if bed == frames.GARDEN else "plan.start_bed"
    told: dict[str, object] = {"where_start": voice.say(start, {"bed": bed}), "n": len(holds)}
    told["doses"] = voice.counted("plan.doses", doses)
    ends = {(True, True): "both", (True, False): "hold", (False, True): "add", (False, False): "none"}
    key = f"plan.headline_{ends[bool(holds), bool(materials)]}"
    heads = []
    for most in (2, 1):
        names = {
            "what": named(holds, voice=voice, most=most),
            "materials": named(materials, voice=voice, most=most),
        }
        heads.append(voice.say(key, told | names))
    counted = voice.say(f"{key}_counted", told | {"materials": named(materials, voice=voice, most=1)})
    return fitting([*heads, counted])


def _holds(hold: pd.DataFrame, *, voice: Voice, short: bool) -> list[str]:
    """Return what is held, with why in full, or in short with the measures it is about."""
    told = []
    for why, group in hold.groupby("why", sort=False):
        about = [spoken(name) for name in str(group["about"].iloc[0]).split(", ") if name]
        reason = voice.say("plan.about", {"names": listed(about, voice=voice)}) if about and short else why
        what = listed([spoken(name) for name in group["what"]], voice=voice)
        told.append(voice.say("plan.holding", {"what": what, "why": reason}))
    return told


def _doses(doses: pd.DataFrame, *, voice: Voice) -> list[str]:
    return [
        voice.say(
            "plan.dose",
            {
                "date": f"{row['date']:%Y-%m-%d}" if hasattr(row["date"], "strftime") else row["date"],
                "material": row["material"],
                "amount": weight(float(row["grams"]), voice=voice),
                "kitchen": WEIGHED.sub("", row["kitchen"]),
            },
        )
        for row in doses.to_dict("records")
    ]


def _expected(row: dict[str, object], *, voice: Voice) -> dict[str, str]:
    """Return one expected row in the reader's units."""
    unit = str(row["unit"])
    times = factor_of(unit, voice=voice)
    numbers = {
        name: figure(float(str(row[name])) * times) or voice.say("plan.none")
        for name in ("now", "aim", "after", "low", "high")
    }
    said = unit_of(unit, voice=voice)
    sign = str(row.get("qualifier", ""))  # no test has read it: below its limit, or above
    numbers |= {name: f"{sign}{numbers[name]}" for name in ("now", "after")}
    return numbers | {"name": spoken(str(row["analyte"])), "unit": f" {said}" if said else ""}


def _subtitle(expected: pd.DataFrame, doses: int, *, voice: Voice) -> str:
    """Return how many doses there are, when the next test is, and how the tests it goes by were made."""
    told = {"doses": voice.counted("plan.doses", doses)}
    if expected.empty:
        return voice.say("plan.subtitle_none", told)
    told |= {"season": listed(list(expected["test"].unique()), voice=voice)}
    told |= {"labs": labs(expected, voice=voice), "layer": layer(expected, voice=voice)}
    told |= {"methods": methods(expected, voice=voice, most=2)}
    return voice.say("plan.subtitle", told)


def unplanned_words(bed: str, *, voice: Voice = PLAIN) -> Words:
    """Return the words for a picture of a plan that expects nothing of any measure."""
    return nothing_words(bed, why=voice.say("nothing.why.no_plan"), voice=voice)


def plan_words(plan: HasPlan, *, bed: str, voice: Voice = PLAIN) -> Words:
    """Return the words for one bed's plan.

    Parameters
    ----------
    plan : Plan
        With ``hold``, ``doses``, ``expected`` and ``cautions``.
    bed : str
        One bed.
    voice : Voice
        Language and units.
    """
    hold, doses, expected = (_of(table, bed) for table in (plan.hold, plan.doses, plan.expected))
    materials = list(dict.fromkeys(doses["material"]))
    what = [spoken(text) for text in dict.fromkeys(hold["what"])]
    head = _headline(what, materials, len(doses), bed=bed, voice=voice)
    holds, brief = _holds(hold, voice=voice, short=False), _holds(hold, voice=voice, short=True)
    lines = [
        _expected({str(k): v for k, v in row.items()}, voice=voice) for row in expected.to_dict("records")
    ]
    heed = plan.cautions.loc[plan.cautions["material"].isin([*materials, ""]), "caution"].unique()[
        :MOST_CAUTIONS
    ]
    dosed = _doses(doses, voice=voice)
    none = voice.say("plan.none")
    told = {
        "bed": bed,
        "where": where(bed, voice=voice),
        "measures": voice.counted("plan.measures", len(expected)),
        "head": head,
        "holds": listed(holds, voice=voice) or none,
        "brief": listed(brief, voice=voice),
        "doses": voice.say("list.join").join(dosed) or none,
        "rows": voice.say("list.join").join(voice.say("plan.row", line) for line in lines).strip() or none,
        "cautions": " ".join(str(text).rstrip(".") + "." for text in heed) or voice.say("plan.no_cautions"),
    }
    told["hold"] = voice.say("plan.hold" if holds else "plan.hold_none", told)
    told["add"] = voice.say("plan.add" if dosed else "plan.add_none", told)
    return Words(
        head,
        _subtitle(expected, len(doses), voice=voice),
        voice.say("plan.caption"),
        alt([voice.say(key, told) for key in ("plan.alt", "plan.alt_short")], head),
        voice.say("plan.description", told),
        voice.say("plan.paragraph", told),
        voice.say("plan.note", told),
        (voice.say("plan.refused"), voice.say("plan.yield")),
    )
