"""Notebooks become one page that works offline; one that fails does not take the others along."""

import asyncio
import re

import nbformat
import pytest

from soiltrend import book, desk
from soiltrend.errors import SoiltrendError

PIXEL = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
"""A picture of one pixel, as PNG in base 64."""


@pytest.fixture
def notebook():
    """Return a function that makes a notebook with a parameters cell and one more."""

    def make(source, tags=("parameters",), text="# Title\n\nsee [next](02_other.ipynb)\n\n## Part"):
        cells = [
            nbformat.v4.new_markdown_cell(text),
            nbformat.v4.new_code_cell('GARDEN = "elsewhere"', metadata={"tags": list(tags)}),
            nbformat.v4.new_code_cell(source),
        ]
        return nbformat.v4.new_notebook(
            cells=cells, metadata={"kernelspec": {"name": "python3", "display_name": "Python 3"}}
        )

    return make


@pytest.fixture
def stored(tmp_path, notebook):
    """Return a function that stores a notebook and returns its path."""

    def store(source, name="01_one"):
        path = tmp_path / f"{name}.ipynb"
        nbformat.write(notebook(source), path)
        return path

    return store


def test_values_are_set_after_the_parameters(notebook):
    """The injected cell comes after the one it overrides, and the notebook given is unchanged."""
    given = notebook("GARDEN")
    bound = desk.bind(given, {"GARDEN": "/a 'b'"})
    assert [cell.source for cell in bound.cells if cell.cell_type == "code"] == [
        'GARDEN = "elsewhere"',
        "GARDEN = \"/a 'b'\"",
        "GARDEN",
    ]
    assert len(given.cells) == 3


def test_a_notebook_runs_on_the_garden_and_keeps_its_file(stored, tmp_path):
    """Its output shows the garden's path; the file is the same to the byte."""
    path = stored("print(GARDEN)")
    before = path.read_bytes()
    chapter = book.chapter(path, garden=tmp_path / "my garden")
    assert str((tmp_path / "my garden").resolve()) in chapter.body
    assert chapter.title == "Title"
    assert chapter.failure == ""
    assert path.read_bytes() == before


def test_chapters_come_out_the_same_to_the_byte_and_share_no_id(stored, tmp_path):
    """A page made again is the same page, and an id stands once on it (HTML Standard, 3.2.6, from memory)."""
    parts = [book.chapter(stored("1", name), garden=tmp_path) for name in ("01_one", "02_two")]
    assert book.chapter(stored("1"), garden=tmp_path) == parts[0]
    ids = re.findall(r'\sid="([^"]*)"', book.page(parts, title="t", foot=""))
    assert len(ids) > 4
    assert len(set(ids)) == len(ids)


def test_headings_go_one_down_and_links_stay_on_the_page(stored, tmp_path):
    """The page has one H1 of its own, and 'next' leads to the chapter."""
    body = book.chapter(stored("1"), garden=tmp_path).body
    assert "<h1" not in body
    assert re.search(r"<h2[^>]*>Title", body)
    assert re.search(r"<h3[^>]*>Part", body)
    assert 'href="#02_other"' in body


def test_a_failure_is_named_and_the_rest_is_kept(stored, tmp_path, monkeypatch):
    """The first notebook breaks, the second is on the page, and both are told of."""
    paths = [stored("1/0"), stored("print('still here')", name="02_two")]
    kept = nbformat.read(paths[0], as_version=4)
    other = nbformat.v4.new_output("stream", text="of the garden it was stored with")
    kept.cells += [nbformat.v4.new_code_cell("1", outputs=[other], execution_count=9)]
    nbformat.write(kept, paths[0])
    monkeypatch.setattr(book, "notebooks", lambda: paths)
    told = []
    parts = book.report(tmp_path, title="T <1>", foot="F", told=lambda *what: told.append(what))
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert [part.failure for part in parts] == ["ZeroDivisionError: division by zero", ""]
    assert page.index("This part stopped") < page.index("<h3"), "said before what it says"
    assert page.count("(stopped)</li>") == 1
    assert "of the garden it was stored with" not in page
    assert "Traceback" not in page
    assert "still here" in page
    for name, end in (("01_one", "failed"), ("02_two", "done")):
        assert [what for notebook, what in told if notebook == name] == ["start", end]


def test_a_notebook_whose_python_dies_is_named(stored, tmp_path, monkeypatch):
    """A kernel that is killed from outside stops its own notebook only."""
    paths = [stored("import os, signal; os.kill(os.getpid(), signal.SIGKILL)"), stored("2", name="02_two")]
    monkeypatch.setattr(book, "notebooks", lambda: paths)
    parts = book.report(tmp_path, title="T", foot="F", told=lambda *what: None)
    assert "ended from outside" in parts[0].failure
    assert parts[1].failure == ""


