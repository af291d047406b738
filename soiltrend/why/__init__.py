"""Why a number moved: a capacity taken apart, a share beside its amounts, carbon beside what was added."""

from soiltrend.why.cec import WhyCEC, why_cec

__all__ = ["WhyCEC", "why_cec"]
