"""What a plan must not do, and must not say, on gardens of one bed each."""

import numpy as np
import pandas as pd
import pytest

import soiltrend as st
from soiltrend import units
from soiltrend.plan.ask import coming, effects
from soiltrend.plan.shed import BRINGS

FULL = {"pH": 6.6, "P": 60, "K": 110, "Ca": 1200, "Mg": 90}
UNITS = dict.fromkeys(("S", "P", "K", "Ca", "Mg", "B"), "mg/kg") | {"CEC": "cmol/kg", "EC": "dS/m"}
METHODS = {"Buffer pH": "Sikora", "EC": "saturated paste", "B": "hot water"}
METHODS |= dict.fromkeys(("P", "K", "Ca", "Mg"), "Mehlich-3")
QUICK = st.PlanRules(scenarios=60)
SULPHUR = "material,on_hand_kg\nelemental sulphur,5\n"
ASH = "material,on_hand_kg\nwood ash,20\n"


def planned(folder, values, *, materials="", by="water 1:1", approach="sufficiency", bed="", layer="15"):
    """Return the plan of a bed that was tested once."""
    (folder / "reports").mkdir(parents=True)
    (folder / "garden.toml").write_text(f'[beds."East"]\narea_m2 = 10\n{bed}', encoding="utf-8")
    if materials:
        (folder / "materials.csv").write_text(materials, encoding="utf-8")
    heads, cells = ",".join(values), ",".join(map(str, values.values()))
    (folder / "reports" / "a.csv").write_text(f"Sample,{heads}\n1,{cells}\n", encoding="utf-8")
    answers = [f'sampled = 2026-04-10\ndepth_cm = {layer}\n[beds]\n"1" = "East"\n[units]']
    answers += [f'{name} = "{unit}"' for name, unit in UNITS.items() if name in values]
    answers += ["[methods]"]
    answers += [f'"{name}" = "{how}"' for name, how in {**METHODS, "pH": by}.items() if name in values]
    (folder / "reports" / "a.toml").write_text("\n".join(answers), encoding="utf-8")
    return st.plan(st.open_garden(folder), season="spring 2027", approach=approach, rules=QUICK)


def held(plan):
    return set(plan.hold["what"])


def test_what_a_gram_does_hangs_on_how_thick_the_layer_is_and_not_on_how_deep(tmp_path):
    """The same gram in 15 cm lower down is as much of the soil; in 30 cm it is half as much."""
    layers = {name: planned(tmp_path / name, FULL, layer=name) for name in ("15", "[5, 20]", "30")}
    thin, deeper, thick = (found.bench.plots[0] for found in layers.values())
    mine = (thin.measures["analyte"] != "pH").to_numpy()
    assert thin.moves[:, mine].any()
    np.testing.assert_allclose(deeper.moves[:, mine], thin.moves[:, mine], rtol=1e-9)
    np.testing.assert_allclose(thick.moves[:, mine], thin.moves[:, mine] / 2, rtol=1e-9)


@pytest.mark.parametrize(("boron", "stops"), [(2.1, True), (0.2, False)])
def test_no_borax_where_beans_would_suffer(tmp_path, boron, stops):
    """Oregon State Univ. EC 1478: boron by hot water is excessive above 2 mg/kg (from memory)."""
    borax = "material,on_hand_kg\nborax,1\n"
    found = planned(tmp_path, FULL | {"B": boron}, materials=borax)
    assert ("borax" in held(found)) == stops
    assert found.doses.empty == stops


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
    calcium = found.hold.set_index("about").loc["Ca"]
    assert "lime goes by pH" in calcium["why"]
    assert calcium["what"] == "whatever brings Ca without liming"
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


LIMESTONE = "material,on_hand_kg\ncalcitic limestone,200\n"


def test_a_part_given_later_has_less_time_to_show(tmp_path):
    """Lime in two halves half a year apart (Penn State AASL): the second has lain half as long."""
    found = planned(tmp_path, FULL | {"pH": 5.3, "Buffer pH": 6.2}, materials=LIMESTONE)
    plot, bench = found.bench.plots[0], found.bench
    amounts = np.array([found.amounts["East"].get(name, 0.0) for name in bench.shed.names])
    assert len(found.doses) == 2
    ages = [(found.days.test - day).days / 365.2425 for day in found.doses["date"]]
    assert ages[0] == pytest.approx(1.0, abs=0.03)
    assert ages[1] == pytest.approx(0.5, abs=0.03)
    late, early = coming(plot, bench, amounts), bench.shed.free
    lime = BRINGS.index("CCE")
    # Cornell PO 41: ground lime gives evenly through its first year, so that half of it half as long is 3/4
    assert late[:, 0, lime].mean() / early[:, 0, lime].mean() == pytest.approx(0.75, abs=0.03)
    expected = found.expected.set_index("analyte").loc["pH"]
    at_once = np.median(plot.left[:, 0] + (effects(plot, early) @ amounts)[:, 0])
    assert plot.measures["analyte"].iloc[0] == "pH"
    assert expected["left_alone"] < expected["after"] < at_once - 0.03


