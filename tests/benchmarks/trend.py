"""How fast trends are found, as ratios measured in one run.

    python tests/benchmarks/trend.py            # up to 100,000 series of 12
    python tests/benchmarks/trend.py 10000      # fewer

Against a loop over series of scipy.stats.theilslopes and kendalltau with pymannkendall.original_test
(timed on 1,000 series and multiplied), and against a bare numpy median of pairwise slopes. Times are
medians of three runs; ratios matter more than seconds.
"""

import statistics
import sys
import time

import numpy as np
import pandas as pd
import pymannkendall
from scipy import stats

from soiltrend import frames, tables, vocabulary
from soiltrend.series import lay_out
from soiltrend.slopes.batch import fit
from soiltrend.trend import trend

ANALYTES = tables.load("analytes")["analyte"].tolist()[:20]


def timed(work, times=3):
    """Return the median seconds of some runs."""
    seconds = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        seconds.append(time.perf_counter() - start)
    return statistics.median(seconds)


def frame(count, lengths, seed=1):
    """Return a tidy frame of so many series, twenty analytes a bed, in the order of reports."""
    rng = np.random.default_rng(seed)
    size = rng.integers(lengths[0], lengths[1] + 1, count)
    series = np.repeat(np.arange(count), size)
    test = np.arange(len(series)) - np.repeat(np.cumsum(size) - size, size)
    year = pd.to_datetime(pd.Series([f"{2000 + i}-04-01" for i in range(lengths[1])])).to_numpy()
    sampled = year[test] + np.random.default_rng(2).integers(0, 30, lengths[1])[test].astype("timedelta64[D]")
    value = np.exp(rng.normal(3, 0.15, len(series))).round(2)
    analyte = np.array(ANALYTES, dtype=object)[series % len(ANALYTES)]
    unit = np.array([vocabulary.canonical_unit(name) for name in ANALYTES], dtype=object)[
        series % len(ANALYTES)
    ]
    bed = np.array([f"bed {i}" for i in range(count // len(ANALYTES) + 1)], dtype=object)[
        series // len(ANALYTES)
    ]
    made = pd.DataFrame({"bed": bed, "analyte": analyte, "unit": unit, "sampled": sampled, "value": value})
    made["season"] = frames.season(made["sampled"])
    made = made.assign(lab="a laboratory", method="a method", top_cm=0.0, bottom_cm=15.0)
    return frames.results(made.sort_values(["bed", "sampled"], kind="stable"))


def loop(points, count):
    """Return the seconds that scipy with pymannkendall take for each series, from the first ones."""
    size = len(points.series) // count
    t, y = points.time.reshape(count, size), points.low.reshape(count, size)

    def work():
        for i in range(min(count, 1000)):
            stats.theilslopes(y[i], t[i])
            stats.kendalltau(t[i], y[i])
            pymannkendall.original_test(y[i])

    return timed(work) / min(count, 1000)


def floor(points, count):
    """Return the seconds of a bare numpy median of pairwise slopes, in chunks as large as ours."""
    size = len(points.series) // count
    t, y = points.time.reshape(count, size), points.low.reshape(count, size)
    i, j = np.triu_indices(size, 1)

    def work():
        for start in range(0, count, 2000):
            part = slice(start, start + 2000)
            np.median((y[part][:, j] - y[part][:, i]) / (t[part][:, j] - t[part][:, i]), axis=1)

    return timed(work)


def say(text):
    sys.stdout.write(text + "\n")


def main(most=100_000):
    for count in (1000, 10_000, 100_000):
        if count > most:
            break
        results = frame(count, (12, 12))
        points = lay_out(results).points
        whole, laid = timed(lambda r=results: trend(r)), timed(lambda r=results: lay_out(r))
        engine = timed(lambda p=points, n=count: fit(p, count=n))
        each, bare = loop(points, count), floor(points, count)
        loops = each * count
        loops = each * count
        say(f"{count:,} series of 12 ({len(results):,} rows): trend {whole:.3f} s, laying out {laid:.3f}")
        say(f"  a loop of scipy and pymannkendall {loops:.1f} s: {loops / whole:.0f} times as long")
        say(
            f"  engine {engine:.3f} s ({loops / engine:.0f} times); medians {bare:.3f} s: {engine / bare:.1f}"
        )
    results = frame(1000, (4, 20))
    points = lay_out(results).points
    engine, whole = timed(lambda: fit(points, count=1000), 5), timed(lambda: trend(results), 5)
    laid = timed(lambda: lay_out(results), 5)
    say(f"1,000 ragged series of 4 to 20: engine {1000 * engine:.1f} ms, laid out {1000 * laid:.1f} ms")
    say(f"  trend with garden rows and words {1000 * whole:.1f} ms")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)
