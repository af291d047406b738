"""What a heap becomes: the analysis of the compost that a mixture rots to, with its ranges."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pandas as pd

from soiltrend import present, tables
from soiltrend.blend.core import Blend
from soiltrend.errors import SoiltrendError
from soiltrend.materials import NUTRIENTS, drawn, known_materials, limits, once_rotted
from soiltrend.materials.reference import ends
from soiltrend.present import number

DRAWS = 1000
ENDS = (2.5, 97.5)
PERCENT = 100.0
CHAR = "char"
LEAST = 0.05
"""Least share of the dry matter that stays, whatever the draws say: no heap rots away to nothing."""

ANY = "*"
Three = tuple[float, float, float]


@dataclass(frozen=True, eq=False)
class Compost:
    """The compost a heap becomes.

    Attributes
    ----------
    table : DataFrame
        One row a quantity: quantity, unit, fresh (in the heap), low, likely, high (in the compost).
    analysis : DataFrame
        One row of ``materials.csv``: append it to ``garden.materials``. It keeps the cautions of what went
        into the heap that rotting does not end.
    kg, dry_kg, cn : float
        What is left of the heap [kg wet and dry], and its likely C:N.
    why : str
        What was assumed.
    """

    table: pd.DataFrame
    analysis: pd.DataFrame
    kg: float
    dry_kg: float
    cn: float
    why: str

    def __repr__(self) -> str:
        return present.plain(_title(self), self.table) + f"\n{self.why}"

    def _repr_html_(self) -> str:
        return present.page(f"{_title(self)}. {self.why}", self.table)


WHY = (
    "Reckoned from what windrows of manure lost (Eghball et al. 1997): half the carbon and a third of the "
    "nitrogen. An open heap in a wet year loses more potassium. Have one sample tested before you rely on it."
)


def _title(compost: Compost) -> str:
    name = str(compost.analysis["material"].iloc[0])
    return f"{name}: {number(compost.kg)} kg wet, {number(compost.dry_kg)} kg dry, C:N {number(compost.cn)}"


@lru_cache(maxsize=None)
def _terms() -> dict[str, Three]:
    table = tables.load("maturing", numbers=("low", "likely", "high"))
    rows = table[["what", "low", "likely", "high"]].itertuples(index=False, name=None)
    return {str(what): (float(low), float(likely), float(high)) for what, low, likely, high in rows}


def _drawn(what: str, rng: np.random.Generator) -> np.ndarray:
    low, likely, high = _terms().get(what, _terms()[ANY])
    return rng.triangular(low, likely, high, DRAWS) if low < high else np.full(DRAWS, likely)


def _left(carbon: np.ndarray | float, lost: np.ndarray | float, organic: np.ndarray | float) -> np.ndarray:
    """Return the share of the dry matter that stays when so much of its carbon [%] is lost."""
    return np.maximum(1 - np.asarray(carbon) / PERCENT * lost * organic, LEAST)


def _percents(row: pd.Series, *, seed: int) -> tuple[dict[str, Three], float]:
    """Return low, likely and high of each nutrient in the compost, and the share of dry matter left."""
    rng = np.random.default_rng(seed)
    fresh = drawn(row, draws=DRAWS, rng=rng)
    lost = {name: _drawn(name, rng) for name in NUTRIENTS}
    left = _left(fresh["C"], lost["C"], _drawn("organic", rng))
    terms = _terms()
    likely_left = float(_left(float(row["C"]), terms["C"][1], terms["organic"][1]))
    out = {}
    for name in NUTRIENTS:
        if limits(row, quantity=name) is None:
            continue
        likely = float(row[name]) * (1 - terms.get(name, terms[ANY])[1]) / likely_left
        low, high = np.percentile(fresh[name] * (1 - lost[name]) / left, ENDS)
        out[name] = (min(float(low), likely), likely, max(float(high), likely))
    return out, likely_left


def _refuse_char(blend: Blend) -> None:
    """Refuse a heap that holds charcoal, or more carbon than what rots can hold."""
    used, rows = blend.table.loc[blend.table["kg"] > 0, "material"], known_materials()
    chars = [str(name) for name in used if name in rows.index and rows.at[name, "release"] == CHAR]
    carbon = float(blend.analysis["C"].iloc[0])
    if chars or carbon * _terms()["organic"][1] > PERCENT:
        raise SoiltrendError(
            f"{', '.join(chars) or 'something'} in this heap, {carbon:.0f} % of it carbon, does not rot",
            remedy="Leave charcoal out here, and mix it into the finished compost",
        )


def matured(blend: Blend, *, name: str = "finished compost", seed: int = 1) -> Compost:
    """Reckon what a mixture becomes once it has rotted to compost.

    Carbon is breathed out and takes organic matter with it; what stays is richer in minerals.

    Parameters
    ----------
    blend : Blend
        The heap as it was built.
    name : str
        What the compost is called in ``analysis``.
    seed : int
        Of the draws that make the intervals.

    Returns
    -------
    Compost

    Raises
    ------
    SoiltrendError
        When the heap holds no carbon that could rot, or charcoal, which does not.

    Examples
    --------
    >>> from soiltrend.blend import blend
    >>> heap = blend([{"material": "cattle manure", "kg": 100}], cn=None, moisture=None)
    >>> compost = matured(heap)
    >>> round(compost.cn, 1), round(compost.dry_kg, 1)
    (11.1, 11.0)
    """
    row = blend.analysis.iloc[0]
    if not float(row["C"]) > 0:
        raise SoiltrendError(
            f"'{row['material']}' holds {row['C']:g} % carbon and cannot rot", remedy="Mix in what grew"
        )
    _refuse_char(blend)
    percents, left = _percents(row, seed=seed)
    dry = float(blend.table["dry_kg"].sum()) * left
    held = {quantity: _terms()[quantity] for quantity in ("moisture", "density")}
    table = pd.DataFrame(
        [
            (quantity, unit, float(row[quantity]), *three)
            for quantity, three, unit in (
                *((n, three, "% of dry matter") for n, three in percents.items()),
                ("moisture", held["moisture"], "%"),
                ("density", held["density"], "kg/L"),
            )
        ],
        columns=["quantity", "unit", "fresh", "low", "likely", "high"],
    )
    analysis = _analysis(blend.analysis, {**percents, **held}, name=name)
    cn = percents["C"][1] / percents["N"][1] if percents["N"][1] > 0 else np.inf
    return Compost(table, analysis, dry / (1 - held["moisture"][1] / PERCENT), dry, cn, WHY)


def _analysis(fresh: pd.DataFrame, known: dict[str, Three], *, name: str) -> pd.DataFrame:
    """Return the compost as a row of the grower's materials."""
    row = fresh.iloc[0].to_dict()
    for quantity in (*NUTRIENTS, "CCE", "moisture", "density"):
        row |= dict(zip(ends(quantity), known.get(quantity, (np.nan,) * 3), strict=True))
    row |= {"material": name, "kind": "compost", "release": "compost", "fineness": "crumbs"}
    cautions = dict.fromkeys(["phosphorus", *once_rotted(str(row["cautions"]))])
    row |= {"cautions": ";".join(cautions), "cost_per_kg": np.nan}
    row["source"] = f"{row['source']}, rotted as in tables/maturing.csv"
    return pd.DataFrame([row])