def test_all_limes_together_stay_below_the_most_of_a_year(tmp_path):
    """Dressings of up to 10 lb/100 ft2 half a year apart (Penn State AASL): two of them in a year."""
    several = "material,on_hand_kg\ncalcitic limestone,300\ndolomitic limestone,300\nslaked lime,100\n"
    found = planned(tmp_path, FULL | {"pH": 4.9, "Buffer pH": 5.4, "Mg": 20}, materials=several)
    shed = found.bench.shed
    each = [shed.total[:, shed.names.index(name), BRINGS.index("CCE")].mean() * much
            for name, much in found.amounts["East"].items()]  # fmt: skip
    assert 700 < sum(each) <= 2 * 1.05 * units.convert(10, unit="lb/100 sq ft", to="g/m2") + 0.1
    assert "liming value in a year" in set(found.binding["what"])
    by_day = found.doses.assign(CCE=[
        shed.total[:, shed.names.index(row.material), BRINGS.index("CCE")].mean() * row.g_per_m2
        for row in found.doses.itertuples()
    ]).groupby("date")["CCE"].sum()  # fmt: skip
    assert by_day.max() <= 512.6 + 1e-6


def test_much_potassium_is_split(tmp_path):
    """200 lb K2O to the acre, 18.6 g K/m2, is a large dressing (common practice): at most 17 at once."""
    shed = "material,N,K,Na,moisture,density,on_hand_kg\npotash of the shed,0,20,0,0,1.1,60\n"
    bed = '[aims]\nK = {low = 260, high = 420, method = "Mehlich-3"}\n'
    found = planned(tmp_path, FULL | {"K": 60}, materials=shed, bed=bed)
    assert found.doses["g_per_m2"].sum() * 0.2 > 17
    assert (found.doses["g_per_m2"] * 0.2).max() <= 17
    assert found.doses["date"].diff().dropna().dt.days.min() >= 28
    assert "17 g/m2 of K are the most at a time" in found.doses["why"].iloc[0]


def test_manure_stops_at_the_nitrogen_of_a_year(tmp_path):
    """170 kg N per hectare and year from manure: Directive 91/676/EEC, annex III."""
    rich = "material,N,P,K,Ca,Mg,S,Na,B,Zn,Mn,Cu,moisture,density,on_hand_kg\n"
    rich += "cattle manure,4,0.1,1,0.5,0.2,0.1,0,0,0,0,0,75,0.8,900\n"
    bed = '[aims]\nK = {low = 260, high = 420, method = "Mehlich-3"}\n'
    found = planned(tmp_path, FULL | {"P": 20, "K": 40}, materials=rich, bed=bed)
    nitrogen = found.amounts["East"]["cattle manure"] * found.bench.shed.total[:, 0, BRINGS.index("N")]
    assert 13 < np.quantile(nitrogen, 0.9) <= 17  # a tenth is spared, then rounded down
    assert "manure N in a year" in set(found.binding["what"])


@pytest.mark.parametrize(("picked", "given"), [("2027-06-01", False), ("2027-10-01", True)])
def test_raw_manure_waits_for_no_harvest_that_is_near(tmp_path, picked, given):
    """7 CFR 205.203: 120 days. From April to June there are fewer, to October more."""
    manure = "material,on_hand_kg\ncattle manure,300\n"
    found = planned(tmp_path, FULL | {"P": 20, "K": 40}, materials=manure, bed=f"harvest = {picked}\n")
    assert (found.doses["material"] == "cattle manure").any() == given
    assert ("cattle manure" in held(found)) != given
    if not given:
        why = found.hold.set_index("what").at["cattle manure", "why"]
        assert "picked from 2027-06-01, and 120 days must lie between" in why


def test_ash_without_a_buffer_may_be_on_sand(tmp_path):
    """On sand of 3 cmol/kg (ANR-81) a little ash lifts pH far: near its ceiling it stops at a little."""
    given = {}
    for name, more in (("unknown", {}), ("clay", {"CEC": 40})):
        (tmp_path / name).mkdir()
        found = planned(tmp_path / name, FULL | {"pH": 6.6, "K": 40} | more, materials=ASH)
        given[name] = found.amounts["East"].get("wood ash", 0.0)
        row = found.expected.set_index("analyte").loc["pH"]
        assert row["after"] > row["left_alone"]
    assert given["unknown"] < 0.5 * given["clay"]
    assert "from sand to clay" in planned_why(tmp_path)
    assert "e+0" not in planned_why(tmp_path)


