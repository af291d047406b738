"""soiltrend: a garden's soil tests over seasons, from the lab's report to the chart for a talk.

The nouns, in the order in which data walk through the house:

- a **garden** (:func:`open_garden`) is the grower's folder: beds, reports, what went on;
- a **reading** (:func:`read_report`) is one lab file as tidy rows, and what was set aside;
- **results** are a tidy frame, one row a value (:mod:`soiltrend.frames`); derived values
  (:func:`exchange`, :func:`ratios`) are rows of the same frame;
- the **noise** (:func:`noise_model`) says how far a result moves by itself;
- a **comparison** (:func:`compare`) says what changed between two seasons, and how surely;
- a **trend** (:func:`trend`) says where a series is going over the seasons;
- a **drift** (:func:`drift`) says which ratios are leaving their place;
- a **chart** (``chart_*``) is a picture with its words and data; :func:`save_chart` writes it.

Frame or path first, everything else by name; every result carries ``.table``.
"""

from functools import partial
from importlib import import_module
from inspect import isfunction
from sys import modules
from typing import TYPE_CHECKING, Any

from soiltrend import frames
from soiltrend.asked import why_latest
from soiltrend.blend import (
    Blend,
    Compost,
    Layer,
    NitrogenSeason,
    bed_layer,
    blend,
    layer,
    matured,
    nitrogen_season,
)
from soiltrend.bridges import Bridge, across, bridge, published_bridge
from soiltrend.brief import in_short
from soiltrend.budget import BedCard, Budget, account_lines, bed_card, budget
from soiltrend.calls import guarded
from soiltrend.comparable import comparable
from soiltrend.compare import Comparison, Contrast, against_check, compare
from soiltrend.detect import Sampling, cores_needed, detectable, detectable_slope
from soiltrend.drift import Drift, drift
from soiltrend.errors import SoiltrendError
from soiltrend.exchange import exchange, exchange_gaps, questioned, ratio_gaps, ratios, recomputed
from soiltrend.garden import Garden, account, cautions, missing, open_garden, reasons, remarks
from soiltrend.latest import beside_check, compare_latest, latest_pair
from soiltrend.lime import (
    Acidifying,
    LimeRequirement,
    LimeValue,
    lime_requirement,
    lime_value,
    sulphur_to_lower,
)
from soiltrend.luck import Luck, luck
from soiltrend.materials import (
    AcidExtract,
    LiquidDose,
    MaterialCard,
    acid_extract,
    extract_material,
    known_materials,
    liquid_dose,
    material_card,
)
from soiltrend.noise import Noise, noise_model
from soiltrend.odd import Odd, odd
from soiltrend.plan import (
    Plan,
    PlanRules,
    Review,
    WhatIf,
    left_alone,
    plan,
    review,
    save_plan,
    try_amounts,
    what_if,
)
from soiltrend.prepare import gaps, prepared
from soiltrend.present import Listing, save_table
from soiltrend.reading import Reading, read_report
from soiltrend.region import by_garden
from soiltrend.sampling import (
    SamplingPlan,
    bag_labels,
    cores_for_aim,
    field_card,
    next_season,
    sample_rows,
    sampling_plan,
)
from soiltrend.simulate import Design, simulate_garden
from soiltrend.story import (
    OwnHeadline,
    Voice,
    Words,
    bed_to_tell,
    flags,
    headlines,
    own_headline,
    refused,
    speak,
    trend_headlines,
)
from soiltrend.trend import Humus, Outlook, Shapes, Trend, humus, outlook, shape, trend
from soiltrend.units import convert
from soiltrend.verdicts import discovery_rate
from soiltrend.why import Carbon, WhyCEC, WhyShare, brews, carbon, why_cec, why_share
from soiltrend.workshop import Workshop, workshop

if TYPE_CHECKING:
    from soiltrend.charts import (
        Chart,
        Gallery,
        chart_beds,
        chart_blend,
        chart_budget,
        chart_change,
        chart_drift,
        chart_drifts,
        chart_luck,
        chart_plan,
        chart_recovery,
        chart_saturation,
        chart_season,
        chart_trend,
        chart_why,
        chart_workshop,
        pages,
        retitled,
        save_chart,
        save_charts,
    )
    from soiltrend.charts.misleading import misleading
    from soiltrend.charts.preview import preview
    from soiltrend.handouts import handout, slides

