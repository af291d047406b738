"""The toolkit's notebooks, and a grower's own copies of them.

A copy knows what it was made as (a hash of its cells, in its metadata), so that one that was never
changed follows the toolkit, and one that was changed is left to its owner.
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from soiltrend import limits, writing
from soiltrend.errors import SoiltrendError

if TYPE_CHECKING:
    from nbformat import NotebookNode

PARAMETERS = "parameters"
MADE = "soiltrend"
"""Under this name a copy's metadata holds the fingerprint of what was made."""

UNREADABLE = (ValueError, KeyError, TypeError, AttributeError, RecursionError)
"""What the reader of notebooks raises, beside its own error, for JSON that is none."""


@dataclass(frozen=True)
class Copies:
    """The notebooks in a garden's ``out/notebooks``.

    Attributes
    ----------
    paths : list of Path
        All of them, in reading order.
    renewed : list of Path
        Written now: they were not there, or as the toolkit had made them in another version.
    changed : list of Path
        Changed by the grower, and left as they are although the toolkit has another version.
    """

    paths: list[Path]
    renewed: list[Path]
    changed: list[Path]


def notebooks() -> list[Path]:
    """Return the toolkit's notebooks in reading order.

    They lie inside an installed package, and beside it in a clone.
    """
    package = Path(str(files("soiltrend")))
    return sorted((package / "notebooks").glob("*.ipynb")) or sorted(
        (package.parent / "notebooks").glob("*.ipynb")
    )


def bind(notebook: NotebookNode, values: dict[str, Any]) -> NotebookNode:
    """Return the notebook with a cell after its parameters that sets other values, and no outputs.

    What it holds was made with the values it had; where it stops, nothing of that must stay.

    Parameters
    ----------
    notebook : NotebookNode
        Must hold one cell tagged ``parameters``.
    values : dict
        Names and literals.
    """
    import nbformat  # heavy, here and below: it is loaded where a notebook is read or made

    cells = []
    for cell in _emptied(nbformat.from_dict(notebook)).cells:
        cells.append(cell)
        if PARAMETERS in cell.metadata.get("tags", ()):
            source = "\n".join(f"{name} = {value!r}" for name, value in values.items())
            cells.append(nbformat.v4.new_code_cell(source, metadata={"tags": ["injected-parameters"]}))
    bound: NotebookNode = nbformat.from_dict({**notebook, "cells": cells})
    return bound


def _emptied(notebook: NotebookNode) -> NotebookNode:
    """Return the notebook, its outputs and counts taken out."""
    for cell in notebook.cells:
        if cell.cell_type == "code":
            cell.outputs, cell.execution_count = [], None
    return notebook


def _fingerprint(notebook: NotebookNode) -> str:
    """Return a hash of the kinds and sources of the cells; outputs do not count."""
    cells = [(cell.cell_type, cell.source) for cell in notebook.cells]
    return hashlib.sha256(json.dumps(cells).encode()).hexdigest()


def _copy(source: Path) -> NotebookNode:
    """Return a notebook bound to the garden two folders up, without another garden's outputs."""
    import nbformat

    notebook = _emptied(nbformat.read(source, as_version=4))
    for cell in notebook.cells:
        if PARAMETERS in cell.metadata.get("tags", ()):
            cell.source = re.sub(r'^GARDEN = "[^"]*"', 'GARDEN = "../.."', cell.source, flags=re.MULTILINE)
    notebook.metadata[MADE] = {"made": _fingerprint(notebook)}
    return notebook


def _made(path: Path) -> tuple[str, str]:
    """Return the fingerprint a copy was made with, and the one it has now; empty for what is no notebook."""
    import nbformat

    try:
        notebook = nbformat.reads(limits.contents(path, most=limits.NOTEBOOK_BYTES).decode(), as_version=4)
        return str(notebook.metadata.get(MADE, {}).get("made", "")), _fingerprint(notebook)
    except (*UNREADABLE, nbformat.ValidationError, SoiltrendError):
        return "", "unreadable"


def copies(garden: Path) -> Copies:
    """Put a copy of every notebook into ``out/notebooks`` of a garden, bound to it.

    A copy that its owner has changed is left as it is. One that was only run, and not changed, is made
    anew when the toolkit's notebook is another than it was made from.
    """
    import nbformat

    folder = garden / "out" / "notebooks"
    done = Copies([], [], [])
    for source in notebooks():
        path, notebook = folder / source.name, _copy(source)
        done.paths.append(path)
        made, now = _made(path) if path.exists() else ("", "")
        if now == notebook.metadata[MADE]["made"]:
            continue
        if now != made:
            done.changed.append(path)
            continue
        writing.text(path, nbformat.writes(notebook))
        done.renewed.append(path)
    return done
