"""What to beware of: the cautions of a material in full words, with their source."""

from __future__ import annotations

import pandas as pd

from soiltrend import tables
from soiltrend.errors import SoiltrendError

SHOWN = ["caution", "about", "text", "source", "evidence"]
GONE = "gone"
"""What the column ``rotted`` of tables/cautions.csv says of a caution that rotting ends."""


def warnings_of(row: pd.Series) -> pd.DataFrame:
    """Return the cautions that belong to a material.

    Parameters
    ----------
    row : Series
        A row of :func:`known_materials`.

    Returns
    -------
    DataFrame
        caution (its key), about (whom or what it protects), text, source, evidence.

    Raises
    ------
    SoiltrendError
        When the material names a caution that tables/cautions.csv lacks.

    Examples
    --------
    >>> warnings_of(pd.Series({"cautions": "boron;pets"}, name="borax"))["about"].tolist()
    ['plants', 'animals']
    """
    table = _table()
    wanted = [text.strip() for text in str(row["cautions"]).split(";") if text.strip()]
    for caution in wanted:
        if caution not in table.index:
            raise SoiltrendError(
                f"'{caution}' is no caution known here",
                file="materials.csv",
                place=f"material '{row.name}'",
                remedy=f"Known: {', '.join(table.index)}",
            )
    return table.loc[wanted, SHOWN].reset_index(drop=True)


def _table() -> pd.DataFrame:
    return tables.load("cautions").set_index("caution", drop=False)


def once_rotted(cautions: str) -> list[str]:
    """Return what is left of cautions once the material has rotted in a heap.

    Rotting ends what is raw or quick in it, and no metal, salt or weed killer; of raw manure the care with
    what is eaten raw is left, for a heap of which nobody measured the heat. The column ``rotted`` of
    tables/cautions.csv says which (by judgement).

    Parameters
    ----------
    cautions : str
        Their keys, with semicolons between.

    Examples
    --------
    >>> once_rotted("raw manure;residues of sprays;nitrogen tie-up")
    ['food safety', 'residues of sprays']
    """
    wanted = [text.strip() for text in cautions.split(";") if text.strip()]
    after = _table()["rotted"].to_dict()
    left = [after.get(caution) or caution for caution in wanted]
    return [caution for caution in dict.fromkeys(left) if caution != GONE]
