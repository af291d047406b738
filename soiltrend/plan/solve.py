"""The solver: ceilings first, then shortfalls from the most lacking on, then few materials and little cost.

A ceiling must hold in a share of the scenarios. Near an answer it is a plane: mean plus so many
spreads of what is added, at most the room. A linear problem is solved by HiGHS; where its answer
passes a ceiling, the plane of that ceiling is laid there and added to the others, until none is
passed (cutting planes, Kelley 1960, J. SIAM 8:703). The fewest materials are chosen in the same way,
a choice at a time (outer approximation, Duran & Grossmann 1986, Mathematical Programming 36:307):
a choice that cannot close under its own planes what can be closed gives way to another. Both papers
are cited from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from soiltrend.plan.task import FLOOR, Array, Spread, Task, opened, spread, tangent, within

ROUNDS = 60
"""How often planes are added at most; a bed needs some tens."""

CHOICES = 4
"""How many choices among all materials are tried, before one among those of the linear problem's answer."""

PASSED = 1e-3
"""Share of a ceiling's mean room by which an answer may pass it; it is then made smaller as a whole."""

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
    if not count:
        return np.zeros(len(task.most))
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


@dataclass(frozen=True, eq=False)
class Cutting:
    """What lays the planes of a bed's ceilings.

    Attributes
    ----------
    task : Task
        The problem.
    moments : Spread
        How what is added spreads over the scenarios.
    probability : float
        In which share of the scenarios each ceiling must hold.
    """

    task: Task
    moments: Spread
    probability: float

    def at(self, amounts: Array) -> Rows:
        """Return the planes of all ceilings at these amounts.

        What scenarios draw is no even surface, and a plane laid far out can pass below the origin. Nothing
        added passes no ceiling, so no plane may forbid it.
        """
        rows, right = tangent(self.task, self.moments, amounts, probability=self.probability)
        return Rows(rows, np.maximum(right, 0.0))

    def added(self, planes: Rows, amounts: Array) -> tuple[Rows, bool]:
        """Return the planes and those of the ceilings that these amounts pass, and whether there are any."""
        here = self.at(amounts)
        passed = here.rows @ amounts - here.right > PASSED * np.maximum(
            np.abs(self.task.room).mean(axis=0), FLOOR
        )
        more = Rows(
            np.vstack([planes.rows, here.rows[passed]]), np.concatenate([planes.right, here.right[passed]])
        )
        return more, bool(passed.any())


def _settled(cutting: Cutting) -> tuple[Rows, Array, Array]:
    """Return planes under which the linear answer passes no ceiling, what that leaves lacking, and it."""
    planes = cutting.at(np.zeros(len(cutting.task.most)))
    for _ in range(ROUNDS):
        left, amounts = shortfalls(cutting.task, planes)
        planes, passed = cutting.added(planes, amounts)
        if not passed:
            break
    return planes, left, np.where(amounts >= LEAST * cutting.task.most, amounts, 0.0)


def _only(task: Task, amounts: Array) -> Task:
    """Return the task with no materials but those used."""
    return replace(task, most=np.where(amounts > 0, task.most, 0.0))


def _chosen(cutting: Cutting, planes: Rows, *, left: Array, many: Array, rough: float) -> Array:
    """Return the fewest materials that leave no more than ``left``, or ``many``, the linear problem's.

    After each choice among all materials its own amounts are sought, alone and under the planes laid
    there; when they cannot be found another choice is made, and in the end one among ``many``.
    """
    task, last = cutting.task, _only(cutting.task, many)
    among, choices = task, 1
    for _ in range(ROUNDS):
        found = _fewest(among, planes, left=left, rough=rough)
        if found.any():
            planes, passed = cutting.added(planes, found)
            if not passed:
                return found
            among = last if among is last else _only(task, found)
        elif among is last:
            break
        elif among is task or choices == CHOICES:
            among = last
        else:
            among, choices = task, choices + 1
    return many


def _choose(cutting: Cutting, *, rough: float) -> tuple[Array, Array]:
    """Return amounts that pass no ceiling, and what must stay lacking."""
    planes, left, many = _settled(cutting)
    if (left < cutting.task.need).any():
        many = _chosen(cutting, planes, left=left, many=many, rough=rough)
    return within(cutting.task, many, probability=cutting.probability), left


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
    cutting = Cutting(free, spread(free), probability)
    amounts, left = _choose(cutting, rough=rough)
    open_now = np.maximum(task.need - task.credit @ amounts, 0.0)
    open_now = np.where(open_now <= NEAR * task.need + FLOOR, 0.0, open_now)
    gain = np.zeros((len(task.need), len(broken)))
    if left.any():
        gain = _gains(cutting, amounts)
    return Solved(amounts, open_now, broken, np.asarray(gain.any(axis=0)), gain)


def _gains(cutting: Cutting, amounts: Array) -> Array:
    """Return how much less would stay lacking of each aim without each ceiling in turn.

    Only ceilings whose room is used up are lifted.
    """
    task, planes = cutting.task, cutting.at(amounts)
    left, most = shortfalls(task, planes)
    full = planes.right - planes.rows @ most <= TOUCH * np.maximum(np.abs(planes.right), FLOOR)
    gain = np.zeros((len(task.need), len(full)))
    for at in np.flatnonzero(full):
        keep = np.arange(len(full)) != at
        found, _ = shortfalls(task, Rows(planes.rows[keep], planes.right[keep]))
        gain[:, at] = np.where(left - found > NEAR * task.need, left - found, 0.0)
    return gain
