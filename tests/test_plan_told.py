"""What stands beside a plan's tables: what amounts would break, what came of forecasts, what to buy."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from test_plan_rows import asked, bench_of, plot_of, shed_of

import soiltrend as st
from soiltrend.plan import bill, trying
from soiltrend.plan.review import _against, _tally


def broken(monkeypatch, *, amounts, load, room, most=(100.0, 50.0)):
    """Return what amounts of a and b break of the ceilings of K and of a year's K and manure N, by name."""
    plot = plot_of(K=(50, 60, 70, 80, 120))
    shed = shed_of(a=(most[0], "own", {}), b=(most[1], "own", {}))
    question = asked(plot, shed, short=[], ceilings=[0, -1, -2], load=load)
    question.task.room[:] = np.array(room, dtype=float).T
    monkeypatch.setattr(trying, "question", lambda plot, bench: question)
    rows = trying._broken(plot, bench_of(shed), np.array(amounts, dtype=float))
    return {row["what"]: row for row in rows}


ROOM = [[5.0] * 16 + [-1.0] * 3, [60.0] * 16 + [0.5] * 3, [9.0] * 18 + [-1.0]]
LOAD = [[0.1, 0.0], [1.0, 0.0], [0.0, 1.0]]


@pytest.mark.parametrize(
    ("amounts", "broke"),
    [
        ((5, 0), {"K": 3 / 19, "K in a year": 3 / 19}),  # half a mg/kg more where there was no room
        ((40, 0), {"K": 3 / 19, "K in a year": 3 / 19}),  # 4 fits into 16 of 19 draws
        ((50, 0), {"K": 3 / 19, "K in a year": 3 / 19}),  # what just fits does not pass
        ((51, 0), {"K": 1.0, "K in a year": 3 / 19}),
        ((61, 0), {"K": 1.0, "K in a year": 1.0}),
        ((0, 9), {}),  # passed in one draw of 19, and nine in ten must hold
        ((0, 9.1), {"manure N in a year": 1.0}),
        ((0, 0), {}),  # what is too high already is not broken by nothing
        ((0, 50), {"manure N in a year": 1.0}),
        ((0, 51), {"manure N in a year": 1.0, "b": 1.0}),
    ],
)
def test_ceilings_that_would_not_hold_surely_enough(monkeypatch, amounts, broke):
    """Counted in the draws: of 19 more than a tenth; a most of a bed is passed by what is more than it."""
    found = broken(monkeypatch, amounts=amounts, load=LOAD, room=ROOM)
    assert {what: row["chance"] for what, row in found.items()} == pytest.approx(broke)


def test_a_ceiling_is_told_with_its_limit_and_whether_it_is_passed_already(monkeypatch):
    """Three draws of 19 stand above the ceiling of K with nothing added, one above that of manure N."""
    found = broken(monkeypatch, amounts=(101, 51), load=LOAD, room=ROOM)
    told = {what: (row["limit"], row["unit"], row["already"], row["why"]) for what, row in found.items()}
    assert told == {
        "K": (120, "mg/kg", True, ""),
        "K in a year": (45.0, "g/m2", False, "one rule"),
        "manure N in a year": (17.0, "g/m2", False, "another"),
        "a": (100.0, "g/m2", False, "the most that a bed takes in a year"),
        "b": (50.0, "g/m2", False, "the most that a bed takes in a year"),
    }


def test_a_name_told_twice_counts_twice():
    """A material and its other name are one heap."""
    bench = SimpleNamespace(shed=shed_of(wood_ash=(100, "own", {}), greensand=(100, "own", {})))
    assert trying._amounts(bench, {"greensand": 5, "Greensand": 7.0}, "East").tolist() == [0.0, 12.0]


@pytest.mark.parametrize("much", [np.nan, np.inf, -0.5])
def test_no_amount(much):
    bench = SimpleNamespace(shed=shed_of(wood_ash=(100, "own", {})))
    with pytest.raises(st.errors.SoiltrendError, match="is no amount"):
        trying._amounts(bench, {"wood ash": much}, "East")
    assert trying._amounts(bench, {"wood ash": 0}, "East").tolist() == [0.0]


def test_what_was_tried_is_told_in_words():
    """Bed by bed, material by material, and a bed that gets nothing."""
    table, empty = pd.DataFrame(columns=trying.SHOWN), pd.DataFrame(columns=trying.BREAKS)
    tried = {"East": {"wood ash": 40.0, "bone meal": 12.5}, "West": {}}
    told = repr(st.WhatIf(table, empty, empty, "spring 2027", tried))
    assert told.startswith("What if, spring 2027: East: 40 g/m2 wood ash, 12.5 g/m2 bone meal; West: nothing")
    assert "0 ceilings would not hold" in told


