"""The solver: ceilings first, then shortfalls from the most lacking on, then few materials and little cost.

A ceiling must hold in a share of the scenarios. Near an answer it is a plane: mean plus so many
spreads of what is added, at most the room. The plane is laid, a linear problem is solved by HiGHS,
the plane is laid anew at the answer, until the answer stands still (successive linear programming,
Griffith & Stewart 1961, Management Science 7:379). An answer that still passes a ceiling is made
smaller as a whole.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from soiltrend.plan.task import FLOOR, Array, Task, opened, spread, tangent, within

ROUNDS = 6
"""How often the ceilings are laid anew at the answer; it stands still after two or three."""

STILL = 1e-3
"""Share of an amount, or g/m2, below which an answer stands still."""

TOUCH = 0.01
"""Share of its room below which what is left of it counts as used up."""

SLACK = 1e-3
"""Share of a need by which a shortfall already closed may open again while the next is closed."""

NEAR = 0.01
"""Share of a need that may stay open for the sake of fewer materials: far below what a test can tell."""

ROUGH = 0.1
"""The same of a need that cannot be closed anyway in a year: one lime fewer is worth a tenth of a dose."""

NODES = 200
"""Branches looked into for the fewest materials; a bed has few that could serve and needs some tens."""

LEAST = 0.01
"""Share of its greatest yearly amount below which a material is not worth a walk to the shed."""

COUNTED = 0.9
"""The whole bill counts less than one material: fewest first, then cheapest."""


@dataclass(frozen=True, eq=False)
class Solved:
    """What to add to one bed.

    Attributes
    ----------
    amounts : array (materials,)
        g/m2 in the year.
    open : array (aims,)
        What stays lacking of each.
    broken : array of bool (ceilings,)
        Broken before anything is added.
    at_ceiling : array of bool (ceilings,)
        Those that stop a shortfall from being closed.
    gain : array (aims, ceilings)
        How much less would stay lacking of each aim, were that ceiling not there.
    """

    amounts: Array
    open: Array
    broken: Array
    at_ceiling: Array
    gain: Array


@dataclass(frozen=True, eq=False)
class Rows:
    """The ceilings as rows over the amounts: rows @ amounts <= right."""

    rows: Array
    right: Array


def _linear(task: Task, ceilings: Rows, *, cost: Array, least: Array) -> Any:
    """Return HiGHS' answer for the least cost; unknowns are the amounts, then what stays lacking."""
    from scipy.optimize import linprog  # heavy; only when a plan is solved

    count, aims = len(task.most), len(task.need)
    met = np.hstack([-task.credit, -np.eye(aims)])
    capped = np.hstack([ceilings.rows, np.zeros((len(ceilings.rows), aims))])
    bounds = np.vstack(
        [np.column_stack([np.zeros(count), task.most]), np.column_stack([np.zeros(aims), least])]
    )
    return linprog(
        cost,
        A_ub=np.vstack([met, capped]),
        b_ub=np.concatenate([-task.need, ceilings.right]),
        bounds=bounds,
        method="highs",
    )


def shortfalls(task: Task, ceilings: Rows) -> tuple[Array, Array]:
    """Return what must stay lacking of each aim, closed in their order, and amounts that leave no more.

    Parameters
    ----------
    task : Task
        The problem.
    ceilings : Rows
        Its ceilings as rows.
    """
    aims, count = len(task.need), len(task.most)
    scale = np.maximum(task.need, FLOOR)
    least = np.full(aims, np.inf)
    cost = np.concatenate([np.zeros(count), 1.0 / scale])
    found = _linear(task, ceilings, cost=cost, least=least)
    if (found.x[count:] <= SLACK * scale).all():  # all can be closed: no order is needed
        return np.zeros(aims), found.x[:count]
    for at in range(aims):
        cost = np.zeros(count + aims)
        cost[count + at] = 1.0 / scale[at]
        found = _linear(task, ceilings, cost=cost, least=least)
        least[at] = found.x[count + at] + SLACK * scale[at]
    return np.where(least <= 2 * SLACK * scale, 0.0, least), found.x[:count]


