"""Lime: each system gives its published answers and none beyond them; fineness; sulphur."""

import numpy as np
import pandas as pd
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from molmass import Formula

from soiltrend import frames, tables, units, vocabulary
from soiltrend.errors import SoiltrendError
from soiltrend.lime import (
    efficiency,
    fineness_systems,
    lime_need,
    lime_requirement,
    lime_rise,
    lime_systems,
    lime_value,
    residual_credit,
    sulphur_to_lower,
    system_row,
    systems_of,
    unsaturation,
)
from soiltrend.lime.dressings import dressings
from soiltrend.materials import known_materials

TON = 2000 * units.factor("lb/acre", "g/m2")
"""A short ton on an acre [g/m2]."""

KNOWN = known_materials()
OREGON = tables.load("lime_tables", numbers=("reading", "target", "lime")).query("system == 'Oregon 2025'")


def tons(system, **told):
    """Return short tons per acre at the system's own depth."""
    return lime_need(system, **told) / TON


def test_the_worked_line_of_oregon():
    """Sikora 6.0, target 5.6, 6 inches, 100-score lime: 1.7 t/acre (Oregon State Univ. EM 9585)."""
    assert tons("Oregon 2025", pH=5.0, reading=6.0, target=5.6) == pytest.approx(1.7)


def test_every_cell_of_the_oregon_table():
    """All 110 cells of table 1 of EM 9585 come back as printed."""
    assert len(OREGON) == 110
    found = tons("Oregon 2025", pH=4.0, reading=OREGON["reading"], target=OREGON["target"])
    assert found == pytest.approx(OREGON["lime"].to_numpy())


@given(st.floats(4.8, 6.9), st.floats(4.8, 6.9), st.floats(5.6, 7.2), st.floats(5.6, 7.2))
def test_sourer_soil_and_higher_target_never_need_less(one, other, low, high):
    """Monotone down each column and across each row, between the lines too."""
    reading, target = sorted((one, other)), sorted((low, high))
    by_reading = lime_need("Oregon 2025", pH=4.0, reading=reading, target=target[0])
    by_target = lime_need("Oregon 2025", pH=4.0, reading=reading[0], target=target)
    assert by_reading[0] >= by_reading[1] - 1e-6
    assert by_target[1] >= by_target[0] - 1e-6


OUTSIDE = [
    ("Oregon 2025", 5.0, 7.0, 6.0),
    ("Oregon 2025", 5.0, 4.7, 6.0),
    ("Oregon 2025", 5.0, 6.0, 7.3),
    ("Oregon 2025", 5.0, 6.0, 5.5),
    ("Tri-State 1995", 5.0, 6.0, 7.0),
    ("North Carolina", 5.0, 6.7, 6.0),
    ("Adams-Evans", 5.0, 6.9, 6.0),
    ("Adams-Evans", 4.4, 7.7, 6.0),
    ("CEC and pH", 4.0, 10.0, 6.0),
]


@pytest.mark.parametrize(("system", "pH", "reading", "target"), OUTSIDE)
def test_nothing_is_drawn_out_beyond_a_table(system, pH, reading, target):
    """Outside a system's range the answer is missing."""
    assert np.isnan(lime_need(system, pH=pH, reading=reading, target=target))


@pytest.mark.parametrize("system", lime_systems().index)
def test_at_the_target_nothing_is_needed(system):
    """A soil at its target or above gets no lime, whatever its buffer reads."""
    row = system_row(system)
    assert lime_need(system, pH=6.5, reading=row["reading_high"], target=6.5) == 0


def test_the_worked_example_of_north_carolina():
    """pH 5.0, target 6.0, acidity 1.2: factor 0.625; NCDA&CS prints 0.76 t/acre, 1.2 x 0.625 is 0.75."""
    found = tons("North Carolina", pH=5.0, reading=6.6 - 1.2 / 4, target=6.0)
    assert found == pytest.approx(0.75)
    assert found == pytest.approx(0.76, abs=0.011)


