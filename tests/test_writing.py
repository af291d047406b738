"""What is written is whole or not there, lies under out/, and is no formula."""

import errno
import os
import signal
import subprocess
import sys
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from soiltrend import writing
from soiltrend.errors import SoiltrendError


@pytest.fixture
def garden(tmp_path):
    """Return a folder that is a garden's."""
    (tmp_path / "garden.toml").write_text("", encoding="utf-8")
    return tmp_path


def test_a_file_is_moved_into_place_whole(tmp_path):
    """What was there stays until the new text is complete; nothing else is left behind."""
    path = tmp_path / "out" / "report.html"
    writing.text(path, "old")
    with writing.aside(path) as fresh:
        fresh.write_text("new")
        assert path.read_text() == "old"
    assert path.read_text() == "new"
    assert [file.name for file in path.parent.iterdir()] == ["report.html"]


def test_what_breaks_in_the_middle_leaves_the_old_file(tmp_path):
    """An error inside passes on as it is; the old file is whole and nothing lies beside it."""
    path = tmp_path / "a.csv"
    writing.text(path, "old")

    def half(path):
        with writing.aside(path) as fresh:
            fresh.write_text("half")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        half(path)
    assert path.read_text() == "old"
    assert [file.name for file in tmp_path.iterdir()] == ["a.csv"]


def test_a_full_disk_is_said_and_the_old_file_stays(tmp_path, monkeypatch):
    """As the system says it (ENOSPC), with what to do."""
    path = tmp_path / "a.txt"
    writing.text(path, "old")

    def full(*given, **named):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Path, "write_text", full)
    with pytest.raises(SoiltrendError, match=r"cannot be written \(No space left on device\).*Make room"):
        writing.text(path, "new")
    assert path.read_bytes() == b"old"
    assert [file.name for file in tmp_path.iterdir()] == ["a.txt"]


def test_a_folder_in_the_way_is_said(tmp_path):
    """A file where a folder is needed, and a folder where the file should be."""
    (tmp_path / "out").write_text("a file")
    with pytest.raises(SoiltrendError, match="cannot be written"):
        writing.text(tmp_path / "out" / "a.txt", "x")
    (tmp_path / "folder").mkdir()
    with pytest.raises(SoiltrendError, match="cannot be written"):
        writing.text(tmp_path / "folder", "x")


@pytest.mark.parametrize("path", ["samples.csv", "reports/a.csv", "out/../garden.toml", "outer/a.csv"])
def test_nothing_but_out_is_written_in_a_garden(garden, path):
    """The grower's own files and whatever lies beside them are refused."""
    with pytest.raises(SoiltrendError, match="does not lie under"):
        writing.text(garden / path, "x")
    writing.text(garden / "out" / "tables" / "a.csv", "x")
    assert sorted(file.name for file in garden.iterdir()) == ["garden.toml", "out"]


def test_out_that_leads_elsewhere_is_refused(garden, tmp_path_factory):
    """A garden from a stranger may hold a link in the place of out/ or of a folder in it."""
    elsewhere = tmp_path_factory.mktemp("elsewhere")
    (garden / "out").symlink_to(elsewhere)
    with pytest.raises(SoiltrendError, match="does not lie under"):
        writing.text(garden / "out" / "a.csv", "x")
    (garden / "out").unlink()
    (garden / "out").mkdir()
    (garden / "out" / "tables").symlink_to(elsewhere)
    with pytest.raises(SoiltrendError, match="does not lie under"):
        writing.text(garden / "out" / "tables" / "a.csv", "x")
    assert list(elsewhere.iterdir()) == []


def test_a_link_in_the_place_of_a_file_is_replaced_and_not_followed(garden, tmp_path_factory):
    """What the link points at stays as it is."""
    target = tmp_path_factory.mktemp("elsewhere") / "secret"
    target.write_text("mine")
    (garden / "out").mkdir()
    (garden / "out" / "report.html").symlink_to(target)
    writing.text(garden / "out" / "report.html", "page")
    assert target.read_text() == "mine"
    assert (garden / "out" / "report.html").read_text() == "page"


def test_a_garden_reached_by_a_link_is_written_to(garden, tmp_path_factory):
    """The grower may keep her garden's folder elsewhere and link to it."""
    link = tmp_path_factory.mktemp("desk") / "my garden"
    link.symlink_to(garden)
    writing.text(link / "out" / "a.txt", "x")
    assert (garden / "out" / "a.txt").read_text() == "x"


