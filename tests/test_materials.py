"""Materials: analyses by formula, the grower's figures over the table, buckets, and what comes free."""

import numpy as np
import pint
import pytest
from molmass import Formula

from soiltrend import tables
from soiltrend.materials import (
    NUTRIENTS,
    known_materials,
)
from soiltrend.materials.reference import parts

KNOWN = known_materials()
TABLE = tables.load("materials", numbers=("purity", "neutralises"))
PURE = TABLE[TABLE["formula"] != ""].set_index("material")
UREG = pint.UnitRegistry()


def rng():
    return np.random.default_rng(7)


def mass(formula):
    """Return the molar mass of a formula by an independent library [g/mol]."""
    return sum(count * Formula(part).mass for count, part in parts(formula))


@pytest.mark.parametrize("name", PURE.index)
def test_salts_follow_their_formulas(name):
    """Analyses of pure substances agree with the molar masses of molmass."""
    row, found = PURE.loc[name], KNOWN.loc[name.casefold()]
    purity = row["purity"]
    for element in NUTRIENTS:
        if TABLE.set_index("material").at[name, element]:
            continue
        inside = sum(
            count * Formula(part).composition()[element].mass
            for count, part in parts(row["formula"])
            if element in Formula(part).composition()
        )
        assert found[element] == pytest.approx(purity * inside / mass(row["formula"]), rel=2e-4)
    chalk = row["neutralises"] / 2 * Formula("CaCO3").mass / mass(row["formula"])
    assert found["CCE"] == pytest.approx(purity * chalk, rel=2e-4)


PRINTED = [
    ("gypsum", "Ca", 23.28),
    ("gypsum", "S", 18.62),
    ("epsom salt", "Mg", 9.86),
    ("kieserite", "Mg", 17.56),
    ("sulphate of potash", "K", 44.88),
    ("potassium magnesium sulphate", "Mg", 11.71),
    ("borax", "B", 11.34),
    ("zinc sulphate", "Zn", 22.74),
    ("copper sulphate", "Cu", 25.45),
    ("manganese sulphate", "Mn", 32.5),
]


@pytest.mark.parametrize(("name", "element", "percent"), PRINTED)
def test_pure_salts_as_handbooks_print_them(name, element, percent):
    """At 100 % purity: the percentages that fertiliser handbooks print (NCDA&CS Circular 1 for Mg)."""
    purity = PURE.rename(index=str.casefold).at[name, "purity"]
    assert KNOWN.at[name, element] * 100 / purity == pytest.approx(percent, abs=0.06)
