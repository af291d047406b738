"""Ratios that leave their place: bands, signals, flags and words."""

import re

import numpy as np
import pandas as pd
import pytest

from soiltrend import frames, tables
from soiltrend.drift import drift, told_last
from soiltrend.errors import SoiltrendError
from soiltrend.exchange import exchange
from soiltrend.noise import noise_model
from soiltrend.slopes import control
from soiltrend.units import convert

NOISE = np.array([0.06, -0.09, 0.02, 0.11, -0.05, -0.07, 0.09, 0.0, 0.04, -0.1, 0.03, -0.02])


def results(values, *, ratio="K:Mg (charge)", unit="ratio", bed="East", per_year=1, **more):
    """Return tests of one ratio in one bed, in springs or in springs and autumns."""
    halves = [f"{year}-{day}" for year in range(2012, 2040) for day in ("04-03", "10-05")]
    days = pd.to_datetime(pd.Series(halves[:: 3 - per_year][: len(values)]))
    frame = pd.DataFrame({"bed": bed, "analyte": ratio, "unit": unit, "sampled": days, "value": values})
    frame = frame.assign(season=frames.season(days), lab="Hollin Bench", top_cm=0.0, bottom_cm=15.0, **more)
    return frames.results(frame)


def row(frame, ratio="K:Mg (charge)", **how):
    """Return the one row of a ratio."""
    table = drift(frame, **how).table
    return table[table["ratio"] == ratio].iloc[0]


# --- control charts ------------------------------------------------------------------------------------


def test_epa_baseline():
    """EPA 530/R-09-007, example 20-1: mean 25.1375, sd 11.51818 of eight; the eighth new value is far off."""
    base = np.array([32.8, 15.2, 13.5, 39.6, 37.1, 10.4, 31.9, 20.6])
    new = np.array([19.0, 34.5, 17.8, 23.6, 34.8, 28.8, 23.7, 81.8])
    mean, sd = base.mean(), base.std(ddof=1)
    assert (mean, sd) == (pytest.approx(25.1375), pytest.approx(11.51818, abs=5e-6))
    half = control.next_half_width(np.array([8]), sd=np.array([sd]), df=np.array([7]), chance=0.01)[0]
    assert (np.abs(new - mean) > half).tolist() == [False] * 7 + [True]


@pytest.mark.parametrize(("count", "times"), [(2, 15.56), (3, 4.97), (4, 3.56)])
def test_limits_for_the_next_test(count, times):
    """EPA 530/R-09-007, ch. 18: t times sqrt(1 + 1/k) standard deviations of k earlier tests."""
    half = control.next_half_width(
        np.array([count]), sd=np.array([1.0]), df=np.array([count - 1]), chance=0.05
    )
    assert half[0] == pytest.approx(times, abs=0.005)


# --- flags ---------------------------------------------------------------------------------------------


def test_outside():
    """More K than Mg by far, and firm since years."""
    found = row(results(2.0 * np.exp(NOISE)))
    assert found["flag"] == "outside"
    assert found["firm"]
    assert found["high_edge"] == 1
    assert np.isnan(found["low_edge"])
    assert found["years_to_edge"] == 0
    assert found["now_low"] > 1


def test_heading_out():
    """12 % a year toward an edge that is four years off."""
    found = row(results(0.3 * np.exp(0.12 * np.arange(7) + 0.3 * NOISE[:7])))
    expected = np.log(1 / found["now"]) / np.log1p(found["percent_per_year"] / 100)
    assert found["flag"] == "heading out"
    assert found["years_to_edge"] == pytest.approx(expected)
    assert found["years_low"] < found["years_to_edge"] < found["years_high"]
    assert "edge is" in found["why"]


def test_an_edge_beyond_the_records_reach_is_not_told():
    """2 % a year and an edge decades off: it moves, but nobody knows when it would meet the edge."""
    found = row(results(0.3 * np.exp(0.02 * np.arange(12) + 0.05 * NOISE)))
    assert found["flag"] in ("shifted", "steady")
    assert np.isnan(found["years_to_edge"])


def test_shifted():
    """A step of a third in the middle of its band, held since."""
    level = np.where(np.arange(12) < 6, 4.0, 5.6)
    found = row(results(level * np.exp(0.5 * NOISE), ratio="Ca:Mg (charge)", per_year=2), "Ca:Mg (charge)")
    assert found["flag"] == "shifted"
    assert 0 < found["position"] < 1


