"""One sample in two files: every value once, the later edition of a report, or a question."""

import itertools
import shutil
from pathlib import Path

import pandas as pd
import pytest

from soiltrend import frames
from soiltrend.garden import account, open_garden, revisions

DEMO = Path(__file__).parents[1] / "data_demo" / "oxmarrow-steps"
TOML = 'name = "Two beds"\n[beds."East"]\n[beds."West"]\n'
NUMBER, ISSUED = "Report number: A-17\n", "Date reported: {}\n"
HEAD = "Sample,Bed,Date sampled,Lab,pH,K (Mehlich-3) ppm,P (Mehlich-3) ppm\n"
ROWS = "7,East,2024-04-12,Hollin Bench,6.4,142,31\n8,West,2024-04-12,Hollin Bench,7.0,88,<2\n"
REVISED = ROWS.replace("142", "124")


@pytest.fixture
def opened(tmp_path):
    """Return a function that writes reports into a small garden and opens it."""

    def make(**reports):
        (tmp_path / "reports").mkdir(exist_ok=True)
        (tmp_path / "garden.toml").write_text(TOML)
        for name, text in reports.items():
            (tmp_path / "reports" / name.replace("__", ".")).write_text(text)
        garden = open_garden(tmp_path)
        table = account(garden).table
        assert (table["found"] == table["read"] + table["set aside"]).all()
        assert table["found"].sum() == len(garden.results) + len(garden.set_aside)
        frames.check(garden.results)
        return garden

    return make


def of_east(garden, analyte="K"):
    """The values of one analyte in bed East, with their files."""
    rows = garden.results.query("bed == 'East' and analyte == @analyte")
    return sorted(zip(rows["value"], rows["source"], strict=True))


def test_a_report_in_two_forms_is_read_once(opened):
    """The same values with other words around them: the second file is set aside, value by value."""
    garden = opened(a__csv=HEAD + ROWS, b__csv="Report of spring\n" + HEAD + ROWS)
    assert set(garden.results["source"]) == {"reports/a.csv"}
    assert len(garden.results) == len(garden.set_aside) == 6
    reason = "printed again in reports/b.csv: the same value was read from reports/a.csv"
    assert set(garden.set_aside["reason"]) == {reason}
    assert set(garden.set_aside["text"]) == {"6.4", "142", "31", "7.0", "88", "<2"}


@pytest.mark.parametrize(("first", "second"), [("2024-05-02", "2024-05-09"), ("2024-05-09", "2024-05-02")])
def test_a_later_edition_replaces_the_earlier(opened, first, second):
    """Of one report number the later day wins, whatever the files are called; the old value is kept apart."""
    garden = opened(
        a__csv=NUMBER + ISSUED.format(first) + HEAD + ROWS,
        b__csv=NUMBER + ISSUED.format(second) + HEAD + REVISED,
    )
    later, earlier, kept, text = ("b", "a", 124.0, "142") if second > first else ("a", "b", 142.0, "124")
    assert of_east(garden) == [(kept, f"reports/{later}.csv")]
    assert set(garden.set_aside["source"]) == {f"reports/{earlier}.csv"}
    changed = garden.set_aside[garden.set_aside["reason"].str.startswith("revised by")]
    assert changed[["label", "text"]].to_numpy().tolist() == [["K", text]]
    said = (
        f"revised by reports/{later}.csv, the edition of 2024-05-09 of report A-17: it says {kept:.0f} there"
    )
    assert changed["reason"].tolist() == [said]


def test_what_a_later_edition_leaves_out_stays(opened):
    """A second edition of one bed alone takes nothing from the other bed."""
    only = "".join(REVISED.splitlines(keepends=True)[:1])
    garden = opened(
        a__csv=NUMBER + ISSUED.format("2024-05-02") + HEAD + ROWS,
        b__csv=NUMBER + ISSUED.format("2024-05-09") + HEAD + only,
    )
    assert dict(garden.results.groupby("source").size()) == {"reports/a.csv": 3, "reports/b.csv": 3}


@pytest.mark.parametrize("above", ["", NUMBER, NUMBER + ISSUED.format("2024-05-02")])
def test_an_edition_without_a_day_is_asked_about(opened, above):
    """Nothing tells which holds: both values wait, the others are kept once, and the lines are given."""
    garden = opened(a__csv=above + HEAD + ROWS, b__csv=above + HEAD + REVISED)
    assert of_east(garden) == []
    assert len(garden.results) == 5
    asked = garden.set_aside[garden.set_aside["reason"].str.contains("which of the two holds")]
    assert asked[["source", "text"]].to_numpy().tolist() == [
        ["reports/a.csv", "142"],
        ["reports/b.csv", "124"],
    ]
    assert "reports/b.csv gives 124 for the same sample" in asked["reason"].iloc[0]
    assert 'reported = "2024-05-02"' in garden.asks
    assert "# for reports/b.csv, in b.toml beside it" in garden.asks
    own = 'of different days, give each file its own day there (sampled = "2024-04-12")'
    assert asked["reason"].str.endswith(own).all()


