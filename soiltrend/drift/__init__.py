"""Which ratios and saturations are leaving their place, early but without crying wolf."""

from soiltrend.drift.core import FLAGS, STEADY, TOO_FEW, Drift, drift, told_last

__all__ = ["FLAGS", "STEADY", "TOO_FEW", "Drift", "drift", "told_last"]
