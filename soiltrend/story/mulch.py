"""A blend, and the nitrogen of a season, in words."""

from __future__ import annotations

import numpy as np
import pandas as pd

from soiltrend import frames
from soiltrend.errors import SoiltrendError
from soiltrend.present import HasTable
from soiltrend.story.core import Words, alt, cut, fitting, named, where
from soiltrend.story.shapes import HasBlend
from soiltrend.story.voice import PLAIN, Voice, amount, factor_of, figure, listed, system_of

TOGETHER = "(together)"
"""The rows of a season in which all materials are summed."""


def _together(table: pd.DataFrame) -> tuple[float, float, float]:
    """Return weight [kg], C:N and moisture [%] of a blend, from its parts."""
    total = float(table["kg"].sum())
    nitrogen = float(table["N_kg"].sum())
    cn = float(table["C_kg"].sum()) / nitrogen if nitrogen > 0 else np.nan
    return total, cn, 100 * (1 - float(table["dry_kg"].sum()) / total) if total > 0 else np.nan


def _part(ratio: float, voice: Voice) -> str:
    """Return the C:N of one material, which is none where it holds no nitrogen."""
    return figure(ratio, digits=2) if np.isfinite(ratio) else voice.say("blend.none")


def blend_words(blend: HasBlend, *, voice: Voice = PLAIN) -> Words:
    """Return the words for a blend.

    Parameters
    ----------
    blend : Blend
        With ``table``, ``met`` and ``why``.
    voice : Voice
        Language and units.

    Raises
    ------
    SoiltrendError
        When nothing in it holds nitrogen: there is no C:N to tell.
    """
    rows = blend.table[blend.table["kg"] > 0]
    total, cn, moisture = _together(rows)
    if np.isnan(cn):
        raise SoiltrendError(
            "nothing in this blend holds nitrogen, so it has no C:N to tell or to draw",
            remedy="Add something that holds some, such as grass clippings or manure",
        )
    weights = [amount(value, "kg", voice=voice, digits=2) for value in rows["kg"]]
    told = {
        "materials": named(list(rows["material"]), voice=voice),
        "count": voice.counted("count.material", len(rows)),
        "kg": amount(total, "kg", voice=voice),
        "cn": figure(cn, digits=2),
        "moisture": figure(moisture, digits=2),
        "why": blend.why,
        "rows": voice.say("list.join").join(
            voice.say("blend.row", {"material": name, "kg": kg, "cn": _part(ratio, voice)})
            for name, kg, ratio in zip(rows["material"], weights, rows["CN"], strict=True)
        ),
    }
    take = [
        voice.say("blend.take", {"kg": kg, "material": name})
        for name, kg in zip(rows["material"], weights, strict=True)
    ]
    keys = ("blend.headline_both", "blend.headline_met") if blend.met else ("blend.headline_unmet",)
    head = fitting([voice.say(key, told) for key in keys])
    return Words(
        head,
        voice.say("blend.subtitle", told),
        voice.say("blend.caption"),
        alt([voice.say(key, told) for key in ("blend.alt", "blend.alt_short")], head),
        voice.say("blend.description", told),
        voice.say("blend.paragraph", told | {"rows": listed(take, voice=voice)}),
        voice.say("blend.note", {"head": head}),
        (voice.say("blend.refused_exact", told), voice.say("blend.refused_speed")),
    )


def season_words(season: HasTable, *, voice: Voice = PLAIN) -> Words:
    """Return the words for the nitrogen that comes free or is tied up, month by month.

    Parameters
    ----------
    season : result of ``nitrogen_season``
        Its ``table`` holds month, low, likely, high (g of N a square metre and month).
    voice : Voice
        Language and units.
    """
    table = season.table
    if "what" in table and (table["what"] == TOGETHER).any():
        table = table[table["what"] == TOGETHER]
    tied, freed = (_runs(table["month"], side, voice=voice) for side in (table["high"] < 0, table["low"] > 0))
    ends = {(True, True): "both", (True, False): "tied", (False, True): "freed", (False, False): "none"}
    told: dict[str, object] = {"tied": tied, "freed": freed}
    told |= {
        slot: voice.counted(f"count.{key}", table["month"].nunique())
        for slot, key in (("months", "month"), ("strip", "months"))
    }
    head = voice.say(f"season.headline_{ends[bool(tied), bool(freed)]}", told)
    times = factor_of("g/m2", voice=voice)
    rows = [
        voice.say(
            "season.row",
            {"month": _month(row["month"])}
            | {name: figure(row[name] * times, digits=2) for name in ("likely", "low", "high")},
        )
        for row in table.to_dict("records")
    ]
    told |= {"rows": voice.say("list.join").join(rows), "head": head}
    return Words(
        head,
        voice.say("season.subtitle_us" if system_of(voice) == "US" else "season.subtitle"),
        voice.say("season.caption"),
        alt([voice.say(key, told) for key in ("season.alt", "season.alt_short")], head),
        voice.say("season.description", told),
        voice.say("season.paragraph", told),
        voice.say("season.note", told),
        (voice.say("season.refused"),),
    )


def no_season_words(bed: str, *, why: str, voice: Voice = PLAIN) -> Words:
    """Return the words for a season of nitrogen that cannot be reckoned, with the reason the season gives.

    Examples
    --------
    >>> no_season_words("East", why="Nothing is written down yet.").description
    'The chart is empty. Nothing is written down yet.'
    """
    told = {"where": where(bed or frames.GARDEN, voice=voice), "why": why}
    return Words(
        voice.say("season.none_headline", told),
        voice.say("season.none_subtitle"),
        why,
        cut(voice.say("season.none_alt", told)),
        voice.say("season.none_description", told),
        voice.say("season.none_paragraph", told),
        voice.say("season.none_note", told),
    )


def _runs(months: pd.Series, chosen: pd.Series, *, voice: Voice) -> str:
    """Return the months chosen, those that follow one another as "March to May"."""
    run = (chosen != chosen.shift()).cumsum()[chosen]
    told = []
    for _, part in months[chosen].groupby(run, sort=False):
        first, last = _month(part.iloc[0]), _month(part.iloc[-1])
        told.append(first if first == last else voice.say("season.run", {"first": first, "last": last}))
    return named(told, voice=voice)


def _month(value: object) -> str:
    """Return a month as it is said: a date by its month and year, a text as it is."""
    return f"{value:%B %Y}" if isinstance(value, pd.Timestamp) else str(value)
