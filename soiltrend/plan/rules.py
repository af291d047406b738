"""How a plan is asked for: how sure, from what, for which crops."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date

import pandas as pd

from soiltrend.errors import SoiltrendError

STOCKS = ("own", "any")
LEAST_SCENARIOS = 50


@dataclass(frozen=True)
class PlanRules:
    """The settings of a plan.

    Attributes
    ----------
    probability : float
        How surely each ceiling must hold, between 0.5 and 0.99.
    scenarios : int
        How many draws of soil and materials, at least 50.
    seed : int
        Of the draws: the same seed gives the same plan.
    stock : str
        "own": from materials.csv, or from the reference table when that is empty; "any": from both.
    crops : mapping
        Crop of next year by bed, for aims of pH that depend on it: ``{"Ferry": "garlic"}``; over the
        ``crop`` of garden.toml.
    sowing : mapping
        Day of sowing or planting by bed, which caustic materials keep away from until the harvest, or for
        half a year where none is told; over the ``sowing`` of garden.toml.
    harvest : mapping
        First day of picking by bed, before which raw manure has to wait; over the ``harvest`` of garden.toml.

    Examples
    --------
    >>> PlanRules(probability=1.2)
    Traceback (most recent call last):
    ...
    soiltrend.errors.SoiltrendError: probability = 1.2 does not lie between 0.5 and 0.99. Give 0.9.
    """

    probability: float = 0.9
    scenarios: int = 200
    seed: int = 1
    stock: str = "own"
    crops: Mapping[str, str] = field(default_factory=dict)
    sowing: Mapping[str, date] = field(default_factory=dict)
    harvest: Mapping[str, date] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse settings that cannot be."""
        if not 0.5 <= self.probability <= 0.99:
            raise SoiltrendError(
                f"probability = {self.probability!r} does not lie between 0.5 and 0.99", remedy="Give 0.9"
            )
        if not isinstance(self.scenarios, int) or self.scenarios < LEAST_SCENARIOS:
            raise SoiltrendError(
                f"scenarios = {self.scenarios!r} are too few or no whole number",
                remedy=f"Give {LEAST_SCENARIOS} or more",
            )
        if not isinstance(self.seed, int) or self.seed < 0:
            raise SoiltrendError(f"seed = {self.seed!r} is no seed", remedy="Give a whole number, 0 or more")
        if self.stock not in STOCKS:
            raise SoiltrendError(f"stock = {self.stock!r} is not known", remedy="Give 'own' or 'any'")


def with_beds(rules: PlanRules, beds: pd.DataFrame) -> PlanRules:
    """Return the rules with what garden.toml tells of next year's crops; what the rules say wins.

    Parameters
    ----------
    rules : PlanRules
        As asked for.
    beds : DataFrame
        The garden's beds, with ``crop``, ``sowing`` and ``harvest``.
    """
    crops = {row["bed"]: row["crop"] for row in beds.to_dict("records") if row["crop"]}
    return replace(
        rules,
        crops=crops | dict(rules.crops),
        sowing=_days(beds, "sowing") | dict(rules.sowing),
        harvest=_days(beds, "harvest") | dict(rules.harvest),
    )


def _days(beds: pd.DataFrame, name: str) -> dict[str, date]:
    """Return the day of each bed for which one is told."""
    told = beds.dropna(subset=[name])
    return {bed: day.date() for bed, day in zip(told["bed"], told[name], strict=True)}
