"""A whole report that is killed, stopped, run twice at once, or runs out of room: never half a file."""

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import nbformat
import pytest
from test_faults import fill, marks, small_disk  # noqa: F401  (a fixture)

import soiltrend as st
from soiltrend import book, cli, writing

REPORT = """
import signal, sys
from pathlib import Path
from soiltrend import book, cli
signal.signal(signal.SIGINT, signal.default_int_handler)  # a job of a shell's background ignores it otherwise
book.notebooks = lambda: sorted(Path(sys.argv[1]).glob("*.ipynb"))
sys.exit(cli.main(["report", sys.argv[2]]))
"""
WRITES = """
import os, time
from pathlib import Path
from soiltrend import writing
out, wait = Path(GARDEN) / "out", Path(WAIT)
writing.text(out / "tables" / "whole.csv", "new" * 10_000)
with writing.aside(out / "charts" / "half.svg") as fresh:
    fresh.write_text("new")
    if wait.exists():
        (wait / str(os.getpid())).touch()
        time.sleep(120)
"""


@pytest.fixture
def shelf(tmp_path):
    """Give a folder with a notebook that writes, and waits in the middle while another folder is there."""
    (tmp_path / "shelf").mkdir()
    (tmp_path / "wait").mkdir()
    cells = [nbformat.v4.new_markdown_cell("# One"),
             nbformat.v4.new_code_cell(f"GARDEN, WAIT = '', {str(tmp_path / 'wait')!r}",
                                       metadata={"tags": ["parameters"]}),
             nbformat.v4.new_code_cell(WRITES)]  # fmt: skip
    nbformat.write(nbformat.v4.new_notebook(cells=cells), tmp_path / "shelf" / "01_one.ipynb")
    return tmp_path / "shelf"


def begin(shelf, garden):
    """Begin a report of a garden in a process of its own."""
    command = [sys.executable, "-c", REPORT, str(shelf), str(garden)]
    env = {**os.environ, "PYTHONPATH": str(Path(st.__file__).parents[1])}
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=env)


def kernels(shelf, count):
    """Wait until so many notebooks are in the middle of a file, and return the numbers of their processes."""
    end, wait = time.monotonic() + 100, shelf.parent / "wait"
    while len(list(wait.iterdir())) < count:
        assert time.monotonic() < end
        time.sleep(0.05)
    return [int(path.name) for path in wait.iterdir()]


def gone(numbers):
    """Wait until processes are no more: a kernel looks once a second whether its parent lives."""
    end = time.monotonic() + 20
    while any(Path(f"/proc/{number}").exists() for number in numbers):
        assert time.monotonic() < end, f"{numbers} stayed behind"
        time.sleep(0.05)


def old(garden):
    """Write what an earlier report left, and return its texts."""
    told = {name: f"old {name}" for name in ("report.html", "tables/whole.csv", "charts/half.svg")}
    for name, text in told.items():
        writing.text(garden / "out" / name, text)
    return told


@pytest.mark.skipif(not Path("/proc").exists(), reason="it is told there whether a process lives")
def test_a_killed_report_leaves_the_old_files_and_two_at_once_then_leave_whole_ones(tmp_path, shelf):
    """SIGKILL in the middle of a file; then two reports run side by side and nothing half is left."""
    garden = fill(tmp_path / "garden")
    before, was = marks(garden), old(garden)
    (garden / "out" / "tables" / "whole.csv").unlink()
    with begin(shelf, garden) as run:
        numbers = kernels(shelf, 1)
        run.send_signal(signal.SIGKILL)
    gone(numbers)
    out = garden / "out"
    assert (out / "report.html").read_text() == was["report.html"]
    assert (out / "charts" / "half.svg").read_text() == was["charts/half.svg"]
    assert (out / "tables" / "whole.csv").read_text() == "new" * 10_000
    assert len(list(out.rglob(f"{writing.ASIDE}*"))) == 1, "what was half made lies aside"
    shutil.rmtree(tmp_path / "wait")
    runs = [begin(shelf, garden) for _ in range(2)]
    said = [run.communicate()[0] for run in runs]
    assert [run.returncode for run in runs] == [0, 0], said
    page = (out / "report.html").read_text(encoding="utf-8")
    assert page.startswith("<!DOCTYPE html>")
    assert page.endswith("</html>\n")
    assert page.count("<section") == 1
    made = sorted(path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file())
    assert made == ["charts/half.svg", "report.html", "tables/whole.csv"]
    assert (out / "charts" / "half.svg").read_text() == "new"
    assert marks(garden) == before


