"""Before the next sampling: which bags, when and how, what they could show, and what to print."""

from soiltrend.sampling.aims import cores_for_aim
from soiltrend.sampling.cards import bag_labels, field_card, sample_rows
from soiltrend.sampling.past import next_season
from soiltrend.sampling.plan import SamplingPlan, sampling_plan

__all__ = [
    "SamplingPlan",
    "bag_labels",
    "cores_for_aim",
    "field_card",
    "next_season",
    "sample_rows",
    "sampling_plan",
]
