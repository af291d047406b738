"""Limits for the next test: by hand."""

import math

import numpy as np
import pytest
from scipy import stats

from soiltrend.slopes import control


def test_the_next_test_by_hand():
    """scipy's t on 8 df, nine tests before: 1.8595 x 2 x sqrt(10/9); without any, as after one."""
    given = {"sd": np.array([2.0]), "df": np.array([8])}
    ours = control.next_half_width(np.array([9]), chance=0.1, **given)
    assert ours[0] == pytest.approx(stats.t.ppf(0.95, 8) * 2 * math.sqrt(10 / 9))
    none, one = (control.next_half_width(np.array([n]), chance=0.1, **given)[0] for n in (0, 1))
    assert none == one == pytest.approx(stats.t.ppf(0.95, 8) * 2 * math.sqrt(2))
