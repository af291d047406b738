"""Bridges between laboratories and methods, built from samples split between them."""

from soiltrend.bridges.core import Bridge, across, bridge
from soiltrend.bridges.published import published_bridge
from soiltrend.bridges.splits import BRIDGED

__all__ = ["BRIDGED", "Bridge", "across", "bridge", "published_bridge"]
