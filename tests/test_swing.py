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


def occasions(effects, *, names=("spring", "autumn") * 3):
    time = np.arange(len(effects)) / 2
    return pd.DataFrame({"name": names, "time": time, "effect": effects, "part": 0})


def cells(met, *, sd=0.1, variance=0.04, day=0.3, seed=1):
    """Return a row for each bed and occasion met: springs are even, autumns odd and 0.5 higher."""
    rows = pd.DataFrame(met, columns=["bed", "sampled"])
    autumn = rows["sampled"] % 2
    y = 0.7 * rows["bed"] + 0.5 * autumn + np.random.default_rng(seed).normal(0, sd, len(rows))
    name = np.where(autumn, "autumn", "spring")
    return rows.assign(y=y, name=name, time=rows["sampled"] / 2, variance=variance, day=day)


def dummies(rows, *columns):
    return [pd.get_dummies(rows[name].astype(str), prefix=name).astype(float) for name in columns]


FULL = [(bed, at) for bed in range(6) for at in range(8)]
SPLIT = [(bed, at) for bed, at in FULL if bed % 2 == at % 2]
"""Half of the beds in springs alone, the others in autumns alone."""

DESIGNS = {
    "all beds in both seasons": FULL,
    "beds missed now and then": [FULL[at] for at in np.random.default_rng(7).choice(48, 30, replace=False)],
    "one bed links": [*SPLIT, *((6, at) for at in range(4))],
    "one test links": [*SPLIT, (0, 7)],
    "a chain": [(bed, at) for bed in range(7) for at in (bed, bed + 1)],
    "two gardens": [(bed, at) for bed, at in FULL if (bed < 3) == (at < 4)],
}


def test_effects_of_an_unbalanced_garden():
    """Beds missed now and then do not count as seasons: the additive fit of statsmodels and its covariance.

    What two occasions differ by, and how surely, with the two days' own variance (0.3 squared each).
    """
    rows = cells([pair for pair in DESIGNS["beds missed now and then"] if pair[1] < 5])
    found, covariance = swing.effects(rows)
    beds, days = dummies(rows, "bed", "sampled")
    fit = sm.OLS(rows["y"], pd.concat([beds, days.iloc[:, 1:]], axis=1)).fit()
    steps = found["effect"].to_numpy()[1:] - found.loc[0, "effect"]
    assert steps == pytest.approx(fit.params.iloc[-4:].to_numpy())
    contrast = np.column_stack([-np.ones(4), np.eye(4)])
    wanted = 0.04 * fit.normalized_cov_params.to_numpy()[-4:, -4:] + 0.09 * (np.eye(4) + 1)
    assert contrast @ covariance @ contrast.T == pytest.approx(wanted)


@pytest.mark.parametrize("design", DESIGNS)
@pytest.mark.parametrize("day", [0.3, 0.0])
def test_a_swing_and_its_error_are_those_of_one_fit_over_all(design, day):
    """Beds, a line in time and the step at once, days as a random term of known size: statsmodels' GLS."""
    rows = cells(DESIGNS[design], day=day)
    found = swing.swings(*swing.effects(rows)).iloc[0]
    beds, days = dummies(rows, "bed", "sampled")
    part = (rows[["bed"]] < 3).astype(float) if design == "two gardens" else rows[[]]
    fixed = pd.concat([beds.iloc[:, 1:] if len(part.columns) else beds, part, rows[["time"]]], axis=1)
    spring = (rows["name"] == "spring").astype(float)
    fit = sm.GLS(
        rows["y"],
        fixed.assign(spring=spring),
        sigma=0.04 * np.eye(len(rows)) + day**2 * days @ days.T.to_numpy(),
    ).fit()
    assert (found["first"], found["second"]) == ("autumn", "spring")
    assert found["swing"] == pytest.approx(fit.params["spring"])
    assert found["se"] == pytest.approx(np.sqrt(fit.normalized_cov_params.loc["spring", "spring"]))


