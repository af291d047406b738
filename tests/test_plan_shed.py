"""What there is to add: how fast it lets go, what it counts for, and the most of it in a year."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import triang

from soiltrend.materials import known_materials, released
from soiltrend.plan.rules import PlanRules
from soiltrend.plan.shed import HOLDS, freed, greatest, open_shed

LUCK = np.array([0.0, 0.03, 0.2, 0.5, 0.8, 0.97, 1.0])


@pytest.mark.parametrize(("name", "years"), [("basalt dust", 2.0), ("wood ash", 0.5), ("gypsum", 1.0)])
def test_what_comes_free_is_a_quantile_of_the_triangle(name, years):
    """Luck is the probability below, low and high the ends and likely the peak (scipy.stats.triang)."""
    row = known_materials().loc[name]
    found = freed(row, np.ones((len(LUCK), len(HOLDS))), years=years, luck=LUCK)
    for at, nutrient in enumerate(HOLDS):
        low, likely, high = released(row, years=years)[nutrient]
        wide = high - low
        expected = triang.ppf(LUCK, (likely - low) / wide, low, wide) if wide else np.full(len(LUCK), likely)
        np.testing.assert_allclose(found[:, at], expected, atol=1e-12)


def shed_of(text):
    """Return a shed of own materials from lines of name, cost and stock."""
    lines = [line.split(",") for line in text.splitlines()]
    own = pd.DataFrame(lines, columns=["material", "cost_per_kg", "on_hand_kg"])
    return open_shed(known_materials(own), rules=PlanRules(scenarios=50), years=0.5)


def test_what_lies_in_the_shed_counts_for_less_than_what_must_be_bought():
    """What is on hand goes before what is bought, the cheap before the dear; on hand, what burns is last."""
    shed = shed_of("gypsum,2,10\nlimestone,2,0\ndolomite,3,0\nslaked lime,2,10")
    price = dict(zip(shed.names, shed.price, strict=True))
    assert price["gypsum"] < price["slaked lime"] < price["limestone"] < price["dolomite"]


def test_a_price_that_is_not_stated_is_the_time_it_takes_to_gather():
    """Without a price nothing is free, and a stated one is taken as it is."""
    shed = shed_of("gypsum,,0\nlimestone,2,0")
    price = dict(zip(shed.names, shed.price, strict=True))
    assert 0 < price["gypsum"] < price["limestone"] == 2


def test_a_limit_by_volume_is_weighed_by_the_density():
    """Litres times kilograms a litre; where no density is known, as water."""
    compost = known_materials().loc["garden compost"]
    litres = greatest(compost) / (compost["density"] * 1000)
    assert litres == pytest.approx(25.4)  # an inch a year, Colorado State Univ. (tables/ceilings.csv)
    heavier, unknown = compost.copy(), compost.copy()
    heavier["density"], unknown["density"] = 2 * compost["density"], np.nan
    assert greatest(heavier) == pytest.approx(2 * greatest(compost))
    assert greatest(unknown) == pytest.approx(litres * 1000)


def test_a_salt_given_in_the_summer_counts_whole_at_the_next_test():
    """Of 100 g of K2SO4 at 95 % some 40 g of K (atomic masses), a year or two months before the test."""
    own = known_materials().loc[["sulphate of potash"]].assign(origin="own")
    shed = open_shed(own, rules=PlanRules(scenarios=400), years=1.0)
    each = (shed.later({0: np.array([years])})[:, 0, HOLDS.index("K")] for years in (1.0, 1 / 6))
    grams = [100 * share.mean() for share in each]
    assert grams[0] == pytest.approx(100 * 0.953 * 78.2 / 174.26 * 0.983, rel=0.01)
    assert grams[1] == pytest.approx(grams[0])
