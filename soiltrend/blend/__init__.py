"""Mulch, compost and residues: mixtures toward a C:N, layers, and the nitrogen of a season."""

from soiltrend.blend.core import Blend, blend
from soiltrend.blend.layers import Layer, bed_layer, layer
from soiltrend.blend.maturing import Compost, matured
from soiltrend.blend.season import NitrogenSeason, nitrogen_season

__all__ = [
    "Blend",
    "Compost",
    "Layer",
    "NitrogenSeason",
    "bed_layer",
    "blend",
    "layer",
    "matured",
    "nitrogen_season",
]
