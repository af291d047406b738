"""What samples.csv tells of a report's samples: the day it answers, labels that stand twice, layers."""

import pandas as pd
import pytest

from soiltrend import composites
from soiltrend.errors import GardenError
from soiltrend.garden import open_garden

BEDS = 'name = "Two beds"\n[beds.East]\n[beds.West]\n'
HEAD = "sample,bed,sampled,top_cm,bottom_cm\n"


@pytest.fixture
def garden(tmp_path):
    """Return a function that opens a garden with one report, a record of samples and answers."""

    def make(report, record, answers=""):
        (tmp_path / "reports").mkdir()
        (tmp_path / "garden.toml").write_text(BEDS)
        (tmp_path / "reports" / "spring.csv").write_text(report)
        (tmp_path / "reports" / "spring.toml").write_text(answers)
        (tmp_path / "samples.csv").write_text(HEAD + record)
        return open_garden(tmp_path)

    return make


@pytest.mark.parametrize("day", ["", ",31/31/2025"])
def test_a_day_that_the_record_tells_is_not_asked_for(garden, day):
    """The report states none, or one that is none; samples.csv does, and wins: nothing is open."""
    read = garden(f"Sample{',Date sampled' if day else ''},pH\nA1{day},6.4\n", "A1,East,2025-04-09,0,15\n")
    assert read.results["sampled"].tolist() == [pd.Timestamp("2025-04-09")]
    assert [line for line in read.asks if line.startswith("sampled")] == []
    assert not any("sampled = " in note for note in read.notes)


def test_a_day_that_the_record_tells_of_some_samples_is_asked_for(garden):
    """A2 is in no record: its day is open."""
    read = garden("Sample,Bed,pH\nA1,East,6.4\nA2,West,6.1\n", "A1,East,2025-04-09,0,15\n")
    assert 'sampled = "2024-04-12"' in read.asks
    assert any("the day of sampling is not stated" in note for note in read.notes)


@pytest.mark.parametrize("report", ["Sample,pH\nA1,6.4\n", "Sample,Date sampled,pH\nA1,2025-04-09,6.4\n"])
def test_a_label_that_stands_twice_is_named_with_its_lines(garden, report):
    """Nothing tells which of the two beds sample A1 is from; it is not filed in the first."""
    read = garden(report, "A1,East,2025-04-09,0,15\nA1,West,2025-04-09,0,15\n")
    assert read.results.empty
    assert read.set_aside["reason"][0].startswith("'A1' stands on lines 2 and 3 of samples.csv")
    assert "give each bag a label of its own" in read.set_aside["reason"][0]


def test_lines_that_say_the_same_of_a_label_are_one(garden):
    """A line copied by mistake contradicts nothing."""
    read = garden("Sample,Date sampled,pH\nA1,2025-04-09,6.4\n", 2 * "A1,East,2025-04-09,0,15\n")
    assert read.results["bed"].tolist() == ["East"]


@pytest.mark.parametrize(("layer", "said"), [("15,0", "bottom_cm 0 is not more than top_cm 15"),
                                             (",0", "bottom_cm 0 is not more than top_cm 0")])
def test_a_layer_upside_down_is_named_with_its_line(garden, layer, said):
    """File, line, value and what to write."""
    with pytest.raises(GardenError, match=rf"^samples\.csv: line 2: {said} \(write the smaller in top"):
        garden("Sample,pH\nA1,6.4\n", f"A1,East,2025-04-09,{layer}\n")


@pytest.mark.parametrize(("layer", "said"), [("20,", "20 to 15 cm"), (",5", "10 to 5 cm")])
def test_one_edge_of_a_layer_that_does_not_fit_the_report_s_other_edge(garden, layer, said):
    """The report tells a layer from 10 to 15 cm; the record one edge that turns it upside down."""
    place = r"^samples\.csv: sample 'A1' of reports/spring\.csv"
    with pytest.raises(GardenError, match=f"{place} would come from {said} "):
        garden("Sample,Depth,pH\nA1,10-15 cm,6.4\n", f"A1,East,2025-04-09,{layer}\n")


def test_answers_that_cannot_be_used_name_their_own_file(garden):
    """The layer stands in spring.toml, and not in report.toml."""
    read = garden("Sample,pH\nEast,6.4\n", "", "depth_cm = [15, 0]\n")
    said = "spring.toml, depth_cm: the answer depth_cm = [15, 0] cannot be used"
    assert said in read.set_aside["reason"][0]


YEARS = "Sample,Bed,Sampled,pH\n1,East,{0},6.3\n2,West,{0},5.8\n"


