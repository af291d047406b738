"""How long a region takes that goes by in chunks, and that its memory is a chunk's.

    python tests/benchmarks/region.py                   # 4,000 to 1,000,000 series
    python tests/benchmarks/region.py 40000             # as many as said

A garden has twenty beds of twenty measures, tested twelve times; a chunk holds ten gardens; the tables of
``st.trend`` go to a file as they come. Beside each size stands what the tidy frame of the whole region alone
would take in memory. Each size runs in a process of its own; see ``measured.py`` for how both are counted.
"""

import json
import sys
import tempfile
from pathlib import Path

import numpy as np
from measured import alone, best, exponent, peak, say
from trend import frame

import soiltrend as st

SIZES = (4000, 40_000, 200_000, 1_000_000)
SERIES, TESTS, TOGETHER = 400, 12, 10
"""Series in a garden, tests in a series, gardens in a chunk."""


def chunks(series, seed=1):
    """Yield the region ten gardens at a time, no two of them alike."""
    rng = np.random.default_rng(seed)
    first = frame(SERIES, (TESTS, TESTS))
    for start in range(0, series // SERIES, TOGETHER):
        gardens = np.repeat([f"garden {start + at}" for at in range(TOGETHER)], len(first))
        rows = first.loc[np.tile(first.index, TOGETHER)].reset_index(drop=True)
        change = np.exp(rng.normal(0, 0.05, len(rows)))
        yield rows.assign(garden=gardens, value=(rows["value"] * change).round(2))


def work(series, path):
    """Ask every garden for its trends, and write each table as it comes; return how many rows came."""
    rows = 0
    with path.open("w", encoding="utf-8", newline="") as file:
        for table in st.by_garden(chunks(series), ask=st.trend):
            table.to_csv(file, index=False, header=rows == 0)
            rows += len(table)
    return rows


def one(series):
    """Measure one size and write it."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "trends.csv"
        work(SERIES * TOGETHER, path)  # what is loaded once is no part of what grows
        spent: list[float] = []
        told = {"bytes": peak(lambda: spent.append(best(lambda: work(series, path), times=1)[0]))}
        told["worked"] = spent[0]
    chunk = next(chunks(SERIES * TOGETHER))
    told["whole"] = chunk.memory_usage(deep=True).sum() * series / (SERIES * TOGETHER)
    say(json.dumps(told))


def main(sizes):
    if sizes[:1] == ["--one"]:
        one(int(sizes[1]))
        return
    spent = []
    sizes = [int(size) for size in sizes] or list(SIZES)
    for size in sizes:
        told = alone(__file__, size)
        spent.append(told["worked"])
        say(
            f"{size:>9,} series: {spent[-1]:7.1f} s, {told['bytes'] / 1e6:.0f} MB more at most; "
            f"the frame of the whole would be {told['whole'] / 1e6:,.0f} MB"
        )
    if len(sizes) > 1:
        say(f"exponent {exponent(sizes, spent):.2f}")


if __name__ == "__main__":
    main(sys.argv[1:])
