"""Which line is drawn, what rounding alone moves, and what beds share over two seasons."""

import math

import numpy as np
import pytest
from scipy import stats
from test_slopes import fit, points

from soiltrend.slopes import batch, lines, ranks, robust, shared

RISE = [6.0, 6.3, 6.2, 6.6, 6.5, 6.9, 7.2, 7.0]


@pytest.mark.parametrize(
    ("n", "model", "kind"),
    [
        (2, lines.AUTO, lines.NOTHING),
        (3, lines.AUTO, lines.LINE),
        (7, lines.AUTO, lines.LINE),
        (8, lines.AUTO, lines.MEDIAN),
        (8, lines.LEAST_SQUARES, lines.LINE),
        (3, lines.RANKS, lines.MEDIAN),
    ],
)
def test_which_line(n, model, kind):
    """Least squares to seven tests, ranks from eight; either when asked for (as the documentation says)."""
    line = lines.choose(fit([RISE[:n]]), model=model)
    assert line.kind.tolist() == [kind]
    assert np.isnan(line.slope[0]) == (kind == lines.NOTHING)


def test_from_when_ranks_can_tell():
    """Of n! orders two are extreme: 2/120 reaches 5 % and 2/24 does not."""
    least = [2 / math.factorial(n) for n in (lines.SUGGESTIVE, lines.SUGGESTIVE - 1)]
    assert least[0] <= 0.05 < least[1]


def test_limits_are_left_to_ranks():
    """Three tests, one below a limit: no least squares."""
    assert lines.choose(fit([[(0.0, 1.0), 2.0, 3.0]])).kind.tolist() == [lines.MEDIAN]


def test_three_tests_of_two_seasons_have_no_line():
    """A slope and two levels leave nothing to judge by."""
    found = fit([[6.0, 6.2, 6.1]], times=[[0.0, 1.0, 0.5]], seasons=[[0, 0, 1]])
    assert lines.choose(found).kind.tolist() == [lines.NOTHING]


def test_a_line_without_scatter_and_a_level_one():
    """Values on a line have an interval of no width; a level record has slope 0 and a chance of 1."""
    line = lines.choose(fit([0.1 * np.arange(5.0), np.full(5, 6.3), np.full(9, 0.1) + 0.2]))
    assert line.low[0] == line.slope[0] == line.high[0] == pytest.approx(0.1)
    assert line.p.tolist() == [0.0, 1.0, 1.0]
    assert line.slope[1:].tolist() == [0.0, 0.0]


def test_the_narrower_interval_is_of_two_one_sided_tests():
    """scipy's linregress: t of 95 % on one side, 3 df; the centre is the mean where time is even."""
    y = RISE[:5]
    line, theirs = lines.choose(fit([y])), stats.linregress(np.arange(5.0), y)
    tight = stats.t.ppf(0.95, 3) * theirs.stderr
    ends = [theirs.slope - tight, theirs.slope + tight]
    assert [line.tight_low[0], line.tight_high[0]] == pytest.approx(ends)
    assert line.centre[0] == pytest.approx(np.mean(y))


def test_rounding_goes_by_the_finest_figure_and_the_scale():
    """By hand: whole numbers near 120 as logarithms 1/120 and 1/125 a step; 6.25 makes a step of 0.01."""
    values = [[120.0, 125.0], [6.5, 6.25], [1 / 3, 2 / 3], [0.00001, 2.0]]
    part = points(values)
    steep = np.array([120.0, 125.0, *[1.0] * 6])
    found = lines.rounding(part, part.low, steep, count=4) * math.sqrt(12)
    assert found == pytest.approx([(1 / 120 + 1 / 125) / 2, 0.01, 0.0, 1e-5])


def test_robust_lines_with_seasons_are_those_of_statsmodels():
    """statsmodels RLM (Huber) on time and a column for each season: slope, error, and the weighted centre."""
    import statsmodels.api as sm

    rng = np.random.default_rng(7)
    t = np.arange(16) / 2
    season = np.arange(16) % 2
    y = 0.3 * t + 1.5 * season + rng.normal(size=16)
    y[5] += 7
    limited = [(0.0, 1.0), 2.0, 3.0, 5.0]
    part = points([y, limited, RISE[:2]], times=[t, np.arange(4.0), [0.0, 1.0]],
                  seasons=[season, np.zeros(4, int), [0, 0]])  # fmt: skip
    plain = batch.fit(part, count=3)
    found = robust.robustly(part, plain)
    design = np.column_stack([t, season == 0, season == 1]).astype(float)
    theirs = sm.RLM(y, design, M=sm.robust.norms.HuberT()).fit(tol=1e-13, maxiter=500)
    assert found.slope[0] == pytest.approx(theirs.params[0], abs=1e-7)
    assert found.se[0] == pytest.approx(theirs.bse[0], rel=1e-6)
    level = theirs.weights @ (y - theirs.params[0] * (t - 3.75)) / theirs.weights.sum()
    assert found.centre[0] == pytest.approx(level, abs=1e-6)
    for name in ("slope", "se", "centre"):
        assert np.array_equal(getattr(found, name)[1:], getattr(plain, name)[1:], equal_nan=True)


