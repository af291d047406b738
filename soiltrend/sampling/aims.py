"""How many cores an aim takes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from soiltrend import present
from soiltrend.detect import cores_needed
from soiltrend.errors import SoiltrendError
from soiltrend.noise import Noise, noise_model, said

COLUMNS = ["analyte", "method", "one core", "within", "cores", "why"]


def cores_for_aim(
    source: pd.DataFrame | Noise, *, aims: Mapping[str, float] | None = None, confidence: float = 0.95
) -> present.Listing:
    """Return how many cores bring the mean of a bed within an aim of the truth.

    Parameters
    ----------
    source : DataFrame or Noise
        A tidy frame or a noise model, which says how far single cores lie apart.
    aims : mapping, optional
        Distance allowed by analyte: a share for concentrations (0.15 is 15 %), points or units for the rest;
        by default the change that matters (``tables/margins.csv``).
    confidence : float
        How often the mean is to lie within it.

    Returns
    -------
    Listing
        Columns analyte, method (all that scatter alike), one core (how far single cores lie apart), within,
        cores, why.

    Raises
    ------
    SoiltrendError
        When an aim names nothing of the noise model, or is not positive.

    Notes
    -----
    n = (t x spread / within)^2 by iteration (common practice); it is the soil's part alone, and what the
    laboratory and the day add stays.

    Examples
    --------
    >>> model = noise_model(overrides={"K": {"between_cores": 0.40}})
    >>> found = cores_for_aim(model, aims={"K": 0.15}).table
    >>> found[["analyte", "within", "cores"]].to_dict("records")
    [{'analyte': 'K', 'within': '15 %', 'cores': 30}]
    """
    model = source if isinstance(source, Noise) else noise_model(source)
    soil = ~model.table["analyte"].str.startswith("(") & (model.table["method"] != "visual")
    rows = model.table[soil & (model.table["between_cores"] > 0)]
    for name in aims or {}:
        if name not in set(rows["analyte"]):
            raise SoiltrendError(
                f"the aim for '{name}' finds no noise of that name", remedy="Write it as K or OM"
            )
    wanted = rows["margin"] if aims is None else rows["analyte"].map(pd.Series(aims, dtype=float))
    rows = rows.assign(within=wanted)[wanted.notna()]
    told = pd.DataFrame([_aimed(row, confidence) for row in rows.to_dict("records")], columns=COLUMNS)
    alike = told.groupby([name for name in COLUMNS if name != "method"], sort=False)["method"]
    table = alike.agg(", ".join).reset_index()[COLUMNS]
    return present.Listing(f"Cores in a bucket, {100 * confidence:g} times in 100 within the aim", table)


def _aimed(row: dict[Any, Any], confidence: float) -> dict[str, Any]:
    spread, within = said(row["between_cores"], row), said(row["within"], row)
    count = cores_needed(row["between_cores"], within=row["within"], confidence=confidence)
    single = f"Single cores of {row['analyte']} scatter by {spread}"
    why = f"{single}; the mean of {count} is within {within} of the bed's"
    return {
        "analyte": row["analyte"],
        "method": row["method"],
        "one core": spread,
        "within": within,
        "cores": count,
        "why": why,
    }