@pytest.mark.skipif(not Path("/proc").exists(), reason="it is told there whether a process lives")
def test_a_report_that_is_stopped_leaves_no_kernel_and_no_traceback(tmp_path, shelf):
    """Ctrl-C (SIGINT) has status 130 and a sentence, SIGTERM 143; the old files stand whole."""
    gardens = {number: fill(tmp_path / f"garden {number}") for number in (signal.SIGINT, signal.SIGTERM)}
    was = {number: (marks(garden), old(garden)) for number, garden in gardens.items()}
    runs = {number: begin(shelf, garden) for number, garden in gardens.items()}
    numbers = kernels(shelf, 2)
    for number, run in runs.items():
        run.send_signal(number)
    said = {number: run.communicate()[0] for number, run in runs.items()}
    assert [runs[number].returncode for number in (signal.SIGINT, signal.SIGTERM)] == [130, 143]
    assert "Stopped. Every file there is whole" in said[signal.SIGINT]
    gone(numbers)
    for number, garden in gardens.items():
        assert "Traceback" not in said[number]
        assert marks(garden) == was[number][0]
        for name in ("report.html", "charts/half.svg"):
            assert (garden / "out" / name).read_text() == was[number][1][name]


LARGE = """
from pathlib import Path
from soiltrend import writing
writing.text(Path(GARDEN) / "out" / "tables" / "whole.csv", "new" * 1_000_000)
"""


def test_a_disk_that_fills_up_under_a_report(small_disk, tmp_path, monkeypatch, capsys):  # noqa: F811
    """The part that found no room is named with its reason; the other files and the old table are whole."""
    before, was = marks(small_disk), old(small_disk)
    cells = [nbformat.v4.new_code_cell("GARDEN = ''", metadata={"tags": ["parameters"]}),
             nbformat.v4.new_code_cell(LARGE)]  # fmt: skip
    nbformat.write(nbformat.v4.new_notebook(cells=cells), tmp_path / "01_one.ipynb")
    monkeypatch.setattr(book, "notebooks", lambda: [tmp_path / "01_one.ipynb"])
    assert cli.main(["report", str(small_disk)]) == cli.PROBLEMS
    assert "01_one stopped: SoiltrendError:" in capsys.readouterr().out
    out = small_disk / "out"
    assert "No space left on device" in (out / "report.html").read_text(encoding="utf-8")
    assert (out / "tables" / "whole.csv").read_text() == was["tables/whole.csv"]
    assert list(out.rglob(f"{writing.ASIDE}*")) == []
    assert marks(small_disk) == before


def test_a_report_without_room_for_its_page_keeps_the_old_one(small_disk, monkeypatch, capsys):  # noqa: F811
    """The page does not fit when all is done: said, and the old page stands."""
    was = old(small_disk)
    (small_disk / "out" / "filler").write_bytes(bytes(232 * 1024))
    monkeypatch.setattr(book, "notebooks", lambda: [])
    monkeypatch.setattr(book, "page", lambda parts, **told: "x" * 100_000)
    assert cli.main(["report", str(small_disk)]) == cli.PROBLEMS
    assert "No space left on device" in capsys.readouterr().err
    assert (small_disk / "out" / "report.html").read_text() == was["report.html"]
    assert list((small_disk / "out").rglob(f"{writing.ASIDE}*")) == []
