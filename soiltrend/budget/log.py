"""Whether the log tells what went on and what came off: a blank log is no zero."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import pandas as pd

from soiltrend.budget.chance import setting
from soiltrend.budget.shelf import YEAR


def _stretches(days: Sequence[pd.Timestamp], start: pd.Timestamp, end: pd.Timestamp) -> list[str]:
    """Return the stretches of a period that lie in a gap of the log longer than it usually has."""
    longest = pd.Timedelta(days=setting("unlogged") * YEAR)
    marks = [pd.Timestamp.min, *sorted(days), pd.Timestamp.max]
    told = []
    for first, second in pairwise(marks):
        since, until = max(first, start), min(second, end)
        if until - since > longest:
            told.append(f"{since:%B %Y} to {until:%B %Y}")
    return told


def unlogged(
    log: Sequence[tuple[pd.Timestamp, str]], *, bed: str, check: bool, days: tuple[pd.Timestamp, pd.Timestamp]
) -> str:
    """Return in which part of a period nothing was logged, or "" when the log can be relied on.

    Parameters
    ----------
    log : sequence of (Timestamp, str)
        Day and bed of each entry, of all beds.
    bed : str
        The bed in question.
    check : bool
        Whether the bed is stated to have been left as it was; then nothing needs to be logged.
    days : tuple of Timestamp
        The period.

    Examples
    --------
    >>> day = pd.Timestamp
    >>> log = [(day("2022-04-01"), "East"), (day("2023-04-02"), "East")]
    >>> unlogged(log, bed="East", check=False, days=(day("2019-04-01"), day("2023-10-01")))
    'nothing was logged from April 2019 to April 2022'
    >>> unlogged(log, bed="West", check=False, days=(day("2022-03-01"), day("2023-10-01")))
    'nothing was ever logged for West'
    """
    if check:
        return ""
    if not log:
        return "nothing was logged in the whole garden"
    if bed not in {name for _, name in log}:
        return f"nothing was ever logged for {bed}"
    told = _stretches([day for day, _ in log], *days)
    return f"nothing was logged from {' and from '.join(told)}" if told else ""
