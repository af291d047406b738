"""Exchange capacity, saturations and ratios as rows of the tidy frame.

:func:`exchange` adds up the cations of each composite sample, :func:`ratios` sets one analyte
against another. Both return the frame they were given plus derived rows, whose ``source`` is
``frames.COMPUTED`` and whose ``place`` says the formula. What could not be computed, and why,
stands in :func:`exchange_gaps` and :func:`ratio_gaps`.
"""

from soiltrend.exchange.questions import questioned
from soiltrend.exchange.ratios import ratio_gaps, ratios
from soiltrend.exchange.recomputed import recomputed
from soiltrend.exchange.sums import exchange, exchange_gaps, extractant, inflated

__all__ = [
    "exchange",
    "exchange_gaps",
    "extractant",
    "inflated",
    "questioned",
    "ratio_gaps",
    "ratios",
    "recomputed",
]
