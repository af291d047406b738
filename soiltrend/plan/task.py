"""One bed's problem in arrays: what every material brings, what is lacking, what there is room for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

Array: TypeAlias = np.ndarray

FLOOR = 1e-9
"""Below this an amount, a room or a shortfall is nothing."""


@dataclass(frozen=True, eq=False)
class Task:
    """What is to be solved for one bed.

    Attributes
    ----------
    credit : array (aims, materials)
        What a gram to the square metre of each material adds to each measure that is short, as expected.
    need : array (aims,)
        What is lacking of each, in the order in which shortfalls are closed.
    load : array (scenarios, ceilings, materials)
        What a gram to the square metre adds to each measure with a ceiling, scenario by scenario.
    room : array (scenarios, ceilings)
        What may still be added; below 0 where the ceiling is broken already.
    trace : array (ceilings,)
        What may still be added where a ceiling is broken already.
    most : array (materials,)
        Greatest amount in a year [g/m2].
    price : array (materials,)
        What a gram costs, whatever the money; only the order matters.
    """

    credit: Array
    need: Array
    load: Array
    room: Array
    trace: Array
    most: Array
    price: Array


def level(scenarios: int, probability: float) -> int:
    """Return how many scenarios of so many must hold, so that others like them hold as promised.

    One more than the share of N + 1: an amount that was pushed against its ceiling holds a little
    less often in new scenarios than in those it was chosen by.

    Examples
    --------
    >>> level(200, 0.9), level(200, 0.5)
    (182, 102)
    """
    return min(int(np.ceil(probability * (scenarios + 1) - FLOOR)) + 1, scenarios)


def worst(values: Array, probability: float) -> Array:
    """Return, along the first axis, the value that enough scenarios do not exceed.

    Examples
    --------
    >>> worst(np.arange(200.0), 0.9)
    array(181.)
    """
    kept = level(len(values), probability) - 1
    return np.asarray(np.partition(values, kept, axis=0)[kept])


def opened(task: Task, *, probability: float) -> tuple[Task, Array]:
    """Return the task as it can be solved, and which ceilings are broken before anything is added.

    Where a ceiling is broken already, no more than a trace may be added to it. Nothing makes room for
    anything else: a meal that acidifies a little is not given so that more lime may go on.

    Parameters
    ----------
    task : Task
        The problem.
    probability : float
        How surely a ceiling must hold.
    """
    broken = worst(-task.room, probability) > FLOOR
    room = np.where(broken, task.trace, task.room)
    return replace(task, load=np.maximum(task.load, 0.0), room=room), broken


@dataclass(frozen=True, eq=False)
class Spread:
    """Mean and spread of (what is added less the room) as functions of the amounts, by ceiling.

    Attributes
    ----------
    mean : array (ceilings, 1 + materials)
        Coefficients of the mean; the first is the constant.
    cov : array (ceilings, 1 + materials, 1 + materials)
        Covariance of the coefficients over the scenarios.
    """

    mean: Array
    cov: Array

    def at(self, amounts: Array) -> tuple[Array, Array, Array]:
        """Return mean, standard deviation and the latter's slopes at the amounts."""
        point = np.concatenate(([1.0], amounts))
        along = self.cov @ point
        sd = np.sqrt(np.maximum(along @ point, 0.0))
        slope = np.divide(along[:, 1:], sd[:, None], out=np.zeros_like(along[:, 1:]), where=sd[:, None] > 0)
        return self.mean @ point, sd, slope


def spread(task: Task) -> Spread:
    """Return mean and covariance of every ceiling's coefficients over the scenarios."""
    parts = np.concatenate((-task.room[:, :, None], task.load), axis=2)
    mean = parts.mean(axis=0)
    off = parts - mean
    return Spread(mean, np.einsum("sci,scj->cij", off, off, optimize=True) / len(parts))


def tangent(task: Task, moments: Spread, amounts: Array, *, probability: float) -> tuple[Array, Array]:
    """Return the ceilings near these amounts as rows of a linear problem: rows @ amounts <= right.

    How many spreads must be kept is read from the scenarios at these amounts, so that no normal
    law is leaned on; how the spread grows with each material is its exact slope.
    """
    mean, sd, slope = moments.at(amounts)
    found = worst(task.load @ amounts - task.room, probability)
    spreads = np.divide(found - mean, sd, out=np.zeros_like(sd), where=sd > FLOOR)
    rows = moments.mean[:, 1:] + spreads[:, None] * slope
    return rows, rows @ amounts - found


def holds(task: Task, amounts: Array, *, probability: float) -> bool:
    """Return whether every ceiling holds in enough scenarios."""
    return bool((worst(task.load @ amounts - task.room, probability) <= FLOOR).all())


def within(task: Task, amounts: Array, *, probability: float) -> Array:
    """Return the amounts, all made smaller by one share if a ceiling would not hold otherwise."""
    if not task.room.shape[1] or holds(task, amounts, probability=probability):
        return amounts
    low, high = 0.0, 1.0
    for _ in range(30):
        share = (low + high) / 2
        fits = holds(task, amounts * share, probability=probability)
        low, high = (share, high) if fits else (low, share)
    return amounts * low
