"""Where a bed or a garden is going over the seasons, and how surely."""

from soiltrend.trend.core import FALLING, RISING, STEADY, TOO_FEW, UNCLEAR, Trend, trend
from soiltrend.trend.humus import Humus, humus
from soiltrend.trend.outlook import Outlook, outlook
from soiltrend.trend.shape import Shapes, shape

__all__ = [
    "FALLING",
    "RISING",
    "STEADY",
    "TOO_FEW",
    "UNCLEAR",
    "Humus",
    "Outlook",
    "Shapes",
    "Trend",
    "humus",
    "outlook",
    "shape",
    "trend",
]
