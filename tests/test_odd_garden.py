"""Notebooks on a garden that is unlike the demonstration's in all that a garden may be unlike in.

It lies in the south; its beds have names that other programs would take for formulas
or pages; its grower writes the sheet herself, without samples, laboratory, exchange capacity or a log, with
salts and limits of detection; one bed is a check, one is to be blueberries, one was tested once.
"""

import json
from pathlib import Path

import numpy as np
import pytest
from IPython.core.interactiveshell import InteractiveShell

QUICK = ("01", "03", "05", "07", "09")
NOTEBOOKS = sorted(
    path for path in (Path(__file__).parents[1] / "notebooks").glob("*.ipynb") if path.stem[:2] in QUICK
)
BEDS = {
    "=SUM(A1)": "",
    "<b>Duck</b> pond": 'crop = "blueberry"',
    "Øst": "check = true",
    "Long bed by the very old wall of the western paddock": "sowing = 2026-10-01\nharvest = 2026-12-20",
}
HEAD = (
    "Bed,Date sampled,pH (water 1:1),Buffer pH (Sikora),P (Mehlich-3) lb/ac,K (Mehlich-3) ppm,"
    "Ca (Mehlich-3) ppm,Mg (Mehlich-3) ppm,EC (saturated paste) mmho/cm,B (hot water) ppm"
)
MIDDLE = (5.4, 6.3, 30, 70, 600, 50, 0.5, 0.3)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Write the garden, three years of it."""
    path = tmp_path_factory.mktemp("odd") / "garden"
    (path / "reports").mkdir(parents=True)
    beds = [f'[beds."{name}"]\narea_ft2 = 96\ndepth_in = 6\n{more}\n' for name, more in BEDS.items()]
    toml = 'hemisphere = "south"\n' + "".join(beds)
    (path / "garden.toml").write_text(toml, encoding="utf-8")
    (path / "reports" / "report.toml").write_text("depth_cm = 15\n", encoding="utf-8")
    rng, lines = np.random.default_rng(3), [HEAD]
    days = [f"{day}/{year}" for year in (2023, 2024, 2025) for day in ("12/04", "20/09")]
    for at, name in enumerate(BEDS):
        middle = np.array(MIDDLE) * [1 + 0.07 * at, 1 + 0.02 * at, *[1 + at] * 6]
        for day in days if name != "Øst" else days[-1:]:
            noise = rng.normal(1, [0.01, 0.005, *[0.06] * 6])
            values = [f"{value:.3g}" for value in middle * noise]
            values[-1] = "<0.5" if at == 0 else values[-1]
            lines.append(f'"{name}",{day},' + ",".join(values))
    (path / "reports" / "mine.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_every_cell_runs(path, folder, capsys):
    """No cell stops, and what a cell shows holds no bed's name as a page's own tags."""
    shell = InteractiveShell()
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    for number, cell in enumerate(cell for cell in cells if cell["cell_type"] == "code"):
        found = shell.run_cell("".join(cell["source"]))
        assert found.success, found.error_in_exec or found.error_before_exec
        if number == 0:
            shell.user_ns["GARDEN"] = str(folder)
        page = getattr(found.result, "_repr_html_", str)() or ""
        assert "<b>Duck" not in page
    capsys.readouterr()
