"""Series laid out in time: tests averaged by day, seasons told apart, breaks and gaps said."""

import numpy as np
import pandas as pd
import pytest

from soiltrend import composites, frames
from soiltrend.errors import FrameError
from soiltrend.series import lay_out, season_groups


def rows(days, values, **more):
    """Return results of one bed, pH unless said otherwise."""
    sampled = pd.to_datetime(pd.Series(days))
    base = {
        "bed": "East",
        "analyte": "pH",
        "unit": "pH",
        "lab": "Hollin Bench",
        "top_cm": 0.0,
        "bottom_cm": 15.0,
    }
    frame = pd.DataFrame(
        {**base, "sampled": sampled, "value": values, "season": frames.season(sampled), **more}
    )
    return frames.results(frame)


def springs(count, start=2015):
    """Return days in successive springs."""
    return [f"{start + i}-04-0{1 + i % 5}" for i in range(count)]


def test_time_is_the_day():
    """Years between tests are their days over 365.2425, the length of the calendar's year."""
    laid = lay_out(rows(["2020-04-01", "2021-04-11"], [6.0, 6.1]))
    assert np.diff(laid.points.time) == pytest.approx(375 / 365.2425)


def test_order_of_rows_does_not_matter():
    """Shuffled rows give the same series."""
    frame = rows(springs(6), [6.0, 6.1, 6.2, 6.1, 6.3, 6.2])
    plain, shuffled = lay_out(frame), lay_out(frame.sample(frac=1, random_state=1))
    assert np.array_equal(plain.points.low, shuffled.points.low)
    assert np.array_equal(plain.points.time, shuffled.points.time)


def test_bags_of_one_bucket_are_averaged_before_buckets():
    """Two bags at 6.0 and 6.2 from one bucket and a bucket at 6.5 make (6.1 + 6.5) / 2."""
    frame = rows(["2020-04-01"] * 3, [6.0, 6.2, 6.5], sample=["1", "2", "3"])
    split = composites.record(
        pd.DataFrame({"sample": ["2"], "sampled": ["2020-04-01"], "duplicate_of": ["1"]})
    )
    assert lay_out(frame, sampling=split).tests.low == pytest.approx([6.3])
    assert lay_out(frame).tests.low == pytest.approx([(6.0 + 6.2 + 6.5) / 3])


def test_a_bag_sent_under_another_bed_comes_home():
    """The sampling record says whose soil it is."""
    frame = rows(["2020-04-01"] * 2, [6.0, 6.2], sample=["1", "2"])
    frame["bed"] = pd.Series(["East", "Ghost"], dtype="str")
    split = composites.record(
        pd.DataFrame({"sample": ["2"], "sampled": ["2020-04-01"], "duplicate_of": ["1"], "bed": ["East"]})
    )
    laid = lay_out(frame, sampling=split)
    assert laid.series["bed"].tolist() == ["East"]
    assert laid.tests.low == pytest.approx([6.1])


def test_seasons_are_told_apart():
    """Four springs and four autumns are two groups; each pair is of one season."""
    days = [day for year in range(2016, 2020) for day in (f"{year}-04-02", f"{year}-10-08")]
    laid = lay_out(rows(days, np.arange(8.0) + 5))
    assert laid.points.season.tolist() == [0] * 4 + [1] * 4
    assert laid.series["left"].tolist() == [""]


def test_a_test_alone_in_its_season_is_left_out_and_said():
    """One autumn among springs has no fellow."""
    laid = lay_out(rows([*springs(4), "2018-10-08"], [6.0, 6.1, 6.2, 6.3, 5.0]))
    assert len(laid.points.time) == 4
    assert "alone in its season" in laid.series["left"].iloc[0]
    assert laid.series["n"].iloc[0] == 5


def test_late_winter_joins_spring():
    """A test at the end of February and one in June stand with the half of the year they belong to."""
    groups, lone = season_groups(np.zeros(6, int), np.array([1, 1, 0, 3, 3, 2]), count=1)
    assert groups.tolist() == [0, 0, 0, 1, 1, 1]
    assert not lone.any()


def test_a_bare_year_stands_at_its_middle():
    """A report that bears only a year is used and said."""
    frame = rows([None] * 3, [6.0, 6.1, 6.3], season=["2019", "2020", "2021"])
    laid = lay_out(frame)
    assert np.diff(laid.points.time) == pytest.approx([1, 1], abs=0.01)
    assert laid.series["undated"].tolist() == [3]
    assert laid.series["first"].dt.strftime("%d %b %Y").tolist() == ["02 Jul 2019"]


