"""Exact chances of the Mann-Kendall count S, with ties and with seasons.

S is the number of later-and-higher pairs less the number of later-and-lower ones. When nothing but
chance orders the values, every order of them is as likely as any other, and the orders with k
inversions are counted by the coefficients of the q-multinomial ``[n]! / ([u1]! [u2]! ...)`` for groups
of u1, u2 ... equal values. S is then the number of unequal pairs less 2k. Over seasons the counts add
up and their chances convolve.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from soiltrend.chances import ndtr, ndtri

Ties = tuple[int, ...]
"""Sizes of the groups of equal values in one season, (1, 1, 2) for three values of which two tie."""

EXACT = 40
"""Tests in one season up to which chances are counted; beyond, the normal curve serves (its error in
the chance is below 0.003 there)."""


@lru_cache(maxsize=4096)
def _gauss(n: int, k: int) -> np.ndarray:
    """Return the coefficients of the Gaussian binomial [n choose k], by additions only."""
    if k in (0, n):
        return np.ones(1)
    out = np.zeros(k * (n - k) + 1)
    left, right = _gauss(n - 1, k - 1), _gauss(n - 1, k)
    out[: len(left)] += left
    out[k : k + len(right)] += right
    return out


@lru_cache(maxsize=4096)
def _one_season(ties: Ties) -> np.ndarray:
    """Return the chances of 0, 1, 2 ... inversions among values with these groups of equals."""
    chance, total = np.ones(1), 0
    for size in ties:
        total += size
        step = _gauss(total, size)
        chance = np.convolve(chance, step / step.sum())
    return chance


@lru_cache(maxsize=4096)
def tail(seasons: tuple[Ties, ...]) -> np.ndarray:
    """Return the chance of at most k inversions over all seasons, for k = 0, 1, 2 ...

    With N unequal pairs the chance that S is N - 2k or more is the k-th of them.

    Parameters
    ----------
    seasons : tuple of tuple of int
        For each season the sizes of its groups of equal values.

    Examples
    --------
    >>> tail(((1, 1, 1, 1),)).round(3)[:3]
    array([0.042, 0.167, 0.375])
    >>> float(2 * tail(((1, 1, 1), (1, 1, 1)))[0])
    0.05555555555555555
    """
    chance = np.ones(1)
    for ties in seasons:
        chance = np.convolve(chance, _one_season(tuple(sorted(ties))))
    return np.minimum(np.cumsum(chance), 1.0)


def pairs(ties: Ties) -> int:
    """Return the number of unequal pairs.

    Examples
    --------
    >>> pairs((1, 1, 2))
    5
    """
    n = sum(ties)
    return (n * (n - 1) - sum(u * (u - 1) for u in ties)) // 2


def variance(ties: Ties) -> float:
    """Return the variance of S in one season (Kendall 1975).

    Examples
    --------
    >>> variance((1,) * 10)
    125.0
    """
    n = sum(ties)
    return (n * (n - 1) * (2 * n + 5) - sum(u * (u - 1) * (2 * u + 5) for u in ties)) / 18


def chance(s: np.ndarray, seasons: tuple[Ties, ...]) -> np.ndarray:
    """Return the two-sided chance of a count as far from 0 as ``s``, for series of one pattern.

    Parameters
    ----------
    s : array of int
        Counts over all seasons.
    seasons : tuple of tuple of int
        The groups of equal values in each season.

    Examples
    --------
    >>> chance(np.array([8]), ((1, 2, 2),)).round(6)
    array([0.066667])
    """
    size = np.abs(s)
    if max((sum(ties) for ties in seasons), default=0) > EXACT:
        spread = np.sqrt(sum(variance(ties) for ties in seasons))
        z = np.maximum(size - 1, 0) / spread if spread else np.zeros(len(size))
        return np.asarray(2 * ndtr(-z))
    below = tail(seasons)
    k = (sum(pairs(ties) for ties in seasons) - size) // 2
    return np.asarray(np.minimum(2 * below[k], 1.0))


@lru_cache(maxsize=4096)
def order(counts: tuple[int, ...], confidence: float) -> tuple[int, float]:
    """Return which pairwise slope bounds the interval, counted from either end, and its true level.

    Parameters
    ----------
    counts : tuple of int
        Tests in each season.
    confidence : float
        Asked for, such as 0.95.

    Returns
    -------
    tuple
        The largest M for which the M-th smallest and M-th largest slope enclose the true one with at
        least that confidence, and the confidence they have; (0, 1.0) when not even the extremes do.

    Examples
    --------
    >>> rank, level = order((10,), 0.95)
    >>> rank, round(level, 4), order((4,), 0.95)
    (12, 0.9534, (0, 1.0))
    """
    half = (1 - confidence) / 2
    seasons = tuple((1,) * n for n in counts)
    if max(counts, default=0) > EXACT:
        spread = np.sqrt(sum(variance(ties) for ties in seasons))
        rank = int((sum(pairs(ties) for ties in seasons) + ndtri(half) * spread) / 2)
        return max(rank, 0), confidence
    below = tail(seasons)
    rank = int(np.searchsorted(below, half * (1 + 1e-12), side="right"))
    return rank, float(1 - 2 * below[rank - 1]) if rank else 1.0
