"""Where a bed or a garden is going over the seasons, and how surely."""

from soiltrend.trend.core import FALLING, RISING, STEADY, TOO_FEW, UNCLEAR, Trend, trend

__all__ = ["FALLING", "RISING", "STEADY", "TOO_FEW", "UNCLEAR", "Trend", "trend"]
