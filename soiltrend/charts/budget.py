"""The charts of an account: where a nutrient came from and what the test did; how much of it showed."""

from __future__ import annotations

from collections.abc import Hashable
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from soiltrend import frames, present, story
from soiltrend.budget import Budget
from soiltrend.charts.bars import FILLED, HATCHED, bar, dot, for_reader, named_places, span, whisker, zero
from soiltrend.charts.chart import Chart, chart_of, only_words, rule
from soiltrend.charts.rows import Rows, draw_rows
from soiltrend.charts.style import BLUE, QUIET, VERMILION, size_of
from soiltrend.errors import SoiltrendError

PUT, TAKEN, MEANT, SEEN = "put in", "taken out", "expected", "observed"
PARTS = (
    ("earlier", "freed by earlier dressings", PUT),
    ("fixed", "from the air, by legumes", PUT),
    ("taken_out", "taken out with the harvest", TAKEN),
    ("expected", "the soil should have {verb}", MEANT),
    ("observed", "the test says it {verb}", SEEN),
)
"""Columns of the account that stand under the materials, what they are called, and how they are drawn."""

ENDS = ("value", "low", "high")

SURE = ("showed", "partly", "more than expected", "the other way", "not seen")
"""What an account says when its interval carries it; such a mark is filled."""

RECOVERY = (-1.5, 2.5)
"""Scale of the recovery chart: nothing and all of it lie within; marks beyond stand at the edge."""


def _asked(budget: Budget, *, nutrient: str, bed: str | None = None) -> pd.DataFrame:
    """Return the account's rows of a nutrient, of one bed or of all, each bed with its last period.

    Raises
    ------
    SoiltrendError
        When there is no such nutrient or bed in an account that has rows.
    """
    table = budget.table
    for column, wanted in (("nutrient", nutrient), ("bed", bed)):
        if wanted is not None and len(budget.table) and wanted not in set(budget.table[column]):
            known = ", ".join(f"'{name}'" for name in budget.table[column].unique())
            raise SoiltrendError(f"the account holds no {column} '{wanted}'", remedy=f"It holds: {known}")
        table = table[table[column] == wanted] if wanted is not None else table
    return table.drop_duplicates("bed", keep="last")


def _row(label: str, part: str, values: tuple[float, float, float]) -> dict[str, Any]:
    """Return one row of the account's picture; what is taken out lies on the other side of zero."""
    value, low, high = (-values[0], -values[2], -values[1]) if part == TAKEN else values
    return {"label": label, "part": part, "value": value, "low": low, "high": high}


def _materials(budget: Budget, *, nutrient: str, bed: str, period: str) -> list[dict[str, Any]]:
    """Return a row for each material that brought some, the most first."""
    rows = budget.sources[(budget.sources["nutrient"] == nutrient) & (budget.sources["bed"] == bed)]
    rows = rows if bed == frames.GARDEN else rows[rows["period"] == period]
    rows = rows.sort_values("put_in", ascending=False, kind="stable")
    return [
        _row(str(row["material"]), PUT, (row["put_in"], row["low"], row["high"]))
        for row in rows.to_dict("records")
    ]


def _verb(value: float, high: float) -> str:
    """Return which way a soil moved: lost where all of the interval is below nothing, both ways else."""
    return "gained" if not value < 0 else "moved by" if high > 0 else "lost"


def _movement(row: pd.Series) -> list[dict[str, Any]]:
    """Return the rows under the materials: what came otherwise, what left, what was expected and seen."""
    told = []
    for column, label, part in PARTS:
        value = float(row.get(column, np.nan))
        if np.isfinite(value) and (value != 0 or part in (MEANT, SEEN)):
            low, high = (float(row.get(f"{column}_{end}", np.nan)) for end in ("low", "high"))
            label = label.format(verb=_verb(value, high))
            told.append(_row(label, part, (value, low, high)))
    return told


def _said(row: dict[Hashable, Any], unit: str) -> str:
    value = present.within(row["value"], low=row["low"], high=row["high"]).replace("-", "\u2212")
    if not (np.isfinite(row["low"]) and np.isfinite(row["high"])) or row["low"] == row["high"]:
        return f"{value} {unit}"
    ends = (present.number(row[end], digits=2).replace("-", "\u2212") for end in ("low", "high"))
    return f"{value} {unit} ({' to '.join(ends)})"


def _draw(axes: Axes, part: pd.DataFrame) -> None:
    """Draw bars for what moved by hand, marks for what the soil should have and has done."""
    rule(axes)
    drawn = for_reader(part, *ENDS, unit=part["unit"].iloc[0])
    for at, row in enumerate(drawn.to_dict("records")):
        if row["part"] in (PUT, TAKEN):
            bar(axes, row["value"], -at, look=FILLED if row["part"] == PUT else HATCHED)
        else:
            ink = BLUE if row["part"] == MEANT else VERMILION
            dot(axes, row["value"], -at, filled=row["part"] == SEEN, ink=ink)
        whisker(axes, row["low"], row["high"], -at)
        if row["part"] == MEANT and at:
            axes.axhline(-at + 0.5, color=QUIET, lw=chart_of(axes).size.body / 12)
    zero(axes)


