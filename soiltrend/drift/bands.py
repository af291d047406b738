"""Bands within which a ratio or a saturation is looked for, and who says so."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import present, scales, tables, vocabulary
from soiltrend.errors import SoiltrendError

OWN = "own"
"""Stands for the bed's own first tests in the place of a band."""

AGAINST = (
    "Within usual ranges such ratios were not found to set fertility (Kopittke & Menzies 2007, "
    "SSSAJ 71:259): see whether the amounts suffice"
)
"""The evidence against targets for cation ratios, said beside them."""

Band = tuple[float | None, float | None] | str
COLUMNS = ["low_edge", "high_edge", "band", "means", "against"]


@dataclass(frozen=True)
class Edges:
    """One band: its ends (infinite where it has none), who says so, and what it means."""

    low: float
    high: float
    band: str
    means: str
    against: bool


def of(ratios: pd.Series, stated: Mapping[str, Band] | None) -> pd.DataFrame:
    """Return the band of each ratio or saturation: the grower's, the table's, or none.

    Parameters
    ----------
    ratios : Series of str
        Names.
    stated : mapping, optional
        By name the grower's own (low, high), either of them None, or "own" for the first tests.

    Raises
    ------
    SoiltrendError
        When a band's name is not among the ratios, or its ends are none.

    Examples
    --------
    >>> of(pd.Series(["Ca:Mg (charge)"]), None)[["low_edge", "high_edge"]].to_numpy().tolist()
    [[2.0, 8.0]]
    """
    known = set(ratios)
    edges = _listed() | {name: _stated(name, band, known) for name, band in (stated or {}).items()}
    none = Edges(-np.inf, np.inf, "", "", False)
    rows = [edges.get(name, none) for name in ratios]
    return pd.DataFrame(
        [(e.low, e.high, e.band, e.means, e.against) for e in rows], columns=COLUMNS, index=ratios.index
    )


def _listed() -> dict[str, Edges]:
    """Return the bands of the reference table."""
    table = tables.load("bands", numbers=("low", "high"))
    return {
        row["ratio"]: Edges(
            -np.inf if np.isnan(row["low"]) else row["low"],
            np.inf if np.isnan(row["high"]) else row["high"],
            f"{row['source']} ({row['evidence']})",
            row["means"],
            row["against"] == "yes",
        )
        for row in table.to_dict("records")
    }


def _stated(name: str, band: Band, known: set[str]) -> Edges:
    """Return the grower's band, or refuse it by name."""
    if name not in known:
        raise SoiltrendError(
            f"a band is stated for '{name}', which is no ratio or saturation of these results",
            remedy="Here are: " + ", ".join(sorted(known)),
        )
    if band == OWN:
        return Edges(-np.inf, np.inf, "", "", False)
    ends = band if isinstance(band, (tuple, list)) and len(band) == 2 else None
    if ends is None or any(isinstance(end, (str, bool)) for end in ends):
        raise SoiltrendError(
            f"the band {band!r} of '{name}' is not a pair of numbers",
            remedy="Write (low, high), None for an open end, or 'own' for the first tests",
        )
    low, high = (
        (-np.inf if ends[0] is None else float(ends[0])),
        (np.inf if ends[1] is None else float(ends[1])),
    )
    if not low < high or high <= 0 or (np.isfinite(low) and low <= 0):
        raise SoiltrendError(
            f"the band {band!r} of '{name}' does not run from low to high above 0",
            remedy="Write (low, high), None for an open end",
        )
    if vocabulary.facts(name).get("kind") == "share":
        if low >= scales.WHOLE or scales.WHOLE < high < np.inf:
            raise SoiltrendError(
                f"the band {band!r} of '{name}' reaches beyond the whole, which is {scales.WHOLE:g} %",
                remedy="Write (low, high) in per cent, None for an open end",
            )
        high = np.inf if high == scales.WHOLE else high  # no share can pass it
    return Edges(
        low, high, "stated for this garden", "", scales.ratio_parts(name) is not None and "Ca" in name
    )


def told(row: Mapping[str, object]) -> str:
    """Return a band in words.

    Examples
    --------
    >>> told({"low_edge": 2.0, "high_edge": float("inf")})
    'at least 2'
    """
    low, high = float(str(row["low_edge"])), float(str(row["high_edge"]))
    if np.isfinite(low) and np.isfinite(high):
        return f"{_edge(low)} to {_edge(high)}"
    return f"at least {_edge(low)}" if np.isfinite(low) else f"at most {_edge(high)}"


def _edge(value: float) -> str:
    """Return an edge without trailing zeros."""
    return f"{float(present.number(value)):g}"
