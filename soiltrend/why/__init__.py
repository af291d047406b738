"""Why a number moved: a capacity taken apart, a share beside its amounts, carbon beside what was added."""

from soiltrend.why.brews import brews
from soiltrend.why.carbon import Carbon, carbon, organic_carbon, stock
from soiltrend.why.cec import WhyCEC, why_cec
from soiltrend.why.share import WhyShare, why_share

__all__ = [
    "Carbon",
    "WhyCEC",
    "WhyShare",
    "brews",
    "carbon",
    "organic_carbon",
    "stock",
    "why_cec",
    "why_share",
]
