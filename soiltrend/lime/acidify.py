"""Sulphur to lower a pH: published doses that disagree, and when not to try."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import present, tables, units
from soiltrend.errors import SoiltrendError

PROTONS = {"S": 2.0, "CaCO3": 2.0}
"""Moles of acid that one mole makes or takes up."""


@dataclass(frozen=True, eq=False)
class Acidifying:
    """How much sulphur would lower a pH, by each source.

    Attributes
    ----------
    table : DataFrame
        source_name, texture, g_per_m2 [g/m2 of sulphur], lime_undone [g/m2 of CaCO3 that so much
        acid dissolves], unit, why, source, evidence; missing where a source does not reach.
    pH, target, depth_cm : float
        What was asked.
    caution : str
        What to know before it is tried.
    """

    table: pd.DataFrame
    pH: float
    target: float
    depth_cm: float
    caution: str

    def __repr__(self) -> str:
        return present.plain(self._title(), self.table.drop(columns=["source"]))

    def _repr_html_(self) -> str:
        return present.page(self._title(), self.table)

    def _title(self) -> str:
        return (
            f"Sulphur from pH {self.pH:g} to {self.target:g} in {self.depth_cm:g} cm of soil. {self.caution}"
        )


def sulphur_to_lower(
    pH: float, *, target: float, texture: str, depth_cm: float = 15.0, fizzes: bool = False
) -> Acidifying:
    """Return how much elemental sulphur would lower a soil's pH, by each source.

    Parameters
    ----------
    pH, target : float
        Now and wanted, in water.
    texture : str
        "sand", "loam" or "clay".
    depth_cm : float
        The layer [cm]; in proportion to the sources' 15 cm.
    fizzes : bool
        Whether the soil fizzes with vinegar: then it holds free lime, and no dose is given.

    Returns
    -------
    Acidifying

    Raises
    ------
    SoiltrendError
        When the soil fizzes, the target is not below the pH, or the texture is not known.

    Examples
    --------
    >>> sulphur_to_lower(7.2, target=6.2, texture="clay").table["g_per_m2"].tolist()
    [270.0, 97.6]
    """
    table = tables.load("acidify", numbers=("g_per_m2", "depth_cm", "pH_low", "pH_high", "drop"))
    if fizzes:
        raise SoiltrendError(
            f"a soil of pH {pH:g} that fizzes with vinegar holds free lime that no dose of sulphur uses up",
            remedy="Choose crops that like lime, or grow the others in tubs of sour compost",
        )
    if not target < pH:
        raise SoiltrendError(f"a target of {target:g} is not below pH {pH:g}")
    if not depth_cm > 0:
        raise SoiltrendError(f"depth_cm = {depth_cm} is no depth", remedy="Give the layer in cm, above 0")
    if texture not in set(table["texture"]):
        raise SoiltrendError(
            f"'{texture}' is no texture here",
            remedy=f"Use one of: {', '.join(dict.fromkeys(table['texture']))}",
        )
    rows = table[table["texture"] == texture].reset_index(drop=True)
    inside = (rows["pH_low"] <= pH) & (pH <= rows["pH_high"]) & (pH - target <= rows["drop"] + 1e-9)
    dose = (rows["g_per_m2"] * (pH - target) / rows["drop"] * depth_cm / rows["depth_cm"]).where(inside)
    ratio = PROTONS["S"] / PROTONS["CaCO3"] * units.molar_mass("CaCO3") / units.molar_mass("S")
    from_to = "it speaks of pH " + rows["pH_low"].astype("str") + " to " + rows["pH_high"].astype("str")
    steps = "it speaks of " + rows["drop"].map("{:g}".format) + f" of pH at a time, not of {pH - target:.3g}"
    begins = (rows["pH_low"] <= pH) & (pH <= rows["pH_high"])
    reach = steps.where(begins, from_to)
    out = pd.DataFrame(
        {
            "source_name": rows["system"],
            "texture": texture,
            "g_per_m2": dose,
            "lime_undone": dose * ratio,
            "unit": "g/m2",
            "why": np.where(inside, rows["words"], "not given by this source (" + reach + ")"),
            "source": rows["source"],
            "evidence": rows["evidence"],
        }
    )
    cautions = tables.load("cautions").set_index("caution")["text"]
    return Acidifying(out, float(pH), float(target), float(depth_cm), str(cautions.loc["acid"]))
