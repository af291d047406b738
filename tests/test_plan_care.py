"""What a plan must not do, and must not say, on gardens of one bed each."""

import pandas as pd
import pytest

import soiltrend as st

FULL = {"pH": 6.6, "P": 60, "K": 110, "Ca": 1200, "Mg": 90}
UNITS = {"S": "mg/kg", "P": "mg/kg", "K": "mg/kg", "Ca": "mg/kg", "Mg": "mg/kg", "CEC": "cmol/kg"}
METHODS = {"P": "Mehlich-3", "K": "Mehlich-3", "Ca": "Mehlich-3", "Mg": "Mehlich-3", "Buffer pH": "Sikora"}
QUICK = st.PlanRules(scenarios=60)
ASH = "material,on_hand_kg\nwood ash,20\n"


def planned(folder, values, *, materials="", by="water 1:1", approach="sufficiency"):
    """Return the plan of a bed that was tested once."""
    (folder / "reports").mkdir()
    (folder / "garden.toml").write_text('[beds."East"]\narea_m2 = 10\n', encoding="utf-8")
    if materials:
        (folder / "materials.csv").write_text(materials, encoding="utf-8")
    heads, cells = ",".join(values), ",".join(map(str, values.values()))
    (folder / "reports" / "a.csv").write_text(f"Sample,{heads}\n1,{cells}\n", encoding="utf-8")
    answers = ['sampled = 2026-04-10\ndepth_cm = 15\n[beds]\n"1" = "East"\n[units]']
    answers += [f'{name} = "{unit}"' for name, unit in UNITS.items() if name in values]
    answers += ["[methods]"]
    answers += [f'"{name}" = "{how}"' for name, how in {**METHODS, "pH": by}.items() if name in values]
    (folder / "reports" / "a.toml").write_text("\n".join(answers), encoding="utf-8")
    return st.plan(st.open_garden(folder), season="spring 2027", approach=approach, rules=QUICK)


def held(plan):
    return set(plan.hold["what"])


def test_no_ash_where_lime_is_too_much_already(tmp_path):
    """Univ. of Georgia Extension: no wood ash above pH 6.5 to 7, whether or not the need of lime is known."""
    found = planned(tmp_path, FULL | {"pH": 7.4, "K": 40}, materials=ASH)
    assert found.doses.empty
    assert "wood ash" in held(found)
    told = found.binding.set_index("aim").at["K", "why"]
    assert told.startswith("nothing in your shed that may go on brings K; sulphate of potash")


@pytest.mark.parametrize(("pH", "by"), [({}, ""), ({"pH": 7.2}, "CaCl2")])
def test_nothing_that_limes_without_a_pH_in_water(tmp_path, pH, by):
    """Without a pH nobody limes (common practice); a pH in another liquid has no ceiling in the tables."""
    rest = {name: value for name, value in FULL.items() if name != "pH"}
    found = planned(tmp_path, rest | pH | {"K": 40}, materials=ASH, by=by)
    assert found.doses.empty
    assert found.hold.set_index("what").at["wood ash", "why"].startswith("no pH in water")


def test_a_part_of_magnesium_in_a_hundred_does_not_stop_lime(tmp_path):
    """EM 9585 (Oregon 2025) asks for about 560 g/m2 of lime to pH 6.25 at a Sikora buffer of 6.2."""
    lime = "material,on_hand_kg\ncalcitic limestone,200\n"
    found = planned(tmp_path, FULL | {"pH": 5.3, "Buffer pH": 6.2, "Mg": 121}, materials=lime)
    assert 560 < found.doses["g_per_m2"].sum() < 976.5
    assert found.doses["g_per_m2"].max() <= 488.2
    assert "Mg" not in set(found.binding["what"])
    assert "lime goes by pH" in found.hold.set_index("about").at["Ca", "why"]
    assert found.doses["date"].min() == found.days.dressing  # in April, and not after the summer


def test_nor_does_that_of_manure(tmp_path):
    """Magnesium in the middle of its class does not keep a bed short of potassium from its manure."""
    manure = "material,on_hand_kg\ncattle manure,300\n"
    found = planned(tmp_path, FULL | {"P": 20, "K": 40, "Mg": 121}, materials=manure)
    assert 1000 < found.doses["g_per_m2"].sum() < 6000
    assert "Mg" not in set(found.binding["what"])


def test_caustic_lime_is_not_proposed(tmp_path):
    """Burnt and slaked lime are caustic (Clemson Univ.): without a shed, limestone or shell is proposed."""
    found = planned(tmp_path, FULL | {"pH": 5.6, "Buffer pH": 6.5})
    given = found.bench.shed.rows.loc[list(found.amounts["East"])]
    assert set(given["release"]) == {"carbonate"}
    assert len(given) <= 2