HALF = """
import sys, time
from soiltrend import writing
with writing.aside(sys.argv[1]) as fresh:
    fresh.write_text("half")
    print("half", flush=True)
    time.sleep(60)
"""


@pytest.fixture
def half_written(garden):
    """Give a process that holds a half-written file of a garden's out/."""
    command = [sys.executable, "-c", HALF, str(garden / "out" / "tables" / "a.csv")]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as process:
        assert process.stdout.readline() == b"half\n"
        yield process
        process.kill()


def parts(folder):
    """Return what lies under out/ that is half made."""
    return sorted((folder / "out").rglob(f"{writing.ASIDE}*"))


@pytest.mark.skipif(os.name == "nt", reason="a file that is open cannot be removed there")
def test_what_a_killed_run_left_is_swept_and_what_another_writes_is_not(garden, half_written):
    """By the next write into that folder, or the next report; never while its maker lives."""
    assert len(parts(garden)) == 1
    writing.text(garden / "out" / "tables" / "b.csv", "x")
    writing.ready(garden / "out" / "report.html")
    assert len(parts(garden)) == 1, "its maker lives"
    half_written.send_signal(signal.SIGKILL)
    half_written.wait()
    writing.text(garden / "out" / "c.txt", "x")
    assert len(parts(garden)) == 1, "another folder"
    writing.ready(garden / "out" / "report.html")
    assert parts(garden) == []
    assert sorted(file.name for file in (garden / "out").rglob("*")) == ["b.csv", "c.txt", "tables"]


def test_only_what_this_tool_made_is_swept(garden, tmp_path_factory):
    """A link of that name to a folder of hers, a folder without its mark, a file."""
    mine = tmp_path_factory.mktemp("mine")
    (mine / writing.HELD).write_text("")
    (mine / "thesis.txt").write_text("years")
    out = garden / "out"
    (out / f"{writing.ASIDE}own").mkdir(parents=True)
    (out / f"{writing.ASIDE}link").symlink_to(mine)
    (out / f"{writing.ASIDE}file").write_text("")
    (out / f"{writing.ASIDE}loop").symlink_to(out / f"{writing.ASIDE}loop")
    held = out / f"{writing.ASIDE}held-link"
    held.mkdir()
    (held / writing.HELD).symlink_to(mine / "thesis.txt")
    writing.text(out / "a.txt", "x")
    assert (mine / "thesis.txt").read_text() == "years"
    assert len(parts(garden)) == 5


def test_what_could_not_be_written_is_refused_before_the_work(garden, tmp_path_factory):
    """A folder in its place, a link in the place of out/; and nothing is left by asking."""
    (garden / "out" / "report.html").mkdir(parents=True)
    with pytest.raises(SoiltrendError, match=r"report\.html' is a folder"):
        writing.ready(garden / "out" / "report.html")
    writing.ready(garden / "out" / "other.html")
    assert [file.name for file in (garden / "out").iterdir()] == ["report.html"]
    (garden / "out" / "report.html").rmdir()
    (garden / "out").rmdir()
    (garden / "out").symlink_to(tmp_path_factory.mktemp("elsewhere"))
    with pytest.raises(SoiltrendError, match="does not lie under"):
        writing.ready(garden / "out" / "report.html")
    (garden / "out").unlink()
    (garden / "out").symlink_to(garden / "out")
    with pytest.raises(SoiltrendError, match="cannot be written"):
        writing.ready(garden / "out" / "report.html")


FORMULAS = [
    "=1+1", '=HYPERLINK("http://x.y","z")', "+cmd|' /C calc'!A0", "-2+3", "@SUM(A1)", "\t=1", "\n=1", " =1",
    "＝1",
]  # fmt: skip


@pytest.mark.parametrize("text", FORMULAS)
def test_a_formula_becomes_a_text(tmp_path, text):
    """In cells and headings; the openpyxl library, which calls a formula what a spreadsheet would,
    finds none. (The list of signs is OWASP's, "CSV injection".)"""
    path = tmp_path / "a.csv"
    writing.table(path, pd.DataFrame({"bed": [text], text: ["Hill"]}))
    read = pd.read_csv(path, header=None, dtype="str", keep_default_na=False)
    assert read.shape == (2, 2)
    sheet = openpyxl.Workbook().active
    for row in read.to_numpy().tolist():
        sheet.append(row)
    assert {cell.data_type for row in sheet.iter_rows() for cell in row} == {"s"}
    assert read.iloc[1, 0] == f"'{text}"
    assert read.iloc[0, 1] == f"'{text}"


