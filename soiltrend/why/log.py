"""The garden's log of what went on, with each material's row looked up once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend.errors import SoiltrendError
from soiltrend.garden import Garden
from soiltrend.materials import drawn, dry_kg, known_materials, material
from soiltrend.why.given import DRAWS

GRAMS = 1000.0


@dataclass(frozen=True, eq=False)
class Log:
    """What went on, and of what it is made.

    Attributes
    ----------
    lines : DataFrame
        The applications whose material is known, under its one name however the log spells it, with
        ``area_m2`` of their bed.
    rows : dict
        Name of a material to its row of :func:`soiltrend.materials.known_materials`.
    unknown : DataFrame
        The other applications, with ``reason``.
    """

    lines: pd.DataFrame
    rows: dict[str, pd.Series]
    unknown: pd.DataFrame

    def of(self, bed: str) -> pd.DataFrame:
        """Return the lines of one bed."""
        return self.lines[self.lines["bed"] == bed]

    def missing(self, bed: str) -> str:
        """Return in words what went on a bed of which nothing is known, or empty."""
        names = self.unknown.loc[self.unknown["bed"] == bed, "material"].unique()
        return f"; not looked at, because no analysis is known: {', '.join(names)}" if len(names) else ""


def read_log(garden: Garden) -> Log:
    """Return the garden's log."""
    known = known_materials(garden.materials, cups=garden.settings.get("cups"))
    found: dict[str, pd.Series] = {}
    unknown: dict[str, str] = {}
    for text in garden.applications["material"].unique():
        try:
            found[text] = material(known, name=text)
        except SoiltrendError as error:
            unknown[text] = str(error)
    area = garden.applications["bed"].map(garden.beds.set_index("bed")["area_m2"])
    lines = garden.applications.assign(area_m2=area)
    known_here = lines["material"].isin(found)
    named, strange = lines[known_here], lines[~known_here]
    names = named["material"].map({text: str(row.name) for text, row in found.items()})
    rows = {str(row.name): row for row in found.values()}
    return Log(named.assign(material=names), rows, strange.assign(reason=strange["material"].map(unknown)))


def grams(line: pd.Series, row: pd.Series, nutrients: tuple[str, ...],
          rng: np.random.Generator) -> dict[str, np.ndarray]:
    """Return draws of what one dressing brought of some nutrients [g/m2]; what is not known is left out.

    Raises
    ------
    SoiltrendError
        When its unit, density or moisture is not known.
    """
    area = float(line["area_m2"])
    dry = dry_kg(float(line["amount"]), str(line["unit"]), row, area_m2=area, draws=DRAWS, rng=rng)
    analysis = drawn(row, draws=DRAWS, rng=rng)
    return {name: dry * analysis[name] / 100 * GRAMS / area for name in nutrients if name in analysis}
