"""The plan's tables from a bed, a shed and an answer made by hand: every name, number and order in them."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from soiltrend import scales
from soiltrend.materials import known_materials
from soiltrend.plan import rows as tables
from soiltrend.plan.ask import Question
from soiltrend.plan.bench import Plot
from soiltrend.plan.shed import BRINGS
from soiltrend.plan.solve import Solved
from soiltrend.plan.task import Task
from soiltrend.plan.wants import Want

NAN = np.nan
UNITS = {"pH": "pH", "EC": "dS/m"}


def draws(low, middle, high):
    """Return 19 draws: by their order the 1st, 10th and 19th bound nine new ones in ten."""
    return np.concatenate([np.linspace(low, middle, 10), np.linspace(middle, high, 10)[1:]])


def plot_of(**measures):
    """Return a bed; of each measure its low, middle and high at the next test, its aim and its ceiling.

    A pH that asks for nothing comes last, for without one nothing limes.
    """
    measures.setdefault("pH", (6.4, 6.5, 6.6, 6.0, 6.8))
    names = list(measures)
    rows = pd.DataFrame({"analyte": names, "bed": "East", "unit": [UNITS.get(n, "mg/kg") for n in names],
                         "qualifier": "",
                         "scale": [scales.PLAIN if n == "pH" else scales.LOG for n in names]})  # fmt: skip
    left = np.stack([draws(*given[:3]) for given in measures.values()], axis=1)
    wants = [Want(low=given[3], high=given[4], ceiling=given[4], why="") for given in measures.values()]
    bed = {"bed": "East", "area_m2": 10.0}
    return Plot(bed, rows, wants, left, left, 0 * left, np.zeros((19, len(names), 1)), False, "by no buffer")


def shed_of(**materials):
    """Return materials: of each g/m2 a year, origin and grams of what a gram brings, by element."""
    total = np.zeros((19, len(materials), len(BRINGS)))
    for at, (_, _, brings) in enumerate(materials.values()):
        for name, much in brings.items():
            total[:, at, BRINGS.index(name)] = much
    names = [name.replace("_", " ") for name in materials]
    known = known_materials()
    rows = pd.DataFrame({name: known.loc[name] if name in known.index else known.iloc[0] for name in names}).T
    rows["origin"] = [origin for _, origin, _ in materials.values()]
    most = np.array([most for most, _, _ in materials.values()], dtype=float)
    return SimpleNamespace(rows=rows, names=names, total=total, most=most, later=lambda lain: total)


def asked(plot, shed, *, short, ceilings, credit=(), load=None, scarce=None):
    """Return a bed's problem of which only what the tables read is filled."""
    count = len(shed.names)
    load = np.zeros((len(ceilings), count)) if load is None else np.array(load, dtype=float)
    need = np.array([max(plot.wants[at].low - plot.left[9, at], 0.0) for at in short])
    task = Task(
        credit=np.array(credit, dtype=float), need=need, load=np.broadcast_to(load, (19, *load.shape)),
        room=np.zeros((19, len(ceilings))), trace=np.ones(len(ceilings)), most=shed.most,
        price=np.ones(count),
    )  # fmt: skip
    analytes = [plot.measures["analyte"].iloc[at] if at >= 0 else "" for at in ceilings]
    acid, stays = (np.array([name == which for name in analytes], dtype=bool) for which in ("pH", "P"))
    few = np.zeros(count, bool) if scarce is None else np.array(scarce, dtype=bool)
    return Question(task, short, ceilings, np.zeros(len(plot.wants)), acid, stays, few)


def bench_of(shed):
    """Return the materials with two limits of a year; nothing is sown or picked unless told."""
    limits = {"what": ["K", "manure N"], "limit": [45.0, 17.0], "words": ["one rule", "another"]}
    rules = SimpleNamespace(probability=0.9, crops={}, sowing={}, harvest={})
    first = pd.Timestamp(2027, 3, 1)
    days = SimpleNamespace(dressing=first, test=first + pd.DateOffset(years=1), hemisphere="north")
    none = pd.DataFrame({"what": [], "limit": [], "words": []})
    return SimpleNamespace(shed=shed, limits=pd.DataFrame(limits), rules=rules, days=days, at_once=none)