__version__ = "0.1.0"
__all__ = [
    "AcidExtract",
    "Acidifying",
    "BedCard",
    "Blend",
    "Bridge",
    "Budget",
    "Carbon",
    "Chart",
    "Comparison",
    "Compost",
    "Contrast",
    "Design",
    "Drift",
    "Gallery",
    "Garden",
    "Humus",
    "Layer",
    "LimeRequirement",
    "LimeValue",
    "LiquidDose",
    "Listing",
    "Luck",
    "MaterialCard",
    "NitrogenSeason",
    "Noise",
    "Odd",
    "Outlook",
    "OwnHeadline",
    "Plan",
    "PlanRules",
    "Reading",
    "Review",
    "Sampling",
    "SamplingPlan",
    "Shapes",
    "SoiltrendError",
    "Trend",
    "Voice",
    "WhatIf",
    "WhyCEC",
    "WhyShare",
    "Words",
    "Workshop",
    "account",
    "account_lines",
    "acid_extract",
    "across",
    "against_check",
    "bag_labels",
    "bed_card",
    "bed_layer",
    "bed_to_tell",
    "beside_check",
    "blend",
    "brews",
    "bridge",
    "budget",
    "by_garden",
    "carbon",
    "cautions",
    "chart_beds",
    "chart_blend",
    "chart_budget",
    "chart_change",
    "chart_drift",
    "chart_drifts",
    "chart_luck",
    "chart_plan",
    "chart_recovery",
    "chart_saturation",
    "chart_season",
    "chart_trend",
    "chart_why",
    "chart_workshop",
    "comparable",
    "compare",
    "compare_latest",
    "convert",
    "cores_for_aim",
    "cores_needed",
    "detectable",
    "detectable_slope",
    "discovery_rate",
    "drift",
    "exchange",
    "exchange_gaps",
    "extract_material",
    "field_card",
    "flags",
    "gaps",
    "handout",
    "headlines",
    "humus",
    "in_short",
    "known_materials",
    "latest_pair",
    "layer",
    "left_alone",
    "lime_requirement",
    "lime_value",
    "liquid_dose",
    "luck",
    "material_card",
    "matured",
    "misleading",
    "missing",
    "next_season",
    "nitrogen_season",
    "noise_model",
    "odd",
    "open_garden",
    "outlook",
    "own_headline",
    "pages",
    "plan",
    "prepared",
    "preview",
    "published_bridge",
    "questioned",
    "ratio_gaps",
    "ratios",
    "read_report",
    "reasons",
    "recomputed",
    "refused",
    "remarks",
    "retitled",
    "review",
    "sample_rows",
    "sampling_plan",
    "save_chart",
    "save_charts",
    "save_plan",
    "save_table",
    "shape",
    "simulate_garden",
    "slides",
    "speak",
    "sulphur_to_lower",
    "trend",
    "trend_headlines",
    "try_amounts",
    "what_if",
    "why_cec",
    "why_latest",
    "why_share",
    "workshop",
]


_HANDOUTS = ("handout", "slides")


def _public() -> dict[str, Any]:
    """Return all that is shown here, by name."""
    return {name: getattr(modules[__name__], name) for name in __all__}


_asked = partial(guarded, public=_public, tidy=frames.check)


def __getattr__(name: str) -> Any:
    """Load the charts room, and matplotlib with it, when a chart is first asked for."""
    if name not in __all__:
        raise AttributeError(f"module 'soiltrend' has no attribute '{name}'")
    found = getattr(import_module(f"soiltrend.{'handouts' if name in _HANDOUTS else 'charts'}"), name)
    globals()[name] = _asked(found) if isfunction(found) else found
    return globals()[name]


globals().update({name: _asked(globals()[name]) for name in __all__ if isfunction(globals().get(name))})
