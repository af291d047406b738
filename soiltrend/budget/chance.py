"""Seeded draws: the same seed and the same thing give the same draws, in every bed and period.

What is uncertain about a thing (an analysis, a barrow, a crop's content) is drawn once for the whole
garden, because it is the same compost in every bed. Two numbers that hang on one thing therefore stay
tied together, and a ratio of them is as sure as it can be.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from zlib import crc32

import numpy as np

from soiltrend import tables
from soiltrend.errors import SoiltrendError

Draws = np.ndarray
FEWEST = 200
"""Draws below which the ends of a 90 % interval hang on fewer than ten of them. Judgement."""


@lru_cache(maxsize=None)
def setting(name: str) -> float:
    """Return a number of tables/account.csv.

    Examples
    --------
    >>> setting("OM per C low")
    1.724
    """
    table = tables.load("account", numbers=("value",))
    return float(table.loc[table["name"] == name, "value"].iloc[0])


@dataclass(frozen=True)
class Dice:
    """How many draws, and the seed they hang on.

    Attributes
    ----------
    draws : int
        Number of draws.
    seed : int
        The same seed gives the same draws.

    Examples
    --------
    >>> dice = Dice(draws=500, seed=1)
    >>> bool((dice.of("compost").random(500) == dice.of("compost").random(500)).all())
    True
    """

    draws: int
    seed: int

    def of(self, *thing: object) -> np.random.Generator:
        """Return the generator of a thing, always from its beginning."""
        return np.random.default_rng([self.seed, crc32("|".join(map(str, thing)).encode())])


def check(draws: int, *, seed: int, confidence: float) -> Dice:
    """Return the dice of a call, or refuse numbers that cannot be.

    Raises
    ------
    SoiltrendError
        When there are too few draws, the seed is below 0, or the confidence is none.

    Examples
    --------
    >>> check(500, seed=1, confidence=0.9).draws
    500
    """
    if not isinstance(draws, int) or draws < FEWEST:
        raise SoiltrendError(f"draws = {draws!r} is too few for an interval", remedy=f"Give {FEWEST} or more")
    if not isinstance(seed, int) or seed < 0:
        raise SoiltrendError(f"seed = {seed!r} is no seed", remedy="Give a whole number, 0 or more")
    if not 0.5 < confidence < 1:
        raise SoiltrendError(
            f"confidence = {confidence!r} does not lie between 0.5 and 1", remedy="Give 0.9 or 0.95"
        )
    return Dice(draws, seed)


def triangle(low: float, likely: float, high: float, *, at: Draws) -> Draws:
    """Return the quantiles ``at`` of a triangle between low and high with its peak at likely.

    Examples
    --------
    >>> triangle(0.0, 1.0, 4.0, at=np.array([0.0, 0.25, 1.0])).tolist()
    [0.0, 1.0, 4.0]
    """
    if not low < high:
        return np.full(len(at), likely)
    peak = (likely - low) / (high - low)
    left = low + np.sqrt(at * (high - low) * (likely - low))
    right = high - np.sqrt((1 - at) * (high - low) * (high - likely))
    return np.where(at < peak, left, right)


def spread(values: Draws, *, confidence: float) -> tuple[float, float]:
    """Return the ends of the middle part of draws.

    Examples
    --------
    >>> [round(end, 6) for end in spread(np.arange(101.0), confidence=0.9)]
    [5.0, 95.0]
    """
    low, high = np.quantile(values, [0.5 - confidence / 2, 0.5 + confidence / 2])
    return float(low), float(high)


def student(df: float, *, dice: Dice, thing: tuple[object, ...]) -> Draws:
    """Return draws of Student's t on so many degrees of freedom (normal when they are infinite).

    Examples
    --------
    >>> bool(abs(student(20.0, dice=Dice(4000, 1), thing=("East",)).std() - (20 / 18) ** 0.5) < 0.03)
    True
    """
    rng = dice.of("t", *thing)
    return rng.standard_t(df, dice.draws) if np.isfinite(df) else rng.standard_normal(dice.draws)