def answer(*, open_, gain):
    gain = np.array(gain, dtype=float)
    none = np.zeros(gain.shape[1], bool)
    return Solved(np.zeros(1), np.array(open_, dtype=float), none, none, gain)


def test_what_stops_a_shortfall_is_named_with_what_it_holds_back():
    """The best three that bring both, most first (credit times most: 200, 120, 100 and 90; of e nothing may
    go on, f does not touch the ceiling, g closes nothing); the ceiling, or the limit of a year by its row."""
    most = {"a": 100, "b": 10, "c": 50, "d": 30, "e": 0, "f": 900, "g": 900}
    shed = shed_of(**{name: (much, "own", {}) for name, much in most.items()})
    plot = plot_of(P=(40, 50, 60, 45, 55), K=(50, 60, 70, 80, 120))
    credit = [[1.0, 9.0, 4.0, 4.0, 50.0, 1.0, 0.0], [0.5, 0.5, 0.4, 0.5, 0.5, 0.5, 0.5]]
    load = [[1, 1, 1, 1, 1, 0, 1], [1, 0, 0, 0, 0, 1, 1], [0, 0, 0, 1, 1, 0, 1]]
    question = asked(plot, shed, short=[1, 0], ceilings=[0, -1, -2], credit=credit, load=load)
    solved = answer(open_=[12.5, 0.0], gain=[[3.456, 0.0, 2.0], [1.0, 1.0, 1.0]])
    rows = tables.binding(plot, question, solved, bench_of(shed))
    assert [row["what"] for row in rows] == ["P", "manure N in a year"], "nothing stops what is closed"
    assert all((row["bed"], row["aim"], row["unit"]) == ("East", "K", "mg/kg") for row in rows)
    assert [(row["open"], row["gain"]) for row in rows] == [(12.5, 3.456), (12.5, 2.0)]
    assert rows[0]["why"] == (
        "no more c, d, a because of P, whose ceiling is 55.0 mg/kg; without it K gains 3.5 mg/kg more"
    )
    assert rows[1]["why"] == (
        "no more d because of manure N, of which 17 g/m2 in a year are the most (another); "
        "without it K gains 2.0 mg/kg more"
    )
    solved = answer(open_=[12.5, 0.0], gain=[[0.0, 0.5, 0.0], [0.0, 0.0, 0.0]])
    only = tables.binding(plot, question, solved, bench_of(shed))
    assert [row["what"] for row in only] == ["K in a year"]
    assert "no more f, a because of K, of which 45 g/m2 in a year are the most (one rule)" in only[0]["why"]


def test_of_a_little_material_a_little_stops():
    """Borax is given by the gram, and its credit is small: it is named all the same."""
    shed = shed_of(borax=(0.9, "own", {}))
    plot = plot_of(B=(0.2, 0.3, 0.4, 0.5, 2))
    question = asked(plot, shed, short=[0], ceilings=[-1], credit=[[0.5]], load=[[0.11]])
    rows = tables.binding(plot, question, answer(open_=[0.2], gain=[[0.1]]), bench_of(shed))
    assert rows[0]["why"].startswith("no more borax because of K, of which 45 g/m2")


def none_of(analyte, shed, *, credit, scarce=None, lime_why="by no buffer"):
    """Return what is told of a shortfall that nothing closes and nothing stops."""
    plot = plot_of(**{analyte: (4.0, 5.0, 6.0, 6.2, 6.8)})
    question = asked(plot, shed, short=[0], ceilings=[], credit=[credit], scarce=scarce)
    rows = tables.binding(plot, question, answer(open_=[0.4], gain=np.zeros((1, 0))), bench_of(shed))
    assert [(row["what"], row["open"]) for row in rows] == [("materials", 0.4)]
    assert np.isnan(rows[0]["gain"])
    return rows[0]["why"]


