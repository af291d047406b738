"""The chances agree with scipy's distributions, by which they are checked and not made."""

import subprocess
import sys

import numpy as np
import pytest
from scipy import stats

from soiltrend import chances


@pytest.mark.parametrize("df", [1, 2.5, 10, 200])
def test_students_t(df):
    """scipy.stats.t as the reference, both ways."""
    t = np.array([-3.0, -0.5, 0.0, 1.0, 4.0])
    assert chances.stdtr(df, t) == pytest.approx(stats.t.cdf(t, df))
    assert chances.stdtrit(df, stats.t.cdf(t, df)) == pytest.approx(t, abs=1e-9)


def test_the_normal_distribution():
    """scipy.stats.norm as the reference, both ways."""
    z = np.array([-2.0, 0.0, 1.5])
    assert chances.ndtr(z) == pytest.approx(stats.norm.cdf(z))
    assert chances.ndtri(stats.norm.cdf(z)) == pytest.approx(z, abs=1e-12)


def test_the_variance_ratio():
    """scipy.stats.f as the reference."""
    assert chances.fdtrc(3, 12, 2.5) == pytest.approx(stats.f.sf(2.5, 3, 12))


def test_the_noncentral_t():
    """scipy.stats.nct as the reference: at the shift found, t lies below 2 with the chance asked for."""
    shift = chances.nctdtrinc(8, 0.2, 2.0)
    assert stats.nct.cdf(2.0, 8, shift) == pytest.approx(0.2, abs=1e-6)


def test_the_door_does_not_wait_for_heavy_libraries():
    """Importing the package loads neither scipy nor matplotlib nor what reads files."""
    heavy = ("scipy", "matplotlib", "statsmodels", "pandera", "openpyxl", "pdfplumber", "nbconvert")
    code = f"import soiltrend, sys; print([name for name in {heavy!r} if name in sys.modules])"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"
