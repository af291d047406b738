"""Layers: how much a depth is, against published volumes, and what it brings."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pint
import pytest

from soiltrend.blend import bed_layer, blend, layer
from soiltrend.blend.sources import carried_off
from soiltrend.errors import SoiltrendError

UNIT = pint.UnitRegistry()
SQUARE_FOOT = (1 * UNIT.foot**2).to("m^2").magnitude
INCH = (1 * UNIT.inch).to("cm").magnitude
CUBIC_YARD = (1 * UNIT.yard**3).to("litre").magnitude


@pytest.mark.parametrize(
    ("square_feet", "inches", "yards"),
    [
        (2000, 0.25, 1.543),  # a municipal compost site prints 1.6 with its rounded factor 0.0031
        (12 * 24, 2, 1.778),  # a gardening page: 1.78 with 162 square feet to the yard
        (324, 1, 1.0),  # Colorado State Univ. soil testing laboratory: a yard covers 324 at an inch
        (1000, 0.972, 3.0),  # the same: 3 yards on 1000 square feet are about an inch (0.97)
    ],
)
def test_published_volumes(square_feet, inches, yards):
    """Depth times area in cubic yards, with pint's definitions of foot and yard."""
    spread = layer("garden compost", area_m2=square_feet * SQUARE_FOOT, depth_cm=inches * INCH)
    assert spread.litres / CUBIC_YARD == pytest.approx(yards, abs=0.006)


def test_depth_volume_and_weight_are_one():
    """Each way of saying it comes to the same layer."""
    deep = layer("tree leaves", area_m2=8, depth_cm=5)
    assert deep.litres == pytest.approx(400)
    for other in (layer("tree leaves", area_m2=8, litres=400), layer("tree leaves", area_m2=8, kg=deep.kg)):
        assert (other.depth_cm, other.kg) == (pytest.approx(5), pytest.approx(deep.kg))
        assert other.table["likely"].tolist() == pytest.approx(deep.table["likely"].tolist())


def test_a_yard_of_compost_weighs_what_is_published():
    """1000 to 1200 lb (Colorado State Univ.), within the range of the table's density."""
    yard = layer("garden compost", litres=CUBIC_YARD, area_m2=100)
    pounds = (yard.kg * UNIT.kg).to("lb").magnitude
    assert pounds == pytest.approx(1100, rel=0.12)


def test_what_it_brings():
    """Wet weight, less water, times percent; grams and g/m2 by the area; likely inside its interval."""
    own = pd.DataFrame(
        {"material": ["my compost"], "N": [1.5], "P": [0.4], "C": [24], "moisture": [46], "density": [0.62]}
    )
    spread = layer("my compost", area_m2=12, kg=60, own=own)
    rows = spread.table.set_index("nutrient")
    assert spread.dry_kg == pytest.approx(60 * 0.54)
    assert spread.carbon_kg == pytest.approx(60 * 0.54 * 0.24)
    assert rows.at["P", "grams"] == pytest.approx(1000 * 60 * 0.54 * 0.004)
    assert rows.at["P", "likely"] == pytest.approx(rows.at["P", "grams"] / 12)
    assert rows.at["P", "years"] == pytest.approx(rows.at["P", "likely"] / 2.0)
    assert (spread.table["low"] < spread.table["likely"]).all()
    assert (spread.table["likely"] < spread.table["high"]).all()
    assert "K" not in rows.index
    assert "Not known of it, and not counted as nothing: K, Ca" in spread.why


def test_too_much_phosphorus_and_salt_are_said():
    """Three centimetres of compost hold years of phosphorus, and more than an inch is salty."""
    spread = layer("garden compost", area_m2=10, depth_cm=3)
    assert "P for about" in spread.why
    assert "Phosphorus stays" in spread.why
    assert "Deeper than 2.5 cm a year" in spread.why
    assert "Phosphorus" not in layer("garden compost", area_m2=10, depth_cm=0.1).why