def test_a_line_without_scatter_is_robustly_sure():
    """Every second whole number lies on a line of slope 2: nothing is far off, and the error is 0."""
    part = points([2.0 * np.arange(6)])
    found = robust.robustly(part, batch.fit(part, count=1))
    assert (found.slope[0], found.se[0]) == (2.0, 0.0)


def test_above_the_lowest_upper_limit_all_is_one_tie():
    """By hand: 4, above 3 and above 5 may be in any order; only 1 lies surely below, in three pairs."""
    found = fit([[1.0, 4.0, (3.0, np.inf), (5.0, np.inf)]])
    assert found.s[0] == 3
    assert found.chance[0] == pytest.approx(0.5)


def test_below_a_limit_is_below_all_that_was_measured_above_it():
    """By hand: less than 1, then 2, 3 and 4: all six pairs rise, and one other order in 24 is as extreme."""
    found = fit([[(0.0, 1.0), 2.0, 3.0, 4.0]])
    assert found.s[0] == 6
    assert found.chance[0] == pytest.approx(2 / 24)


def test_the_rank_of_long_records_is_that_of_the_normal_curve():
    """Hollander, Wolfe & Chicken, ch. 9, for 50: (1225 - 1.96 sqrt(50 49 105 / 18)) / 2 is 495.3."""
    assert ranks.order((50,), 0.95) == (495, 0.95)


def test_series_of_every_pattern_beside_each_other():
    """One test, two seasons of five and one, of one and two, and three of one: as each by itself."""
    values = [[6.0], [6.0, 6.2, 6.1, 6.4, 6.3, 5.0], [5.5, 6.0, 6.3], [1.0, 2.0, 4.0], [5.0, 7.0, 8.0]]
    seasons = [[0], [0] * 5 + [1], [0, 1, 1], [0, 0, 0], [0, 1, 1]]
    together = fit(values, seasons=seasons)
    for i, (series, season) in enumerate(zip(values, seasons, strict=True)):
        alone = fit([series], seasons=[season])
        for name in ("n", "s", "chance", "middle_slope", "slope", "df"):
            assert getattr(alone, name)[0] == pytest.approx(getattr(together, name)[i], nan_ok=True)
    assert together.n.tolist() == [1, 6, 3, 3, 3]
    assert together.slope[3] == pytest.approx(1.5)


def test_no_tests_at_all():
    """Two series without a test have none, and no slope."""
    none = np.zeros(0)
    found = batch.fit(batch.Points(none.astype(int), none.astype(int), none, none, none), count=2)
    assert found.n.tolist() == [0, 0]
    assert np.isnan(found.slope).all()


# --- shared by beds ------------------------------------------------------------------------------------


def beds(seed, count=7, occasions=9):
    """Return beds of their own level and slope, sampled on uneven days of two seasons."""
    rng = np.random.default_rng(seed)
    t = np.sort(rng.uniform(0, 6, occasions))
    season = np.arange(occasions) % 2
    own = 0.2 + rng.normal(scale=0.3, size=count)
    day = rng.normal(scale=0.2, size=occasions)
    return rng.normal(size=(count, 1)) + own[:, None] * t + day + rng.normal(
        scale=0.1, size=(count, occasions)
    ), t, season  # fmt: skip


def test_a_shared_trend_of_two_seasons_is_that_of_statsmodels():
    """statsmodels OLS on the occasions' means: slope, error, df, chance; their line at the middle."""
    import statsmodels.api as sm

    y, t, season = beds(1)
    found = shared.share(y, t, season)
    theirs = sm.OLS(y.mean(axis=0), np.column_stack([t, season == 0, season == 1]).astype(float)).fit()
    assert (found.slope, found.se) == (pytest.approx(theirs.params[0]), pytest.approx(theirs.bse[0]))
    assert (found.df, found.p) == (theirs.df_resid, pytest.approx(theirs.pvalues[0]))
    middle = (t[0] + t[-1]) / 2
    assert found.centre == pytest.approx((y.mean(axis=0) - theirs.params[0] * (t - middle)).mean())


