"""Next year's plan on small gardens whose right answer is known."""

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

import soiltrend as st
from soiltrend.errors import SoiltrendError
from soiltrend.plan import rows as plan_rows
from soiltrend.plan import sliders
from soiltrend.plan.ask import question
from soiltrend.story import Voice, plan_words

SEASON = "spring 2027"
HEAD = (
    "Bed,Date sampled,pH (water 1:1),Buffer pH (Sikora),P (Mehlich-3) ppm,K (Mehlich-3) ppm,"
    "Mg (Mehlich-3) ppm\n"
)
MATERIALS = """material,K,S,moisture,CCE,density,cost_per_kg,on_hand_kg,measured
sulphate of potash,42,18,0,0,1.2,1.5,5,yes
"""
LIME = "calcitic limestone,,,0,95,1.2,0.3,100,yes\n"


def write(folder, *, rows, beds="", materials=MATERIALS, extra="", units="metric"):
    """Write a garden of one lab file and open it."""
    (folder / "reports").mkdir(parents=True, exist_ok=True)
    beds = beds or '[beds."East"]\narea_m2 = 10\ndepth_cm = 15\nbulk_density = 1.3\n'
    (folder / "garden.toml").write_text(f'units = "{units}"\n{extra}\n{beds}', encoding="utf-8")
    (folder / "materials.csv").write_text(materials, encoding="utf-8")
    (folder / "reports" / "a.csv").write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")
    return st.open_garden(folder)


def springs(bed, *, pH=6.6, buffer=6.9, P=50, K=110, Mg=100):
    """Return three equal springs of a bed."""
    return [f"{bed},{year}-04-08,{pH},{buffer},{P},{K},{Mg}" for year in (2024, 2025, 2026)]


@pytest.fixture(scope="module")
def short(tmp_path_factory):
    """A garden whose only want is potassium."""
    return write(tmp_path_factory.mktemp("short"), rows=springs("East", K=60))


@pytest.fixture(scope="module")
def planned(short):
    return st.plan(short, season=SEASON)


def test_what_is_short_is_given_and_nothing_else(planned):
    """Potassium alone, once or in parts, within the plan's season."""
    assert set(planned.doses["material"]) == {"sulphate of potash"}
    assert planned.doses["date"].min() >= pd.Timestamp(2027, 3, 1)
    assert planned.doses["grams"].tolist() == pytest.approx((planned.doses["g_per_m2"] * 10).tolist())
    assert planned.table is planned.doses


@pytest.mark.parametrize("day", ["03-02", "04-15", "05-30"])
def test_the_tests_of_the_season_planned_count_on_whatever_day(tmp_path, day):
    """Sampled in spring for a plan of this spring, sooner or later than last year."""
    garden = write(tmp_path, rows=[*springs("East", K=60), f"East,2027-{day},6.6,6.9,50,300,100"])
    found = st.plan(garden, season=SEASON)
    assert found.bench.days.dressing == pd.Timestamp(f"2027-{day}") + pd.Timedelta(days=7)
    assert found.expected.set_index("analyte").loc["K", "now"] > 120
    assert found.doses.empty


def test_beds_that_are_alike_get_alike(tmp_path):
    """A name is no property of the soil: the same tests of the same size of bed, the same doses."""
    beds = "".join(f'[beds."{name}"]\narea_m2 = 10\ndepth_cm = 15\n' for name in ("East", "Zoar"))
    rows = [*springs("East", pH=5.9, buffer=6.5, K=60), *springs("Zoar", pH=5.9, buffer=6.5, K=60)]
    found = st.plan(write(tmp_path, rows=rows, beds=beds), season=SEASON)
    east, zoar = (found.doses[found.doses["bed"] == name].drop(columns="bed") for name in ("East", "Zoar"))
    assert len(east) > 0
    pd.testing.assert_frame_equal(east.reset_index(drop=True), zoar.reset_index(drop=True))


