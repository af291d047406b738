"""What is wanted of a measure, and what it must not pass, by hand from the sources of the tables."""

import numpy as np
import pytest

from soiltrend.plan.wants import NO_CAPACITY, OWN_HIGH, usual_pH, wanted


def want(analyte, method, unit="mg/kg", *, crop=None, own=None, approach="sufficiency", capacity=np.nan,
         density=1.25):  # fmt: skip
    """Return what is wanted in a bed of mineral soil."""
    row = {"analyte": analyte, "method": method, "unit": unit}
    bed = {"medium": "mineral soil", "bulk_density": density}
    return wanted(row, bed, own=own, approach=approach, crop=crop, capacity=capacity)


def test_an_index_per_litre_is_turned_by_the_soil_s_density():
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
