"""The garden's own spring-autumn swing, against ordinary least squares and gardens of known truth."""

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from soiltrend import frames, swing
from soiltrend.compare import compare
from soiltrend.noise import noise_model
from soiltrend.simulate import Design, simulate_garden

SEASONS = tuple(f"{name} {year}" for year in range(2018, 2022) for name in ("spring", "autumn"))
ENDS = {"before": "spring 2018", "after": "autumn 2021"}


def occasions(effects, *, names=("spring", "autumn") * 3, variance=0.01):
    time = np.arange(len(effects)) / 2
    return pd.DataFrame({"group": 0, "name": names, "variance": variance, "time": time, "effect": effects})


def test_effects_of_an_unbalanced_garden():
    """Beds missed now and then do not count as seasons: the additive fit of statsmodels, up to a constant."""
    rng = np.random.default_rng(1)
    rows = pd.DataFrame([(b, o) for b in range(6) for o in range(5)], columns=["bed", "occasion"])
    rows = rows.sample(frac=0.7, random_state=2).reset_index(drop=True)
    rows["y"] = rows["bed"] * 2.0 + rows["occasion"] ** 2 + rng.normal(0, 0.1, len(rows))
    rows = rows.assign(group=0, name="spring", time=rows["occasion"] * 1.0, variance=0.04, day=0.3)
    found = swing.effects(rows)
    beds, days = (pd.get_dummies(rows[name].astype(str), prefix=name) for name in ("bed", "occasion"))
    fit = sm.OLS(rows["y"], pd.concat([beds, days.iloc[:, 1:]], axis=1).astype(float)).fit()
    wanted = np.array([0.0, *fit.params[6:]])
    assert (found["effect"] - found["effect"].mean()).to_numpy() == pytest.approx(
        wanted - wanted.mean(), abs=1e-6
    )
    assert found.loc[0, "variance"] == pytest.approx(0.04 / (rows["occasion"] == 0).sum() + 0.09)


def test_step_beside_a_line():
    """The swing and its error are those of least squares with known variance (statsmodels)."""
    rng = np.random.default_rng(3)
    effects = np.arange(8) * 0.1 + np.tile([0.0, 0.3], 4) + rng.normal(0, 0.05, 8)
    days = occasions(effects, names=("spring", "autumn") * 4)
    fit = sm.OLS(
        effects, sm.add_constant(np.column_stack([days["time"], days["name"] == "spring"]).astype(float))
    ).fit()
    found = swing.swings(days).iloc[0]
    assert (found["first"], found["second"]) == ("autumn", "spring")
    assert found["swing"] == pytest.approx(fit.params[2])
    assert found["se"] == pytest.approx(0.1 * np.sqrt(fit.normalized_cov_params[2, 2]))
    scattered = swing.swings(days.assign(variance=1e-6)).iloc[0]
    assert scattered["se"] == pytest.approx(fit.bse[2])


@pytest.mark.parametrize("names", [("spring",) * 6, ("spring",) * 5 + ("autumn",), ("", "autumn") * 3])
def test_too_few_occasions_tell_no_swing(names):
    """One autumn, or seasons not known, tell of no swing."""
    assert len(swing.swings(occasions(np.arange(6.0), names=names))) == 0


def test_a_swing_is_drawn_towards_none():
    """With the table's swing s0 and the garden's error se, m is kept by s0^2 / (s0^2 + se^2)."""
    buckets = pd.DataFrame(
        [
            {
                "kind": 0,
                "bed": f"bed {i}",
                "season": season,
                "lab": "L",
                "top_cm": 0.0,
                "bottom_cm": 15.0,
                "y": y,
                "sampled": pd.Timestamp(f"{season[-4:]}-{'04' if y == 0 else '10'}-10"),
                "variance": 0.01,
            }
            for i in range(4)
            for season, y in zip(SEASONS, (0.0, 0.4) * 4, strict=True)
        ]
    )
    day, found = 0.06, {}
    for usual in (0.05, 0.2, 50.0):
        found[usual] = swing.own(buckets, np.array([day]), np.array([usual])).iloc[0]
    free = found[50.0]
    assert free["swing"] == pytest.approx(-0.4, abs=0.001)
    assert free[["n_first", "n_second"]].tolist() == [4, 4]
    for usual in (0.05, 0.2):
        weight = usual**2 / (usual**2 + free["sd"] ** 2)
        assert found[usual]["swing"] == pytest.approx(free["swing"] * weight, rel=1e-3)
        assert found[usual]["sd"] == pytest.approx(np.sqrt(weight) * free["sd"], rel=1e-3)


