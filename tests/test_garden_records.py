"""What samples.csv tells of a report's samples: the day it answers, labels that stand twice, layers."""

import pandas as pd
import pytest

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
