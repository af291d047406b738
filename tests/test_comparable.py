"""What may be compared with what."""

from itertools import combinations

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from soiltrend import composites, frames
from soiltrend.comparable import comparable, match_ends, tally
from soiltrend.compare import compare
from soiltrend.errors import FrameError, SoiltrendError

SPRING = {"season": "spring 2022", "sampled": "2022-04-11"}
LATER = {"season": "spring 2024", "sampled": "2024-04-11"}
AUTUMN = {"season": "autumn 2024", "sampled": "2024-10-11"}
ENDS = {"before": "spring 2022", "after": "spring 2024"}


def row(**changes):
    return {
        "bed": "East",
        "analyte": "P",
        "method": "Olsen",
        "value": 30.0,
        "unit": "mg/kg",
        "lab": "L",
        "top_cm": 0,
        "bottom_cm": 15,
        **SPRING,
    } | changes


def pairs(*rows, **ends):
    return comparable(frames.results(list(rows)), **(ENDS | ends))


def test_a_series_is_compared_with_itself():
    """Same bed, analyte, method, laboratory, layer and unit: comparable, with nothing to warn of."""
    found = pairs(row(), row(**LATER))
    assert found[["comparable", "same_season", "n_before", "n_after"]].iloc[0].tolist() == [True, True, 1, 1]
    assert (found[["reason", "warning"]] == "").all(axis=None)


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"method": "Mehlich-3"}, "the method changed: Olsen in spring 2022, Mehlich-3 in spring 2024"),
        ({"method": ""}, "the method changed: Olsen in spring 2022, not stated in spring 2024"),
        ({"lab": "M"}, "the laboratory changed: L in spring 2022, M in spring 2024"),
        ({"bottom_cm": 30}, "the layer changed: 0-15 cm in spring 2022, 0-30 cm in spring 2024"),
        ({"lab": "M", "method": "Bray P1"}, "Bray P1 in spring 2024; the laboratory changed"),
        ({"note": "may be inflated: pH 7.6"}, "spring 2024: may be inflated: pH 7.6"),
        ({"value": 0.0}, "spring 2024: 0 was reported, which can only mean below a limit"),
    ],
)
def test_reasons(change, reason):
    """Each break of the series is named with what stood at both ends."""
    found = pairs(row(), row(**LATER) | change)
    assert len(found) == 1
    assert not found.loc[0, "comparable"]
    assert reason in found.loc[0, "reason"]


def test_units_of_an_unlisted_measure():
    """A unit that changed is a reason, where the tables do not fix the unit."""
    found = pairs(row(analyte="beetles", unit="count"), row(analyte="beetles", unit="count/m2", **LATER))
    assert found.loc[0, "reason"] == "the unit changed: count in spring 2022, count/m2 in spring 2024"


def test_a_whole_share_has_no_ratio():
    """A saturation of 100 % leaves no rest; the amounts must be looked at."""
    share = {"analyte": "Ca saturation", "method": "summation", "unit": "%"}
    found = pairs(row(**share, value=80.0), row(**share | LATER, value=100.0))
    assert "100 % of the whole has no ratio to the rest" in found.loc[0, "reason"]


@pytest.mark.parametrize(
    ("notes", "fine"),
    [
        (("surface kept", "surface kept"), True),
        (("surface kept", "surface removed"), False),
        (("surface removed", "dry; surface kept"), False),
        (("", "surface removed"), True),
    ],
)
def test_surface_kept_and_removed(notes, fine):
    """The loose surface kept at one end and removed at the other makes two layers."""
    found = pairs(row(note=notes[0]), row(note=notes[1], **LATER))
    assert found.loc[0, "comparable"] == fine
    assert ("surface" in found.loc[0, "reason"]) != fine


@pytest.mark.parametrize(("kept", "fine"), [(("kept", "kept"), True), (("removed", "kept"), False)])
def test_surface_in_the_sampling_record(kept, fine):
    """What the sampling record says of the surface counts as a note does."""
    samples = pd.DataFrame({"sample": ["1", "2"], "sampled": ["2022-04-11", "2024-04-11"], "surface": kept})
    found = comparable(frames.results([row(sample="1"), row(sample="2", **LATER)]), **ENDS, samples=samples)
    assert found.loc[0, "comparable"] == fine


def test_every_bed_and_analyte_leaves_with_a_row():
    """Missing at one end is a row with its reason, and a bed new in the after season too."""
    found = pairs(row(), row(analyte="K", method="", **LATER), row(bed="West", **LATER), row(bed="North"))
    assert found["bed"].tolist() == ["East", "East", "West", "North"]
    assert found["reason"].tolist() == [
        "no result in spring 2024",
        "no result in spring 2022",
        "no result in spring 2022",
        "no result in spring 2024",
    ]


