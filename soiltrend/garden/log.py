"""Whether the log tells what went on and what came off: a blank log is no zero."""

from __future__ import annotations

from collections.abc import Set
from functools import lru_cache
from itertools import pairwise

import pandas as pd

from soiltrend import tables
from soiltrend.frames import YEAR
from soiltrend.garden.folder import Garden


@lru_cache(maxsize=None)
def _stretches(days: tuple[pd.Timestamp, ...], start: pd.Timestamp, end: pd.Timestamp) -> list[str]:
    """Return the stretches of a period that lie in a gap of the log longer than it usually has."""
    usual = tables.load("account", numbers=("value",)).set_index("name")["value"]
    longest = pd.Timedelta(days=float(usual["unlogged"]) * YEAR)
    marks = [pd.Timestamp.min, *sorted(days), pd.Timestamp.max]
    told = []
    for first, second in pairwise(marks):
        since, until = max(first, start), min(second, end)
        if until - since > longest:
            told.append(f"{since:%B %Y} to {until:%B %Y}")
    return told


def unlogged(
    beds: Set[str], kept: tuple[pd.Timestamp, ...], *, bed: str, days: tuple[pd.Timestamp, pd.Timestamp]
) -> str:
    """Return in which part of a period nothing was logged, or "" when the log can be relied on.

    Parameters
    ----------
    beds : set of str
        Beds that the log names at all.
    kept : tuple of Timestamp
        Days on which the log was kept.
    bed : str
        The bed in question.
    days : tuple of Timestamp
        The period.

    Examples
    --------
    >>> day = pd.Timestamp
    >>> kept = (day("2022-04-01"), day("2023-04-02"))
    >>> unlogged({"East"}, kept, bed="East", days=(day("2019-04-01"), day("2023-10-01")))
    'nothing was logged from April 2019 to April 2022'
    >>> unlogged({"East"}, kept, bed="West", days=(day("2022-03-01"), day("2023-10-01")))
    'nothing was ever logged for West'
    """
    if not beds:
        return "nothing was logged in the whole garden"
    if bed not in beds:
        return f"nothing was ever logged for {bed}"
    told = _stretches(kept, *days)
    return f"nothing was logged from {' and from '.join(told)}" if told else ""


def not_logged(garden: Garden, *, bed: str, days: tuple[pd.Timestamp, pd.Timestamp]) -> str:
    """Return in which part of a period what went on a bed was not logged; of a check bed nothing is missing.

    Parameters
    ----------
    garden : Garden
        Whose log it is; harvests and what was seen count as days on which it was kept.
    bed : str
        The bed in question.
    days : tuple of Timestamp
        The period.
    """
    if garden.beds.set_index("bed")["check"][bed]:
        return ""
    tables_kept = (garden.applications, garden.harvests, garden.observations)
    kept = tuple(day for table in tables_kept if "date" in table for day in table["date"])
    return unlogged(set(garden.applications["bed"]), kept, bed=bed, days=days)