def test_the_subsoil_is_not_the_bed(tmp_path):
    """A deeper layer sampled a day later is no test of what is planned for, nor of a forecast or a lime."""
    rows = [*springs("East", K=60), *(f"East,{year}-04-09,5.0,5.9,5,12,20" for year in (2024, 2025, 2026))]
    garden = write(tmp_path, rows=rows)
    top, deep = (
        garden.results[garden.results["sampled"].dt.day == day].assign(top_cm=top, bottom_cm=top + 15)
        for day, top in ((8, 0.0), (9, 15.0))
    )
    both, alone = (replace(garden, results=part) for part in (pd.concat([deep, top]), top))
    plans = [st.plan(each, season=SEASON) for each in (both, alone)]
    now = [found.expected.set_index("analyte").loc[["pH", "K"], "now"] for found in plans]
    assert now[0].to_numpy() == pytest.approx(now[1].to_numpy(), rel=0.03)
    limes = [st.lime_requirement(st.prepared(each), target=6.5).table for each in (both, alone)]
    assert limes[0]["pH"].tolist() == limes[1]["pH"].tolist() == [6.6] * len(limes[0])
    st.save_plan(st.plan(alone, season="spring 2025"), tmp_path / "out" / "plans")
    tests = [st.review(each, folder=tmp_path / "out" / "plans").table["test"] for each in (both, alone)]
    assert tests[0].tolist() == tests[1].tolist()
    assert len(tests[0]) > 2


def test_a_test_whose_day_is_lost_is_planned_for(tmp_path):
    """The guide lets a report say its season alone: it stands for the middle of the season."""
    garden = write(tmp_path, rows=springs("East", K=60))
    lost = garden.results.assign(sampled=pd.NaT)
    plans = [st.plan(each, season=SEASON) for each in (garden, replace(garden, results=lost))]
    dated, undated = (found.expected.set_index("analyte")["now"] for found in plans)
    assert undated["K"] == pytest.approx(dated["K"], rel=0.05)
    assert plans[1].doses["g_per_m2"].sum() == pytest.approx(plans[0].doses["g_per_m2"].sum(), rel=0.2)


def test_the_dose_is_what_stoichiometry_says(planned):
    """The gain is the dose times its potassium over the mass of the layer, times the share that shows.

    g/m2 = mg/kg x bulk density x depth x 0.01 (Mengel & Kirkby, by geometry); half of what is given shows
    between the low and the high of tables/responses.csv.
    """
    row = planned.expected.set_index("analyte").loc["K"]
    given = planned.doses["g_per_m2"].sum() * 0.42 / (1.3 * 15 * 0.01)
    gain = row["after"] - row["left_alone"]
    assert 0.35 * given < gain < 0.75 * given
    assert row["now"] == pytest.approx(60, rel=0.05)


def test_the_interval_holds_its_middle_and_is_wider_than_the_standing(planned):
    """A printed test strays by more than what is known of the soil."""
    table = planned.expected
    assert ((table["low"] < table["after"]) & (table["after"] < table["high"])).all()
    assert (table["high"] - table["low"] > table["now_high"] - table["now_low"]).all()


def test_doubling_the_area_doubles_the_grams(tmp_path, planned):
    """And leaves grams to the square metre as they are."""
    beds = '[beds."East"]\narea_m2 = 20\ndepth_cm = 15\nbulk_density = 1.3\n'
    double = st.plan(write(tmp_path, rows=springs("East", K=60), beds=beds), season=SEASON)
    assert double.doses["g_per_m2"].tolist() == planned.doses["g_per_m2"].tolist()
    assert double.doses["grams"].to_numpy() == pytest.approx(2 * planned.doses["grams"].to_numpy())


def test_feet_and_inches_give_the_same_plan(tmp_path, planned):
    """107.639 ft2 are 10 m2 and 5.90551 in are 15 cm (international foot, exact)."""
    beds = '[beds."East"]\narea_ft2 = 107.6391041671\ndepth_in = 5.905511811\nbulk_density = 1.3\n'
    same = st.plan(write(tmp_path, rows=springs("East", K=60), beds=beds, units="US"), season=SEASON)
    assert same.doses["g_per_m2"].tolist() == planned.doses["g_per_m2"].tolist()
    assert same.doses["grams"].to_numpy() == pytest.approx(planned.doses["grams"].to_numpy())
    assert same.expected["after"].to_numpy() == pytest.approx(planned.expected["after"].to_numpy())


def test_a_dose_in_pounds_is_weighed_once(tmp_path):
    """In US units the weight stands before the cups of the plan; the words say it once."""
    beds = '[beds."East"]\narea_ft2 = 100\ndepth_in = 6\n'
    garden = write(tmp_path, rows=springs("East", K=60), beds=beds, units="US")
    found = st.plan(garden, season=SEASON)
    cups = found.doses["kitchen"].iloc[0]
    weight, _, measure = cups.partition(": ")
    assert weight.endswith((" oz", " lb"))
    told = plan_words(found, bed="East", voice=Voice(units="US")).description
    assert f"({measure})" in told
    assert f"{weight}: " not in told
    assert st.bed_card(garden, bed="East").facts.startswith("East: 100 ft2, 0-6 in sampled and worked")


