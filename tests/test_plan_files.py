"""What a plan writes, and what the review makes of it a year later."""

import csv
import json
import re
from dataclasses import replace

import icalendar
import numpy as np
import pandas as pd
import pytest

import soiltrend as st
from soiltrend import frames
from soiltrend.errors import SoiltrendError
from soiltrend.plan import calendar
from soiltrend.plan.kitchen import kitchen, mass
from soiltrend.plan.write import PARTS

HEAD = "Bed,Date sampled,pH (water 1:1),K (Mehlich-3) ppm,Mg (Mehlich-3) ppm\n"
ROWS = [
    f"Größe, rear,{year}-04-08,6.5,60,100".replace("Größe, rear", '"Größe, rear"')
    for year in (2024, 2025, 2026)
]
TOML = '[beds."Größe, rear"]\narea_m2 = 10\n[cups]\n"sulphate of potash" = 300\n'
POTASH = "material,K,S,moisture,CCE,density,cost_per_kg,measured\nsulphate of potash,42,18,0,0,1.2,1.5,yes\n"


def opened(folder, rows):
    """Write the garden with these tests and open it."""
    (folder / "reports").mkdir(exist_ok=True)
    (folder / "garden.toml").write_text(TOML, encoding="utf-8")
    (folder / "materials.csv").write_text(POTASH, encoding="utf-8")
    (folder / "reports" / "a.csv").write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")
    return st.open_garden(folder)


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """A garden with a plan kept in its out/plans."""
    folder = tmp_path_factory.mktemp("kept")
    plan = st.plan(opened(folder, ROWS), season="spring 2027")
    st.save_plan(plan, folder / "out" / "plans")
    return folder, plan


def test_every_table_is_written_whole(kept):
    """One CSV a table, unrounded, with all its rows."""
    folder, plan = kept
    for part in PARTS:
        path = folder / "out" / "plans" / f"plan-spring-2027-{part}.csv"
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        table = getattr(plan, part)
        assert len(rows) == len(table)
        assert not rows or list(rows[0]) == list(table.columns)


def test_the_calendar_is_one_by_its_standard(kept):
    """RFC 5545: CRLF, lines of at most 75 octets, an event a dose with its required properties."""
    text = calendar(kept[1])
    assert "\n" not in text.replace("\r\n", "")
    assert max(len(line.encode()) for line in text.split("\r\n")) <= 75
    whole = text.replace("\r\n ", "")
    events = re.findall(r"BEGIN:VEVENT\r\n(.*?)END:VEVENT", whole, flags=re.DOTALL)
    assert len(events) == len(kept[1].doses) > 0
    for event, (_, dose) in zip(events, kept[1].doses.iterrows(), strict=True):
        lines = dict(line.split(":", 1) for line in event.strip().split("\r\n"))
        assert {"UID", "DTSTAMP"} <= set(lines)
        assert lines["DTSTART;VALUE=DATE"] == f"{dose['date']:%Y%m%d}"
        assert lines["SUMMARY"].startswith("Größe\\, rear: sulphate of potash")
    other = calendar(replace(kept[1], garden="another"))
    uids = [line for each in (whole, other) for line in each.split("\r\n") if line.startswith("UID:")]
    assert len(set(uids)) == len(uids) == 2 * len(events), "globally unique (RFC 5545, 3.8.4.7)"


def test_a_calendar_library_reads_it(kept):
    """The open icalendar package finds the same days and words."""
    found = icalendar.Calendar.from_ical(calendar(kept[1])).walk("VEVENT")
    assert [part.decoded("dtstart") for part in found] == [day.date() for day in kept[1].doses["date"]]
    assert str(found[0]["summary"]).startswith("Größe, rear: sulphate of potash")


def test_a_file_is_no_folder(tmp_path, kept):
    """The name stands in the message."""
    (tmp_path / "paper").write_text("", encoding="utf-8")
    with pytest.raises(SoiltrendError, match="'paper' is a file"):
        st.save_plan(kept[1], tmp_path / "paper")


def test_review_before_the_test_has_come(kept, tmp_path):
    """No forecast, or no test yet: said, and no error."""
    found = st.review(opened(kept[0], ROWS))
    assert found.table.empty
    assert "spring 2027 have not come yet" in found.why
    assert "No forecast to review yet" in repr(found)
    assert "no plan was kept" in st.review(opened(kept[0], ROWS), folder=tmp_path).why