def test_straw_dug_in_is_said_to_borrow():
    """By the rule of 24:1 (USDA-NRCS); a rich material is not said to."""
    straw = layer("wheat straw", area_m2=1, kg=1)
    held = straw.table.set_index("nutrient")["likely"]
    assert f"borrow about {held['C'] / 24 - held['N']:.0f} g N/m2" in straw.why
    assert "borrow" not in layer("hairy vetch", area_m2=1, kg=1).why


def test_a_mixture_is_spread_like_a_material():
    """The layer of a blend brings what its ingredients brought."""
    mixed = blend([{"material": "grass clippings", "kg": 10}, {"material": "tree leaves", "kg": 5}])
    spread = layer(mixed, area_m2=4, kg=15)
    assert spread.carbon_kg == pytest.approx(mixed.table["C_kg"].sum())
    grams = spread.table.set_index("nutrient")["grams"]
    assert grams["N"] == pytest.approx(1000 * mixed.table["N_kg"].sum())
    assert spread.material == "blend"


def test_what_comes_free_in_the_first_year():
    """The likely share of tables/release.csv: half of the phosphorus of compost (OMAFRA 13-043: 40 %)."""
    rows = layer("garden compost", area_m2=1, kg=1).table.set_index("nutrient")
    assert rows.at["P", "first_year"] / rows.at["P", "likely"] == pytest.approx(0.5)
    assert rows.at["N", "first_year"] < 0.2 * rows.at["N", "likely"]
    assert np.isnan(rows.at["C", "first_year"])


def picked(*rows, hemisphere="north"):
    """Return a garden of one bed of 10 m2 with these harvests."""
    harvests = pd.DataFrame(rows, columns=["bed", "date", "crop", "kg", "residue"])
    harvests["date"] = pd.to_datetime(harvests["date"])
    beds = pd.DataFrame({"bed": ["East"], "area_m2": [10.0]})
    return SimpleNamespace(beds=beds, harvests=harvests, materials=None, hemisphere=hemisphere)


def test_a_bed_is_weighed_against_its_own_harvests():
    """30 kg of leeks and then hardly any: 10.5 g P in two years (35 mg in 100 g, USDA nutrient data)."""
    told = picked(("East", "2023-09-01", "leeks", 30.0, ""), ("East", "2024-09-01", "leeks", 0.001, ""))
    assert carried_off(told.harvests)["P"] == pytest.approx(10.5, abs=0.001)
    spread = bed_layer(told, bed="East", material="garden compost", kg=60)
    rows = spread.table.set_index("nutrient")
    assert rows.at["P", "a_year"] == pytest.approx(10.5 / 10 / 2, abs=0.0001)
    assert rows.at["P", "years"] == pytest.approx(rows.at["P", "likely"] / 0.525, rel=0.0001)
    assert spread.area_m2 == 10
    assert spread.why.endswith("A year's crops are the mean of 2 years of this bed's harvests.")


@pytest.mark.parametrize(
    ("rows", "years"),
    [
        ([("2024-04-20", "leeks", 10.0), ("2024-11-05", "leeks", 5.0)], 1),  # from April to November
        ([("2022-04-20", "leeks", 10.0), ("2023-11-05", "leeks", 5.0)], 2),
        ([("2021-09-01", "leeks", 10.0), ("2024-09-20", "leeks", 5.0)], 4),  # fallow between counts
        ([("2023-04-01", "rye", 0.0), ("2024-09-01", "leeks", 10.0)], 1),  # a cover crop carried nothing off
        ([("2022-04-01", "moonbeans", 9.0), ("2024-09-01", "leeks", 10.0)], 1),  # what it took is not known
    ],
)
def test_the_years_of_a_bed_s_harvests(rows, years):
    """From the first harvest of a known crop to the last; a season over New Year is one."""
    told = picked(*(("East", *row, "kept") for row in rows))
    spread = bed_layer(told, bed="East", material="garden compost", kg=60)
    grams = carried_off(told.harvests)
    assert spread.table.set_index("nutrient").at["P", "a_year"] == pytest.approx(grams["P"] / 10 / years)
    assert f"mean of {years} year{'s' * (years > 1)} of this bed's harvests" in spread.why
    assert ("without moonbeans, which no table knows" in spread.why) == (rows[0][1] == "moonbeans")