@pytest.mark.parametrize(("medium", "share"), [("mineral soil", 0.6), ("organic soil", 0.2)])
def test_what_is_left_of_the_last_lime(medium, share):
    """8 % of the last dressing a month is taken as used on mineral soil, 16 % on others (NCDA&CS)."""
    assert residual_credit(1.0, months=5, medium=medium) == pytest.approx(share)
    assert residual_credit(1.0, months=50, medium=medium) == 0
    plain = lime_need("North Carolina", pH=5.0, reading=6.3, target=6.0)
    assert lime_need("North Carolina", pH=5.0, reading=6.3, target=6.0, credit=100.0) == plain - 100
    assert lime_need("North Carolina", pH=5.0, reading=6.3, target=6.0, credit=9999.0) == 0


TRI_STATE = [
    (target, reading, lime)
    for target, printed in {
        6.8: {6.8: 1.4, 6.5: 4.5, 6.2: 7.5, 6.0: 9.6, 5.5: 14.8},
        6.5: {6.5: 3.8, 6.2: 6.4, 6.0: 8.1, 5.5: 12.5, 5.0: 16.9},
        6.0: {6.5: 3.1, 6.2: 5.2, 6.0: 6.6, 5.5: 10.2, 5.0: 13.7},
    }.items()
    for reading, lime in printed.items()
]


@pytest.mark.parametrize(("target", "reading", "printed"), TRI_STATE)
def test_tri_state_lines_against_the_older_table(target, reading, printed):
    """The 1995 lines meet the North Central SMP table (Shoemaker et al. 1961; from memory)."""
    ground = tons("Tri-State 1995", pH=4.5, reading=reading, target=target) / 0.9
    assert ground == pytest.approx(printed, abs=0.13)


def test_older_numbers_are_about_twice_the_newer():
    """At buffer 6.5 and target 6.8 the lines of 1995 stand near twice Oregon's table of 2025."""
    both = [tons(system, pH=5.5, reading=6.5, target=6.8) for system in ("Oregon 2025", "Tri-State 1995")]
    assert 1.4 < both[1] / both[0] < 2


def test_adams_evans_before_the_saturation_terms():
    """8000 x (8 - 7.7) = 2400 lb CaCO3/acre before saturation and surcharge (Huluka)."""
    part = 1 - unsaturation(6.5) / unsaturation(5.0)
    pounds = lime_need("Adams-Evans", pH=5.0, reading=7.7, target=6.5) / units.factor("lb/acre", "g/m2")
    assert pounds / part / 1.5 == pytest.approx(2400)


@given(st.floats(4.6, 7.7))
def test_the_curve_of_adams_and_evans_turns_back(pH):
    """H from pH gives that pH again: pH = 7.79 - 5.55 H + 2.27 H^2 (Adams & Evans 1962; from memory)."""
    part = unsaturation(pH)
    assert 0 <= part <= 1
    assert 7.79 - 5.55 * part + 2.27 * part**2 == pytest.approx(pH)


def test_a_milliequivalent_of_acidity():
    """1 meq/100 g: 500 mg CaCO3/kg, 1000 lb/acre in 2,000,000 lb, 1.30 t/ha at 20 cm, 1.3 g/cm3."""
    milligrams = 10 / 2 * Formula("CaCO3").mass
    assert milligrams == pytest.approx(500, rel=0.002)
    part = unsaturation(5.0) - unsaturation(6.5)
    pounds = lime_need("CEC and pH", pH=5.0, reading=1 / part, target=6.5) / units.factor("lb/acre", "g/m2")
    assert pounds == pytest.approx(milligrams * 1e-6 * 2e6, rel=1e-4)
    metric = units.convert(milligrams, unit="mg/kg", to="t/ha", depth_cm=20, bulk_density=1.3)
    assert metric == pytest.approx(1.30, abs=0.005)


SLICES = [(6.7, 1.33, 2_000_000, 0.02), (6.0, 1.33, 1_808_322, 1e-3)]


@pytest.mark.parametrize(("inches", "density", "pounds", "off"), SLICES)
def test_the_acre_furrow_slice(inches, density, pounds, off):
    """Penn State Extension: 6.7 in at 1.33 is about 2,000,000 lb; M. Wander (NRDC): 6 in is 1,808,322 lb."""
    layer = {"depth_cm": inches * 2.54, "bulk_density": density}
    assert 1e6 * units.convert(1.0, unit="mg/kg", to="lb/acre", **layer) == pytest.approx(pounds, rel=off)