def planned_why(tmp_path):
    """Return what is told of the pH of the bed of unknown soil."""
    garden = st.open_garden(tmp_path / "unknown")
    return st.plan(garden, season="spring 2027", rules=QUICK).expected.set_index("analyte").at["pH", "why"]


@pytest.mark.parametrize("lacking", [{"P": 10}, {"Ca": 300}, {"Mg": 20}])
def test_lime_goes_by_pH_and_sulphur_makes_no_room_for_it(tmp_path, lacking):
    """At pH 6.6 nothing is limed for its calcium or phosphorus, nor acidified for that (common practice)."""
    found = planned(tmp_path, FULL | lacking)
    shed = found.bench.shed
    value = dict(zip(shed.names, shed.total.mean(axis=0)[:, BRINGS.index("CCE")], strict=True))
    assert len(found.doses)
    assert all(-0.5 < value[name] < 0.5 for name in found.doses["material"])
    named = [name for why in found.binding["why"] for name in why.split(";")[-1].split(" or ")]
    assert not {"ground chalk", "oyster shell meal", "dolomite"} & {name.strip() for name in named}


def test_nothing_is_given_to_make_room_for_something_else(tmp_path):
    """On poor sand a meal that acidifies a little would let more lime on: each dose has its own reason."""
    found = planned(tmp_path, {"pH": 5.0, "P": 8, "K": 25, "Ca": 200, "Mg": 15, "CEC": 3})
    assert len(found.doses) >= 4
    assert found.doses["why"].str.match(r"by the next test, with nothing added, (pH|P|K|Ca|Mg) \d").all()


def test_a_sour_bed_gets_no_sulphur_for_sulphur(tmp_path):
    """Sulphur of 0.9 g/g makes acid like 2.8 g of CaCO3 (stoichiometry); sulphates bring it without."""
    own = '[aims]\nS = {low = 40, high = 60}\n'
    sour = FULL | {"pH": 5.4, "Buffer pH": 6.3, "S": 8}
    found = planned(tmp_path, sour, materials=SULPHUR, bed=own)
    assert "elemental sulphur" not in set(found.doses["material"])
    assert "S" in set(found.binding["aim"])
    (tmp_path / "sweet").mkdir()
    sweet = planned(tmp_path / "sweet", FULL | {"S": 8}, materials=SULPHUR, bed=own)
    assert set(sweet.doses["material"]) == {"elemental sulphur"}


def test_parts_of_one_material_never_meet_on_a_day(tmp_path):
    """Where the months of a material push its parts on, they stay four weeks apart (common practice)."""
    poor = {"P": 10, "K": 40, "Mg": 20, "Ca": 300, "pH": 5.4, "Buffer pH": 6.3}
    found = planned(tmp_path, FULL | poor)
    gaps = found.doses.groupby("material")["date"].apply(lambda days: days.sort_values().diff().min())
    assert (found.doses["material"].value_counts() > 1).any()
    assert (gaps.dropna() >= pd.Timedelta(days=28)).all()


def test_no_ash_where_blueberries_are_to_grow(tmp_path):
    """Oregon State Univ. EM 9057: blueberries want pH 4.5 to 5.5; at 6.1 nothing that limes goes on."""
    found = planned(tmp_path, FULL | {"pH": 6.1, "K": 40}, materials=ASH, bed='crop = "Blueberries"\n')
    assert "wood ash" in held(found)
    assert "its ceiling of 5.50" in found.hold.set_index("what").at["wood ash", "why"]
    told = found.cautions.set_index("about").at["pH", "caution"]
    assert told.startswith("pH 6.1 is above the 5.5 wanted for Blueberries")
    (tmp_path / "bean").mkdir()
    bean = planned(tmp_path / "bean", FULL | {"pH": 6.1, "K": 40}, materials=ASH, bed='crop = "bean"\n')
    assert bean.expected.set_index("analyte").at["pH", "ceiling"] == 7.0
    assert "pH" not in set(bean.cautions["about"])


def test_what_holds_most_of_it_is_named_first(tmp_path):
    """Of the table: bone meal before rock phosphate, dolomite before chalk, potash before greensand."""
    found = planned(tmp_path, FULL | {"P": 300, "K": 600, "pH": 7.9})
    told = set(found.hold["what"])
    assert "whatever brings P (bone meal, raw bone meal, rock phosphate ...)" in told
    assert "whatever limes (dolomite, ground chalk, oyster shell meal ...)" in told
    assert "whatever brings K (sulphate of potash, potassium magnesium sulphate, greensand ...)" in told


