"""A watering by hand: dry matter by density and moisture, grams, and the share of a season."""

import numpy as np
import pandas as pd
import pytest

from soiltrend.errors import SoiltrendError
from soiltrend.materials import known_materials, liquid_dose
from soiltrend.materials.amounts import limits
from soiltrend.materials.release import _share, released

N = {"N_low": 1.0, "N": 2.0, "N_high": 3.0}
WET = {"moisture_low": 98.0, "moisture": 99.0, "moisture_high": 99.5}
HEAVY = {"density_low": 0.98, "density": 1.0, "density_high": 1.02}


def dose(area_m2=2.0, **changes):
    """Return the row of N of 22 L of a ferment, thinned 1 to 10."""
    row = known_materials().loc["comfrey ferment"].copy()
    for name, value in {**N, **WET, **HEAVY, **changes}.items():
        row[name] = value
    return liquid_dose(row, litres=22, area_m2=area_m2, parts_water=10).table.set_index("nutrient")


def test_grams_by_hand():
    """2 L of itself: 20 g dry with 2 % N; at least 9.8 g (0.98 kg/L, 0.5 % dry) with 1, 40.8 with 3.

    The soil of 15 cm at 1.3 g/cm3 weighs 195 kg/m2; a season takes up 8 to 20 g/m2 (tables/uptake.csv).
    """
    row = dose().loc["N"]
    assert row[["low", "grams", "high"]].tolist() == pytest.approx([0.098, 0.4, 1.224])
    assert row["g_per_m2"] == pytest.approx(0.2)
    assert row["mg_per_kg"] == pytest.approx(0.2 / (0.15 * 1300) * 1000)
    assert row["of_season"] == pytest.approx(100 * 0.2 / 14)


@pytest.mark.parametrize(
    ("area", "words"), [(0.25, "it counts"), (0.3, "a little"), (2.8, "a little"), (3.0, "a trace")]
)
def test_when_a_share_is_a_trace_or_a_little(area, words):
    """0.4 g on so many m2 of 14 g/m2 a season: a tenth from 0.286 m2 down, a hundredth from 2.86 m2 down."""
    assert dose(area_m2=area).at["N", "said"].startswith(words)


def test_a_can_is_not_thinned_unless_that_is_said():
    """2 L of it, as it is, hold what 22 L thinned 1 to 10 do."""
    row = known_materials().loc["comfrey ferment"]
    plain = liquid_dose(row, litres=2, area_m2=2).table["grams"]
    thin = liquid_dose(row, litres=22, area_m2=2, parts_water=10).table["grams"]
    assert plain.tolist() == pytest.approx(thin.tolist())


@pytest.mark.parametrize("lacking", ["moisture", "density"])
def test_without_either_grams_are_not_told(lacking):
    """Litres are turned into dry matter by both."""
    with pytest.raises(SoiltrendError, match=f"{lacking} of 'comfrey ferment' is not known"):
        dose(**dict.fromkeys((f"{lacking}_low", lacking, f"{lacking}_high")))


def test_a_nutrient_that_is_none_at_most_is_not_listed():
    """What the liquid cannot hold has no row."""
    assert "N" not in dose(N_low=0.0, N=0.0, N_high=0.0).index
    assert "N" in dose(N_low=0.0, N=0.0, N_high=0.1).index


def test_the_middle_of_two_ends():
    """Where only the ends are told the likely value lies half way; one end alone stands for it."""
    row = {"P_low": 1.0, "P": None, "P_high": 4.0, "measured": "no"}
    assert limits(pd.Series(row), quantity="P") == (1.0, 2.5, 4.0)
    assert limits(pd.Series({"P_low": None, "P": None, "P_high": None}), quantity="P") is None


@pytest.mark.parametrize(
    ("years", "share"),
    [(0.0, 0.0), (0.5, 0.25), (1.0, 0.5), (1.5, 0.625), (2.0, 0.75), (3.0, 0.85), (9.0, 1.0)],
)
def test_what_came_free_by_hand(years, share):
    """Half in the first year, a quarter in the second, a tenth in each later one, never more than all."""
    assert _share((0.5, 0.25, 0.1), years) == pytest.approx(share)


def test_no_shares_before_the_day():
    """On the day nothing has come free of anything."""
    found = released(known_materials().loc["basalt dust"], years=0)
    assert np.array(list(found.values())).max() == 0
