"""The tidy frame: what it is made of, what it refuses, and how its seasons run."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soiltrend import frames
from soiltrend.errors import FrameError

GOOD = {
    "bed": "East",
    "analyte": "K",
    "value": 120,
    "unit": "mg/kg",
    "method": "Mehlich-3",
    "sampled": "2024-04-02",
    "top_cm": 0,
    "bottom_cm": 15,
    "lab": "Hill",
    "sample": 7,
}


def tidy(**changes):
    """Return a frame of one good row, with changes."""
    return frames.results([{**GOOD, **changes}])


def test_a_frame_has_the_columns_in_order_and_their_types():
    """Columns of the schema first; text, numbers and days as such."""
    frame = tidy(extra="kept")
    assert tuple(frame.columns) == (*frames.RESULTS, "extra")
    assert {str(frame[name].dtype) for name in frames.TEXT} == {"str"}
    assert {frame[name].dtype for name in frames.NUMBER} == {np.dtype(float)}
    assert pd.api.types.is_datetime64_any_dtype(frame["sampled"])
    assert frame.loc[0, "sample"] == "7"


def test_what_is_not_given_is_blank_or_missing():
    """Text is "", a number or a day is missing; nothing is made up."""
    row = frames.results([{"bed": "East"}]).iloc[0]
    assert {row[name] for name in frames.TEXT if name != "bed"} == {""}
    assert row[[*frames.NUMBER, "sampled"]].isna().all()


def test_missing_text_is_blank():
    """None and NaN in a text column become ""."""
    frame = frames.results(pd.DataFrame({"bed": ["East", None], "note": [np.nan, "x"]}))
    assert frame[["bed", "note"]].to_numpy().tolist() == [["East", ""], ["", "x"]]


@pytest.mark.parametrize("make", [frames.results, frames.set_aside, frames.join])
def test_empty_frames_are_whole(make):
    """No rows, all columns, right types."""
    frame = make()
    assert len(frame) == 0
    assert set(frame.columns) in (set(frames.RESULTS), set(frames.SET_ASIDE))
    if "value" in frame:
        frames.check(frame)


def test_the_rows_given_are_not_touched():
    """A frame made from another does not share its cells."""
    given_ = pd.DataFrame({"bed": ["East"], "value": [1]})
    made = frames.results(given_)
    made.loc[0, "bed"] = "West"
    assert given_.loc[0, "bed"] == "East"


@pytest.mark.parametrize(
    ("column", "word", "said"),
    [
        ("sampled", "last spring", "the column 'sampled' holds what is not a day: .*last spring"),
        ("value", "a lot", "the column 'value' holds what is not a number: .*'a lot'"),
        ("top_cm", "surface", "the column 'top_cm' holds what is not a number: .*'surface'"),
    ],
)
def test_words_where_numbers_belong(column, word, said):
    """The error names the column and the word."""
    with pytest.raises(FrameError, match=said):
        tidy(**{column: word})


def test_join_keeps_rows_columns_and_order():
    """Frames come one below the other, empty ones add nothing, further columns stay."""
    joined = frames.join(tidy(), frames.results(), tidy(bed="West", extra=1.0))
    assert joined["bed"].tolist() == ["East", "West"]
    assert tuple(joined.columns) == (*frames.RESULTS, "extra")
    assert joined.index.tolist() == [0, 1]


def test_a_good_frame_passes_the_check_unchanged():
    """The check gives back the very frame."""
    frame = tidy()
    assert frames.check(frame) is frame


FAULTS = {
    "blank bed": ({"bed": ""}, "column 'bed' holds '' (names a bed)"),
    "the garden's name": ({"bed": frames.GARDEN}, "column 'bed' holds '(garden)' (names a bed)"),
    "blank analyte": ({"analyte": "", "unit": ""}, "column 'analyte' holds '' (names an analyte)"),
    "qualifier": ({"qualifier": "~"}, "column 'qualifier' holds '~'"),
    "no value": ({"value": None}, "column 'value' holds nan"),
    "endless value": ({"value": float("inf")}, "column 'value' holds inf (is a finite number)"),
    "unit": ({"unit": "ppm"}, "analyte 'K' is in 'ppm' and not in 'mg/kg'"),
    "layer": ({"top_cm": 15, "bottom_cm": 15}, "row 0: the layer from 15.0 to 15.0 cm is upside down"),
    "depth": ({"top_cm": -5}, "column 'top_cm' holds -5.0"),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_each_fault_is_found(fault):
    """The message quotes the value and says where it stands."""
    changes, said = FAULTS[fault]
    with pytest.raises(FrameError) as error:
        frames.check(tidy(**changes))
    assert said in str(error.value)


def test_all_faults_come_at_once():
    """One message holds the faults of all rows, each with its row."""
    faults = ["blank bed", "qualifier", "no value", "depth", "unit", "layer"]
    with pytest.raises(FrameError) as error:
        frames.check(frames.results([{**GOOD, **FAULTS[fault][0]} for fault in faults]))
    assert [
        fault for fault in faults if FAULTS[fault][1].replace("row 0", "row 5") not in str(error.value)
    ] == []
    assert "row 0: column 'bed'" in str(error.value)
    assert "row 1: column 'qualifier'" in str(error.value)


def test_many_faults_are_counted():
    """Eight are shown, the rest are a number."""
    with pytest.raises(FrameError) as error:
        frames.check(frames.results([{**GOOD, "qualifier": "~"}] * 11))
    assert str(error.value).count("column 'qualifier' holds '~'") == 8
    assert str(error.value).endswith("; and 3 more.")


def test_missing_columns_are_all_named():
    """Nothing else is looked at before they are there."""
    with pytest.raises(FrameError, match="column 'sampled' is missing; column 'rating' is missing"):
        frames.check(tidy().drop(columns=["sampled", "rating"]))


def test_columns_of_another_type_are_refused():
    """Days as text are no days, and values as text no values."""
    with pytest.raises(FrameError, match="column 'sampled' holds"):
        frames.check(tidy().astype({"sampled": "str"}))
    with pytest.raises(FrameError, match="column 'value' holds"):
        frames.check(tidy().astype({"value": "str"}))


@pytest.mark.parametrize("zone", ["Pacific/Auckland", "America/Los_Angeles", "UTC"])
def test_a_day_is_that_of_the_calendar_where_the_soil_was_taken(zone):
    """A time zone is dropped where a frame is made; a frame that bears one is refused with the way out."""
    rows = tidy()
    local = rows.assign(sampled=rows["sampled"].dt.tz_localize(zone))
    pd.testing.assert_frame_equal(frames.results(local), rows)
    with pytest.raises(FrameError, match=rf"'sampled' holds values of type datetime64\[us, {zone}\] \(is a .*"
                                         r"without a time zone\)\. soiltrend\.frames\.results\(frame"):
        frames.check(local)


def test_composites_share_all_but_the_analyte():
    """Another bed, day, layer, laboratory or label is another composite; a missing layer equals itself."""
    same = tidy(analyte="Mg", method="DTPA", value=9, place="elsewhere")
    others = [
        tidy(**{column: other})
        for column, other in {
            "bed": "West",
            "sampled": "2024-04-03",
            "season": "2024",
            "top_cm": 5,
            "bottom_cm": 30,
            "lab": "Dale",
            "report": "2",
            "sample": "8",
        }.items()
    ]
    numbers = frames.composites(frames.join(tidy(), same, *others))
    assert numbers.tolist() == [0, 0, *range(1, len(others) + 1)]
    assert frames.composites(frames.results([{"bed": "East"}, {"bed": "East"}])).tolist() == [0, 0]


# Seasons

QUARTERS = {
    "north": ["winter"] * 2 + ["spring"] * 3 + ["summer"] * 3 + ["autumn"] * 3 + ["winter"],
    "south": ["summer"] * 2 + ["autumn"] * 3 + ["winter"] * 3 + ["spring"] * 3 + ["summer"],
}
"""Meteorological seasons of the twelve months, by quarters from March (common practice)."""


@pytest.mark.parametrize("hemisphere", QUARTERS)
@pytest.mark.parametrize("month", range(1, 13))
def test_seasons_of_the_months(hemisphere, month):
    """The quarter's name in that hemisphere; December counts to the next year."""
    days = pd.Series(pd.to_datetime([f"2023-{month:02d}-01", f"2023-{month:02d}-28"]))
    expected = f"{QUARTERS[hemisphere][month - 1]} {2024 if month == 12 else 2023}"
    assert frames.season(days, hemisphere=hemisphere).tolist() == [expected] * 2


