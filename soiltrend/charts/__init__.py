"""Results become pictures: the only room that knows matplotlib.

``chart_*`` functions take a result and return a :class:`~soiltrend.charts.chart.Chart`;
:func:`~soiltrend.charts.save.save_chart` writes it with its alt text, caption and data.
"""

from soiltrend.charts.blend import chart_blend
from soiltrend.charts.budget import chart_budget, chart_recovery
from soiltrend.charts.change import chart_change
from soiltrend.charts.chart import Chart
from soiltrend.charts.drift import chart_drift
from soiltrend.charts.gallery import Gallery, chart_beds, chart_drifts, pages, save_charts
from soiltrend.charts.luck import chart_luck
from soiltrend.charts.misleading import misleading
from soiltrend.charts.own import retitled
from soiltrend.charts.plan import chart_plan
from soiltrend.charts.preview import preview
from soiltrend.charts.saturation import chart_saturation
from soiltrend.charts.save import save_chart
from soiltrend.charts.season import chart_season
from soiltrend.charts.trend import chart_trend
from soiltrend.charts.why import chart_why
from soiltrend.charts.workshop import chart_workshop

__all__ = [
    "Chart",
    "Gallery",
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
    "misleading",
    "pages",
    "preview",
    "retitled",
    "save_chart",
    "save_charts",
]
