"""Where a bed stands: the whole series, and not its last number."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.tsa.statespace.kalman_filter import KalmanFilter

from soiltrend import frames
from soiltrend.aims import nutrient_limits
from soiltrend.garden import open_garden
from soiltrend.materials import known_materials
from soiltrend.noise import noise_model
from soiltrend.plan.lime import per_unit
from soiltrend.plan.past import PER_LAYER, Log
from soiltrend.plan.rules import PlanRules
from soiltrend.plan.shed import BRINGS, chosen, content, greatest, open_shed
from soiltrend.plan.standing import between, forward, standing


def series(values, *, analyte="K", unit="mg/kg", season="spring", start=2018, sign="", signs=None):
    """Return a series of one bed, a test a year."""
    days = [pd.Timestamp(start + at, 4 if season == "spring" else 10, 5) for at in range(len(values))]
    rows = pd.DataFrame(
        {"bed": "East", "analyte": analyte, "unit": unit, "value": values, "sampled": days}
    )
    rows["qualifier"] = signs or sign
    rows = frames.results(rows.assign(method="Mehlich-3" if unit == "mg/kg" else "water 1:1", lab="L"))
    return rows.assign(season=frames.season(rows["sampled"]))


def level(found, *, side=0.5):
    """Return what a spring test of the first series would read, and its error [analysis scale]."""
    look = np.array([1.0, 0.0, side])
    return found.mean[0] @ look, np.sqrt(look @ found.cov[0] @ look)


def test_a_quiet_series_stands_at_its_mean_and_is_surer_than_one_test():
    """Eight equal tests: the level is theirs, and its error smaller than a test's."""
    rows = series([120.0] * 8)
    found = standing(rows, noise=noise_model(rows))
    mean, sd = level(found)
    assert np.exp(mean) == pytest.approx(120, rel=0.001)
    assert sd < found.table["noise"].iloc[0]
    assert level(found, side=-0.5)[1] > sd  # of autumn nothing was ever seen


def test_one_wild_last_test_is_not_believed_whole():
    """A last number half as high again moves the estimate by less than half of that."""
    rows = series([100.0] * 7 + [150.0])
    moved = np.exp(level(standing(rows, noise=noise_model(rows)))[0])
    assert 105 < moved < 130


def test_a_step_is_followed_within_three_years():
    """A bed that was limed once stands where it stands since, not where a line through all would put it."""
    rows = series([5.8] * 3 + [7.0] * 5, analyte="pH", unit="pH")
    found = standing(rows, noise=noise_model(rows))
    assert found.mean[0, 0] == pytest.approx(7.0, abs=0.12)
    assert abs(found.mean[0, 1]) < 0.06


def test_agrees_with_the_recursion_by_hand():
    """Level and noise alone are the textbook's local level filter (Durbin & Koopman 2012, section 2.2)."""
    rng = np.random.default_rng(4)
    wander, noise, values = np.full(1, 0.3), 0.5, rng.normal(5, 1, 6)
    mean, cov = np.array([[values[0], 0.0, 0.0]]), np.zeros((1, 3, 3))
    cov[0, 0, 0] = 25.0
    a, p = values[0], 25.0
    for value in values:
        mean, cov = forward(mean, cov, years=np.ones(1), wander=wander, steep=np.zeros(1))
        p += wander[0] ** 2
        gain = p / (p + noise**2)
        a, p = a + gain * (value - a), p * (1 - gain)
        along = cov[:, :, 0]
        share = along / (cov[0, 0, 0] + noise**2)
        mean = mean + share * (value - mean[0, 0])
        cov = cov - share[:, :, None] * along[:, None, :]
    assert mean[0, 0] == pytest.approx(a)
    assert cov[0, 0, 0] == pytest.approx(p)