def test_a_missing_day_has_no_season():
    """A report without a day is not given one."""
    assert frames.season(pd.Series([pd.NaT, pd.Timestamp("2024-05-01")])).tolist() == ["", "spring 2024"]


def test_an_unknown_hemisphere():
    """The value is quoted."""
    with pytest.raises(FrameError, match="hemisphere 'east' is neither 'north' nor 'south'"):
        frames.season(pd.Series(pd.to_datetime(["2024-05-01"])), hemisphere="east")


@given(
    st.lists(
        st.dates(pd.Timestamp("1990-01-01").date(), pd.Timestamp("2060-12-31").date()),
        min_size=1,
        max_size=30,
    ),
    st.sampled_from(["north", "south"]),
)
def test_seasons_come_in_time(days, hemisphere):
    """Sorted by day, the seasons of a frame appear in the order in which they are listed."""
    frame = pd.DataFrame({"sampled": pd.to_datetime(pd.Series(sorted(days)))})
    frame["season"] = frames.season(frame["sampled"], hemisphere=hemisphere)
    assert frames.seasons(frame) == frame["season"].drop_duplicates().tolist()


def test_seasons_without_days_take_their_place_by_name():
    """Summer stands between spring and autumn; a bare year comes first, other names by their day."""
    frame = frames.results(
        [
            {"season": "autumn 2024", "sampled": "2024-10-01"},
            {"season": "spring 2024", "sampled": "2024-04-01"},
            {"season": "summer 2024"},
            {"season": "2024"},
            {"season": "after the flood", "sampled": "2024-05-20"},
            {"season": ""},
        ]
    )
    assert frames.seasons(frame) == ["2024", "spring 2024", "after the flood", "summer 2024", "autumn 2024"]


