"""What a heap becomes: losses as they were measured, minerals kept, and a material for the plan."""

import numpy as np
import pandas as pd
import pytest

from soiltrend.blend import blend, layer, matured
from soiltrend.errors import SoiltrendError
from soiltrend.materials import known_materials, released, warnings_of

HEAP = {"kg": 100, "moisture": 60, "density": 0.4}


def share(heap, compost, nutrient):
    """Return what is left of a nutrient of a heap, of its whole amount."""
    before = heap.table["dry_kg"].sum() * heap.analysis[nutrient].iloc[0]
    return compost.dry_kg * compost.analysis[nutrient].iloc[0] / before


@pytest.mark.parametrize(
    ("nutrient", "low", "high"),
    [
        ("C", 0.46, 0.62),
        ("N", 0.19, 0.42),
        ("P", 0.0, 0.02),
        ("Ca", 0.0, 0.06),
        ("Mg", 0.0, 0.06),
        ("K", 0.0, 0.12),
    ],
)
def test_losses_are_those_measured(nutrient, low, high):
    """Of feedlot manure in windrows (Eghball et al. 1997, J. Environ. Qual. 26:189, abstract)."""
    heap = blend(["grass clippings", "wheat straw", "rotted manure"])
    assert low <= 1 - share(heap, matured(heap), nutrient) <= high


@pytest.mark.parametrize("carbon", [15, 16, 18])
def test_mass_goes_with_carbon(carbon):
    """They lost 15 to 20 % of the mass; open-lot manure of 15 to 18 % C is mostly earth (from memory)."""
    heap = blend([{"material": "lot manure", "C": carbon, "N": carbon / 12, **HEAP}], cn=None, moisture=None)
    assert 0.15 <= 1 - matured(heap).dry_kg / heap.table["dry_kg"].sum() <= 0.2


def test_the_ratio_of_nitrogen_to_phosphorus_falls():
    """As they found, so that compost given for its nitrogen brings more phosphorus than manure does."""
    heap = blend(["cattle manure"], cn=None, moisture=60)
    row = matured(heap).analysis.iloc[0]
    fresh = heap.analysis.iloc[0]
    assert row["N"] / row["P"] < fresh["N"] / fresh["P"]


def test_a_heap_of_thirty_comes_out_near_twenty():
    """C:N 30 less 46 to 62 % of the carbon and 19 to 42 % of the nitrogen lies between 14 and 28."""
    compost = matured(blend(["grass clippings", "wheat straw", "rotted manure"]))
    assert compost.cn == pytest.approx(30 * (1 - 0.54) / (1 - 0.30))
    assert 14 <= compost.cn <= 28


def test_ranges_are_in_order_and_wide():
    """low, likely, high of every quantity."""
    table = matured(blend(["grass clippings", "tree leaves"], cn=30, moisture=None)).table
    assert (table["low"] < table["likely"]).all()
    assert (table["likely"] < table["high"]).all()


def test_what_was_not_known_stays_unknown():
    """No nutrient is made up."""
    heap = blend([{"material": "mine", "C": 40, "N": 2, **HEAP}], cn=None, moisture=None)
    row = matured(heap).analysis.iloc[0]
    assert np.isnan(row["P"])
    assert row["N"] > 2


def test_the_compost_is_a_material():
    """Appended to her materials it comes free as compost does, and can be spread."""
    compost = matured(blend(["grass clippings", "wheat straw"], cn=30, moisture=None), name="bay two")
    own = pd.concat(
        [pd.DataFrame({"material": ["gypsum"], "Ca": [21.4]}), compost.analysis], ignore_index=True
    )
    row = known_materials(own).loc["bay two"]
    assert released(row, years=1)["N"] == (0.0, 0.12, 0.25)
    spread = layer("bay two", area_m2=10, kg=compost.kg, own=own)
    assert spread.dry_kg == pytest.approx(compost.dry_kg)
    assert repr(compost).startswith("bay two: ")
    assert "Eghball" in compost._repr_html_()


def test_what_holds_no_carbon_cannot_rot():
    """Gypsum does not become compost."""
    with pytest.raises(SoiltrendError, match="'blend' holds 0 % carbon and cannot rot"):
        matured(blend([{"material": "gypsum", "kg": 10}], cn=None, moisture=None))


DUST = {"material": "my black dust", "kg": 10, "C": 75, "N": 0.6, "moisture": 10}


@pytest.mark.parametrize("part", [{"material": "charcoal", "kg": 1}, DUST])
def test_charcoal_does_not_rot(part):
    """By its name, or by more carbon than what rots can hold."""
    heap = blend([part, {"material": "cattle manure", "kg": 20}], cn=None, moisture=None)
    with pytest.raises(SoiltrendError, match=r"% of it carbon, does not rot. Leave charcoal out here"):
        matured(heap)


LASTING = ["residues of sprays", "lead", "treated wood", "metals", "cadmium", "copper"]


@pytest.mark.parametrize("caution", LASTING)
def test_rotting_ends_no_caution_of_metals_and_sprays(caution):
    """Persistent weed killers survive composting (US Composting Council fact sheets, from memory)."""
    known = known_materials()
    bearing = [name for name in known.index if caution in known.at[name, "cautions"].split(";")]
    bearing = [name for name in bearing if known.at[name, "release"] != "char"]
    assert bearing
    for name in bearing:
        parts = [{"material": name, "kg": 1}, {"material": "cattle manure", "kg": 80}]
        compost = matured(blend(parts, cn=None, moisture=None))
        own = known_materials(compost.analysis).loc["finished compost"]
        assert caution in warnings_of(own)["caution"].tolist()


def test_rotting_ends_what_is_raw_and_quick():
    """Its nitrogen neither burns nor is tied up; of raw manure the care with what is eaten raw is left."""
    compost = matured(blend(["poultry litter", "wheat straw"], cn=30, moisture=None))
    told = compost.analysis["cautions"].iloc[0].split(";")
    assert sorted(told) == ["food safety", "phosphorus", "residues of sprays"]