def kalman(value, variance, side, years, prior, *, wander, steep, moved=0.0, unsure=0.0, offset=0.0):
    """Return level, slope and swing after the last test, and their covariance, by statsmodels.

    A state of level, slope (of which 0.6 is left after a year), swing and the share of dressings that shows;
    ``prior`` is the mean and the variances of the first three; ``moved`` is what dressings do to the level
    before each test where all of it shows, ``unsure`` the standard deviation of the share (beside 0.5).
    """
    count = len(value)
    model = KalmanFilter(k_endog=1, k_states=4, k_posdef=4)
    model.bind(np.asarray(value, dtype=float)[None, :])
    left = 0.6 ** np.append(years, 0.0)
    one = np.ones(count)
    move, drift = np.zeros((4, 4, count)), np.zeros((4, 4, count))
    move[[0, 1, 2, 3], [0, 1, 2, 3]] = np.stack([one, left, one, one])
    move[0, 1] = (1 - left) / -np.log(0.6)
    move[0, 3] = np.append(np.broadcast_to(moved, count)[1:], 0.0)
    span = np.append(years, 0.0)
    drift[0, 0] = wander**2 * span + steep**2 * (1 - left**2) * span**2 / 4
    drift[1, 1] = steep**2 * (1 - left**2)
    model["design"] = np.stack([one, 0 * one, np.asarray(side), 0 * one])[None, :, :]
    model["obs_cov"] = np.asarray(variance, dtype=float)[None, None, :]
    model["transition"], model["state_cov"], model["selection"] = move, drift, np.eye(4)
    intercept = np.zeros((4, count))
    intercept[0] = np.append(np.broadcast_to(offset, count)[1:], 0.0)
    model["state_intercept"] = intercept
    start, spread = np.array([*prior[0], 1.0]), np.diag([*prior[1], unsure**2 + 0.5**2])
    model.initialize_known(start.astype(float), spread.astype(float))
    out = model.filter()
    return out.filtered_state[:3, -1], out.filtered_state_cov[:3, :3, -1]


def agree(found, mean, cov, *, at):
    """Hold the state of a bed against another, to nine digits."""
    assert found.mean[at] == pytest.approx(mean, abs=1e-9)
    assert found.cov[at] == pytest.approx(cov, abs=1e-9)


def both_seasons(values, *, analyte, unit):
    """Return a series of spring and autumn in turn, the third year left out."""
    days = [day for year in (2018, 2019, 2021, 2022) for day in (f"{year}-04-05", f"{year}-10-12")]
    rows = pd.DataFrame({"bed": "East", "analyte": analyte, "unit": unit, "value": values,
                         "sampled": pd.to_datetime(days)})  # fmt: skip
    rows = frames.results(rows.assign(method="Mehlich-3" if unit == "mg/kg" else "water 1:1", lab="L"))
    rows = rows.assign(season=frames.season(rows["sampled"]))
    return rows, np.diff(rows["sampled"]) / np.timedelta64(1, "D") / frames.YEAR


def test_the_state_is_that_of_a_kalman_filter():
    """Level, slope and swing with uneven gaps and dressings, beside statsmodels' KalmanFilter."""
    values = [6.1, 5.9, 6.4, 6.1, 6.6, 6.2, 6.3, 6.3]
    rows, years = both_seasons(values, analyte="pH", unit="pH")
    put = np.cumsum([0.2, 0, 0.3, 0, 0, 0.1, 0, 0.05])
    noise = noise_model()
    found = standing(rows, noise=noise, dressed=lambda *_: (put[None, :], np.array([0.4])))
    line = found.table.iloc[0]
    season = noise.of(found.table)["season"].iloc[0]
    mean, cov = kalman(
        values, np.full(8, line["noise"] ** 2), [0.5, -0.5] * 4, years,
        ([6.1, 0, 0], [25.0, line["steep"] ** 2, season**2]), wander=line["wander"], steep=line["steep"],
        moved=np.diff(put, prepend=put[0]), unsure=0.4,
    )  # fmt: skip
    agree(found, mean, cov, at=0)


def test_a_dressing_multiplies_what_is_measured_on_logarithms():
    """30 put on 100: log(1.3), and 30/130 for a share off by one, beside statsmodels' KalmanFilter."""
    rows = series([100.0, 140.0])
    noise = noise_model()
    put = np.array([[0.0, 30.0]])
    found = standing(rows, noise=noise, dressed=lambda *_: (put, np.array([0.4])))
    line, years = found.table.iloc[0], np.array([365 / frames.YEAR])
    season = noise.of(found.table)["season"].iloc[0]
    mean, cov = kalman(
        np.log([100.0, 140.0]), np.full(2, line["noise"] ** 2), [0.5, 0.5], years,
        ([np.log(100.0), 0, 0], [25.0, line["steep"] ** 2, season**2]), wander=line["wander"],
        steep=line["steep"], moved=np.array([0.0, 30 / 130]), unsure=0.4,
        offset=np.array([0.0, np.log(1.3) - 30 / 130]),
    )  # fmt: skip
    agree(found, mean, cov, at=0)


