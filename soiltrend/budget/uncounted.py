"""What the account leaves out, and why: said, so that it is not taken for nothing."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from soiltrend import tables, vocabulary
from soiltrend.budget.shelf import ACIDITY, Shelf, quantity
from soiltrend.budget.words import listed

COLUMNS = ["what", "nutrient", "bed", "low", "high", "unit", "why", "source"]
BREWS = ("ferment", "acid extract", "brew")
YEARLY = "g/m2 a year"


def _blank(what: str, why: str) -> dict[str, Any]:
    return {
        "what": what,
        "nutrient": "",
        "bed": "",
        "low": np.nan,
        "high": np.nan,
        "unit": "",
        "why": why,
        "source": "",
    }


def _of_materials(used: list[str], stock: Shelf, nutrients: tuple[str, ...]) -> list[dict[str, Any]]:
    """Return the figures that materials lack, and what brews are counted by."""
    out = []
    for name in used:
        known = stock.analysis(name)
        lacking = [n for n in nutrients if quantity(n) not in known]
        if lacking:
            row = _blank(
                name,
                "its analysis has no figure for it, which is not nothing; send a sample, or write "
                "it into materials.csv",
            )
            out.append(row | {"nutrient": listed(lacking)})
        if stock.known.at[name, "kind"] in BREWS:
            out.append(
                _blank(
                    name,
                    "counted by its analysis alone: what else a brew may do for the life of the "
                    "soil is no nutrient, and no test here can show it",
                )
            )
    return out


def _of_harvests(harvests: pd.DataFrame) -> list[dict[str, Any]]:
    """Return what of harvests is not counted."""
    out = []
    strange = harvests[harvests["crop"].map(vocabulary.crop) == ""]
    for word, beds in strange.groupby("crop", sort=False)["bed"].unique().items():
        row = _blank(str(word), "no figures of what this crop holds, so nothing is taken off for it")
        out.append(row | {"bed": listed(list(beds))})
    if len(harvests):
        out.append(
            _blank("carbon of the harvest", "plants take it from the air and not from the soil")
            | {"nutrient": "C"}
        )
        out.append(
            _blank(
                "leaves, haulm and cover crops that stayed",
                "what they hold came from the bed and goes "
                "back to it; nitrogen that a cover crop fixed and left is not in the log",
            )
        )
    return out


def _unmeasured(nutrients: tuple[str, ...]) -> list[dict[str, Any]]:
    """Return what rain brings and water takes, which nobody measured here."""
    table = tables.load("unmeasured", numbers=("low", "high"))
    table = table[table["nutrient"].isin(nutrients)]
    chalk = table["nutrient"].eq(ACIDITY).map({True: "g CaCO3/m2 a year", False: YEARLY})
    why = "not measured here; of this size elsewhere (" + table["evidence"] + ")"
    rows = table.assign(bed="", unit=chalk, why=why)[COLUMNS].to_dict("records")
    return [{str(name): cell for name, cell in row.items()} for row in rows]


def not_counted(
    used: list[str], stock: Shelf, *, nutrients: tuple[str, ...], harvests: pd.DataFrame
) -> pd.DataFrame:
    """Return what an account leaves out, one row a thing, with its usual size where one is known.

    Parameters
    ----------
    used : list of str
        Materials of the log.
    stock : Shelf
        The materials.
    nutrients : tuple of str
        What is accounted for.
    harvests : DataFrame
        The garden's harvests.

    Returns
    -------
    DataFrame
        ``what, nutrient, bed, low, high, unit, why, source``.
    """
    rows = [*_of_materials(used, stock, nutrients), *_of_harvests(harvests), *_unmeasured(nutrients)]
    return pd.DataFrame(rows, columns=COLUMNS)