def test_haulm_that_was_removed_left_with_its_crop():
    """Beet tops: 0.6 kg beside a kilogram of roots (haulm.csv), of 41 mg P in 100 g (USDA, beet greens)."""
    kept, gone = (picked(("East", "2024-09-01", "beets", 10.0, how)) for how in ("kept", "removed"))
    more = carried_off(gone.harvests)["P"] - carried_off(kept.harvests)["P"]
    assert more == pytest.approx(10 * 0.6 * 0.41)


def test_a_growing_year_of_the_south_runs_over_new_year():
    """Garlic at Christmas and leeks in March are of one summer."""
    rows = [("East", "2023-12-20", "garlics", 10.0, ""), ("East", "2024-03-02", "leek", 5.0, "")]
    for hemisphere, years in (("south", 1), ("north", 2)):
        told = picked(*rows, hemisphere=hemisphere)
        said = bed_layer(told, bed="East", material="garden compost", kg=60).why
        assert f"mean of {years} year" in said


@pytest.mark.parametrize("row", [("moonbeans", 3.0), ("leeks", 0.0)])
def test_a_bed_of_which_no_harvest_can_be_weighed_is_weighed_against_usual_crops(row):
    """Years without end are no answer."""
    told = picked(("East", "2024-09-01", *row, "kept"))
    spread = bed_layer(told, bed="East", material="garden compost", kg=60)
    assert spread.table.set_index("nutrient").at["P", "a_year"] == 2.0
    assert "usual figure" in spread.why


def test_a_bed_never_harvested_is_weighed_against_usual_crops():
    """And that is said."""
    spread = bed_layer(picked(), bed="East", material="garden compost", kg=60)
    assert spread.table.set_index("nutrient").at["P", "a_year"] == 2.0
    assert "usual figure" in spread.why


def test_a_bed_that_is_not_there_is_refused():
    """With the beds that are."""
    with pytest.raises(SoiltrendError, match=r"'West' is no bed of this garden. Beds: East"):
        bed_layer(picked(), bed="West", material="straw", kg=1)


def test_it_shows_itself():
    """Title, table and reason, in text and in HTML."""
    spread = layer("straw", area_m2=2, depth_cm=10)
    assert repr(spread).startswith("10.0 cm of straw over 2.00 m2: 200 L, 20.0 kg wet, 18.0 kg dry")
    assert "<caption" in spread._repr_html_()


@pytest.mark.parametrize(
    ("how", "said"),
    [
        ({"area_m2": 0, "kg": 1}, "area_m2 = 0 is no area"),
        ({"area_m2": np.nan, "kg": 1}, "area_m2 = nan is no area"),
        ({}, "nothing does not say how much. Give one of depth_cm, litres and kg"),
        ({"kg": 1, "litres": 2}, "litres = 2, kg = 1 does not say how much"),
        ({"kg": -1}, "kg = -1 does not say how much"),
    ],
)
def test_a_layer_that_is_none_is_refused(how, said):
    """The value is quoted, with what to give."""
    with pytest.raises(SoiltrendError, match=said):
        layer("straw", **how)


def test_a_density_that_is_not_known_is_asked_for():
    """Depth and weight cannot be told apart without it."""
    with pytest.raises(SoiltrendError, match="the density of 'fluff' is not known"):
        layer({"material": "fluff", "C": 40, "N": 1, "moisture": 10}, area_m2=1, depth_cm=2)
