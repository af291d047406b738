"""Mulch, compost and residues: mixtures toward a C:N, layers, and the nitrogen of a season."""

from soiltrend.blend.core import Blend, blend
from soiltrend.blend.layers import Layer, layer
from soiltrend.blend.season import NitrogenSeason, nitrogen_season

__all__ = ["Blend", "Layer", "NitrogenSeason", "blend", "layer", "nitrogen_season"]
