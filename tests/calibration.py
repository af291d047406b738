"""How often the intervals and verdicts are right, on simulated gardens whose truth is known.

Run by hand, a few minutes::

    python tests/calibration.py            # 2,000 gardens a cell
    python tests/calibration.py 300        # fewer

Each garden has its own laboratory and methods, so that all gardens of a cell can be compared in one
call without learning from each other: occasions, noise and garden rows stay apart.
"""

import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import product

import numpy as np
import pandas as pd

from soiltrend import frames, noise, verdicts
from soiltrend.compare import compare
from soiltrend.simulate import Design, simulate_garden

BEFORE, AFTER = "spring 2022", "spring 2024"
ANALYTES = {"pH": 6.4, "OM": 5.0, "K": 150.0, "B": 0.7}


@dataclass(frozen=True)
class Cell:
    """One kind of garden: how it is sampled and how noise falls."""

    composites: int = 1
    shape: str = "normal"
    beds: int = 6
    limits: bool = False
    factor: float = 1.0


def gardens(cell, *, count, change=None, seed=0):
    """Return so many gardens in one frame, each under its own laboratory and methods."""
    design = Design(
        beds=cell.beds,
        composites=cell.composites,
        seasons=(BEFORE, AFTER),
        levels=ANALYTES,
        limits={"B": 0.7, "K": 120.0} if cell.limits else {},
    )
    stated = {
        row["analyte"]: {
            "sd": row["sd"] * cell.factor,
            "relative": np.nan_to_num(row["relative"]) * cell.factor,
        }
        for _, row in noise.noise_model().table.iterrows()
        if row["analyte"] in ANALYTES and not row["method"]
    }
    model = noise.noise_model(simulate_garden(seed=0, design=design), overrides=stated)
    parts = [
        simulate_garden(
            seed=seed * 1_000_003 + i, design=design, change=change, noise=model, shape=cell.shape
        ).assign(lab=f"garden {i}", method=f"method {i}")
        for i in range(count)
    ]
    return pd.concat(parts, ignore_index=True)


def judged(frame, *, change=None, model=None):
    """Return the rows of the comparison with whether each interval holds the truth."""
    table = compare(frame, before=BEFORE, after=AFTER, noise=model).table
    table = table[table["verdict"] != verdicts.NOT_COMPARABLE].copy()
    step = table["analyte"].map(change or {}).fillna(0.0)
    true = np.where(table["scale"] == "log", table["before"] * np.expm1(step), step)
    table["covered"] = (table["low"] <= true) & (true <= table["high"])
    table["garden"] = table["bed"] == frames.GARDEN
    table["moved"] = table["verdict"].isin([verdicts.ROSE, verdicts.FELL])
    return table


def rates(cell, *, count, seed=0):
    """Return coverage and false alarms of one cell, for bed rows and garden rows."""
    table = judged(gardens(cell, count=count, seed=seed))
    margins = {"pH": 0.2, "OM": 0.5, "K": float(np.log(1.15)), "B": float(np.log(1.2))}
    edge = judged(gardens(cell, count=count, change=margins, seed=seed + 1), change=margins)
    beds, garden = table[~table["garden"]], table[table["garden"]]
    by_garden = beds.assign(found=beds["moved"] & (beds["q"] <= 0.05))
    return {
        "composites": cell.composites,
        "shape": cell.shape,
        "limits": cell.limits,
        "sd x": cell.factor,
        "bed covers": beds["covered"].mean(),
        "bed false": beds["moved"].mean(),
        "garden covers": garden["covered"].mean(),
        "garden false": garden["moved"].mean(),
        "held at the margin, bed": (edge[~edge["garden"]]["verdict"] == verdicts.HELD).mean(),
        "held at the margin, garden": (edge[edge["garden"]]["verdict"] == verdicts.HELD).mean(),
        "any found after adjusting": by_garden.groupby("lab")["found"].any().mean(),
    }


def _of(arguments):
    cell, count = arguments
    return rates(cell, count=count)


def main(count=2000):
    """Print the table."""
    cells = [
        Cell(composites=n, shape=shape) for n, shape in product((1, 2, 3, 5), ("normal", "heavy", "skewed"))
    ]
    cells += [Cell(composites=n, limits=True) for n in (1, 3)]
    cells += [Cell(composites=n, factor=f) for n, f in product((1, 3), (0.7, 1.5))]
    with ProcessPoolExecutor(2) as pool:
        table = pd.DataFrame(list(pool.map(_of, [(cell, count) for cell in cells])))
    print(table.round(3).to_string(index=False))  # noqa: T201


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