def test_a_label_used_again_another_year_is_the_bed_of_its_own_line(garden):
    """Laboratories number 1, 2, 3 every year (common practice): samples.csv tells of last year's alone."""
    read = garden(YEARS.format("2025-04-13"), "1,West,2024-04-03,0,30\n2,East,2024-04-03,0,30\n")
    assert read.results["bed"].tolist() == ["East", "West"]
    assert read.results["bottom_cm"].tolist() == [15.0, 15.0]  # the beds' own: last year's record is not used
    assert read.set_aside.empty


def test_a_label_on_lines_of_two_years_is_the_one_whose_day_is_near(garden):
    """The report bears the day on which the bag came in, a week after each was dug."""
    record = "".join(f"{n},West,2024-04-03,0,30\n{n},{bed},2025-04-06,0,20\n"
                     for n, bed in ((1, "East"), (2, "West")))
    read = garden(YEARS.format("2025-04-13"), record)
    assert read.results["bed"].tolist() == ["East", "West"]
    assert read.results["bottom_cm"].tolist() == [20.0, 20.0]
    assert set(read.results["sampled"]) == {pd.Timestamp("2025-04-06")}


def test_a_label_of_other_days_without_a_bed_names_those_days(garden):
    """Nothing but the record names a bed, and it has the label for two other days."""
    read = garden("Sample,Sampled,pH\n1,2026-04-13,6.3\n", "1,West,2024-04-03,0,30\n1,East,2025-04-06,0,20\n")
    assert read.set_aside["reason"].tolist() == [
        "'1' is not a bed of this garden, and samples.csv has that label for other days alone (2024-04-03, "
        "2025-04-06); write a line for it there with the day of this sample"
    ]


BY_FIELD = "Lab No,Field,Sampled,pH\n{}"
SPLIT = "sample,bed,sampled,top_cm,bottom_cm,cores,duplicate_of\n"


def test_a_bag_named_beside_the_number_of_the_laboratory_is_used_in_full(garden, tmp_path):
    """A hidden duplicate under "Field" is its parent's composite; cores and layer are the record's."""
    report = BY_FIELD.format("900,East,2025-04-09,6.4\n901,Dummy,2025-04-09,6.5\n902,West,2025-04-09,6.0\n")
    read = garden(report, "")
    assert read.results["sample"].tolist() == ["900", "902"]  # no bed is called Dummy
    record = "East,East,2025-04-09,0,20,12,\nDummy,East,2025-04-09,0,20,12,East\n"
    (tmp_path / "samples.csv").write_text(SPLIT + record)
    read = open_garden(tmp_path)
    assert read.results["sample"].tolist() == ["East", "Dummy", "902"]
    assert read.results["bottom_cm"].tolist() == [20.0, 20.0, 15.0]
    marked = composites.mark(read.results, composites.record(read.samples))
    assert marked["composite"].tolist() == [0, 0, 1]
    assert marked["cores"].tolist()[:2] == [12.0, 12.0]
    assert [note for note in read.notes if "bag" in note] == []


@pytest.mark.parametrize("rows", ["900,East,2025-04-09,6.4\n901,East,2025-04-09,6.5\n",
                                  "900,East,2025-08-09,6.4\n"])
def test_a_name_that_two_samples_bear_or_of_another_day_is_no_bag(garden, rows):
    """Which of the two the bag was, nothing tells; each keeps its number and its bed."""
    read = garden(BY_FIELD.format(rows), "East,East,2025-04-09,0,20\n")
    assert read.results["sample"].tolist() == [row.split(",")[0] for row in rows.splitlines()]
    assert set(read.results["bed"]) == {"East"}
    assert set(read.results["bottom_cm"]) == {15.0}


def test_a_bag_all_of_whose_values_were_set_aside_is_met(garden):
    """Its label stands in the report, though nothing of it could be read."""
    report = BY_FIELD.format("900,East,2025-04-09,64\n902,West,2025-04-09,6.0\n")
    read = garden(report, "East,East,2025-04-09,0,20\n")
    assert read.set_aside[["sample", "text"]].to_numpy().tolist() == [["East", "64"]]
    assert [note for note in read.notes if "bag" in note] == []


@pytest.mark.parametrize(("second", "read"), [("2025-04-09", 2), ("2024-04-09", 1)])
def test_files_alike_are_one_only_when_their_answers_are(tmp_path, second, read):
    """Two reports print the same values to the byte; the answers beside them tell two years, or one."""
    (tmp_path / "reports").mkdir()
    (tmp_path / "garden.toml").write_text(BEDS)
    for name, day in (("a", "2024-04-09"), ("b", second)):
        (tmp_path / "reports" / f"{name}.csv").write_text("Sample,pH\nEast,6.4\n")
        (tmp_path / "reports" / f"{name}.toml").write_text(f"sampled = {day}\n")
    found = open_garden(tmp_path)
    assert len(found.results) == read
    assert len(found.set_aside) == 2 - read