def test_tests_outweigh_a_log_that_never_showed(tmp_path):
    """A barrow of compost each spring and six equal tests: the bed stands where they say, K, P, Mg and pH."""
    (tmp_path / "reports").mkdir()
    (tmp_path / "garden.toml").write_text(
        '[beds."Otter"]\narea_m2 = 1.44\ndepth_cm = 20\nbulk_density = 1.05\n', encoding="utf-8"
    )
    head = "Sample,Bed,Sampled,pH (water 1:2.5),P (Olsen) mg/kg,K (ammonium acetate) mg/kg\n"
    rows = "".join(f"O{year},Otter,{year}-11-10,6.5,35,200\n" for year in range(2021, 2027))
    (tmp_path / "reports" / "all.csv").write_text(head + rows, encoding="utf-8")
    log = "".join(f"{year}-04-06,Otter,garden compost,1,barrow\n" for year in range(2022, 2027))
    (tmp_path / "applications.csv").write_text("date,bed,material,amount,unit\n" + log, encoding="utf-8")
    found = st.plan(st.open_garden(tmp_path), season="autumn 2027", rules=QUICK).expected.set_index("analyte")
    for analyte, value in {"K": 200.0, "P": 35.0, "pH": 6.5}.items():
        assert found.at[analyte, "now"] == pytest.approx(value, rel=0.05)
        assert found.at[analyte, "now_low"] < value < found.at[analyte, "now_high"]


def test_a_lime_laid_on_after_the_last_test_still_counts(tmp_path):
    """And one laid on shortly before it: what it has still to do is not in the record."""
    (tmp_path / "reports").mkdir()
    (tmp_path / "garden.toml").write_text('[beds."East"]\narea_m2 = 10\n', encoding="utf-8")
    head = "Sample,Bed,Sampled,pH (water 1:1),Buffer pH (Sikora),CEC cmol/kg\n"
    rows = "".join(f"E{year},East,{year}-04-10,5.6,6.5,9\n" for year in range(2022, 2027))
    (tmp_path / "reports" / "all.csv").write_text(head + rows, encoding="utf-8")
    levels = []
    for day in ("", "2026-05-01", "2026-03-20"):
        line = f"{day},East,calcitic limestone,4,kg\n" if day else ""
        text = "date,bed,material,amount,unit\n" + line
        (tmp_path / "applications.csv").write_text(text, encoding="utf-8")
        found = st.plan(st.open_garden(tmp_path), season="spring 2027", rules=QUICK).expected
        levels.append(found.set_index("analyte").at["pH", "now"])
    assert levels[1] > levels[0] + 0.2
    assert levels[2] > levels[0] + 0.1


@pytest.mark.parametrize(("on_hand", "grams"), [("0", 0.0), ("0.05", 44.0)])
def test_what_has_no_price_is_given_no_further_than_it_goes(tmp_path, on_hand, grams):
    """Nothing left is a stock too; the plan says that it is the shed that ends, not what a bed takes."""
    shed = f"material,cost_per_kg,on_hand_kg\nsulphate of potash,,{on_hand}\n"
    found = planned(tmp_path, FULL | {"K": 30}, materials=shed)
    assert found.doses["grams"].sum() == pytest.approx(grams)
    why = found.binding.set_index("aim").loc["K", "why"]
    assert why.startswith("what is on hand of sulphate of potash does not close all of it")
    assert "cost_per_kg" in why
    assert "goes on next year" not in why


@pytest.mark.parametrize("more", ["2,0", ","])
def test_what_has_a_price_or_no_stock_told_can_be_had(tmp_path, more):
    """A price stands for more of it, and a blank says nothing of how much there is."""
    shed = f"material,cost_per_kg,on_hand_kg\nsulphate of potash,{more}\n"
    found = planned(tmp_path, FULL | {"K": 30}, materials=shed)
    assert found.doses["grams"].sum() > 300
    assert "K" not in set(found.binding["aim"])


@pytest.mark.parametrize(("crop", "kept"), [("bean", True), ("carrot", False)])
def test_boron_is_held_where_beans_are_to_grow(tmp_path, crop, kept):
    """Ontario dry bean agronomy pages: no boron on beans. Other crops get theirs, away from their sowing."""
    bed = f'crop = "{crop}"\nsowing = 2027-05-20\n'
    own = '[aims]\nB = {low = 0.5, high = 2, method = "Mehlich-3"}\n'
    found = planned(tmp_path, FULL | {"B": 0.2}, materials="material\nborax\n", bed=bed + own)
    assert ("borax" in held(found)) == kept
    assert (found.doses["material"] == "borax").any() != kept
    assert (found.doses["date"] <= pd.Timestamp(2027, 5, 6)).all()
