"""How often the interval of a recovery is right, on invented gardens whose recovery is known.

Run by hand, a few minutes::

    python tests/calibration_budget.py            # 500 gardens beside a check, 125 a row of the rest
    python tests/calibration_budget.py 100        # fewer

Each garden draws its own truth (analyses, measures, release, crops, bulk density) from the ranges that
the account draws from, and its tests err as the noise table says.
"""

import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace

import pandas as pd

from soiltrend.budget import budget
from soiltrend.budget.invented import Plot, invented

DRAWS = 1000
BATCH = 50


@dataclass(frozen=True)
class Cell:
    """One kind of garden."""

    name: str
    recovery: float = 0.7
    plot: Plot = field(default_factory=Plot)


CELLS = (
    Cell("beside a check bed"),
    Cell("all of it shows", recovery=1.0),
    Cell("a third shows", recovery=0.33),
    Cell("nothing shows", recovery=0.0),
    Cell("tests half as noisy as stated", plot=Plot(noise=0.5)),
)


def together(found):
    """Return many gardens as one, each with its own laboratory, so that only its own check stands by it."""
    parts = [one.garden for one in found]

    def renamed(name, **more):
        tables = [getattr(part, name) for part in parts]
        return pd.concat(
            [
                table.assign(bed=table["bed"] + f" {i}", **{k: v(i) for k, v in more.items()})
                for i, table in enumerate(tables)
            ],
            ignore_index=True,
        )

    return replace(
        parts[0],
        beds=renamed("beds"),
        results=renamed("results", lab=lambda i: f"garden {i}", sample=lambda i: ""),
        applications=renamed("applications"),
        harvests=renamed("harvests"),
    )


def judged(cell, seeds):
    """Return the rows of gardens that have an interval, with whether it holds the truth."""
    found = [invented(seed=seed, recovery=cell.recovery, plot=cell.plot) for seed in seeds]
    table = budget(together(found), draws=DRAWS, seed=seeds[0], confidence=0.9).table
    table = table[table["bed"].str.startswith("East") & table["observed"].notna()]
    return table.assign(
        kind=cell.name,
        bounded=table["low"].notna(),
        holds=(table["low"] <= cell.recovery) & (cell.recovery <= table["high"]),
        below=table["high"] < cell.recovery,
        width=table["high"] - table["low"],
    )[["kind", "nutrient", "bounded", "holds", "below", "width", "said"]]


def rates(table):
    """Return how often intervals hold the truth, of those that are bounded."""
    bounded = table[table["bounded"]]
    group = bounded.groupby(["kind", "nutrient"], sort=False)
    out = group.agg(
        n=("holds", "size"), holds=("holds", "mean"), below=("below", "mean"), width=("width", "median")
    )
    return out.assign(bounded=table.groupby(["kind", "nutrient"])["bounded"].mean())


def _of(arguments):
    cell, seeds = arguments
    return judged(cell, seeds)


def main(count=500, cells=CELLS):
    """Print the tables."""
    sizes = [count, *[count // 4] * (len(cells) - 1)]
    work = [
        (cell, range(at, min(at + BATCH, n)))
        for cell, n in zip(cells, sizes, strict=True)
        for at in range(0, n, BATCH)
    ]
    with ProcessPoolExecutor(2) as pool:
        table = pd.concat(list(pool.map(_of, work)), ignore_index=True)
    print(rates(table).round(3).to_string())  # noqa: T201
    whole = table[table["bounded"]].groupby("kind", sort=False)["holds"].agg(["size", "mean"])
    print(whole.round(3).to_string())  # noqa: T201


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
