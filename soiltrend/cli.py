"""The command line: begin a garden, check its folder, make its report.

Exit status: 0 done, 1 problems found and named, 2 wrong usage; 130 or 143 stopped from outside.
"""

from __future__ import annotations

import argparse
import io
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import pandas as pd
from rich import box, markup
from rich.console import Console
from rich.table import Table

import soiltrend
from soiltrend import book, desk, frames
from soiltrend.budget import log_faults
from soiltrend.errors import SoiltrendError
from soiltrend.garden import Garden, account, missing, open_garden, reasons, remarks, unsettled
from soiltrend.odd import logged, odd
from soiltrend.prepare import prepared
from soiltrend.reading.answers import toml
from soiltrend.start import new_garden

DONE, PROBLEMS, STOPPED = 0, 1, 130
CONTROL = dict.fromkeys((*range(9), *range(11, 32), *range(127, 160)))
"""Signs by which a text from a file could move, colour or retitle the terminal it is printed on."""


def escape(text: str) -> str:
    """Return a text from a file as it is printed: no markup, no signs that steer the terminal."""
    return markup.escape(text.translate(CONTROL))


def _heading(console: Console, text: str) -> None:
    console.print(f"\n[bold cyan]{escape(text)}[/bold cyan]", soft_wrap=True)


def _print_account(console: Console, garden: Garden) -> None:
    table = Table(
        title=escape(garden.name), title_justify="left", box=box.SIMPLE_HEAD if console.is_terminal else None
    )
    listing = account(garden).table
    for column in listing.columns:
        table.add_column(column, justify="left" if column == "file" else "right")
    for row in listing.to_dict("records"):
        style = "bold" if row["set aside"] else ""
        table.add_row(*(escape(str(cell)) for cell in row.values()), style=style)
    console.print(table)


def _print_reasons(console: Console, garden: Garden) -> None:
    for row in reasons(garden).table.to_dict("records"):
        head = f"{row['file']}, {row['first']}" + (f": {row['label']}" if row["label"] else "")
        more = f" and {row['values'] - 1} more like it" if row["values"] > 1 else ""
        said = f" '{row['text']}'{more}" if row["text"] else more
        console.print(
            f"[bold]{escape(head)}[/bold]{escape(said)}\n    {escape(row['reason'])}", soft_wrap=True
        )


def _print_asks(console: Console, garden: Garden) -> None:
    """Print the lines that would settle what is asked, if anything is."""
    if not garden.asks:
        return
    _heading(console, "To settle it")
    console.print(
        "These lines would do, each in the file named over it: report.toml, in reports, holds for every "
        "file there, a file's own .toml for that one alone. Put your own answers in place of the examples. "
        "A heading such as \\[units] stands once in a file, with all its lines under it.",
        soft_wrap=True,
    )
    console.print(_ready(garden.asks), markup=False, soft_wrap=True)


def _ready(asks: Sequence[str]) -> str:
    """Return the lines that would settle what is asked, file by file, as they may be pasted."""
    starts = [at for at, line in enumerate(asks) if line.startswith("#")]
    parts = zip(starts, [*starts[1:], len(asks)], strict=True)
    return "\n".join(f"{asks[start]}\n{toml(list(asks[start + 1 : end]))}" for start, end in parts)


def _print_two(console: Console, heading: str, table: pd.DataFrame) -> None:
    """Print a table of two columns as lines, the first in bold."""
    if len(table):
        _heading(console, heading.format(len(table)))
    for first, second in table.to_numpy():
        console.print(f"[bold]{escape(first or 'garden')}[/bold]: {escape(second)}", soft_wrap=True)


def check(folder: Path, *, console: Console) -> int:
    """Say what was read from a garden's folder, what was set aside and why, and what is missing."""
    garden = open_garden(folder)
    _print_account(console, garden)
    values = garden.set_aside
    if len(values):
        _heading(console, f"Set aside ({len(values)})")
        _print_reasons(console, garden)
    _print_asks(console, garden)
    _print_two(console, "Odd ({}): kept and used, but look at them", _odd_ones(garden))
    faults = [*_stops(garden), *log_faults(garden)]
    if faults:
        _heading(console, f"To be mended ({len(faults)}): the report stops there")
        for fault in faults:
            console.print(escape(fault), soft_wrap=True)
    _print_two(console, "Missing (nothing is wrong; this is what each gap costs)", missing(garden).table)
    _print_two(console, "Remarks", remarks(garden).table)
    console.print(
        f"\n{len(garden.results)} values read, {len(values)} set aside; nothing was changed.", soft_wrap=True
    )
    step = "mend what the report stops at and run this again." if faults else _next_step(garden, folder)
    console.print(f"[bold]Next:[/bold] {escape(step)}", soft_wrap=True)
    return PROBLEMS if unsettled(garden) or faults else DONE


def _odd_ones(garden: Garden) -> pd.DataFrame:
    """Return what is odd among the results and in the log: where it stands, and why."""
    log = logged(garden).table
    if garden.results.empty:
        return log
    values = odd(garden.results).table
    where = values["bed"] + ", " + values["analyte"] + ", " + values["season"]
    return pd.concat([pd.DataFrame({"where": where, "why": values["why"]}), log])


def _stops(garden: Garden) -> list[str]:
    """Return what keeps the results from being made ready, if anything does."""
    try:
        prepared(garden)
    except SoiltrendError as error:
        return [str(error)]
    return []


