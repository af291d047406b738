"""How large and how deep a file may be before it is refused: the one place where limits stand.

A laboratory's report of a garden is a thousandth of these. They are there for a file that was
damaged, mistaken for another, or made to fill the memory; each refusal names the file, what was
found and the limit. A larger file is meant for a database, not for a grower's notebook.
"""

from __future__ import annotations

import stat
import zipfile
import zlib
from pathlib import Path

from soiltrend.errors import ReadError, SoiltrendError

TEXT_BYTES = 1_000_000_000
"""A report as text with a separator."""

EXCHANGE_BYTES = 100_000_000
"""A report in the Modus format, XML or JSON."""

WORKBOOK_BYTES = 50_000_000
"""A workbook as it lies in the folder."""

UNPACKED_BYTES = 100_000_000
"""All parts of a zipped workbook together, unpacked."""

PDF_BYTES = 50_000_000
"""A PDF as it lies in the folder."""

PDF_UNPACKED_BYTES = 200_000_000
"""All parts of a PDF together, unpacked."""

PAGES = 500
"""Pages of a PDF."""

MARKS = 200_000
"""Letters, lines and figures drawn on a page of a PDF; a page of small print has 10,000."""

COLUMNS = 16_384
"""Columns of a table: the widest sheet that spreadsheet programs make."""

CELLS = 5_000_000
"""Cells of a sheet, counted as the rectangle that its filled and merged cells span."""

DEFLATED = 8
"""The low half of the first byte of what zlib packed (RFC 1950)."""

NOTEBOOK_BYTES = 100_000_000
"""A copy of a notebook in a garden's ``out/``, with the pictures that were drawn in it."""

OWN_COLUMNS = 1_000
"""Columns of one of the grower's tables; the widest that is known has fifty."""

OWN_BYTES = 20_000_000
"""``garden.toml``, ``report.toml`` and each of the grower's tables."""


def contents(path: Path, *, most: int, error: type[SoiltrendError] = ReadError) -> bytes:
    """Return the bytes of a file that is no larger than a limit.

    Parameters
    ----------
    path : Path
        The file.
    most : int
        The limit [bytes].
    error : type of SoiltrendError
        What is raised.

    Raises
    ------
    SoiltrendError
        When the file is larger, is no plain file, or cannot be opened.

    Examples
    --------
    >>> import tempfile
    >>> path = Path(tempfile.mkdtemp()) / "a.csv"
    >>> _ = path.write_text("Bed,pH")
    >>> contents(path, most=6)
    b'Bed,pH'
    """
    try:
        told = path.stat()
        if not stat.S_ISREG(told.st_mode):
            raise error("it is no plain file", file=path.name, remedy="Put a copy of the file in its place")
        if told.st_size > most:
            raise error(
                f"it holds {told.st_size:,} bytes and no more than {most:,} are read",
                file=path.name,
                remedy="Send its values in smaller files",
            )
        return path.read_bytes()
    except OSError as problem:
        raise error(
            f"it cannot be opened ({problem.strerror or problem})",
            file=path.name,
            remedy="See whether it is still there, and whether you may read it",
        ) from problem


def area(rows: int, columns: int, *, file: str, sheet: str) -> None:
    """Refuse a sheet whose cells span more than a limit.

    Raises
    ------
    ReadError
        Beyond :data:`CELLS` cells or :data:`COLUMNS` columns.
    """
    if columns > COLUMNS or rows * columns > CELLS:
        raise ReadError(
            f"its cells span {rows:,} rows and {columns:,} columns; no more than {COLUMNS:,} columns and "
            f"{CELLS:,} cells are read",
            file=file,
            place=f"sheet '{sheet}'" if sheet else "",
            remedy="Delete what stands far outside the table, and save it again",
        )


def unpacked(archive: zipfile.ZipFile, *, file: str) -> None:
    """Refuse a zipped file whose parts are larger than a limit when unpacked.

    The sizes are those that the archive states; its reader stops at them.

    Raises
    ------
    ReadError
        Beyond :data:`UNPACKED_BYTES`.
    """
    size = sum(part.file_size for part in archive.infolist())
    if size > UNPACKED_BYTES:
        raise ReadError(
            f"it unpacks to {size:,} bytes and no more than {UNPACKED_BYTES:,} are read",
            file=file,
            remedy="Save the sheet with the results alone; do not trust a file that you did not ask for",
        )


def inflated(packed: bytes | memoryview, *, most: int) -> int:
    """Return how many bytes a packed part of a file comes to, packed again inside or not.

    What is not packed comes to none. Counting stops when it passes a limit.

    Examples
    --------
    >>> inflated(zlib.compress(zlib.compress(bytes(1000))), most=5000) > 1000, inflated(b"abc", most=9)
    (True, 0)
    """
    size, part = 0, packed
    while len(part) and part[0] & 0x0F == DEFLATED and size <= most:
        try:
            part = zlib.decompressobj().decompress(part, most + 1)
        except zlib.error:
            break
        size += len(part)
    return size
