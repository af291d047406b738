"""Gardens side by side in words."""

from __future__ import annotations

from soiltrend import verdicts
from soiltrend.story.claims import MOVED
from soiltrend.story.core import Words, alt, nothing_words, sentence, spoken, with_scale
from soiltrend.story.voice import PLAIN, Voice, listed
from soiltrend.workshop import Workshop


def workshop_words(result: Workshop, *, analyte: str, method: str, voice: Voice = PLAIN) -> Words:
    """Return the words for the picture of one measure in several gardens."""
    rows = result.table[result.table["analyte"] == analyte]
    drawn = rows[(rows["method"] == method) & (rows["verdict"] != verdicts.NOT_COMPARABLE)]
    if drawn.empty:
        why = voice.say("nothing.why.no_mean") if len(rows) else ""
        return nothing_words(spoken(analyte), why=why, voice=voice)
    gardens = drawn["garden"].nunique()
    others = rows[(rows["method"] != method) & ~rows["garden"].isin(drawn["garden"])]
    sure = drawn[drawn["q"] <= 1 - result.confidence].groupby("verdict")["garden"].nunique()
    told = {
        "name": sentence(spoken(analyte)),
        "of": gardens,
        "room": voice.counted("workshop.room", len(result.key)),
        "method": method or voice.say("method.unknown"),
        "confidence": f"{result.confidence:.0%}",
        "others": others["garden"].nunique(),
        "gardens": voice.counted("count.garden", gardens),
    }
    verbs = {verb: voice.say(f"verb.{verb}") for verb in MOVED if verb in sure}
    moved = [
        voice.say("workshop.moved", {"verb": said, "n": sure[verb]}) for verb, said in verbs.items()
    ]
    told["moved"] = listed(moved, voice=voice)
    told["verb"] = listed(list(verbs.values()), voice=voice)
    head = voice.counted("workshop.headline" if moved else "workshop.none_sure", gardens, told)
    words = Words(
        head,
        voice.say("workshop.subtitle_others" if told["others"] else "workshop.subtitle", told),
        voice.say("workshop.caption", told),
        alt([voice.say("workshop.alt", told)], head),
        note=voice.say("workshop.note", told),
    )
    return with_scale(words, analyte=analyte, voice=voice)