def test_a_check_bed_gets_nothing(tmp_path):
    """Short or not: it is there to be compared with."""
    beds = '[beds."East"]\narea_m2 = 10\ncheck = true\n'
    found = st.plan(write(tmp_path, rows=springs("East", K=40), beds=beds), season=SEASON)
    assert found.doses.empty
    assert found.hold["what"].tolist() == ["everything"]
    assert "check" in found.hold["why"][0]


def test_what_is_too_high_is_held_first(tmp_path):
    """Phosphorus at three times its ceiling: compost is named in the hold list and not given."""
    compost = (
        "material,N,P,K,moisture,density,on_hand_kg,measured\ngarden compost,1.5,0.4,1.2,45,0.6,500,yes\n"
    )
    found = st.plan(write(tmp_path, rows=springs("East", P=300, K=60), materials=compost), season=SEASON)
    held = found.hold.set_index("what").loc["garden compost"]
    assert "P" in held["about"].split(", ")
    assert found.doses["g_per_m2"].sum() < 300
    stops = found.binding[found.binding["aim"] == "K"]
    assert "P" in set(stops["what"])
    assert stops["why"].str.contains("garden compost").any()


def test_sour_soil_gets_lime_by_its_buffer_and_stops_at_the_ceiling(tmp_path):
    """As EM 9585 (Oregon 2025) has it: 1.8 ton/acre, 404 g/m2, to pH 6.4 at a Sikora buffer of 6.5."""
    garden = write(
        tmp_path, rows=springs("East", pH=5.4, buffer=6.5), materials=MATERIALS + LIME,
        extra="[aims]\npH = {low = 6.2, high = 6.9, method = \"water 1:1\"}\n",
    )  # fmt: skip
    found = st.plan(garden, season=SEASON)
    lime = found.doses[found.doses["material"] == "calcitic limestone"]
    assert 250 < lime["g_per_m2"].sum() < 980
    row = found.expected.set_index("analyte").loc["pH"]
    assert row["left_alone"] < row["after"] < 6.9
    assert "Oregon 2025" in row["why"]


def test_gypsum_is_never_lime(tmp_path):
    """With gypsum alone in the shed a sour bed stays sour, and that is said."""
    gypsum = "material,Ca,S,moisture,CCE,density,measured\ngypsum,21,17,0,0,0.95,yes\n"
    found = st.plan(
        write(tmp_path, rows=springs("East", pH=5.2, buffer=6.4), materials=gypsum), season=SEASON
    )
    assert "gypsum" not in set(found.doses["material"])
    row = found.binding.set_index("aim").loc["pH"]
    assert "nothing in your shed brings pH" in row["why"]


def test_large_lime_is_split_half_a_year_apart(tmp_path):
    """Penn State AASL: more than 10 lb/100 ft2 (488 g/m2) in two dressings, six months apart."""
    garden = write(tmp_path, rows=springs("East", pH=4.9, buffer=5.9), materials=MATERIALS + LIME)
    lime = st.plan(garden, season=SEASON).doses
    lime = lime[lime["material"] == "calcitic limestone"]
    assert len(lime) == 2
    assert lime["date"].diff().dt.days.iloc[1] == 182
    assert (lime["g_per_m2"] <= 488.2).all()


def test_no_aim_of_another_extractant(tmp_path):
    """Potassium by a method without an aim is neither closed nor given one of Mehlich-3."""
    garden = write(tmp_path, rows=springs("East", K=20))
    results = garden.results.assign(
        method=garden.results["method"].where(garden.results["analyte"] != "K", "Olsen")
    )
    object.__setattr__(garden, "results", results)
    found = st.plan(garden, season=SEASON)
    row = found.expected.set_index("analyte").loc["K"]
    assert np.isnan(row["aim"])
    assert "no aim known for K by Olsen" in row["why"]
    assert found.doses.empty


def test_the_same_seed_gives_the_same_plan(short, planned):
    """And another seed nearly the same."""
    again = st.plan(short, season=SEASON)
    pd.testing.assert_frame_equal(again.expected, planned.expected)
    other = st.plan(short, season=SEASON, rules=st.PlanRules(seed=7))
    assert other.doses["g_per_m2"].sum() == pytest.approx(planned.doses["g_per_m2"].sum(), rel=0.25)


