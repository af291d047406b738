"""How long a plan takes, and how it grows with beds.

    python tests/benchmarks/plan.py [BEDS ...]

A garden of 30 beds, 40 materials and 200 scenarios is planned; then gardens of 1 to 1,000 beds, as ratios of
one run to the next, so that another machine may be slower without saying anything. Ratios are of the
seconds of work, which other programs on the machine do not stretch.
"""

import sys
import tempfile
import time
from pathlib import Path

import numpy as np

import soiltrend as st
from soiltrend.materials import known_materials
from soiltrend.plan.shed import USUAL

HEAD = (
    "Bed,Date sampled,pH (water 1:1),Buffer pH (Sikora),P (Mehlich-3) ppm,K (Mehlich-3) ppm,"
    "Mg (Mehlich-3) ppm,"
    "B (Mehlich-3) ppm,Zn (Mehlich-3) ppm,Ca (Mehlich-3) ppm,Na (Mehlich-3) ppm"
)
YEARS = (2022, 2023, 2024, 2025, 2026)
SEASON = "spring 2027"
MATERIALS = 40


def garden(folder, beds, seed=1):
    """Write and open a garden of so many beds, tested each spring, dressed each year."""
    rng = np.random.default_rng(seed)
    names = [f"bed {at + 1}" for at in range(beds)]
    told = "\n".join(f'[beds."{name}"]\narea_m2 = 10' for name in names)
    (folder / "garden.toml").write_text(told, encoding="utf-8")
    known = known_materials()
    stock = known[known["kind"].isin(USUAL)].index[:MATERIALS]
    (folder / "materials.csv").write_text("material\n" + "\n".join(stock) + "\n", encoding="utf-8")
    (folder / "reports").mkdir()
    low = np.array([5.2, 6.2, 20, 40, 40, 0.3, 0.8, 500, 15])
    high = np.array([7.2, 6.9, 140, 200, 220, 1.2, 8, 2500, 40])
    middle = rng.uniform(low, high, (beds, len(low)))
    lines = [
        ",".join([name, f"{year}-04-08", *(f"{value:.3g}" for value in row * rng.normal(1, 0.03, len(low)))])
        for name, row in zip(names, middle, strict=True)
        for year in YEARS
    ]
    (folder / "reports" / "all.csv").write_text("\n".join([HEAD, *lines]) + "\n", encoding="utf-8")
    logged = [f"{year}-04-20,{name},{stock[0]},500,g" for name in names for year in YEARS[:-1]]
    (folder / "applications.csv").write_text(
        "date,bed,material,amount,unit\n" + "\n".join(logged) + "\n", encoding="utf-8"
    )
    return st.open_garden(folder)


def timed(beds):
    """Return seconds waited and worked for the plan of so many beds, without its opening, and its doses."""
    with tempfile.TemporaryDirectory() as folder:
        found = garden(Path(folder), beds)
        began, worked = time.perf_counter(), time.process_time()
        plan = st.plan(found, season=SEASON)
        return time.perf_counter() - began, time.process_time() - worked, len(plan.doses)


def main(sizes):
    timed(1)  # scipy and the tables are loaded once
    before = None
    for beds in sizes:
        waited, seconds, doses = timed(beds)
        grown = ""
        if before:
            power = np.log(seconds / before[1]) / np.log(beds / before[0])
            grown = f", {seconds / before[1]:.2f} times that of {before[0]} beds (exponent {power:.2f})"
        sys.stdout.write(f"{beds} beds: {seconds:.2f} s of work in {waited:.2f} s, {doses} doses{grown}\n")
        before = (beds, seconds)


if __name__ == "__main__":
    main([int(text) for text in sys.argv[1:]] or [1, 10, 30, 100, 300, 1000])
