"""One page a bed: what went on, what came off, what the tests said, and the account of it."""

from __future__ import annotations

import html
from dataclasses import dataclass
from typing import Any

import pandas as pd

from soiltrend import frames, present
from soiltrend.budget.core import Budget, budget
from soiltrend.errors import SoiltrendError
from soiltrend.folder import nearest
from soiltrend.garden import Garden
from soiltrend.prepare import prepared

NEWEST = 4
"""Tests of each measure that a card has room for."""

ACCOUNT = [
    "nutrient",
    "period",
    "unit",
    "put_in",
    "taken_out",
    "expected",
    "observed",
    "recovery",
    "low",
    "high",
    "said",
    "check",
]


@dataclass(frozen=True, eq=False)
class BedCard:
    """All that is known of a bed, on one page.

    Attributes
    ----------
    bed : str
        Its name.
    facts : str
        Size, depth, density, medium and notes, in a sentence.
    dressings, crops : DataFrame
        What went on and what came off, the latest first.
    tests : DataFrame
        One row a measure, method and laboratory; its newest results by season.
    account : DataFrame
        The bed's rows of :class:`soiltrend.budget.Budget`.
    table : DataFrame
        The account.
    """

    bed: str
    facts: str
    dressings: pd.DataFrame
    crops: pd.DataFrame
    tests: pd.DataFrame
    account: pd.DataFrame

    @property
    def table(self) -> pd.DataFrame:
        """Return the account of the bed."""
        return self.account

    def __repr__(self) -> str:
        return "\n\n".join([self.facts, *(present.plain(*part) for part in _parts(self))])

    def _repr_html_(self) -> str:
        body = "".join(present.page(*part) for part in _parts(self))
        return f"<p>{html.escape(self.facts)}</p>{body}"


def _parts(card: BedCard) -> list[tuple[str, pd.DataFrame]]:
    """Return the titles and tables of a card; a table without rows says so."""
    told = [
        ("What went on", card.dressings, "nothing was logged as put on this bed"),
        ("What came off", card.crops, "no harvest was logged for this bed"),
        (f"What the tests said, the newest {NEWEST}", card.tests, "no test of this bed was read"),
        ("The account", card.account[ACCOUNT], "no account yet: no two comparable tests, and no log"),
    ]
    return [(title if len(table) else f"{title}: {none}", table) for title, table, none in told]


def bed_card(garden: Garden, *, bed: str = "", account: Budget | None = None) -> BedCard:
    """Return all that is known of a bed, on one page.

    Parameters
    ----------
    garden : Garden
        What :func:`soiltrend.open_garden` gave.
    bed : str
        The bed; left empty, the one with most dressings.
    account : Budget, optional
        An account of the garden made before; by default :func:`soiltrend.budget.budget` of it.

    Returns
    -------
    BedCard

    Raises
    ------
    SoiltrendError
        When the garden has no such bed, and as for :func:`soiltrend.budget.budget`.

    Examples
    --------
    >>> from soiltrend.budget.invented import invented
    >>> card = bed_card(invented(seed=1).garden, bed="East")
    >>> len(card.dressings), card.tests.columns.tolist()[-2:]
    (4, ['spring 2022', 'spring 2024'])
    """
    known = list(garden.beds["bed"])
    if bed and bed not in known:
        raise SoiltrendError(f"'{bed}' is no bed of this garden ({nearest(bed, known)})")
    count = garden.applications["bed"].value_counts()
    name = bed or max(known, key=lambda one: int(count.get(one, 0)))
    found = account if account is not None else budget(garden)
    return BedCard(
        name,
        _facts(garden.beds.set_index("bed").loc[name].to_dict(), name, garden.settings.get("beds", {})),
        _newest(garden.applications, name, ["date", "material", "amount", "unit", "note"]),
        _newest(garden.harvests, name, ["date", "crop", "kg", "residue", "note"]),
        _tests(prepared(garden), name),
        found.table[found.table["bed"] == name].reset_index(drop=True),
    )


ASSUMED = {"area_m2": ["area_ft2"], "depth_cm": ["depth_in"], "bulk_density": [], "medium": []}
"""What a bed is given where garden.toml is silent, and the other keys that would say it."""


def _facts(bed: dict[Any, Any], name: str, told: dict[str, Any]) -> str:
    """Return what garden.toml says of a bed, in a sentence; what it does not say is called assumed."""
    said = {*told[name]} if name in told else {*ASSUMED}
    by = {key: "" if {key, *feet} & said else " (assumed)" for key, feet in ASSUMED.items()}
    alone = "; left as it is, for comparison" if bed["check"] else ""
    note = f"; {bed['note']}" if bed["note"] else ""
    return (
        f"{name}: {present.area(bed['area_m2'])}{by['area_m2']}, {present.layer(0.0, bed['depth_cm'])} "
        f"sampled and worked{by['depth_cm']}, bulk density {bed['bulk_density']:g} g/cm3"
        f"{by['bulk_density']}, {bed['medium']}{by['medium']}{alone}{note}"
    )


def _newest(log: pd.DataFrame, bed: str, columns: list[str]) -> pd.DataFrame:
    """Return a bed's entries of a log, the latest first."""
    rows = log[log["bed"] == bed].sort_values("date", ascending=False, kind="stable")
    return rows[[name for name in columns if name in rows]].reset_index(drop=True)


def _tests(results: pd.DataFrame, bed: str) -> pd.DataFrame:
    """Return a bed's newest results, one row a measure, method and laboratory, one column a season.

    Where more than one layer was tested each has rows of its own.
    """
    rows = results[results["bed"] == bed]
    order = frames.seasons(rows)[-NEWEST:]
    rows = rows[rows["season"].isin(order)]
    text = rows["qualifier"] + rows["value"].map(present.number).astype("str")
    known = rows["bottom_cm"].notna()
    ends = zip(rows["top_cm"], rows["bottom_cm"], strict=True)
    layer = pd.Series([present.layer(*pair) for pair in ends], index=rows.index, dtype="str").where(known, "")
    keys = ["analyte", "method", "lab", "unit", *(["layer"] if len(layer[known].unique()) > 1 else [])]
    wide = rows.assign(text=text, layer=layer).pivot_table(
        index=keys,
        columns="season",
        values="text",
        sort=False,
        aggfunc=lambda values: ", ".join(dict.fromkeys(values)),
    )
    return wide.reindex(columns=order).fillna("").reset_index().rename_axis(columns=None)