def test_saturation_prints_the_evidence_against_it(tmp_path):
    """One school, labelled: Kopittke & Menzies 2007 stands in the cautions."""
    rows = [row + ",1200,10" for row in springs("East", K=60)]
    garden = write(tmp_path, rows=rows)
    head = HEAD.rstrip("\n") + ",Ca (Mehlich-3) ppm,CEC (summation) meq/100g\n"
    (tmp_path / "reports" / "a.csv").write_text(head + "\n".join(rows) + "\n", encoding="utf-8")
    garden = st.open_garden(tmp_path)
    found = st.plan(garden, season=SEASON, approach="saturation")
    row = found.expected.set_index("analyte").loc["K"]
    assert row["aim"] == pytest.approx(78.2, rel=0.15)  # 2 % of 10 cmol/kg at 391 mg per cmol
    assert found.cautions["caution"].str.contains("Kopittke").any()


def test_a_plan_defers_to_others(planned):
    """Local rules, the laboratory and an adviser go before it."""
    assert planned.cautions["caution"].str.contains("licensed adviser").any()
    assert "sulphate of potash" in set(planned.cautions["material"])


def test_purchase_counts_what_is_on_hand(planned):
    """Kilograms of all beds, less the stock, at the stated price."""
    row = planned.purchase.iloc[0]
    assert row["kg"] == pytest.approx(planned.doses["grams"].sum() / 1000)
    assert row["to_buy_kg"] == pytest.approx(max(row["kg"] - 5, 0))
    assert row["cost"] == pytest.approx(1.5 * row["to_buy_kg"])


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"season": "sometime"}, "is no season of a year"),
        ({"season": SEASON, "approach": "balance"}, "'balance' is no approach"),
        ({"season": SEASON, "rules": st.PlanRules(crops={"West": "garlic"})}, "'West' is not a bed"),
    ],
)
def test_what_cannot_be_planned_is_refused(short, given, said):
    """The value found stands in the message."""
    with pytest.raises(SoiltrendError, match=said):
        st.plan(short, **given)


@pytest.mark.parametrize("wrong", [{"scenarios": 3}, {"probability": 0.2}, {"stock": "mine"}])
def test_rules_that_cannot_be_are_refused(wrong):
    """Before anything is reckoned."""
    with pytest.raises(SoiltrendError, match=str(next(iter(wrong.values())))):
        st.PlanRules(**wrong)


def test_caustic_material_keeps_away_from_sowing(tmp_path):
    """Slaked lime four weeks before sowing, or after the crop."""
    slaked = "material,Ca,moisture,CCE,density,measured\nslaked lime,50,0,125,0.6,yes\n"
    garden = write(tmp_path, rows=springs("East", pH=5.3, buffer=6.5), materials=slaked)
    rules = st.PlanRules(sowing={"East": date(2027, 5, 1)})
    found = st.plan(garden, season=SEASON, rules=rules)
    assert len(found.doses)
    assert (abs((found.doses["date"] - pd.Timestamp(2027, 5, 1)).dt.days) >= 28).all()


def test_next_years_crop_and_sowing_may_stand_in_garden_toml(tmp_path):
    """What garden.toml tells gives the plan that the same rules give; a sowing that is no day is refused."""
    slaked = "material,Ca,moisture,CCE,density,measured\nslaked lime,50,0,125,0.6,yes\n"
    rows = springs("East", pH=5.3, buffer=6.5)
    bed = '[beds."East"]\narea_m2 = 10\ndepth_cm = 15\nbulk_density = 1.3\n'
    told = bed + 'crop = "potatoes"\nsowing = 2027-05-01\n'
    rules = st.PlanRules(crops={"East": "potatoes"}, sowing={"East": date(2027, 5, 1)})
    asked = st.plan(write(tmp_path / "a", rows=rows, beds=bed, materials=slaked), season=SEASON, rules=rules)
    found = st.plan(write(tmp_path / "b", rows=rows, beds=told, materials=slaked), season=SEASON)
    pd.testing.assert_frame_equal(found.doses, asked.doses)
    pd.testing.assert_frame_equal(found.expected, asked.expected)
    with pytest.raises(SoiltrendError, match="sowing = 'May' is no day"):
        write(tmp_path / "c", rows=rows, beds=bed + 'sowing = "May"\n')


