"""Salts in a plan: what dissolves of a material, what it makes of the conductivity, and where it stops."""

import numpy as np
import pandas as pd
import pytest
from molmass import Formula
from test_plan_care import FULL, planned

import soiltrend as st
from soiltrend import aims
from soiltrend.plan.ask import coming, effects, forecast
from soiltrend.plan.parts import parts_of
from soiltrend.plan.shed import BRINGS, HOLDS, SALT, charge, lasting, responses, soil_water

POTASH = "material,on_hand_kg\nsulphate of potash,50\n"


def grams(**of):
    """Return grams of each element as :func:`charge` takes them."""
    return np.array([of.get(name, 0.0) for name in HOLDS])


def one_gram(formula):
    """Return what a gram of a compound holds, by molmass."""
    found = Formula(formula)
    shares = found.composition().dataframe()["Fraction"]
    return grams(**{name: float(shares[name]) for name in HOLDS if name in shares}), found.mass


MOLES = {"K2SO4": 2, "MgSO4(H2O)7": 2, "K2Mg2S3O12": 6, "NaCl": 1, "NH4Cl": 1, "CaSO4(H2O)2": 0, "CaCO3": 0}


@pytest.mark.parametrize(("formula", "charges"), MOLES.items())
def test_charges_of_a_mole(formula, charges):
    """Moles of charge by stoichiometry (masses of molmass); gypsum and lime hardly dissolve: nothing."""
    held, mass = one_gram(formula)
    assert float(charge(held)) * mass == pytest.approx(charges, abs=1e-3)


def test_sulphate_of_a_compost_stays_with_its_calcium():
    """Ten moles of calcium hold one of sulphate; potassium and sodium are what conducts."""
    held = grams(Ca=400.8, S=32.06, K=39.098, Na=22.990)
    assert float(charge(held)) == pytest.approx(2.0, rel=1e-3)


def test_a_standard_of_conductivity_lies_inside_the_range():
    """0.01 mol/L KCl conducts 1.413 dS/m at 25 C (the standard of conductivity cells): ten moles of charge in
    a cubic metre would be 1.0 by Handbook 60's rule for mixed salts. MgSO4 of 0.005 mol/L conducts less:
    about 0.8 (limiting conductivity 266 S cm2/mol, less a third for the ions' pull; from memory)."""
    low, _, high = responses()["EC"]
    assert low < 0.8 < 1.413 <= round(high, 1) + 0.05


def test_conductivity_of_a_dressing_by_hand(tmp_path):
    """100 g/m2 of sulphate of potash, 95 % pure: 1.09 mol of charge in 15 cm of 1.3 g/cm3, whose 195 kg take
    up 88 L in a paste: 12.4 mmol/L, 1.24 dS/m by Handbook 60, of which a half year of rain leaves 1/e.
    Each of its parts is washed by the rain since its own day; all dissolves within weeks (release.csv)."""
    found = planned(tmp_path, FULL | {"EC": 1.0}, materials=POTASH)
    plot, bench = found.bench.plots[0], found.bench
    amounts = np.array([100.0])
    added = effects(plot, coming(plot, bench, amounts)) @ amounts
    mine = list(plot.measures["analyte"]).index("EC")
    water, (low, likely, high) = np.array(soil_water("saturated paste")), responses()["EC"]
    kg = 195 / 1.3 * float(plot.bed["bulk_density"])
    days = parts_of(plot, bench, amounts)[0].when
    assert bench.days.test - days[-1] > pd.Timedelta(days=28)
    stays = np.mean([np.exp(-(bench.days.test - day).days / 365.25 / 0.5) for day in days])
    moles = 100 * 0.95 / 174.26 * 2
    middle = moles * 0.98 / 0.01 * likely / (kg * water[1]) * stays
    assert lasting(SALT) == 0.5
    assert np.median(added[:, mine]) == pytest.approx(middle, rel=0.35)
    span = moles / 0.01 / kg * stays
    assert 0.9 * span * low / water[2] < added[:, mine].min() < added[:, mine].max() < span * high / water[0]
    shown = plot.moves[:, mine, BRINGS.index(SALT)]
    assert shown.max() > high / (0.01 * kg * water[1]), "how much water a paste takes up is not sure either"
    after = forecast(plot, bench, amounts)[:, mine] - plot.left[:, mine]
    assert after == pytest.approx(added[:, mine])