def test_two_methods_side_by_side():
    """One method continues and is compared; another that stopped has its own row."""
    found = pairs(row(), row(**LATER), row(method="Mehlich-3"))
    assert found.set_index("method")["comparable"].to_dict() == {"Olsen": True, "Mehlich-3": False}
    assert found.set_index("method").loc["Mehlich-3", "reason"] == "no result in spring 2024"


def test_the_likest_series_are_paired_for_the_reason():
    """With two broken series the one of the same method is named by its laboratory, not by its method."""
    found = pairs(
        row(), row(method="Bray P1", lab="Q"), row(lab="M", **LATER), row(method="Morgan", lab="M", **LATER)
    )
    assert found.set_index("method")["reason"].to_dict() == {
        "Olsen": "the laboratory changed: L in spring 2022, M in spring 2024",
        "Bray P1": "the method changed: Bray P1 in spring 2022, Morgan in spring 2024; "
        "the laboratory changed: Q in spring 2022, M in spring 2024",
    }


def test_years_take_like_seasons_only():
    """Spring is compared with spring; an autumn that the other year lacks is left out, and said."""
    found = pairs(row(), row(**LATER), row(**AUTUMN), before="2022", after="2024")
    assert found.loc[0, ["same_season", "n_before", "n_after"]].tolist() == [True, 1, 1]
    assert found.loc[0, "warning"] == "1 result of a season that the other end lacks left out"


def test_spring_against_autumn_is_allowed_and_marked():
    """Without a like season the pair stands, marked as one of different seasons."""
    found = pairs(row(), row(**AUTUMN), after="autumn 2024")
    assert found.loc[0, ["comparable", "same_season"]].tolist() == [True, False]


def test_a_bare_year_is_no_season():
    """Two years without a season may be spring and autumn, and are marked as such."""
    undated = {"sampled": pd.NaT}
    found = pairs(row(season="2022", **undated), row(season="2024", **undated), before="2022", after="2024")
    assert found.loc[0, ["comparable", "same_season"]].tolist() == [True, False]


def test_what_is_not_stated_is_warned_of():
    """No method and no laboratory at both ends is compared with a warning."""
    bare = {"method": "", "lab": ""}
    assert pairs(row(**bare), row(**LATER | bare)).loc[0, "warning"] == (
        "the method is not stated and taken as unchanged; the laboratory is not stated and taken as unchanged"
    )


def test_a_recent_dressing_is_warned_of():
    """A note of a recent dressing does not forbid the comparison, and is said."""
    found = pairs(row(), row(**LATER, note="sampled 12 days after a dressing"))
    assert found.loc[0, ["comparable", "warning"]].tolist() == [
        True,
        "some of it was sampled soon after a dressing",
    ]


def test_inflated_results_beside_sound_ones():
    """Sound results are used, and the ones that cannot be are counted."""
    found = pairs(
        row(sample="1"), row(**LATER, sample="2"), row(**LATER, sample="3", note="may be inflated: shell")
    )
    assert found.loc[0, ["comparable", "n_after"]].tolist() == [True, 1]
    assert found.loc[0, "warning"] == "1 result that cannot be used left out"


@pytest.mark.parametrize(
    ("ends", "message"),
    [
        ({"before": "spring 2022", "after": " Spring 2022"}, "both 'spring 2022'"),
        (
            {"before": "spring 1999"},
            "no result belongs to 'spring 1999'. Seasons here: 'spring 2022', 'spring 2024'",
        ),
        ({"before": ""}, "no result belongs to ''"),
        ({"before": "2024", "after": "spring 2024"}, "belong to both"),
        ({"before": "spring 2024", "after": "spring 2022"}, "'spring 2022' lies before 'spring 2024'"),
        ({"before": "2022-13-41"}, "'2022-13-41' is no day"),
        ({"before": "2022-04-12"}, "no result belongs"),
    ],
)
def test_ends_that_cannot_be(ends, message):
    """A wrong end is refused with the seasons there are."""
    with pytest.raises(SoiltrendError, match=message):
        pairs(row(), row(**LATER), **ends)


def test_days_name_an_end():
    """A day picks its results; case and blanks do not matter for a season."""
    assert pairs(row(), row(**LATER), before="2022-04-11", after=" SPRING 2024 ").loc[0, "comparable"]


def test_a_frame_that_is_not_tidy():
    """A frame without the columns is refused with all that is missing."""
    with pytest.raises(FrameError, match="column 'analyte' is missing"):
        comparable(pd.DataFrame({"bed": ["East"]}), **ENDS)
    with pytest.raises(FrameError, match="'P' is in '%'"):
        pairs(row(unit="%"), row(**LATER))


