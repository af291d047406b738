"""The reference residues, against published ratios, and the tables that hang on them."""

import numpy as np
import pytest

from soiltrend import tables
from soiltrend.blend.pools import decay_of
from soiltrend.materials import known_materials, limits, material

RESIDUES = tables.load("residues")["material"].str.casefold().tolist()
KNOWN = known_materials()
RATIO = KNOWN["C"] / KNOWN["N"]


def test_there_are_enough():
    """At least forty residues, mulches and manures."""
    assert len(set(RESIDUES)) >= 60


@pytest.mark.parametrize("name", RESIDUES)
def test_a_residue_is_known_in_full(name):
    """C, N, moisture and density with ends in order, and the likely value inside them."""
    row = KNOWN.loc[name]
    for quantity in ("C", "N", "moisture", "density", "P", "K", "Ca"):
        low, likely, high = (float(row[f"{quantity}{end}"]) for end in ("_low", "", "_high"))
        assert low <= likely <= high
        assert likely > 0
    assert 5 < RATIO[name] < 700


@pytest.mark.parametrize(
    ("name", "ratio"),
    [
        ("rye straw", 82),
        ("wheat straw", 80),
        ("oat straw", 70),
        ("maize stalks", 57),
        ("winter rye, in flower", 37),
        ("pea straw", 29),
        ("winter rye, green", 26),
        ("rotted farmyard manure", 20),
        ("legume hay", 17),
        ("cattle manure", 17),
        ("young lucerne", 13),
        ("hairy vetch", 11),
    ],
)
def test_ratios_as_the_conservation_service_prints_them(name, ratio):
    """USDA-NRCS, C:N ratios in cropping systems."""
    assert RATIO[name] == pytest.approx(ratio, abs=0.6)


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("legume haulm", 15, 30),
        ("grass clippings", 18, 20),
        ("maize stalks", 50, 100),
        ("wheat straw", 80, 150),
        ("wood chips", 100, 500),
        ("horse manure with straw", 22, 50),
        ("poultry litter", 9, 15),
        ("sheep manure", 13, 20),
        ("sawdust", 200, 750),
        ("cardboard", 200, 563),
        ("tree leaves", 40, 80),
        ("kitchen scraps", 14, 16),
        ("coffee grounds", 19, 22),
    ],
)
def test_ratios_lie_in_published_ranges(name, low, high):
    """USDA-ARS Akron, Feeding the soil; composting factsheets; garden lists for the last two."""
    assert low <= RATIO[name] <= high


def test_leaves_as_they_were_measured():
    """100 municipal samples: median N 9.4, P 1.0, K 3.6, Ca 17.3 g/kg (Heckman & Kluchinski 1996)."""
    row = KNOWN.loc["tree leaves"]
    assert (10 * row[["N", "P", "K", "Ca"]].astype(float)).tolist() == pytest.approx([9.4, 1.0, 3.6, 17.3])


def test_what_crops_leave_is_a_known_residue():
    """Each haulm and each root of the tables is a material with carbon and nitrogen."""
    named = {*tables.load("haulm")["haulm"], *tables.load("roots")["material"]}
    for name in named:
        row = material(KNOWN, name=name)
        assert limits(row, quantity="C") is not None
        assert limits(row, quantity="N") is not None


def test_every_haulm_is_of_a_crop_that_is_known():
    """The crop of a haulm is one of the table of what a harvest takes."""
    assert set(tables.load("haulm")["crop"]) <= set(tables.load("removal")["crop"])


@pytest.mark.parametrize("row", tables.load("decay").to_dict("records"), ids=lambda row: row["stuff"])
def test_what_decays_is_a_kind_a_class_or_a_material(row):
    """No line of the table of decay that nothing can reach; paces in order."""
    reached = {*KNOWN.index, *KNOWN["kind"], *KNOWN["release"], "blend"}
    assert row["stuff"] in reached
    _, (low, likely, high) = decay_of(row["stuff"], place=row["place"] or "on top")
    assert 0 < low <= likely <= high


def test_leaf_mould_has_rotted_and_leaves_have_not():
    """The one comes free by shares, the other by its C:N."""
    for name, rots in (("leaf mould", False), ("tree leaves", True), ("garden compost", False)):
        row = KNOWN.loc[name]
        assert (decay_of(name, row["kind"], row["release"], place="dug in") is not None) is rots


def test_intervals_of_the_ratio_hold_the_likely_one():
    """C over N at the ends lies around the likely ratio."""
    for name in RESIDUES:
        row = KNOWN.loc[name]
        ends = np.array([row["C_low"] / row["N_high"], row["C_high"] / row["N_low"]], dtype=float)
        assert ends[0] < RATIO[name] < ends[1]
