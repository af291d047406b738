"""How many cores an aim takes, and how many years organic matter needs to show."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import present, tables
from soiltrend.detect import FEWEST_YEARS, Sampling, cores_needed, detectable_slope
from soiltrend.errors import SoiltrendError
from soiltrend.noise import Noise, noise_model, said

LONGEST = 60
"""Years beyond which nobody waits."""

AT_LEAST = "; where soils respond, three to five years at least (Oregon State University EM 9251)"


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
        Columns analyte, method, one core (how far single cores lie apart), within, cores, why.

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
    table = pd.DataFrame(
        [_aimed(row, confidence) for row in rows.to_dict("records")],
        columns=["analyte", "method", "one core", "within", "cores", "why"],
    )
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


def organic_matter_per_year(carbon: float, *, depth_cm: float = 15.0, bulk_density: float = 1.3) -> float:
    """Return by how many points a year organic matter rises for so much carbon.

    Parameters
    ----------
    carbon : float
        Gain of organic carbon [kg/ha/year].
    depth_cm : float
        The sampled layer [cm].
    bulk_density : float
        Of that layer [g/cm3].

    Raises
    ------
    SoiltrendError
        When depth or bulk density is not positive.

    Examples
    --------
    >>> round(organic_matter_per_year(409, depth_cm=20, bulk_density=1.3), 3)
    0.027
    """
    if not (depth_cm > 0 and bulk_density > 0):
        raise SoiltrendError(
            f"a layer of {depth_cm} cm at {bulk_density} g/cm3 is none",
            remedy="Give a depth [cm] and a bulk density [g/cm3] above 0",
        )
    soil = bulk_density * depth_cm * 1e5  # kg/ha: 1 cm over a hectare is 100 m3
    customary = float(tables.load("carbon").set_index("quantity")["low"]["organic matter per carbon"])
    return 100 * carbon * customary / soil


def years_to_show(
    source: pd.DataFrame | Noise,
    *,
    depth_cm: float = 15.0,
    bulk_density: float = 1.3,
    tests: int = 2,
    sampling: Sampling | None = None,
    power: float = 0.8,
) -> present.Listing:
    """Return how many years organic matter takes to show a rise at the published rates.

    Parameters
    ----------
    source : DataFrame or Noise
        A tidy frame or a noise model.
    depth_cm, bulk_density : float
        The sampled layer [cm] and its bulk density [g/cm3].
    tests : int
        Tests a year, each in its own season.
    sampling : Sampling, optional
        How each season is sampled; one composite of 15 cores of one bed by default.
    power : float
        How often the rise is to be seen.

    Returns
    -------
    Listing
        Columns practice, carbon [kg/ha/year], points a year (organic matter), years (missing beyond 60),
        why, source. The rates are of field experiments (``tables/carbon_rates.csv``); a bed given much
        compost every year changes faster.

    Raises
    ------
    SoiltrendError
        When the noise model holds no organic matter, and as for
        :func:`soiltrend.detect.detectable_slope`.

    Examples
    --------
    >>> years_to_show(noise_model()).table[["practice", "years"]].head(2).to_dict("records")
    [{'practice': 'manure', 'years': 11.0}, {'practice': 'cover crops', 'years': 12.0}]
    """
    model = source if isinstance(source, Noise) else noise_model(source)
    rows = model.table[model.table["analyte"] == "OM"].head(1)
    if not len(rows):
        raise SoiltrendError(
            f"none of {len(model.table)} measures is organic matter (OM)",
            remedy="Give results that hold OM, or noise_model()",
        )
    found = detectable_slope(
        replace(model, table=rows),
        years=range(FEWEST_YEARS, LONGEST + 1),
        tests=tests,
        sampling=sampling,
        power=power,
    ).table
    rates = tables.load("carbon_rates", numbers=("carbon",))
    rise = [
        organic_matter_per_year(value, depth_cm=depth_cm, bulk_density=bulk_density)
        for value in rates["carbon"]
    ]
    years = [float(found.loc[found["smallest"] <= step, "years"].min()) for step in rise]
    told = [_waited(*row, tests) for row in zip(rates["carbon"], rise, years, strict=True)]
    table = pd.DataFrame(
        {
            "practice": rates["practice"],
            "carbon": rates["carbon"],
            "points a year": rise,
            "years": years,
            "why": told,
            "source": rates["source"],
        }
    )
    title = f"Years until a rise of organic matter shows in {tests} tests a year of {depth_cm:g} cm"
    return present.Listing(f"{title}, {100 * power:g} times in 100", table)


def _waited(carbon: float, rise: float, years: float, tests: int) -> str:
    shows = (
        f"shows after {years:.0f} years" if np.isfinite(years) else f"does not show within {LONGEST} years"
    )
    return (
        f"{carbon:g} kg of carbon a hectare and year is {present.number(rise, digits=2)} points of organic "
        f"matter a year, which {shows} of {tests} tests{AT_LEAST}"
    )