STOCK = (
    "what is on hand of {} does not close all of it, and has no price at which more could be had: write that "
    "into cost_per_kg of materials.csv, or clear on_hand_kg there"
)
YEAR = "what a bed takes in a year does not close all of it; K goes on next year"


@pytest.mark.parametrize(
    ("credit", "scarce", "said"),
    [
        ([1, 1, 0], [1, 0, 1], f"{STOCK.format('a')}; {YEAR}"),
        ([1, 0, 0], [1, 0, 0], STOCK.format("a")),
        ([1, 1, 0], [1, 1, 0], STOCK.format("a, b")),
        ([1, 0, 0], [0, 1, 1], YEAR),
        ([0, 0, 1], [1, 1, 0], "nothing in your shed that may go on brings K; "),  # of c nothing may
        ([0, 0, 0], [1, 1, 1], "nothing in your shed brings K; "),
        ([0, -1, 0], [1, 1, 1], "nothing in your shed brings K; "),
    ],
)
def test_why_nothing_closes_a_shortfall(credit, scarce, said):
    """The shed ends, the year ends, it may not go on, or it is not there: as far as each is so."""
    shed = shed_of(a=(0.9, "own", {}), b=(50, "own", {}), c=(0, "own", {"CCE": 0.9}))
    told = none_of("K", shed, credit=credit, scarce=scarce)
    assert told == said if not said.endswith("; ") else told.startswith(said)


RICHEST = {
    "K": "sulphate of potash or potassium magnesium sulphate",  # 42 and 18 % of K
    "Ca": "bone meal or gypsum",  # limestone holds more, but lime goes by pH
    "Mg": "kieserite or potassium magnesium sulphate",
    "pH": "dolomite or ground chalk",  # burnt lime is stronger, and burns
}


HIGH, SOUR, RICH = (7.4, 7.5, 7.6, 6.0, 6.8), (5.0, 5.1, 5.2, 6.0, 6.8), (240, 250, 260, 45, 100)


@pytest.mark.parametrize(
    ("analyte", "more", "said"),
    [
        ("S", {}, "elemental sulphur or potassium magnesium sulphate"),
        ("S", {"pH": SOUR}, "potassium magnesium sulphate or kieserite"),  # sulphur makes acid
        ("P", {"pH": SOUR}, "bone meal or raw bone meal"),
        ("P", {"pH": HIGH}, "raw bone meal or fish meal"),  # burnt to meal, bones lime a little; so does ash
        ("Ca", {"P": RICH}, "gypsum or wood ash"),  # of bones half is phosphate
        ("Ca", {"P": RICH, "pH": HIGH}, "gypsum or basalt dust"),
        ("Ca", {"pH": HIGH}, "gypsum or raw bone meal"),
        ("pH", {"P": RICH, "pH": SOUR}, "dolomite or ground chalk"),
    ],
)
def test_nothing_is_proposed_that_the_plan_itself_keeps_away(analyte, more, said):
    """No bones where phosphorus is too high (Sims et al. 2002), nothing that limes above pH 7 (Univ. of
    Georgia Extension on ash), no sulphur on a sour bed (stoichiometry): what is held is not wanted."""
    plot = plot_of(**{analyte: (4.0, 5.0, 6.0, 9.2, 20.0)} | more)
    names = list(plot.measures["analyte"])
    sour = [names.index("pH")] if more.get("pH") is SOUR and analyte != "pH" else []
    short, ceilings = [names.index(analyte), *sour], [names.index(name) for name in more if name != analyte]
    question = asked(plot, shed_of(a=(100, "own", {})), short=short, ceilings=ceilings, credit=[[0], [0]])
    broken = np.array([more[names[at]] is not SOUR for at in ceilings], dtype=bool)
    gain = np.zeros((2, len(ceilings)))
    solved = Solved(np.zeros(1), np.array([1.2, 0.0]), broken, broken, gain)
    rows = tables.binding(plot, question, solved, bench_of(shed_of(a=(100, "own", {}))))
    assert [row["why"] for row in rows] == [f"nothing in your shed brings {analyte}; {said} would"]


