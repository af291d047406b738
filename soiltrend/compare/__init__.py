"""What changed between two seasons, per bed, for the garden, and against beds left as they were."""

from soiltrend.compare.check import Contrast, against_check
from soiltrend.compare.seasons import EXTRA, FIRST, Comparison, compare

__all__ = ["EXTRA", "FIRST", "Comparison", "Contrast", "against_check", "compare"]