@pytest.mark.parametrize(
    ("amounts", "checks", "bed"),
    [
        ({"A": {"x": 9.0}, "B": {"x": 5.0, "y": 5.0}, "C": {"x": 99.0}}, "C", "B"),
        ({"A": {}, "B": {}, "C": {}}, "A", "B"),
        ({"A": {}, "B": {}}, "AB", "A"),
    ],
)
def test_the_bed_that_is_given_most_is_tried_without(amounts, checks, bed):
    """By the sum of all materials; of checks only where there is no other."""
    plots = [SimpleNamespace(bed={"bed": name, "check": name in checks}) for name in amounts]
    plan = SimpleNamespace(amounts=amounts, bench=SimpleNamespace(plots=plots))
    assert st.left_alone(plan) == {bed: {}}


OF = {"lab": "Elm", "top_cm": 0.0, "bottom_cm": 15.0}


def forecast(*lines):
    head = ["bed", "analyte", "method", "unit", "forecast", "low", "high", "test"]
    rows = pd.DataFrame([line.split() for line in lines], columns=head).assign(**OF)
    return rows.astype({"forecast": float, "low": float, "high": float})


def came(*lines):
    head = ["bed", "analyte", "method", "unit", "season", "value", "qualifier", "top_cm", "sampled"]
    rows = pd.DataFrame([line.split() for line in lines], columns=head).replace("-", "")
    rows = rows.astype({"value": float, "top_cm": float}).assign(sampled=pd.to_datetime(rows["sampled"]))
    return SimpleNamespace(results=rows.assign(lab="Elm", bottom_cm=rows["top_cm"] + 15))


def test_forecasts_beside_the_tests_that_came():
    """Two buckets of a spring are averaged, what reads below a limit is no number, the subsoil no bed; of two
    forecasts of one test the later holds; the ends of an interval lie inside it."""
    found = _against(
        forecast("East K M3 ppm 90 80 99 s28", "East P M3 ppm 40 30 50 s28", "East Mg M3 ppm 90 80 99 s28",
                 "West K M3 ppm 90 80 99 s28", "East B hot ppm 1 0.5 2 s28", "East K M3 ppm 100 92 110 s28"),
        came("East K M3 ppm s28 80 - 0 2028-04-01", "East K M3 ppm s28 102 - 0 2028-04-03",
              "East K M3 ppm s28 5 - 30 2028-04-03", "East P M3 ppm s28 50 - 0 2028-04-01",
              "East Mg M3 ppm s28 80 - 0 2028-04-01", "West K M3 ppm s28 101 - 0 2028-04-01",
              "East B hot ppm s28 0.4 < 0 2028-04-01", "West K M3 ppm s27 90 - 0 2027-04-01"),
    ).set_index(["bed", "analyte"])  # fmt: skip
    assert found["test"].to_dict() == {
        ("East", "P"): 50, ("East", "Mg"): 80, ("West", "K"): 101, ("East", "K"): 91,
    }  # fmt: skip
    assert found["why"].tolist() == ["as forecast", "as forecast", "above the interval", "below the interval"]
    assert found["inside"].tolist() == [True, True, False, False]
    assert found.at[("East", "K"), "sampled"] == pd.Timestamp(2028, 4, 3)


def test_tally_by_season_and_measure():
    """Two of three of K inside, none of P, in all two of four, as time went on; nothing of nothing."""
    spring, autumn = "spring 2027", "autumn 2027"
    table = pd.DataFrame({"season": [spring, autumn, spring, spring], "analyte": ["K", "P", "K", "K"],
                          "inside": [True, False, False, True]})  # fmt: skip
    assert _tally(table).round(3).to_numpy().tolist() == [
        [spring, "K", 3, 2, 0.667], [autumn, "P", 1, 0, 0.0], ["", "all measures", 4, 2, 0.5],
    ]  # fmt: skip
    assert _tally(table.iloc[:0]).empty


def test_purchase_by_hand():
    """Of 12 kg 5 are there: 7 at 0.5 each. What is all there or free costs nothing; without a price the cost
    of what is to be had is not known; without a stock all is to be had; what is not used is not listed."""
    rows = pd.DataFrame(
        {"d": (5.0, 0.5), "c": (9.0, np.nan), "b": (0.1, np.nan), "a": (np.nan, 3.0), "e": (3.0, 1.0),
         "f": (np.nan, 0.0)}, index=["on_hand_kg", "cost_per_kg"]).T  # fmt: skip
    found = bill.purchase(np.array([12.0, 9.0, 0.4, 4.0, 0.0, 2.0]), SimpleNamespace(rows=rows))
    assert list(found) == ["material", "kg", "on_hand_kg", "to_buy_kg", "cost"]
    assert found["material"].tolist() == ["a", "b", "c", "d", "f"]
    assert found["kg"].tolist() == [4.0, 0.4, 9.0, 12.0, 2.0]
    assert found["to_buy_kg"].tolist() == pytest.approx([4.0, 0.3, 0.0, 7.0, 2.0])
    assert found["cost"].fillna(-1).tolist() == [12.0, -1, 0.0, 3.5, 0.0]