def test_a_value_below_its_limit_is_cut_off_there_and_no_number_stands_for_it():
    """Level and swing that say it all, by quadrature over the level and scipy's chance of lying below."""
    rows = series([12.0, 10.0], signs=["", "<"])
    noise = noise_model()
    found = standing(rows, noise=noise)
    line, v = found.table.iloc[0], found.table["noise"].iloc[0] ** 2
    look = np.array([1.0, 0.0, 0.5])
    one = standing(rows.head(1), noise=noise)
    mean, cov = forward(one.mean, one.cov, years=np.full(1, 365 / frames.YEAR),
                        wander=np.full(1, line["wander"]), steep=np.full(1, line["steep"]))  # fmt: skip
    middle, sd = look @ mean[0], np.sqrt(look @ cov[0] @ look)
    at = np.linspace(middle - 9 * sd, middle + 9 * sd, 20001)
    weight = stats.norm.pdf(at, middle, sd) * stats.norm.cdf((np.log(10.0) - at) / np.sqrt(v))
    weight /= weight.sum()
    told = (weight * at).sum()
    seen = level(found)
    assert seen[0] == pytest.approx(told, abs=1e-6)
    assert seen[1] == pytest.approx(np.sqrt((weight * (at - told) ** 2).sum()), abs=1e-6)
    assert seen[0] < level(one)[0]


@pytest.mark.parametrize("signs", [["", "<", "", "<", "", "<"], ["<", "<", "", "", "<", "<"]])
def test_limits_among_readings_count_as_all_that_lies_below_them(signs):
    """Beside a hundred thousand paths of the same soil, each weighed by how well it fits the tests."""
    values = [6.0, 6.0, 6.6, 6.0, 5.8, 5.0]
    rows = series(values, signs=signs)
    found = standing(rows, noise=noise_model())
    line, rng = found.table.iloc[0], np.random.default_rng(5)
    season = noise_model().of(found.table)["season"].iloc[0]
    wander, steep, sd = line["wander"], line["steep"], line["noise"]
    high, below = np.log(values), np.array(signs) == "<"
    count = 100_000
    first = high[~below][0]  # a level that no path strays far from: the prior of the filter is wider still
    start = ((first, 0.6), (0, steep), (0, season))
    state = np.stack([rng.normal(*one, count) for one in start])
    weight = np.exp((state[0] - first) ** 2 / 2 / 0.36)  # as if drawn evenly
    for at in range(len(values)):
        if at:
            years = (rows["sampled"].iloc[at] - rows["sampled"].iloc[at - 1]).days / frames.YEAR
            left = 0.6**years
            drift = np.sqrt(wander**2 * years + steep**2 * (1 - left**2) * years**2 / 4)
            state[0] += state[1] * (1 - left) / -np.log(0.6) + drift * rng.standard_normal(count)
            state[1] = state[1] * left + steep * np.sqrt(1 - left**2) * rng.standard_normal(count)
        off = (high[at] - state[0] - state[2] / 2) / sd
        weight *= stats.norm.cdf(off) if below[at] else stats.norm.pdf(off)
        drawn = rng.choice(count, count, p=weight / weight.sum())
        state, weight = state[:, drawn], np.ones(count)
    seen = state[0] + state[2] / 2
    mean, sd = level(found)
    assert mean == pytest.approx(seen.mean(), abs=0.03)
    assert sd == pytest.approx(seen.std(), rel=0.15)


def test_what_is_not_on_logarithms_lies_between_nothing_and_its_limit():
    """Humus below 0.5 % after nothing else: evenly anywhere from 0 to 0.5 and a test's noise (arithmetic)."""
    rows = series([0.5], analyte="OM", unit="%", sign="<")
    found = standing(rows, noise=noise_model())
    assert found.mean[0, 0] == pytest.approx(0.25, abs=0.01)
    assert np.sqrt(found.cov[0, 0, 0]) == pytest.approx(
        np.hypot(0.5 / np.sqrt(12), found.table["noise"].iloc[0]), rel=0.1
    )


ENDS = [(-np.inf, 0.3), (1.5, np.inf), (-1.0, 0.2), (2.0, 2.5), (-9.0, -8.5), (-np.inf, -9.0), (9.0, np.inf)]