@pytest.mark.parametrize(("potassium", "inside"), [("middle", True), ("far", False)])
def test_review_tells_what_was_forecast_from_what_was_not(kept, potassium, inside):
    """Next spring's test beside its interval, with a tally of how often the plan was right."""
    folder, plan = kept
    row = plan.expected.set_index("analyte").loc["K"]
    value = row["after"] if potassium == "middle" else 3 * row["high"]
    garden = opened(folder, [*ROWS, f'"Größe, rear",2028-04-10,6.5,{value:.1f},100'])
    found = st.review(garden)
    told = found.table.set_index("analyte").loc["K"]
    assert told["inside"] == inside
    assert told["why"] == ("as forecast" if inside else "above the interval")
    tally = found.tally.set_index("analyte")
    assert tally.at["K", "inside"] == int(inside)
    assert tally.at["all measures", "tests"] == len(found.table) == 3
    assert tally.at["all measures", "share"] == pytest.approx((2 + inside) / 3)
    title = f"{2 + inside} of 3 tests inside the 90% interval that was forecast"
    page = found._repr_html_()
    assert repr(found).startswith(title)
    assert page.index(title) < page.index("Each forecast") < page.rindex(told["why"])
    opened(folder, ROWS)


@pytest.mark.parametrize("other", [{"lab": "Oak"}, {"top_cm": 0.0, "bottom_cm": 30.0}])
def test_a_forecast_is_held_against_tests_of_its_own_laboratory_and_layer(kept, other):
    """Another laboratory reads otherwise, and 30 cm are another soil: neither is what was forecast."""
    folder, plan = kept
    middle = plan.expected.set_index("analyte").at["K", "after"]
    garden = opened(folder, [*ROWS, f'"Größe, rear",2028-04-10,6.5,{middle:.1f},100'])
    late = garden.results[garden.results["season"] == "spring 2028"]
    alone = replace(garden, results=frames.join(garden.results.drop(late.index), late.assign(**other)))
    both = replace(garden, results=frames.join(garden.results, late.assign(value=3 * late["value"], **other)))
    assert "have not come yet" in st.review(alone).why
    told = st.review(both).table.set_index("analyte").loc["K"]
    assert told["test"] == pytest.approx(middle, abs=0.06)
    assert told["inside"]
    opened(folder, ROWS)


BEDS = ["1", "=1+1", "@SUM(A1);=2"]


def test_names_that_look_like_formulas_and_numbers_are_reviewed(tmp_path):
    """No cell of any file is a formula (OWASP's signs), and the forecasts find their beds a year later."""
    (tmp_path / "reports").mkdir()
    beds = "".join(f"[beds.{json.dumps(bed)}]\narea_m2 = 10\n" for bed in BEDS)
    (tmp_path / "garden.toml").write_text(beds, encoding="utf-8")
    name = "+potash\u0085BEGIN:VEVENT"
    (tmp_path / "materials.csv").write_text(POTASH.replace("sulphate of potash", name), encoding="utf-8")
    rows = [f"{bed},{year}-04-08,6.5,60,100" for year in (2025, 2026) for bed in BEDS]
    (tmp_path / "reports" / "a.csv").write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")
    plan = st.plan(st.open_garden(tmp_path), season="spring 2027")
    assert len(plan.doses) > 0
    st.save_plan(plan, tmp_path / "out" / "plans")
    for path in (tmp_path / "out" / "plans").glob("*.csv"):
        for row in csv.reader(path.read_text(encoding="utf-8").splitlines()):
            for cell in row:
                assert not cell.startswith(("=", "@", "+p", "\t")), f"{path.name}: {cell}"
    events = calendar(plan)
    assert not set(events) & {chr(code) for code in (*range(10), 11, 12, *range(14, 32), *range(127, 160))}
    assert events.count("BEGIN:VEVENT\r\n") == len(plan.doses)
    rows += [f"{bed},2028-04-10,6.5,60,100" for bed in BEDS]
    (tmp_path / "reports" / "a.csv").write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")
    assert set(st.review(st.open_garden(tmp_path)).table["bed"]) == set(BEDS)


@pytest.mark.parametrize("place", ["", "reports", "plans"])
def test_a_plan_is_written_nowhere_in_a_garden_but_under_out(kept, place):
    """The grower's own folders are refused, and nothing is left there."""
    folder, plan = kept
    before = sorted(folder.rglob("*"))
    with pytest.raises(SoiltrendError, match="does not lie under"):
        st.save_plan(plan, folder / place)
    assert sorted(path for path in folder.rglob("*") if path.name != "plans") == [
        path for path in before if path.name != "plans"
    ]


