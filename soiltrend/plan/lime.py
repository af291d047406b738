"""How much carbonate moves a bed's pH by one: from the systems that can read its buffer."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from soiltrend import tables
from soiltrend.lime import lime_need, lime_systems, system_row, systems_of
from soiltrend.present import number

WIDE = (0.5, 2.0)
"""How far an estimate without a buffer may lie off, half to double: judgement."""

AHEAD = 0.3
"""Least rise over which the need is read [pH]."""

BETWEEN = 0.8
"""Two targets of a table lie so far apart [pH]."""

SPREAD = (0.8, 1.25)
"""How far one system alone may lie off: judgement, from how far the systems lie apart."""


def _each(system: str, *, pH: float, reading: float, target: float, depth_cm: float) -> float:
    """Return g CaCO3/m2 for one unit of pH by one system, missing where it does not reach."""
    row = system_row(system)
    top = min(max(target, pH + AHEAD), float(row["target_high"]))
    start = min(pH, top - AHEAD)
    need = float(lime_need(system, pH=start, reading=reading, target=top, depth_cm=depth_cm))
    return need / (top - start) if need > 0 else np.nan


def _weak(capacity: float, *, pH: float, target: float, depth_cm: float) -> float:
    """Return the estimate from an exchange capacity and pH alone, missing where it does not reach."""
    each = [_each(s, pH=pH, reading=capacity, target=target, depth_cm=depth_cm) for s in systems_of("")]
    known = [value for value in each if np.isfinite(value)]
    return float(np.mean(known)) if known else np.nan


@lru_cache(maxsize=None)
def _soils() -> tuple[float, float, float]:
    """Return the exchange capacity of sand, of loam and of clay [cmol/kg]."""
    table = tables.load("textures", numbers=("low", "high")).set_index("soil")
    low, high = (table[end].to_dict() for end in ("low", "high"))
    return low["sand"], (low["loam"] + high["loam"]) / 2, high["clay"]


def _any_soil(*, target: float, depth_cm: float) -> tuple[float, float, float]:
    """Return g CaCO3/m2 for one unit of pH on sand, on loam and on clay, at the nearest pH that is known."""
    rows = [system_row(name) for name in systems_of("")]
    lowest = max(max(row["target_low"], row["pH_low"] + AHEAD) for row in rows)
    target = min(max(target, lowest), *(row["target_high"] for row in rows))
    sand, loam, clay = (
        _weak(capacity, pH=target - AHEAD, target=target, depth_cm=depth_cm) for capacity in _soils()
    )
    return WIDE[0] * sand, loam, WIDE[1] * clay


def _between(system: str, *, pH: float, reading: float, depth_cm: float) -> float:
    """Return g CaCO3/m2 for one unit of pH between two targets of a table, missing for equations.

    A table of targets does not ask where the soil stands now; near its target the step from one
    target to the next says more than the whole need.
    """
    row = system_row(system)
    if row["form"] != "table":
        return np.nan
    top = float(row["target_high"])
    ends = np.array([max(top - BETWEEN, float(row["target_low"])), top])
    low, high = lime_need(
        system, pH=min(pH, float(ends[0]) - AHEAD), reading=reading, target=ends, depth_cm=depth_cm
    )
    return float((high - low) / (ends[1] - ends[0])) if high > low else np.nan


def per_unit(
    *, pH: float, buffers: dict[str, float], capacity: float, target: float, depth_cm: float
) -> tuple[tuple[float, float, float], bool, str]:
    """Return how many g CaCO3/m2 raise the pH by one: low, likely, high; whether and how that is known.

    Where it is not known the ends are those of sand and of clay: good for asking what an ash may do at
    the worst, and no advice on lime.

    Parameters
    ----------
    pH : float
        Now, in water.
    buffers : dict
        Buffer pH by buffer.
    capacity : float
        Exchange capacity [cmol/kg], for the weak estimate without a buffer; may be missing.
    target : float
        Where it is to come to.
    depth_cm : float
        The layer [cm].

    Examples
    --------
    >>> soil = {"pH": 5.4, "capacity": 10.0, "target": 6.4, "depth_cm": 15.24}
    >>> found, known, why = per_unit(buffers={"Sikora": 6.5}, **soil)
    >>> [round(value) for value in found]
    [246, 408, 561]
    """
    found = {
        system: _each(system, pH=pH, reading=reading, target=target, depth_cm=depth_cm)
        for buffer, reading in buffers.items()
        for system in systems_of(buffer)
    }
    found |= {
        f"{system}, one target to the next": _between(system, pH=pH, reading=reading, depth_cm=depth_cm)
        for buffer, reading in buffers.items()
        for system in systems_of(buffer)
    }
    known = {system: value for system, value in found.items() if np.isfinite(value)}
    if known:
        values = np.array(list(known.values()))
        low, high = float(values.min()), float(values.max())
        if len(values) == 1:
            low, high = SPREAD[0] * low, SPREAD[1] * high
        told = "; ".join(f"{name}: {number(value)}" for name, value in known.items())
        mean = float(values.mean())
        means = f"about {number(mean)}, the mean of " if len(values) > 1 else ""
        return (low, mean, high), True, f"g CaCO3/m2 for one pH: {means}{told}"
    weak = _weak(capacity, pH=pH, target=target, depth_cm=depth_cm)
    if np.isfinite(weak):
        told = (
            f"g CaCO3/m2 for one pH: {number(weak)}, a weak estimate from exchange capacity and pH "
            f"(half to double; {len(lime_systems())} systems are known, none reads this bed)"
        )
        return (WIDE[0] * weak, weak, WIDE[1] * weak), True, told
    low, middle, high = _any_soil(target=target, depth_cm=depth_cm)
    told = (
        "neither a buffer pH that a table reads nor an exchange capacity: no lime is planned, and what "
        f"else limes is reckoned for anything from sand to clay, {number(low, digits=2)} to "
        f"{number(high, digits=2)} g CaCO3/m2 a pH"
    )
    return (low, middle, high), False, told