@pytest.mark.parametrize(("low", "high"), ENDS)
def test_what_is_left_between_two_ends_is_scipy_s(low, high):
    """Mean and variance of scipy.stats.truncnorm, in the middle and far out."""
    mean, sd = 0.4, 1.3
    found = between(np.full(1, mean), np.full(1, sd), low=np.full(1, low), high=np.full(1, high))
    cut = stats.truncnorm((low - mean) / sd, (high - mean) / sd, loc=mean, scale=sd)
    assert found[0][0] == pytest.approx(cut.mean(), rel=1e-6)
    assert found[1][0] == pytest.approx(cut.var(), rel=1e-5)


@pytest.mark.parametrize(("sign", "told"), [("<", "<"), (">", ">"), ("", "")])
def test_a_series_of_limits_alone_says_so(sign, told):
    """The limit of its last test stands beside the sign."""
    found = standing(series([0.1, 0.2, 0.4], analyte="B", sign=sign), noise=noise_model()).table.iloc[0]
    assert (found["qualifier"], found["bound"]) == (told, pytest.approx(0.4))


def test_a_swing_of_the_garden_s_own_is_where_the_filter_begins():
    """Eight beds whose spring lies above autumn: their swing is the prior of each, beside statsmodels."""
    values = [np.array([6.6, 6.0] * 4) + 0.02 * at for at in range(8)]
    beds = [both_seasons(each, analyte="pH", unit="pH")[0] for each in values]
    rows = frames.join(*(bed.assign(bed=f"bed {at}") for at, bed in enumerate(beds)))
    noise = noise_model(rows)
    own = noise.swings.set_index(["first", "second"]).loc[("autumn", "spring")]
    found = standing(rows, noise=noise)
    years = both_seasons([6.0] * 8, analyte="pH", unit="pH")[1]
    line = found.table.iloc[3]
    mean, cov = kalman(
        np.array([6.6, 6.0] * 4) + 0.06, np.full(8, line["noise"] ** 2), [0.5, -0.5] * 4, years,
        ([6.66, 0, own["swing"]], [25.0, line["steep"] ** 2, own["sd"] ** 2]), wander=line["wander"],
        steep=line["steep"],
    )  # fmt: skip
    agree(found, mean, cov, at=3)


def test_summer_and_winter_lie_between_spring_and_autumn():
    """Their tests say nothing of the swing: the filter with a side of 0, beside statsmodels."""
    days = pd.to_datetime(["2018-01-10", "2018-07-12", "2019-07-10", "2020-01-08"])
    rows = series([6.0, 6.3, 6.1, 6.4], analyte="pH", unit="pH").assign(sampled=days)
    rows = rows.assign(season=frames.season(rows["sampled"]))
    noise = noise_model()
    found = standing(rows, noise=noise)
    line = found.table.iloc[0]
    season = noise.of(found.table)["season"].iloc[0]
    mean, cov = kalman(
        [6.0, 6.3, 6.1, 6.4], np.full(4, line["noise"] ** 2), np.zeros(4),
        np.diff(days) / np.timedelta64(1, "D") / frames.YEAR,
        ([6.0, 0, 0], [25.0, line["steep"] ** 2, season**2]), wander=line["wander"], steep=line["steep"],
    )  # fmt: skip
    agree(found, mean, cov, at=0)


def test_each_series_ends_with_its_own_last_test():
    """Beds of two and of eight tests, dressed: side by side they stand where each stands alone."""
    short, long = series([90.0, 130.0]).assign(bed="Abel"), series(np.linspace(100.0, 170.0, 8))

    def dressed(table, days):
        """Return 10 a year from the first test on, NaN beyond the last as the days are."""
        return 10.0 * (days - days[:, :1]) / frames.YEAR, np.full(len(days), 0.3)

    both = standing(frames.join(short, long), noise=noise_model(), dressed=dressed)
    for bed, rows in (("Abel", short), ("East", long)):
        alone = standing(rows, noise=noise_model(), dressed=dressed)
        at = int(both.of[bed][0])
        agree(both, alone.mean[0], alone.cov[0], at=at)
        assert both.share[at] == pytest.approx(alone.share[0], abs=1e-9)


def test_dressings_are_asked_for_by_days_since_1970():
    """The days of the tests, as numpy counts them."""
    asked = []

    def dressed(table, days):
        """Keep the days that are asked for."""
        asked.append(days)
        return np.zeros_like(days), np.zeros(len(days))

    rows = series([90.0, 130.0])
    standing(rows, noise=noise_model(), dressed=dressed)
    assert asked[0][0] == pytest.approx(rows["sampled"].to_numpy().astype("datetime64[D]").astype(float))


