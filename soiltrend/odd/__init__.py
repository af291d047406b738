"""Odd values: results that fit neither their own series, nor their sample, nor their bed; odd log lines."""

from soiltrend.odd.core import Odd, odd
from soiltrend.odd.logged import logged

__all__ = ["Odd", "logged", "odd"]
