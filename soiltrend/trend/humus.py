"""Organic matter and exchange capacity held against each other, as a check on both.

Beds richer in organic matter hold more cations. The slope of capacity on organic matter across the beds of
one garden is the charge of its organic matter, and that is known from elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import frames, present, tables
from soiltrend.chances import stdtrit

BEDS = 5
"""Beds from which a slope across beds is told; three degrees of freedom are left."""

SAME = ["lab", "top_cm", "bottom_cm"]
COLUMNS = [
    "method",
    "om_method",
    "lab",
    "beds",
    "charge",
    "low",
    "high",
    "unit",
    "expected_low",
    "expected_high",
    "verdict",
    "why",
]
AGREES, DIFFERS, OPEN, FEW = "agrees", "differs", "cannot tell", "too few"


@dataclass(frozen=True, eq=False)
class Humus:
    """The charge of organic matter as a garden's own results have it.

    Attributes
    ----------
    table : DataFrame
        One row per method of capacity and of organic matter, laboratory and layer: ``charge`` of organic
        matter [cmol/kg of it] with its 95 % interval, what is published, ``verdict`` and ``why``.
    """

    table: pd.DataFrame

    def __repr__(self) -> str:
        return present.plain("Charge of organic matter", self.table[COLUMNS[:-1]])

    def _repr_html_(self) -> str:
        return present.page("Charge of organic matter", self.table)


def humus(results: pd.DataFrame) -> Humus:
    """Return the slope of exchange capacity on organic matter across beds, beside what is published.

    Parameters
    ----------
    results : DataFrame
        A tidy frame with CEC and OM, measured or computed.

    Returns
    -------
    Humus
        "agrees" when the interval meets the published range and excludes 0, "differs" when it lies
        outside the range, "cannot tell" otherwise, "too few" below five beds.

    Raises
    ------
    FrameError
        When the frame is not tidy.

    Notes
    -----
    Each bed counts once, with the mean of the tests that have both values: tests of one bed are no
    further witnesses. Clay differs between beds as well, so agreement is no proof.

    Examples
    --------
    >>> kinds = [("OM", 3.0, 1.0, "%"), ("CEC", 8.0, 2.0, "cmol/kg")]
    >>> rows = [{"bed": f"bed {i}", "analyte": name, "value": low + i * step, "unit": unit}
    ...         for i in range(6) for name, low, step, unit in kinds]
    >>> humus(frames.results(rows)).table[["charge", "verdict"]].round(1).to_numpy().tolist()
    [[200.0, 'agrees']]
    """
    frames.check(results)
    usable = results[
        (results["qualifier"] == "") & ~results["note"].str.startswith((frames.INFLATED, frames.QUESTIONED))
    ]
    both = [usable[usable["analyte"] == name] for name in ("CEC", "OM")]
    test = ["bed", "sampled", "season", *SAME]
    means = [part.groupby([*test, "method"], dropna=False)["value"].mean().reset_index() for part in both]
    pairs = means[0].merge(means[1], on=test, suffixes=("", "_om"))
    beds = (
        pairs.groupby([*SAME, "method", "method_om", "bed"], dropna=False)[["value", "value_om"]]
        .mean()
        .reset_index()
    )
    groups = beds.groupby([*SAME, "method", "method_om"], dropna=False)
    found = [_row(dict(zip(groups.keys, key, strict=True)), part) for key, part in groups]
    return Humus(pd.DataFrame(found, columns=COLUMNS))


def _row(key: dict[Any, Any], beds: pd.DataFrame) -> dict[str, Any]:
    """Return the charge of organic matter from the means of some beds."""
    known = tables.load("charge", numbers=("low", "high")).set_index("part").loc["organic matter"]
    row = {
        "method": key["method"],
        "om_method": key["method_om"],
        "lab": key["lab"],
        "beds": len(beds),
        "unit": "cmol/kg",
        "expected_low": known["low"],
        "expected_high": known["high"],
        "charge": np.nan,
        "low": np.nan,
        "high": np.nan,
    }
    x, y = beds["value_om"].to_numpy() / 100, beds["value"].to_numpy()
    if len(beds) < BEDS or np.ptp(x) == 0:
        both = present.counted(len(beds), "bed")
        return {
            **row,
            "verdict": FEW,
            "why": f"{both} with both: a slope across beds needs {BEDS} that differ",
        }
    x, y = x - x.mean(), y - y.mean()
    slope = float(x @ y / (x @ x))
    rest = y - slope * x
    half = float(stdtrit(len(x) - 2, 0.975) * np.sqrt(rest @ rest / (len(x) - 2) / (x @ x)))
    low, high = slope - half, slope + half
    apart = high < known["low"] or low > known["high"]
    verdict = DIFFERS if apart else AGREES if low > 0 else OPEN
    words = {
        AGREES: "as published",
        DIFFERS: "not what is published: look at both methods, at clay and at free lime",
        OPEN: "too unsure to say",
    }
    at, least, most = (present.number(end) for end in (slope, low, high))
    why = (
        f"{len(beds)} beds: {at} cmol of charge per kg of organic matter ({least} to {most}), published "
        f"{known['low']:.0f} to {known['high']:.0f}: {words[verdict]}. Clay differs between beds too"
    )
    return {**row, "charge": slope, "low": low, "high": high, "verdict": verdict, "why": why}
