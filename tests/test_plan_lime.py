"""How much carbonate moves a bed's pH by one, by hand from the systems that can read it.

The systems themselves are held against their publications in tests/test_lime.py.
"""

import numpy as np
import pytest

from soiltrend.lime import lime_need
from soiltrend.plan.lime import per_unit

DEPTH = 15.24


def unit(pH, target, *, buffers=None, capacity=np.nan):
    """Return low, likely and high, and how they are known."""
    return per_unit(pH=pH, buffers=buffers or {}, capacity=capacity, target=target, depth_cm=DEPTH)


def need(system, pH, target, reading):
    """Return the lime from one pH to another by one system [g CaCO3/m2]."""
    return float(lime_need(system, pH=pH, reading=reading, target=target, depth_cm=DEPTH))


def test_both_tables_of_a_buffer_by_their_whole_need_and_between_targets():
    """Sikora 6.5, pH 5.4 to 6.4: the need over one unit of pH, and the last 0.8 below each table's end."""
    whole = [need(system, 5.4, 6.4, 6.5) for system in ("Oregon 2025", "Tri-State 1995")]
    steps = [
        (need("Oregon 2025", 5.4, 7.2, 6.5) - need("Oregon 2025", 5.4, 6.4, 6.5)) / 0.8,
        (need("Tri-State 1995", 5.4, 6.8, 6.5) - need("Tri-State 1995", 5.4, 6.0, 6.5)) / 0.8,
    ]
    found, known, why = unit(5.4, 6.4, buffers={"Sikora": 6.5})
    each = [*whole, *steps]
    assert known
    assert found == pytest.approx((min(each), np.mean(each), max(each)))
    assert [f"{value:.3g}" in why for value in each] == [True] * 4


@pytest.mark.parametrize(("pH", "target", "start", "top"), [(6.35, 6.4, 6.35, 6.65), (6.9, 6.4, 6.7, 7.0)])
def test_near_its_target_the_need_is_read_over_three_tenths(pH, target, start, top):
    """Adams-Evans (Adams & Evans 1962) from 6.35 to 6.65; above all that it reads its last 0.3, to 7.0."""
    found, known, _ = unit(pH, target, buffers={"Adams-Evans": 7.7})
    assert known
    assert found[1] == pytest.approx(need("Adams-Evans", start, top, 7.7) / 0.3)


def test_one_system_alone_may_lie_off_by_a_quarter():
    """A fifth down, a quarter up: judgement, as told in the module."""
    one = need("Adams-Evans", 5.4, 6.4, 7.7)
    found, _, why = unit(5.4, 6.4, buffers={"Adams-Evans": 7.7})
    assert found == pytest.approx((0.8 * one, one, 1.25 * one))
    assert "Adams-Evans" in why


def test_a_buffer_that_asks_for_no_lime_tells_nothing():
    """At its own end (8.0) the Adams-Evans buffer was not moved: the exchange capacity is asked instead."""
    assert need("Adams-Evans", 5.4, 6.4, 8.0) == 0
    found, known, why = unit(5.4, 6.4, buffers={"Adams-Evans": 8.0}, capacity=10.0)
    weak = need("CEC and pH", 5.4, 6.4, 10.0)
    assert known
    assert "weak" in why
    assert found == pytest.approx((weak / 2, weak, 2 * weak))


@pytest.mark.parametrize(("target", "asked"), [(6.5, 6.5), (4.6, 5.0), (7.4, 7.0)])
def test_anything_from_sand_to_clay_is_that_of_their_exchange_capacities(target, asked):
    """3, 12.5 and 50 cmol/kg (Ohio State Univ. ANR-81) at the nearest pH that the estimate reads, 5 to 7."""
    sand, loam, clay = (need("CEC and pH", asked - 0.3, asked, each) / 0.3 for each in (3.0, 12.5, 50.0))
    found, known, _ = unit(target - 1, target)
    assert not known
    assert found == pytest.approx((sand / 2, loam, 2 * clay))