@pytest.mark.parametrize("analyte", RICHEST)
def test_what_would_bring_it_is_the_richest_that_may_be_proposed(analyte):
    """By atomic masses of the pure compounds; no lime for its calcium, and none that burns."""
    told = none_of(analyte, shed_of(a=(100, "own", {})), credit=[0.0])
    assert told == f"nothing in your shed brings {analyte}; {RICHEST[analyte]} would"


def test_lime_of_unknown_need_is_told_of_pH_alone():
    """A lime lies there, and how much of it a bed takes is not known: that is no lack of lime, nor of K."""
    shed = shed_of(calcitic_limestone=(500, "own", {"CCE": 0.9}), greensand=(500, "own", {}))
    told = none_of("pH", shed, credit=[0.0, 0.0])
    assert told == "how much lime it takes is not known, by no buffer; ask the laboratory for a buffer pH"
    assert none_of("K", shed, credit=[0.0, 0.0]).startswith("nothing in your shed brings K")
    assert none_of("pH", shed, credit=[1.0, 0.0]).startswith("what a bed takes in a year")
    shed.most[0] = 0.0
    assert none_of("pH", shed, credit=[1.0, 0.0]).startswith("nothing in your shed that may go on brings pH")


def held_of(plot, shed, *, ceilings, load, broken, short=(), **harvest):
    """Return the hold rows as (what, about, why)."""
    question = asked(plot, shed, short=list(short), ceilings=ceilings, load=load)
    none = np.zeros(len(ceilings))
    solved = Solved(none, none, np.array(broken, dtype=bool), none, none)
    bench = bench_of(shed)
    bench.rules.harvest.update(harvest)
    rows = tables.hold(plot, question, solved, bench)
    assert all(row["bed"] == "East" for row in rows)
    return [(row["what"], row["about"], row["why"]) for row in rows]


def test_what_is_held_for_most_measures_stands_first_and_before_its_like_what_brings_phosphorus():
    """Held is what at a tenth of its most (for P a third) passes the trace, here 1, of a ceiling that is
    broken: b for K, Mg and P, a and c for two each, d for one, e for none, f only for one that is whole."""
    high = {"K": (90, 100, 120, 50, 80), "Mg": (90, 95, 99, 50, 80), "P": (40, 45, 52, 20, 30)}
    plot = plot_of(**high, B=(1, 1, 1, 1, 2))
    shed = shed_of(**{name: (20, "own", {}) for name in "abcdef"})
    load = [[1, 1, 0, 1, 0, 0], [1, 1, 1, 0, 0, 0], [0, 1, 1, 0, 0.1, 0], [1, 1, 1, 1, 1, 1]]
    rows = held_of(plot, shed, ceilings=[0, 1, 2, 3], load=load, broken=[1, 1, 1, 0])
    assert [row[:2] for row in rows] == [("b", "K, Mg, P"), ("c", "Mg, P"), ("a", "K, Mg"), ("d", "K")]
    assert rows[2][2] == (
        "by the next test, with nothing added, K 100 (90.0 to 120) mg/kg is not safely below its ceiling of "
        "80.0 mg/kg; Mg 95.0 (90.0 to 99.0) mg/kg is not safely below its ceiling of 80.0 mg/kg"
    )


