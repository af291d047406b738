"""How long a newcomer waits: the import beside pandas', the report beside an empty notebook, and by beds.

    python tests/benchmarks/first_steps.py              # the demonstration garden, then 1, 10 and 60 beds
    python tests/benchmarks/first_steps.py 10           # the demonstration garden, then so many beds

Seconds waited are the clock's; those worked are the processor's, of all kernels together. What matters more
from machine to machine are the ratios, measured in one run. The garden of many beds has six years.
"""

import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import nbformat
from measured import exponent, say

from soiltrend import book

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests"))
from gardens import large_garden  # noqa: E402

GARDEN = ROOT / "data_demo" / "oxmarrow-steps"
TIMES = 7
SIZES, YEARS = (1, 10, 60), 6


def importing(module):
    """Return the median seconds that a fresh interpreter takes to import a module."""
    code = f"import time; a = time.perf_counter(); import {module}; print(time.perf_counter() - a)"
    runs = [
        float(subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout)
        for _ in range(TIMES)
    ]
    return statistics.median(runs)


def empty_notebook():
    """Return the seconds it takes to start a kernel and run a notebook that does nothing."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "empty.ipynb"
        cell = nbformat.v4.new_code_cell("", metadata={"tags": ["parameters"]})
        nbformat.write(nbformat.v4.new_notebook(cells=[cell]), path)
        start = time.perf_counter()
        book.run(path, garden=GARDEN)
        return time.perf_counter() - start


def worked():
    """Return the seconds that processes started here, and ended, have worked."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def report(garden):
    """Return the seconds waited and worked for the report of a garden, and how many notebooks it has."""
    start, before = time.perf_counter(), worked()
    parts = book.report(garden, title="benchmark", foot="", told=lambda *what: None)
    return time.perf_counter() - start, worked() - before, len(parts)


def main(given):
    pandas, ours = importing("pandas"), importing("soiltrend")
    say(f"import pandas {pandas:.2f} s, import soiltrend {ours:.2f} s: {ours / pandas:.2f} times")
    empty = empty_notebook()
    waited, spent, parts = report(GARDEN)
    say(
        f"an empty notebook {empty:.1f} s; the demonstration's report {waited:.1f} s for {parts} notebooks, "
        f"{spent:.1f} s worked: {spent / parts / empty:.1f} empty ones each"
    )
    sizes, each = [int(size) for size in given] or list(SIZES), []
    for beds in sizes:
        with tempfile.TemporaryDirectory() as folder:
            waited, spent, _ = report(large_garden(Path(folder) / "garden", beds=beds, years=YEARS))
        each.append(spent)
        say(f"{beds:>3} beds: {waited:.1f} s, {spent:.1f} s worked")
    if len(sizes) > 1:
        say(f"exponent {exponent(sizes, each):.2f}")


if __name__ == "__main__":
    main(sys.argv[1:])
