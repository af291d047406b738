"""The latest pair that can be compared, and nothing where there is none."""

import pandas as pd
import pytest

from soiltrend.errors import SoiltrendError
from soiltrend.latest import NONE, beside_check, compare_latest, latest_pair

VISITS = [
    ("East", day, "K", value)
    for day, value in (
        ("2022-04-04", 90),
        ("2022-10-03", 80),
        ("2023-04-05", 85),
        ("2023-10-09", 70),
        ("2024-04-08", 60),
    )
]


def test_spring_stands_with_the_spring_before(tidy):
    """The latest season that has a like one, against the latest like one."""
    assert latest_pair(tidy(VISITS)) == ("spring 2023", "spring 2024")


def test_unlike_seasons_are_neighbours(tidy):
    """For the swing within a year the last two of different names are taken."""
    assert latest_pair(tidy(VISITS), like=False) == ("autumn 2023", "spring 2024")


def test_the_longest_pair_reaches_back_to_the_first(tidy):
    """The latest season against the earliest of its name."""
    assert latest_pair(tidy(VISITS), longest=True) == ("spring 2022", "spring 2024")


def test_a_changed_method_is_no_pair(tidy):
    """Where the latest test was made otherwise, the pair before it is taken."""
    results = tidy(VISITS)
    results["method"] = results["method"].mask(results["season"] == "spring 2024", "Olsen")
    assert latest_pair(results) == ("autumn 2022", "autumn 2023")


@pytest.mark.parametrize("like", [True, False])
@pytest.mark.parametrize("analyte", ["earthworms", "pH"])
def test_a_count_or_a_single_measure_takes_the_place_of_no_soil_test(tidy, analyte, like):
    """Of twelve measures in three beds one was looked at once more: the whole test before it is compared."""
    measures = ["pH", "OM", "P", "K", "Ca", "Mg", "S", "B", "Zn", "Mn", "Fe", "earthworms"]
    days = ["2022-04-04", "2023-04-04", "2023-10-09"]
    whole = [(bed, day, name, 5.0) for bed in ("East", "West", "Gate") for day in days for name in measures]
    later = [("East", "2024-04-04", analyte, 5.0), ("East", "2024-10-04", analyte, 5.0)]
    pair = latest_pair(tidy(whole + later), like=like)
    assert pair == (("spring 2022", "spring 2023") if like else ("spring 2023", "autumn 2023"))


def test_a_season_of_a_quarter_of_the_beds_is_a_test(tidy):
    """A bed of four sampled in full is compared, and the others are told as not tested."""
    whole = [(bed, day, "K", 90.0) for bed in ("A", "B", "C", "D") for day in ("2022-04-04", "2023-04-04")]
    assert latest_pair(tidy([*whole, ("A", "2024-04-04", "K", 80.0)])) == ("spring 2023", "spring 2024")


def test_the_readers_choice_wins(tidy):
    """Seasons that were asked for are compared, later ones or not."""
    change = compare_latest(tidy(VISITS), asked=("spring 2022", "spring 2023"))
    assert (change.before, change.after) == ("spring 2022", "spring 2023")


@pytest.mark.parametrize("like", [True, False])
def test_one_test_makes_no_comparison_and_no_error(tidy, like):
    """A garden tested once gets an empty comparison that says so."""
    change = compare_latest(tidy(VISITS[:1]), like=like)
    assert change.table.empty
    assert (change.before, change.after) == (NONE, NONE)
    assert "0 beds" in repr(change)


def test_half_a_choice_is_refused(tidy):
    """Only one season named is a slip, and not a wish for the latest pair."""
    with pytest.raises(SoiltrendError):
        compare_latest(tidy(VISITS), asked=("spring 2022", ""))


def both(tidy):
    rows = [
        (bed, day, "pH", value)
        for bed, ends in (("East", (5.5, 7.2)), ("West", (6.0, 6.0)))
        for day, value in zip(("2022-04-04", "2024-04-08"), ends, strict=True)
    ]
    return tidy(rows)


def test_a_change_is_set_against_the_check_bed(tidy):
    """East rose by 1.7, West, left as it was, by nothing: the difference is East's own."""
    results = both(tidy)
    beds = pd.DataFrame({"bed": ["East", "West"], "check": [False, True]})
    contrast = beside_check(compare_latest(results), results=results, beds=beds)
    row = contrast.table.iloc[0]
    assert (round(row["treated"], 6), round(row["check"], 6), round(row["difference"], 6)) == (1.7, 0.0, 1.7)
    assert row["verdict"] == "rose"


@pytest.mark.parametrize("check", [[False, False], [True, True]])
def test_without_a_check_bed_that_is_said(tidy, check):
    """No bed left as it was, or nothing but such beds: no difference is made up."""
    results = both(tidy)
    beds = pd.DataFrame({"bed": ["East", "West"], "check": check})
    listing = beside_check(compare_latest(results), results=results, beds=beds)
    assert listing.table.empty
    assert "No bed was left without amendment" in repr(listing)