def test_of_the_table_only_the_richest_that_are_held_are_named():
    """Hers one by one, those of the table in one line by what they hold; nothing is held, nothing named."""
    plot = plot_of(K=(90, 100, 120, 50, 80))
    names = ("wood ash", "greensand", "sulphate of potash", "potassium magnesium sulphate", "cattle manure")
    shed = shed_of(mine=(20, "own", {}), other=(20, "own", {}), **{
        name.replace(" ", "_"): (20, "table", {}) for name in names})  # fmt: skip
    known = known_materials().loc[list(names), "K"].astype(float)
    assert known["sulphate of potash"] > known["potassium magnesium sulphate"] > known["wood ash"]
    what = [row[0] for row in held_of(plot, shed, ceilings=[0], load=[[1, 0, 1, 0, 1, 1, 1]], broken=[1])]
    richest = "sulphate of potash, potassium magnesium sulphate, wood ash"
    assert what == ["mine", f"whatever brings K ({richest} ...)"]
    what = [row[0] for row in held_of(plot, shed, ceilings=[0], load=[[0] * 7], broken=[1])]
    assert what == ["whatever brings K"]


def test_lime_goes_by_pH_is_said_of_calcium_alone():
    """Of what is held for calcium and potassium it is not for calcium's own sake alone."""
    plot = plot_of(Ca=(900, 950, 990, 500, 800), K=(90, 100, 120, 50, 80))
    shed = shed_of(a=(20, "own", {}), b=(20, "own", {}))
    rows = held_of(plot, shed, ceilings=[0, 1], load=[[1, 1], [1, 0]], broken=[1, 1])
    assert [(row[0], tables.LIME_GOES_BY in row[2]) for row in rows] == [("a", False), ("b", True)]


@pytest.mark.parametrize(
    ("low", "gentle", "kept"), [(5.5, 0.9, True), (5.5, 0.3, False), (6.5, 0.9, False)]
)
def test_what_burns_is_held_where_a_gentler_lime_is_at_hand_and_pH_is_short(low, gentle, kept):
    """Common practice; an ash that limes a little is no other lime."""
    plot = plot_of(pH=(low, low + 0.1, low + 0.2, 6.2, 6.8))
    shed = shed_of(slaked_lime=(20, "own", {"CCE": 1.2}), mine=(20, "own", {"CCE": gentle}))
    rows = held_of(plot, shed, ceilings=[0], load=[[0, 0]], broken=[0], short=[0] if low < 6.2 else [])
    assert [row[:2] for row in rows] == ([("slaked lime", "pH")] if kept else [])


def test_what_is_held_is_held_once():
    """What burns and limes is held for a pH that is too high; why it burns is then not what holds it."""
    plot = plot_of(pH=(7.5, 7.6, 7.7, 6.2, 6.8), K=(50, 60, 70, 80, 120))
    shed = shed_of(slaked_lime=(20, "own", {"CCE": 1.2}), mine=(20, "own", {"CCE": 0.9}))
    rows = held_of(plot, shed, ceilings=[0], load=[[0, 0]], broken=[1], short=[0, 1])
    assert sorted(row[0] for row in rows) == ["mine", "slaked lime"]
    assert all("its ceiling of 6.80" in row[2] for row in rows)


def test_a_dose_tells_all_that_it_does_much_for():
    """More than a fiftieth of what is lacking, or most of all: K by half, Mg by a fortieth, P by a hundredth;
    B it takes from, and Ca is not lacking. Below or not is told by the middle of what is expected."""
    plot = plot_of(K=(50, 60, 70, 80, 120), Mg=(60, 61, 70, 61, 120), P=(40, 45, 50, 55, 70),
                   B=(0.2, 0.3, 0.4, 0.5, 2), Ca=(900, 950, 990, 800, 2000))  # fmt: skip
    shed = shed_of(a=(100, "own", {}))
    question = asked(plot, shed, short=[2, 1, 0, 3], ceilings=[])
    question.task.need[:] = [10.0, 8.0, 20.0, 0.2]  # of P, Mg, K and B
    told = tables._for(plot, question, np.array([10.04, 0.2, 0.1, -0.05, 99.0, 0.0]))
    assert told == (
        "by the next test, with nothing added, Mg 61.0 (60.0 to 70.0) mg/kg may well lie below 61.0: adds "
        "about 0.20 in all; K 60.0 (50.0 to 70.0) mg/kg is below 80.0: adds about 10 in all"
    )
    least = tables._for(plot, question, np.array([0.02, 0.004, 0.004, 0.0, 0.0, 0.0]))
    assert least.endswith("K 60.0 (50.0 to 70.0) mg/kg is below 80.0: adds about 0.020 in all")
    assert "Mg" not in least


