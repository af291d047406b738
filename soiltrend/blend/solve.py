"""How much of each: exact for one aim, by linear programming for two, else the nearest that can be."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

Numbers = np.ndarray
PARTS = 100.0
"""Nothing being fixed, amounts are parts in a hundred by weight."""

MOST = 20.0
"""How many times the fixed amounts a free one may grow when only its limit would reach an aim."""

LEAST = 1e-4
"""What a kilogram more weighs beside the largest part being a kilogram larger: it only breaks ties."""

ROUGH, FINE = 1e-4, 1e-12
"""How closely each start is followed, and then the best of them."""

CLOSE = 1e-6
"""Below it, as a share of the scale of an aim, the aim is met; below it of the whole, an amount is none."""


@dataclass(frozen=True, eq=False)
class Problem:
    """What is to be mixed: what a kilogram brings, how much there may be, and the aims.

    Attributes
    ----------
    carbon, nitrogen, water : array
        kg in a wet kg of each ingredient.
    low, high : array
        Bounds [kg, wet]; the same where the amount is fixed.
    cn, moisture : float
        Aims, C:N and water as a share of wet weight; NaN for none.
    scale : tuple of float
        How much of each weighs the same: C:N, moisture share.
    """

    carbon: Numbers
    nitrogen: Numbers
    water: Numbers
    low: Numbers
    high: Numbers
    cn: float
    moisture: float
    scale: tuple[float, float]

    @property
    def balances(self) -> Numbers:
        """One row an aim: what a kg puts out of balance, 0 in sum when the aim is met."""
        rows = []
        if not np.isnan(self.cn):
            rows.append(self.carbon - self.cn * self.nitrogen)
        if not np.isnan(self.moisture):
            rows.append(self.water - self.moisture)
        return np.array(rows).reshape(len(rows), len(self.low))

    @property
    def proportional(self) -> bool:
        """Whether only proportions count: nothing is fixed and nothing has a least amount."""
        return bool((self.low == 0).all())


def ratio(carbon: float, nitrogen: float) -> float:
    """Return carbon over nitrogen; endless where there is carbon and no nitrogen, NaN for neither.

    Examples
    --------
    >>> ratio(30.0, 1.0), ratio(1.0, 0.0)
    (30.0, inf)
    """
    if nitrogen > 0:
        return float(carbon / nitrogen)
    return np.inf if carbon > 0 else np.nan


def reached(problem: Problem, kg: Numbers) -> tuple[float, float]:
    """Return the C:N and the moisture (share of wet weight) of amounts."""
    total = float(kg.sum())
    wet = float(kg @ problem.water) / total if total else np.nan
    return ratio(float(kg @ problem.carbon), float(kg @ problem.nitrogen)), wet


def misfit(problem: Problem, kg: Numbers) -> Numbers:
    """Return how far amounts are from each aim, in units of its scale."""
    values = zip(reached(problem, kg), (problem.cn, problem.moisture), problem.scale, strict=True)
    return np.array([(value - aim) / scale for value, aim, scale in values if not np.isnan(aim)])


def _closed(problem: Problem) -> Numbers | None:
    """Return amounts for one aim and no bounds by the formula for two ingredients, or None.

    Free ingredients of one side of the aim go in equal wet parts, so that two groups remain:
    Q2 = -Q1 a1 / a2, with a the kg out of balance in a kg (Cornell Waste Management Institute 1996).
    """
    balance = problem.balances[0]
    fixed = problem.low == problem.high
    kg = np.where(fixed, problem.low, 0.0)
    beyond, short = ~fixed & (balance > 0), ~fixed & (balance < 0)
    if fixed.any():
        off = float(kg @ balance)
        group = short if off > 0 else beyond
        if off and not group.any():
            return None
        kg[group] = -off / balance[group].sum() if off else 0.0
        return kg
    if not beyond.any() or not short.any():
        right = balance == 0
        return np.where(right, PARTS / max(right.sum(), 1), 0.0) if right.any() else None
    first, second = balance[beyond].mean(), -balance[short].mean()
    kg[beyond] = PARTS * second / (first + second) / beyond.sum()
    kg[short] = PARTS * first / (first + second) / short.sum()
    return kg


def _linear(problem: Problem) -> Numbers | None:
    """Return amounts that meet every aim within the bounds, or None when there are none.

    Of all such amounts, in proportions the one whose smallest part is largest; beside fixed
    amounts the one whose largest part is smallest, and of these the one that adds least.
    """
    from scipy.optimize import linprog  # heavy; only when a blend has two aims or bounds

    count = len(problem.low)
    free = np.eye(count)[problem.low < problem.high]
    sign, slope = (-1.0, 0.0) if problem.proportional else (1.0, LEAST)
    equal, sums = problem.balances, np.zeros(len(problem.balances))
    bounds = np.column_stack([problem.low, problem.high])
    if problem.proportional:
        equal, sums = np.vstack([equal, np.ones(count)]), np.append(sums, PARTS)
        bounds = np.column_stack([np.zeros(count), np.full(count, PARTS)])
    found = linprog(
        np.append(np.full(count, slope), sign),
        A_ub=np.hstack([sign * free, np.full((len(free), 1), -sign)]) if len(free) else None,
        b_ub=np.zeros(len(free)) if len(free) else None,
        A_eq=np.hstack([equal, np.zeros((len(equal), 1))]),
        b_eq=sums,
        bounds=[*bounds, (0.0, np.inf)],
    )
    return np.asarray(found.x[:count]) if found.status == 0 else None


def _starts(low: Numbers, high: Numbers) -> list[Numbers]:
    """Return where to search from: the middle, and mostly one ingredient or mostly the others."""
    reach = high - low
    middle = low + 0.5 * reach
    corners = [low + reach * np.where(np.arange(len(low)) == at, 0.9, 0.05) for at in range(len(low))]
    others = [low + reach * np.where(np.arange(len(low)) == at, 0.05, 0.5) for at in range(len(low))]
    return [middle, *corners, *others]


def _nearest(problem: Problem) -> Numbers:
    """Return the amounts that come nearest to all aims, by bounded least squares from several starts."""
    from scipy.optimize import least_squares  # heavy; only when the aims cannot be met

    whole = PARTS if problem.proportional else MOST * max(problem.low.sum(), CLOSE)
    high = np.full_like(problem.high, whole) if problem.proportional else np.minimum(problem.high, whole)
    free = problem.low < high
    if not free.any():
        return problem.low

    def full(amounts: Numbers) -> Numbers:
        """Return the amounts of all ingredients, the fixed ones with the free."""
        kg = problem.low.copy()
        kg[free] = amounts
        return kg

    def far(amounts: Numbers) -> Numbers:
        """Return how far a mix misses its aims."""
        off = np.clip(np.nan_to_num(misfit(problem, full(amounts)), posinf=1e6), -1e6, 1e6)
        return np.append(off, amounts.sum() / PARTS - 1) if problem.proportional else off

    bounds = (problem.low[free], high[free])
    rough = [
        least_squares(far, start, bounds=bounds, xtol=ROUGH, ftol=ROUGH, gtol=ROUGH)
        for start in _starts(*bounds)
    ]
    best = min(rough, key=lambda one: one.cost)
    inside = np.clip(best.x, *bounds)
    found = least_squares(far, inside, bounds=bounds, xtol=FINE, ftol=FINE, gtol=FINE)
    kg = full(found.x)
    tiny = CLOSE * kg.sum()
    return np.where(kg - problem.low < 10 * tiny, problem.low, kg)


def _fitted(problem: Problem, kg: Numbers) -> Numbers:
    """Return proportions as amounts that no upper bound forbids, as large as they may be."""
    with np.errstate(divide="ignore", invalid="ignore"):
        room = np.where(kg > 0, problem.high / kg, np.inf)
    return kg * room.min() if problem.proportional and np.isfinite(room.min()) else kg


def solve(problem: Problem) -> tuple[Numbers, bool]:
    """Return the amounts [kg, wet] and whether every aim is met.

    Examples
    --------
    >>> two = Problem(np.array([0.1035, 0.325]), np.array([0.00552, 0.004875]), np.array([0.77, 0.35]),
    ...               np.array([10.0, 0.0]), np.array([10.0, np.inf]), 30.0, np.nan, (10.0, 0.125))
    >>> kg, met = solve(two)
    >>> kg.round(3), met
    (array([10.   ,  3.474]), True)
    """
    aims = len(problem.balances)
    if aims == 0:
        return problem.low, True
    loose = (problem.low == problem.high) | ((problem.low == 0) & np.isinf(problem.high))
    kg = _closed(problem) if aims == 1 and loose.all() else _linear(problem)
    if kg is None:
        kg = _nearest(problem)
    kg = _fitted(problem, kg)
    with np.errstate(invalid="ignore"):
        off = np.abs(misfit(problem, kg))
    return kg, bool((off < 1e3 * CLOSE).all())


def alone(problem: Problem, *, moisture: bool) -> tuple[Numbers, bool]:
    """Return the amounts for one of two aims without the other, and whether it is met."""
    return solve(replace(problem, cn=np.nan) if moisture else replace(problem, moisture=np.nan))
