"""Results become pictures: the only room that knows matplotlib.

``chart_*`` functions take a result and return a :class:`~soiltrend.charts.chart.Chart`;
:func:`~soiltrend.charts.save.save_chart` writes it with its alt text, caption and data.
"""

from soiltrend.charts.change import chart_change
from soiltrend.charts.chart import Chart
from soiltrend.charts.drift import chart_drift
from soiltrend.charts.gallery import Gallery, chart_beds, chart_drifts, save_charts
from soiltrend.charts.save import save_chart
from soiltrend.charts.trend import chart_trend

__all__ = [
    "Chart",
    "Gallery",
    "chart_beds",
    "chart_change",
    "chart_drift",
    "chart_drifts",
    "chart_trend",
    "save_chart",
    "save_charts",
]