def test_seasons_of_the_south_without_days():
    """Where the days tell of the south, autumn comes before spring."""
    frame = frames.results(
        [
            {"season": "spring 2024", "sampled": "2024-10-01"},
            {"season": "autumn 2024"},
            {"season": "summer 2024"},
        ]
    )
    assert frames.seasons(frame) == ["summer 2024", "autumn 2024", "spring 2024"]


@pytest.mark.parametrize(("text", "name"), [("spring 2024", "spring"), ("2024", ""), ("", "")])
def test_season_names(text, name):
    """The name without its year."""
    assert frames.season_name(text) == name


def test_a_frame_without_rows_has_no_seasons():
    """A garden that was never tested for a thing has no seasons of it, and that is no fault."""
    rows = pd.DataFrame({"sampled": pd.to_datetime([]), "season": pd.Series([], dtype="str")})
    assert frames.seasons(rows) == []


TYPED = {
    "text as objects": {"lab": object},
    "category": {"bed": "category"},
    "whole numbers": {"value": int},
    "days as text": {"sampled": "str"},
}


@pytest.mark.parametrize("fault", [*FAULTS, *TYPED])
def test_what_is_plainly_tidy_has_no_fault_by_the_schema_library(fault):
    """The quick look lets nothing through that pandera would name; what it doubts goes to pandera."""
    frame = tidy().astype(TYPED[fault]) if fault in TYPED else tidy(**FAULTS[fault][0])
    named = frames._misfits(frame)
    assert not (frames._is_plainly_tidy(frame) and named)
    assert frames._is_plainly_tidy(frame) == (not named) or fault == "text as objects"
    assert frames._is_plainly_tidy(tidy())
    assert frames._misfits(tidy()) == []


@pytest.mark.parametrize(("south", "day"), [(1, "2024-04-15"), (3, "2024-10-16")])
def test_the_middle_of_a_season_follows_the_hemisphere_of_most_days(south, day):
    """One slip in four does not turn a garden upside down; what is told to be is not asked of the days."""
    days = ["2022-04-01"] * (4 - south) + ["2022-10-01"] * south
    rows = [{"bed": "East", "sampled": one, "season": "spring 2022"} for one in days]
    lost = frames.results([*rows, {"bed": "East", "season": "spring 2024"}])
    assert f"{frames.in_time(lost)['sampled'].iloc[-1]:%Y-%m-%d}" == day
    assert frames.in_time(lost, hemisphere="south")["sampled"].iloc[-1].month == 10


def test_a_lost_day_is_that_of_the_season_s_other_tests():
    """Their middle; a bare year stands in July, and what has neither day nor season stays without."""
    rows = [{"bed": "East", "sampled": day, "season": "spring 2024"} for day in ("2024-03-05", "2024-03-07")]
    lost = [{"bed": "West", "season": name} for name in ("spring 2024", "spring 2023", "2024", "")]
    found = frames.in_time(frames.results([*rows, *lost]))["sampled"]
    assert found.iloc[:-1].dt.strftime("%Y-%m-%d").tolist() == [
        "2024-03-05", "2024-03-07", "2024-03-06", "2023-04-15", "2024-07-02",
    ]  # fmt: skip
    assert pd.isna(found.iloc[-1])


def test_a_stated_hemisphere_goes_before_the_days():
    """A southern garden of seasons alone: autumn (March) comes half a year before spring (September)."""
    rows = frames.results([{"bed": "East", "season": f"{name} 2024"} for name in ("spring", "autumn")])
    south = rows.assign(hemisphere="south")
    assert frames.seasons(rows) == ["spring 2024", "autumn 2024"]
    assert frames.seasons(south) == ["autumn 2024", "spring 2024"]
    assert frames.in_time(south)["sampled"].dt.month.tolist() == [10, 4]
    derived = frames.join(south, frames.results([{"bed": "East", "season": "autumn 2023"}]))
    assert frames.in_time(derived)["sampled"].dt.month.tolist() == [10, 4, 4]


def test_nothing_lost_nothing_moved():
    """A frame whose tests all bear a day is handed back as it is."""
    rows = frames.results([{"bed": "East", "sampled": "2024-03-05", "season": "spring 2024"}])
    assert frames.in_time(rows) is rows


@pytest.mark.parametrize(("name", "day"), [("trial", None), ("2024/25", None), ("trial 2024", "2024-07-02")])
def test_another_name_of_a_season_keeps_no_day_unless_it_bears_a_year(name, day):
    """Such frames are tidy; nothing is guessed of them."""
    found = frames.in_time(frames.results([{"bed": "East", "season": name}]))["sampled"]
    assert found.isna().all() if day is None else f"{found[0]:%Y-%m-%d}" == day
