"""The page for the hurried says what its chapters say, and no more."""

from dataclasses import replace
from datetime import date

import pandas as pd
import pytest

import soiltrend as st
from soiltrend import brief
from soiltrend.brief import in_short

TOML = '[beds."East"]\narea_m2 = 10\ndepth_cm = 15\n[beds."West"]\narea_m2 = 4\ndepth_cm = 15\ncheck = true\n'
SHED = "material,K,S,moisture,CCE,density,on_hand_kg,measured\nsulphate of potash,42,18,0,0,1.2,5,yes\n"
HEAD = "Sample,Date sampled,Lab,Depth cm,pH (water 1:1),P (Mehlich-3) mg/kg,K (Mehlich-3) mg/kg\n"


@pytest.fixture(scope="module")
def garden(tmp_path_factory):
    """Return a function that opens a garden of two beds with these values of phosphorus by year."""

    def make(**values):
        folder = tmp_path_factory.mktemp("brief")
        (folder / "reports").mkdir()
        (folder / "garden.toml").write_text(TOML, encoding="utf-8")
        (folder / "materials.csv").write_text(SHED, encoding="utf-8")
        rows = [
            f"{bed},{year[1:]}-04-10,Hill,15,6.4,{p if bed == 'East' else 40},60"
            for bed in ("East", "West")
            for year, p in values.items()
        ]
        (folder / "reports" / "all.csv").write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")
        return st.open_garden(folder)

    return make


def answers(table, question):
    asked = table["question"].replace("", None).ffill()
    return table.loc[asked.str.startswith(question), "answer"].tolist()


def test_each_question_has_the_answer_of_its_chapter(garden):
    """Changes are those of the headlines, the check bed is held, doses are those of the plan."""
    mine = garden(y2022=20, y2025=140)
    table = in_short(mine).table
    compared = st.compare_latest(st.prepared(mine), noise=st.noise_model(st.prepared(mine)))
    told = st.headlines(compared).table.set_index("bed")["headline"]
    assert told["East"] in answers(table, "What changed from spring 2022 to spring 2025?")
    assert "No sure change in West" in answers(table, "What changed")
    assert any(text.startswith("West: everything") for text in answers(table, "What to hold back?"))
    plan = st.plan(mine, season="spring 2026")
    doses = " ".join(answers(table, "What to add from spring 2026 on?"))
    assert len(plan.doses)
    assert all(f"{row.material} {row.g_per_m2:.3g}" in doses for row in plan.doses.itertuples())
    american = " ".join(answers(in_short(mine, voice=st.story.Voice(units="US")).table, "What to add"))
    assert doses.count("g/m2") == american.count("lb/1000 sq ft") > 0
    assert "g/m2" not in american
    assert answers(table, "When to test again?") == [
        "In spring 2026: the same laboratory, layer and weeks of the year."
    ]


def test_the_trends_that_stand_are_told(garden):
    """Ten years up in one bed: the record of the other is steady, and is not told as moving."""
    mine = garden(**{f"y{2016 + at}": 20 * 1.12**at for at in range(10)})
    told = answers(in_short(mine).table, "Which trends stand")
    assert told == [
        "Phosphorus is rising in 1 of 2 beds, 2016 to 2025",
        "The garden as a whole, phosphorus: rising, +5.8 % a year.",
    ]
    flat = garden(**{f"y{2016 + at}": 20 + at % 2 for at in range(10)})
    assert answers(in_short(flat).table, "Which trends") == [
        "No bed has a trend that is more than luck can make among so many."
    ]
    few = answers(in_short(garden(y2022=20, y2025=140)).table, "Which trends")
    assert few == ["No bed has enough tests by one laboratory, method and layer for a trend."]


def test_the_trend_of_the_garden_is_told_where_no_bed_has_one(garden, monkeypatch):
    """A row of the garden that stands is told beside the beds; one that luck can make is not, nor a share."""
    mine = garden(**{f"y{2016 + at}": 20 + at % 2 for at in range(10)})
    found = st.trend(st.prepared(mine))
    row = found.table[(found.table["analyte"] == "P") & (found.table["bed"] == "East")]
    moved = row.assign(bed="(garden)", verdict="rising", slope_per_year=1.0, percent_per_year=2.1, q=0.049)
    weak, share = moved.assign(analyte="K", q=0.2), moved.assign(analyte="K saturation")
    table = pd.concat([found.table[found.table["bed"] != "(garden)"], moved, weak, share])
    monkeypatch.setattr(brief, "trend", lambda results, *, noise: replace(found, table=table))
    assert answers(in_short(mine).table, "Which trends") == [
        "No bed has a trend that is more than luck can make among so many.",
        "The garden as a whole, phosphorus: rising, +2.1 % a year.",
    ]


