"""The grower's copies of the notebooks: bound to her garden, hers once she changes them."""

import os

import nbformat
import pytest

from soiltrend import desk


@pytest.fixture
def shelf(tmp_path, monkeypatch):
    """Return a function that puts one notebook on the toolkit's shelf, in a version."""

    def put(version):
        path = tmp_path / "shelf" / "01_one.ipynb"
        path.parent.mkdir(exist_ok=True)
        cells = [
            nbformat.v4.new_code_cell('GARDEN = "../data_demo"', metadata={"tags": ["parameters"]}, id="a"),
            nbformat.v4.new_code_cell(f"print({version})", id="b"),
        ]
        nbformat.write(nbformat.v4.new_notebook(cells=cells), path)
        monkeypatch.setattr(desk, "notebooks", lambda: [path])

    return put


def changed(path, source=None):
    """Run the copy's last cell as JupyterLab would store it; write another source into it if given."""
    notebook = nbformat.read(path, as_version=4)
    cell = notebook.cells[-1]
    cell.execution_count, cell.outputs = 3, [nbformat.v4.new_output("stream", text="1")]
    cell.source = source or cell.source
    nbformat.write(notebook, path)
    return path.read_bytes()


def test_the_toolkits_notebooks_are_found_in_order():
    """They are numbered in reading order."""
    names = [path.stem for path in desk.notebooks()]
    assert {"01_read_and_check", "02_spring_and_autumn"} <= set(names)
    assert names == sorted(names)


def test_copies_are_bound_to_the_garden_and_bear_no_outputs(tmp_path):
    """In out/notebooks, pointing two folders up, without another garden's pictures."""
    done = desk.copies(tmp_path)
    assert [path.name for path in done.paths] == [path.name for path in desk.notebooks()]
    assert (done.renewed, done.changed) == (done.paths, [])
    for path in done.paths:
        cells = [cell for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == "code"]
        assert cells[0].source.startswith('GARDEN = "../.."')
        assert all(cell.outputs == [] and cell.execution_count is None for cell in cells)


def test_a_copy_that_was_only_run_keeps_its_outputs_until_there_is_a_new_version(tmp_path, shelf):
    """Run and stored: left alone; with a new version in the toolkit: made anew."""
    shelf(1)
    path = desk.copies(tmp_path).paths[0]
    kept = changed(path)
    again = desk.copies(tmp_path)
    assert (again.renewed, again.changed, path.read_bytes()) == ([], [], kept)
    shelf(2)
    assert desk.copies(tmp_path).renewed == [path]
    assert "print(2)" in path.read_text(encoding="utf-8")


@pytest.mark.parametrize("mine", [None, "my own words, and no notebook at all"])
def test_a_copy_with_the_growers_work_is_left_alone(tmp_path, shelf, mine):
    """A new version does not take her work away; she is told which it is."""
    shelf(1)
    path = desk.copies(tmp_path).paths[0]
    kept = changed(path, source="print('mine')")
    if mine:
        path.write_text(mine, encoding="utf-8")
        kept = path.read_bytes()
    shelf(2)
    done = desk.copies(tmp_path)
    assert (done.renewed, done.changed, path.read_bytes()) == ([], [path], kept)


MINOR = '"nbformat_minor": 5, "metadata": '
NO_NOTEBOOKS = {
    "list": "[]",
    "number": "5",
    "nothing in it": "{}",
    "no cells": '{"nbformat": 4}',
    "another version": f'{{"nbformat": 9, {MINOR} {{}}, "cells": []}}',
    "metadata a number": f'{{"nbformat": 4, {MINOR} 5, "cells": [{{"cell_type": "code"}}]}}',
    "cells a number": f'{{"nbformat": 4, {MINOR} {{}}, "cells": 7}}',
    "deep": "[" * 100_000,
    "blank": "",
    "cut off": "{",
}


@pytest.mark.parametrize("text", NO_NOTEBOOKS.values(), ids=NO_NOTEBOOKS)
@pytest.mark.filterwarnings("ignore:.*:UserWarning")
def test_what_is_no_notebook_is_left_alone(tmp_path, shelf, text):
    """JSON of any other kind in the place of a copy: it is somebody's, and is named."""
    shelf(1)
    path = tmp_path / "out" / "notebooks" / "01_one.ipynb"
    path.parent.mkdir(parents=True)
    path.write_text(text)
    assert desk.copies(tmp_path).changed == [path]
    assert path.read_text() == text


@pytest.mark.parametrize("kind", ["folder", "pipe", "zeros", "loop"])
def test_what_is_no_file_is_left_alone(tmp_path, shelf, kind):
    """A folder, a pipe that nobody writes to, a device without an end, a link to itself: nothing hangs."""
    shelf(1)
    path = tmp_path / "out" / "notebooks" / "01_one.ipynb"
    path.parent.mkdir(parents=True)
    make = {
        "folder": path.mkdir,
        "pipe": lambda: os.mkfifo(path),
        "zeros": lambda: path.symlink_to("/dev/zero"),
        "loop": lambda: path.symlink_to(path),
    }
    make[kind]()
    done = desk.copies(tmp_path)
    assert done.changed == ([] if kind == "loop" else [path])
