"""The notebooks on gardens that are nothing like the demonstration: they still run and make sense."""

import pytest
from gardens import shown

from soiltrend import desk

ODD = """hemisphere = "south"
[beds."NA"]
area_m2 = 1.5
depth_cm = 10
"""
ONCE = "Sample,Date sampled,pH,K (Mehlich-3) ppm\nNA,2024-04-12,6.4,142\n"
TWICE = """Bed,Date sampled,Depth in,pH (CaCl2),P (Olsen) lb/acre,K lb/acre,Zn
NA,2023-09-12,0-6,5.9,40,210,<0.5
NA,2024-09-20,0-6,6.0,44,190,0.9
"""
NOTHING = "No two tests to compare yet"


@pytest.fixture
def garden(tmp_path):
    """Return a function that writes a garden of one bed with the report given."""

    def make(report):
        (tmp_path / "reports").mkdir()
        (tmp_path / "garden.toml").write_text(ODD, encoding="utf-8")
        (tmp_path / "reports" / "a.csv").write_text(report, encoding="utf-8")
        return tmp_path

    return make


@pytest.mark.parametrize("path", desk.notebooks(), ids=lambda path: path.stem)
@pytest.mark.parametrize(
    ("report", "said"),
    [(TWICE, "spring 2023 to spring 2024"), (ONCE, NOTHING), ("", NOTHING)],
    ids=["two tests", "one test", "no test yet"],
)
def test_every_notebook_runs(garden, path, report, said, capsys):
    """Southern, one bed called NA, US units, a limit, a missing unit; what cannot be said is said so."""
    folder = garden(report)
    if not report:
        (folder / "reports" / "a.csv").unlink()
    pages = shown(path, folder)
    if path.stem.startswith("02"):
        assert said in "".join(pages) + capsys.readouterr().out