def _written(rows: list[dict[str, Any]], unit: str) -> pd.DataFrame:
    """Return the rows with their words, which are in the reader's units."""
    table = pd.DataFrame(rows)
    lost = table["part"].isin([MEANT, SEEN]) & table["label"].str.endswith(" lost")
    turned = table.assign(
        value=table["value"].mask(lost, -table["value"]),
        low=table["low"].mask(lost, -table["high"]),
        high=table["high"].mask(lost, -table["low"]),
    )
    read = for_reader(turned, *ENDS, unit=unit).to_dict("records")
    short = [
        present.within(row["value"], low=row["low"], high=row["high"]).replace("-", "\u2212") for row in read
    ]
    weight = np.where(table["part"].isin([MEANT, SEEN]), "bold", "normal")
    return table.assign(said=[_said(row, story.unit_of(unit)) for row in read], short=short, weight=weight)


def chart_budget(budget: Budget, *, nutrient: str, bed: str | None = None, size: str = "web") -> Chart:
    """Draw where a nutrient came from: what each material brought, what left, what the test did.

    Parameters
    ----------
    budget : Budget
        What :func:`soiltrend.budget` gave.
    nutrient : str
        Such as "Ca".
    bed : str, optional
        One bed over the last of its periods, with what its test moved; without it all beds together, a
        square metre of them, each over the last of its periods.
    size : str
        As for :func:`chart_change`.

    Returns
    -------
    Chart
        Bars from zero [g/m2], each with its interval; hatched to the left what was taken out; an
        open mark what the soil should have gained, a filled one what the test says.

    Raises
    ------
    SoiltrendError
        When the nutrient or the bed is not in the account.
    """
    account = _asked(budget, nutrient=nutrient, bed=bed)
    last = account.iloc[-1] if len(account) and bed is not None else None
    period = story.listed(list(dict.fromkeys(account["period"]))) if len(account) else ""
    rows = _materials(budget, nutrient=nutrient, bed=bed or frames.GARDEN, period=period)
    rows += [] if last is None else _movement(last)
    words = story.budget_words(budget, nutrient=nutrient, bed=bed)
    if not rows:
        return only_words(words, size_of(size))
    unit = str(account["unit"].iloc[0])
    table = _written(rows, unit).assign(bed=bed or frames.GARDEN, nutrient=nutrient, unit=unit)
    table["period"] = period
    if "end" in account:
        table["last"] = account["end"].max() if last is None else last["end"]
    read = for_reader(table, *ENDS, unit=unit)
    limits = span([*read["value"], *read["low"], *read["high"]])
    label = f"{story.spoken(nutrient)} [{story.unit_of(unit)}], from nothing"
    return draw_rows(Rows(table, limits, label, _draw), words=words, size=size_of(size))


def _recovery(axes: Axes, part: pd.DataFrame) -> None:
    """Draw how much of what was expected showed, between nothing and all of it."""
    for edge in (0.0, 1.0):
        axes.axvline(
            edge, color=QUIET, lw=chart_of(axes).size.body / 12, ls="-" if edge == 0 else "--", zorder=1
        )
    for at, row in enumerate(part.to_dict("records")):
        if np.isfinite(row["recovery"]):
            whisker(axes, row["low"], row["high"], -at)
            dot(axes, row["recovery"], -at, filled=row["said"] in SURE, ink=VERMILION)
    named_places(axes, (0.0, "nothing"), (1.0, "all of it"))


def chart_recovery(budget: Budget, *, nutrient: str, size: str = "web") -> Chart:
    """Draw how much of what should have shown in the test did show, bed by bed.

    Parameters
    ----------
    budget : Budget
        What :func:`soiltrend.budget` gave.
    nutrient : str
        Such as "Ca".
    size : str
        As for :func:`chart_change`.

    Returns
    -------
    Chart
        Between "nothing" and "all of it", each bed with its interval; the mark is filled where the
        account can say something.

    Raises
    ------
    SoiltrendError
        When the nutrient is not in the account.
    """
    table = _asked(budget, nutrient=nutrient)
    words = story.recovery_words(budget, nutrient=nutrient)
    if table.empty:
        return only_words(words, size_of(size))
    told = [
        f"{row['said']}  {100 * row['recovery']:.0f} %" if row["said"] in SURE else str(row["said"])
        for row in table.to_dict("records")
    ]
    table = table.assign(label=table["bed"], short=table["said"], weight="normal")
    table = table.assign(said_in_words=[text.replace("-", "\u2212") for text in told])
    rows = Rows(
        table.rename(columns={"said": "verdict", "said_in_words": "said"}).assign(last=table.get("end")),
        RECOVERY,
        "share of what the soil should have gained that the test shows",
        lambda axes, part: _recovery(axes, part.assign(said=part["verdict"])),
    )
    return draw_rows(rows, words=words, size=size_of(size))