def test_doses_of_a_bed_by_hand():
    """600 g/m2 of lime (Penn State AASL, home garden notes: in two, six months apart) and 30 of potash on
    10 m2; at 0.01 mg/kg K a gram of potassium, 30 g of 42 % bring 0.126 mg/kg. A level cup of 250 ml."""
    plot = plot_of(K=(50, 60, 70, 80, 120))
    plot = replace(plot, moves=np.zeros((19, 2, len(BRINGS))))
    plot.moves[:, 0, BRINGS.index("K")] = 0.01
    shed = shed_of(calcitic_limestone=(900, "own", {}), greensand=(900, "own", {}),
                   sulphate_of_potash=(90, "own", {"K": 0.42}))  # fmt: skip
    shed.rows["cup_g"] = 300.0
    question = asked(plot, shed, short=[0], ceilings=[])
    rows = tables.doses(plot, question, np.array([600.0, 0.0, 30.0]), bench_of(shed), system="metric")
    assert [(row["material"], f"{row['date']:%Y-%m-%d}", row["g_per_m2"], row["grams"]) for row in rows] == [
        ("calcitic limestone", "2027-03-01", 300.0, 3000.0),
        ("calcitic limestone", "2027-09-01", 300.0, 3000.0),
        ("sulphate of potash", "2027-03-01", 30.0, 300.0),
    ]  # fmt: skip
    cups = [row["kitchen"].removesuffix(" (your own cup)") for row in rows]
    assert cups == ["10 level cups", "10 level cups", "1 level cup"]
    assert [row["why"].split("; ")[1] for row in rows[:2]] == ["1 of 2", "2 of 2"]
    assert rows[2]["why"] == (
        "by the next test, with nothing added, K 60.0 (50.0 to 70.0) mg/kg is below 80.0: adds about 0.13 in "
        "all"
    )


RECORD = {"last": pd.Timestamp(2026, 4, 8), "last_low": 6.2, "last_high": 6.2, "scale": "plain", "n": 3,
          "qualifier": ""}  # fmt: skip
LOGS = {"last_low": np.log(60), "last_high": np.log(60), "scale": "log"}


@pytest.mark.parametrize(
    ("more", "range_", "said"),
    [
        ({}, (6.2, 6.3), "from 3 tests, the last of 2026-04-08; "),
        ({}, (6.1, 6.2), "from 3 tests, the last of 2026-04-08; "),
        ({}, (6.3, 6.6), "from 3 tests, the last of 2026-04-08, which alone read 6.20: "),
        ({}, (5.6, 6.1), "from 3 tests, the last of 2026-04-08, which alone read 6.20: "),
        ({"n": 2}, (6.3, 6.6), "from 2 tests, the last of 2026-04-08, which alone read 6.20: "),
        ({"n": 1}, (6.3, 6.6), "from 1 test, the last of 2026-04-08; "),
        ({"last_low": 0.0}, (6.3, 6.6), "from 3 tests, the last of 2026-04-08, which alone read <6.2: "),
        ({"last_low": 0.0}, (5.6, 6.1), "from 3 tests, the last of 2026-04-08; "),
        ({"last_high": np.inf}, (5.6, 6.1), "from 3 tests, the last of 2026-04-08, which alone read >6.2: "),
        ({"last_high": np.inf}, (6.3, 6.6), "from 3 tests, the last of 2026-04-08; "),
        ({"last_low": 0.0, "qualifier": "<"}, (0, 6.2), ", <6.2: no test has read it, and the limit stands "
         "for the most that it may be; "),
        ({"last_high": np.inf, "qualifier": ">"}, (6.2, 9), ", >6.2: no test has read it, and the limit "
         "stands for the least that it may be; "),
        (LOGS, (30, 50), ", which alone read 60.0: "),
        ({"last": pd.NaT, "n": 0}, (6.3, 6.6), ""),
    ],
)  # fmt: skip
def test_what_a_standing_rests_on(more, range_, said):
    """The last test is told where it lies outside of where the bed is said to stand; beyond a limit it may
    lie anywhere there, and one test says what it says."""
    told = tables._since(RECORD | more, *range_)
    assert said in told
    assert told.endswith("; ") == bool(said)
    assert ("which alone" in told) == ("which alone" in said)


