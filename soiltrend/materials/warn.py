"""What to beware of: the cautions of a material in full words, with their source."""

from __future__ import annotations

import pandas as pd

from soiltrend import tables
from soiltrend.errors import SoiltrendError


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
    table = tables.load("cautions").set_index("caution", drop=False)
    wanted = [text.strip() for text in str(row["cautions"]).split(";") if text.strip()]
    for caution in wanted:
        if caution not in table.index:
            raise SoiltrendError(
                f"'{caution}' is no caution known here",
                file="materials.csv",
                place=f"material '{row.name}'",
                remedy=f"Known: {', '.join(table.index)}",
            )
    return table.loc[wanted].reset_index(drop=True)