def _fewest(task: Task, ceilings: Rows, *, left: Array, rough: float) -> Array:
    """Return the amounts with the fewest materials, and among these the least cost.

    The unknowns are the amounts as shares of their greatest, then whether each is used at all.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp  # heavy; only when a plan is solved

    usable = np.flatnonzero(task.most > FLOOR)
    most, count = task.most[usable], len(usable)
    bill = task.price[usable] * most
    share = bill / bill.sum() if bill.sum() > 0 else np.zeros(count)
    one, scale = np.eye(count), np.maximum(task.need, FLOOR)
    met = task.credit[:, usable] * most / scale[:, None]
    caps = ceilings.rows[:, usable] * most
    size = np.maximum(np.abs(caps).max(axis=1, initial=0.0), FLOOR)  # rows of like size solve cleanly
    spare = np.where(left > rough * scale, rough, NEAR)
    rules = [
        LinearConstraint(
            np.hstack([met, np.zeros_like(met)]), (1 - spare) * np.maximum(1.0 - left / scale, 0.0), np.inf
        ),
        LinearConstraint(np.hstack([one, -one]), -np.inf, 0.0),
        LinearConstraint(np.hstack([one, -LEAST * one]), 0.0, np.inf),
        LinearConstraint(
            np.hstack([caps / size[:, None], np.zeros_like(caps)]), -np.inf, ceilings.right / size
        ),
    ]
    found = milp(
        np.concatenate([COUNTED * share, np.ones(count)]),
        constraints=rules,
        integrality=np.repeat([0, 1], count),
        bounds=Bounds(0.0, 1.0),
        options={"node_limit": NODES},
    )
    amounts = np.zeros(len(task.most))
    if found.x is not None:
        amounts[usable] = np.where(found.x[count:] > 0.5, found.x[:count] * most, 0.0)
    return amounts


def _empty(task: Task, broken: Array) -> Solved:
    """Return the answer where nothing is lacking or nothing may be added."""
    none, aims = np.zeros(len(task.most)), len(task.need)
    quiet = np.zeros(len(broken), dtype=bool)
    return Solved(none, task.need.copy(), broken, quiet, np.zeros((aims, len(broken))))


def _choose(task: Task, *, probability: float, rough: float) -> tuple[Array, Array]:
    """Return amounts and what stays lacking, ceilings laid anew at each answer until it stands still."""
    moments = spread(task)
    amounts, left = np.zeros(len(task.most)), task.need
    for _ in range(ROUNDS):
        before = amounts
        ceilings = Rows(*tangent(task, moments, before, probability=probability))
        left, spare = shortfalls(task, ceilings)
        amounts = np.zeros_like(before)
        if (left < task.need).any():
            amounts = _fewest(task, ceilings, left=left, rough=rough)
        if not amounts.any():  # no few materials do it: as the linear problem has it, without the crumbs
            amounts = np.where(spare >= LEAST * task.most, spare, 0.0)
        if np.allclose(amounts, before, rtol=STILL, atol=STILL):
            break
    return within(task, amounts, probability=probability), left


def solve(task: Task, *, probability: float, rough: float = NEAR) -> Solved:
    """Return what to add to one bed.

    Parameters
    ----------
    task : Task
        The problem.
    probability : float
        In which share of the scenarios each ceiling must hold.
    rough : float
        Share of a need that may stay open for the sake of fewer materials where it cannot be closed.

    Examples
    --------
    >>> room = np.random.default_rng(1).normal(100.0, 10.0, (400, 1))
    >>> one = Task(credit=np.array([[1.0, 0.5]]), need=np.array([60.0]), load=np.full((400, 1, 2), 1.0),
    ...            room=room, trace=np.array([1.0]), most=np.array([500.0, 500.0]), price=np.ones(2))
    >>> solve(one, probability=0.9).amounts.round(1).tolist()
    [59.4, 0.0]
    """
    free, broken = opened(task, probability=probability)
    if not len(task.need) or not (free.most > FLOOR).any():
        return _empty(task, broken)
    amounts, left = _choose(free, probability=probability, rough=rough)
    open_now = np.maximum(task.need - task.credit @ amounts, 0.0)
    open_now = np.where(open_now <= NEAR * task.need + FLOOR, 0.0, open_now)
    gain = np.zeros((len(task.need), len(broken)))
    if left.any():
        gain = _gains(free, amounts, probability=probability)
    return Solved(amounts, open_now, broken, np.asarray(gain.any(axis=0)), gain)


def _gains(free: Task, at_amounts: Array, *, probability: float) -> Array:
    """Return how much less would stay lacking of each aim without each ceiling in turn.

    Only ceilings whose room is used up are lifted.
    """
    rows, right = tangent(free, spread(free), at_amounts, probability=probability)
    left, most = shortfalls(free, Rows(rows, right))
    full = right - rows @ most <= TOUCH * np.maximum(np.abs(right), FLOOR)
    gain = np.zeros((len(free.need), len(rows)))
    for at in np.flatnonzero(full):
        keep = np.arange(len(rows)) != at
        found, _ = shortfalls(free, Rows(rows[keep], right[keep]))
        gain[:, at] = np.where(left - found > NEAR * free.need, left - found, 0.0)
    return gain
