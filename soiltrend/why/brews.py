"""Brews, ferments and inoculants: logged like everything else, and credited with their analysis alone."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from soiltrend.garden import Garden
from soiltrend.materials import warnings_of
from soiltrend.present import Listing, number
from soiltrend.why.given import SEED
from soiltrend.why.log import grams, read_log

KINDS = ("ferment", "acid extract", "brew")
"""Kinds of tables/materials.csv whose life, if any, is no nutrient."""

CREDITED = ("N", "P", "K")
COLUMNS = ["bed", "material", "times", "last", "unit", *CREDITED, "why"]


def brews(garden: Garden) -> Listing:
    """Return the brews, ferments and inoculants of the log, and what they are credited with.

    Parameters
    ----------
    garden : Garden
        With its log.

    Returns
    -------
    Listing
        One row per bed and material: ``times``, ``last`` day, and the nitrogen, phosphorus and potassium
        that all of them brought [``unit``, g/m2] by their analysis, measured or assumed (missing where the
        analysis does not say); ``why``.

    Raises
    ------
    SoiltrendError
        When a unit, density or moisture is not known.
    """
    log = read_log(garden)
    rng = np.random.default_rng(SEED)
    brew = [str(log.rows[name]["kind"]) in KINDS for name in log.lines["material"]]
    mine = log.lines[np.array(brew, dtype=bool)]
    rows = []
    for (bed, name), lines in mine.groupby(["bed", "material"], sort=False):
        row = log.rows[str(name)]
        brought = [grams(line, row, CREDITED, rng) for _, line in lines.iterrows()]
        known = [n for n in CREDITED if all(n in one for one in brought)]
        sums = {n: float(sum(np.mean(one[n]) for one in brought)) for n in known}
        rows.append({"bed": bed, "material": name, "times": len(lines), "last": lines["date"].max(),
                     "unit": "g/m2", **dict.fromkeys(CREDITED, np.nan), **sums, "why": _why(row, sums)})
    what = "brew, ferment or inoculant" if len(rows) == 1 else "brews, ferments and inoculants"
    title = f"{len(rows)} {what} by bed, credited with their analysis and no more"
    return Listing(title, pd.DataFrame(rows, columns=COLUMNS))


def _why(row: pd.Series, sums: dict[str, Any]) -> str:
    """Return the sentence of one brew."""
    parts = [f"{number(amount, digits=2)} g {name}" for name, amount in sums.items() if amount > 0]
    told = ", ".join(parts) or "no nitrogen, phosphorus or potassium that is known"
    basis = "by its own analysis" if row["measured"] == "yes" else "by a guessed analysis"
    caution = warnings_of(pd.Series({"cautions": "brew"}, name=row.name))["text"].iloc[0]
    kindly = ("If the bed feels better for it, write that down under observations: hand and eye are compared "
              "like any test")
    return f"Brought {told} a square metre in all, {basis}. {caution} {kindly}"