LONG_AGO = pd.DateOffset(years=1)
"""After the last test, by this machine's clock, from which on it is called old."""

OLD = (
    "No test is younger than {:%Y-%m-%d}: the short page, the plan and the sampling go on from that day and "
    "not from today. Name a later season in the chapter of the plan (SEASON), and test again before much is "
    "spread."
)


def _next_step(garden: Garden, folder: Path) -> str:
    """Return what to do after a check."""
    if garden.results.empty and garden.set_aside.empty:
        return f"put the laboratory's files into {folder / 'reports'} and run this again."
    run = f"soiltrend report {folder}"
    if garden.asks:
        return f"answer in {folder / 'reports'} and run this again, or go on without it: {run}"
    last = frames.in_time(garden.results, hemisphere=garden.hemisphere)["sampled"].max()
    return f"{run}\n{OLD.format(last)}" if last < pd.Timestamp.now() - LONG_AGO else run


def report(folder: Path, *, console: Console) -> int:
    """Run all notebooks on a garden's folder and write ``out/report.html``."""
    garden = open_garden(folder)
    started: dict[str, float] = {}

    def told(name: str, what: str) -> None:
        """Say that a notebook began or ended."""
        if what == "start":
            started[name] = time.monotonic()
            console.print(f"{name} ...")
        else:
            console.print(f"{name}: {what} in {time.monotonic() - started[name]:.1f} s")

    foot = (
        f"Made by soiltrend {soiltrend.__version__} from {len(garden.results)} values of {garden.name}. "
        "Changes are shown with what noise alone can do; advice of the laboratory and local rules come first."
    )
    with _ended_together():
        parts = book.report(folder, title=f"{garden.name}: the soil over the seasons", foot=foot, told=told)
    for part in parts:
        if part.failure:
            console.print(f"[bold]{escape(part.name)}[/bold] stopped: {escape(part.failure)}", soft_wrap=True)
    console.print(f"Written: {escape(str(folder / 'out' / 'report.html'))}", soft_wrap=True)
    return PROBLEMS if any(part.failure for part in parts) else DONE


def new(folder: Path, *, console: Console, hemisphere: str = "north", units: str = "metric") -> int:
    """Fill a new folder with the commented files of a garden."""
    for path in new_garden(folder, hemisphere=hemisphere, units=units):
        console.print(f"written: {escape(str(path))}", soft_wrap=True)
    console.print(
        f"Describe your beds in {escape(str(folder / 'garden.toml'))}, put the laboratory's files into "
        f"{escape(str(folder / 'reports'))}, then run: soiltrend check {escape(str(folder))}",
        soft_wrap=True,
    )
    return DONE


def lab(folder: Path, *, console: Console) -> int:
    """Open JupyterLab on copies of the notebooks bound to a garden's folder."""
    open_garden(folder)
    done = desk.copies(folder)
    where = escape(str(done.paths[0].parent))
    for path in done.changed:
        console.print(
            f"[bold]{escape(path.name)}[/bold] is as you changed it; the toolkit has another version. "
            "To have it, give yours a new name and run this again.",
            soft_wrap=True,
        )
    console.print(f"{len(done.paths)} notebooks in {where}; close JupyterLab with Ctrl-C.", soft_wrap=True)
    first = done.paths[0].relative_to(folder).as_posix()
    command = [sys.executable, "-m", "jupyterlab", f"--ServerApp.root_dir={folder.resolve()}"]
    safe = {**os.environ, "PYTHONSAFEPATH": "1"}  # no module is taken from the folder that is worked in
    with _ended_together():
        command.append(f"--LabApp.default_url=/lab/tree/{first}")
        return subprocess.run(command, check=False, env=safe).returncode


@contextmanager
def _ended_together() -> Iterator[None]:
    """When this process is told to end, leave nothing behind that it started: that is ended with it."""

    def end(number: int, _frame: object) -> None:
        """Stop as an exception does, at which children are ended."""
        raise SystemExit(128 + number)

    before = signal.signal(signal.SIGTERM, end)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


COMMANDS = {"new": new, "check": check, "report": report, "lab": lab}


def parser() -> argparse.ArgumentParser:
    """Return the command line's grammar."""
    top = argparse.ArgumentParser(prog="soiltrend", description="A garden's soil tests over the seasons.")
    top.add_argument("--version", action="version", version=f"soiltrend {soiltrend.__version__}")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for name, does in COMMANDS.items():
        told = (does.__doc__ or "").strip()
        command = commands.add_parser(name, help=told, description=told)
        command.add_argument(
            "folder", type=Path, metavar="FOLDER", help="the garden's folder, the one that holds garden.toml"
        )
    begin = commands.choices["new"]
    begin.add_argument("--hemisphere", choices=("north", "south"), default="north", help="default: north")
    begin.add_argument("--units", choices=("metric", "US"), default="metric", help="default: metric")
    return top


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command and return its exit status."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a letter that the terminal lacks stops nothing
    given = vars(parser().parse_args(argv))
    command, console = COMMANDS[given.pop("command")], Console(highlight=False)
    try:
        return command(**given, console=console)
    except SoiltrendError as error:
        Console(stderr=True, highlight=False).print(
            f"[bold]Cannot go on.[/bold] {escape(str(error))}", soft_wrap=True
        )
        return PROBLEMS
    except KeyboardInterrupt:
        console.print("Stopped. Every file there is whole; nothing of yours was changed.", soft_wrap=True)
        return STOPPED
