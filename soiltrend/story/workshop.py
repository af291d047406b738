"""Gardens side by side in words."""

from __future__ import annotations

from soiltrend import verdicts
from soiltrend.story.claims import MOVED
from soiltrend.story.core import Words, alt, sentence, spoken, with_scale
from soiltrend.story.voice import PLAIN, Voice, listed
from soiltrend.workshop import Workshop


def workshop_words(result: Workshop, *, analyte: str, method: str, voice: Voice = PLAIN) -> Words:
    """Return the words for the picture of one measure in several gardens."""
    rows = result.table[result.table["analyte"] == analyte]
    drawn = rows[(rows["method"] == method) & (rows["verdict"] != verdicts.NOT_COMPARABLE)]
    sure = drawn[drawn["q"] <= 1 - result.confidence]["verdict"].value_counts()
    told = {
        "name": sentence(spoken(analyte)),
        "of": len(drawn),
        "room": voice.counted("workshop.room", len(result.key)),
        "method": method or voice.say("method.unknown"),
        "confidence": f"{result.confidence:.0%}",
        "others": rows.loc[rows["method"] != method, "garden"].nunique(),
        "gardens": voice.counted("count.garden", len(drawn)),
    }
    moved = [
        voice.say("workshop.moved", {"verb": voice.say(f"verb.{verb}"), "n": sure[verb]})
        for verb in MOVED
        if verb in sure
    ]
    told["moved"] = listed(moved, voice=voice)
    told["verb"] = voice.say(f"verb.{sure.index[0]}") if moved else ""
    head = voice.counted("workshop.headline" if moved else "workshop.none_sure", len(drawn), told)
    words = Words(
        head,
        voice.say("workshop.subtitle_others" if told["others"] else "workshop.subtitle", told),
        voice.say("workshop.caption", told),
        alt([voice.say("workshop.alt", told)], head),
        note=voice.say("workshop.note", told),
    )
    return with_scale(words, analyte=analyte, voice=voice)