def test_a_loss_takes_at_most_half_of_the_level():
    """A log may say more was carried off than there is: no more is reckoned with than half of it."""
    rows = series([100.0, 100.0])
    noise = noise_model()

    def carried(amount):
        """Return the level, given what was carried off before the second test."""
        found = standing(rows, noise=noise, dressed=lambda *_: (np.array([[0.0, -amount]]), np.zeros(1)))
        return found.mean[0, 0]

    assert carried(20.0) < carried(0.0)
    assert carried(49.0) != carried(51.0) == carried(1000.0)


@pytest.mark.parametrize(("value", "noise"), [(2.0, 0.1673), (9.0, 0.5034)])
def test_the_error_of_a_test_grows_where_it_is_a_share_of_the_value(value, noise):
    """Humus by tables/noise.csv, by hand, the day growing with the rest.

    0.09, 0.06 and 0.4 over the root of 15 come to 0.1496, with the day's 0.075 to 0.1673; at 9 % a result
    moves by 0.05 * 9 = 0.45, which is 3.009 times as much.
    """
    rows = series([value] * 2, analyte="OM", unit="%")
    assert standing(rows, noise=noise_model()).table["noise"].iloc[0] == pytest.approx(noise, abs=1e-4)


def test_nothing_that_has_a_day_stands_nowhere():
    """Results without days, or none at all: no rows, and arrays of the right shape."""
    rows = series([100.0, 110.0])
    for none in (rows.assign(sampled=pd.NaT, season=""), rows.head(0)):
        found = standing(none, noise=noise_model())
        assert len(found.table) == 0
        assert {"noise", "wander", "steep"} <= set(found.table.columns)
        assert (found.mean.shape, found.cov.shape, found.of) == ((0, 3), (0, 3, 3), {})


def test_what_was_put_on_is_no_trend():
    """A rise that dressings explain leaves no slope of the bed's own; without the log it is one."""
    rows = series(list(100.0 * 1.08 ** np.arange(8)))
    noise = noise_model(rows)

    def dressed(table, days):
        years = (days - days[:, :1]) / frames.YEAR
        return 100.0 * (1.08**years - 1), np.zeros(len(days))

    bare, known = standing(rows, noise=noise), standing(rows, noise=noise, dressed=dressed)
    assert abs(known.mean[0, 1]) < 0.25 * bare.mean[0, 1]


def test_a_limit_counts_for_little():
    """ "<5" three times: somewhere below, and unsure."""
    rows = series([5.0] * 3, sign="<")
    mean, sd = level(standing(rows, noise=noise_model(rows)))
    assert np.exp(mean) < 5
    assert sd > 0.3


def test_of_two_laboratories_the_last_speaks():
    """Series are not joined across laboratories."""
    old, new = series([300.0] * 5, start=2016), series([100.0] * 2, start=2022).assign(lab="M")
    rows = frames.join(old, new)
    found = standing(rows, noise=noise_model(rows))
    assert len(found.table) == 1
    assert np.exp(found.mean[0, 0]) == pytest.approx(100, rel=0.02)


def test_of_two_layers_the_upper_speaks_and_of_two_methods_the_longer_record():
    """0-15 cm before 15-30 cm, whichever was tested last; where all ends on one day, the most tests."""
    upper = series([100.0] * 3).assign(top_cm=0.0, bottom_cm=15.0)
    lower = series([300.0] * 5).assign(top_cm=15.0, bottom_cm=30.0)
    long, short = series([200.0] * 5), series([50.0] * 2, start=2021).assign(method="Mehlich-1")
    for rows, stands in (((lower, upper), 100), ((short, long), 200)):
        found = standing(frames.join(*rows), noise=noise_model())
        assert np.exp(found.mean[:, 0]) == pytest.approx([stands], rel=0.02)


def test_a_bed_whose_mulch_was_raked_off_is_the_same_bed():
    """0-15 cm, later 2-17 cm: the last test speaks; one of 15-30 cm does not, however late."""
    old = series([40.0] * 3).assign(top_cm=0.0, bottom_cm=15.0)
    raked = series([200.0], start=2022).assign(top_cm=2.0, bottom_cm=17.0)
    below = series([90.0], start=2024).assign(top_cm=15.0, bottom_cm=30.0)
    found = standing(frames.join(old, raked, below), noise=noise_model())
    assert np.exp(found.mean[:, 0]) == pytest.approx([200], rel=0.02)