def test_what_if_agrees_with_the_plan(short, planned):
    """The plan's own amounts give the plan's own forecast; nothing gives what comes of leaving it alone."""
    same = st.what_if(planned, amounts=planned.amounts)
    assert same.table["after"].to_numpy() == pytest.approx(planned.expected["after"].to_numpy())
    none = st.what_if(short, amounts={"East": {}}, season=SEASON).table
    assert none["after"].to_numpy() == pytest.approx(planned.expected["left_alone"].to_numpy(), rel=1e-9)


def test_a_last_test_that_says_another_thing_than_the_record_is_told(tmp_path):
    """Two springs of K 60 and one of 160: the plan weighs them, and says what the last alone read."""
    last = [row for row in springs("East", K=160) if "2026" in row]
    rows = [row for row in springs("East", K=60) if "2026" not in row] + last
    row = st.plan(write(tmp_path, rows=rows), season=SEASON).expected.set_index("analyte").loc["K"]
    assert row["now_high"] < 160
    assert "the last of 2026-04-08, which alone read 160" in row["why"]
    steady = st.plan(write(tmp_path, rows=springs("East", K=60)), season=SEASON).expected
    assert not steady["why"].str.contains("which alone read").any()


def test_a_dose_that_does_little_says_what_it_is_for(short, planned):
    """What adds less than a fiftieth of what is lacking is for that measure all the same."""
    plot, bench = planned.bench.plots[0], planned.bench
    asked, none = question(plot, bench), np.zeros(len(plot.measures))
    at = asked.short[0]
    little = none.copy()
    little[at] = 0.001 * asked.task.need[0]
    told = plan_rows._for(plot, asked, little)
    assert told.startswith(f"by the next test, with nothing added, {plot.measures['analyte'].iloc[at]} ")
    assert plan_rows._for(plot, asked, none) == ""


def test_what_if_says_what_breaks(planned):
    """Far too much potash passes the ceiling of K and the most that a bed takes."""
    found = st.what_if(planned, amounts={"East": {"sulphate of potash": 900}})
    assert {"K", "sulphate of potash"} <= set(found.breaks["what"])
    assert found.breaks.set_index("what").at["K", "chance"] > 0.9
    assert "900 g/m2 sulphate of potash" in repr(found)
    assert "<table" in found._repr_html_()


def test_what_if_tells_the_days_and_what_comes_too_late(planned):
    """What is reckoned as given after the next test adds nothing to it, and its line says so."""
    some, more = (st.what_if(planned, amounts={"East": {"sulphate of potash": much}}) for much in (80, 1200))
    late = more.doses["date"] >= planned.days.test
    assert late.any()
    assert not late.all()
    assert more.doses.loc[late, "why"].str.contains("comes too late for the next test").all()
    assert not some.doses["why"].str.contains("too late").any()
    assert more.doses["g_per_m2"].sum() == pytest.approx(1200)
    assert "2027-04" in repr(some)


@pytest.mark.parametrize(
    ("amounts", "said"),
    [
        ({"West": {}}, "'West' is not a bed"),
        ({"East": {"moon dust": 5}}, "^'moon dust' is no material"),
        ({"East": {"sulphate of potash": -5}}, "-5 g/m2"),
    ],
)
def test_what_if_refuses_what_it_does_not_know(planned, amounts, said):
    """Nothing is guessed."""
    with pytest.raises(SoiltrendError, match=said):
        st.what_if(planned, amounts=amounts)


def test_both_faces_show_hold_before_doses(planned):
    """What not to add comes before what to add."""
    plain, page = repr(planned), planned._repr_html_()
    assert plain.index("hold") < plain.index("sulphate of potash")
    assert page.index("first hold these") < page.index("Then add")


def test_amounts_by_hand_degrade_to_a_table(planned, monkeypatch):
    """Without ipywidgets the plan's own amounts are shown; with a slider moved, what it says."""
    monkeypatch.setattr(sliders, "find_spec", lambda name: None)
    shown = st.try_amounts(planned, bed="East")
    assert shown.amounts["East"] == planned.amounts["East"]
    moved = sliders.tried(planned, "East", {"sulphate of potash": 40.0})
    assert moved.amounts == {"East": {"sulphate of potash": 40.0}}


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"bed": "West"}, "'West' is not a bed"),
        ({"bed": "East", "materials": ("tea",)}, "'tea' is no material"),
    ],
)
def test_amounts_by_hand_refuse_what_is_not_there(planned, given, said):
    """The nearest known name is told."""
    with pytest.raises(SoiltrendError, match=said):
        st.try_amounts(planned, **given)