def test_shifted_by_its_slope_alone():
    """Four tests have no first ones to leave, but may move: the sentence names the slope and nothing else."""
    found = row(results([3.0, 3.3, 3.62, 4.0], ratio="Ca:Mg (charge)"), "Ca:Mg (charge)")
    assert found["flag"] == "shifted"
    assert np.isnan(found["p_shift"])
    assert "It rises by 10 % a year" in found["why"]
    assert "first" not in found["why"]


def test_steady():
    """Noise as the table has it, in the middle of the band."""
    found = row(results(4.0 * np.exp(NOISE), ratio="Ca:Mg (charge)", per_year=2), "Ca:Mg (charge)")
    assert found["flag"] == "steady"
    assert found["position"] == pytest.approx(0.5, abs=0.06)


@pytest.mark.parametrize("n", [1, 2])
def test_too_few(n):
    """Two tests are no drift."""
    found = row(results(2.0 * np.exp(NOISE[:n])))
    assert found["flag"] == "too few"
    assert np.isnan(found["q"])


def test_one_wild_test_is_not_firm():
    """The last test alone at twice the level: if flagged at all, not firm."""
    values = 4.0 * np.exp(NOISE)
    values[-1] *= 2.2
    found = row(results(values, ratio="Ca:Mg (charge)", per_year=2), "Ca:Mg (charge)")
    assert not found["firm"]


def test_now_is_more_than_the_last_test():
    """In a level record the last test counts for about a third."""
    values = np.full(12, 4.0)
    values[-1] = 4.0 * np.exp(0.3)
    found = row(results(values, ratio="Ca:Mg (charge)", per_year=2), "Ca:Mg (charge)")
    assert np.log(found["now"] / 4.0) == pytest.approx(0.3 * 0.3, abs=0.03)


def test_mirror():
    """K:Mg and Mg:K: the same chances and the same flag, edges and slopes turned round."""
    values = 0.3 * np.exp(0.12 * np.arange(7) + 0.3 * NOISE[:7])
    both = pd.concat([results(values), results(1 / values, ratio="Mg:K (charge)")], ignore_index=True)
    one, other = (row(both, name) for name in ("K:Mg (charge)", "Mg:K (charge)"))
    assert one["flag"] == other["flag"] == "heading out"
    for name in ("p", "q", "years_to_edge", "years_low", "years_high", "firm"):
        assert one[name] == pytest.approx(other[name])
    assert one["now"] == pytest.approx(1 / other["now"])
    assert one["high_edge"] == pytest.approx(1 / other["low_edge"])
    assert np.log1p(one["percent_per_year"] / 100) == pytest.approx(
        -np.log1p(other["percent_per_year"] / 100)
    )


def test_a_swing_between_seasons_is_no_shift():
    """40 % between spring and autumn, for ever."""
    swing = np.tile([1.2, 1 / 1.2], 6)
    found = row(
        results(4.0 * swing * np.exp(0.4 * NOISE), ratio="Ca:Mg (charge)", per_year=2), "Ca:Mg (charge)"
    )
    assert found["flag"] == "steady"
    assert found["now"] == pytest.approx(4.0, rel=0.05)


# --- which side moved ----------------------------------------------------------------------------------


def amounts(calcium, potassium, magnesium):
    """Return the amounts of one bed over twelve half-years [cmol/kg], as mg/kg by Mehlich-3."""
    parts = {"Ca": calcium, "K": potassium, "Mg": magnesium}
    made = []
    for i, (name, level) in enumerate(parts.items()):
        charge = pd.Series(np.broadcast_to(level, 12) * np.exp(0.2 * np.roll(NOISE, 3 * i)))
        mass = convert(charge, unit="cmol/kg", to="mg/kg", analyte=name).to_numpy()
        made.append(results(mass, ratio=name, unit="mg/kg", per_year=2, method="Mehlich-3"))
    return pd.concat(made, ignore_index=True)


def test_it_names_the_nutrient_that_moved():
    """K doubles in six years while Mg keeps: K is named, Mg is cleared."""
    found = row(amounts(8.0, 0.4 * 2 ** (np.arange(12) / 11), 2.0))
    assert found["flag"] in ("shifted", "heading out")
    assert "K rose by" in found["why"]
    assert "Mg itself shows no trend beyond its noise" in found["why"]