def test_nothing_held_back_is_said(garden, monkeypatch):
    """The row stands in any garden that has tests, as its question is promised."""
    mine = garden(y2022=20, y2025=30)
    plan = st.plan(mine, season="spring 2026")
    monkeypatch.setattr(brief, "plan", lambda garden, *, season: replace(plan, hold=plan.hold.iloc[:0]))
    assert answers(in_short(mine).table, "What to hold back?") == [
        "Nothing: no bed is known to hold so much of anything that more of it should wait."
    ]


def test_a_dose_of_several_days_is_that_of_each(garden, monkeypatch):
    """One amount on two days is given each time; on one day nothing is added to it."""
    mine = garden(y2022=20, y2025=30)
    plan = st.plan(mine, season="spring 2026")
    once = plan.doses.head(1).assign(material="crab meal", g_per_m2=90.0, kitchen="4 level cups (360 g)")
    twice = pd.concat([once.assign(date=date(2026, month, 20)) for month in (4, 5)])
    told = []
    for doses in (twice, twice.head(1)):
        monkeypatch.setattr(brief, "plan", lambda garden, *, season, doses=doses: replace(plan, doses=doses))
        told += answers(in_short(mine).table, "What to add")[:1]
    assert told[0].endswith(
        "crab meal 90.0 g/m2, 4 level cups, each time, on 2026-04-20 and 2026-05-20."
    )
    assert told[1].endswith("crab meal 90.0 g/m2, 4 level cups, on 2026-04-20.")


def test_one_test_is_a_beginning(garden):
    """Nothing to compare: said so, and what the one test allows is planned all the same."""
    table = in_short(garden(y2025=20)).table
    assert answers(table, "What changed") == []
    assert answers(table, "What is unclear?")[0].startswith("No two tests can be compared yet")
    assert answers(table, "What to hold back?")


def test_what_is_not_known_is_not_told_as_enough(tmp_path):
    """Strongly acid by calcium chloride, for which no aim is known: said, beside that nothing is planned."""
    (tmp_path / "reports").mkdir()
    (tmp_path / "garden.toml").write_text(TOML, encoding="utf-8")
    rows = "".join(f"East,{year}-04-10,Hill,15,4.1\n" for year in (2024, 2025))
    head = "Sample,Date sampled,Lab,Depth cm,pH (CaCl2)\n"
    (tmp_path / "reports" / "all.csv").write_text(head + rows, encoding="utf-8")
    told = answers(in_short(st.open_garden(tmp_path)).table, "What to add")
    assert told[0].startswith("Nothing: no bed is known to lack anything")
    assert told[1] == "In East no aim is known, and nothing is planned, for pH by CaCl2."


def test_a_garden_without_a_report(garden, tmp_path):
    """Questions that nothing can answer yet are left out; when to test stands."""
    (tmp_path / "garden.toml").write_text(TOML, encoding="utf-8")
    table = in_short(st.open_garden(tmp_path)).table
    assert answers(table, "What to add") == []
    assert len(answers(table, "When to test again?")) == 1


def test_only_the_present_series_is_told_of_a_ratio(tmp_path):
    """The laboratory left in 2021 found Ca:Mg outside, the present one steady: no flag is told of it."""
    (tmp_path / "reports").mkdir()
    (tmp_path / "garden.toml").write_text(TOML, encoding="utf-8")
    head = "Sample,Date sampled,Lab,Depth cm,pH (water 1:1)," + ",".join(
        f"{name} (Mehlich-3) mg/kg" for name in ("Ca", "Mg", "K")
    )
    found = {True: "Old Bench,15,7.2,2000,100,120", False: "New Bench,15,7.2,1600,300,160"}
    rows = [f"East,{year}-{m}-10,{found[year < 2022]}" for year in range(2019, 2027) for m in ("04", "10")]
    (tmp_path / "reports" / "all.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    garden = st.open_garden(tmp_path)
    table = st.drift(st.prepared(garden)).table
    assert set(table.loc[(table["ratio"] == "Ca:Mg (charge)") & table["firm"], "lab"]) == {"Old Bench"}
    (said,) = answers(in_short(garden).table, "Which ratios are drifting?")
    assert said.startswith("Ca saturation (East: outside). A ratio describes")