def test_the_beds_own_slopes_and_their_mean():
    """numpy per bed with a level for each season; scipy's t test of their mean against nothing."""
    y, t, season = beds(2, count=5)
    found = shared.share(y, t, season)
    design = np.column_stack([t, season == 0, season == 1]).astype(float)
    theirs = np.array([np.linalg.lstsq(design, row, rcond=None)[0][0] for row in y])
    assert found.own == pytest.approx(theirs)
    assert found.se_beds == pytest.approx(stats.sem(theirs))
    assert found.p_beds == pytest.approx(stats.ttest_1samp(theirs, 0).pvalue)
    assert np.isnan(found.spread)
    assert np.isnan(found.shrunk).all()


def test_slopes_are_drawn_in_by_what_beds_and_days_leave():
    """Error by numpy on a design of beds, their slopes and days; then the moments of the slopes by hand."""
    y, t, _ = beds(3, count=6)
    found = shared.share(y, t, np.zeros(9, int))
    bed, day = (part.ravel() for part in np.indices(y.shape))
    design = np.column_stack(
        [(bed == b) * more for b in range(6) for more in (1, t[day])] + [day == d for d in range(9)]
    ).astype(float)
    fitted = design @ np.linalg.lstsq(design, y.ravel(), rcond=None)[0]
    error = ((y.ravel() - fitted) ** 2).sum() / (y.size - np.linalg.matrix_rank(design))
    noise = error / ((t - t.mean()) ** 2).sum()
    spread = found.own.var(ddof=1) - noise
    assert found.spread == pytest.approx(math.sqrt(spread))
    weight = spread / (spread + noise)
    assert found.shrunk == pytest.approx(weight * found.own + (1 - weight) * found.own.mean())


def test_drawn_slopes_lie_about_the_shared_one():
    """Where gaps part the mean of the beds' slopes from the shared one, the drawn ones follow the latter."""
    y, t, _ = beds(5, count=7)
    y[0, :4] = np.nan
    y[1, 2:] = np.nan
    found = shared.share(y, t, np.zeros(9, int))
    assert np.isnan([found.own[1], found.shrunk[1]]).all()
    assert np.isfinite(np.delete(found.own, 1)).all()
    assert abs(np.nanmean(found.own) - found.slope) > 0.01
    weight = np.polyfit(np.delete(found.own, [0, 1]), np.delete(found.shrunk, [0, 1]), 1)
    assert weight[0] * np.nanmean(found.own) + weight[1] == pytest.approx(found.slope)


def test_slopes_that_differ_by_less_than_their_errors_are_one():
    """By hand: variance 0.01 of the slopes, 0.25 of their errors: no spread, all at the mean."""
    drawn, spread = shared.shrink(np.array([0.9, 1.0, 1.1]), np.full(3, 0.25))
    assert spread == 0
    assert drawn == pytest.approx([1.0, 1.0, 1.0])
    assert shared.shrink(np.full(3, 2.0), np.zeros(3))[0].tolist() == [2.0, 2.0, 2.0]


def test_too_few_occasions_share_nothing():
    """Three occasions of two seasons leave no degree of freedom; four do."""
    y, t, season = beds(5, occasions=4)
    assert shared.share(y[:, :3], t[:3], season[:3]) is None
    assert shared.share(y, t, season).df == 1


def test_steady_beds_have_no_chance_of_a_trend():
    """Nothing moved: a chance of 1. All moved alike and exactly: 0. One bed: its spread is not known."""
    level = np.tile([[6.0], [6.5]], 4)
    line = np.array([[0.0], [1.0]]) + np.array([0.0, 0.5, 1.0, 1.5])
    t, season = np.arange(4.0), np.zeros(4, int)
    assert (shared.share(level, t, season).p, shared.share(level, t, season).slope) == (1.0, 0.0)
    assert shared.share(line, t, season).p == 0.0
    one = shared.share(line[:1], t, season)
    assert np.isnan([one.se_beds, one.p_beds]).all()
    assert shared.half_width(2.0, 5, 0.9) == pytest.approx(2 * stats.t.ppf(0.95, 5))


def test_only_certain_rises_count():
    """By hand: below 2 then 1.5 is no rise, 3 is; of six orders of three dates two count as far from 0."""
    low, high = np.array([[0.0, 1.5, 3.0]]), np.array([[2.0, 1.5, 3.0]])
    assert shared.date_chance(low, high, np.zeros(3, int)) == (2, pytest.approx(4 / 6))


def test_seven_dates_are_all_tried_and_eight_are_drawn():
    """Seven rising dates: 2 of 5,040 orders; eight: 1 of 2,000 at least, of 2 in 40,320."""
    seven, eight = (np.arange(float(n))[None] for n in (7, 8))
    assert shared.date_chance(seven, seven, np.zeros(7, int)) == (21, pytest.approx(2 / 5040))
    assert shared.date_chance(eight, eight, np.zeros(8, int)) == (28, pytest.approx(1 / 2000))
    assert shared.date_chance(-eight, -eight, np.zeros(8, int)) == (-28, pytest.approx(1 / 2000))
