"""Charts of every kind from small invented results, and what can be measured on them."""

import itertools
from functools import lru_cache
from types import SimpleNamespace

import numpy as np
import pandas as pd
from matplotlib.colors import to_rgb

from soiltrend import charts, frames, vocabulary
from soiltrend.blend import NitrogenSeason, blend
from soiltrend.budget import Budget
from soiltrend.budget.core import SOURCES
from soiltrend.charts.misleading import ON_PURPOSE
from soiltrend.compare import compare
from soiltrend.drift import drift
from soiltrend.exchange import exchange
from soiltrend.luck import luck
from soiltrend.trend import trend
from soiltrend.why import WhyCEC

NAMES = [
    "East",
    "Bed by the old glasshouse wall",
    "Süd & Nord $x$",
    "מזרח",
    "Ångström's terrace",
    "حديقة الخضار",
]
SIZES = ("web", "talk", "newsletter", "print")
VALUES = {
    "pH": (6.0, 7.1),
    "OM": (4.0, 4.2),
    "P": (40, 41),
    "K": (200, 90),
    "Ca": (1500, 1560),
    "Mg": (180, 170),
    "Na": (20, 22),
    "S": (11, 15),
    "B": (0.5, 0.6),
    "Zn": (3, 3.2),
    "Mn": (30, 33),
    "Cu": (2, 2.1),
}


def beds(number):
    return [f"{NAMES[at % len(NAMES)]} {at}" for at in range(number)]


def tidy(rows):
    table = pd.DataFrame(rows, columns=["bed", "sampled", "analyte", "value"])
    table["sampled"] = pd.to_datetime(table["sampled"])
    table["season"] = frames.season(table["sampled"])
    table["unit"] = table["analyte"].map(vocabulary.canonical_unit)
    return frames.results(
        table.assign(top_cm=0.0, bottom_cm=15.0, lab="Hollin Bench", method="Mehlich-3", source="made")
    )


@lru_cache
def springs(number):
    """Return the results of two springs: of four beds with exchange capacity and shares, else potassium."""
    days = ("2022-04-04", "2024-04-08")
    rows = [
        (bed, day, analyte, value)
        for bed in beds(number)
        for analyte, ends in VALUES.items()
        if analyte == "K" or number == 4
        for day, value in zip(days, ends, strict=True)
    ]
    return exchange(tidy(rows), acidity="none") if number == 4 else tidy(rows)


@lru_cache
def comparison(number):
    return compare(springs(number), before="spring 2022", after="spring 2024")


@lru_cache
def seasons(number, analyte="K"):
    """Return four years of springs and autumns in so many beds, and their trends."""
    days = [f"{year}-{day}" for year in range(2019, 2023) for day in ("04-05", "10-07")]
    start = 6.0 if analyte == "pH" else 100.0
    rows = [
        (bed, day, analyte, start * (1 + 0.01 * at)) for bed in beds(number) for at, day in enumerate(days)
    ]
    results = tidy(rows)
    return trend(results), results


def log(number):
    """Return dressings and harvests of so many beds, as a garden holds them."""
    put = [(pd.Timestamp(f"{year}-04-20"), bed) for year in range(2019, 2023) for bed in beds(number)]
    cut = [
        (pd.Timestamp(f"{year}-09-01"), bed, crop)
        for year, crop in ((2019, "kale"), (2021, "תפוח"))
        for bed in beds(number)
    ]
    return SimpleNamespace(
        applications=pd.DataFrame(put, columns=["date", "bed"]).assign(amount=1.0),
        harvests=pd.DataFrame(cut, columns=["date", "bed", "crop"]),
    )


def account():
    """Return an account of calcium in six beds, one of them far off the scale."""
    names = beds(6)
    parts = {"put_in": 120.0, "taken_out": 14.0, "expected": 90.0, "observed": 60.0, "fixed": 0.0}
    row = {
        f"{part}{end}": value * times
        for part, value in parts.items()
        for end, times in (("", 1.0), ("_low", 0.6), ("_high", 1.5))
    }
    table = pd.DataFrame([{"bed": bed, **row} for bed in names]).assign(
        nutrient="Ca",
        period="spring 2022 to spring 2024",
        unit="g/m2",
        earlier=22.0,
        method="Mehlich-3",
        lab="Hollin Bench",
        top_cm=0.0,
        bottom_cm=15.0,
        said=["showed", "partly", "not seen", "cannot say", "the other way", "showed"],
        recovery=[0.7, 0.4, 0.1, np.nan, -4.0, 1.0],
        low=[0.2, -0.1, -0.4, np.nan, -9.0, 0.5],
        high=[1.2, 0.9, 0.6, np.nan, -1.0, 1.6],
        end=pd.Timestamp("2024-04-08"),
    )
    materials = {"gypsum": 60.0, "house compost of leaves and kitchen scraps": 55.0, "ground shell": 5.0}
    sources = pd.DataFrame(
        [
            (bed, "Ca", table["period"][0], name, "g/m2", value, 0.7 * value, 1.4 * value, True, False)
            for bed in [*names, frames.GARDEN]
            for name, value in materials.items()
        ],
        columns=SOURCES,
    )
    return Budget(table, sources, pd.DataFrame(columns=["what"]), 0.9, 1, 100)


