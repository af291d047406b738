"""Composites and occasions."""

import numpy as np
import pandas as pd
import pytest

from soiltrend import composites, frames

RECORD = composites.record()


def row(**changes):
    return {
        "bed": "East",
        "sampled": "2024-04-11",
        "season": "spring 2024",
        "lab": "L",
        "sample": "1",
        "analyte": "K",
        "unit": "mg/kg",
        "value": 90.0,
    } | changes


def marked(*rows, record=RECORD):
    return composites.mark(frames.results(list(rows)), record)


@pytest.mark.parametrize(
    ("change", "same"),
    [
        ({}, True),
        ({"analyte": "P"}, True),
        ({"sample": "2"}, False),
        ({"bed": "West"}, False),
        ({"lab": "M"}, False),
        ({"sampled": "2024-04-12"}, False),
        ({"bottom_cm": 30.0}, False),
    ],
)
def test_when_two_results_are_one_composite(change, same):
    """One label of one bed, day, layer and laboratory is one bucket."""
    first, second = marked(row(), row(**change))["composite"]
    assert (first == second) is same


def test_results_without_a_label_stand_alone():
    """Without a label nothing says that two results come from one bucket."""
    assert marked(row(sample=""), row(sample=""))["composite"].tolist() == [0, 1]


@pytest.mark.parametrize(
    ("change", "same"),
    [
        ({"bed": "West"}, True),
        ({"sampled": "2024-04-12"}, False),
        ({"lab": "M"}, False),
        ({"report": "r2"}, True),
    ],
)
def test_when_two_results_share_an_occasion(change, same):
    """A day and a laboratory make an occasion, whatever the bed."""
    first, second = marked(row(report="r1"), row(report="r1") | change)["occasion"]
    assert (first == second) is same


def test_an_undated_report_is_an_occasion_of_its_season():
    """Where the day is not known the report stands for it."""
    rows = [row(sampled=pd.NaT, report=r, season=s) for r, s in (("a", "2023"), ("a", "2023"), ("b", "2024"))]
    assert marked(*rows)["occasion"].tolist() == [0, 0, 1]


def test_a_split_joins_its_parent():
    """A duplicate under a false bed name gets the bed and bucket of the bag it was split from."""
    record = composites.record(
        pd.DataFrame(
            {
                "sample": ["1", "9"],
                "sampled": "2024-04-11",
                "bed": ["East", "East"],
                "duplicate_of": ["", "1"],
                "cores": [12, 12],
            }
        )
    )
    found = marked(row(), row(sample="9", bed="Phantom"), row(sample="3", bed="West"), record=record)
    assert found["bed"].tolist() == ["East", "East", "West"]
    assert found["composite"].tolist() == [0, 0, 1]
    assert found["cores"].tolist()[:2] == [12, 12]
    assert np.isnan(found["cores"].iloc[2])


def test_the_same_label_on_another_day_is_another_bag():
    """Labels are reused from year to year; the record counts for its own day."""
    record = composites.record(
        pd.DataFrame({"sample": ["9"], "sampled": ["2023-04-11"], "duplicate_of": ["1"]})
    )
    assert marked(row(), row(sample="9"), record=record)["composite"].tolist() == [0, 1]


def bags(*lines):
    """Return a record of lines of sample, day, bed and parent."""
    return composites.record(pd.DataFrame(lines, columns=["sample", "sampled", "bed", "duplicate_of"]))


@pytest.mark.parametrize("recorded", ["2024-04-11", None])
@pytest.mark.parametrize("measured", ["2024-04-11", None])
def test_a_split_is_known_by_its_label_where_a_day_is_lost(recorded, measured):
    """In the record, in the results or in both; a day that is told on both sides must agree."""
    rows = [row(sample="1", sampled=measured), row(sample="9", sampled=measured, bed="Nowhere")]
    record = bags(("1", recorded, "East", ""), ("9", recorded, "East", "1"))
    found = composites.mark(frames.results(rows), record)
    assert found["composite"].tolist() == [0, 0]
    assert found["bed"].tolist() == ["East", "East"]


@pytest.mark.parametrize("day", ["2024-04-11", None])
def test_a_label_that_stands_for_two_bags_tells_nothing(day):
    """Two laboratories numbered their own bags: West's 8 is not moved to East by the line of East's 8."""
    rows = frames.results([row(sample="7"), row(sample="8"), row(sample="8", bed="West", lab="M")])
    record = bags(("7", day, "East", ""), ("8", day, "East", "7"), ("8", day, "West", ""))
    found = composites.mark(rows, record)
    assert found["bed"].tolist() == ["East", "East", "West"]
    assert found["composite"].tolist() == [0, 1, 2]


def test_two_layers_of_one_bag_s_label_are_one_line():
    """Lines that differ in what does not matter here tell the same bed and bucket."""
    rows = [row(sample="9", bed="Nowhere", top_cm=top, bottom_cm=top + 15) for top in (0.0, 15.0)]
    line = ("9", "2024-04-11", "East", "1")
    assert composites.mark(frames.results(rows), bags(line, line))["bed"].tolist() == ["East", "East"]


def test_an_unlabelled_result_is_no_line_s():
    """A line without a label tells of no result."""
    record = bags(("", None, "West", "1"))
    assert composites.mark(frames.results([row(sample="")]), record)["bed"].tolist() == ["East"]


def test_codes_number_distinct_rows():
    """The numbers agree with a group-by of the same columns."""
    rng = np.random.default_rng(0)
    rows = pd.DataFrame({"a": rng.integers(0, 5, 300).astype(str), "b": rng.choice([1.0, np.nan, 2.0], 300)})
    wanted = rows.groupby(["a", "b"], sort=False, dropna=False).ngroup()
    assert composites.codes(rows, ["a", "b"]).tolist() == wanted.tolist()


def test_nothing_is_changed_in_the_frame_given():
    """The caller's frame stays as it was."""
    frame = frames.results([row()])
    before = frame.copy()
    composites.mark(frame, RECORD)
    pd.testing.assert_frame_equal(frame, before)
