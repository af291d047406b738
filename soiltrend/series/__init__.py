"""Series over time: what was tested again and again in one bed, laid out by its days."""

from soiltrend.series.laying import Entries, Laid, lay_out, rounded, season_groups, some

__all__ = ["Entries", "Laid", "lay_out", "rounded", "season_groups", "some"]