def test_expected_by_the_order_of_the_draws():
    """The 1st, 10th and 19th of 19 draws: now, left alone, and after with the test's own noise on its scale.

    20 g/m2 that bring 0.5 of K at 2 mg/kg a gram: 20 mg/kg more than when left alone."""
    plot = plot_of(K=(50, 60, 70, 80, 120), pH=(6.1, 6.4, 6.5, 6.0, 6.8))
    plot = replace(plot, now=plot.left + np.array([5.0, 0.1]), moves=np.zeros((19, 2, len(BRINGS))),
                   test=np.stack([draws(-0.2, 0, 0.1), draws(-0.2, 0, 0.1)], axis=1))  # fmt: skip
    plot.measures[["method", "lab", "n"]] = ["some", "one", 3]
    plot.measures["last"] = [pd.Timestamp(2026, 4, 8), pd.NaT]
    plot.measures["last_low"] = plot.measures["last_high"] = np.log(58)  # between the low and the middle
    plot.measures[["top_cm", "bottom_cm"]] = [0.0, 15.0]
    plot.moves[:, 0, BRINGS.index("K")] = 2.0
    bench = bench_of(shed_of(sulphate_of_potash=(90, "own", {"K": 0.5})))
    bench.days.test_season = "spring 2028"
    potassium, pH = tables.expect(plot, np.array([20.0]), bench)
    assert [potassium[name] for name in ("now_low", "now", "now_high")] == pytest.approx([55, 65, 75])
    assert [potassium["left_alone"], potassium["after"]] == pytest.approx([60, 80])
    assert (potassium["aim"], potassium["aim_high"]) == (80, 120)
    assert [potassium["low"], potassium["high"]] == pytest.approx([70 * np.exp(-0.2), 90 * np.exp(0.1)])
    assert [pH[name] for name in ("low", "after", "high")] == pytest.approx([5.9, 6.4, 6.6])
    assert (potassium["why"], pH["why"]) == ("from 3 tests, the last of 2026-04-08; ", "; by no buffer")
    assert (potassium["test"], potassium["ceiling"], potassium["bottom_cm"]) == ("spring 2028", 120, 15)


def test_her_own_manure_that_has_no_time_to_wait_is_told_once():
    """120 days before the picking (7 CFR 205.203); that of the table, or held for its potassium, is not told
    again, and what has time is not told at all."""
    plot = plot_of(K=(90, 100, 120, 50, 80))
    names = {name: (900, "own", {}) for name in ("cattle_manure", "goat_manure", "garden_compost")}
    shed = shed_of(**names, sheep_manure=(900, "table", {}))
    rows = held_of(plot, shed, ceilings=[0], load=[[0, 1, 0, 0]], broken=[1], East=pd.Timestamp(2027, 6, 1))
    assert [(what, about) for what, about, _ in rows] == [("goat manure", "K"), ("cattle manure", "")]
    assert "picked from 2027-06-01, and 120 days must lie between" in rows[1][2]
