"""Draw the README's pictures anew from the demonstration garden: ``python tests/refresh_pictures.py``."""

from pathlib import Path

import soiltrend as st
from soiltrend.charts.chart import small_png

ROOT = Path(__file__).parents[1]
PICTURES = ROOT / "notebooks" / "pictures"


def main():
    """Write the pictures and say what each shows."""
    garden = st.open_garden(ROOT / "data_demo" / "oxmarrow-steps")
    results = st.prepared(garden)
    noise = st.noise_model(results, samples=garden.samples)
    change = st.compare(results, before="spring 2022", after="spring 2026", noise=noise)
    charts = {
        "change": st.chart_change(change, bed="Ferry"),
        "trend": st.chart_trend(st.trend(results), analyte="K", results=results),
        "plan": st.chart_plan(st.plan(garden, season="spring 2027"), bed="Plum"),
    }
    PICTURES.mkdir(exist_ok=True)
    for name, chart in charts.items():
        (PICTURES / f"{name}.png").write_bytes(small_png(chart))
    return {name: chart.words.alt for name, chart in charts.items()}


if __name__ == "__main__":
    main()
