"""Trends of beds and of the garden: verdicts, intervals, words and what they keep through."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from soiltrend import frames
from soiltrend.errors import SoiltrendError
from soiltrend.noise import noise_model
from soiltrend.trend import outlook, trend

UNITS = {"pH": "pH", "K": "mg/kg", "K saturation": "%", "OM": "%", "B": "mg/kg"}


def results(values, days=None, beds=("East",), analyte="pH", **more):
    """Return the results of beds; values has a row a bed, or is the one bed's."""
    table = np.atleast_2d(values)
    count = table.shape[1]
    days = days or [f"{2012 + i}-04-{1 + 3 * (i % 5):02d}" for i in range(count)]
    sampled = pd.Series(np.tile(pd.to_datetime(pd.Series(days)), len(table)))
    frame = pd.DataFrame({"bed": np.repeat(list(beds), count), "sampled": sampled, "value": table.ravel()})
    same = {"lab": "Hollin Bench", "top_cm": 0.0, "bottom_cm": 15.0, **more}
    frame = frame.assign(season=frames.season(sampled), analyte=analyte, unit=UNITS[analyte], **same)
    return frames.results(frame)


def row(frame, bed="East", **how):
    """Return the one row of a bed."""
    table = trend(frame, **how).table
    return table[table["bed"] == bed].iloc[0]


WOBBLE = np.array([0.3, -0.4, 0.1, 0.5, -0.2, -0.3, 0.4, 0.0, 0.2, -0.5, 0.1, -0.1])


# --- by length -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("n", "model"),
    [(3, "least squares (rough)"), (4, "least squares (rough)"), (5, "least squares"), (7, "least squares"),
     (8, "median of pairwise slopes"), (12, "median of pairwise slopes")],
)  # fmt: skip
def test_the_line_follows_the_number_of_tests(n, model):
    """Rough at three and four, least squares to seven, ranks from eight."""
    assert row(results(6 + 0.1 * WOBBLE[:n]))["model"] == model


@pytest.mark.parametrize(("n", "said"), [(1, "one test"), (2, "a difference and not a trend")])
def test_one_or_two_tests_are_too_few(n, said):
    """No slope and a reason."""
    found = row(results(6 + WOBBLE[:n]))
    assert found["verdict"] == "too few"
    assert np.isnan(found["slope_per_year"])
    assert said in found["why"]


def test_least_squares_interval_is_that_of_scipy():
    """scipy.stats.linregress with Student's t, on the days themselves."""
    days = ["2018-04-03", "2019-03-20", "2020-05-11", "2021-04-09", "2023-04-30", "2024-04-02"]
    y = np.array([6.03, 6.21, 6.08, 6.33, 6.29, 6.51])
    found = row(results(y, days))
    t = (pd.to_datetime(pd.Series(days)) - pd.Timestamp("2018-04-03")).dt.days / 365.2425
    line = stats.linregress(t, y)
    half = stats.t.ppf(0.975, 4) * line.stderr
    assert found["slope_per_year"] == pytest.approx(line.slope)
    assert [found["low"], found["high"]] == pytest.approx([line.slope - half, line.slope + half])
    assert found["p"] == pytest.approx(line.pvalue)


def test_rank_interval_is_that_of_the_slopes():
    """Ten tests: the 12th slope from either end, 95.34 % (Hollander, Wolfe & Chicken, ch. 9)."""
    y = 6 + 0.02 * np.arange(10) + 0.1 * WOBBLE[:10]
    found = row(results(y))
    days = results(y)["sampled"]
    t = ((days - days.iloc[0]).dt.days / 365.2425).to_numpy()
    slopes = np.sort([(y[j] - y[i]) / (t[j] - t[i]) for i in range(10) for j in range(i + 1, 10)])
    assert found["slope_per_year"] == pytest.approx(np.median(slopes))
    assert [found["low"], found["high"]] == pytest.approx([slopes[11], slopes[-12]])
    assert found["confidence"] == pytest.approx(0.953377, abs=1e-6)
    assert found["p"] == pytest.approx(stats.kendalltau(t, y, method="exact").pvalue)


