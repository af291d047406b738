"""A new garden: an empty folder filled with commented templates."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from importlib.resources import files
from pathlib import Path

from soiltrend.errors import GardenError

PLACES = {"report.toml": "reports"}
"""Templates that belong into a folder of the garden, and which."""


SAID: dict[str, dict[str, tuple[tuple[str, str], ...]]] = {
    "hemisphere": {
        "south": (
            ('hemisphere = "north"        # or "south"', 'hemisphere = "south"        # or "north"'),
            ("sowing = 2027-04-20", "sowing = 2026-10-20"),
            ("harvest = 2027-07-15", "harvest = 2027-01-15"),
            ("[4, 4, 6, 8, 11, 14, 16, 16, 14, 11, 7, 5]", "[16, 16, 14, 11, 7, 5, 4, 4, 6, 8, 11, 14]"),
        )
    },
    "units": {
        "US": (
            ('units = "metric"            # or "US"', 'units = "US"                # or "metric"'),
            ("area_m2 = 10.0              # or area_ft2", "area_ft2 = 100.0            # or area_m2"),
            ("depth_cm = 15               #", "depth_in = 6                #"),
            ("; or depth_in", "; or depth_cm"),
        )
    },
}
"""What the template says otherwise for a garden of the south, or of feet and inches."""


def _said(text: str, *, hemisphere: str, units: str) -> str:
    """Return a template in the words of this garden."""
    for old, new in (*SAID["hemisphere"].get(hemisphere, ()), *SAID["units"].get(units, ())):
        text = text.replace(old, new)
    return text


@contextmanager
def _all_or_nothing(folder: Path) -> Iterator[list[Path]]:
    """Give a list of what is made; when it cannot all be made, remove that again."""
    made = [] if folder.exists() else [folder]
    try:
        yield made
    except OSError as error:
        for path in reversed(made):
            with suppress(OSError):
                path.rmdir() if path.is_dir() else path.unlink()
        raise GardenError(
            f"'{folder}' cannot be filled ({error.strerror or error})",
            remedy="Nothing was left there. Make room, or name a folder that you may write to",
        ) from error


def new_garden(folder: str | Path, *, hemisphere: str = "north", units: str = "metric") -> list[Path]:
    """Fill an empty folder with the files of a garden, each with its headings and a remark.

    Parameters
    ----------
    folder : str or Path
        A folder that does not exist yet, or is empty.
    hemisphere : str
        "north" or "south".
    units : str
        "metric" or "US" (bed areas in square feet, depths in inches).

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    GardenError
        When the folder holds anything already, or is a file: nothing of yours is overwritten;
        when hemisphere or units is none of the two; when it cannot be written, and then nothing is left.

    Examples
    --------
    >>> import tempfile
    >>> sorted(path.name for path in new_garden(tempfile.mkdtemp()))[:3]
    ['applications.csv', 'garden.toml', 'harvests.csv']
    """
    folder = Path(folder)
    for what, given, known in (
        ("hemisphere", hemisphere, ("north", "south")),
        ("units", units, ("metric", "US")),
    ):
        if given not in known:
            raise GardenError(f"{what} '{given}' is not known", remedy=f"Say one of: {', '.join(known)}.")
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise GardenError(
            f"'{folder}' is there already and is not an empty folder",
            remedy="Name a folder that does not exist yet",
        )
    written = []
    with _all_or_nothing(folder) as made:
        for template in sorted((files("soiltrend") / "templates").iterdir(), key=lambda entry: entry.name):
            if template.name.endswith((".toml", ".csv")):
                path = folder / PLACES.get(template.name, "") / template.name
                made += [path] if path.parent == folder else [path.parent, path]
                path.parent.mkdir(parents=True, exist_ok=True)
                text = _said(template.read_text(encoding="utf-8"), hemisphere=hemisphere, units=units)
                path.write_text(text, encoding="utf-8")
                written.append(path)
    return written
