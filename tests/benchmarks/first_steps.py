"""How long a newcomer waits: the import beside pandas', the report beside an empty notebook.

    python tests/benchmarks/first_steps.py

Prints seconds and, what matters more from machine to machine, ratios measured in one run.
"""

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import nbformat

from soiltrend import book

ROOT = Path(__file__).parents[2]
GARDEN = ROOT / "data_demo" / "oxmarrow-steps"
TIMES = 7


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


def main():
    pandas, ours = importing("pandas"), importing("soiltrend")
    sys.stdout.write(
        f"import pandas {pandas:.2f} s, import soiltrend {ours:.2f} s: {ours / pandas:.2f} times\n"
    )
    empty = empty_notebook()
    start = time.perf_counter()
    parts = book.report(GARDEN, title="benchmark", foot="", told=lambda *what: None)
    whole = time.perf_counter() - start
    each = whole / len(parts)
    sys.stdout.write(
        f"an empty notebook {empty:.1f} s; the report {whole:.1f} s for {len(parts)} notebooks, "
        f"{each:.1f} s each: {each / empty:.1f} times\n"
    )


if __name__ == "__main__":
    main()