def test_what_is_not_known_of_her_own_material_is_told():
    """All nutrients but carbon count, and only of what is her own."""
    known = shed_of(wood_ash=(100, "own", {}), greensand=(100, "own", {})).rows.loc["wood ash"]
    whole = known.copy()
    whole[list(bill.NUTRIENTS)] = 1.0
    lacking = whole.copy()
    lacking[["C", "Zn", "Na"]] = np.nan
    told = bill._unknown(lacking.rename("ash"), "East, West")
    assert [(row["material"], row["bed"]) for row in told] == [("ash", "East, West")]
    assert told[0]["caution"].startswith("How much Na, Zn it holds is not known")
    assert bill._unknown(whole.where(whole.index != "C"), "East") == []
    lacking["origin"] = "table"
    assert bill._unknown(lacking, "East") == []


def beds(*plots, **crops):
    rules = SimpleNamespace(crops=crops)
    return SimpleNamespace(plots=plots, rules=rules)


def named(plot, name, *, check=False):
    """Return a bed under another name."""
    plot = replace(plot, bed={"bed": name, "check": check})
    plot.measures["method"] = ["", *["M3"] * (len(plot.measures) - 1)]
    return plot


def test_measures_without_aim_by_bed():
    """An aim or a ceiling is enough; beds that lack the same stand together; a check asks for nothing."""
    nan = np.nan
    bare = {"S": (4, 5, 6, nan, nan), "B": (1, 2, 3, nan, nan)}
    bare |= {"Zn": (1, 2, 3, 2, nan), "Na": (1, 2, 3, nan, 9)}
    plots = [named(plot_of(**bare), name, check=name == "Check") for name in ("East", "West", "Check")]
    other = named(plot_of(S=(4, 5, 6, nan, nan)), "North")
    found = bill._unaimed(beds(*plots, other, named(plot_of(K=(4, 5, 6, 3, 8)), "South")))
    assert [(row["bed"], row["caution"].removeprefix(f"{bill.UNAIMED} ")) for row in found] == [
        ("East, West", "S by a method not stated, B by M3."), ("North", "S by a method not stated."),
    ]  # fmt: skip


def test_a_pH_above_what_the_crop_wants_is_told_and_never_lowered():
    """By the middle of what is expected, only where a crop is told, and of no check."""
    sour, sweet = plot_of(pH=(5.0, 5.5, 6.4, 4.5, 5.5)), plot_of(pH=(5.4, 5.6, 5.8, 4.5, 5.5))
    plots = [named(sour, "A"), named(sweet, "B"), named(sweet, "C"), named(sweet, "D", check=True)]
    found = bill._too_sweet(beds(*plots, A="blueberry", B="blueberry", D="blueberry"))
    assert [row["bed"] for row in found] == ["B"]
    assert found[0]["caution"].startswith("pH 5.6 is above the 5.5 wanted for blueberry, and a plan never")


def test_cautions_name_the_beds_on_which_each_material_goes():
    """Once a material with all its beds, then what is said of no material, and whom to ask at the end."""
    shed = shed_of(borax=(10, "table", {}), gypsum=(900, "table", {}), wood_ash=(100, "table", {}))
    shed.rows["cautions"] = ["boron;pets", "", "dust"]
    given = [("East", "borax"), ("West", "gypsum"), ("East", "borax")]
    given += [("West", "borax"), ("West", "wood ash")]
    doses = pd.DataFrame(given, columns=["bed", "material"])
    plot = named(plot_of(K=(60, 70, 80, 50, 90)), "East")
    plot.wants[:] = [replace(want, against="a school") for want in plot.wants]
    found = bill.cautions(doses, SimpleNamespace(shed=shed, plots=[plot], rules=SimpleNamespace(crops={})))
    assert found[["material", "bed"]].to_numpy().tolist() == [
        ["borax", "East, West"], ["borax", "East, West"], ["wood ash", "West"], ["", ""], ["", ""],
    ]  # fmt: skip
    assert found["about"].tolist()[:2] == ["plants", "animals"]
    assert found["about"].tolist()[3:] == ["the approach", "the plan"]
    assert found["caution"].tolist()[3:] == ["a school", bill.DEFER]
    assert (found["source"] != "").all()
