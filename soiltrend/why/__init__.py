"""Why a number moved: a capacity taken apart, a share beside its amounts, carbon beside what was added."""

from soiltrend.why.cec import WhyCEC, why_cec
from soiltrend.why.share import WhyShare, why_share

__all__ = ["WhyCEC", "WhyShare", "why_cec", "why_share"]