def test_an_acre_of_six_inches_in_kilograms():
    """M. Wander, published by L. Bryant (NRDC): 616.74 m3 at 1.33 weigh 820,264 kg."""
    layer = {"depth_cm": 15.24, "bulk_density": 1.33}
    per_m2 = 1e6 * units.convert(1.0, unit="mg/kg", to="kg/m2", **layer)
    assert per_m2 * pint.UnitRegistry()("acre").to("m**2").magnitude == pytest.approx(820_264, rel=1e-4)


def test_a_course_manual_is_3_percent_out():
    """20.32 cm at 1.2 g/cm3 on a true acre is 2,175,491 lb; a course manual's short acre gave 2,104,269."""
    layer = {"depth_cm": 20.32, "bulk_density": 1.2}
    assert 1e6 * units.convert(1.0, unit="mg/kg", to="lb/acre", **layer) == pytest.approx(2_175_491, rel=1e-4)


@given(st.sampled_from(sorted(lime_systems().index)), st.floats(5, 40))
def test_lime_goes_with_the_depth(system, depth):
    """Twice the layer, twice the lime; at the system's own depth its own answer."""
    row = system_row(system)
    told = {"pH": 5.2, "reading": (row["reading_low"] + row["reading_high"]) / 2, "target": 6.2}
    own = lime_need(system, **told)
    assert lime_need(system, **told, depth_cm=depth) == pytest.approx(own * depth / row["depth_cm"])
    assert own > 0


@given(st.floats(5.0, 6.9), st.floats(4.2, 6.0), st.floats(0.05, 1.2))
def test_a_rise_is_a_need_read_backwards(reading, pH, step):
    """The lime for a target brings that target, and more lime never a lower pH."""
    target = max(5.6, pH + step)
    need = lime_need("Oregon 2025", pH=pH, reading=reading, target=target)
    reached = lime_rise("Oregon 2025", pH=pH, reading=reading, lime=[0.0, need / 2, need])
    assert (np.diff(reached) >= -1e-9).all()
    if need > 0 and need < lime_need("Oregon 2025", pH=pH, reading=reading, target=min(target + 0.05, 7.2)):
        assert reached[-1] == pytest.approx(target, abs=0.021)


def test_beyond_the_table_no_rise_is_told():
    """More lime than the table's highest target takes has no pH."""
    assert np.isnan(lime_rise("Oregon 2025", pH=5.0, reading=6.0, lime=1e5))
    assert lime_rise("Oregon 2025", pH=5.2, reading=6.9, lime=[0.0]).tolist() == [5.2], "no lime, no rise"


def test_unknown_names_and_depths_are_refused():
    """The error lists what is known."""
    with pytest.raises(SoiltrendError, match="'Ohio' is no system of lime requirement"):
        lime_need("Ohio", pH=5, reading=6, target=6)
    with pytest.raises(SoiltrendError, match="depth_cm = 0 is not a positive number"):
        lime_need("Oregon 2025", pH=5, reading=6, target=6, depth_cm=0)
    assert systems_of("Woodruff") == []


# fineness -------------------------------------------------------------------

SIEVES = {8: 98, 20: 90, 60: 60, 100: 45}
BY_HAND = [
    ("New York, three classes", 69.0, 63.5),
    ("New York, two classes", 72.0, 66.2),
    ("Ohio type", 79.6, 73.2),
]


@pytest.mark.parametrize(("system", "factor", "value"), BY_HAND)
def test_one_powder_by_three_systems(system, factor, value):
    """CCE 92 %: Cornell adviser course, Cornell Agronomy Fact Sheet 7, Ohio's factors (worked by hand)."""
    row = lime_value(92, passing=SIEVES).table.set_index("system").loc[system]
    assert row["efficiency"] == pytest.approx(factor)
    assert row["value"] == pytest.approx(value, abs=0.05)


