"""A bridge's error in a line: refits by numpy, Satterthwaite's degrees of freedom, intervals by hand."""

import math

import numpy as np
import pytest
from scipy import stats
from test_slopes import points

from soiltrend.slopes import batch, joined, lines

TIMES = [[0.0, 0.5, 1.0, 1.5, 2.0, 2.6, 3.1], [0.0, 0.2, 0.5, 0.8], [0.0, 0.5]]
SEASONS = [[0, 1, 0, 1, 0, 1, 0], [0, 0, 0, 0], [0, 1]]
STEPS = [0.3, 0.3, 0.3, 0.2, 0.0, 0.0, 0.1, 0.5, 0.5, 0.0, 0.0, 0.4, 0.3]
VALUES = [[6.1, 6.0, 6.4, 6.2, 6.5, 6.6, 6.7], [5.0, 5.3, 5.2, 5.6], [6.0, 6.1]]


def ordered(values):
    """Return values laid end to end by series, season and time, as points are."""
    keys = [(n, s, t) for n in range(3) for s, t in zip(SEASONS[n], TIMES[n], strict=True)]
    order = sorted(range(len(keys)), key=lambda i: keys[i])
    return np.array(values, dtype=float)[order]


def refit(moved):
    """Return each series' slope by numpy, with a column for each season."""
    out, at = [], 0
    for t, season in zip(TIMES, SEASONS, strict=True):
        y = moved[at : at + len(t)]
        at += len(t)
        design = np.column_stack([t, *((np.array(season) == code) for code in set(season))]).astype(float)
        out.append(np.linalg.lstsq(design, y, rcond=None)[0][0])
    return np.array(out)


def test_what_a_step_does_to_slopes_is_what_a_refit_says():
    """numpy.linalg.lstsq before and after the step, two seasons in one series and one in the other."""
    part = points(VALUES, times=TIMES, seasons=SEASONS)
    plain = np.concatenate([np.array(series) for series in VALUES])
    theirs = refit(plain + np.array(STEPS)) - refit(plain)
    ours = joined.influence(part, ordered(STEPS), count=3)
    assert ours[:2] == pytest.approx(theirs[:2], abs=1e-12)
    assert ours[2] == 0


def test_bridges_err_independently():
    """The roots of the sums of squares of what each of them does; none adds nothing."""
    part = points(VALUES, times=TIMES, seasons=SEASONS)
    one, other = ordered(STEPS), ordered([0.2] * 3 + [0.0] * 10)
    both = joined.error(part, [one, other], count=3)
    each = [joined.influence(part, step, count=3) for step in (one, other)]
    assert both == pytest.approx([math.hypot(a, b) for a, b in zip(*each, strict=True)])
    assert joined.error(part, [], count=3).tolist() == [0.0, 0.0, 0.0]


def test_degrees_of_freedom_of_a_sum():
    """Satterthwaite 1946 by hand: (2^2 + 1^2)^2 / (2^4 / 3) = 25 x 3 / 16; without scatter none is unsure."""
    assert joined.added(2.0, 3.0, 1.0) == (pytest.approx(math.sqrt(5)), pytest.approx(75 / 16))
    assert joined.added(0.0, 3.0, 0.5) == (0.5, math.inf)


def lined(values, more, model=lines.AUTO, **how):
    """Return the lines before and after a bridge's error is added."""
    found = batch.fit(points(values, **how), count=len(values))
    line = lines.choose(found, model=model)
    return found, line, joined.widened(line, found, np.array(more), confidence=0.95)


def test_a_least_squares_line_widens_by_satterthwaite():
    """scipy: the line's own error and 0.05 a year together, two-sided at 95 %, one-sided twice at 95 %."""
    y = [6.1, 6.0, 6.4, 6.3, 6.6]
    found, _, wide = lined([y], [0.05])
    theirs = stats.linregress(np.arange(5.0), y)
    se = math.hypot(theirs.stderr, 0.05)
    df = 3 * se**4 / theirs.stderr**4
    half, tight = stats.t.ppf(0.975, df) * se, stats.t.ppf(0.95, df) * se
    assert found.df[0] == 3
    assert [wide.low[0], wide.high[0]] == pytest.approx([theirs.slope - half, theirs.slope + half])
    assert [wide.tight_low[0], wide.tight_high[0]] == pytest.approx(
        [theirs.slope - tight, theirs.slope + tight]
    )
    assert wide.p[0] == pytest.approx(2 * stats.t.sf(theirs.slope / se, df))


def test_a_median_widens_each_end_by_itself():
    """Half-widths of either side and z times the error, as legs of a right angle; p by its normal error."""
    y = [1.0, 1.3, 1.2, 1.9, 1.7, 2.6, 2.4, 2.5]
    _, line, wide = lined([y], [0.08])
    slope = line.slope[0]
    for name, z in (("", 1.959964), ("tight_", 1.644854)):
        low, high = (getattr(line, f"{name}{end}")[0] for end in ("low", "high"))
        assert getattr(wide, f"{name}low")[0] == pytest.approx(slope - math.hypot(slope - low, z * 0.08))
        assert getattr(wide, f"{name}high")[0] == pytest.approx(slope + math.hypot(high - slope, z * 0.08))
    own = slope / stats.norm.isf(line.p[0] / 2)
    assert wide.p[0] == pytest.approx(2 * stats.norm.sf(slope / math.hypot(own, 0.08)))


def test_what_cannot_be_sure_is_not_made_so():
    """No interval of four ranks exists; a level record keeps its chance of 1; too few tests have no line."""
    series = [[(0.0, 1.0), 2.0, 3.0, 4.0], [6.1] * 8, [6.0, 6.1]]
    _, line, wide = lined(series, [0.1, 0.1, 0.1])
    assert (wide.low[0], wide.high[0]) == (-np.inf, np.inf)
    assert wide.p[0] > line.p[0]
    assert wide.p[1] == line.p[1] == 1.0
    assert np.isnan([wide.low[2], wide.high[2], wide.p[2]]).all()


def test_falling_as_rising():
    """A record upside down has the interval upside down and the same chance, by ranks and by squares."""
    up = [[1.0, 1.3, 1.2, 1.9, 1.7, 2.6, 2.4, 2.5], [6.1, 6.0, 6.4, 6.3, 6.6]]
    down = [[-value for value in series] for series in up]
    _, _, one = lined(up, [0.08, 0.05])
    _, _, other = lined(down, [0.08, 0.05])
    assert other.low == pytest.approx(-one.high)
    assert other.tight_high == pytest.approx(-one.tight_low)
    assert other.p == pytest.approx(one.p)


def test_series_without_a_bridge_stay_to_the_bit():
    """Only the second of three has moved tests."""
    series = [[6.1, 6.0, 6.4, 6.3, 6.6]] * 3
    _, line, wide = lined(series, [0.0, 0.05, 0.0])
    for name in ("low", "high", "tight_low", "tight_high", "p"):
        before, after = getattr(line, name), getattr(wide, name)
        assert (before == after).tolist() == [True, False, True]
