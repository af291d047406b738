"""Results in words: headline, subtitle, caption, alt text and more, each read off the table.

A headline claims only what the verdicts carry: a measure is named as risen or fallen when
its verdict says so and stands among all that was looked at, and everything else is counted.
The words are "changed", never "because of". Slow measures wait for the years that
``tables/margins.csv`` gives them. What was not said, and why, is said too (``refusals``).
Every phrase stands in ``en.toml``.
"""

from soiltrend.story.accounts import budget_words, recovery_words, why_words
from soiltrend.story.apart import lone, pooled, told_apart
from soiltrend.story.chance import luck_words
from soiltrend.story.change import (
    beds_words,
    change_words,
    headline,
    headline_of_beds,
    shown,
    uncompared_words,
)
from soiltrend.story.claims import whole
from soiltrend.story.core import Words, headed, nothing_words, spoken, with_note
from soiltrend.story.drift import drift_words, flags
from soiltrend.story.listings import bed_to_tell, headlines, in_brief, refused
from soiltrend.story.mulch import blend_words, no_season_words, season_words
from soiltrend.story.own import OwnHeadline, own_headline
from soiltrend.story.planning import plan_words, unplanned_words
from soiltrend.story.shares import (
    SERIES,
    alike,
    amounts_beside,
    means,
    no_shares_words,
    saturation_words,
    why_nothing_words,
)
from soiltrend.story.trend import (
    trend_headline,
    trend_headlines,
    trend_said,
    trend_words,
    trends_in_brief,
    untested_words,
)
from soiltrend.story.voice import PLAIN, Voice, amount, factor_of, listed, speak, unit_of
from soiltrend.story.workshop import workshop_words

__all__ = [
    "PLAIN",
    "SERIES",
    "OwnHeadline",
    "Voice",
    "Words",
    "alike",
    "amount",
    "amounts_beside",
    "bed_to_tell",
    "beds_words",
    "blend_words",
    "budget_words",
    "change_words",
    "drift_words",
    "factor_of",
    "flags",
    "headed",
    "headline",
    "headline_of_beds",
    "headlines",
    "in_brief",
    "listed",
    "lone",
    "luck_words",
    "means",
    "no_season_words",
    "no_shares_words",
    "nothing_words",
    "own_headline",
    "plan_words",
    "pooled",
    "recovery_words",
    "refused",
    "saturation_words",
    "season_words",
    "shown",
    "speak",
    "spoken",
    "told_apart",
    "trend_headline",
    "trend_headlines",
    "trend_said",
    "trend_words",
    "trends_in_brief",
    "uncompared_words",
    "unit_of",
    "unplanned_words",
    "untested_words",
    "whole",
    "why_nothing_words",
    "why_words",
    "with_note",
    "workshop_words",
]
