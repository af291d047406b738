"""The notebooks are thin, complete and stored as they ran."""

import ast
import json
import re
from pathlib import Path

import pytest

FOLDER = Path(__file__).parents[1] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
LONGEST_CELL = 10
FORBIDDEN = (ast.FunctionDef, ast.ClassDef, ast.For, ast.While, ast.Try, ast.Lambda, ast.ListComp)


def cells(path, kind):
    return [
        cell for cell in json.loads(path.read_text(encoding="utf-8"))["cells"] if cell["cell_type"] == kind
    ]


def source(cell):
    return "".join(cell["source"])


pytestmark = pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)


def test_one_title(path):
    """One H1, in the first cell."""
    text = [source(cell) for cell in cells(path, "markdown")]
    titles = [line for cell in text for line in cell.splitlines() if line.startswith("# ")]
    assert len(titles) == 1
    assert text[0].startswith("# ")


def test_parameters_come_first_and_are_literals(path):
    """The first code cell is tagged and only assigns constants."""
    first = cells(path, "code")[0]
    assert "parameters" in first["metadata"].get("tags", [])
    for node in ast.parse(source(first)).body:
        assert isinstance(node, ast.Assign)
        ast.literal_eval(node.value)


def test_stored_with_outputs_and_counts(path):
    """Counts run 1, 2, 3 ...: without them the stored outputs would not be compared."""
    counts = [cell["execution_count"] for cell in cells(path, "code")]
    assert counts == list(range(1, len(counts) + 1))


def test_no_logic_in_cells(path):
    """A cell calls the library; it defines nothing and loops over nothing."""
    for cell in cells(path, "code"):
        tree = ast.parse(source(cell))
        assert not [node for node in ast.walk(tree) if isinstance(node, FORBIDDEN)], source(cell)
        assert len(source(cell).splitlines()) <= LONGEST_CELL


def test_text_before_code(path):
    """Every code cell but the set-up is introduced by a text cell."""
    kinds = [cell["cell_type"] for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]]
    bare = [at for at, kind in enumerate(kinds) if kind == "code" and at > 0 and kinds[at - 1] == "code"]
    assert bare == []


def test_pictures_have_alt_text(path):
    """Every stored picture carries the words for those who cannot see it."""
    for cell in cells(path, "code"):
        for output in cell["outputs"]:
            if "image/png" in output.get("data", {}):
                assert len(output["metadata"]["image/png"]["alt"]) > 40


def test_no_path_of_one_machine(path):
    """No absolute path is stored."""
    text = path.read_text(encoding="utf-8")
    assert "/home/" not in text
    assert "/root/" not in text
    assert str(FOLDER.parent) not in text


def test_notebooks_follow_one_another(path):
    """The first cell leads to the notebook before and to the one after, as they are numbered."""
    at = NOTEBOOKS.index(path)
    links = re.findall(r"\b(Previous|Next): \[[^\]]+\]\((\w+\.ipynb)\)", source(cells(path, "markdown")[0]))
    before = [("Previous", NOTEBOOKS[at - 1].name)] if at else []
    after = [("Next", NOTEBOOKS[at + 1].name)] if at + 1 < len(NOTEBOOKS) else []
    assert links == before + after
