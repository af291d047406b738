"""Whole garden folders for tests and benchmarks, invented and as large as asked; notebooks run on them."""

import json

import numpy as np
from IPython.core.interactiveshell import InteractiveShell

from soiltrend.story import speak


def shown(notebook, folder):
    """Run the cells of a notebook on a garden in this process, and return the pages that they end in.

    It is quicker than a kernel of its own; units that a notebook speaks in are not left to what runs next.
    """
    shell, pages = InteractiveShell(), []
    cells = json.loads(notebook.read_text(encoding="utf-8"))["cells"]
    try:
        for number, cell in enumerate(cell for cell in cells if cell["cell_type"] == "code"):
            found = shell.run_cell("".join(cell["source"]))
            assert found.success, found.error_in_exec or found.error_before_exec
            if number == 0:
                shell.user_ns["GARDEN"] = str(folder)
            pages.append(getattr(found.result, "_repr_html_", str)() or "")
    finally:
        speak(units="metric")
    return pages


LEVELS = {"pH (water 1:1)": 6.4, "OM (LOI) %": 5.0, "P (Mehlich-3) mg/kg": 45, "K (Mehlich-3) mg/kg": 150,
          "Ca (Mehlich-3) mg/kg": 1800, "Mg (Mehlich-3) mg/kg": 180, "Na (Mehlich-3) mg/kg": 25,
          "S (Mehlich-3) mg/kg": 12, "B (Mehlich-3) mg/kg": 0.7, "Zn (Mehlich-3) mg/kg": 4,
          "Mn (Mehlich-3) mg/kg": 30, "Cu (Mehlich-3) mg/kg": 1.5}  # fmt: skip


def large_garden(folder, *, beds, years, seed=1):
    """Write a garden of so many beds, tested every spring, dressed and cropped every year; return its path.

    One bed in ten is a check bed; the others get compost every spring, and their potassium rises.
    """
    rng = np.random.default_rng(seed)
    names = [f"Row {number:02d}" for number in range(1, beds + 1)]
    check = [number % 10 == 0 for number in range(1, beds + 1)]
    (folder / "reports").mkdir(parents=True)
    toml = [f'[beds."{name}"]\narea_m2 = 10\ndepth_cm = 15\ncheck = {str(held).lower()}\n'
            for name, held in zip(names, check, strict=True)]  # fmt: skip
    (folder / "garden.toml").write_text(f'name = "{beds} beds"\n' + "".join(toml), encoding="utf-8")
    (folder / "reports" / "report.toml").write_text('lab = "Hill"\ndepth_cm = 15\n', encoding="utf-8")
    went, came = ["date,bed,material,amount,unit,note"], ["date,bed,crop,kg,residue,note"]
    for at in range(years):
        year = 2010 + at
        lines = ["Sample,Date sampled," + ",".join(LEVELS)]
        for name, held in zip(names, check, strict=True):
            values = np.array(list(LEVELS.values())) * np.exp(rng.normal(0, 0.08, len(LEVELS)))
            values[0] = 6.4 + rng.normal(0, 0.1)
            values[3] *= 1 if held else 1.02**at
            lines.append(f"{name},{year}-04-{1 + at % 9:02d}," + ",".join(f"{value:.4g}" for value in values))
            if not held:
                went.append(f"{year}-05-02,{name},garden compost,20,kg,")
            came.append(f"{year}-08-20,{name},potatoes,18,removed,")
        (folder / "reports" / f"spring-{year}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (folder / "applications.csv").write_text("\n".join(went) + "\n", encoding="utf-8")
    (folder / "harvests.csv").write_text("\n".join(came) + "\n", encoding="utf-8")
    return folder
