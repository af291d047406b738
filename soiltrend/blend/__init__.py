"""Mulch, compost and residues: mixtures toward a C:N, layers, and the nitrogen of a season."""

from soiltrend.blend.core import Blend, blend

__all__ = ["Blend", "blend"]
