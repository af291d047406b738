"""How much pure lime, by each published system: tables and equations, never beyond their range.

Every system has its own buffer, depth, region and lime. Its answer is turned into grams of
pure fine CaCO3 per square metre, and scaled to another depth in proportion. Where a reading,
a pH or a target lies outside what was published, the answer is missing.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TypeAlias

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from soiltrend import tables, units
from soiltrend.errors import SoiltrendError

Values: TypeAlias = np.ndarray

SHORT_TON = 2000.0
"""Pounds in a short ton."""

FURROW_SLICE = 2_000_000.0
"""Pounds of soil that the equations in lb/acre take for an acre to their reference depth."""

CMOL = 0.01
PROTONS = 2.0
HALF_SATURATION = (7.79, -5.55, 2.27)
"""pH = 7.79 - 5.55 H + 2.27 H^2 (Adams & Evans 1962, Soil Sci. Soc. Am. Proc. 26:355; from memory)."""

ADAMS_EVANS_POUNDS = 1000.0
"""Pounds of CaCO3 per acre for 1 cmol/kg, as its equation rounds it: 8000 x (8 - buffer pH) is 8 x 1000."""

ADAMS_EVANS_FIELD = 1.5
"""Limestone to lay on for one part that reacts (Huluka, Adams-Evans buffer for lime requirement)."""

WEAK = "weak"
SLACK = 1e-9
STEP = 0.02
"""Between the targets [pH] at which a system is read backwards."""


@lru_cache(maxsize=None)
def _systems() -> pd.DataFrame:
    numbers = (
        "depth_cm",
        "value",
        "reading_low",
        "reading_high",
        "pH_low",
        "target_low",
        "target_high",
    )
    return tables.load("lime_systems", numbers=numbers).set_index("system", drop=False)


def lime_systems() -> pd.DataFrame:
    """Return the systems of lime requirement that are known here.

    Returns
    -------
    DataFrame
        Indexed by system: buffers (joined by ";"; blank for the one that goes by CEC), form,
        depth_cm [cm], value (neutralising value of the lime its numbers mean [%]), the ends of
        its readings, pH and targets, strength ("measured" or "weak"), region, words, source,
        evidence.

    Examples
    --------
    >>> lime_systems().at["Oregon 2025", "depth_cm"]
    np.float64(15.24)
    """
    return _systems().copy()


def system_row(system: str) -> pd.Series:
    """Return the row of a system.

    Raises
    ------
    SoiltrendError
        When there is none of that name.

    Examples
    --------
    >>> system_row("North Carolina")["buffers"]
    'Mehlich buffer'
    """
    table = _systems()
    if system not in table.index:
        raise SoiltrendError(
            f"'{system}' is no system of lime requirement", remedy=f"Use one of: {', '.join(table.index)}"
        )
    return table.loc[[system]].iloc[0]


def systems_of(buffer: str) -> list[str]:
    """Return the systems that can read a buffer; for "" the one that goes without.

    Examples
    --------
    >>> systems_of("Sikora"), systems_of("")
    (['Oregon 2025', 'Tri-State 1995'], ['CEC and pH'])
    """
    table = _systems()
    return [str(name) for name, listed in table["buffers"].items() if buffer in str(listed).split(";")]


@lru_cache(maxsize=None)
def _grid(system: str) -> tuple[Values, Values, Values]:
    """Return readings and targets, ascending, and the table between them [short ton/acre]."""
    table = tables.load("lime_tables", numbers=("reading", "target", "lime"))
    wide = table[table["system"] == system].pivot_table(index="reading", columns="target", values="lime")
    return wide.index.to_numpy(float), wide.columns.to_numpy(float), wide.to_numpy(float)


def _corner(axis: Values, at: Values) -> tuple[Values, Values]:
    """Return the lower neighbour of each value on an axis, and how far it lies to the next."""
    lower = np.clip(np.searchsorted(axis, at, side="right") - 1, 0, len(axis) - 2)
    return lower, (at - axis[lower]) / (axis[lower + 1] - axis[lower])


def _by_table(system: str, reading: Values, target: Values) -> Values:
    """Return short tons per acre between the lines of a table."""
    readings, targets, lime = _grid(system)
    row, down = _corner(readings, reading)
    column, across = _corner(targets, target)
    near = lime[row, column] * (1 - down) + lime[row + 1, column] * down
    far = lime[row, column + 1] * (1 - down) + lime[row + 1, column + 1] * down
    return np.asarray(near * (1 - across) + far * across)


def _buffer_acidity(buffer: str, reading: Values) -> Values:
    """Return the acidity a buffer found, by its own slope (tables/acidity.csv)."""
    table = tables.load("acidity", numbers=("reference_pH", "slope")).set_index("formula")
    return np.asarray(table["slope"].loc[buffer] * (table["reference_pH"].loc[buffer] - reading))


def unsaturation(pH: ArrayLike) -> Values:
    """Return the part of the exchange capacity that holds acidity at a pH, by Adams & Evans.

    Examples
    --------
    >>> unsaturation([5.0, 6.5]).round(3)
    array([0.707, 0.26 ])
    """
    constant, slope, curve = HALF_SATURATION
    root = slope**2 - 4 * curve * (constant - np.asarray(pH, float))
    return (-slope - np.sqrt(np.where(root >= 0, root, np.nan))) / (2 * curve)


def _mehlich(pH: Values, reading: Values, target: Values) -> Values:
    """Return short tons per acre by North Carolina's rule, which divides by 6.6 - pH."""
    reference = float(
        tables.load("acidity", numbers=("reference_pH",))
        .set_index("formula")["reference_pH"]
        .loc["Mehlich buffer"]
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        tons = _buffer_acidity("Mehlich buffer", reading) * (target - pH) / (reference - pH)
    return np.asarray(tons)


def _per_charge() -> float:
    """Return the pounds of CaCO3 per acre that 1 cmol/kg of acidity needs, in the furrow slice."""
    grams_per_kg = CMOL * units.molar_mass("CaCO3") / PROTONS
    return grams_per_kg / 1000 * FURROW_SLICE


def _adams_evans(pH: Values, reading: Values, target: Values) -> Values:
    """Return short tons per acre: the acidity, the part of it in between, the field's surcharge."""
    between = 1 - unsaturation(target) / unsaturation(pH)
    acidity = _buffer_acidity("Adams-Evans", reading)
    return np.asarray(acidity * ADAMS_EVANS_POUNDS / SHORT_TON * between * ADAMS_EVANS_FIELD)


def _capacity(pH: Values, reading: Values, target: Values) -> Values:
    """Return short tons per acre from an exchange capacity [cmol/kg] and two pH values."""
    return np.asarray(reading * (unsaturation(pH) - unsaturation(target)) * _per_charge() / SHORT_TON)


def _tons(form: str, system: str, pH: Values, reading: Values, target: Values) -> Values:
    if form == "table":
        return _by_table(system, reading, target)
    equations = {"mehlich": _mehlich, "adams-evans": _adams_evans, "capacity": _capacity}
    return equations[form](pH, reading, target)


def _inside(row: pd.Series, pH: Values, reading: Values, target: Values) -> Values:
    """Return where a system was published for."""
    ends = (
        (reading, row["reading_low"], row["reading_high"]),
        (target, row["target_low"], row["target_high"]),
        (pH, row["pH_low"], np.inf),
    )
    checks = [(value >= low - SLACK) & (value <= high + SLACK) for value, low, high in ends]
    return np.asarray(np.logical_and.reduce(checks))


def lime_need(
    system: str,
    *,
    pH: ArrayLike,
    reading: ArrayLike,
    target: ArrayLike,
    depth_cm: float | None = None,
    credit: ArrayLike = 0.0,
) -> Values:
    """Return the pure fine CaCO3 that brings a soil to a target pH by one system [g/m2].

    Parameters
    ----------
    system : str
        One of :func:`lime_systems`.
    pH : array
        In water.
    reading : array
        The pH of the system's buffer; for "CEC and pH" the exchange capacity [cmol/kg].
    target : array
        The pH wanted, in water.
    depth_cm : float, optional
        The layer to be limed [cm]; the system's own when not given. In proportion.
    credit : array
        CaCO3 of earlier dressings that has still to react [g/m2]; see :func:`residual_credit`.

    Returns
    -------
    array
        g/m2 of pure fine CaCO3: 0 where the pH is at the target, missing where a value lies
        outside what the system was published for.

    Raises
    ------
    SoiltrendError
        When the system is not known, or the depth is not positive.

    Examples
    --------
    >>> tons = lime_need("Oregon 2025", pH=5.2, reading=6.0, target=5.6) / 224.17
    >>> round(float(tons), 1)
    1.7
    """
    row = system_row(system)
    depth = float(row["depth_cm"]) if depth_cm is None else depth_cm
    if not (np.isfinite(depth) and depth > 0):
        raise SoiltrendError(f"depth_cm = {depth} is not a positive number")
    acid, at, want = (np.asarray(x, dtype=float) for x in np.broadcast_arrays(pH, reading, target))
    tons = _tons(str(row["form"]), system, acid, at, want)
    pure = tons * SHORT_TON * units.factor("lb/acre", "g/m2") * row["value"] / 100 * depth / row["depth_cm"]
    known = np.where(_inside(row, acid, at, want), np.maximum(pure - np.asarray(credit), 0.0), np.nan)
    return np.asarray(np.where(acid >= want, 0.0, known))


def lime_rise(
    system: str,
    *,
    pH: float,
    reading: float,
    lime: ArrayLike,
    depth_cm: float | None = None,
) -> Values:
    """Return the pH that a dressing of pure fine CaCO3 should bring, by one system read backwards.

    Parameters
    ----------
    system, pH, reading, depth_cm
        As in :func:`lime_need`, one number each.
    lime : array
        CaCO3 that reacts [g/m2].

    Returns
    -------
    array
        pH; missing where the system does not reach so far. Between the soil's own pH and the
        lowest target of a table the line is straight.

    Examples
    --------
    >>> lime_rise("Oregon 2025", pH=5.2, reading=6.0, lime=[0.0, 381.1]).round(2)
    array([5.2, 5.6])
    """
    row = system_row(system)
    high = float(row["target_high"])
    steps = np.arange(float(row["target_low"]), high, STEP)
    targets = np.union1d(steps, _grid(system)[1] if row["form"] == "table" else high)
    targets = targets[targets > pH]
    needs = lime_need(system, pH=pH, reading=reading, target=targets, depth_cm=depth_cm)
    good = np.isfinite(needs)
    if not good.any():
        return np.asarray(np.where(np.asarray(lime) == 0, pH, np.nan), dtype=float)
    needs = np.maximum.accumulate(np.concatenate([[0.0], needs[good]]))
    given, reached = np.asarray(lime, float), np.concatenate([[pH], targets[good]])
    return np.asarray(np.where(given == 0, pH, np.interp(given, needs, reached, right=np.nan)))


MONTHLY = {"mineral soil": 0.08}
ORGANIC_MONTHLY = 0.16
"""Share of a dressing that is taken to have reacted each month (NCDA&CS Agronomic Division)."""


def residual_credit(lime: ArrayLike, *, months: ArrayLike, medium: str = "mineral soil") -> Values:
    """Return the part of an earlier dressing that has still to react.

    Parameters
    ----------
    lime : array
        CaCO3 laid on [any unit].
    months : array
        Since then.
    medium : str
        "mineral soil" loses 8 % a month, any other 16 % (NCDA&CS Agronomic Division).

    Returns
    -------
    array
        In the unit of ``lime``, never below 0.

    Examples
    --------
    >>> residual_credit(100.0, months=[0, 5, 20]).tolist()
    [100.0, 60.0, 0.0]
    """
    left = 1 - MONTHLY.get(medium, ORGANIC_MONTHLY) * np.asarray(months, float)
    return np.asarray(lime) * np.clip(left, 0.0, 1.0)
