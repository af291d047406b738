"""How often the plan's promises hold, on simulated gardens whose truth is known.

    python tests/calibration_plan.py [GARDENS]

The soil of each bed is drawn as the plan thinks soils move: a level that wanders, a slope that dies away, a
swing between seasons; tests with the noise of the tables; then what a plan gives is put on, with a material
and a response drawn within their ranges, and the next test is taken. Counted are ceilings that hold (in the
truth, not in the test) where something was given that touches them, and tests inside the forecast interval.
"""

import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

import soiltrend as st
from soiltrend import frames, tables
from soiltrend.garden import Garden, open_garden
from soiltrend.noise import noise_model
from soiltrend.plan.ask import coming, effects
from soiltrend.plan.standing import KEPT

YEARS = range(2019, 2027)
START = {"P": (30, 110), "K": (50, 170), "Mg": (50, 170), "pH": (5.3, 7.0), "EC": (0.3, 1.6)}
METHOD = {"P": "Mehlich-3", "K": "Mehlich-3", "Mg": "Mehlich-3", "pH": "water 1:1", "EC": "saturated paste"}
UNIT = {"pH": "pH", "P": "mg/kg", "K": "mg/kg", "Mg": "mg/kg", "EC": "dS/m"}
TOML = """[beds."East"]
area_m2 = 10
depth_cm = 15
bulk_density = 1.3
[aims]
P = {low = 50, high = 100, method = "Mehlich-3"}
K = {low = 120, high = 200, method = "Mehlich-3"}
Mg = {low = 100, high = 220, method = "Mehlich-3"}
pH = {low = 6.2, high = 6.9, method = "water 1:1"}
"""
ENDS = ("N_low,N,N_high,P_low,P,P_high,K_low,K,K_high,Mg_low,Mg,Mg_high", "moisture,CCE,fineness,density")
MATERIALS = f"""material,{ENDS[0]},{ENDS[1]},cost_per_kg,on_hand_kg,measured
house compost,1.2,1.5,1.8,0.3,0.38,0.46,1.0,1.2,1.4,0.35,0.42,0.5,46,,,0.62,0,900,yes
sulphate of potash,,0,,,0,,41,42,43,,0,,0,0,,1.2,1.5,50,yes
Epsom salt,,0,,,0,,,0,,9.6,9.8,9.9,0,0,,0.95,1.8,50,yes
ground limestone,,0,,,0,,,0,,,0.4,,0,92,ground,1.2,0.3,200,no
"""
SPRING = "spring 2027"


def template():
    """Return an empty garden to fill."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder)
        (path / "garden.toml").write_text(TOML, encoding="utf-8")
        (path / "materials.csv").write_text(MATERIALS, encoding="utf-8")
        return open_garden(path)


def wander():
    table = tables.load("wander", numbers=("level", "slope")).set_index("analyte")
    return {name: table.loc[name if name in table.index else "(log)"] for name in START}


def truth(rng, noise, times):
    """Return each measure's level, slope and swing through the times [analysis scale]."""
    out = {}
    for name, (low, high) in START.items():
        how, row = wander()[name], noise.loc[name]
        level = rng.uniform(low, high) if name == "pH" else np.log(rng.uniform(low, high))
        slope, swing = how["slope"] * rng.standard_normal(), row["season"] * rng.standard_normal()
        path, before = [], times[0]
        for now in times:
            years = now - before
            left = KEPT**years
            level += (
                slope * (1 - left) / -np.log(KEPT) + how["level"] * np.sqrt(years) * rng.standard_normal()
            )
            slope = slope * left + how["slope"] * np.sqrt(1 - left**2) * rng.standard_normal()
            path.append(level)
            before = now
        out[name] = (np.array(path), swing)
    return out