def test_a_rate_of_a_hundred_per_cent_bears_no_exponent():
    """K grows more than twofold each year: three digits before the point, of the ratio and of the amount."""
    why = row(amounts(8.0, 0.01 * 2.2 ** (np.arange(12) / 2), 2.0))["why"]
    for lead in ("It rises by ", "K rose by "):
        assert 100 < int(why.split(lead)[1].split(" % a year")[0]) < 150


def test_only_calcium_moves():
    """Liming moves no K:Mg; the share of K falls because Ca rose, and K itself is cleared."""
    frame = exchange(amounts(8.0 * np.exp(0.08 * np.arange(12)), 0.5, 2.0), acidity="none")
    table = drift(frame, bands={"K saturation": (0.1, 50)}).table.set_index("ratio")
    assert table.loc["K:Mg (charge)", "flag"] == "steady"
    share = table.loc["K saturation"]
    assert share["flag"] == "shifted"
    assert share["slope_per_year"] < 0
    assert "K itself shows no trend beyond its noise, while Ca rose" in share["why"]


def test_evidence_against_targets_is_said_once():
    """Beside a flag for a ratio of cations, and never twice in a row."""
    found = row(results(12.0 * np.exp(NOISE), ratio="Ca:Mg (charge)", per_year=2), "Ca:Mg (charge)")
    assert found["flag"] == "outside"
    assert found["why"].count("Kopittke & Menzies 2007") == 1


# --- bands ---------------------------------------------------------------------------------------------


def test_bands_of_the_table_are_sound():
    """Every band has a source, evidence, a meaning, and ends that run upward."""
    table = tables.load("bands", numbers=("low", "high"))
    assert (table[["source", "evidence", "means"]] != "").all().all()
    assert set(table["evidence"]) <= set(tables.EVIDENCE)
    both = table.dropna(subset=["low", "high"])
    assert (both["low"] < both["high"]).all()
    assert table["ratio"].is_unique


def test_bands_by_mass_are_those_by_charge():
    """IUPAC atomic masses (abridged 2021): Ca 40.078/2, Mg 24.305/2, K 39.098 g per mol of charge."""
    table = tables.load("bands", numbers=("low", "high")).set_index("ratio")
    per = 40.078 / 24.305
    assert table.loc["Ca:Mg (mass)", "low"] == pytest.approx(2 * per, abs=0.05)
    assert table.loc["Ca:Mg (mass)", "high"] == pytest.approx(8 * per, abs=0.05)
    assert table.loc["K:Mg (mass)", "high"] == pytest.approx(39.098 / (24.305 / 2), abs=0.005)
    assert table.loc["Mg:K (charge)", "low"] == 1 / table.loc["K:Mg (charge)", "high"]


def test_the_growers_band_wins():
    """Her own band, and open ends."""
    frame = results(4.0 * np.exp(NOISE), ratio="Ca:Mg (charge)", per_year=2)
    found = row(frame, "Ca:Mg (charge)", bands={"Ca:Mg (charge)": (None, 3.0)})
    assert found["flag"] == "outside"
    assert found["band"] == "stated for this garden"


@pytest.mark.parametrize(("name", "whole"), [("acidity saturation", 0.0), ("base saturation", 100.0)])
def test_a_share_and_its_own_band_lie_between_nothing_and_the_whole(name, whole):
    """Twelve tests about 2 points from the end: level and band stop there, a stated edge stays."""
    frame = results(np.abs(whole - (2 + 5 * NOISE)), ratio=name, unit="%")
    found, stated = row(frame, ratio=name), row(frame, ratio=name, bands={name: (1, 99.5)})
    ends = found[["low_edge", "now_low", "now", "now_high", "high_edge"]].to_numpy(dtype=float)
    assert ends.min() >= 0
    assert ends.max() <= 100
    assert whole in found[["low_edge", "high_edge"]].tolist()
    assert f"{whole:g}" in found["why"].split(" by its own")[0].replace(",", "").split()
    assert found["position"] == pytest.approx((found["now"] - ends[0]) / (ends[-1] - ends[0]))
    assert found["flag"] == "steady"
    assert stated[["low_edge", "high_edge"]].tolist() == [1, 99.5]