def capacity():
    """Return a capacity taken apart."""
    place = {"bed": beds(4)[3], "lab": "Hollin Bench", "top_cm": 0.0, "bottom_cm": 15.0}
    parts = [
        ("CEC", "sum", 1.2),
        ("Ca", "cation", 1.9),
        ("K", "cation", -0.7),
        ("organic matter", "can explain", 0.3),
        ("undissolved lime, shell or gypsum", "can fake", 0.9),
        ("left over", "left over", 0.0),
    ]
    table = pd.DataFrame(
        [
            {
                **place,
                "part": part,
                "kind": kind,
                "method": "summation",
                "unit": "cmol/kg",
                "before": 9.0,
                "after": 9.0 + change,
                "change": change,
                "low": change - 1,
                "high": change + 1,
                "verdict": "",
                "why": "",
            }
            for part, kind, change in parts
        ]
    )
    told = place | {"said": "artefact", "change": 1.2, "low": 0.2, "high": 2.2, "unit": "cmol/kg"}
    return WhyCEC(
        table, pd.DataFrame([told | {"sentence": "Lime may count"}]), "spring 2022", "spring 2024", 0.95
    )


def planned():
    """Return what a plan of one bed holds, one measure without an aim and one off at both ends."""
    nan = np.nan
    rows = [
        ("pH", "water 1:1", "pH", 5.6, 5.4, 5.8, 6.3, 6.6, 6.2, 5.9, 6.5),
        ("OM", "LOI", "%", 4.5, 4.2, 4.8, nan, nan, 4.7, 4.3, 5.1),
        ("P", "Mehlich-3", "mg/kg", 83, 70, 96, 30, 60, 80, 66, 95),
        ("B", "Mehlich-3", "mg/kg", 0.3, 0.2, 0.4, 0.5, nan, nan, nan, nan),
    ]
    numbers = ["now", "now_low", "now_high", "aim", "aim_high", "after", "low", "high"]
    bed = beds(2)[1]
    expected = pd.DataFrame(
        [(bed, *row) for row in rows], columns=["bed", "analyte", "method", "unit", *numbers]
    )
    return SimpleNamespace(
        expected=expected.assign(
            why="", test="spring 2026", lab="Hollin Bench", top_cm=0.0, bottom_cm=15.0
        ),
        hold=pd.DataFrame([{"bed": bed, "what": "P", "why": "above its aim", "about": "P"}]),
        doses=pd.DataFrame(
            [(bed, "gypsum", pd.Timestamp("2025-03-20"), 1200.0, 100.0, "5 cups", "")],
            columns=["bed", "material", "date", "grams", "g_per_m2", "kitchen", "why"],
        ),
        cautions=pd.DataFrame(
            [("gypsum", bed, "dust", "")], columns=["material", "bed", "caution", "source"]
        ),
    )


def months():
    """Return the nitrogen of a year, tied up in spring."""
    likely = [-0.2, -0.4, -0.9, -0.5, 0.1, 0.6, 0.9, 0.8, 0.5, 0.3, 0.1, 0.0]
    table = pd.DataFrame(
        {
            "month": pd.date_range("2024-01-01", periods=12, freq="MS"),
            "what": "(together)",
            "credit": "",
            "place": "",
            "unit": "g N/m2",
            "likely": likely,
            "said": "",
        }
    )
    table = table.assign(low=table["likely"] - 0.3, high=table["likely"] + 0.4)
    crops = pd.DataFrame(
        {
            "crop": ["broad beans", "kale"],
            "date": pd.to_datetime(["2024-06-20", "2024-11-02"]),
            "kg_per_m2": [1.0, 2.0],
            "residue": "kept",
        }
    )
    none = pd.DataFrame()
    return NitrogenSeason(table, crops, none, none, none, beds(4)[3], 2024, "")


