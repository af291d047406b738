"""Published factors from one extractant to another: of one region, with a wide error, never chained.

Measuring both ways on one's own soil is better (:func:`soiltrend.bridge`): regional factors
disagree with each other by half at low phosphorus (see the sources in ``tables/extractants.csv``).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from soiltrend import scales, tables, vocabulary
from soiltrend.bridges.core import MEAN, Bridge
from soiltrend.errors import SoiltrendError

NUMBERS = ("factor", "error", "low", "high")


def published_bridge(analyte: str, *, lab: str, of: str, to: str, region: str) -> Bridge:
    """Return a published conversion between two extractants as a bridge.

    Parameters
    ----------
    analyte : str
        What was measured ("P").
    lab : str
        The laboratory whose rows are to be moved; they keep it.
    of, to : str
        Extractants.
    region : str
        The region the factor was found in; it is never chosen for you.

    Returns
    -------
    Bridge
        For :func:`soiltrend.across`. Its error is that of the table, shared by all rows moved.

    Raises
    ------
    SoiltrendError
        When no such factor is in ``tables/extractants.csv``; two factors are never multiplied.

    Examples
    --------
    >>> found = published_bridge("K", lab="L", of="Mehlich-3", to="ammonium acetate", region="New York")
    >>> found.name
    'K by Mehlich-3 as by ammonium acetate, published for New York, within 15 %'
    """
    table = tables.load("extractants", numbers=NUMBERS)
    same = (table["analyte"] == analyte) & (table["of"] == of) & (table["to"] == to)
    rows = table[same & (table["region"] == region)]
    if rows.empty:
        known = ", ".join(f"'{name}'" for name in table.loc[same, "region"]) or "none"
        raise SoiltrendError(
            f"no factor is published here for {analyte} from {of} to {to} in '{region}'",
            remedy=f"Regions known for it: {known}. Better: split some samples and use bridge()",
        )
    row = rows.iloc[0]
    unit, scale = vocabulary.canonical_unit(analyte), scales.scale(analyte)
    offset, se = float(np.log(row["factor"])), float(np.log1p(row["error"]))
    told: dict[str, Any] = {
        "n": 0,
        "offset": offset,
        "se": se,
        "low": offset - 2 * se,
        "high": offset + 2 * se,
    }
    told |= {"slope": np.nan, "slope_se": np.nan, "why": str(row["source"]), "model": MEAN, "centre": 0.0}
    told |= {"scatter": se, "excess": 0.0, "days": 0, "df": np.inf, "unit": unit, "scale": scale}
    ends = pd.DataFrame({"of_value": [row["low"], row["high"]]})
    return Bridge(
        table=pd.DataFrame([told]),
        splits=ends.assign(to_value=ends["of_value"] * row["factor"], difference=offset),
        analyte=analyte,
        of=(lab, of),
        to=(lab, to),
        name=f"{analyte} by {of} as by {to}, published for {region}, within {row['error']:.0%}".replace(
            "%", " %"
        ),
        twins=frozenset(),
    )