def test_without_a_band_the_first_tests_serve():
    """Ca:K has no band in the table: its own first tests make one of 99 %."""
    found = row(results(13 * np.exp(NOISE), ratio="Ca:K (charge)", per_year=2), "Ca:K (charge)")
    assert found["low_edge"] < found["now"] < found["high_edge"]
    assert "first" in found["band"]
    own = row(
        results(4.0 * np.exp(NOISE), ratio="Ca:Mg (charge)"),
        "Ca:Mg (charge)",
        bands={"Ca:Mg (charge)": "own"},
    )
    assert "first" in own["band"]


SHARE = "K saturation"


@pytest.mark.parametrize("low", [2, 0.5])
def test_the_whole_is_no_edge_of_a_share(low):
    """Nothing can pass 100 %: up to there is the same as an open end."""
    frame = results(1.0 * np.exp(NOISE[:10]), ratio=SHARE, unit="%")
    wanted, found = (row(frame, SHARE, bands={SHARE: (low, high)}) for high in (None, 100))
    assert found["flag"] == wanted["flag"] == ("outside" if low == 2 else "steady")
    assert found[["p_outside", "high_edge"]].tolist() == pytest.approx(
        wanted[["p_outside", "high_edge"]].tolist(), nan_ok=True
    )


@pytest.mark.parametrize("band", [(2, 100.5), (2, 150), (100, None), (None, 101)])
def test_a_band_beyond_the_whole_is_refused(band):
    """The message quotes it."""
    with pytest.raises(SoiltrendError, match=rf"the band {re.escape(repr(band))} of 'K saturation' reaches"):
        drift(results([1.0, 1.1, 0.9, 1.0], ratio=SHARE, unit="%"), bands={SHARE: band})


@pytest.mark.parametrize(
    ("bands", "said"),
    [
        ({"Mg:Ca (charge)": (1, 2)}, "'Mg:Ca \\(charge\\)', which is no ratio"),
        ({"K:Mg (charge)": (2, 1)}, "\\(2, 1\\) of 'K:Mg \\(charge\\)' does not run"),
        ({"K:Mg (charge)": ("a", 1)}, "is not a pair of numbers"),
        ({"K:Mg (charge)": (-1, 2)}, "does not run from low to high above 0"),
        ({"K:Mg (charge)": (0, 2)}, "does not run from low to high above 0"),
        ({"K:Mg (charge)": 3}, "3 of 'K:Mg \\(charge\\)' is not a pair"),
    ],
)
def test_bands_that_are_none(bands, said):
    """The message quotes the band and what to write."""
    with pytest.raises(SoiltrendError, match=said):
        drift(results(0.3 * np.exp(NOISE)), bands=bands)


# --- false alarms --------------------------------------------------------------------------------------


def steady_garden(seed, *, beds=6, tests=12, sd=0.1):
    """Return a garden whose amounts keep their levels: P, K, Ca, Mg, Na, Zn, Fe, Mn with errors of sd."""
    rng = np.random.default_rng(seed)
    levels = {"Ca": 1600, "Mg": 200, "K": 160, "Na": 30, "P": 50, "Zn": 4, "Fe": 120, "Mn": 40}
    made = []
    for bed in range(beds):
        for name, level in levels.items():
            made.append(results(level * np.exp(sd * rng.normal(size=tests)), ratio=name, unit="mg/kg",
                                bed=f"bed {bed}", per_year=2, method="Mehlich-3"))  # fmt: skip
    return pd.concat(made, ignore_index=True)


@pytest.mark.parametrize("sd", [0.1, 0.16])
def test_a_steady_garden_is_left_in_peace(sd):
    """At most one bed in ten is flagged in a year, whether its noise is the table's or half as much again."""
    flagged = 0
    for seed in range(3):
        table = drift(steady_garden(seed, sd=sd)).table
        table = table[~table["ratio"].isin(["Mg:K (charge)", "K:Mg (mass)", "Ca:Mg (mass)"])]
        flagged += (~table["flag"].isin(["steady", "too few"])).sum()
    assert flagged <= 0.1 * 3 * 6 * 6


# --- the rest ------------------------------------------------------------------------------------------


def test_ratios_and_shares_are_computed_when_missing():
    """A frame of amounts is enough."""
    table = drift(amounts(8.0, 0.4, 2.0)).table
    assert {"Ca:Mg (charge)", "K:Mg (charge)", "Ca:K (charge)"} <= set(table["ratio"])


