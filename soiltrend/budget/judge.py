"""What share of the expected movement the test showed, and what may be said of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from soiltrend.budget.chance import Draws, spread

SHOWED = "showed"
PARTLY = "partly"
NOT_SEEN = "not seen"
MORE = "more than expected"
AGAINST = "the other way"
CANNOT_SAY = "cannot say"
NOT_TESTED = "not tested"

WIDEST = 5.0
"""Width of the interval of a share beyond which its number only misleads: five times all of it. Judgement."""


@dataclass(frozen=True)
class Recovery:
    """The share of an expected movement that a test showed.

    Attributes
    ----------
    share : float
        Observed over expected; NaN when it cannot be said.
    low, high : float
        Its interval.
    said : str
        What may be said: one of the words of this module.
    """

    share: float
    low: float
    high: float
    said: str


NOTHING = Recovery(np.nan, np.nan, np.nan, CANNOT_SAY)


def recovery(expected: Draws, observed: Draws, *, point: tuple[float, float], confidence: float) -> Recovery:
    """Return observed over expected with its interval.

    Parameters
    ----------
    expected, observed : array
        Draws of the two movements, in one unit.
    point : tuple of float
        The two as they are shown.
    confidence : float
        Of the interval.

    Returns
    -------
    Recovery
        Nothing can be said where the interval of ``expected`` holds 0: the set of ratios is then not
        bounded.

    Notes
    -----
    As in Fieller's theorem the interval holds the ratios r for which observed - r x expected may be 0
    (Fieller 1954, J. R. Statist. Soc. B 16:175), here by draws and not by normal theory: where expected
    has one sign, these are the quantiles of the ratio of the draws. A draw of the other sign counts as no
    bound.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> found = recovery(rng.normal(50, 2, 4000), rng.normal(40, 5, 4000), point=(50, 40), confidence=0.9)
    >>> found.share, found.said, bool(0.6 < found.low < found.high < 1)
    (0.8, 'partly', True)
    >>> recovery(rng.normal(1, 2, 4000), rng.normal(40, 5, 4000), point=(1, 40), confidence=0.9).said
    'cannot say'
    """
    least, most = spread(expected, confidence=confidence)
    if not least * most > 0:
        return NOTHING
    usual = np.sign(expected) == np.sign(least)
    ratio = np.divide(observed, expected, out=np.sign(observed) * np.inf, where=usual)
    ends = np.quantile(ratio, [0.5 - confidence / 2, 0.5 + confidence / 2], method="closest_observation")
    low, high = (float(end) for end in ends)
    if not np.isfinite([low, high]).all():
        return NOTHING
    return Recovery(point[1] / point[0], low, high, _said(low, high))


def shapeless(low: float, high: float) -> bool:
    """Return whether the interval of a share is so wide that no share can be told.

    Examples
    --------
    >>> shapeless(-0.4, 0.7), shapeless(-608.0, -37.0)
    (False, True)
    """
    return high - low > WIDEST


def _said(low: float, high: float) -> str:
    """Return what an interval of the recovery allows to be said."""
    if low > 0:
        return MORE if low > 1 else SHOWED if high >= 1 else PARTLY
    if high < 0:
        return AGAINST
    return NOT_SEEN if high < 1 else CANNOT_SAY


def widest(expected: Draws, observed: Draws, *, share: float) -> str:
    """Return what most of the width of a recovery comes from.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> widest(rng.normal(50, 20, 4000), rng.normal(40, 5, 4000), share=0.8)
    'the amounts and analyses of what went on and came off'
    """
    of_amounts, of_tests = (np.nan_to_num(share) * expected).var(), observed.var()
    if of_amounts > of_tests:
        return "the amounts and analyses of what went on and came off"
    return "the noise of the soil tests"