def garden_of(rng, blank, noise):
    """Return a garden with eight years of spring and autumn tests, and its truth at the next test."""
    days = [pd.Timestamp(year, month, 10) for year in YEARS for month in (4, 10)]
    whole = [*days, pd.Timestamp(2028, 4, 10)]
    times = [(day - days[0]).days / 365.2425 for day in whole]
    paths = truth(rng, noise, times)
    rows = []
    for name, (path, swing) in paths.items():
        row = noise.loc[name]
        sd = np.hypot(row["sd"], row["occasion"])
        for at, day in enumerate(days):
            side = 0.5 if day.month == 4 else -0.5
            value = path[at] + side * swing + sd * rng.standard_normal()
            row = {"analyte": name, "method": METHOD[name], "unit": UNIT[name]}
            rows.append(row | {"sampled": day, "value": value if name == "pH" else np.exp(value)})
    capacity = {"analyte": "CEC", "method": "summation", "unit": "cmol/kg", "value": 12.0}
    rows += [capacity | {"sampled": day} for day in days]
    frame = pd.DataFrame(rows).assign(
        bed="East", top_cm=0.0, bottom_cm=15.0, lab="invented", report="a", source="a"
    )
    frame = frames.results(frame.assign(sample=[f"s{i}" for i in range(len(frame))]))
    frame["season"] = frames.season(frame["sampled"])
    garden = Garden(
        **{**{name: getattr(blank, name) for name in blank.__dataclass_fields__}, "results": frame}
    )
    ends = {name: path[-1] + 0.5 * swing for name, (path, swing) in paths.items()}
    return garden, ends


def taken(rng, plan, ends, noise):
    """Return by measure: was the ceiling touched, did it hold in truth, did the test lie inside."""
    plot, shed = plan.bench.plots[0], plan.bench.shed
    amounts = np.array([plan.amounts["East"].get(name, 0.0) for name in shed.names])
    draw = rng.integers(plan.bench.rules.scenarios)  # the material and the soil's response, as they may be
    free = effects(plot, coming(plot, plan.bench, amounts))[draw] @ amounts
    reach = effects(plot, shed.total).mean(axis=0) @ amounts
    table = plan.expected.set_index("analyte")
    out = []
    for at, name in enumerate(plot.measures["analyte"]):
        base = ends[name] if name == "pH" else np.exp(ends[name])
        true = base + free[at]
        sd = np.hypot(noise.loc[name]["sd"], noise.loc[name]["occasion"]) * rng.standard_normal()
        test = true + sd if name == "pH" else true * np.exp(sd)
        row = table.loc[name]
        touched = reach[at] > 1e-6 and plot.wants[at].ceiling > np.quantile(plot.left[:, at], 0.9)
        out.append(
            (name, touched, true <= row["ceiling"], row["low"] <= test <= row["high"], base <= row["ceiling"])
        )
    return out


def count(gardens, *, seed=1):
    """Return a row a garden and measure."""
    blank = template()
    pairs = pd.DataFrame({"analyte": list(METHOD), "method": list(METHOD.values())})
    noise = noise_model().of(pairs).set_index("analyte")
    rows = []
    for at in range(gardens):
        rng = np.random.default_rng([seed, at])
        garden, ends = garden_of(rng, blank, noise)
        plan = st.plan(garden, season=SPRING, rules=st.PlanRules(seed=at))
        rows += [(at, *row, len(plan.doses)) for row in taken(rng, plan, ends, noise)]
    names = ["garden", "analyte", "touched", "held", "inside", "held_alone", "doses"]
    return pd.DataFrame(rows, columns=names)


def main(gardens):
    began = time.perf_counter()
    table = count(gardens)
    sys.stdout.write(f"{gardens} gardens in {time.perf_counter() - began:.0f} s\n")
    sys.stdout.write(f"tests inside the 90 % interval: {table['inside'].mean():.3f}\n")
    sys.stdout.write(table.groupby("analyte")["inside"].mean().round(3).to_string() + "\n")
    touched = table[table["touched"]]
    sys.stdout.write(f"ceilings touched {len(touched)}, held in truth: {touched['held'].mean():.3f}\n")
    sys.stdout.write(touched.groupby("analyte")["held"].agg(["size", "mean"]).round(3).to_string() + "\n")
    sys.stdout.write(f"gardens with doses: {(table.groupby('garden')['doses'].first() > 0).mean():.2f}\n")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