def test_a_swing_between_other_seasons_is_none_of_spring_and_autumn():
    """Beds tested in summer and in spring: what lies between these says nothing of autumn."""
    days = [f"{year}-{day}" for year in (2018, 2019, 2020, 2021) for day in ("04-05", "07-12")]
    one = series([6.6, 6.0] * 4, analyte="pH", unit="pH").assign(sampled=pd.to_datetime(days))
    one = one.assign(season=frames.season(one["sampled"]))
    rows = frames.join(*(one.assign(bed=f"bed {at}") for at in range(8)))
    noise = noise_model(rows)
    assert {"spring", "summer"} <= set(noise.swings[["first", "second"]].to_numpy().ravel())
    found, plain = standing(rows, noise=noise), standing(rows, noise=replace(noise, swings=noise.swings[:0]))
    assert found.mean == pytest.approx(plain.mean)


def test_swing_lifts_spring_above_autumn():
    """Both seasons of ten years with a swing of 20 %: it is found, halved to either side."""
    spring, autumn = series([110.0] * 8), series([90.0] * 8, season="autumn")
    rows = frames.join(spring, autumn).sort_values("sampled")
    found = standing(rows, noise=noise_model())
    assert found.mean[0, 2] == pytest.approx(np.log(110 / 90), abs=0.05)
    assert np.exp(found.mean[0, 0]) == pytest.approx(99.5, rel=0.02)


def test_lime_by_its_buffer():
    """EM 9585 (Moore 2025), Sikora 6.5 to pH 6.4: 1.8 ton/acre, 403.5 g/m2 from pH 5.4 in 15.24 cm."""
    found, known, why = per_unit(pH=5.4, buffers={"Sikora": 6.5}, capacity=np.nan, target=6.4, depth_cm=15.24)
    assert known
    assert "Oregon 2025: 404" in why
    assert found[0] < 403.5 < found[2]


def test_without_buffer_the_estimate_is_called_weak():
    """Exchange capacity alone: half to double."""
    found, known, why = per_unit(pH=5.5, buffers={}, capacity=12.0, target=6.5, depth_cm=15.0)
    assert known
    assert "weak" in why
    assert found[2] == pytest.approx(4 * found[0])


def test_with_neither_anything_from_sand_to_clay():
    """Exchange capacities of 3 to 50 cmol/kg, sand to clay (Ohio State Univ. ANR-81), bracket 1 and 40."""
    found, known, why = per_unit(pH=5.5, buffers={}, capacity=np.nan, target=6.5, depth_cm=15.0)
    assert not known
    assert "from sand to clay" in why
    sand, clay = (per_unit(pH=6.2, buffers={}, capacity=c, target=6.5, depth_cm=15.0)[0][1] for c in (3, 50))
    assert found[0] == pytest.approx(sand / 2)
    assert found[2] == pytest.approx(2 * clay)


def test_content_is_of_the_material_as_it_lies():
    """Compost at 46 % moisture and 1.2 % K of the dry: 6.5 g K a kilogram."""
    row = known_materials(
        pd.DataFrame({"material": ["x"], "K": [1.2], "moisture": [46.0], "measured": ["yes"]})
    ).loc["x"]
    found = content(row, draws=4000, rng=np.random.default_rng(1))
    assert found[:, BRINGS.index("K")].mean() == pytest.approx(0.012 * 0.54, rel=0.02)


def test_greatest_amounts_are_those_of_the_tables():
    """5 lb of ash, 10 lb of lime to 100 ft2 (Penn State AASL), an inch of compost (Colorado State Univ.)."""
    known = known_materials()
    assert greatest(known.loc["wood ash"]) == pytest.approx(5 * 453.59 / 9.2903, rel=0.001)
    assert greatest(known.loc["calcitic limestone"], per="dressing") == pytest.approx(
        10 * 453.59 / 9.2903, rel=0.001
    )
    compost = known.loc["garden compost"]
    assert greatest(compost) == pytest.approx(25.4 * compost["density"] * 1000)