def test_caustic_lime_of_the_shed_is_given_before_the_next_test(tmp_path):
    """Two dressings half a year apart fit into a year, a third would not and yet be counted."""
    slaked = "material,on_hand_kg\nslaked lime,50\n"
    found = planned(tmp_path, FULL | {"pH": 5.3, "Buffer pH": 6.0}, materials=slaked)
    assert 1 <= len(found.doses) <= 2
    assert found.doses["g_per_m2"].sum() <= 400
    assert (found.doses["date"] < found.days.test).all()


def test_without_a_buffer_no_lime_is_recommended(tmp_path):
    """A step of pH by an unknown amount of lime is no advice; a buffer pH would tell."""
    found = planned(tmp_path, FULL | {"pH": 6.1}, materials=ASH)
    told = found.binding.set_index("aim").at["pH", "why"]
    assert told.startswith("how much lime it takes is not known")
    assert "burnt" not in told


def test_what_stands_above_its_aim_is_not_said_to_be_below(tmp_path):
    """75 is not below 73, though one test of it may well be."""
    sulphate = "material,on_hand_kg\nsulphate of potash,5\n"
    found = planned(tmp_path, FULL | {"K": 75}, materials=sulphate)
    assert "may well lie below 73.0" in found.doses["why"].iloc[0]


def test_manure_is_held_where_phosphorus_is_high(tmp_path):
    """Above 150 mg/kg Mehlich-3 P reaches water (Sims et al. 2002), whatever else the bed is short of."""
    found = planned(
        tmp_path, FULL | {"P": 250, "K": 40}, materials="material,on_hand_kg\ncattle manure,300\n"
    )
    assert "cattle manure" in held(found)
    assert found.doses.empty
    assert found.binding.set_index("aim").at["K", "open"] > 30


def test_what_is_held_is_not_given(tmp_path):
    """Not even the trace for which there would be room."""
    shed = "material,N,P,K,moisture,density,on_hand_kg\ngarden compost,1.5,0.4,1.2,45,0.6,500\n"
    found = planned(tmp_path, FULL | {"P": 300, "K": 40}, materials=shed)
    assert "garden compost" in held(found)
    assert not found.amounts["East"]


def test_unknown_contents_are_told(tmp_path):
    """Unknown is not zero: what the label may hold stands in the cautions."""
    powder = "material,K,on_hand_kg\ngrey powder,30,10\n"
    found = planned(tmp_path, FULL | {"K": 40}, materials=powder)
    told = found.cautions.set_index("material").at["grey powder", "caution"]
    assert told.startswith("How much N, P, Ca")
    assert "label" in told


def test_raw_manure_says_from_when_the_crop_may_be_picked(tmp_path):
    """7 CFR 205.203: 120 days before the harvest of a crop that touches the soil."""
    found = planned(tmp_path, FULL | {"P": 20, "K": 40}, materials="material,on_hand_kg\ncattle manure,300\n")
    row = found.doses.iloc[-1]
    ripe = row["date"] + pd.Timedelta(days=120)
    assert f"no crop that touches the soil is picked before {ripe:%Y-%m-%d}" in row["why"]


def test_saturation_without_a_capacity_says_so(tmp_path):
    """A share of an unknown sum is no aim."""
    found = planned(tmp_path, FULL, approach="saturation")
    why = found.expected.set_index("analyte").at["K", "why"]
    assert "no exchange capacity that can be relied on" in why


def test_caustic_lime_stays_in_the_shed_where_another_lime_is_at_hand(tmp_path):
    """Slaked lime is for want of limestone, however slowly that works (common practice: it burns)."""
    both = "material,on_hand_kg\ncalcitic limestone,200\nslaked lime,50\n"
    found = planned(tmp_path, FULL | {"pH": 5.3, "Buffer pH": 6.2}, materials=both)
    assert set(found.doses["material"]) == {"calcitic limestone"}
    assert found.hold.set_index("what").at["slaked lime", "why"].startswith("it burns skin and eyes")


def test_slaked_lime_serves_where_nothing_else_limes(tmp_path):
    """The only lime in the shed is not held for what is not there."""
    found = planned(
        tmp_path, FULL | {"pH": 5.3, "Buffer pH": 6.2}, materials="material,on_hand_kg\nslaked lime,50\n"
    )
    assert set(found.doses["material"]) == {"slaked lime"}


def test_measures_without_an_aim_are_named(tmp_path):
    """An analyte for which the tables hold no aim is told on the page, with the remedy."""
    told = planned(tmp_path, FULL | {"S": 4}).cautions.set_index("about").at["no aim", "caution"]
    assert "no aim is known" in told
    assert told.endswith("S by a method not stated.")