def test_both_tables_of_one_state_give_their_own_answers():
    """Cornell's two published scales: 20-60 mesh acts to 0.40 or 0.60, 60-100 mesh to 0.80 or 0.60."""
    medium, fine = {20: 100, 60: 0, 100: 0}, {20: 100, 60: 100, 100: 0}
    assert efficiency(medium, system="New York, three classes") == 0.40
    assert efficiency(medium, system="New York, two classes") == 0.60
    assert efficiency(fine, system="New York, three classes") == 0.80
    assert efficiency(fine, system="New York, two classes") == 0.60


@pytest.mark.parametrize("system", fineness_systems())
def test_dust_is_whole_and_gravel_nothing(system):
    """All below 100 mesh acts in full; all above 8 mesh not at all."""
    assert efficiency({8: 100, 20: 100, 60: 100, 100: 100}, system=system) == 1
    assert efficiency({8: 0, 20: 0, 60: 0, 100: 0}, system=system) == 0


@given(st.lists(st.floats(0, 100), min_size=4, max_size=4), st.sampled_from(fineness_systems()))
def test_finer_is_never_worth_less(shares, system):
    """Grinding a lime finer never lowers its efficiency, which stays between 0 and 1."""
    coarse = dict(zip((8, 20, 60, 100), sorted(shares, reverse=True), strict=True))
    finer = {mesh: min(100.0, share + 5) for mesh, share in coarse.items()}
    assert 0 <= efficiency(coarse, system=system) <= efficiency(finer, system=system) + 1e-9 <= 1 + 2e-9


def test_a_mesh_not_tested_is_not_guessed():
    """A system whose sieve is missing says which it needs."""
    table = lime_value(92, passing={20: 90, 100: 45}).table.set_index("system")
    assert table.at["New York, two classes", "efficiency"] == pytest.approx(72)
    assert np.isnan(table.at["New York, three classes", "value"])
    assert table.at["New York, three classes", "why"] == "needs the shares through mesh 20, 60, 100"


@pytest.mark.parametrize(("cce", "needed"), [(50, 2.0), (150, 2 / 3)])
def test_weaker_limes_take_more(cce, needed):
    """A call for 1 t at CCE 100: 2 t of CCE 50, 67 % of CCE 150 (Clemson Univ. soil laboratory note)."""
    dust = {8: 100, 20: 100, 60: 100, 100: 100}
    assert lime_value(cce, passing=dust).table["per_100"].to_numpy() / 100 == pytest.approx(needed)


EQUIVALENTS = [
    ("MgCO3", 119, 1680),
    ("CaO2H2", 135, 1480),
    ("MgO2H2", 172, 1160),
    ("CaO", 178, 1120),
    ("MgO", 250, 800),
]


@pytest.mark.parametrize(("formula", "percent", "pounds"), EQUIVALENTS)
def test_pounds_that_do_the_work_of_a_ton(formula, percent, pounds):
    """2000 lb of CaCO3: Univ. of Nebraska's plant and soil e-library, table 4.4; exact by molmass."""
    exact = 100 * Formula("CaCO3").mass / Formula(formula).mass
    dust = {8: 100, 20: 100, 60: 100, 100: 100}
    assert lime_value(exact, passing=dust).table["per_100"].iloc[0] * 20 == pytest.approx(pounds, rel=0.01)
    assert exact == pytest.approx(percent, rel=0.008)


@pytest.mark.parametrize(
    ("cce", "passing", "words"),
    [
        (0, SIEVES, "a neutralising value of 0 % is none"),
        (90, {20: 50, 60: 70}, "is no sieve test"),
        (90, {20: 150}, "is no sieve test"),
    ],
)
def test_a_lime_that_is_none_is_refused(cce, passing, words):
    """Gypsum has no neutralising value, and more cannot pass a finer sieve."""
    with pytest.raises(SoiltrendError, match=words):
        lime_value(cce, passing=passing)
    with pytest.raises(SoiltrendError, match="'Kansas' is no fineness system"):
        efficiency(SIEVES, system="Kansas")


# beds -----------------------------------------------------------------------


def soil(*rows, bed="East", day="2024-04-08", depth=15.0):
    """Return a tidy frame of (analyte, method, value) rows of one bag."""
    same = {"bed": bed, "sampled": pd.Timestamp(day), "top_cm": 0.0, "bottom_cm": depth}
    named = [same | dict(zip(("analyte", "method", "value"), row, strict=True)) for row in rows]
    return frames.results([row | {"unit": vocabulary.canonical_unit(row["analyte"])} for row in named])


