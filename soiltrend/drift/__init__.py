"""Which ratios and saturations are leaving their place, early but without crying wolf."""

from soiltrend.drift.core import FLAGS, Drift, drift

__all__ = ["FLAGS", "Drift", "drift"]
