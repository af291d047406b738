"""What the tool writes: aside first and then moved into place, and nowhere but under ``out/``.

A reader never sees half a file, and when the disk is full or the work is stopped what was there
stays as it was. Two runs at once write beside each other, and the last one's whole files stay.
Inside a garden's folder nothing is written but under its ``out/``: the other files are the
grower's own.
"""

from __future__ import annotations

import os
import re
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pandas as pd

from soiltrend.errors import SoiltrendError

if sys.platform != "win32":
    import fcntl

ASIDE = ".soiltrend-"
"""How the name of a folder begins in which a file is made before it is moved into its place."""

HELD = "held"
"""A file in that folder, locked for as long as the process that made it lives."""

FORMULA = re.compile(r"\s*[=+\-@＝＋－＠]|[\t\n]")
"""How a text begins that spreadsheet programs take for a formula (OWASP, "CSV Injection")."""

SIGN = r"(?=[=@＝＠]|[+\-＋－]\s*[^\W\d])"
INNER = re.compile(rf"(?<=\S)([;\t]\s*){SIGN}")
TOLD = re.compile(rf"(?<=\S)([;\t]\s*)'{SIGN}")
"""Where a formula would begin for a program that parts cells by semicolons or tabs; and as it is written."""

NUMBER = re.compile(r"[+-]?\d[\d.,]*(?:[eE][+-]?\d+)?\s?%?|-+|\+")
"""Texts that begin like a formula and are none: signed numbers, and marks of a missing value."""

PORTS = tuple(f"{port}{number}" for port in ("com", "lpt") for number in "0123456789¹²³")
RESERVED = ("con", "prn", "aux", "nul", *PORTS)
"""Names that no file may have on some systems, whatever its ending; raised digits count as digits."""

LONGEST_NAME = 50
"""Letters of a file's name; systems allow 255 bytes, and a letter may take four."""


def file_name(name: str) -> str:
    """Return a name that every system takes as a file's: letters, digits and hyphens, not too long.

    Examples
    --------
    >>> file_name("K:Mg (charge), Brûlé"), file_name("../NUL"), file_name("?")
    ('k-mg-charge-brûlé', 'nul-', 'unnamed')
    """
    stem = re.sub(r"[\W_]+", "-", name.casefold())[:LONGEST_NAME].strip("-") or "unnamed"
    return f"{stem}-" if stem in RESERVED else stem


def file_names(names: list[str]) -> list[str]:
    """Return a file name for each name, numbered where names come out alike, so that all differ.

    Examples
    --------
    >>> file_names(["Bed", "bed", "bed 2"])
    ['bed', 'bed-2', 'bed-2-2']
    """
    taken: list[str] = []
    for stem in map(file_name, names):
        tries = (stem if turn == 1 else f"{stem}-{turn}" for turn in range(1, len(names) + 2))
        taken.append(next(name for name in tries if name not in taken))
    return taken


def plain_text(text: str) -> str:
    r"""Return a text as it goes into a table for spreadsheet programs: no formula.

    A text that would be taken for one gets an apostrophe before it, which such programs read as
    the sign of a text; so does what would be one where cells are parted by semicolons. Numbers are
    left as they are; every line break becomes a plain one, so that none can end a row.

    Examples
    --------
    >>> print(plain_text("=A1+1"), plain_text("-0.5"), plain_text("Hill;@A1"))
    '=A1+1 -0.5 Hill;'@A1
    """
    plain = INNER.sub(r"\1'", text.replace("\r\n", "\n").replace("\r", "\n"))
    return f"'{plain}" if FORMULA.match(plain) and not NUMBER.fullmatch(plain.strip(" ")) else plain


def as_told(text: str) -> str:
    """Return a text as it was before :func:`plain_text`.

    Examples
    --------
    >>> as_told("'=A1+1"), as_told("'tis"), as_told("Hill")
    ('=A1+1', "'tis", 'Hill')
    """
    told = TOLD.sub(r"\1", text)
    return told[1:] if told.startswith("'") and plain_text(told[1:]) == text else told


def writable(name: str) -> str:
    r"""Return the name of a file as text that can be written: bytes that are no letters become numbers.

    Examples
    --------
    >>> print(writable("bed\udcff.csv"))
    bed\udcff.csv
    """
    return name.encode("utf-8", errors="backslashreplace").decode("utf-8")


def real(path: Path) -> Path:
    """Return where a path leads when links are followed; links that lead round in a circle stay.

    Examples
    --------
    >>> real(Path("a/../b")) == Path.cwd() / "b"
    True
    """
    return Path(os.path.realpath(path))


def _garden_of(place: Path) -> Path | None:
    """Return the nearest folder above a place that is a garden's, links followed, or None."""
    return next((real(above) for above in place.parents if (above / "garden.toml").exists()), None)


def _within(path: Path) -> None:
    """Refuse a path in a garden's folder that does not lie under its ``out/``, links followed."""
    place = real(path.parent) / path.name
    for garden in (_garden_of(place), _garden_of(path.absolute())):
        if garden and not place.is_relative_to(garden / "out"):
            raise SoiltrendError(
                f"'{path}' does not lie under '{garden / 'out'}', and nothing else in a garden is written",
                remedy="Name a path under out/; if out/ is a link to another place, make it a folder",
            )


