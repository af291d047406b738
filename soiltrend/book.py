"""The notebooks, run on a garden and bound into one page that works offline.

Each notebook is run in memory with its parameters cell pointed at the garden; the notebook
files themselves are never changed. A notebook that fails is named on the page and does not
take the others with it.
"""

from __future__ import annotations

import asyncio
import html
import os
import re
from collections.abc import Callable, Coroutine
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from soiltrend import writing
from soiltrend.desk import bind, notebooks

if TYPE_CHECKING:
    from nbclient import NotebookClient
    from nbformat import NotebookNode

T = TypeVar("T")

CELL_SECONDS, START_SECONDS = 600, 180
STARTS = 3
"""How often a notebook's Python is started before it is given up."""

STOPPED = " (stopped)"
"""What the contents say of a chapter that broke off."""

MOST_AT_ONCE = 4
"""Notebooks run side by side, one for each processor and one more, for a notebook that begins, ends or
is bound leaves its processor idle; no more than these: each takes 300 MB."""


@dataclass(frozen=True)
class Chapter:
    """One notebook as it came out.

    Attributes
    ----------
    name, title : str
        The file's stem, and its first heading.
    body : str
        HTML, headings one level down.
    failure : str
        The error that stopped it, or empty.
    """

    name: str
    title: str
    body: str
    failure: str


def _finished(work: Coroutine[Any, Any, T]) -> T:
    """Return what comes of work that is done on a thread of its own.

    There the runner of notebooks leaves signals alone, and it may be called from a notebook. When
    this thread is told to end, the work is called off, so that no kernel stays behind.
    """
    running: list[tuple[asyncio.AbstractEventLoop, asyncio.Task[Any] | None]] = []

    async def all_of_it() -> T:
        """Do the work, and tell where it can be called off."""
        running.append((asyncio.get_running_loop(), asyncio.current_task()))
        return await work

    with ThreadPoolExecutor(1) as pool:
        done = pool.submit(asyncio.run, all_of_it())
        try:
            while not wait([done], timeout=1.0).done:  # some systems tell nothing to one who waits for ever
                pass
        except (KeyboardInterrupt, SystemExit):
            for loop, task in running:
                if task is not None:
                    loop.set_exception_handler(lambda *_: None)  # what breaks now is of no interest
                    loop.call_soon_threadsafe(task.cancel)
            raise
        return done.result()


def run(path: Path, *, garden: Path) -> tuple[NotebookNode, str]:
    """Run a notebook on a garden; return it with its outputs, and what stopped it if anything.

    The kernel works in the notebook's folder, as JupyterLab would have it.
    """
    return _finished(_run(path, garden))


async def _run(path: Path, garden: Path) -> tuple[NotebookNode, str]:
    import nbformat  # heavy, as all that reads and runs notebooks
    from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError

    failure = ""
    for _ in range(STARTS):
        notebook = bind(nbformat.read(path, as_version=4), {"GARDEN": str(garden.resolve())})
        try:
            await _client(notebook, path).async_execute()
        except CellExecutionError as error:
            return notebook, f"{error.ename}: {error.evalue}"
        except CellTimeoutError:
            return notebook, f"a cell took longer than {CELL_SECONDS} seconds"
        except DeadKernelError:
            return notebook, "its Python was ended from outside; the memory may not have been enough"
        except RuntimeError as error:  # two that start at once may have taken the same port
            failure = f"its Python could not be started ({error})"
        else:
            return notebook, ""
    return notebook, failure


def _client(notebook: NotebookNode, path: Path) -> NotebookClient:
    """Return what runs a notebook in its folder."""
    from nbclient import NotebookClient  # heavy; only when a notebook is run

    return NotebookClient(
        notebook,
        timeout=CELL_SECONDS,
        startup_timeout=START_SECONDS,
        resources={"metadata": {"path": str(path.parent)}},
        shutdown_kernel="immediate",  # when it ends its cells are done, or called off
        extra_arguments=["--IPKernelApp.log_level=40"],  # the kernel's own errors, not its advice
    )