SIKORA = (("pH", "water 1:1", 5.4), ("buffer pH", "Sikora", 6.5), ("CEC", "summation", 9.0))


def test_systems_that_read_one_buffer_stand_side_by_side():
    """A Sikora reading is read by Oregon's table and, as SMP, by the Tri-State lines: a range."""
    need = lime_requirement(soil(*SIKORA), target=6.5)
    table = need.table
    assert table["system"].tolist() == ["Oregon 2025", "Tri-State 1995"]
    assert (table["strength"] == "measured").all()
    assert (table["low"] == table["g_per_m2"].min()).all()
    assert (table["high"] == table["g_per_m2"].max()).all()
    assert table["kg_per_ha"].to_numpy() == pytest.approx(10 * table["g_per_m2"].to_numpy())
    assert table["t_per_acre"].to_numpy() == pytest.approx(table["g_per_m2"].to_numpy() / TON)
    assert table["why"].str.contains("made for Oregon, 15.24 cm and lime of 100 %").iloc[0]
    assert "Lime to pH 6.5" in repr(need)
    assert "<table" in need._repr_html_()


def test_without_a_buffer_the_estimate_is_weak():
    """CEC and pH alone give an estimate marked weak, half to double."""
    row = lime_requirement(soil(*SIKORA[::2]), target=6.5).table.iloc[0]
    assert (row["system"], row["strength"]) == ("CEC and pH", "weak")
    assert (row["low"], row["high"]) == pytest.approx((row["g_per_m2"] / 2, row["g_per_m2"] * 2))


def test_a_buffer_is_never_read_by_anothers_table():
    """A Mehlich buffer goes to North Carolina's rule only; an unknown buffer to the weak estimate."""
    mehlich = soil(("pH", "water", 5.0), ("buffer pH", "Mehlich buffer", 6.3))
    assert lime_requirement(mehlich, target=6.0).table["system"].tolist() == ["North Carolina"]
    woodruff = soil(("pH", "water", 5.0), ("buffer pH", "Woodruff", 6.3), ("CEC", "summation", 9.0))
    assert lime_requirement(woodruff, target=6.0).table["strength"].tolist() == ["weak"]


NOTHING = [
    ((("pH", "CaCl2", 5.4), ("buffer pH", "Sikora", 6.5)), "no pH in water"),
    ((("pH", "water", 5.4),), "no buffer pH known here and no CEC on the last day"),
]


@pytest.mark.parametrize(("rows", "why"), NOTHING)
def test_what_cannot_be_told_is_said(rows, why):
    """A bed without what is needed has a row with the reason."""
    row = lime_requirement(soil(*rows), target=6.5).table.iloc[0]
    assert (row["strength"], row["why"]) == ("none", why)
    assert np.isnan(row["g_per_m2"])


def test_a_reading_that_is_only_a_bound_is_not_used():
    """A buffer pH below what the laboratory reads is no reading of it."""
    bounded = soil(*SIKORA)
    bounded.loc[bounded["analyte"] == "buffer pH", "qualifier"] = "<"
    assert lime_requirement(bounded, target=6.5).table["system"].tolist() == ["CEC and pH"]


def test_a_bed_above_its_target_needs_nothing():
    """Zero is an answer, with its reason."""
    row = lime_requirement(soil(("pH", "water", 7.1), *SIKORA[1:]), target=6.5).table.iloc[0]
    assert row["g_per_m2"] == 0
    assert row["why"] == "pH 7.1 is at the target or above: no lime"


def test_outside_the_table_the_row_says_so():
    """A target no table has gives none, and names it."""
    table = lime_requirement(soil(*SIKORA), target=7.4).table
    assert table["g_per_m2"].isna().all()
    assert table["why"].iloc[0].startswith("none: target 7.4 lies outside 5.6 to 7.2")