def garden(seed, *, seasons=SEASONS, **terms):
    model = noise_model(overrides={"pH": terms})
    design = Design(beds=8, seasons=seasons, levels={"pH": 6.4})
    return simulate_garden(seed=seed, design=design, noise=model)


def test_two_samples_of_a_bed_and_day_are_one():
    """Each pair as its mean, with half the variance of one: as if the means had been given."""
    rng = np.random.default_rng(5)
    single = pd.DataFrame(
        [
            {"kind": 0, "bed": bed, "season": season, "lab": "L", "top_cm": 0.0, "bottom_cm": 15.0,
             "y": rng.normal(0.4 * season.startswith("autumn"), 0.1), "variance": 0.005,
             "sampled": pd.Timestamp(f"{season[-4:]}-{'10' if season.startswith('autumn') else '04'}-10")}
            for bed in ("East", "West")
            for season in SEASONS
        ]
    )  # fmt: skip
    double = pd.concat([single.assign(y=single["y"] + by, variance=0.01) for by in (0.15, -0.15)])
    ask = (np.array([0.02]), np.array([0.5]))
    wanted = swing.own(single, *ask)
    assert abs(wanted["swing"].item()) > 0.2
    found = swing.own(double.reset_index(drop=True), *ask)
    pd.testing.assert_frame_equal(found, wanted, check_exact=False, rtol=1e-9)


def test_a_known_swing_is_taken_off():
    """After four years a garden knows its own swing: it is taken off, and the band is narrower."""
    results = garden(2, season=0.5)
    results["value"] += np.where(results["season"].str.startswith("autumn"), 1.0, 0.0)
    model = noise_model(results, overrides={"pH": {"season": 0.8}})
    found = compare(results, **ENDS, noise=model).table.iloc[-1]
    raw = found["after"] - found["before"]
    assert found["bed"] == frames.GARDEN
    assert found["change"] == pytest.approx(raw - found["swing_taken_off"])
    assert found["low"] < 0 < found["high"]
    assert found["verdict"] in ("unclear", "held")
    blind = compare(results, **ENDS, noise=noise_model(overrides={"pH": {"season": 0.8}})).table.iloc[-1]
    assert found["noise"] < 0.5 * blind["noise"]
    assert "4 springs and 4 autumns), which is taken off" in found["why"]
    assert (
        compare(results, before="spring 2018", after="spring 2021", noise=model)
        .table["swing_taken_off"]
        .eq(0)
        .all()
    )


def test_either_way_round():
    """Autumn to spring takes the swing off with the other sign."""
    results = garden(2, season=0.5)
    there = compare(results, before="spring 2018", after="autumn 2021").table.iloc[-1]
    back = compare(results, before="autumn 2018", after="spring 2021").table.iloc[-1]
    assert there["swing_taken_off"] == pytest.approx(-back["swing_taken_off"])
    assert there["swing_taken_off"] != 0


def test_a_year_of_two_seasons_is_of_neither():
    """A year of spring and autumn against one of summer: what the garden knows of each pair does not fit."""
    middle = [f"{name} {year}" for year in (2019, 2020) for name in ("spring", "summer", "autumn")]
    results = garden(2, season=0.5, seasons=("spring 2018", "autumn 2018", *middle, "summer 2021"))
    summers = compare(results, before="spring 2018", after="summer 2021").table
    assert summers["swing_taken_off"].ne(0).all()
    table = compare(results, before="2018", after="2021").table
    assert not table["same_season"].any()
    assert table["swing_taken_off"].eq(0).all()
    assert table["why"].str.contains("usual swing between seasons").all()


def test_unlike_seasons_keep_their_promise():
    """Over 80 gardens in which nothing changed, spring against autumn alarms in at most 5 %."""
    parts = [garden(seed, season=0.2).assign(method=f"way {seed}", lab=f"lab {seed}") for seed in range(80)]
    table = compare(pd.concat(parts), **ENDS).table
    alarms = table["verdict"].isin(["rose", "fell"])[table["bed"] == frames.GARDEN]
    assert len(alarms) == 80
    assert table["swing_taken_off"].ne(0).all()
    assert alarms.mean() <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 80)