def _for_page(notebook: NotebookNode, name: str) -> NotebookNode:
    """Return the notebook as it stands on the page: headings one lower, links to chapters, cells numbered.

    What stopped it is said at its head, in words, and its traceback is left out.
    """
    from nbformat import from_dict

    out: NotebookNode = from_dict(notebook)
    for number, cell in enumerate(out.cells):
        cell.id = f"{name}-{number}"  # once on the page, and the same from run to run
        if cell.cell_type == "code":
            cell.outputs = [output for output in cell.outputs if output.output_type != "error"]
        if cell.cell_type == "markdown":
            lower = re.sub(r"^(#+ )", r"#\1", cell.source, flags=re.MULTILINE)
            cell.source = re.sub(r"\]\((\w+)\.ipynb\)", r"](#\1)", lower)
    return out


def chapter(path: Path, *, garden: Path) -> Chapter:
    """Run one notebook on a garden and return it as a chapter of the page."""
    return _finished(_chapter(path, garden))


@lru_cache(maxsize=1)
def _exporter() -> Any:
    """Return what makes HTML of notebooks; the templates that it has read serve for all of them."""
    from nbconvert import HTMLExporter  # heavy; loaded while notebooks run

    return HTMLExporter(
        template_name="basic",
        extra_template_basedirs=[],  # else a folder of that name in the place worked from would be run
        exclude_input=True,
        exclude_input_prompt=True,
        exclude_output_prompt=True,
        exclude_anchor_links=True,
    )


async def _chapter(path: Path, garden: Path) -> Chapter:
    notebook, failure = await _run(path, garden)
    title = next(
        (
            line[2:].strip()
            for cell in notebook.cells
            if cell.cell_type == "markdown"
            for line in cell.source.splitlines()
            if line.startswith("# ")
        ),
        path.stem,
    )
    body, _ = _exporter().from_notebook_node(_for_page(notebook, path.stem))
    return Chapter(path.stem, title, body, failure)


def _section(part: Chapter) -> str:
    failed = (
        f'<p class="failed"><strong>This part stopped:</strong> {html.escape(part.failure)}</p>'
        if part.failure
        else ""
    )
    return f'<section id="{html.escape(part.name)}">{failed}{part.body}</section>'


def page(parts: list[Chapter], *, title: str, foot: str) -> str:
    """Return the chapters as one self-contained HTML page."""
    style = (files("soiltrend") / "report.css").read_text(encoding="utf-8")
    links = "".join(
        f'<li><a href="#{html.escape(part.name)}">{html.escape(part.title)}</a>'
        f"{STOPPED * bool(part.failure)}</li>"
        for part in parts
    )
    sections = "\n".join(_section(part) for part in parts)
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{html.escape(title)}</title>\n<style>\n{style}</style>\n</head>\n<body>\n"
        f"<header><h1>{html.escape(title)}</h1></header>\n"
        f'<nav aria-label="Contents"><ol>{links}</ol></nav>\n<main>\n{sections}\n</main>\n'
        f"<footer><p>{html.escape(foot)}</p></footer>\n</body>\n</html>\n"
    )


def report(garden: Path, *, title: str, foot: str, told: Callable[[str, str], None]) -> list[Chapter]:
    """Run all notebooks on a garden and write ``out/report.html``.

    Parameters
    ----------
    garden : Path
        The grower's folder.
    title, foot : str
        The page's heading and last line.
    told : callable
        Called with a notebook's name and "start", "done" or "failed" as the work goes on; several
        notebooks run side by side.

    Returns
    -------
    list of Chapter
        What was bound, in order; a chapter whose ``failure`` is not empty stopped early.

    Raises
    ------
    SoiltrendError
        When the page cannot be written; this is seen to before any notebook is run.
    """
    seats = asyncio.Semaphore(min(MOST_AT_ONCE, (os.cpu_count() or 1) + 1))

    async def one(path: Path) -> Chapter:
        """Run one notebook, as soon as there is room for it."""
        async with seats:
            told(path.stem, "start")
            part = await _chapter(path, garden)
            told(path.stem, "failed" if part.failure else "done")
            return part

    async def all_of_them() -> list[Chapter]:
        """Run the notebooks side by side, those that draw the most first, and return them in their order."""
        paths = notebooks()
        largest_first = sorted(paths, key=lambda path: path.stat().st_size, reverse=True)
        bound = {part.name: part for part in await asyncio.gather(*map(one, largest_first))}
        return [bound[path.stem] for path in paths]

    written = garden / "out" / "report.html"
    writing.ready(written)  # before minutes of work, and not after
    parts = _finished(all_of_them())
    writing.text(written, page(parts, title=title, foot=foot))
    return parts