def summable():
    """Return the amounts of twelve half-years with an acidity, so that they can be summed."""
    acid = results([1.0] * 12, ratio="acidity", unit="cmol/kg", per_year=2)
    return frames.join(amounts(8.0, 0.4, 2.0), acid)


def test_saturations_that_one_laboratory_prints_do_not_keep_another_bed_from_its_own():
    """West's five are those that West alone has; East keeps the one that was printed."""
    east = summable()
    west = east.assign(bed="West", lab="Carrow Bench")
    printed = east[east["analyte"] == "K"].assign(analyte="K saturation", unit="%", value=4.5, method="")
    table = drift(frames.join(east, printed, west)).table
    shares = table[table["ratio"].str.endswith(" saturation")]
    alone = drift(west).table
    assert shares.loc[shares["bed"] == "East", "ratio"].tolist() == ["K saturation"]
    wanted = alone[alone["ratio"].str.endswith(" saturation")]
    columns = ["ratio", "method", "n", "now"]
    assert len(wanted) == 5
    wests = shares.loc[shares["bed"] == "West", columns]
    assert wests.to_numpy().tolist() == wanted[columns].to_numpy().tolist()


def test_saturations_by_the_gardens_formula_are_not_completed_by_another():
    """What the formula leaves out for want of a reading stays out."""
    ours = exchange(summable())
    first = ours["sampled"] == ours["sampled"].min()
    some = ours[~(first & (ours["source"] == frames.COMPUTED))]
    assert drift(some).table.query("ratio == 'K saturation'")["n"].tolist() == [11]


@pytest.mark.parametrize("order", [1, -1])
def test_the_topsoil_is_told_and_not_the_subsoil(order):
    """Two layers of the same days: the upper one, in whatever order they come and with its days lost."""
    steady = 0.3 + 0.01 * NOISE[:9]
    layers = [results(steady), results(4 * steady).assign(top_cm=15.0, bottom_cm=30.0)][::order]
    for top in (layers, [rows.assign(sampled=pd.NaT) if rows["top_cm"][0] == 0 else rows for rows in layers]):
        told = told_last(drift(frames.join(*top)).table)
        assert told["top_cm"].tolist() == [0.0]
        assert told["now"].tolist() == pytest.approx([0.3], abs=0.01)


def test_the_newer_laboratory_is_told_though_the_olders_days_are_lost():
    """A season is as good as a day to know which of two came later."""
    old = results([0.9] * 9).assign(lab="Old Bench", sampled=pd.NaT)
    new = results([0.3] * 9).assign(lab="New Bench")
    new = new.assign(sampled=new["sampled"] + pd.DateOffset(years=9))
    new["season"] = frames.season(new["sampled"])
    assert told_last(drift(frames.join(old, new)).table)["lab"].tolist() == ["New Bench"]


def test_order_of_rows_does_not_matter():
    """Shuffled rows give the same numbers."""
    frame = results(0.3 * np.exp(0.1 * np.arange(9) + NOISE[:9]))
    plain, shuffled = row(frame), row(frame.sample(frac=1, random_state=4))
    for name in ("now", "p", "slope_per_year", "flag"):
        assert plain[name] == shuffled[name]


def test_limits_are_said():
    """A ratio whose tests all lie beyond a limit has no level."""
    found = row(results([1.0, 1.1, 0.9, 1.0], qualifier="<"))
    assert found["flag"] == "too few"
    assert "no measured test" in found["why"]


def test_a_stated_noise_is_used():
    """With noise ten times as large nothing stands out."""
    frame = results(2.0 * np.exp(0.3 * NOISE[:4]))
    assert row(frame)["flag"] == "outside"
    loud = noise_model(frame, overrides={"K:Mg (charge)": {"sd": 1.4}})
    assert row(frame, noise=loud)["flag"] == "steady"


def test_nothing_to_watch():
    """A frame without ratios gives an empty table with its columns."""
    found = drift(results([6.0, 6.1], ratio="pH", unit="pH"))
    assert len(found.table) == 0
    first = "bed ratio now low_edge high_edge position slope_per_year years_to_edge q flag why"
    assert list(found.table.columns[:11]) == first.split()


def test_it_shows_itself():
    """Plain and as a page."""
    found = drift(results(2.0 * np.exp(NOISE)))
    assert repr(found).startswith("Drift: 1 bed, 1 ratio (1 outside)")
    assert "<caption" in found._repr_html_()
