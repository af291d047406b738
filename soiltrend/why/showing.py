"""How long carbon takes to show in a test, and the sentence beside what was gained and added."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from soiltrend import frames, tables
from soiltrend.detect import detectable_slope
from soiltrend.present import number
from soiltrend.why.fed import carbon_of
from soiltrend.why.given import DRAWS, SEED, Given, interval

COLUMNS = ["bed", "practice", "carbon", "points", "points_low", "points_high", "years", "why", "source"]
OWN = "as on this bed, of which the published share stays"
LONGEST = 60
"""Years beyond which nothing is told: longer than a gardener's record."""

WHOLE = 100.0
KG_PER_M2 = 1e-4
"""kg/m2 in a kg/ha."""


def factor_range() -> tuple[float, float]:
    """Return the range of organic matter per organic carbon.

    Examples
    --------
    >>> factor_range()
    (1.724, 2.0)
    """
    low, _, high = carbon_of("organic matter per carbon")
    return low, high


def years(given: Given, bed: str, mass: float, yearly: np.ndarray, confidence: float) -> list[dict[str, Any]]:
    """Return how long organic matter takes to show a rise, for published practices and for the bed's own.

    Parameters
    ----------
    given : Given
        The results and their noise.
    bed : str
        The bed.
    mass : float
        Soil of the layer [kg/m2].
    yearly : array
        Draws of the carbon added in a year [kg C/m2].
    confidence : float
        Of the intervals.
    """
    rates = tables.load("carbon_rates", numbers=("carbon",))
    rng = np.random.default_rng(SEED)
    factor = rng.uniform(*factor_range(), DRAWS)
    low, likely, high = carbon_of("carbon kept of what was added")
    share = rng.triangular(low, likely, high, DRAWS) / 100
    kept = [(str(row["practice"]), np.full(DRAWS, row["carbon"] * KG_PER_M2), str(row["source"]))
            for row in rates.to_dict("records")]
    source = tables.load("carbon").set_index("quantity")["source"]["carbon kept of what was added"]
    kept += [(OWN, yearly * share, str(source))] if yearly.any() else []
    seen = _seen(given, bed)
    out = []
    for practice, carbon, origin in kept:
        points = 100 * carbon * factor / mass
        least, most = interval(points, confidence)
        middle = float(np.median(points))
        wait = min((count for count, smallest in seen.items() if smallest <= middle), default=np.nan)
        shown = (f"shows after {wait:.0f} years of tests like these" if wait == wait
                 else f"does not show within {LONGEST} years")
        why = f"{number(middle, digits=2)} points of organic matter a year, which {shown}, 8 times in 10"
        out.append({"bed": bed, "practice": practice, "carbon": float(np.median(carbon)) / KG_PER_M2,
                    "points": middle, "points_low": least, "points_high": most, "years": wait, "why": why,
                    "source": origin})
    return out


def _seen(given: Given, bed: str) -> dict[int, float]:
    """Return the smallest change a year that so many years could show, at the bed's own level."""
    rows = given.results[(given.results["analyte"] == "OM") & (given.results["bed"] == bed)]
    names = {frames.season_name(text) for text in rows["season"]} - {""}
    model = given.noise.of(rows.head(1)) if len(rows) else given.noise.table.query("analyte == 'OM'").head(1)
    grown = max(1.0, float((model["relative"].fillna(0.0) * rows["value"].mean() / model["sd"]).max()))
    parts = ["sd", "laboratory", "preparation", "between_cores", "occasion"]
    own = model.assign(**{name: model[name] * grown for name in parts})
    found = detectable_slope(replace(given.noise, table=own), years=range(3, LONGEST + 1),
                             tests=min(max(len(names), 1), 2)).table
    return {int(count): float(least) for count, least in found[["years", "smallest"]].itertuples(index=False)}


def sentence(row: Mapping[str, Any], mass: tuple[float, float] | None, silent: str = "") -> str:
    """Return the sentence of one bed; ``silent`` is in which part of the time nothing was logged."""
    low, high = (f"{row[f'carbon_before_{side}']:.2f}" for side in ("low", "high"))
    lead = (f"{row['measure']} {row['verdict']}: {number(row['before'])} to {number(row['after'])} % "
            f"({low} to {high} % of carbon at first)")
    added = _added(row)
    if silent:
        added = (f"how much carbon went on is not known: {silent}; if nothing went on, write a line with the "
                 "amount 0")
    if mass is None:
        return f"{lead}; no stock, because no bulk density is known; {added}"
    lighter = ("over the same mass of soil" if mass[0] != mass[1]
               else "taking the bulk density as unchanged: if the soil grew lighter, the gain is less")
    gained = (f"the stock moved by {row['gained']:+.2g} kg/m2 ({row['gained_low']:.2g} to "
              f"{row['gained_high']:.2g}) {lighter}")
    if "beside_check" in row:
        gained += (f", {row['beside_check']:+.2g} ({row['beside_check_low']:.2g} to "
                   f"{row['beside_check_high']:.2g}) beside the check")
    return f"{lead}; {gained}; {added}{_kept(row)}"


def _added(row: Mapping[str, Any]) -> str:
    """Return how much carbon went on, and how much of it stayed there as crop residues."""
    all_of_it = row["stayed"] >= row["added"] > 0
    verb = "stayed there in crop residues" if all_of_it else "went on"
    some = f", of which {number(row['stayed'], digits=2)} stayed there in crop residues"
    return (f"{number(row['added'], digits=2)} kg of carbon a square metre {verb} "
            f"({number(row['added_low'], digits=2)} to {number(row['added_high'], digits=2)})"
            f"{some if row['stayed'] > 0 and not all_of_it else ''}")


def _kept(row: Mapping[str, Any]) -> str:
    """Return how much of what was added is found again, beside what field trials keep."""
    if not row["added"] > 0:
        return ""
    least, _, most = carbon_of("carbon kept of what was added")
    if "kept" not in row:
        return ": too little beside the noise of the tests for any share of it to be told"
    trials = f"; field trials kept {least:.0f} to {most:.0f} % of the carbon of manures after 18 years"
    if row["gained_low"] <= 0:
        return f": how much of it stayed cannot be told yet{trials}"
    if row["kept"] > WHOLE:
        return (": more was gained than went on, so the rest is drift of the test, roots, or another way of "
                f"sampling{trials}")
    if row.get("beside_check_low", 1.0) <= 0:
        return f": how much of it stayed cannot be told yet, for the check may have gained as much{trials}"
    span = f"{row['kept_low']:.0f} to {row['kept_high']:.0f}"
    return f": {row['kept']:.0f} % of it is found again ({span}){trials}"
