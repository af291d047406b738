"""Results in words: headline, subtitle, caption and alt text, each read off the table.

A headline claims only what the verdicts carry: a measure is named as risen or fallen when
its verdict says so, and everything else is counted. The words are "changed", never "because
of". Organic matter and summed exchange capacity are not put into a headline on two dates
alone (see :data:`~soiltrend.story.change.SLOW`).
"""

from soiltrend.story.change import beds_words, change_words, headline, headline_of_beds, shown
from soiltrend.story.core import Words, listed, nothing_words, spoken, with_note
from soiltrend.story.drift import drift_words, flags
from soiltrend.story.listings import headlines, refused
from soiltrend.story.trend import trend_headline, trend_headlines, trend_said, trend_words

__all__ = [
    "Words",
    "beds_words",
    "change_words",
    "drift_words",
    "flags",
    "headline",
    "headline_of_beds",
    "headlines",
    "listed",
    "nothing_words",
    "refused",
    "shown",
    "spoken",
    "trend_headline",
    "trend_headlines",
    "trend_said",
    "trend_words",
    "with_note",
]