def test_an_interval_that_does_not_exist_is_unbounded():
    """Ranks of four tests cannot bound a slope."""
    found = row(results([6.0, 6.1, 6.3, 6.2]), model="ranks")
    assert (found["low"], found["high"]) == (-np.inf, np.inf)
    assert found["verdict"] == "unclear"
    assert "no bound" in found["why"]


# --- verdicts ------------------------------------------------------------------------------------------


def test_rising_falling_and_mirrored():
    """A clear rise, and the same upside down."""
    y = 0.15 * np.arange(9) + 0.1 * WOBBLE[:9]
    up, down = row(results(6 + y)), row(results(6 - y))
    assert (up["verdict"], down["verdict"]) == ("rising", "falling")
    assert up["slope_per_year"] == pytest.approx(-down["slope_per_year"])
    assert [up["low"], up["high"]] == pytest.approx([-down["high"], -down["low"]])
    assert up["low"] > 0


def test_steady_lies_inside_what_matters():
    """pH that moves less than 0.2 over the record, by two one-sided tests (Schuirmann 1987)."""
    found = row(results(6.4 + 0.02 * WOBBLE[:10]))
    assert found["verdict"] == "steady"
    assert found["margin"] == pytest.approx(0.2)


def test_not_significant_is_not_steady():
    """Much noise: nothing can be told, and nothing is."""
    assert row(results(6.4 + WOBBLE[:10]))["verdict"] == "unclear"


def test_margins_of_the_garden_are_kept():
    """A grower's own margin makes the same record unclear."""
    frame = results(6.4 + 0.02 * WOBBLE[:10])
    assert row(frame, noise=noise_model(overrides={"pH": {"margin": 0.01}}))["verdict"] == "unclear"


def test_constant_values_are_steady():
    """No change at all, on every scale; three rounded values are not enough to say so."""
    for analyte in UNITS:
        for n, verdict in ((3, None), (6, "steady"), (9, "steady")):
            found = row(results(np.full(n, 5.3), analyte=analyte))
            assert verdict in (None, found["verdict"]), (analyte, n)
            assert found["verdict"] not in ("rising", "falling")
            assert found["p"] == 1
            assert found["slope_per_year"] == 0


def test_concentrations_are_rates():
    """5 % a year: the slope in mg/kg at the middle of the record, and the rate beside it."""
    days = [f"{2010 + i}-04-01" for i in range(9)]
    years = (pd.to_datetime(pd.Series(days)) - pd.Timestamp("2014-04-01")).dt.days / 365.2425
    found = row(results(100 * np.exp(0.05 * years), days, analyte="K"))
    assert found["level"] == pytest.approx(100, rel=1e-3)
    assert found["slope_per_year"] == pytest.approx(5.0, rel=1e-3)
    assert found["percent_per_year"] == pytest.approx(100 * np.expm1(0.05), rel=1e-9)


def test_shares_move_by_points():
    """A share is worked on its odds and told in points a year."""
    share = 100 / (1 + np.exp(-(-2 + 0.1 * np.arange(9))))
    found = row(results(share, [f"{2010 + i}-04-01" for i in range(9)], analyte="K saturation"))
    assert found["slope_per_year"] == pytest.approx((share[5] - share[3]) / 2, rel=0.01)
    assert np.isnan(found["percent_per_year"])


def test_organic_matter_waits_three_years():
    """A trend of organic matter over two years gets a word of patience (Oregon State University EM 9251)."""
    days = ["2022-04-01", "2022-10-01", "2023-04-02", "2023-10-01", "2024-04-01", "2024-10-03"]
    found = row(results([3.0, 3.1, 4.0, 4.1, 5.0, 5.11], days, analyte="OM"))
    assert found["verdict"] == "rising"
    assert "no headline before 3 years" in found["why"]


# --- seasons -------------------------------------------------------------------------------------------

HALVES = [day for year in range(2015, 2021) for day in (f"{year}-04-05", f"{year}-10-03")]


