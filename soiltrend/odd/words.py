"""What is said of an odd value, and what to do about it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from soiltrend import present, scales, tables
from soiltrend.chances import stdtrit

FAR, SLIP, BUCKET, SWAPPED = "far from its own", "decimal slip?", "bucket or bag?", "bags swapped?"
FACTORS = {
    10.0: "divided by 10",
    100.0: "divided by 100",
    1000.0: "divided by 1,000",
    0.1: "times 10",
    0.01: "times 100",
}
"""Slips of a decimal point or of a unit (mg/kg for g/kg), by the words for them."""

WITHIN = 0.95
"""Share of true slips that are taken for one: divided by the factor they lie within so much noise."""

_ENDS = {
    "latest": "It is the latest of its series: a true change would look the same until the next test",
    "first": "It is the first of its series: a true change just after it would look the same",
}

AGAIN = "Ask the laboratory to run it again"


def factors(rows: pd.DataFrame) -> pd.Series:
    """Return by which factor each value is off: divided by it, the value fits its series; NaN where by none.

    Parameters
    ----------
    rows : DataFrame
        With ``value``, ``least``, ``most``, ``scale``, ``spread``, ``middle_spread`` and ``df``.

    Examples
    --------
    >>> rows = pd.DataFrame({"value": [2030.0, 500.0], "least": np.log(220.0), "most": np.log(235.0),
    ...                      "scale": "log", "spread": 0.1, "middle_spread": 0.06, "df": 20.0})
    >>> factors(rows).tolist()
    [10.0, nan]
    """
    on, value = rows["scale"].to_numpy(), rows["value"].to_numpy()
    least, most = rows["least"].to_numpy(), rows["most"].to_numpy()
    slack = stdtrit(rows["df"].to_numpy(), 0.5 + WITHIN / 2) * np.hypot(rows["spread"], rows["middle_spread"])
    off = pd.Series(np.nan, index=rows.index)
    for factor in FACTORS:
        meant = scales.forward(value / factor, on)
        far = np.abs(meant - np.clip(meant, least, most))
        off = off.where(~(far <= slack), factor)
    return off


def hints() -> dict[str, dict[Any, Any]]:
    """Return what brings a trace element into a sample, by analyte, from ``tables/contamination.csv``."""
    return {str(row["analyte"]): row for row in tables.load("contamination").to_dict("records")}


def sentence(row: dict[Any, Any]) -> str:
    """Return the sentence of one finding, which ends with what to do."""
    unit = f" {row['unit']}" if row["unit"] not in ("", "pH") else ""
    far, expected = present.number(abs(row["times"]), digits=2), present.number(row["expected"])
    told = [
        f"{row['value']:g}{unit} stands where {row['others']:.0f} other tests of the bed let one expect "
        f"about {expected}{unit} ({far} times the standard deviation of noise)"
    ]
    if row["end"]:
        told.append(_ENDS[row["end"]])
    if row.get("note"):
        told.append(f"It carries the note: {row['note']}")
    return ". ".join([*told, *_BY_KIND[row["kind"]](row)])


def _far(row: dict[Any, Any]) -> list[str]:
    hint = hints().get(row["analyte"]) if row["times"] > 0 else None
    brought = [f"{row['analyte']} may come from {hint['from']} ({hint['source']})"] if hint else []
    return [*brought, AGAIN]


def _slip(row: dict[Any, Any]) -> list[str]:
    return [
        f"It would fit the other tests {FACTORS[row['factor']]}, as when a decimal point slips or a unit is "
        "mistaken",
        AGAIN,
    ]


def _bucket(row: dict[Any, Any]) -> list[str]:
    names = ", ".join(row["high"])
    listed = [(name, hints()[name]) for name in row["high"]]
    causes = "; ".join(f"{name} from {hint['from']}" for name, hint in listed)
    hint = hints()[row["analyte"]]
    return [
        f"{names} are high together in this sample, which points to what the soil was taken with before "
        f"it points to the soil: {causes} ({hint['source']})",
        f"Sample again with {hint['instead']}, or ask the laboratory to run it again",
    ]


def _swapped(row: dict[Any, Any]) -> list[str]:
    return [
        f"The bags of {row['bed']} and {row['partner']} may have been swapped: by {row['better']} of the "
        f"{row['telling']} measures that tell the two beds apart, each fits the other bed's tests better",
        "Look at the labels of both bags, and ask the laboratory to run both again",
    ]


_BY_KIND = {FAR: _far, SLIP: _slip, BUCKET: _bucket, SWAPPED: _swapped}
