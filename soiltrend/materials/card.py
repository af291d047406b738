"""All that is known of one material, on one card: analysis, what comes free, what to beware of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import present
from soiltrend.materials.amounts import limits
from soiltrend.materials.known import known_materials, material
from soiltrend.materials.reference import QUANTITIES, ends
from soiltrend.materials.release import released
from soiltrend.materials.warn import warnings_of

WHOLE = 100.0
UNITS = {"moisture": "% as it lies", "CCE": "% of CaCO3", "density": "kg/L"}
PERCENT = "% of dry matter"
YEARS = (1, 3)
LOOSE = ("moisture", "density")
LINES = ["what", "low", "likely", "high", "unit", "in_a_kilogram", "year_1", "year_3", "why"]
PER_KILOGRAM = 10.0
"""Grams in a kilogram for one percent."""


@dataclass(frozen=True, eq=False)
class MaterialCard:
    """What is known of one material.

    Attributes
    ----------
    table : DataFrame
        what (a nutrient, moisture, CCE or density), low, likely, high, unit, in_a_kilogram [g of
        the likely value in 1 kg as it lies], year_1 and year_3 (share of the total that has come
        free by then, as a range in percent; blank where nothing comes free), why.
    cautions : DataFrame
        caution, about, text, source, evidence.
    name, origin, source, evidence : str
        Of the material.
    """

    table: pd.DataFrame
    cautions: pd.DataFrame
    name: str
    origin: str
    source: str
    evidence: str

    def __repr__(self) -> str:
        beware = "\n".join(f"- {text}" for text in self.cautions["text"])
        return present.plain(_title(self), self.table) + (f"\n{beware}" if beware else "")

    def _repr_html_(self) -> str:
        return present.page(_title(self), self.table) + present.page(
            "What to beware of", self.cautions[["about", "text", "source"]]
        )


def _title(card: MaterialCard) -> str:
    return f"{card.name} ({card.origin}; {card.evidence}): {card.source}"


def _free(shares: dict[str, tuple[float, float, float]], quantity: str) -> str:
    """Return the range of a share that has come free, in percent."""
    if quantity not in shares:
        return ""
    low, _, high = (WHOLE * share for share in shares[quantity])
    return f"{low:.0f} to {high:.0f} %" if high > low else f"{high:.0f} %"


def _why(row: pd.Series, quantity: str) -> str:
    """Return where the ends of a quantity come from."""
    given = row[ends(quantity)].notna()
    if given.all():
        return "low, likely and high as given"
    return "a stated spread around what is given" if given.any() else ""


def _lines(row: pd.Series) -> pd.DataFrame:
    """Return a line for each quantity that is known."""
    shares = [released(row, years=years) for years in YEARS]
    three = {quantity: limits(row, quantity=quantity) for quantity in QUANTITIES}
    water = three["moisture"]
    dry = 1 - water[1] / WHOLE if water else np.nan
    lines = [
        {
            "what": quantity,
            **dict(zip(("low", "likely", "high"), values, strict=True)),
            "unit": UNITS.get(quantity, PERCENT),
            "in_a_kilogram": np.nan if quantity in LOOSE else PER_KILOGRAM * values[1] * dry,
            "year_1": _free(shares[0], quantity) if any(values) else "",
            "year_3": _free(shares[1], quantity) if any(values) else "",
            "why": _why(row, quantity),
        }
        for quantity, values in three.items()
        if values is not None
    ]
    return pd.DataFrame(lines, columns=LINES)


def material_card(name: str, *, known: pd.DataFrame | None = None) -> MaterialCard:
    """Return all that is known of one material.

    Parameters
    ----------
    name : str
        Its name or an alias.
    known : DataFrame, optional
        From :func:`known_materials` with the grower's own; the reference table when not given.

    Returns
    -------
    MaterialCard

    Raises
    ------
    SoiltrendError
        When no material bears that name.

    Examples
    --------
    >>> card = material_card("land plaster")
    >>> card.table.set_index("what")[["likely", "in_a_kilogram"]].loc["Ca"].round(1).tolist()
    [21.4, 214.2]
    """
    row = material(known_materials() if known is None else known, name=name, file="")
    return MaterialCard(
        table=_lines(row),
        cautions=warnings_of(row),
        name=str(row.name),
        origin=str(row["origin"]),
        source=str(row["source"]),
        evidence=str(row["evidence"]),
    )