@lru_cache
def _blend():
    kept = [{"material": "wheat straw", "kg": 10}, "grass clippings", {"material": "water", "kg": 8}]
    return blend(kept, cn=30, moisture=None)


KINDS = {
    "change of a bed": lambda size: charts.chart_change(comparison(4), bed=beds(4)[3], size=size),
    "change of a measure": lambda size: charts.chart_change(comparison(8), analyte="K", size=size),
    "pH": lambda size: charts.chart_change(comparison(4), analyte="pH", size=size),
    "one bed": lambda size: charts.chart_change(comparison(1), analyte="K", size=size),
    "drift": lambda size: charts.chart_drift(drifting(), bed="East", size=size),
    "trend": lambda size: _trend(4, None, size),
    "trend of one bed": lambda size: _trend(1, log(1), size),
    "trend with strips": lambda size: _trend(4, log(4), size),
    "shares": lambda size: charts.chart_saturation(springs(4), bed=beds(4)[1], size=size),
    "shares twice": lambda size: charts.chart_saturation(
        springs(4), bed=beds(4)[3], before="spring 2022", size=size
    ),
    "account": lambda size: charts.chart_budget(account(), nutrient="Ca", bed=beds(4)[3], size=size),
    "account of all": lambda size: charts.chart_budget(account(), nutrient="Ca", size=size),
    "recovery": lambda size: charts.chart_recovery(account(), nutrient="Ca", size=size),
    "capacity": lambda size: charts.chart_why(capacity(), bed=beds(4)[3], size=size),
    "plan": lambda size: charts.chart_plan(planned(), bed=beds(2)[1], size=size),
    "blend": lambda size: charts.chart_blend(_blend(), size=size),
    "season": lambda size: charts.chart_season(months(), size=size),
    "luck": lambda size: charts.chart_luck(luck(comparison(4), draws=100), size=size),
    **{
        trick: lambda size, trick=trick: charts.misleading(comparison(4), trick=trick, analyte="K", size=size)
        for trick in charts.tricks.TRICKS
    },
}
"""Every kind of chart, drawn at a size."""


@lru_cache
def drifting():
    """Return eight springs in which calcium climbs away from magnesium, as ratios against their bands."""
    rows = [
        ("East", f"{2015 + at}-04-05", analyte, value)
        for at in range(8)
        for analyte, value in (("Ca", 1500 * 1.2**at), ("Mg", 180), ("K", 150))
    ]
    return drift(tidy(rows))


def _trend(number, garden, size):
    found, results = seasons(number)
    return charts.chart_trend(found, results=results, analyte="K", garden=garden, size=size)


@lru_cache
def web(kind):
    """Return a kind of chart at web size, drawn once."""
    return KINDS[kind]("web")


@lru_cache
def pictures(kind, size):
    """Return the pictures of a kind at a size: one, or as many as it needs."""
    return [web(kind)] if size == "web" else web(kind).pages(charts.style.SIZES[size])


MEASURED = {}
"""Charts that were measured, with what was found: a chart is laid out once, however much is asked of it."""


def texts(chart):
    """Return the texts that can be seen on a chart, with the boxes they fill [pixels]."""
    if id(chart) not in MEASURED:
        MEASURED[id(chart)] = (chart, _texts(chart))
    return MEASURED[id(chart)][1]


def _texts(chart):
    chart.draw_without_rendering()
    renderer = chart.canvas.get_renderer()
    ticks = [label for axes in chart.axes for label in _ticks(axes)]
    found = [*chart.texts, *ticks, *(text for axes in chart.axes for text in axes.texts)]
    shown = [
        text for text in found if text.get_visible() and text.get_text() and text.get_gid() != ON_PURPOSE
    ]
    return [(text, text.get_window_extent(renderer)) for text in shown]


def _ticks(axes):
    """Return the labels of the ticks within the scale."""
    for axis, (low, high) in ((axes.xaxis, axes.get_xlim()), (axes.yaxis, axes.get_ylim())):
        for tick in axis.get_major_ticks():
            if min(low, high) <= tick.get_loc() <= max(low, high):
                yield tick.label1


def overlaps(chart):
    """Return the pairs of texts that share pixels."""
    boxes = [(text.get_text(), box.shrunk(0.98, 0.72)) for text, box in texts(chart)]
    return [
        (one, other) for (one, box), (other, over) in itertools.combinations(boxes, 2) if box.overlaps(over)
    ]


def luminance(colour):
    """Return relative luminance by WCAG 2.2, definition of 'relative luminance'."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(colour)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other="white"):
    """Return the contrast ratio by WCAG 2.2."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)