def test_the_last_day_counts_and_the_layer_is_the_sampled_one():
    """An older test is not mixed in; the depth is that of the sample unless another is asked for."""
    old = soil(("pH", "water", 4.9), ("buffer pH", "Sikora", 5.5), day="2020-04-01")
    both = frames.results(pd.concat([old, soil(*SIKORA, depth=20.0)]))
    table = lime_requirement(both, target=6.4).table
    assert (table["reading"] == 6.5).all()
    assert (table["depth_cm"] == 20).all()
    shallow = lime_requirement(both, target=6.4, depth_cm=10).table
    assert shallow["g_per_m2"].to_numpy() == pytest.approx(table["g_per_m2"].to_numpy() / 2)


@pytest.mark.parametrize("name", ["calcitic limestone", "eggshell", "wood ash", "slaked lime"])
def test_the_same_by_another_lime(name):
    """Grams of the material stand in a range around its neutralising value and its year."""
    table = lime_requirement(soil(*SIKORA), target=6.5, material=KNOWN.loc[name]).table
    assert (table["material"] == name).all()
    assert (table["material_low"] <= table["material_g_per_m2"]).all()
    assert (table["material_g_per_m2"] <= table["material_high"]).all()
    assert table["material_kg_per_ha"].to_numpy() == pytest.approx(10 * table["material_g_per_m2"].to_numpy())
    assert table["material_t_per_acre"].to_numpy() == pytest.approx(
        table["material_g_per_m2"].to_numpy() / TON
    )
    strong = name == "slaked lime"
    assert (table["material_g_per_m2"].iloc[0] < table["g_per_m2"].iloc[0]) == strong


def test_a_sieve_test_goes_before_the_words_for_a_grind():
    """With its sieves the material's range is that of the fineness systems."""
    row = lime_requirement(
        soil(*SIKORA), target=6.5, material=KNOWN.loc["dolomite"], passing=SIEVES
    ).table.iloc[0]
    assert row["material_g_per_m2"] == pytest.approx(row["g_per_m2"] / (1.01 * 0.72))


@pytest.mark.parametrize("name", ["gypsum", "elemental sulphur", "epsom salt", "leaf mould"])
def test_gypsum_is_never_lime(name):
    """What does not neutralise acid is refused, and nothing is given in its place."""
    with pytest.raises(SoiltrendError, match=f"the neutralising value of '{name}' is .*it is no lime"):
        lime_requirement(soil(*SIKORA), target=6.5, material=KNOWN.loc[name])


@pytest.mark.parametrize("target", [float("nan"), 0.0, -6.5, 65.0])
def test_a_target_that_is_no_ph_is_refused(target):
    """The scale ends at 14; nothing is answered for no number."""
    with pytest.raises(SoiltrendError, match=f"target = {target} is no pH. Give the pH wanted, such as 6.5"):
        lime_requirement(soil(*SIKORA), target=target)


def test_an_empty_frame_is_an_empty_answer():
    """No beds, no rows."""
    assert lime_requirement(frames.results(), target=6.5).table.empty


# sulphur --------------------------------------------------------------------


@pytest.mark.parametrize(("texture", "grams"), [("sand", 135), ("clay", 270)])
def test_sulphur_of_the_horticultural_society(texture, grams):
    """RHS: 135 g/m2 on sand to 270 on clay from 7.0-7.5 to 6.0-6.5, that is 27.7 to 55.3 lb/1000 ft2."""
    table = sulphur_to_lower(7.2, target=6.2, texture=texture).table
    assert table["g_per_m2"].iloc[0] == pytest.approx(grams)
    pounds = units.convert(grams, unit="g/m2", to="lb/1000 sq ft")
    assert pounds == pytest.approx({135: 27.7, 270: 55.3}[grams], abs=0.06)
    ratio = Formula("CaCO3").mass / Formula("S").mass
    assert table["lime_undone"].iloc[0] == pytest.approx(grams * ratio, rel=2e-4)