def test_notebooks_run_side_by_side_and_stand_in_order(stored, tmp_path, monkeypatch):
    """Each of two waits until the other has begun; alone it would wait for ever and fail."""
    meet = (
        "import pathlib, time\n"
        "pathlib.Path(GARDEN, '{0}').touch()\n"
        "end = time.monotonic() + 30\n"
        "while not pathlib.Path(GARDEN, '{1}').exists():\n"
        "    assert time.monotonic() < end\n"
        "    time.sleep(0.01)"
    )
    paths = [stored(meet.format("a", "b")), stored(meet.format("b", "a"), name="02_two")]
    monkeypatch.setattr(book, "notebooks", lambda: paths)
    monkeypatch.setattr(book.os, "cpu_count", lambda: 2)
    parts = book.report(tmp_path, title="T", foot="F", told=lambda *what: None)
    assert [(part.name, part.failure) for part in parts] == [("01_one", ""), ("02_two", "")]


def test_the_largest_notebook_begins_first(stored, tmp_path, monkeypatch):
    """What takes longest is not left for the end; on the page the notebooks stand as they are numbered."""
    paths = [stored("1"), stored("2  # " + "long " * 999, name="02_two")]
    monkeypatch.setattr(book, "notebooks", lambda: paths)
    begun = []
    parts = book.report(
        tmp_path, title="T", foot="F", told=lambda name, what: begun.append(name) if what == "start" else None
    )
    assert begun == ["02_two", "01_one"]
    assert [part.name for part in parts] == ["01_one", "02_two"]


def test_the_page_is_whole_and_escaped():
    """Title, language, contents, no link to anywhere else; names are text and not markup."""
    parts = [book.Chapter("01_one", "One <script>", "<p>body</p>", "")]
    page = book.page(parts, title="A & B <i>", foot="<b>")
    assert '<html lang="en">' in page
    assert "<h1>A &amp; B &lt;i&gt;</h1>" in page
    assert "One &lt;script&gt;" in page
    assert "&lt;b&gt;" in page
    assert "http" not in page
    assert page.count("<h1>") == 1


def test_pictures_keep_their_alt_text(stored, tmp_path):
    """What the picture says to those who cannot see it survives the way onto the page."""
    source = (
        "from IPython.display import Image, display\n"
        "import base64\n"
        f"png = base64.b64decode('{PIXEL}')\n"
        "display({'image/png': png, 'text/plain': 'x'}, raw=True,"
        " metadata={'image/png': {'alt': 'two dots'}})"
    )
    assert 'alt="two dots"' in book.chapter(stored(source), garden=tmp_path).body


def test_no_template_is_taken_from_the_place_worked_from(stored, tmp_path, monkeypatch):
    """A garden from a stranger may hold a folder called like the template, whose code would be run."""
    for folder in (tmp_path / "basic", tmp_path / "templates" / "basic"):
        folder.mkdir(parents=True)
        (folder / "conf.json").write_text('{"base_template": "classic", "mimetypes": {"text/html": true}}')
        (folder / "index.html.j2").write_text("taken")
    monkeypatch.chdir(tmp_path)
    assert "still here" in book.chapter(stored("print('still here')"), garden=tmp_path).body


def test_a_notebook_can_be_run_from_a_notebook(stored, tmp_path):
    """Where a loop runs already."""

    async def inside():
        return book.run(stored("1 + 1"), garden=tmp_path)

    notebook, failure = asyncio.run(inside())
    assert failure == ""
    assert notebook.cells[-1].outputs[0]["data"]["text/plain"] == "2"


def test_a_page_that_cannot_be_written_is_refused_before_the_work(stored, tmp_path, monkeypatch):
    """No notebook is begun when out/ is a file."""
    monkeypatch.setattr(book, "notebooks", lambda: [stored("1")])
    (tmp_path / "out").write_text("")
    told = []
    with pytest.raises(SoiltrendError, match="cannot be written"):
        book.report(tmp_path, title="T", foot="F", told=lambda *what: told.append(what))
    assert told == []


@pytest.mark.parametrize("times", [2, 9])
def test_a_python_that_does_not_start_is_started_again(stored, tmp_path, monkeypatch, times):
    """As when two reports that begin at once take the same port; at last it is named like any failure."""
    from nbclient import NotebookClient

    start, tried = NotebookClient.async_start_new_kernel, []

    async def fail(client, **named):
        tried.append(1)
        if len(tried) <= times:
            raise RuntimeError("Kernel died before replying to kernel_info")
        return await start(client, **named)

    monkeypatch.setattr(NotebookClient, "async_start_new_kernel", fail)
    failure = book.run(stored("1"), garden=tmp_path)[1]
    assert len(tried) == 3
    why = "its Python could not be started (Kernel died before replying to kernel_info)"
    assert failure == (why if times > 2 else "")