def test_the_answer_settles_it(opened):
    """What the question asks for, written beside the files, makes one of them the later edition."""
    told = 'report = "A-17"\nreported = {}\n'
    garden = opened(
        a__csv=HEAD + ROWS,
        b__csv=HEAD + REVISED,
        a__toml=told.format("2024-05-09"),
        b__toml=told.format('"2024-05-02"'),
    )
    assert of_east(garden) == [(142.0, "reports/a.csv")]
    assert garden.asks == ()


def test_two_reports_of_one_sample_are_two_measurements(opened):
    """Reports of different numbers that differ are both kept, and this is said."""
    garden = opened(a__csv=NUMBER + HEAD + ROWS, b__csv="Report number: B-2\n" + HEAD + REVISED)
    assert of_east(garden) == [(124.0, "reports/b.csv"), (142.0, "reports/a.csv")]
    said = "both hold values of '7' that differ; they are kept as two measurements"
    assert f"reports/a.csv and reports/b.csv {said}" in garden.notes


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("7,East", "9,East"),
        ("Hollin Bench", "Carrow Bench"),
        ("2024-04-12", "2024-04-13"),
        ("7,East", ",East"),
        ("(Mehlich-3)", "(Olsen)"),
    ],
)
def test_what_differs_in_name_is_not_the_same_sample(opened, old, new):
    """Another label, laboratory, day or method is another measurement: a split sample keeps both values."""
    garden = opened(a__csv=HEAD + ROWS, b__csv=(HEAD + REVISED).replace(old, new))
    assert sorted(value for value, _ in of_east(garden)) == [124.0, 142.0]


def test_samples_without_a_label_are_not_taken_for_one(opened):
    """Two files with one composite each of a bed: two samples, unless every value is the same."""
    blank = (HEAD + ROWS).replace("7,", ",").replace("8,", ",")
    garden = opened(a__csv=blank, b__csv=blank.replace("142", "124"))
    assert [value for value, _ in of_east(garden)] == [124.0, 142.0]


def test_repeats_inside_a_file_are_no_editions():
    """Two values of one analyte in one file, and two in the other: each meets its own."""
    row = {
        "lab": "Hollin Bench",
        "sample": "7",
        "bed": "East",
        "sampled": "2024-04-12",
        "analyte": "P",
        "method": "Olsen",
        "unit": "mg/kg",
    }
    pairs = [("a.csv", 31.0), ("a.csv", 33.0), ("b.csv", 31.0), ("b.csv", 33.0)]
    once = revisions.settle(frames.results([row | {"source": s, "value": v} for s, v in pairs]), {})
    assert once.results["value"].tolist() == [31.0, 33.0]
    assert set(once.results["source"]) == {"a.csv"}


@pytest.mark.parametrize("order", list(itertools.permutations((1, 2, 3))))
def test_of_three_editions_the_last_holds(order):
    """Whatever the order of the files, only the latest value is left."""
    row = {
        "lab": "Hollin Bench",
        "sample": "7",
        "bed": "East",
        "sampled": "2024-04-12",
        "analyte": "K",
        "unit": "mg/kg",
        "report": "A-17",
    }
    rows = [
        row | {"source": f"{name}.csv", "value": 100.0 + edition, "reported_value": str(100 + edition)}
        for name, edition in zip("abc", order, strict=True)
    ]
    days = {f"{name}.csv": pd.Timestamp(2024, 5, edition) for name, edition in zip("abc", order, strict=True)}
    once = revisions.settle(frames.results(rows), days)
    assert once.results["value"].tolist() == [103.0]
    assert len(once.set_aside) == 2


def test_a_limit_is_no_number():
    """ "<2" and 2 are not the same value."""
    row = {
        "lab": "Hollin Bench",
        "sample": "7",
        "bed": "East",
        "sampled": "2024-04-12",
        "analyte": "P",
        "unit": "mg/kg",
        "value": 2.0,
    }
    once = revisions.settle(
        frames.results([row | {"source": "a.csv", "qualifier": "<"}, row | {"source": "b.csv"}]), {}
    )
    assert once.results.empty
    assert once.set_aside["reason"].str.contains("which of the two holds").all()


def test_the_demo_garden_holds_every_value_once(tmp_path):
    """No file repeats another there; a report that came as a table too is found out value by value."""
    before = open_garden(DEMO)
    assert not before.set_aside["reason"].str.contains("printed again|revised by|which of the two").any()
    shutil.copytree(DEMO, tmp_path / "garden", ignore=shutil.ignore_patterns("out"))
    told = (tmp_path / "garden/reports/spring-2022.csv").read_bytes()
    (tmp_path / "garden/reports/to-print.csv").write_bytes(told.replace(b",", b";"))
    shutil.copy(DEMO / "reports/spring-2022.toml", tmp_path / "garden/reports/to-print.toml")
    after = open_garden(tmp_path / "garden")
    pd.testing.assert_frame_equal(after.results, before.results)
    assert (
        len(after.set_aside) - len(before.set_aside)
        == (before.results["source"] == "reports/spring-2022.csv").sum()
    )
