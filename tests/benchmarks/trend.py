"""How fast trends are found, against a loop of general-purpose references and a bare floor.

    python tests/benchmarks/trend.py                 # up to a million series of 8, 12 and 20 tests
    python tests/benchmarks/trend.py 10000           # fewer

The engine (``soiltrend.slopes.batch.fit``) stands beside a bare numpy median of pairwise slopes, in the
same process; ``st.trend`` (laid out from the tidy frame, with garden rows and words; up to 100,000
series, or as many as a second number says) beside a loop over series of scipy.stats.theilslopes and
kendalltau, ordinary least squares of statsmodels and pymannkendall.original_test. That loop is timed on
300 series and multiplied. See ``measured.py`` for how seconds and memory are counted.
"""

import json
import sys

import numpy as np
import pandas as pd
from measured import alone, best, exponent, peak, say

from soiltrend import frames, tables, vocabulary
from soiltrend.slopes.batch import Points, fit
from soiltrend.trend import trend

ANALYTES = tables.load("analytes")["analyte"].tolist()[:20]
SIZES = (1000, 10_000, 100_000, 1_000_000)
LENGTHS = (8, 12, 20)
SAMPLE = 300
"""Series on which the loop is timed."""


def points(count, tests, seed=1):
    """Return so many series of so many yearly tests, of concentrations with two decimals."""
    rng = np.random.default_rng(seed)
    time = np.tile(np.arange(tests) + rng.integers(0, 30, tests) / 365.2425, count)
    value = np.log(np.exp(rng.normal(3, 0.15, count * tests)).round(2))
    series = np.repeat(np.arange(count), tests)
    return Points(series, np.zeros_like(series), time, value, value)


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


def loop(tests):
    """Return the seconds that the references take for one series, from some of them."""
    import pymannkendall
    import statsmodels.api as sm
    from scipy import stats

    made = points(SAMPLE, tests)
    t, y = made.time.reshape(SAMPLE, tests), made.low.reshape(SAMPLE, tests)

    def work():
        for when, value in zip(t, y, strict=True):
            stats.theilslopes(value, when)
            stats.kendalltau(when, value)
            sm.OLS(value, sm.add_constant(when)).fit().conf_int()
            pymannkendall.original_test(value)

    return best(work)[0] / SAMPLE


def medians(made, tests):
    """Write nothing but the median of the pairwise slopes, in chunks as large as the engine's."""
    t, y = made.time.reshape(-1, tests), made.low.reshape(-1, tests)
    i, j = np.triu_indices(tests, 1)
    for start in range(0, len(t), 2000):
        part = slice(start, start + 2000)
        np.median((y[part][:, j] - y[part][:, i]) / (t[part][:, j] - t[part][:, i]), axis=1)


def one(kind, count, tests):
    """Measure one size of the engine or of ``st.trend`` and write it."""
    times = 3 if count <= 100_000 else 1
    if kind == "engine":
        fit(points(10, tests), count=10)
        made = points(count, tests)
        told = {"floor": best(lambda: medians(made, tests), times)[0]}
        work = lambda: fit(made, count=count)  # noqa: E731
    else:
        trend(frame(100, (tests, tests)))
        results, told = frame(count, (tests, tests)), {}
        work = lambda: trend(results)  # noqa: E731
    told["bytes"] = peak(work) / (count * tests)
    told["worked"], told["waited"] = best(work, times)
    say(json.dumps(told))


def measure(kind, tests, sizes, each):
    """Measure the engine or ``st.trend`` over its sizes, and say what comes of it."""
    spent = []
    for count in sizes:
        told = alone(__file__, kind, count, tests)
        spent.append(told["worked"])
        beside = f", {told['worked'] / told['floor']:.1f} times bare medians" if kind == "engine" else ""
        say(
            f"{kind:8s} {count:>9,} series of {tests:2d}: {told['worked']:8.3f} s (waited "
            f"{told['waited']:.3f}){beside}, the loop {each * count / told['worked']:,.0f} times as long, "
            f"{told['bytes']:.0f} bytes a value"
        )
    if len(sizes) > 1:
        say(f"{kind:8s} series of {tests:2d}: exponent {exponent(sizes, spent):.2f}")


def main(given):
    if given[:1] == ["--one"]:
        one(given[1], int(given[2]), int(given[3]))
        return
    most = int(given[0]) if given else SIZES[-1]
    whole = int(given[1]) if len(given) > 1 else min(most, 100_000)
    for tests in LENGTHS:
        each = loop(tests)
        say(f"a loop of the references takes {1000 * each:.2f} ms for a series of {tests}")
        measure("engine", tests, [size for size in SIZES if size <= most], each)
        measure("st.trend", tests, [size for size in SIZES if size <= whole], each)


if __name__ == "__main__":
    main(sys.argv[1:])
