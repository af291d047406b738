"""Figures that contradict the report they stand in: questioned, kept, and not used until answered.

A laboratory that prints an exchange capacity and the share of each cation in it has printed the
amount of each cation twice. Where the two disagree by more than rounding and other divisors can
explain, one of them is a slip, and no change should be read from it.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from soiltrend import frames, units
from soiltrend.exchange.sums import ACIDITY, BASES, OWN
from soiltrend.present import number

FACTOR = 1.5
"""How far printed amount and printed share may lie apart. Rounded divisors differ by 1 to 2 % (Crop
File 1.04.132: Mg 120 against 121.5), two extractants by a quarter (Ohio State ANR-75); half as much
again is neither. Judgement, common practice."""

SLACK = 0.03
"""Least disagreement that counts, as a share of the exchange capacity: shares are printed to a tenth
or a whole per cent. Judgement, common practice."""


def _printed(results: pd.DataFrame, analyte: str, key: np.ndarray) -> np.ndarray:
    """Return the laboratory's own value of an analyte for each composite.

    NaN where it has none or two, or one beyond its limit, which contradicts nothing.
    """
    own = ((results["analyte"] == analyte) & (results["source"] != frames.COMPUTED)).to_numpy()
    read = results["value"].where(results["qualifier"] == "").to_numpy()
    size = int(key.max()) + 1 if len(key) else 0
    count = np.bincount(key[own], minlength=size)
    total = np.bincount(key[own], weights=read[own], minlength=size)
    return np.where(count == 1, total / np.maximum(count, 1), np.nan)


def _slips(results: pd.DataFrame, key: np.ndarray) -> pd.Series:
    """Return, for each row of a base cation, what contradicts it, or empty."""
    capacity = _printed(results, "CEC", key)
    why = pd.Series("", index=results.index, dtype="object")
    for ion in BASES:
        rows = ((results["analyte"] == ion) & (results["qualifier"] == "")).to_numpy()
        share = _printed(results, f"{ion} saturation", key)[key[rows]]
        whole = capacity[key[rows]]
        amount = results["value"].to_numpy()[rows]
        charge = amount / (units.MG_PER_CMOL * units.equivalent_weight(ion))
        meant = share * whole / 100.0
        with np.errstate(divide="ignore", invalid="ignore"):
            far = np.abs(np.log(charge / meant)) > np.log(FACTOR)
        wrong = far & (np.abs(charge - meant) > SLACK * whole)
        told = [
            f"{frames.QUESTIONED} {a:g} mg/kg of {ion} is {number(c)} cmol/kg, but the report's own {s:g} % "
            f"of its exchange capacity of {w:g} is {number(m)}; ask the laboratory to look at it again"
            for a, c, s, w, m in zip(amount, charge, share, whole, meant, strict=True)
        ]
        why[rows] = np.where(wrong, told, "")
    return why


def questioned(results: pd.DataFrame) -> pd.DataFrame:
    """Return the frame with a note on every cation that its own report contradicts.

    The value stays as printed. Its note begins with ``frames.QUESTIONED``, and so do the notes of
    the rows computed from it; a comparison does not use such rows and gives the reason.

    Parameters
    ----------
    results : DataFrame
        A tidy frame, with its derived rows or without.

    Examples
    --------
    >>> same = {"bed": "East", "sample": "7", "source": "spring.csv"}
    >>> rows = frames.results([{**same, "analyte": "Mg", "value": 1960.0, "unit": "mg/kg"},
    ...                        {**same, "analyte": "CEC", "value": 9.6, "unit": "cmol/kg"},
    ...                        {**same, "analyte": "Mg saturation", "value": 16.8, "unit": "%"}])
    >>> questioned(rows)["note"].str.slice(0, 47).tolist()
    ['questioned: 1960 mg/kg of Mg is 16.1 cmol/kg, b', '', '']
    """
    frames.check(results)
    columns = list(frames.COMPOSITE)
    key = results.groupby(columns, dropna=False, sort=False).ngroup().to_numpy()
    asked = results["note"].str.startswith(frames.QUESTIONED)
    why = _slips(results, key).where(~asked, results["note"])
    for ion in BASES:
        slip = ((results["analyte"] == ion) & (why != "")).to_numpy()
        told = dict(zip(key[slip], why[slip], strict=True))
        uses = ((results["source"] == frames.COMPUTED) & _uses(results["analyte"], ion)).to_numpy()
        from_slip = uses & np.isin(key, list(told))
        why[from_slip] = [told[k] for k in key[from_slip]]
    joined = why + np.where((results["note"] != "") & (why != ""), "; ", "") + results["note"]
    return results.assign(note=joined.where(~asked, results["note"]).astype("str"))


def _uses(analyte: pd.Series, ion: str) -> pd.Series:
    """Return which derived analytes hold a cation: all sums and shares, and the ratios that name it."""
    sums = [name for name in OWN if name != ACIDITY]
    return analyte.isin(sums) | analyte.str.contains(rf"\b{ion}\b")