def test_own_stock_or_any():
    """Her own materials alone, or with those of the table."""
    own = known_materials(pd.DataFrame({"material": ["gypsum"], "Ca": [21.0], "measured": ["yes"]}))
    assert chosen(own, stock="own").index.tolist() == ["gypsum"]
    assert len(chosen(own, stock="any")) >= 40
    assert len(chosen(known_materials(), stock="own")) >= 40
    shed = open_shed(own, rules=PlanRules(scenarios=60), years=1.0)
    assert shed.total.shape == (60, 1, len(BRINGS))
    assert (shed.free <= shed.total + 1e-12).all()


def test_the_log_counts_what_has_come_free(tmp_path):
    """10 kg on 10 m2 and 1000 g/m2 are the same; nothing counts before its day, or from the plan's day on."""
    (tmp_path / "garden.toml").write_text('[beds."East"]\narea_m2 = 10\n', encoding="utf-8")
    (tmp_path / "applications.csv").write_text(
        "date,bed,material,amount,unit\n2024-04-01,East,sulphate of potash,10,kg\n"
        "2024-04-01,East,sulphate of potash,1000,g/m2\n2026-01-01,East,sulphate of potash,90,kg\n",
        encoding="utf-8",
    )
    garden = open_garden(tmp_path)
    log = Log(garden, known=known_materials(), seed=1, before=pd.Timestamp(2025, 12, 1))
    days = np.array(["2024-03-01", "2025-12-01"], dtype="datetime64[D]").astype(float)
    before, after = log.free("East", "K", days)
    percent = known_materials().loc["sulphate of potash", "K"]
    assert before == 0
    assert after == pytest.approx(2 * 1000 * percent / 100, rel=0.05)


def test_a_salt_in_the_log_is_free_two_months_on(tmp_path):
    """It dissolves within days or weeks (tables/release.csv); of limestone a sixth of a year's share."""
    (tmp_path / "garden.toml").write_text('[beds."East"]\narea_m2 = 10\n', encoding="utf-8")
    lines = ["date,bed,material,amount,unit", "2024-04-01,East,sulphate of potash,100,g/m2"]
    lines.append("2024-04-01,East,calcitic limestone,300,g/m2")
    (tmp_path / "applications.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    log = Log(open_garden(tmp_path), known=known_materials(), seed=1, before=pd.Timestamp(2025, 12, 1))
    days = np.array(["2024-06-01", "2025-04-01"], dtype="datetime64[D]").astype(float)
    soon, later = log.free("East", "K", days)
    assert soon == pytest.approx(later)
    soon, later = log.free("East", "CCE", days)
    assert soon == pytest.approx(later * 61 / 365, rel=0.02)


def test_gypsum_for_a_hundred_more_of_calcium():
    """859 lb/acre (96 g/m2) of pure gypsum raise Ca by 100 mg/kg in 2,000,000 lb of soil, by formula.

    2,000,000 lb/acre are 224.17 kg/m2: 17.244 cm at 1.3 g/cm3.
    """
    pure = pd.DataFrame({"material": ["gypsum"], "Ca": [23.28], "moisture": [0.0], "measured": ["yes"]})
    grams = content(known_materials(pure).loc["gypsum"], draws=4000, rng=np.random.default_rng(2))
    calcium = 96.3 * grams[:, BRINGS.index("Ca")].mean()
    assert calcium / (1.3 * 17.244 * PER_LAYER) == pytest.approx(100, rel=0.01)


def test_a_full_dose_of_boron_is_grams():
    """2 lb B/acre are 2.0 g/m2 of borax (11.34 % B by formula): the yearly limit stops there."""
    limits = nutrient_limits().set_index(["what", "per"])
    assert limits.loc[("B", "year"), "limit"] / 0.1134 == pytest.approx(2.0, abs=0.06)


@pytest.mark.parametrize("shows", [0.0, 0.4, 1.0])
def test_how_much_of_dressings_shows_is_learned_from_the_tests(shows):
    """Forty a year are expected for seven years; the level follows the tests, and so does the share."""
    rows = series([200.0 + 40.0 * shows * at for at in range(8)])
    put = 40.0 * np.arange(8.0)[None, :]
    found = standing(rows, noise=noise_model(rows), dressed=lambda *_: (put, np.array([0.3])))
    assert found.share[0] == pytest.approx(shows, abs=0.25)
    assert np.exp(level(found)[0]) == pytest.approx(200 + 280 * shows, rel=0.05)


def test_without_dressings_nothing_is_learned_of_them():
    """The share stays at all that is expected."""
    assert standing(series([100.0, 120.0]), noise=noise_model()).share.tolist() == [1.0]
