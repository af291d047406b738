"""Lime at its edges: each system read backwards, sieve tests that can be, the layer and the year meant."""

import numpy as np
import pandas as pd
import pytest
from molmass import Formula

from soiltrend import frames
from soiltrend.errors import SoiltrendError
from soiltrend.lime import (
    efficiency,
    fineness_systems,
    lime_need,
    lime_requirement,
    lime_rise,
    lime_systems,
    lime_value,
    residual_credit,
    sulphur_to_lower,
    system_row,
)
from soiltrend.materials import known_materials

KNOWN = known_materials()
SIEVES = {8: 98, 20: 90, 60: 60, 100: 45}


def soil(pH, *, method="water", **layer):
    """Return a bed's pH and Sikora buffer of one day."""
    same = {"bed": "East", "sampled": "2024-04-08", "unit": "pH", **layer}
    return frames.results(
        [
            {**same, "analyte": "pH", "method": method, "value": pH},
            {**same, "analyte": "buffer pH", "method": "Sikora", "value": 6.5},
        ]
    )


def middle(system):
    """Return a reading in the middle of what a system was published for."""
    row = system_row(system)
    return {"pH": 5.4, "reading": (row["reading_low"] + row["reading_high"]) / 2}


@pytest.mark.parametrize("system", list(lime_systems().index))
def test_every_system_reads_its_own_need_backwards(system):
    """From the lowest target above the soil to the highest, which is reached too (to 0.02, the step)."""
    row, told = system_row(system), middle(system)
    targets = np.array([max(row["target_low"], told["pH"]) + 0.1, 6.3, row["target_high"]])
    reached = lime_rise(system, **told, lime=lime_need(system, **told, target=targets))
    assert reached == pytest.approx(targets, abs=0.021)


@pytest.mark.parametrize("system", list(lime_systems().index))
def test_no_lime_is_no_rise_and_a_little_is_a_little(system):
    """The line begins at the soil's own pH."""
    told = middle(system)
    need = lime_need(system, **told, target=6.5)
    none, little = lime_rise(system, **told, lime=[0.0, need / 1000])
    assert none == told["pH"]
    assert told["pH"] < little < told["pH"] + 0.02


def test_where_a_system_does_not_read_only_no_lime_has_a_pH():
    """A buffer of 4.0 lies below Oregon's table: nothing is told of a dressing; without one nothing moves."""
    rise = lime_rise("Oregon 2025", pH=5.0, reading=4.0, lime=[0.0, 100.0])
    assert rise[0] == 5.0
    assert np.isnan(rise[1])


def test_a_dressing_to_come_is_no_more_than_itself():
    """Before it is laid on, all of it has still to react."""
    assert residual_credit(100.0, months=[-3, 0]).tolist() == [100.0, 100.0]


@pytest.mark.parametrize("passing", [{8: 120, 20: 90}, {8: 90, 20: -5}, {8: 98, 20: 60, 60: 60.5, 100: 40}])
def test_one_share_that_cannot_be_refuses_the_whole_sieve_test(passing):
    """However right the others are, and however small the slip."""
    with pytest.raises(SoiltrendError, match="is no sieve test"):
        efficiency(passing, system=fineness_systems()[0])


def test_half_a_percent_through_the_finest_sieve_is_a_sieve_test():
    """Coarse lime has little dust, and little neutralising value is some."""
    assert efficiency({20: 90, 100: 0.5}, system="New York, two classes") > 0
    assert lime_value(0.5, passing=SIEVES).table["value"].notna().any()


def test_how_much_does_the_work_of_a_hundred_is_the_inverse_of_the_value():
    """Gravel does no such work: it has no number."""
    table = lime_value(92, passing=SIEVES).table
    assert (table["per_100"] * table["value"]).to_numpy() == pytest.approx(1e4)
    gravel = lime_value(92, passing=dict.fromkeys(SIEVES, 0)).table
    assert (gravel["value"] == 0).all()
    assert gravel["per_100"].isna().all()


def test_lime_goes_by_a_pH_that_says_it_was_measured_in_water():
    """In calcium chloride pH reads half a unit lower or so (common practice): unsaid, it may be either."""
    unsaid = lime_requirement(soil(5.6, method=""), target=6.5).table.iloc[0]
    assert unsaid["strength"] == "none"
    assert unsaid["why"] == "the method of its pH is not stated, and lime goes by a pH in water"
    assert np.isnan(unsaid["g_per_m2"])
    for other in ("", "CaCl2"):
        both = frames.join(soil(5.6), soil(4.9, method=other).query("analyte == 'pH'"))
        assert lime_requirement(both, target=6.5).table["pH"].unique().tolist() == [5.6]


def test_a_layer_is_as_thick_as_it_is_and_15_cm_when_nobody_says():
    """From 5 to 20 cm are 15 cm; the need goes with the thickness."""
    deeper = lime_requirement(soil(5.6, top_cm=5.0, bottom_cm=20.0), target=6.5).table
    unsaid = lime_requirement(soil(5.6), target=6.5).table
    assert deeper["depth_cm"].unique().tolist() == unsaid["depth_cm"].unique().tolist() == [15.0]
    assert unsaid["g_per_m2"].tolist() == deeper["g_per_m2"].tolist()


