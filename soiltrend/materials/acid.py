"""Shells and bones in vinegar, by stoichiometry: what the acid can hold at most, and what is left.

A carbonate takes two parts of acid for each calcium and gives off carbon dioxide; the apatite
of bone takes seven for five calcium and three phosphate. Whatever is put in beyond that stays
at the bottom of the jar.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import present, tables, units
from soiltrend.errors import SoiltrendError
from soiltrend.materials.reference import COLUMNS, atoms, key

ELEMENTS = ("Ca", "P")
WHOLE = 100.0
SHARES = ("share_low", "share", "share_high")
PHOSPHATE = "PO4H2"


@dataclass(frozen=True, eq=False)
class AcidExtract:
    """What a jar of acid draws out of shells or bones.

    Attributes
    ----------
    table : DataFrame
        nutrient, grams (likely, in the whole jar) with low and high, g_per_L, most_per_L (the
        most that this acid can hold), unit, why.
    solid, acid : str
        What was put into what.
    grams, litres, strength : float
        Solid put in [g], acid [L] and its strength [g in 100 mL].
    holds : float
        Grams of the solid, with what does not dissolve in it, that use the acid up.
    dissolved, left : float
        Grams of mineral gone into solution, and of solid left at the bottom, likely.
    acid_left : float
        Share of the acid that found nothing to dissolve.
    """

    table: pd.DataFrame
    solid: str
    acid: str
    grams: float
    litres: float
    strength: float
    holds: float
    dissolved: float
    left: float
    acid_left: float

    def __repr__(self) -> str:
        return present.plain(_title(self), self.table)

    def _repr_html_(self) -> str:
        return present.page(_title(self), self.table)


def _title(made: AcidExtract) -> str:
    """Return what was made and what stays at the bottom, in one line."""
    return (
        f"{made.grams:g} g of {made.solid} in {made.litres:g} L of {made.strength:g} % {made.acid}: "
        f"it can use up {made.holds:.3g} g of it at most; {made.dissolved:.3g} g of mineral dissolve and "
        f"{made.left:.3g} g stay at the bottom"
    )


def _found(name: str, *, table: str, column: str) -> pd.Series:
    """Return the row of a solid or an acid by its name; an unknown one is refused."""
    numbers = SHARES if table == "solids" else ("density",)
    rows = tables.load(table, numbers=("protons", *numbers))
    for row in rows.index:
        aliases = str(rows["aliases"].loc[row]).split(";") if "aliases" in rows else []
        if key(name) in {key(text) for text in (str(rows[column].loc[row]), *aliases)}:
            return rows.loc[[row]].iloc[0]
    known = ", ".join(rows[column])
    raise SoiltrendError(f"'{name}' is no {column} known here", remedy=f"Use one of: {known}")


def _check(amounts: dict[str, float]) -> None:
    """Refuse an amount that is none."""
    for name, value in amounts.items():
        if not (np.isfinite(value) and value > 0):
            raise SoiltrendError(
                f"{name} = {value:g} is not a positive number",
                remedy="Grams of solid, litres of acid, and grams of acid in 100 mL, as on the bottle",
            )


STRONGEST = 100.0
"""Grams of acid in 100 mL that none exceeds by more than its density."""


def acid_extract(
    solid: str, *, grams: float, litres: float, strength: float = 5.0, acid: str = "acetic acid"
) -> AcidExtract:
    """Return how much calcium, and from bones phosphorus, an acid draws out of shells or bones.

    Parameters
    ----------
    solid : str
        "eggshell", "oyster shell", "mussel shell", "limestone", "bones" or "burnt bones".
    grams : float
        Dry solid put in [g].
    litres : float
        Acid poured over it [L].
    strength : float
        Grams of acid in 100 mL, as vinegar is sold: 5 for a household vinegar.
    acid : str
        "acetic acid" (vinegar) or "lactic acid" (sour whey, about 1 %).

    Returns
    -------
    AcidExtract

    Raises
    ------
    SoiltrendError
        When the solid or the acid is not known, an amount is not positive, or the strength above 100.

    Notes
    -----
    Molar masses: tables/elements.csv; what the solids hold: tables/solids.csv. It is what the
    acid can hold when the jar has stood until it works no more; less when it has not.

    Examples
    --------
    >>> made = acid_extract("eggshell", grams=100, litres=1)
    >>> round(made.holds, 1), made.table["g_per_L"].round(1).tolist()
    (44.3, [16.7])
    """
    _check({"grams": grams, "litres": litres, "strength": strength})
    if strength > STRONGEST:
        raise SoiltrendError(
            f"strength = {strength:g} is more acid than liquid",
            remedy="Give grams of acid in 100 mL: 5 for a household vinegar",
        )
    mineral = _found(solid, table="solids", column="solid")
    sour = _found(acid, table="acids", column="acid")
    moles = 10 * strength * litres / units.molar_mass(str(sour["formula"])) * float(sour["protons"])
    most = moles / float(mineral["protons"])
    mass = units.molar_mass(str(mineral["formula"]))
    there = grams * mineral[list(SHARES)].to_numpy(float) / WHOLE / mass
    gone = np.minimum(there, most)
    return AcidExtract(
        table=_drawn_out(str(mineral["formula"]), gone, most, litres, strength),
        solid=str(mineral["solid"]),
        acid=str(sour["acid"]),
        grams=float(grams),
        litres=float(litres),
        strength=float(strength),
        holds=most * mass / float(mineral["share"]) * WHOLE,
        dissolved=float(gone[1] * mass),
        left=float(grams - gone[1] * mass),
        acid_left=float(1 - gone[1] / most),
    )


def _drawn_out(formula: str, gone: np.ndarray, most: float, litres: float, strength: float) -> pd.DataFrame:
    """Return a row for each element that the moles of mineral bring into solution."""
    rows = []
    full = gone[1] >= most
    why = "the acid is used up: more solid changes nothing" if full else "all of the mineral is dissolved"
    for element in (name for name in ELEMENTS if atoms(formula, name)):
        grams = atoms(formula, element) * units.molar_mass(element)
        low, likely, high = gone * grams
        rows.append(
            {
                "nutrient": element,
                "grams": likely,
                "low": low,
                "high": high,
                "g_per_L": likely / litres,
                "most_per_L": most * grams / litres,
                "unit": "g",
                "why": f"{why}; {strength:g} % of acid cannot hold more",
            }
        )
    return pd.DataFrame(rows)


def extract_material(made: AcidExtract, *, name: str) -> pd.DataFrame:
    """Return an acid extract as a material, one row in the columns of :func:`known_materials`.

    Parameters
    ----------
    made : AcidExtract
        From :func:`acid_extract`.
    name : str
        What the grower calls it.

    Returns
    -------
    DataFrame
        One row with a column ``material``, to be laid beside the grower's own materials. The
        dry matter is the dissolved salt; acid that is left over evaporates and is not counted.

    Examples
    --------
    >>> made = acid_extract("eggshell", grams=100, litres=1)
    >>> extract_material(made, name="shell vinegar")[["Ca", "moisture"]].round(1).values.tolist()
    [[25.3, 93.6]]
    """
    salt, wet, percent = _dissolved_salt(made)
    row = {quantity: WHOLE * value / salt for quantity, value in percent.items()}
    row |= {"moisture": WHOLE * (1 - salt / wet), "density": wet / 1000 / made.litres}
    words = {"kind": "acid extract", "fineness": "liquid", "release": "acid extract"}
    words |= {"cautions": "acid;guess", "measured": "no", "evidence": "own", "origin": "own"}
    words |= {"aliases": "", "formula": "", "source": f"by stoichiometry: {_title(made)}"}
    return pd.DataFrame([{"material": name, **dict.fromkeys(COLUMNS, np.nan), **row, **words}])


def _dissolved_salt(made: AcidExtract) -> tuple[float, float, dict[str, float]]:
    """Return grams of dissolved salt, of the whole liquid, and of the salt's elements."""
    mineral = _found(made.solid, table="solids", column="solid")
    sour = _found(made.acid, table="acids", column="acid")
    formula, anion = str(mineral["formula"]), str(sour["anion"])
    moles = made.dissolved / units.molar_mass(formula)
    anions = moles * float(mineral["protons"]) / float(sour["protons"])
    calcium = moles * atoms(formula, "Ca") * units.molar_mass("Ca")
    phosphorus = moles * atoms(formula, "P")
    salt = calcium + phosphorus * units.molar_mass(PHOSPHATE) + anions * units.molar_mass(anion)
    escaped = moles * units.molar_mass(str(mineral["gas"])) if mineral["gas"] else 0.0
    wet = made.litres * 1000 * float(sour["density"]) + made.dissolved - escaped
    carbon = anions * atoms(anion, "C") * units.molar_mass("C")
    return salt, wet, {"Ca": calcium, "P": phosphorus * units.molar_mass("P"), "C": carbon, "N": 0.0}