@pytest.mark.parametrize("data", [b"\xff\xfe\x00", b'bed,"a\n1,2,3\n', b"bed\n1,2\n1,2,3,4\n", b""])
def test_a_forecast_that_was_damaged_is_named(tmp_path, kept, data):
    """Bytes that are no text, an open quotation mark, rows of any length, nothing."""
    (tmp_path / "plan-spring-2027-expected.csv").write_bytes(data)
    with pytest.raises(SoiltrendError, match=r"plan-spring-2027-expected\.csv: (it is no table|the column)"):
        st.review(opened(kept[0], ROWS), folder=tmp_path)


def test_review_refuses_what_is_no_forecast(tmp_path, kept):
    """The file and the column are named."""
    (tmp_path / "plan-spring-2027-expected.csv").write_text("bed,analyte\n", encoding="utf-8")
    with pytest.raises(SoiltrendError, match=r"plan-spring-2027-expected\.csv: the column 'method'"):
        st.review(opened(kept[0], ROWS), folder=tmp_path)


MATERIAL = {"own": (250.0, np.nan), "table": (np.nan, 1.2), "none": (np.nan, np.nan)}


@pytest.mark.parametrize(
    ("known", "grams", "system", "said"),
    [
        ("own", 375.0, "metric", "1 1/2 level cups (your own cup)"),
        ("table", 300.0, "metric", "1 level cup (the density"),
        ("own", 236.588, "US", "1 level cup (your own cup)"),
        ("own", 4.92892, "US", "1 level teaspoon (your own cup)"),
        ("own", 5.0, "metric", "1 level teaspoon (your own cup)"),
        ("own", 25000.0, "metric", "2 1/2 10-litre buckets"),
        ("own", 18927.0, "US", "1 5-gallon bucket"),
        ("own", 6246.0, "US", "26 1/2 level cups"),
        ("own", 93.5, "metric", "1/4 level cup and 6 1/4 level teaspoons (your own cup)"),
        ("own", 94.0, "metric", "1/4 level cup and 6 1/4 level teaspoons (your own cup)"),
        ("own", 88.72, "US", "1/4 level cup and 6 level teaspoons (your own cup)"),
        ("own", 62.5, "metric", "1/4 level cup (your own cup)"),
        ("own", 55.0, "metric", "11 level teaspoons (your own cup)"),
        ("own", 5000.0, "metric", "20 level cups (your own cup)"),
        ("own", 6000.0, "metric", "24 level cups (your own cup)"),
        ("own", 7500.0, "metric", "3/4 10-litre bucket (your own cup)"),
        ("own", 8000.0, "metric", "3/4 10-litre bucket"),
        ("none", 50.0, "metric", "weigh one level cup"),
        ("own", 0.4, "metric", "0.400 g on a fine scale (less than 1/4 level teaspoon or so; your own cup)"),
        ("own", 0.775, "metric", "0.775 g on a fine scale (1/4 level teaspoon or so; your own cup)"),
        ("own", 1.3, "metric", "1/4 level teaspoon (your own cup)"),
    ],
)
def test_kitchen_measures(known, grams, system, said):
    """NIST Handbook 44: US cup 236.588 ml, teaspoon 4.92892 ml, gallon 231 cubic inches; a metric cup 250."""
    cup, density = MATERIAL[known]
    assert said in kitchen(pd.Series({"cup_g": cup, "density": density}), grams=grams, system=system)


@pytest.mark.parametrize(
    ("grams", "system", "said"),
    [(453.59237, "US", "1.00 lb"), (28.349523125, "US", "1.0 oz"), (999.0, "metric", "999 g"),
     (1000.0, "metric", "1.00 kg"), (2500.0, "metric", "2.50 kg")],
)  # fmt: skip
def test_weights(grams, system, said):
    """The international pound and its sixteenth (NIST Handbook 44 appendix C)."""
    assert mass(grams, system=system) == said


@pytest.mark.parametrize(
    ("origin", "told"),
    [("table", "the density in the table"), ("own", "the density in materials.csv"), ("", "its density")],
)
def test_a_measure_names_whose_density_it_goes_by(origin, told):
    """A density of the grower's own is not said to be the table's."""
    row = pd.Series({"cup_g": float("nan"), "density": 1.0, "origin": origin})
    said = kitchen(row, grams=250.0, system="metric")
    assert said == f"1 level cup ({told}; weigh one level cup to be sure)"