def test_at_the_target_the_words_are_those_of_no_lime():
    """A pH of just 6.5 for a target of 6.5 is no case for a table."""
    table = lime_requirement(soil(6.5), target=6.5).table
    assert (table["g_per_m2"] == 0).all()
    assert set(table["why"]) == {"pH 6.5 is at the target or above: no lime"}


def test_a_lime_is_counted_by_what_reacts_in_a_year():
    """Slaked lime, 93 % pure (common practice), is as fine as can be: all of it in the year; by molmass."""
    row = lime_requirement(soil(5.6), target=6.5, material=KNOWN.loc["slaked lime"]).table.iloc[0]
    strength = 0.93 * Formula("CaCO3").mass / Formula("CaO2H2").mass
    assert row["material_g_per_m2"] == pytest.approx(row["g_per_m2"] / strength, rel=2e-3)


def test_ground_limestone_does_most_of_its_work_in_the_first_year_and_not_all():
    """0.6 of it in the first (Cornell Univ. adviser course PO 41), 94 % pure: 1.77 g for one of dust."""
    row = lime_requirement(soil(5.6), target=6.5, material=KNOWN.loc["calcitic limestone"]).table.iloc[0]
    assert row["material_g_per_m2"] / row["g_per_m2"] == pytest.approx(1 / (0.6 * 0.94), rel=0.02)


@pytest.mark.parametrize(("hemisphere", "pH"), [("", 5.9), ("north", 5.9), ("south", 5.5)])
def test_of_seasons_without_a_day_the_hemisphere_tells_the_last(hemisphere, pH):
    """In the south the autumn of a year comes before its spring."""
    rows = frames.join(*(soil(at).assign(sampled=pd.NaT, season=name)
                         for at, name in ((5.5, "spring 2024"), (5.9, "autumn 2024"))))
    assert set(lime_requirement(rows, target=6.5, hemisphere=hemisphere).table["pH"]) == {pH}


def test_a_hemisphere_that_is_none_is_refused():
    """Read as the other one it would take the wrong test for the last."""
    lost = soil(5.5).assign(sampled=pd.NaT, season="spring 2024")
    for rows in (lost, soil(5.5)):
        with pytest.raises(SoiltrendError, match="hemisphere 'est' is neither 'north' nor 'south'"):
            lime_requirement(rows, target=6.5, hemisphere="est")


def beside(analyte, *, unit="mg/kg", **layer):
    """Return another result of that bag's day."""
    day = {"bed": "East", "sampled": "2024-04-08", "value": 9.0, **layer}
    return frames.results([{**day, "analyte": analyte, "unit": unit}])


@pytest.mark.parametrize("other", [
    beside("NO3-N", top_cm=0.0, bottom_cm=60.0),
    beside("earthworms", unit="count"),
    beside("CEC", unit="cmol/kg", top_cm=20.0, bottom_cm=60.0),
    beside("CEC", unit="cmol/kg"),
])  # fmt: skip
@pytest.mark.parametrize("top", [0.0, 2.0])
def test_what_else_was_measured_that_day_says_nothing_of_the_layer(other, top):
    """Nitrate goes down to 60 cm and a worm count has no layer: pH and buffer are as they are alone."""
    alone = soil(5.4, top_cm=top, bottom_cm=top + 15)
    table = lime_requirement(alone, target=6.4).table
    assert table["depth_cm"].unique().tolist() == [15.0]
    assert (table["g_per_m2"] > 0).all()
    for rows in (frames.join(other, alone), frames.join(alone, other)):
        pd.testing.assert_frame_equal(lime_requirement(rows, target=6.4).table, table)


def test_each_laboratory_of_a_day_has_its_own_answer():
    """The middle of two laboratories' readings is a reading of neither; the range is over both."""
    one, two = soil(5.4, lab="Elm"), soil(6.2, lab="Oak").assign(value=[6.2, 6.7])
    both = lime_requirement(frames.join(one, two), target=6.4).table
    alone = pd.concat([lime_requirement(rows, target=6.4).table for rows in (one, two)])
    assert both["lab"].tolist() == ["Elm", "Elm", "Oak", "Oak"]
    assert both["g_per_m2"].tolist() == alone["g_per_m2"].tolist()
    assert set(both["low"]) == {alone["g_per_m2"].min()}
    assert set(both["high"]) == {alone["g_per_m2"].max()}


def test_a_buffer_of_another_laboratory_is_none_of_this_pH():
    """Nor has a laboratory an answer that has measured a buffer and no pH."""
    apart = soil(5.4).assign(lab=["Elm", "Oak"])
    row = lime_requirement(apart, target=6.4).table.iloc[0]
    assert (row["lab"], row["strength"]) == ("Elm", "none")


def test_a_source_of_sulphur_gives_its_own_reason():
    """RHS: from 7.0-7.5 to 6.0-6.5, one unit; at pH 7 two and a half units are too much and the pH is not."""
    why = sulphur_to_lower(7.0, target=4.5, texture="clay").table["why"].tolist()
    assert set(why) == {"not given by this source (it speaks of 1 of pH at a time, not of 2.5)"}
    why = sulphur_to_lower(8.0, target=7.2, texture="clay").table["why"].tolist()
    assert why[0] == "not given by this source (it speaks of pH 7.0 to 7.5)"
