"""What can be added to a bed: analyses, measures, what comes free, and what to beware of.

``known_materials`` lays the grower's figures over the reference tables; ``drawn`` and
``dry_kg`` turn a row and a bucket into seeded draws; ``released`` says how much of the total
has come free after some years; ``warnings_of`` lists a material's cautions.
"""

from soiltrend.materials.amounts import drawn, dry_kg, limits
from soiltrend.materials.known import known_materials, material
from soiltrend.materials.reference import COLUMNS, NUTRIENTS
from soiltrend.materials.release import grind, release_class, released
from soiltrend.materials.warn import warnings_of

__all__ = [
    "COLUMNS",
    "NUTRIENTS",
    "drawn",
    "dry_kg",
    "grind",
    "known_materials",
    "limits",
    "material",
    "release_class",
    "released",
    "warnings_of",
]
