"""Reference data: what the trade knows, one CSV a subject, every row with its source.

Every table has the columns ``source`` and ``evidence``; evidence is ``published`` (read at
the source named), ``common practice`` (no single source) or ``from memory`` (the source is
named but was not read again). Numbers with a meaning live here and not in code.
"""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files

import pandas as pd

from soiltrend.errors import SoiltrendError

EVIDENCE = ("published", "common practice", "from memory")


@lru_cache(maxsize=None)
def _read(name: str) -> pd.DataFrame:
    path = files(__name__) / f"{name}.csv"
    if not path.is_file():
        known = ", ".join(sorted(p.name[:-4] for p in files(__name__).iterdir() if p.name.endswith(".csv")))
        raise SoiltrendError(f"there is no reference table '{name}'", remedy=f"Known tables: {known}.")
    with path.open(encoding="utf-8") as file:
        text = pd.read_csv(file, dtype=str, keep_default_na=False)
    missing = [column for column in ("source", "evidence") if column not in text]
    if missing:
        raise SoiltrendError(f"the column {missing[0]} is missing", file=f"{name}.csv",
                             remedy="Every reference table says where its numbers come from.")
    return text


def load(name: str, *, numbers: tuple[str, ...] = ()) -> pd.DataFrame:
    """Return a reference table as a new frame; all columns are text but those in ``numbers``.

    Parameters
    ----------
    name : str
        The table's name, for instance ``"analytes"``.
    numbers : tuple of str
        Columns to turn into floats; a blank cell becomes NaN.

    Raises
    ------
    SoiltrendError
        When there is no such table, or a cell of ``numbers`` is no number.

    Examples
    --------
    >>> load("elements", numbers=("atomic_mass",)).set_index("symbol").loc["Ca", "atomic_mass"]
    np.float64(40.078)
    """
    return _typed(name, numbers).copy()


@lru_cache(maxsize=None)
def _typed(name: str, numbers: tuple[str, ...]) -> pd.DataFrame:
    table = _read(name).copy()
    for column in numbers:
        try:
            table[column] = pd.to_numeric(table[column].replace("", None)).astype(float)
        except ValueError as error:
            raise SoiltrendError(f"the column {column} holds a word: {error}", file=f"{name}.csv") from error
    return table


def spellings(name: str, key: str) -> dict[str, str]:
    """Return every spelling of a table's entries, as printed, mapped to its name.

    The column ``spellings`` of the table holds alternatives separated by semicolons; the
    name itself is one of them.

    Examples
    --------
    >>> spellings("methods", "method")["bicarbonate"]
    'Olsen'
    """
    table = _read(name)
    return {
        text.strip(): entry
        for entry, listed in zip(table[key], table["spellings"], strict=True)
        for text in (entry, *listed.split(";"))
        if text.strip()
    }
