"""What a lime is worth within a year: its neutralising value, and how finely it is ground."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import present, tables
from soiltrend.errors import SoiltrendError

WHOLE = 100.0


@dataclass(frozen=True, eq=False)
class LimeValue:
    """What a lime does within a year, by each fineness system.

    Attributes
    ----------
    table : DataFrame
        system, efficiency [%] (of the powder, by its fineness), value [%] (of pure fine CaCO3:
        neutralising value times efficiency), per_100 (mass of it that does what 100 of pure
        fine CaCO3 does), unit, region, why, source, evidence.
    cce : float
        The neutralising value [% of CaCO3].
    """

    table: pd.DataFrame
    cce: float

    def __repr__(self) -> str:
        return present.plain(self._title(), self.table.drop(columns=["source"]))

    def _repr_html_(self) -> str:
        return present.page(self._title(), self.table)

    def _title(self) -> str:
        return f"A lime of neutralising value {self.cce:g} %, within a year, by {len(self.table)} systems"


def _checked(passing: Mapping[int, float]) -> dict[int, float]:
    """Return the sieve test from coarse to fine; one that cannot be is refused."""
    order = dict(sorted(passing.items()))
    values = list(order.values())
    if any(not 0 <= value <= WHOLE for value in values) or any(np.diff(values) > 0):
        raise SoiltrendError(
            f"passing {order} is no sieve test",
            remedy="Give the percent that passes each mesh, never more through a finer one: {20: 90, 60: 60}",
        )
    return order


def efficiency(passing: Mapping[int, float], *, system: str) -> float:
    """Return the share of a lime that acts within a year by one fineness system.

    Parameters
    ----------
    passing : mapping of int to float
        Percent of the lime that passes each US mesh (8 is 2.36 mm, 20 is 0.85 mm, 60 is
        0.25 mm, 100 is 0.15 mm).
    system : str
        One of tables/fineness.csv.

    Returns
    -------
    float
        0 to 1; missing when a mesh the system needs was not tested.

    Raises
    ------
    SoiltrendError
        When there is no such system, or the sieve test cannot be.

    Examples
    --------
    >>> efficiency({8: 98, 20: 90, 60: 60, 100: 45}, system="New York, two classes")
    0.72
    """
    table = tables.load("fineness", numbers=("passes_mesh", "held_mesh", "efficiency"))
    classes = table[table["system"] == system]
    if classes.empty:
        known = ", ".join(f"'{name}'" for name in dict.fromkeys(table["system"]))
        raise SoiltrendError(f"'{system}' is no fineness system", remedy=f"Use one of: {known}")
    tested = _checked(passing)
    upper = classes["passes_mesh"].map(tested).mask(classes["passes_mesh"].isna(), WHOLE)
    lower = classes["held_mesh"].map(tested).mask(classes["held_mesh"].isna(), 0.0)
    share = ((upper - lower) / WHOLE * classes["efficiency"]).sum(skipna=False)
    return round(float(share), 12)


def fineness_systems() -> list[str]:
    """Return the names of the fineness systems.

    Examples
    --------
    >>> fineness_systems()
    ['New York, three classes', 'New York, two classes', 'Ohio type']
    """
    return list(dict.fromkeys(tables.load("fineness")["system"]))


def lime_value(cce: float, *, passing: Mapping[int, float]) -> LimeValue:
    """Return what a lime is worth within a year, by every fineness system.

    Systems differ, even two of one state: the same powder is rated some ten points apart.

    Parameters
    ----------
    cce : float
        Neutralising value [% of pure CaCO3].
    passing : mapping of int to float
        Percent that passes each US mesh, as on the lime's label: ``{20: 90, 60: 60, 100: 45}``.

    Returns
    -------
    LimeValue

    Raises
    ------
    SoiltrendError
        When the neutralising value is not positive, or the sieve test cannot be.

    Examples
    --------
    >>> lime_value(92, passing={8: 98, 20: 90, 60: 60, 100: 45}).table["value"].round(1).tolist()
    [63.5, 66.2, 73.2]
    """
    if not cce > 0:
        raise SoiltrendError(
            f"a neutralising value of {cce:g} % is none",
            remedy="Gypsum and salts are no lime; give the CCE of the label in percent",
        )
    table = tables.load("fineness", numbers=("passes_mesh",))
    rows = []
    for system in fineness_systems():
        of = table[table["system"] == system]
        share = efficiency(passing, system=system)
        mesh = ", ".join(f"{m:g}" for m in of["passes_mesh"].dropna())
        why = f"reads meshes {mesh}" if np.isfinite(share) else f"needs the shares through mesh {mesh}"
        rows.append(
            {
                "system": system,
                "efficiency": WHOLE * share,
                "value": cce * share,
                "per_100": WHOLE * WHOLE / (cce * share) if share > 0 else np.nan,
                "unit": "%",
                "region": of["region"].iloc[0],
                "why": why,
                "source": of["source"].iloc[0],
                "evidence": of["evidence"].iloc[0],
            }
        )
    return LimeValue(pd.DataFrame(rows), float(cce))