def test_match_hands_on_every_result_once():
    """Each result used belongs to one pair and one end; found holds all of both ends."""
    rows = frames.results([row(), row(**LATER), row(bed="West"), row(**AUTUMN)])
    match = match_ends(rows, composites.record(), **ENDS)
    assert len(match.found) == 3
    assert match.rows[["pair", "end"]].to_numpy().tolist() == [[0, 0], [0, 1]]
    assert not match.rows.index.duplicated().any()


def test_the_index_of_the_frame_does_not_matter():
    """Frames put one below the other with repeated index labels are compared all the same."""
    parts = [frames.results([row(bed=bed), row(bed=bed, **LATER)]) for bed in ("East", "West")]
    found = comparable(pd.concat(parts), **ENDS)
    assert found[["n_before", "n_after"]].to_numpy().tolist() == [[1, 1], [1, 1]]


DAYS = {
    "spring 2022": "2022-04-11",
    "autumn 2022": "2022-10-03",
    "2023": None,
    "spring 2024": "2024-04-11",
    "autumn 2024": None,
    "2024": None,
}
MEASURES = [("P", "Olsen", "mg/kg"), ("P", "Bray P1", "mg/kg"), ("Ca saturation", "summation", "%")]
NOTES = ["", "Surface kept", "dry; surface removed", "questioned: the report contradicts it"]


@some.composite
def kitchen_gardens(draw):
    """Rows of a small garden with all that can stand in the way, and a record of splits and surfaces."""
    rows, record = [], []
    for number in range(draw(some.integers(1, 14))):
        season = draw(some.sampled_from(list(DAYS)))
        analyte, method, unit = draw(some.sampled_from(MEASURES))
        value = draw(some.sampled_from([0.0, 30.0, 100.0]))
        rows.append(row(
            bed=draw(some.sampled_from(["East", "West"])), sample=str(number), season=season,
            sampled=DAYS[season], analyte=analyte, method=method, unit=unit, value=value,
            note=draw(some.sampled_from(NOTES)),
        ))  # fmt: skip
        if draw(some.booleans()):
            told = draw(some.sampled_from(["", "kept", "removed"]))
            record.append({"sample": str(number), "sampled": DAYS[season], "bed": "East", "surface": told,
                           "duplicate_of": draw(some.sampled_from(["", "99"]))})  # fmt: skip
    return frames.results(rows), composites.record(pd.DataFrame(record) if record else None)


@settings(max_examples=25, deadline=None)
@given(kitchen_gardens())
def test_a_tally_counts_what_each_match_would_find(garden):
    """For every two seasons the tally is the number of comparable pairs of their own match."""
    results, record = garden
    counts = tally(results, record)
    assert list(counts) == frames.seasons(results)
    for before, after in combinations(counts, 2):
        if "2024" in (before, after) and before.endswith("2024"):
            found = 0  # the year holds the season
        else:
            found = match_ends(results, record, before=before, after=after).pairs["comparable"].sum()
        assert counts.at[before, after] == counts.at[after, before] == found


def test_a_tally_of_nothing():
    """No results, no seasons."""
    assert tally(frames.results(), composites.record()).shape == (0, 0)


def test_an_after_before_its_before_is_refused_when_some_days_are_lost():
    """A bed without a day takes nothing from what the others tell."""
    rows = frames.results([
        {"bed": bed, "season": season, "sampled": day, "analyte": "K", "value": 100.0, "unit": "mg/kg"}
        for bed, season, day in (("E", "winter 2025", "2024-12-10"), ("W", "winter 2025", None),
                                 ("E", "autumn 2024", "2024-10-01"))])  # fmt: skip
    with pytest.raises(SoiltrendError, match="'autumn 2024' lies before 'winter 2025'"):
        compare(rows, before="winter 2025", after="autumn 2024")
    compare(rows, before="autumn 2024", after="winter 2025")


def test_seasons_of_no_known_hemisphere_are_held_against_each_other_by_their_years():
    """Autumn comes before spring in the south; with no day at all nobody can tell."""
    rows = frames.results([
        {"bed": "E", "season": season, "analyte": "K", "value": 100.0, "unit": "mg/kg"}
        for season in ("autumn 2024", "spring 2024", "spring 2023")])  # fmt: skip
    compare(rows, before="autumn 2024", after="spring 2024")
    compare(rows, before="spring 2024", after="autumn 2024")
    with pytest.raises(SoiltrendError, match="'spring 2023' lies before 'autumn 2024'"):
        compare(rows, before="autumn 2024", after="spring 2023")
    south = rows.assign(hemisphere="south")
    compare(south, before="autumn 2024", after="spring 2024")
    with pytest.raises(SoiltrendError, match="'autumn 2024' lies before 'spring 2024'"):
        compare(south, before="spring 2024", after="autumn 2024")
