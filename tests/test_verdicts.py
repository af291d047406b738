"""Verdicts against published worked examples and general statistics libraries."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.weightstats import ttost_paired

from soiltrend import verdicts

BH_1995 = [
    0.0001,
    0.0004,
    0.0019,
    0.0095,
    0.0201,
    0.0278,
    0.0298,
    0.0344,
    0.0459,
    0.324,
    0.4262,
    0.5719,
    0.6528,
    0.759,
    1.0,
]
SLEEP = (
    [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0],
    [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4],
)
CLINIC = (
    [2.84, 2.51, 2.41, 2.95, 3.14, 3.79, 4.14, 3.85, 3.02, 3.45, 5.37, 3.81, 4.19, 3.16, 3.84],
    [2.6, 2.82, 2.18, 3.46, 4.01, 3.04, 3.47, 4.06, 2.91, 3.59, 4.51, 3.16, 3.86, 3.31, 3.02],
)


def judged(d, se, *, df=np.inf, margin=0.1, d_high=None, confidence=0.95):
    row = pd.DataFrame(
        {
            "d_low": [d],
            "d_high": [d if d_high is None else d_high],
            "se": [se],
            "df": [df],
            "margin": [margin],
        }
    )
    return verdicts.judge(row, confidence=confidence).iloc[0]


def paired(first, second):
    difference = np.subtract(first, second)
    return difference.mean(), difference.std(ddof=1) / np.sqrt(len(difference)), len(difference) - 1


def test_false_discoveries_of_the_founding_example():
    """Benjamini & Hochberg 1995, section 4: four of fifteen at 5 %; the fourth is adjusted to 0.035625."""
    adjusted = verdicts.discovery_rate(np.array(BH_1995))
    assert (adjusted <= 0.05).sum() == 4
    assert adjusted[3] == pytest.approx(0.035625)


def test_false_discoveries_agree_with_scipy_and_statsmodels():
    """The same numbers as two general libraries, in any order and with ties."""
    p = np.random.default_rng(2).uniform(size=200).round(2)
    assert verdicts.discovery_rate(p) == pytest.approx(stats.false_discovery_control(p))
    assert verdicts.discovery_rate(p) == pytest.approx(multipletests(p, method="fdr_bh")[1])


def test_missing_values_are_no_comparisons():
    """What was not compared does not count among the comparisons."""
    with_gaps = verdicts.discovery_rate(np.array([np.nan, 0.01, np.nan, 0.04]))
    assert with_gaps[[1, 3]] == pytest.approx([0.02, 0.04])
    assert np.isnan(with_gaps[[0, 2]]).all()


def test_paired_t_of_student():
    """Student 1908, sleep data: p 0.002833, interval -2.4598858 to -0.7001142."""
    found = judged(*paired(*SLEEP)[:2], df=9)
    assert (found["low"], found["high"]) == pytest.approx((-2.4598858, -0.7001142), abs=1e-7)
    assert found["p"] == pytest.approx(stats.ttest_rel(*SLEEP).pvalue)
    assert found["p"] == pytest.approx(0.002833, abs=5e-7)
    assert found["verdict"] == "fell"


@pytest.mark.parametrize(("margin", "verdict"), [(0.4037, "unclear"), (0.4038, "held"), (0.6, "held")])
def test_equivalence_of_the_clinic_data(margin, verdict):
    """R equivalence::tost on clinic data (in statsmodels' tests): 90 % interval -0.0744 to 0.4037970."""
    d, se, df = paired(*CLINIC)
    assert judged(d, se, df=df, margin=margin)["verdict"] == verdict
    assert (ttost_paired(np.array(CLINIC[0]), np.array(CLINIC[1]), -margin, margin)[0] < 0.05) == (
        verdict == "held"
    )


def test_repeatability_limit():
    """Two results of known noise differ by less than 2.77 sd 95 % of the time (ISO 5725-6: 2.8)."""
    assert judged(0.0, np.sqrt(2) * 0.1)["half"] == pytest.approx(0.277, abs=5e-4)


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [
        (0.5, np.inf, "rose"),
        (0.1, np.inf, "unclear"),
        (-np.inf, -0.5, "fell"),
        (-np.inf, np.inf, "unclear"),
        (-0.01, 0.01, "held"),
        (-0.5, 0.5, "unclear"),
    ],
)
def test_verdicts_hold_for_all_that_limits_allow(low, high, verdict):
    """A verdict is given only when it holds for the least and for the greatest change."""
    found = judged(low, 0.1 if verdict != "held" else 0.01, d_high=high)
    assert found["verdict"] == verdict
    assert (found["p"] == 1.0) == (low <= 0 <= high)


def test_held_wins_over_a_change_too_small_to_matter():
    """A change that is certain and smaller than the margin is no change that matters."""
    assert judged(0.05, 0.005, margin=0.1)["verdict"] == "held"
    assert judged(0.05, 0.005, margin=0.04)["verdict"] == "rose"


def test_confidence_widens_both():
    """More confidence asks for a wider interval, and for a narrower 'held'."""
    assert judged(0.0, 0.1, confidence=0.99)["half"] > judged(0.0, 0.1, confidence=0.9)["half"]
    assert judged(0.0, 0.05, confidence=0.9)["verdict"] == "held"
    assert judged(0.0, 0.05, confidence=0.99)["verdict"] == "unclear"


def test_where_nothing_moves_by_itself_any_change_is_sure():
    """No error, no chance: a change has p = 0, none has p = 1, and one that is not known has none."""
    moved = [0.2, 0.0, -0.1, np.nan]
    rows = pd.DataFrame({"d_low": moved, "d_high": moved, "se": 0.0, "df": 20.0, "margin": 0.05})
    with np.errstate(all="raise"):
        found = verdicts.judge(rows, confidence=0.95)
    assert found["p"].tolist()[:3] == [0.0, 1.0, 0.0]
    assert np.isnan(found["p"].iloc[3])
    assert found["verdict"].tolist()[:3] == ["rose", "held", "fell"]