def test_a_swing_between_seasons_is_no_trend_and_hides_none():
    """Half a unit between spring and autumn neither makes nor hides a slope of 0.08 a year."""
    swing = np.tile([0.25, -0.25], 6)
    with_swing = row(results(6 + swing + 0.08 * np.arange(12) / 2 + 0.05 * WOBBLE, HALVES))
    without = row(results(6 + 0.08 * np.arange(12) / 2 + 0.05 * WOBBLE, HALVES))
    assert with_swing["verdict"] == "rising"
    for name in ("slope_per_year", "low", "high", "p"):
        assert with_swing[name] == pytest.approx(without[name], abs=1e-12)
    assert "by season" in with_swing["model"]


def test_seasonal_p_is_that_of_seasonal_kendall():
    """pymannkendall.seasonal_test: the same S; its normal chance lies near the exact one."""
    mk = pytest.importorskip("pymannkendall")
    y = 6 + 0.03 * np.arange(12) + 0.1 * WOBBLE
    theirs = mk.seasonal_test(y, period=2)
    found = row(results(y, HALVES))
    assert found["p"] == pytest.approx(theirs.p, abs=0.02)
    assert found["slope_per_year"] == pytest.approx(theirs.slope, abs=0.002)


def test_a_season_that_switched_midway_is_no_step():
    """Autumn to 2017, spring after, half a unit apart: slopes come from within each season only."""
    days = [f"{2012 + i}-10-01" for i in range(5)] + [f"{2017 + i}-04-01" for i in range(5)]
    y = np.r_[6.0 + 0.05 * WOBBLE[:5], 6.5 + 0.05 * WOBBLE[5:10]]
    assert row(results(y, days))["verdict"] != "rising"


# --- breaks and limits ---------------------------------------------------------------------------------


def test_a_switch_of_laboratory_is_not_joined():
    """All before at one laboratory and all after at another: two short series, said so."""
    frame = results([6.0, 6.1, 6.0, 6.1, 6.6, 6.7, 6.6, 6.7])
    frame["lab"] = pd.Series(["A"] * 4 + ["B"] * 4, dtype="str")
    table = trend(frame).table
    beds = table[table["bed"] == "East"]
    assert beds["n"].tolist() == [4, 4]
    assert not beds["verdict"].isin(["rising"]).any()
    assert (
        beds["why"].str.contains("The record breaks and is not joined: A 2012 to 2015; B 2016 to 2019").all()
    )


def test_a_falling_detection_limit_is_no_trend():
    """Soil that stays at 0.3 while the laboratory learns to see it."""
    values, signs = [1.0, 1.0, 0.5, 0.5, 0.4, 0.31, 0.3, 0.29], ["<"] * 5 + [""] * 3
    found = row(results(values, analyte="B", qualifier=signs))
    assert found["verdict"] == "unclear"
    assert found["n_censored"] == 5
    assert found["p"] == 1
    assert "limit" in found["why"]


def test_a_rise_out_of_the_limit_is_seen():
    """Below 0.3 for four years, then up to 2: whatever lay beneath, it rose."""
    values, signs = [0.3, 0.3, 0.3, 0.3, 0.5, 0.8, 1.2, 1.5, 2.0], ["<"] * 4 + [""] * 5
    found = row(results(values, analyte="B", qualifier=signs))
    assert found["verdict"] == "rising"
    assert found["low"] > 0


def test_short_series_with_limits_are_ranked():
    """Least squares has no value for a limit."""
    found = row(results([0.3, 0.4, 0.5, 0.6, 0.7, 0.8], analyte="B", qualifier=["<", "", "", "", "", ""]))
    assert found["model"] == "median of pairwise slopes"
    assert found["p"] == pytest.approx(2 / 720)


def test_a_share_never_stands_alone():
    """The share of K falls because Ca rose: the amount of K is named beside it."""
    ca, k = 8 * np.exp(0.1 * np.arange(9)), np.full(9, 0.5) * np.exp(0.02 * WOBBLE[:9])
    share = results(100 * k / (k + ca + 2), analyte="K saturation")
    alone = row(share)
    assert alone["verdict"] == "falling"
    assert "No amounts stand beside this share" in alone["why"]
    table = trend(pd.concat([share, results(391 * k, analyte="K")], ignore_index=True)).table
    beside = table[(table["bed"] == "East") & (table["analyte"] == "K saturation")].iloc[0]
    assert "Look at the amount: K itself is steady" in beside["why"]


# --- garden --------------------------------------------------------------------------------------------


