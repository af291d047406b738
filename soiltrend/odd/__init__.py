"""Odd values: results that fit neither their own series, nor their sample, nor their bed."""

from soiltrend.odd.core import Odd, odd

__all__ = ["Odd", "odd"]
