"""What tells rows of one picture apart that bear one name, and of how many beds a pooled one is."""

from __future__ import annotations

import pandas as pd

from soiltrend import frames
from soiltrend.story.core import labs, layer, methods
from soiltrend.story.voice import PLAIN, Voice


def told_apart(table: pd.DataFrame, *, names: pd.Series, voice: Voice = PLAIN) -> pd.Series:
    """Return in what each row differs from others of its name, in words; "" for a name that stands once.

    Method, laboratory and layer are told, each only where rows of that name differ in it.

    Examples
    --------
    >>> rows = pd.DataFrame({"method": "Olsen", "lab": "", "top_cm": 0.0, "bottom_cm": [15.0, 30.0, 15.0]})
    >>> told_apart(rows, names=pd.Series(["P", "P", "K"])).tolist()
    ['0-15 cm', '0-30 cm', '']
    """
    again = names.index[names.duplicated(keep=False)]
    rows = [table.loc[[at]] for at in again]
    parts = pd.DataFrame(
        {
            "method": [methods(row, voice=voice) for row in rows],
            "lab": [labs(row, voice=voice) for row in rows],
            "layer": [layer(row, voice=voice) for row in rows],
        },
        index=again,
    )
    differ = parts.groupby(names[again]).transform("nunique") > 1
    comma = voice.say("list.comma")
    told = [comma.join(row[keep]) for row, keep in zip(parts.to_numpy(), differ.to_numpy(), strict=True)]
    return pd.Series(told, index=again, dtype=object).reindex(names.index, fill_value="")


def pooled(table: pd.DataFrame, *, mean: bool = False, voice: Voice = PLAIN) -> pd.Series:
    """Return the name of each row: its bed, or of how many beds it is the mean; ``mean`` says so also of all.

    Examples
    --------
    >>> rows = pd.DataFrame({"bed": ["East", "West", "Low", frames.GARDEN], "analyte": "K",
    ...                      "beds": [1, 1, 1, 2], "verdict": "held"})
    >>> pooled(rows).tolist()
    ['East', 'West', 'Low', 'mean of 2 beds']
    >>> pooled(rows[rows["bed"] != "Low"]).tolist()
    ['East', 'West', 'all beds']
    """
    garden = table["bed"] == frames.GARDEN
    of = table["analyte"].map(table[~garden].groupby("analyte")["bed"].nunique())
    named = [
        voice.say("where.mean_all" if mean else "where.all")
        if beds in (0, whole)
        else voice.say("where.mean", {"beds": voice.counted("count.bed", int(beds))})
        for beds, whole in zip(table["beds"], of, strict=True)
    ]
    return table["bed"].where(~garden, pd.Series(named, index=table.index))


def lone(table: pd.DataFrame) -> pd.Series:
    """Return which rows are a mean of one bed, which says less than the bed's own row."""
    return (table["bed"] == frames.GARDEN) & (table["beds"] == 1)
