"""What an interval of draws says and what makes it wide, by hand."""

import numpy as np
import pytest

from soiltrend.budget.chance import spread
from soiltrend.budget.judge import widest


@pytest.mark.parametrize(("share", "words"), [(0.5, "the noise of the soil tests"), (2.0, "the amounts")])
def test_what_a_recovery_is_wide_by(share, words):
    """Spreads of 10 and 6: half of the one is less than the other, twice of it is more."""
    expected, observed = np.array([-10.0, 10.0]), np.array([-6.0, 6.0])
    assert widest(expected, observed, share=share).startswith(words)


def test_the_middle_of_draws():
    """Of 0 to 200 the middle 80 in 100 are 20 to 180."""
    assert spread(np.arange(201.0), confidence=0.8) == pytest.approx((20.0, 180.0))
