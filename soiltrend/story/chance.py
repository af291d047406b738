"""What luck alone would have shown, in words."""

from __future__ import annotations

from soiltrend.luck import ALL, Luck
from soiltrend.story.core import Words, alt, nothing_words
from soiltrend.story.voice import PLAIN, Voice, figure


def luck_words(luck: Luck, *, voice: Voice = PLAIN) -> Words:
    """Return the words for the picture of what luck alone would have shown.

    Parameters
    ----------
    luck : Luck
        From :func:`soiltrend.luck`.
    voice : Voice
        Language and units.
    """
    if luck.table.empty:
        return nothing_words("", why=voice.say("luck.nothing"), voice=voice)
    whole = luck.table[luck.table["bed"] == ALL].iloc[0]
    stand, seen = int(whole["seen_adjusted"]), int(whole["seen"])
    by_luck = figure(float(whole["expected_by_luck"]), digits=2)
    told: dict[str, object] = {
        "seen": seen,
        "measures": voice.counted("count.measure", int(whole["measures"])),
        "luck": by_luck,
        "draws": luck.draws,
    }
    if not seen:
        head = voice.counted("luck.headline_none", int(whole["measures"]), told)
    else:
        head = (
            voice.counted("luck.headline_stand", stand, told) if stand else voice.say("luck.headline", told)
        )
    rows = [
        voice.say(
            "luck.row",
            {
                "bed": row["bed"],
                "seen": row["seen"],
                "of": row["measures"],
                "luck": figure(row["expected_by_luck"], digits=2),
            },
        )
        for row in luck.table.to_dict("records")
    ]
    stands = voice.counted("luck.stand", stand) if stand else voice.say("luck.stand_none")
    told |= {"rows": voice.say("list.join").join(rows), "stand": stands, "head": head}
    refused = [voice.counted("luck.refused", seen)] if seen > stand else []
    refused += [voice.say("luck.refused_all")] if stand else []
    return Words(
        head,
        voice.say("luck.subtitle", told),
        voice.say("luck.caption"),
        alt([voice.say(key, told) for key in ("luck.alt", "luck.alt_short")], head),
        voice.say("luck.description", told),
        voice.say("luck.paragraph", told),
        voice.say("luck.note", told),
        (*refused, voice.say("refused.cause")),
    )