def test_the_last_day_is_that_of_the_topsoil_however_deep_it_begins():
    """Sampled from 0-15 cm, and two years later from 2-17 cm, the mulch raked off: the later day counts."""
    rows = [
        {"bed": "East", "sampled": pd.Timestamp(year, 4, 8), "analyte": "pH", "method": "water 1:1",
         "value": pH, "unit": "pH", "top_cm": top, "bottom_cm": top + 15}
        for year, pH, top in ((2024, 5.2, 0.0), (2026, 6.0, 2.0), (2027, 4.8, 20.0))
    ]  # fmt: skip
    frame = frames.results([*rows, rows[1] | {"analyte": "buffer pH", "method": "Sikora", "value": 6.7}])
    assert set(lime_requirement(frame, target=6.4).table["pH"]) == {6.0}


def test_a_depth_below_nothing_is_refused():
    """Half of nothing is no dose, and less than nothing none at all."""
    for depth in (-15.0, 0.0):
        with pytest.raises(SoiltrendError, match="is no depth"):
            sulphur_to_lower(7.2, target=6.2, texture="clay", depth_cm=depth)


def test_sources_of_sulphur_disagree_and_both_stand():
    """Garden pages give a half to a third of the RHS dose; out of its range the RHS gives none."""
    both = sulphur_to_lower(7.2, target=6.2, texture="clay").table["g_per_m2"]
    assert 2 < both[0] / both[1] < 3
    table = sulphur_to_lower(6.8, target=6.2, texture="clay").table
    assert np.isnan(table["g_per_m2"].iloc[0])
    assert table["why"].iloc[0] == "not given by this source (it speaks of pH 7.0 to 7.5)"


REFUSED = [
    ({"fizzes": True}, "fizzes with vinegar"),
    ({"target": 7.4}, "a target of 7.4 is not below pH 7.2"),
    ({"texture": "peat"}, "'peat' is no texture here"),
]


@pytest.mark.parametrize(("told", "words"), REFUSED)
def test_sulphur_is_not_for_every_soil(told, words):
    """A limy soil, a target that is no drop and an unknown texture are refused."""
    with pytest.raises(SoiltrendError, match=words):
        sulphur_to_lower(7.2, **({"target": 6.2, "texture": "clay"} | told))


def test_sulphur_comes_with_its_caution():
    """The result says to split it and to test again."""
    found = sulphur_to_lower(7.2, target=6.2, texture="sand", depth_cm=7.5)
    assert "test again before the next dose" in repr(found)
    assert found.table["g_per_m2"].tolist() == pytest.approx([67.5, 24.4])
    assert "<table" in found._repr_html_()


@pytest.mark.parametrize(("drop", "share"), [(0.5, 0.5), (0.2, 0.2)])
def test_sulphur_goes_with_the_drop(drop, share):
    """Acid neutralises in proportion (stoichiometry): half the drop of pH, half the sulphur."""
    whole = sulphur_to_lower(7.2, target=6.2, texture="clay").table["g_per_m2"]
    part = sulphur_to_lower(7.2, target=7.2 - drop, texture="clay").table["g_per_m2"]
    assert part.tolist() == pytest.approx((share * whole).tolist())


@pytest.mark.parametrize(("pH", "grams"), [(7.0, 270.0), (7.5, 270.0), (6.9, np.nan), (7.6, np.nan)])
def test_sulphur_to_the_ends_of_a_source(pH, grams):
    """RHS: 270 g/m2 on clay for one unit, from 7.0 to 7.5, both ends told and nothing beyond them."""
    found = sulphur_to_lower(pH, target=pH - 1.0, texture="clay").table
    assert found["g_per_m2"].iloc[0] == pytest.approx(grams, nan_ok=True)


def test_a_drop_beyond_a_source_is_not_drawn_out():
    """Both sources speak of one unit of pH: of 1.1 neither says a word."""
    assert sulphur_to_lower(7.2, target=6.1, texture="clay").table["g_per_m2"].isna().all()


def test_no_drop_is_no_target():
    """A target at the pH asks for nothing."""
    with pytest.raises(SoiltrendError, match=r"7\.2 is not below pH 7\.2"):
        sulphur_to_lower(7.2, target=7.2, texture="clay")