@pytest.mark.parametrize(("method", "ratio"), [("water 1:1", 1), ("water 1:2", 2), ("water 1:5", 5)])
def test_more_water_thins_salts(method, ratio):
    """By the name of the method (litres of water to a kilogram of soil)."""
    assert soil_water(method) == (ratio, ratio, ratio)
    assert soil_water("") == soil_water("a method nobody knows")


def test_ceiling_of_salts_by_paste():
    """Colorado State Univ.: most plants suffer from 2.5 to 3 dS/m, sensitive ones from 2; Handbook 60: saline
    from 4. Their middle is 2.5."""
    assert aims.ceilings("EC", "saturated paste", "mineral soil")["limit"].median() == 2.5


def test_salts_stop_what_is_salty(tmp_path):
    """One test of 1.5 dS/m leaves little room below 2.5 (Colorado State Univ.), one of 0.4 leaves more."""
    given, many = {}, st.PlanRules(scenarios=400)
    for EC in (0.4, 1.5):
        folder = tmp_path / str(EC)
        folder.mkdir()
        planned(folder, FULL | {"K": 40, "EC": EC}, materials=POTASH)
        found = st.plan(st.open_garden(folder), season="spring 2027", rules=many)
        given[EC] = found.amounts["East"].get("sulphate of potash", 0.0)
    assert 0 < given[1.5] < 0.7 * given[0.4]
    assert {"EC"} <= set(found.binding["what"])
    why = found.binding.set_index("what").at["EC", "why"]
    assert why.startswith("no more sulphate of potash because of EC, whose ceiling is 2.50 dS/m")


def test_a_salty_bed_gets_nothing_salty(tmp_path):
    """Handbook 60: a soil is saline from 4 dS/m. Limestone adds no salts and may still go on."""
    shed = POTASH + "garden compost,200\nEpsom salt,50\ncalcitic limestone,100\n"
    poor = {"pH": 5.6, "Buffer pH": 6.4, "K": 40, "Mg": 30, "EC": 4.5}
    found = planned(tmp_path, FULL | poor, materials=shed)
    table = found.hold[found.hold["about"] == "EC"].set_index("what")
    assert {"sulphate of potash", "epsom salt"} <= set(table.index)
    assert "EC " in table.at["epsom salt", "why"]
    assert "is not safely below its ceiling of 2.50 dS/m" in table.at["epsom salt", "why"]
    assert set(found.amounts["East"]) == {"calcitic limestone"}


def test_what_is_salty_is_named_where_the_shed_is_empty(tmp_path):
    found = planned(tmp_path, FULL | {"EC": 4.5})
    names = " ".join(found.hold["what"])
    assert "whatever is salty" in names


def test_no_salts_are_planned_on_where_none_were_tested(tmp_path):
    """A measure that was not tested has no row, and one more test changes nothing of the others."""
    plans = {}
    for name, more in (("without", {}), ("with", {"EC": 0.4})):
        (tmp_path / name).mkdir()
        plans[name] = planned(tmp_path / name, FULL | {"K": 40} | more, materials=POTASH)
    assert "EC" not in set(plans["without"].expected["analyte"])
    assert plans["with"].amounts == plans["without"].amounts
    both = plans["with"].expected.query("analyte != 'EC'").reset_index(drop=True)
    pd.testing.assert_frame_equal(both, plans["without"].expected)


def test_salts_of_a_year_count_before_rain_takes_them(tmp_path):
    """What is put on hurts before it is washed down: the ceiling counts all, the forecast what is left."""
    shed = planned(tmp_path, FULL | {"EC": 1.0}, materials=POTASH).bench.shed
    at = BRINGS.index(SALT)
    assert (shed.free[:, 0, at] < 0.3 * shed.total[:, 0, at]).all()
    assert shed.total[:, 0, at].mean() == pytest.approx(2 / 174.26 * 0.95 * 0.98, rel=0.03)
