"""A small seeded look at what tests/calibration_plan.py counts at length."""

from calibration_plan import count
from scipy.stats import binom

GARDENS = 6


def test_intervals_and_ceilings_keep_their_word():
    """Of two dozen tests as many lie inside as nine in ten allow, and no fewer ceilings hold than promised.

    The bounds are those of the binomial law at one in a thousand.
    """
    table = count(GARDENS, seed=2)
    low, high = binom.ppf([0.0005, 0.9995], len(table), 0.9)
    assert low <= table["inside"].sum() <= high
    touched = table[table["touched"]]
    assert len(touched) >= 3
    assert touched["held"].sum() >= binom.ppf(0.001, len(touched), 0.9)