def test_seasons_of_different_beds_tell_no_swing():
    """Springs on some beds and autumns on others: what they differ by may be the beds."""
    assert swing.swings(*swing.effects(cells(SPLIT))).empty
    frame = frames.results([
        {"bed": bed, "season": f"{name} {year}", "sampled": f"{year}-{month}-10", "analyte": "pH",
         "unit": "pH", "value": value, "lab": "L", "top_cm": 0.0, "bottom_cm": 15.0}
        for bed, name, month, value in (("A", "spring", "04", 6.0), ("B", "autumn", "10", 7.0))
        for year in range(2019, 2023)])  # fmt: skip
    assert noise_model(frame).swings.empty


def test_the_interval_of_a_swing_holds_the_truth():
    """Of 300 gardens whose seasons one test links, 95 % (plain arithmetic of chance: 91.2 to 98.8 %)."""
    rng, inside = np.random.default_rng(2), []
    for seed in range(300):
        rows = cells(DESIGNS["one test links"], sd=0.2, seed=seed)
        rows["y"] += rng.normal(0, 0.3, 8)[rows["sampled"]]
        found = swing.swings(*swing.effects(rows)).iloc[0]
        inside.append(abs(found["swing"] + 0.5) < 1.96 * found["se"])
    assert abs(np.mean(inside) - 0.95) < 3 * np.sqrt(0.05 * 0.95 / 300)


def test_the_subsoil_keeps_what_it_has():
    """The topsoil swings by 0.5 pH and the subsoil not at all: nothing is taken off the subsoil's change.

    A laboratory or layer with too few years has the table's usual swing inside its band.
    """
    layers = {"topsoil": (0.0, 15.0, 0.5), "subsoil": (15.0, 30.0, 0.0), "new": (30.0, 45.0, 0.0)}
    rows = frames.results([
        {"bed": bed, "season": f"{name} {year}", "sampled": f"{year}-{'04' if name == 'spring' else '10'}-10",
         "analyte": "pH", "method": "water 1:1", "unit": "pH", "lab": "L", "top_cm": top, "bottom_cm": bottom,
         "value": 6.2 + step * (name == "autumn"), "sample": f"{bed} {top} {name} {year}"}
        for bed in "ABCDEF" for year in range(2019, 2025) for name in ("spring", "autumn")
        for layer, (top, bottom, step) in layers.items() if layer != "new" or year == 2024])  # fmt: skip
    table = compare(rows, before="spring 2024", after="autumn 2024").table
    one = table[table["bed"].isin(["A", frames.GARDEN])].set_index(["bed", "top_cm"])
    for bed in ("A", frames.GARDEN):
        top, sub, new = (one.loc[(bed, depth)] for depth in (0.0, 15.0, 30.0))
        assert top["swing_taken_off"] == pytest.approx(0.5, abs=0.03)
        assert sub[["swing_taken_off", "change"]].tolist() == pytest.approx([0, 0], abs=1e-9)
        assert new[["swing_taken_off", "change"]].tolist() == pytest.approx([0, 0], abs=1e-9)
        assert sub["noise"] < new["noise"]
        assert "the usual swing between seasons" in new["why"]


def test_step_beside_a_line():
    """The swing and its error are those of least squares with known variance (statsmodels)."""
    rng = np.random.default_rng(3)
    effects = np.arange(8) * 0.1 + np.tile([0.0, 0.3], 4) + rng.normal(0, 0.05, 8)
    days = occasions(effects, names=("spring", "autumn") * 4)
    fit = sm.OLS(
        effects, sm.add_constant(np.column_stack([days["time"], days["name"] == "spring"]).astype(float))
    ).fit()
    found = swing.swings(days, 0.01 * np.eye(8)).iloc[0]
    assert (found["first"], found["second"]) == ("autumn", "spring")
    assert found["swing"] == pytest.approx(fit.params[2])
    assert found["se"] == pytest.approx(0.1 * np.sqrt(fit.normalized_cov_params[2, 2]))
    scattered = swing.swings(days, 1e-6 * np.eye(8)).iloc[0]
    assert scattered["se"] == pytest.approx(fit.bse[2])


@pytest.mark.parametrize("names", [("spring",) * 6, ("spring",) * 5 + ("autumn",), ("", "autumn") * 3])
def test_too_few_occasions_tell_no_swing(names):
    """One autumn, or seasons not known, tell of no swing."""
    assert len(swing.swings(occasions(np.arange(6.0), names=names), 0.01 * np.eye(6))) == 0


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
