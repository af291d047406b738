"""What is wanted of a measure, and what it must not pass, by hand from the sources of the tables."""

import numpy as np
import pytest

import soiltrend as st
from soiltrend import frames
from soiltrend.errors import SoiltrendError
from soiltrend.plan.wants import NO_CAPACITY, OWN_HIGH, scooped, usual_pH, wanted


def want(analyte, method, unit="mg/kg", *, crop=None, own=None, approach="sufficiency", capacity=np.nan,
         density=1.25, medium="mineral soil"):  # fmt: skip
    """Return what is wanted in a bed whose soil was scooped at a density."""
    row = {"analyte": analyte, "method": method, "unit": unit, "scooped": density}
    bed = {"medium": medium, "bulk_density": 1.6}
    return wanted(row, bed, own=own, approach=approach, crop=crop, capacity=capacity)


def test_an_index_per_litre_is_turned_by_the_soil_s_density_as_scooped():
    """Index 3 of K by Morgan, 101 to 150 mg/l of soil (Fertilizer Association of Ireland), at 1.25 g/cm3."""
    found = want("K", "Morgan")
    assert (found.low, found.high, found.ceiling) == pytest.approx((101 / 1.25, 150 / 1.25, 150 / 1.25))
    found = want("K", "Morgan", unit="mg/dm3")
    assert (found.low, found.high, found.ceiling) == (101, 150, 150)


def test_a_share_of_the_exchange_capacity_in_the_test_s_unit():
    """The school's own range of calcium at 12 cmol/kg; 1 of it is 200.39 mg/kg (40.078 g/mol, 2 charges)."""
    found = want("Ca", "Mehlich-3", approach="saturation", capacity=12.0)
    low, high = (float(text) for text in found.why.split(" % ")[0].split(" to "))
    each = 12 * 200.39 / 100
    assert (found.low, found.high) == pytest.approx((low * each, high * each), rel=1e-4)
    assert found.ceiling == found.high
    assert found.against


def test_without_capacity_the_school_has_no_say():
    """Its shares are of nothing known: sufficiency instead, and that is told."""
    found, other = want("K", "Morgan", approach="saturation"), want("K", "Morgan")
    assert (found.low, found.high) == (other.low, other.high)
    assert found.why == NO_CAPACITY + other.why
    assert not found.against


def test_sodium_stops_where_a_soil_falls_apart():
    """15 % of the capacity is sodic (USDA Handbook 60): at 10 cmol/kg 1.5, of 229.9 mg/kg each."""
    assert want("Na", "ammonium acetate", capacity=10.0).ceiling == pytest.approx(1.5 * 229.9, rel=1e-4)
    assert np.isnan(want("Na", "ammonium acetate").ceiling)
    assert want("Na", "ammonium acetate", capacity=10.0, own={"Na": {"high": 40.0}}).ceiling == 40.0


def test_a_grower_s_own_aim_wins_and_its_upper_end_stops():
    found = want("K", "Morgan", own={"K": {"low": 90.0, "high": 110.0}})
    assert (found.low, found.high, found.ceiling) == (90.0, 110.0, 110.0)
    assert found.why.endswith(OWN_HIGH)
    own = {"K": {"low": 90.0, "high": 110.0}}
    found = want("K", "Morgan", own=own, approach="saturation", capacity=12.0)
    assert (found.low, found.high, found.against) == (90.0, 110.0, ""), "before a school's, too"


@pytest.mark.parametrize(("crop", "highest"), [("blueberry", 5.5), ("potato", 6.0), ("brassica", 7.0)])
def test_lime_stops_at_the_highest_ph_that_a_source_wants_for_the_crop(crop, highest):
    """Oregon State Univ. EM 9057 (blueberry), handbooks (potato; from memory); above 7 no soil is limed."""
    assert want("pH", "water 1:1", "pH", crop=crop).ceiling == highest


def test_the_usual_ph_is_the_crop_s():
    """EM 9057: 6.3 for brassicas, 6.5 by a handbook (from memory); blueberries 4.5."""
    assert usual_pH("water 1:1", "mineral soil", "blueberry") == 4.5
    assert usual_pH("water 1:1", "mineral soil", "brassica") > usual_pH("water 1:1", "mineral soil", "bean")


