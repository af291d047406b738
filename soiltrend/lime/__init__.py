"""Lime: how much, by whose table, of which material, and what lowers a pH.

``lime_requirement`` puts every system that can read a bed's buffer side by side;
``lime_need`` and ``lime_rise`` are one system, over arrays; ``lime_value`` rates a lime by its
fineness; ``sulphur_to_lower`` is for the other direction.
"""

from soiltrend.lime.acidify import Acidifying, sulphur_to_lower
from soiltrend.lime.fineness import LimeValue, efficiency, fineness_systems, lime_value
from soiltrend.lime.requirement import LimeRequirement, lime_requirement
from soiltrend.lime.systems import (
    lime_need,
    lime_rise,
    lime_systems,
    residual_credit,
    system_row,
    systems_of,
    unsaturation,
)

__all__ = [
    "Acidifying",
    "LimeRequirement",
    "LimeValue",
    "efficiency",
    "fineness_systems",
    "lime_need",
    "lime_requirement",
    "lime_rise",
    "lime_systems",
    "lime_value",
    "residual_credit",
    "sulphur_to_lower",
    "system_row",
    "systems_of",
    "unsaturation",
]