BEHIND = ["East;=1+1", "East; @SUM(A1)", "a;\t=1", "East\t=1", "a;-cmd|'/C calc'!A0;b", "=1;=2", "a; - 3"]


@pytest.mark.parametrize("text", BEHIND)
def test_no_formula_stands_behind_another_separator(text):
    """Where a program parts cells by semicolons or tabs no cell begins with one that calls or refers to
    anything (OWASP, "CSV Injection", on separators); and what was meant can be read back."""
    written = writing.plain_text(text)
    for mark in ";\t":
        for cell in written.split(mark):
            assert not cell.strip().startswith(("=", "@"))
            assert not (cell.strip()[:1] in ("+", "-") and cell.strip(" +-\t")[:1].isalpha())
    assert writing.as_told(written) == text


def test_what_was_no_formula_is_read_back_too():
    """Texts with apostrophes of their own."""
    for text in ("'tis", "East", "a;'b'", "-0.5", "", *FORMULAS):
        assert writing.as_told(writing.plain_text(text)) == text


WRITERS = {
    "text": writing.text,
    "table": lambda path, name: writing.table(path, pd.DataFrame({"a": pd.Series([name], dtype=object)})),
}


@pytest.mark.parametrize("write", WRITERS.values(), ids=WRITERS)
def test_bytes_that_are_no_letters_can_be_written(tmp_path, write):
    """A file's name need not be text (PEP 383); what is written of it is."""
    name = os.fsdecode(b"Sp\xfcring")
    write(tmp_path / "a.txt", name)
    assert r"Sp\udcfcring" in (tmp_path / "a.txt").read_text(encoding="utf-8")
    assert writing.writable(name) == r"Sp\udcfcring"


def test_a_line_break_ends_no_row(tmp_path):
    """A lone carriage return would end the row, and what follows could be a formula."""
    writing.table(tmp_path / "a.csv", pd.DataFrame({"bed": ["East\r=1+1", "West\r\n=2"]}))
    assert (tmp_path / "a.csv").read_bytes() == b'bed\n"East\n=1+1"\n"West\n=2"\n'


@pytest.mark.parametrize(
    "text", ["-0.5", "+3", "-1,5", "-", "--", "-12 %", "-1e-3", "<0.5", "Hill", "", "'x"]
)
def test_a_number_and_a_mark_stay_as_they_are(text):
    """Signed numbers, marks of a missing value, and everything else."""
    assert writing.plain_text(text) == text


def test_numbers_and_days_are_written_as_before(tmp_path):
    """Columns of numbers are untouched: what comes back is what went in."""
    frame = pd.DataFrame(
        {
            "value": [-1.5, 0.1 + 0.2],
            "n": [-1, 2],
            "yes": [True, False],
            "day": pd.to_datetime(["2024-04-12", "2024-04-13"]),
        }
    )
    writing.table(tmp_path / "a.csv", frame)
    back = pd.read_csv(tmp_path / "a.csv", parse_dates=["day"])
    pd.testing.assert_frame_equal(back, frame, check_dtype=False)
    assert b"\r" not in (tmp_path / "a.csv").read_bytes()


@pytest.mark.parametrize("name", ["CON", "nul", "Com1", "LPT9", "aux", "com²"])
def test_no_file_bears_a_name_that_a_system_keeps(name):
    """Device names of Windows (Microsoft, "Naming Files, Paths, and Namespaces")."""
    assert writing.file_name(name) == f"{name.casefold()}-"


@pytest.mark.parametrize("name", ["../../etc", "a/b\\c", "x" * 500, "<b>", "日" * 300, "..", "a.", "\x00"])
def test_a_file_name_leads_nowhere_and_fits(name, tmp_path):
    """Whatever a bed is called, the file can be made in its folder and nowhere else."""
    path = tmp_path / f"{writing.file_name(name)}.csv"
    writing.text(path, "x")
    assert path.parent == tmp_path
    assert path.exists()


def test_names_that_come_out_alike_differ():
    """Also when one of them is what the other would be numbered to."""
    names = writing.file_names(["a", "A", "a 2", "a?", "a-2-2"])
    assert len(set(names)) == 5
