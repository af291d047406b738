"""A new garden: an empty folder filled with commented templates."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from soiltrend.errors import GardenError

PLACES = {"report.toml": "reports"}
"""Templates that belong into a folder of the garden, and which."""


def new_garden(folder: str | Path) -> list[Path]:
    """Fill an empty folder with the files of a garden, each with its headings and a remark.

    Parameters
    ----------
    folder : str or Path
        A folder that does not exist yet, or is empty.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    GardenError
        When the folder holds anything already, or is a file: nothing of yours is overwritten.

    Examples
    --------
    >>> import tempfile
    >>> sorted(path.name for path in new_garden(tempfile.mkdtemp()))[:3]
    ['applications.csv', 'garden.toml', 'harvests.csv']
    """
    folder = Path(folder)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise GardenError(
            f"'{folder}' is there already and is not an empty folder",
            remedy="Name a folder that does not exist yet",
        )
    written = []
    for template in sorted((files("soiltrend") / "templates").iterdir(), key=lambda entry: entry.name):
        if template.name.endswith((".toml", ".csv")):
            path = folder / PLACES.get(template.name, "") / template.name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(template.read_text(encoding="utf-8"), encoding="utf-8")
            written.append(path)
    return written
