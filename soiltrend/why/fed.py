"""The carbon that went on a bed between two tests: compost, mulch, and residues that stayed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import tables, vocabulary
from soiltrend.frames import YEAR
from soiltrend.garden import Garden
from soiltrend.why.given import DRAWS, interval
from soiltrend.why.log import GRAMS, Log, grams

COLUMNS = ["bed", "material", "unit", "added", "low", "high"]
RESIDUES = "crop residues that stayed"
KEPT = "kept"
THREE = ("low", "likely", "high")
MINERAL = ("soluble salt", "gypsum", "sulphur", "carbonate", "caustic lime", "ash", "rock dust",
           "rock phosphate")
"""Classes of tables/release.csv that bring no organic carbon."""


@dataclass(frozen=True, eq=False)
class Fed:
    """Carbon that went on one bed.

    Attributes
    ----------
    by_material : dict
        Draws [kg C/m2].
    aside : list
        (bed, what, why) of what could not be counted.
    """

    by_material: dict[str, np.ndarray]
    aside: list[tuple[str, str, str]]

    @property
    def total(self) -> np.ndarray:
        """Draws of the sum [kg C/m2]."""
        return np.asarray(sum(self.by_material.values(), start=np.zeros(DRAWS)))

    @property
    def stayed(self) -> float:
        """What crop residues are of the sum, as likely [kg C/m2]."""
        return float(np.median(self.by_material.get(RESIDUES, np.zeros(1))))

    def rows(self, bed: str, confidence: float) -> list[dict[str, Any]]:
        """Return one row per material."""
        out = []
        for name, drawn in self.by_material.items():
            low, high = interval(drawn, confidence)
            out.append({"bed": bed, "material": name, "unit": "kg C/m2", "added": float(np.median(drawn)),
                        "low": low, "high": high})
        return out

    def yearly(self, start: pd.Timestamp, end: pd.Timestamp) -> np.ndarray:
        """Return draws of the carbon added in a mean year [kg C/m2]."""
        return self.total / max((end - start).days / YEAR, 1 / YEAR)


def fed(garden: Garden, log: Log, bed: str, days: tuple[pd.Timestamp, pd.Timestamp],
        rng: np.random.Generator) -> Fed:
    """Return the carbon that went on one bed from the first test to the second.

    A dressing on the day of a test counts as after it. What roots and weeds left is not counted.
    """
    out: dict[str, np.ndarray] = {}
    aside: list[tuple[str, str, str]] = [(bed, "roots, weeds and sown covers", "nobody weighed them")]
    for _, line in _between(log.of(bed), days).iterrows():
        name = str(line["material"])
        brought = grams(line, log.rows[name], ("C",), rng)
        if "C" in brought:
            out[name] = out.get(name, np.zeros(DRAWS)) + brought["C"] / GRAMS
        elif str(log.rows[name]["release"]) not in MINERAL:
            aside.append((bed, name, "its carbon is not known"))
    for _, line in _between(log.unknown[log.unknown["bed"] == bed], days).iterrows():
        aside.append((bed, str(line["material"]), str(line["reason"])))
    stayed, strange = _stayed(garden, bed, days, rng)
    if stayed.any():
        out[RESIDUES] = stayed
    aside += [(bed, f"residues of {crop}", "how much haulm it leaves is not in the table")
              for crop in strange]
    return Fed({name: drawn for name, drawn in out.items() if drawn.any()}, list(dict.fromkeys(aside)))


def _between(lines: pd.DataFrame, days: tuple[pd.Timestamp, pd.Timestamp]) -> pd.DataFrame:
    """Return the lines dated from the first day to before the second."""
    return lines[(lines["date"] >= days[0]) & (lines["date"] < days[1])]


def _stayed(garden: Garden, bed: str, days: tuple[pd.Timestamp, pd.Timestamp],
            rng: np.random.Generator) -> tuple[np.ndarray, list[str]]:
    """Return the carbon of haulm and leaves that stayed [kg C/m2], and crops whose haulm is not known."""
    lines = _between(garden.harvests[garden.harvests["bed"] == bed], days)
    lines = lines[lines["residue"] == KEPT]
    haulm = {row["crop"]: row for row in tables.load("haulm", numbers=THREE).to_dict("records")}
    removal = tables.load("removal", numbers=("water",))
    water = dict(zip(removal["crop"], removal["water"], strict=True))
    area = float(garden.beds.set_index("bed")["area_m2"][bed])
    low, likely, high = carbon_of("carbon of crop residues")
    content = rng.triangular(low, likely, high, DRAWS) / 100
    total, strange = np.zeros(DRAWS), []
    for crop, kg in lines[["crop", "kg"]].itertuples(index=False):
        name = vocabulary.crop(str(crop))
        if name not in haulm:
            strange.append(str(crop))
            continue
        row = haulm[name]
        beside = rng.triangular(row["low"], row["likely"], row["high"], DRAWS)
        dry = 1 - water[row["haulm"]] / 100
        total += float(kg) * beside * dry * content / area
    return total, list(dict.fromkeys(strange))


def carbon_of(quantity: str) -> tuple[float, float, float]:
    """Return low, likely and high of a quantity of tables/carbon.csv.

    Examples
    --------
    >>> carbon_of("carbon kept of what was added")
    (8.0, 12.0, 16.0)
    """
    table = tables.load("carbon", numbers=THREE).set_index("quantity")
    low, likely, high = (float(table[end][quantity]) for end in THREE)
    return low, likely, high