def _hold(folder: Path) -> int:
    """Mark a folder as in use, and return what :func:`os.close` takes to end it.

    The system ends it too, when the process is killed: a lock on the file, which gets its name when
    it is locked; on Windows no file can be removed that is open.
    """
    named = folder / HELD
    if sys.platform == "win32":
        return os.open(named, os.O_CREAT | os.O_WRONLY)
    made = folder / f"{HELD}-not-yet"
    number = os.open(made, os.O_CREAT | os.O_WRONLY, 0o600)
    with suppress(OSError):  # some network disks know no locks: what is left there stays
        fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)
    made.rename(named)
    return number


def _left(folder: Path) -> bool:
    """Return whether a folder made by :func:`_beside` was left by a process that is no more."""
    with suppress(OSError):
        number = os.open(folder / HELD, os.O_WRONLY | getattr(os, "O_NOFOLLOW", 0))
        try:
            if sys.platform != "win32":
                fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)
        finally:
            os.close(number)
        (folder / HELD).unlink()
        return True
    return False


def _sweep(parent: Path, *, below: str = "") -> None:
    """Remove what was left by a process that was killed while it wrote into a folder, or below it."""
    for folder in list(parent.glob(f"{below}{ASIDE}*")):
        if not folder.is_symlink() and folder.is_dir() and _left(folder):
            shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def _beside(path: Path) -> Iterator[Path]:
    """Give a path of the same name in a folder of one's own beside the place it is made for."""
    _within(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        _sweep(path.parent)
        with tempfile.TemporaryDirectory(prefix=ASIDE, dir=path.parent) as folder:
            number = _hold(Path(folder))
            try:
                yield Path(folder) / path.name
            finally:
                os.close(number)
    except OSError as error:
        raise SoiltrendError(
            f"'{path}' cannot be written ({error.strerror or error})",
            remedy="What was there is unchanged. Make room or allow writing there, and run it again",
        ) from error


@contextmanager
def aside(path: str | Path) -> Iterator[Path]:
    """Give a path to write to, which becomes ``path`` when all went well and vanishes otherwise.

    Parameters
    ----------
    path : str or Path
        The file to be written; its folder is made when it is not there.

    Raises
    ------
    SoiltrendError
        When the path lies in a garden's folder and not under its ``out/``, or cannot be written:
        the disk is full, the folder may not be written to.

    Examples
    --------
    >>> path = Path(tempfile.mkdtemp()) / "a.txt"
    >>> with aside(path) as fresh:
    ...     _ = fresh.write_text("whole")
    >>> path.read_text()
    'whole'
    """
    path = Path(path)
    with _beside(path) as fresh:
        yield fresh
        fresh.replace(path)


def ready(path: str | Path) -> None:
    """Refuse a path now that could not be written when the work is done; and sweep its folder and below.

    Parameters
    ----------
    path : str or Path
        The file that will be written; its folder is made when it is not there.

    Raises
    ------
    SoiltrendError
        As :func:`aside`, and when the path is a folder.
    """
    path = Path(path)
    if path.is_dir() and not path.is_symlink():
        raise SoiltrendError(f"'{path}' is a folder", remedy="Move it away; a file is written there")
    with _beside(path) as fresh:
        fresh.touch()
    _sweep(path.parent, below="**/")


def withdraw(path: str | Path) -> None:
    """Remove what an earlier run wrote under a garden's ``out/`` and this one does not; elsewhere nothing.

    Raises
    ------
    SoiltrendError
        When it cannot be removed.
    """
    path = Path(path)
    place = real(path.parent) / path.name
    garden = _garden_of(place)
    if garden is None or not place.is_relative_to(garden / "out"):
        return
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        raise SoiltrendError(
            f"'{path}' is of an earlier run and cannot be removed ({error.strerror or error})",
            remedy="Remove it, or allow writing there, and run it again",
        ) from error


def text(path: str | Path, words: str) -> None:
    """Write a text file in UTF-8, whole or not at all."""
    with aside(path) as fresh:
        fresh.write_text(words, encoding="utf-8", errors="backslashreplace", newline="\n")


def lines(path: str | Path, words: str) -> None:
    """Write a text file in UTF-8 whose line ends stay as they are, whole or not at all."""
    with aside(path) as fresh:
        fresh.write_bytes(words.encode("utf-8", errors="backslashreplace"))


def table(path: str | Path, frame: pd.DataFrame) -> None:
    """Write a table as CSV, unrounded, whole or not at all; texts are no formulas (:func:`plain_text`)."""
    words = frame.select_dtypes(include=["object", "str", "category"]).columns
    safe = frame.copy()
    for name in words:
        safe[name] = frame[name].astype(object).map(_cell)
    with aside(path) as fresh:
        safe.rename(columns=_cell).to_csv(fresh, index=False, lineterminator="\n", errors="backslashreplace")


def _cell(value: object) -> object:
    return writable(plain_text(value)) if isinstance(value, str) else value
