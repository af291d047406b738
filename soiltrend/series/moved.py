"""Which tests of a series were moved across a bridge, and by how sure a step."""

from __future__ import annotations

from typing import Protocol

import numpy as np
import pandas as pd

from soiltrend import composites


class Dated(Protocol):
    """What knows the series and the day of each of its entries."""

    @property
    def series(self) -> np.ndarray:
        """Which series."""

    @property
    def day(self) -> np.ndarray:
        """Days since the origin."""


def moved(rows: pd.DataFrame, raw: Dated, used: np.ndarray, tests: Dated) -> dict[str, np.ndarray]:
    """Return for each bridge how far each test would go if its offset were wrong by one standard deviation.

    Parameters
    ----------
    rows : DataFrame
        The results.
    raw : Dated
        Series and day of each of them.
    used : array of bool
        Which of them are used.
    tests : Dated
        The tests they were averaged to, ordered by series and day.

    Returns
    -------
    dict
        Name of the bridge to an array, one entry a test: the standard deviation of the bridge on the
        analysis scale where the test was moved, a share of it where some of its bags were, 0 elsewhere.
        Empty when nothing was moved.
    """
    if "bridged_sd" not in rows:
        return {}
    names, sd = composites.bridged(rows)
    if not (sd[used] > 0).any():
        return {}
    width = int(max(raw.day.max(initial=0), tests.day.max(initial=0))) + 1
    order = np.searchsorted(tests.series * width + tests.day, (raw.series * width + raw.day)[used])
    count = np.maximum(np.bincount(order, minlength=len(tests.day)), 1)
    names, sd = names[used], sd[used]
    return {str(name): np.bincount(order, weights=sd * (names == name), minlength=len(tests.day)) / count
            for name in sorted(set(names[sd > 0]))}