def garden(seed, *, beds=12, occasions=10, day_sd=0.5, slope=0.0):
    """Return a garden whose beds share what happens on a day; half-yearly, residual sd 1."""
    rng = np.random.default_rng(seed)
    days = [day for year in range(2015, 2015 + occasions // 2) for day in (f"{year}-04-05", f"{year}-10-03")]
    t = np.arange(occasions) / 2
    y = 40 + slope * t + rng.normal(size=(beds, occasions)) + day_sd * rng.normal(size=occasions)
    return results(y, days, beds=[f"bed {i}" for i in range(beds)], analyte="pH", method="invented")


def test_the_garden_is_judged_by_its_days():
    """Occasion means by least squares with a season, ten occasions: scipy's t on seven degrees of freedom."""
    frame = garden(1)
    found = row(frame, bed="(garden)")
    y = frame["value"].to_numpy().reshape(12, 10).mean(axis=0)
    days = frame["sampled"].iloc[:10]
    t = (days - days.iloc[0]).dt.days.to_numpy() / 365.2425
    design = np.column_stack([t, np.arange(10) % 2 == 0, np.arange(10) % 2 == 1]).astype(float)
    beta, rss = np.linalg.lstsq(design, y, rcond=None)[:2]
    se = np.sqrt(rss[0] / 7 * np.linalg.inv(design.T @ design)[0, 0])
    assert found["slope_per_year"] == pytest.approx(beta[0])
    assert found["p"] == pytest.approx(2 * stats.t.sf(abs(beta[0]) / se, 7))
    assert found["n"] == 10
    assert found["beds"] == 12


def test_beds_that_share_days_do_not_cry_wolf():
    """Days that move all beds by half their noise: 5 % false alarms; each bed as a witness gives 27 %."""
    frames_ = [garden(seed).assign(method=f"garden {seed}") for seed in range(200)]
    table = trend(pd.concat(frames_, ignore_index=True)).table
    rows = table[table["bed"] == "(garden)"]
    false = rows["verdict"].isin(["rising", "falling"]).mean()
    by_dates = (rows["p_dates"] <= 0.05).mean()
    stricter = (rows["p_beds_like_mine"] <= 0.05).mean()
    assert false <= 0.09
    assert by_dates <= 0.09
    assert stricter <= false
    naive = []
    for frame in frames_[:60]:
        y = frame["value"].to_numpy().reshape(12, 10)
        y = y - y.mean(axis=1, keepdims=True)
        t = np.tile(np.arange(10) / 2, 12)
        naive.append(stats.linregress(t, y.ravel()).pvalue <= 0.05)
    assert np.mean(naive) > 0.15


def test_a_garden_trend_is_found():
    """A slope of 0.6 residual sd a year in twelve beds over five years."""
    found = row(garden(3, slope=0.6, day_sd=0.1), bed="(garden)")
    assert found["verdict"] == "rising"
    assert found["low"] < 0.6 < found["high"]


def test_own_slopes_are_drawn_toward_the_garden():
    """Beds that differ by noise alone are told to, and stand nearer each other than they look."""
    table = trend(garden(5)).table
    beds = table[table["bed"] != "(garden)"]
    assert beds["shrunk_slope"].std() < beds["line_slope"].std()
    few = trend(garden(5, beds=3)).table
    assert few["shrunk_slope"].isna().all()


def test_one_bed_is_no_garden():
    """The garden's row says so."""
    found = row(results(6 + 0.1 * WOBBLE[:8]), bed="(garden)")
    assert found["verdict"] == "too few"
    assert "only one bed" in found["why"]


def test_missing_beds_do_not_bend_the_garden():
    """A low bed that is first tested late does not pull the garden down."""
    y = np.tile(6 + 0.02 * WOBBLE[:8], (3, 1))
    y[2] -= 1.0
    frame = results(y, beds=("a", "b", "c"))
    late = frame[~((frame["bed"] == "c") & (frame["sampled"] < "2016-01-01"))]
    assert row(late, bed="(garden)")["verdict"] == "steady"


def test_a_garden_of_limits_goes_by_ranks():
    """Most beds below their limits: only the direction is told, from dates shuffled."""
    y = np.tile([0.2, 0.2, 0.2, 0.3, 0.4, 0.6, 0.8, 1.0], (3, 1)) * np.array([[1.0], [1.1], [0.9]])
    frame = results(y, beds=("a", "b", "c"), analyte="B")
    frame.loc[frame["value"] < 0.25, "qualifier"] = "<"
    found = row(frame, bed="(garden)")
    assert found["verdict"] == "rising"
    assert (found["low"], found["high"]) == (0.0, np.inf)


# --- calibration -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("shape", ["normal", "heavy"])
@pytest.mark.parametrize(("n", "swing"), [(6, 0.0), (6, 1.0), (9, 0.0), (12, 1.0), (20, 1.0)])
def test_intervals_hold_the_truth_as_often_as_said(n, swing, shape):
    """1,500 beds on irregular days, errors normal or t on 3 df, with and without a swing of one sd."""
    rng = np.random.default_rng(100 + n)
    steps = np.arange(n) * (1 if swing else 2)
    start = np.where(steps % 2 == 0, 105, 285) + 365.25 * (steps // 2)
    days = np.datetime64("2000-01-01") + (start + rng.integers(-14, 15, (1500, n))).astype(int)
    t = (days - np.datetime64("2005-01-01")).astype(float) / 365.2425
    error = rng.normal(size=(1500, n)) if shape == "normal" else rng.standard_t(3, (1500, n)) / np.sqrt(3)
    frame = results(50 + 0.1 * t + swing * (steps % 2) + error, beds=[f"bed {i}" for i in range(1500)])
    frame["sampled"] = days.ravel().astype("datetime64[s]")
    table = trend(frame.assign(season=frames.season(frame["sampled"]))).table
    beds = table[table["bed"] != "(garden)"]
    covered = ((beds["low"] <= 0.1) & (beds["high"] >= 0.1)).mean()
    assert 0.93 <= covered <= 0.98
    assert ((beds["low"] > 0.1) | (beds["high"] < 0.1)).mean() <= 0.07


# --- ahead ---------------------------------------------------------------------------------------------


def test_the_next_test_is_where_a_line_goes():
    """statsmodels OLS, prediction of one new test a year later: the same interval."""
    import statsmodels.api as sm

    frame = results(6 + 0.05 * np.arange(9) + 0.1 * WOBBLE[:9])
    t = ((frame["sampled"] - frame["sampled"].iloc[0]).dt.days / 365.2425).to_numpy()
    fitted = sm.OLS(frame["value"].to_numpy(), sm.add_constant(t)).fit()
    theirs = fitted.get_prediction(np.array([[1.0, t[-1] + 1]])).conf_int(obs=True, alpha=0.05)[0]
    found = row(frame)
    assert [found["next_low"], found["next_high"]] == pytest.approx(theirs.tolist())


def test_the_next_test_keeps_to_its_season():
    """After an autumn comes the next autumn, half a unit below the springs."""
    swing = np.tile([0.25, -0.25], 6)
    found = row(results(6 + swing + 0.02 * WOBBLE, HALVES))
    assert 5.6 < found["next_low"] < found["next_high"] < 5.9


def test_the_next_test_lies_inside_as_often_as_said():
    """A tenth test of 600 simulated beds lies in the band of the nine before it 95 times in 100."""
    rng = np.random.default_rng(4)
    y = 40 + 0.1 * np.arange(10) + rng.normal(size=(600, 10))
    names = [f"bed {i}" for i in range(600)]
    table = trend(results(y[:, :9], beds=names)).table.set_index("bed").loc[names]
    inside = (table["next_low"] <= y[:, 9]) & (y[:, 9] <= table["next_high"])
    assert inside.mean() == pytest.approx(0.95, abs=0.03)


def test_years_to_an_aim():
    """A line of 0.1 a year that ends at 5.8 meets 6.2 in four years, and never by its slowest slope."""
    found = trend(results(5 + 0.1 * np.arange(9) + 0.02 * WOBBLE[:9]))
    ahead = outlook(found, aims={"pH": 6.2}).table.iloc[0]
    assert ahead["years"] == pytest.approx(4, abs=0.3)
    assert ahead["years_low"] < ahead["years"] < ahead["years_high"]
    slow = trend(results(5 + 0.1 * np.arange(9) + 0.5 * WOBBLE[:9]))
    assert "No years" in outlook(slow, aims={"pH": 5.0}).table["why"].iloc[0]
    far = outlook(found, aims={"pH": 8.0}).table.iloc[0]
    assert np.isnan(far["years"])
    assert "record can say" in far["why"]


@pytest.mark.parametrize(
    ("aims", "said"), [({"luck": 30.0}, "'luck', which has no trend"), ({"pH": "high"}, "'high' of 'pH'")]
)
def test_aims_that_are_none(aims, said):
    """The message quotes the aim."""
    with pytest.raises(SoiltrendError, match=said):
        outlook(trend(results(6 + 0.1 * WOBBLE[:6])), aims=aims)


def test_an_aim_of_one_method_does_not_hold_for_another():
    """pH in CaCl2 reads 0.5 to 1 below that in water (Kissel et al. 2009, CSSPA): each has its own aim."""
    y = 5 + 0.1 * np.arange(9) + 0.02 * WOBBLE[:9]
    both = pd.concat([results(y).assign(method="water 1:1"), results(y - 0.6).assign(method="CaCl2")])
    found = trend(both.reset_index(drop=True))
    by_water = outlook(found, aims={("pH", "water 1:1"): 6.2}).table.set_index("method")
    assert by_water.at["water 1:1", "years"] == pytest.approx(4, abs=0.3)
    assert np.isnan(by_water.at["CaCl2", "years"])
    assert by_water.at["CaCl2", "why"].endswith("; say for which it is: CaCl2 or water 1:1")
    untold = outlook(found, aims={"pH": 6.2}).table
    assert untold["years"].isna().all()
    assert untold["why"].str.contains("say for which it is").all()
    each = outlook(found, aims={("pH", "water 1:1"): 6.2, ("pH", "CaCl2"): 5.6}).table
    assert each["years"].to_numpy() == pytest.approx([4, 4], abs=0.3)


def test_an_aim_for_what_was_not_measured_has_no_rows():
    """A known measure without a test is no mistake of the reader's."""
    assert outlook(trend(results(6 + 0.1 * WOBBLE[:6])), aims={"P": 30.0}).table.empty


# --- many at once --------------------------------------------------------------------------------------


def test_q_is_benjamini_and_hochberg():
    """statsmodels multipletests over the bed rows, and apart from them over the garden rows."""
    from statsmodels.stats.multitest import multipletests

    table = trend(garden(7)).table
    beds = table[table["bed"] != "(garden)"]
    assert beds["q"].tolist() == pytest.approx(multipletests(beds["p"], method="fdr_bh")[1].tolist())


def test_what_chance_brings_is_said():
    """A lone trend among many that would not stand the adjustment says so."""
    table = trend(pd.concat([garden(seed).assign(method=f"m {seed}") for seed in range(10)])).table
    shown = table[table["verdict"].isin(["rising", "falling"]) & (table["bed"] != "(garden)")]
    weak = shown[shown["q"] > 0.05]
    assert len(weak) > 0
    assert weak["why"].str.contains("come up by chance").all()


def test_one_and_many_agree():
    """The row of a bed by itself is its row among others."""
    frame = garden(9)
    table = trend(frame).table
    alone = row(frame[frame["bed"] == "bed 4"], bed="bed 4")
    among = table[table["bed"] == "bed 4"].iloc[0]
    for name in ("slope_per_year", "low", "high", "p", "n", "model", "level"):
        assert alone[name] == among[name]


@pytest.mark.parametrize("analyte", ["pH", "K", "K saturation"])
def test_rows_units_and_origin_do_not_matter(analyte):
    """Shuffled rows give the same table; ten years later the same slopes; a tenth of the unit a tenth."""
    frame = results(np.exp(0.1 * WOBBLE[:9]) * 6, analyte=analyte)
    plain = row(frame)
    shuffled = row(frame.sample(frac=1, random_state=2))
    assert shuffled["p"] == plain["p"]
    assert shuffled["slope_per_year"] == plain["slope_per_year"]
    moved = frame.assign(sampled=frame["sampled"] + pd.Timedelta(days=3653), season="")
    later = row(moved)
    assert later["slope_per_year"] == pytest.approx(plain["slope_per_year"], rel=1e-12)
    if analyte == "K":
        tenth = row(frame.assign(value=frame["value"] / 10))
        assert tenth["percent_per_year"] == pytest.approx(plain["percent_per_year"])
        assert tenth["slope_per_year"] == pytest.approx(plain["slope_per_year"] / 10)


def test_columns_called_c_or_inf_do_no_harm():
    """Beds and analytes may have names that a formula language would stumble on."""
    frame = results(6 + 0.1 * WOBBLE[:8], beds=("C",))
    frame["analyte"] = pd.Series(["inf"] * 8, dtype="str")
    assert row(frame, bed="C")["n"] == 8


@pytest.mark.parametrize("model", ["least squares", "ranks", "robust"])
def test_lines_by_name(model):
    """All lines find a plain slope; the robust one is not bent by one wild value."""
    y = 6 + 0.1 * np.arange(9) + 0.02 * WOBBLE[:9]
    y[7] += 3
    found = row(results(y), model=model)
    if model == "least squares":
        assert abs(found["slope_per_year"] - 0.1) > 0.05
    else:
        assert found["slope_per_year"] == pytest.approx(0.1, abs=0.02)


@pytest.mark.parametrize(
    ("how", "said"),
    [({"confidence": 95}, "confidence = 95"), ({"model": "magic"}, "model 'magic' is not known")],
)
def test_what_is_asked_must_have_a_meaning(how, said):
    """The message quotes it."""
    with pytest.raises(SoiltrendError, match=said):
        trend(results(6 + WOBBLE[:4]), **how)


def test_an_empty_frame_has_no_trends():
    """No rows in, no rows out, columns in place."""
    found = trend(frames.results())
    assert len(found.table) == 0
    first = "bed analyte method unit n n_censored first last slope_per_year low high p q verdict model why"
    assert list(found.table.columns[:16]) == first.split()
    assert "0 beds" in repr(found)


def test_every_series_leaves_with_a_row():
    """Nothing is lost: as many bed rows as series."""
    frame = pd.concat([results(6 + WOBBLE[:n], beds=(f"bed {n}",)) for n in range(1, 9)], ignore_index=True)
    table = trend(frame).table
    assert set(table["bed"]) == {f"bed {n}" for n in range(1, 9)} | {"(garden)"}
    assert (table["why"] != "").all()


def test_it_shows_itself():
    """Plain and as a page, with the counts of verdicts in the title."""
    found = trend(results(6 + 0.15 * np.arange(9) + 0.02 * WOBBLE[:9]))
    assert repr(found).startswith("Trends: 1 bed, 1 analyte (1 rising), 95% intervals")
    assert "<caption" in found._repr_html_()


def undated(*order):
    """Return spring and autumn tests of four years, the third year's without days, in an order."""
    tests = [
        ("spring", 2020, "04", 100.0), ("autumn", 2020, "10", 160.0), ("spring", 2021, "04", 104.0),
        ("autumn", 2021, "10", 171.0), ("spring", 2022, "", 105.0), ("autumn", 2022, "", 178.0),
        ("spring", 2023, "04", 110.0), ("autumn", 2023, "10", 181.0),
    ]  # fmt: skip
    return frames.results([
        {"bed": "East", "season": f"{name} {year}", "sampled": f"{year}-{month}-15" if month else None,
         "analyte": "K", "method": "Olsen", "value": value, "unit": "mg/kg", "sample": f"{name} {year}"}
        for name, year, month, value in (tests[at] for at in order)])  # fmt: skip


def test_tests_without_a_day_stand_in_their_seasons():
    """Spring and autumn of one year are two tests, in whatever order they come."""
    found = [trend(undated(*order)).table.iloc[0] for order in (range(8), (0, 1, 2, 3, 5, 4, 6, 7))]
    assert [row["n"] for row in found] == [8, 8]
    assert found[0]["slope_per_year"] == found[1]["slope_per_year"]
    whole = trend(frames.in_time(undated(*range(8)))).table.iloc[0]
    assert found[0]["slope_per_year"] == pytest.approx(whole["slope_per_year"])
    assert "2 of the tests bear no day and stand in the middle of their season" in found[0]["why"]