def test_an_index_per_litre_of_a_soil_scooped_nobody_knows_how_is_turned_as_is_usual():
    """A laboratory's scoop of a ground loam weighs 1.18 g/cm3 (North Central Regional Publication 221)."""
    found = want("P", "Morgan", density=np.nan)
    assert (found.low, found.high) == (5.17, 8.47)
    assert "5.17 to 8.47 mg/kg" in found.why
    assert "at 1.18 g/cm3 as scooped, which is usual of a ground soil and was not told" in found.why
    assert "was not told" not in want("P", "Morgan").why


def test_a_medium_of_which_no_scoop_is_known_has_no_aim_by_the_litre():
    """Peat weighs a fraction of soil."""
    found = want("K", "Morgan", density=np.nan, medium="peat")
    assert np.isnan([found.low, found.high, found.ceiling]).all()


@pytest.mark.parametrize("field", ["", "bulk_density = 1.0\n", "bulk_density = 1.6\n"])
@pytest.mark.parametrize(("unit", "scoop", "low", "high"), [
    ("mg/dm3", "bulk_density = 1.0\n", 6.1, 10.0),
    ("mg/dm3", "bulk_density = 1.22\n", 5.0, 8.2),
    ("mg/kg", "", 5.17, 8.47),
])  # fmt: skip
def test_how_dense_a_bed_lies_moves_no_aim(tmp_path, field, unit, scoop, low, high):
    """6.1 to 10 mg/l (Fertilizer Association of Ireland), by the density answered for the report."""
    (tmp_path / "reports").mkdir()
    (tmp_path / "garden.toml").write_text(f'[beds."East"]\narea_m2 = 10\n{field}', encoding="utf-8")
    (tmp_path / "reports/a.csv").write_text(f"bed,P ({unit})\nEast,3.2\n", encoding="utf-8")
    answers = f'lab = "Elm"\nsampled = 2024-04-10\n{scoop}methods = {{ "P" = "Morgan" }}\n'
    (tmp_path / "reports/a.toml").write_text(answers, encoding="utf-8")
    rules = st.PlanRules(scenarios=60)
    row = st.plan(st.open_garden(tmp_path), season="spring 2025", rules=rules).expected.iloc[0]
    assert (row["aim"], row["aim_high"]) == (low, high)


def test_a_scoop_that_was_weighed_goes_before_what_is_usual():
    """Its result stands in the report; what was answered for the same result goes before it."""
    day = {"bed": "East", "sampled": "2024-04-10", "season": "spring 2024", "lab": "Elm"}
    rows = frames.results([
        day | {"analyte": "scoop density", "unit": "g/cm3", "value": 1.05},
        day | {"analyte": "K", "method": "Morgan", "unit": "mg/kg", "value": 100.0},
    ])  # fmt: skip
    assert scooped(rows) == {}
    twice = rows.assign(reported_value="110", reported_unit=["", "mg/l soil"])
    assert scooped(twice) == {("East", "K", "Morgan"): 1.1}
    limit = twice.assign(reported_value="<110")
    assert scooped(limit) == scooped(twice)


RULES = [({"seed": -1}, "seed = -1 is no seed"), ({"seed": 1.5}, "seed = 1.5 is no seed"),
         ({"scenarios": 100.5}, "scenarios = 100.5 are too few or no whole number"),
         ({"scenarios": 49}, "scenarios = 49 are too few")]  # fmt: skip


@pytest.mark.parametrize(("rules", "told"), RULES)
def test_a_seed_and_scenarios_are_whole_numbers(rules, told):
    """What numpy's generator would refuse in its own words."""
    with pytest.raises(SoiltrendError, match=told):
        st.PlanRules(**rules)


def test_a_ceiling_of_mineral_soils_says_so_in_another_medium():
    """138.5 mg/kg of K (Rutgers NJAES) is kept to in a potting mix too, half of which fills a litre."""
    mineral, potting = (want("K", "Mehlich-3", medium=medium) for medium in ("mineral soil", "potting mix"))
    assert mineral.ceiling == potting.ceiling == 138.5
    assert "found on mineral soils by weight" in potting.why
    assert "found on mineral soils" not in mineral.why
    assert "found on mineral soils" not in want("pH", "water 1:1", unit="pH", medium="potting mix").why
