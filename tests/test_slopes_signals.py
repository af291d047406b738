"""Signals of a level that leaves its place: by hand, and by the theory of the averages."""

import math

import numpy as np
import pytest
from scipy import stats

from soiltrend.slopes import control


def test_the_spread_of_a_weighted_average():
    """Its weights are w(1-w)^k: the variance of the k-th average is the sum of their squares."""
    weight, sd = 0.2, 1.5
    squares = np.cumsum([(weight * (1 - weight) ** k) ** 2 for k in range(6)])
    ours = control.ewma_half_width(6, sd=sd, weight=weight)
    assert ours == pytest.approx(3 * sd * np.sqrt(squares))
    assert control.ewma_half_width(6, sd=sd, weight=weight, times=2.0) == pytest.approx(ours * 2 / 3)


def test_running_sums_by_hand():
    """Target 10, slack 0.5: 12 leaves 1.5 above, 11 another 0.5, 7 takes all of it and leaves 2.5 below."""
    high, low = control.cusum(np.array([10.0, 12.0, 11.0, 7.0, 9.0]), target=10.0, slack=0.5)
    assert high.tolist() == [0.0, 1.5, 2.0, 0.0, 0.0]
    assert low.tolist() == [0.0, 0.0, 0.0, 2.5, 3.0]


@pytest.mark.parametrize(
    ("x", "first"),
    [
        ([10.0, 9.0, 12.0, 13.0], 2),  # the sum above stands at 4 from the third test on
        ([12.0, 13.0], 0),  # from the first
        ([11.0, 10.0, 8.0, 7.0], 2),  # the sum below, from the third on
        ([8.0, 12.5, 12.5], 1),  # above 4.0 beats what is left below, and began where it was last nothing
        ([10.0, 11.0], 1),  # 0.5 above, and standing
        ([10.0, 10.2, 9.9], -1),  # nothing beyond the slack
        ([13.0, 8.0], 1),  # above 0 after 2.5 - 2.5 = 0; below 1.5 stands from the second
    ],
)
def test_where_a_shift_began(x, first):
    """Counted by hand for target 10 and slack 0.5."""
    assert control.began(np.array(x), target=10.0, slack=0.5) == first


def test_the_next_test_by_hand():
    """scipy's t on 8 df, nine tests before: 1.8595 x 2 x sqrt(10/9); without any, as after one."""
    given = {"sd": np.array([2.0]), "df": np.array([8])}
    ours = control.next_half_width(np.array([9]), chance=0.1, **given)
    assert ours[0] == pytest.approx(stats.t.ppf(0.95, 8) * 2 * math.sqrt(10 / 9))
    none, one = (control.next_half_width(np.array([n]), chance=0.1, **given)[0] for n in (0, 1))
    assert none == one == pytest.approx(stats.t.ppf(0.95, 8) * 2 * math.sqrt(2))
