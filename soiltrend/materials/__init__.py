"""What can be added to a bed: analyses, measures, what comes free, and what to beware of.

``known_materials`` lays the grower's figures over the reference tables; ``drawn`` and
``dry_kg`` turn a row and a bucket into seeded draws; ``released`` says how much of the total
has come free after some years; ``warnings_of`` lists a material's cautions; ``acid_extract``
and ``liquid_dose`` are for what is made in jars and poured from cans.
"""

from soiltrend.materials.acid import AcidExtract, acid_extract, extract_material
from soiltrend.materials.amounts import by_volume, drawn, dry_kg, laid, limits
from soiltrend.materials.card import MaterialCard, material_card
from soiltrend.materials.dose import LiquidDose, liquid_dose
from soiltrend.materials.known import known_materials, material
from soiltrend.materials.reference import COLUMNS, NUTRIENTS, canonical
from soiltrend.materials.release import grind, release_class, released, ripe
from soiltrend.materials.warn import once_rotted, warnings_of

__all__ = [
    "COLUMNS",
    "NUTRIENTS",
    "AcidExtract",
    "LiquidDose",
    "MaterialCard",
    "acid_extract",
    "by_volume",
    "canonical",
    "drawn",
    "dry_kg",
    "extract_material",
    "grind",
    "known_materials",
    "laid",
    "limits",
    "liquid_dose",
    "material",
    "material_card",
    "once_rotted",
    "release_class",
    "released",
    "ripe",
    "warnings_of",
]