@pytest.mark.parametrize(
    ("pounds", "parts"), [(0, 0), (4, 1), (10, 1), (11, 2), (20, 2), (22, 3), (31, 4)]
)
def test_dressings_of_lime(pounds, parts):
    """Penn State AASL, home garden notes: to 10 lb/100 ft2 of lime at once, 11 to 20 in two dressings, 21 and
    more in three, half a year apart; never more than 10 at a time, so four from 31."""
    grams = pounds * units.factor("lb/1000 ft2", "g/m2") * 10
    count, words = dressings(grams, KNOWN.loc["calcitic limestone"])
    assert count == parts
    if parts > 1:
        assert "half a year apart" in words
        assert "Penn State" in words
        assert words.startswith(f"{parts} dressings of ")


@pytest.mark.parametrize(
    ("pounds", "rule"),
    [
        (11, ": in two dressings, half a year apart (Penn State"),
        (22, ": in three dressings, half a year apart (Penn State"),
        (31, ": at most 488 g/m2 at a time, half a year apart (Penn State"),
    ],
)
def test_dressings_are_told_by_the_rule_that_made_them(pounds, rule):
    """Two and three by the table of rules; where that is not enough by the largest dressing."""
    _, words = dressings(pounds * units.factor("lb/1000 ft2", "g/m2") * 10, KNOWN.loc["calcitic limestone"])
    assert rule in words
    assert words.count("(") == 1


def test_a_little_lime_is_one_dressing():
    """Half a gram is a dressing, nothing is none."""
    assert dressings(0.5, KNOWN.loc["calcitic limestone"]) == (1.0, "1 dressing of 0.500 g/m2")
    assert dressings(0.0, KNOWN.loc["calcitic limestone"])[0] == 0.0


def test_caustic_lime_is_split_sooner():
    """At most 200 g/m2 of slaked lime at a time (common practice)."""
    assert dressings(450.0, KNOWN.loc["slaked lime"])[0] == 3
    assert dressings(450.0, KNOWN.loc["calcitic limestone"])[0] == 1


def test_a_need_comes_with_its_dressings():
    """EM 9585 asks for some 560 g/m2 of pure lime here: more than one dressing of any ground limestone."""
    with_lime = lime_requirement(soil(*SIKORA), target=6.5, material=KNOWN.loc["calcitic limestone"]).table
    for row in with_lime.to_dict("records"):
        count, words = dressings(row["material_g_per_m2"], KNOWN.loc["calcitic limestone"])
        assert (row["dressings"], row["split"]) == (count, words)
    pure = lime_requirement(soil(*SIKORA), target=6.5).table
    assert pure["dressings"].isna().all()
    assert (pure["split"] == "").all()


def test_lime_goes_by_a_test_of_which_only_the_season_is_known():
    """The later of two seasons tells, day or no day."""
    base = {"bed": "East", "top_cm": 0.0, "bottom_cm": 15.0, "lab": "a"}
    rows = [
        base | {"analyte": "pH", "method": "water 1:1", "unit": "pH", "value": value, "season": season,
                "sampled": day}
        for value, season, day in ((5.2, "spring 2024", None), (5.8, "autumn 2023", "2023-10-02"))
    ]  # fmt: skip
    buffer = {"analyte": "buffer pH", "method": "SMP", "unit": "pH", "value": 6.3, "season": "spring 2024"}
    rows += [base | buffer]
    found = lime_requirement(frames.results(rows), target=6.5).table
    assert (found["pH"] == 5.2).all()
    assert (found["g_per_m2"] > 0).any()
    assert found["sampled"].dt.strftime("%Y-%m-%d").unique().tolist() == ["2024-04-15"]


def test_her_own_row_of_materials_csv_is_answered():
    """It does not say how fast a lime works; where the whole row is got is told."""
    row = {"bed": "East", "sampled": "2024-04-02", "season": "spring 2024", "lab": "a", "unit": "pH"}
    rows = frames.results([row | {"analyte": "pH", "method": "water 1:1", "value": 5.4},
                           row | {"analyte": "buffer pH", "method": "Sikora", "value": 6.4}])  # fmt: skip
    own = pd.Series({"material": "my lime", "CCE": 90.0, "CCE_low": 85.0, "CCE_high": 95.0}, name=0)
    with pytest.raises(SoiltrendError, match=r"'my lime' does not say how fast it works. Take its row"):
        lime_requirement(rows, target=6.5, material=own)