def test_a_result_without_any_time_is_left_out_and_said():
    """Neither day nor year: it cannot stand anywhere."""
    frame = rows([None, "2020-04-01", "2021-04-01"], [6.0, 6.1, 6.3])
    laid = lay_out(frame)
    assert laid.series["n"].tolist() == [2]
    assert "neither day nor year" in laid.series["left"].iloc[0]


@pytest.mark.parametrize(
    ("analyte", "unit", "value", "said"),
    [("K", "mg/kg", 0.0, "below a limit"), ("K saturation", "%", 0.0, "no ratio to the rest")],
)
def test_a_zero_is_left_out_and_said(analyte, unit, value, said):
    """A concentration of 0 has no logarithm, and a share of 0 no odds."""
    laid = lay_out(rows(springs(4), [3.0, value, 4.0, 5.0], analyte=analyte, unit=unit))
    assert laid.series["n"].tolist() == [3]
    assert said in laid.series["left"].iloc[0]


def test_inflated_sums_are_left_out_and_said():
    """A derived row that undissolved lime may have pushed up is not compared."""
    note = ["", f"{frames.INFLATED} pH 7.6", "", ""]
    laid = lay_out(rows(springs(4), [12.0, 30.0, 12.5, 13.0], analyte="CEC", unit="cmol/kg", note=note))
    assert laid.series["n"].tolist() == [3]
    assert "inflated" in laid.series["left"].iloc[0]


def test_limits_are_bounds():
    """Below 2 may be anything down to nothing, above 50 anything upward."""
    frame = rows(springs(3), [2.0, 3.0, 50.0], analyte="K", unit="mg/kg", qualifier=["<", "", ">"])
    tests = lay_out(frame).tests
    assert np.exp(tests.low) == pytest.approx([0, 3, 50])
    assert np.exp(tests.high) == pytest.approx([2, 3, np.inf])


@pytest.mark.parametrize(
    ("column", "values", "said"),
    [
        (
            "method",
            ["CaCl2", "CaCl2", "water 1:1", "water 1:1"],
            "CaCl2 2015 to 2016; water 1:1 2017 to 2018",
        ),
        ("lab", ["A", "A", "A", "B"], "A 2015 to 2017; B 2018"),
        ("bottom_cm", [10.0, 10.0, 20.0, 20.0], "0-10 cm 2015 to 2016; 0-20 cm 2017 to 2018"),
    ],
)
def test_series_break_and_say_where(column, values, said):
    """Another method, laboratory or layer is another series."""
    laid = lay_out(rows(springs(4), [6.0, 6.1, 6.2, 6.3], **{column: values}))
    assert len(laid.series) == 2
    assert (laid.series["breaks"] == f"The record breaks and is not joined: {said}").all()


@pytest.mark.parametrize(
    ("column", "value", "said"),
    [
        ("value", np.nan, "value"),
        ("qualifier", "~", "qualifier"),
        ("bed", "", "bed"),
        ("unit", "mg/kg", "mg/kg"),
        ("bottom_cm", -1.0, "bottom_cm"),
    ],
)
def test_untidy_frames_are_refused(column, value, said):
    """The message names what was found."""
    frame = rows(springs(3), [6.0, 6.1, 6.2])
    frame[column] = value
    with pytest.raises(FrameError, match=said):
        lay_out(frame)


def test_missing_columns_are_refused():
    """A frame without its columns is no tidy frame."""
    with pytest.raises(FrameError, match="'lab' is missing"):
        lay_out(rows(springs(3), [6.0, 6.1, 6.2]).drop(columns="lab"))


def test_no_rows_no_series():
    """An empty frame is laid out as nothing."""
    laid = lay_out(frames.results())
    assert len(laid.series) == 0
    assert len(laid.points.time) == 0


def test_a_bridged_record_says_so():
    """Values moved by a bridge are joined to the others, and the record names it."""
    frame = rows(springs(6), [6.0, 6.1, 6.2, 6.1, 6.3, 6.2])
    plain = lay_out(frame)
    frame.loc[:2, "note"] = f"{frames.BRIDGED} pH by one as by the other"
    assert plain.series["joined"].tolist() == [""]
    assert lay_out(frame).series["joined"].tolist() == ["pH by one as by the other"]
