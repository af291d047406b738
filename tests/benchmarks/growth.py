"""How time and memory grow with the data, each size in a process of its own.

    python tests/benchmarks/growth.py                  # every kind, up to a million values
    python tests/benchmarks/growth.py read-long 3000000
    python tests/benchmarks/growth.py trend 1000000    # a region: so many series of twelve tests

Seconds are of the processor and not of the clock, so that what else runs on the machine matters less.
The exponent is the slope between the last two sizes on a log scale: 1 is linear. For reading the floor
is ``pandas.read_csv`` of the same file; bytes are the peak of memory above what was taken before, for
each value (Linux counts it).
"""

import json
import math
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd
from trend import frame

import soiltrend as st
from soiltrend import frames, vocabulary
from soiltrend.slopes.batch import fit  # noqa: F401 (loaded before the clock starts)

SIZES = (10_000, 100_000, 1_000_000)
BASES = {"Ca": 1500.0, "Mg": 180.0, "K": 150.0, "Na": 20.0, "CEC": 12.0, "pH": 6.4, "P": 40.0, "Zn": 2.0}
ANALYTES = (
    "pH",
    "OM %",
    *(f"{name} ppm" for name in ("P", "K", "Ca", "Mg", "Na", "S", "B", "Zn", "Mn", "Cu", "Fe")),
)


def long_file(size, path):
    """Write a report of one row a value, three in a hundred below a limit."""
    rng = np.random.default_rng(1)
    names = np.array(["pH", "K", "Ca", "Mg", "Zn", "B", "P", "OM"])
    at = np.arange(size) % len(names)
    value = np.char.mod("%.2f", rng.uniform(5.0, 8.0, size))
    value = np.where((rng.random(size) < 0.03) & (at > 0), np.char.add("<", value), value)
    year = 1990 + (np.arange(size) // 2000) % 30
    table = pd.DataFrame(
        {"Bed": np.char.add("bed ", (np.arange(size) // 8 % 5000).astype(str)),
         "Date sampled": np.char.add(year.astype(str), "-04-12"), "Lab": "Hollin Bench", "Analyte": names[at],
         "Result": value, "Unit": np.array(["", *["mg/kg"] * 6, "%"])[at]})  # fmt: skip
    table.to_csv(path, index=False)


def wide_file(size, path):
    """Write a report of one row a sample, thirteen values in each."""
    rows = size // len(ANALYTES)
    rng = np.random.default_rng(1)
    table = pd.DataFrame({name: rng.uniform(5.0, 8.0, rows).round(2) for name in ANALYTES})
    table.insert(0, "Bed", np.char.add("bed ", (np.arange(rows) % 5000).astype(str)))
    table.insert(1, "Date sampled", "2024-04-12")
    table.to_csv(path, index=False)


def chemistry(size, tests=2):
    """Return results of so many values: eight analytes a sample, so many tests a bed."""
    count = size // len(BASES)
    rng = np.random.default_rng(1)
    bed = np.repeat(np.arange(count) // tests, len(BASES))
    year = np.repeat(2000 + 2 * (np.arange(count) % tests), len(BASES))
    names = np.tile(np.array(list(BASES), dtype=object), count)
    value = np.tile(list(BASES.values()), count) * np.exp(rng.normal(0, 0.05, len(names)))
    made = pd.DataFrame({"bed": bed, "analyte": names, "value": value.round(3)})
    made["bed"] = "bed " + made["bed"].astype(str)
    made["sampled"] = pd.to_datetime(pd.Series(year).astype(str) + "-04-12")
    made["season"] = "spring " + pd.Series(year).astype(str)
    made["unit"] = made["analyte"].map({name: vocabulary.canonical_unit(name) for name in BASES})
    return frames.results(made.assign(lab="a laboratory", method="a method", top_cm=0.0, bottom_cm=15.0))


def reading(write):
    def prepare(size):
        path = Path(tempfile.mkdtemp()) / "report.csv"
        write(size, path)
        return path, lambda: st.read_report(path), lambda: pd.read_csv(path)

    return prepare


def of_frame(make, work):
    def prepare(size):
        data = make(size)
        return data, lambda: work(data), None

    return prepare


def two(results):
    return st.compare(results, before="spring 2000", after="spring 2002")


KINDS = {
    "read-long": reading(long_file),
    "read-wide": reading(wide_file),
    "exchange": of_frame(chemistry, st.exchange),
    "ratios": of_frame(chemistry, lambda results: st.ratios(results)),
    "compare": of_frame(chemistry, two),
    "trend": of_frame(lambda size: frame(size // 12, (12, 12)), st.trend),
    "drift": of_frame(lambda size: st.ratios(chemistry(size // 2, tests=6)), st.drift),
}


def spent(work):
    """Return the seconds of the processor that a piece of work takes."""
    start = time.process_time()
    work()
    return time.process_time() - start


def memory(name):
    """Return a count of this process's memory [bytes]."""
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return next(int(line.split()[1]) * 1024 for line in lines if line.startswith(name))


def one(kind, size):
    """Measure one size and print it."""
    _, work, floor = KINDS[kind](size)
    base = spent(floor) if floor else None
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")  # the peak is now what is taken
    before = memory("VmRSS")
    seconds = spent(work)
    peak = memory("VmHWM") - before
    sys.stdout.write(json.dumps({"seconds": seconds, "floor": base, "bytes": peak / size}) + "\n")


def measure(kind, most):
    """Measure a kind over its sizes, each in its own process."""
    told = []
    for size in [*(size for size in SIZES if size < most), most]:
        command = [sys.executable, __file__, "--one", kind, str(size)]
        run = subprocess.run(command, capture_output=True, text=True, check=True)
        told.append((size, json.loads(run.stdout.splitlines()[-1])))
        seconds, floor, heavy = (told[-1][1][name] for name in ("seconds", "floor", "bytes"))
        beside = f", {seconds / floor:.1f} times read_csv" if floor else ""
        sys.stdout.write(
            f"{kind:10s} {size:>9,} values {seconds:8.2f} s{beside}, {heavy:.0f} bytes a value\n"
        )
    (small, first), (large, last) = told[-2:]
    slope = math.log(last["seconds"] / first["seconds"]) / math.log(large / small)
    sys.stdout.write(f"{kind:10s} exponent {slope:.2f}\n")


def main(given):
    if given[:1] == ["--one"]:
        one(given[1], int(given[2]))
        return
    kinds, most = given[:1] or list(KINDS), int(given[1]) if len(given) > 1 else SIZES[-1]
    for kind in kinds:
        measure(kind, most)


if __name__ == "__main__":
    main(sys.argv[1:])
