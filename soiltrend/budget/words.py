"""Why a row of the account says what it says, in a grower's words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import present
from soiltrend.budget import judge
from soiltrend.budget.chance import setting

LIMED = "acidity"
CARBON = "C"

NO_SHARE = {
    judge.SHOWED: "some of it shows, and how much cannot be told",
    judge.PARTLY: "some of it shows, and how much cannot be told",
    judge.MORE: "more than all of it shows, and how much more cannot be told",
    judge.NOT_SEEN: "less than all of it shows, and how much cannot be told",
    judge.AGAINST: "it moved the other way, and no share of it can be told",
    judge.CANNOT_SAY: "whether any of it shows cannot be told",
}
"""What is told of a share whose interval is too wide to be one."""


@dataclass(frozen=True)
class Told:
    """What the sentences of one row are made of.

    Attributes
    ----------
    row : dict
        The row of the account so far.
    slow : tuple of str
        Materials that had not come free for the most part.
    last : Timestamp or None
        The last dressing that held the nutrient.
    unlogged, unharvested : str
        What the log lacks, or "".
    """

    row: dict[str, Any]
    slow: tuple[str, ...]
    last: pd.Timestamp | None
    unlogged: str
    unharvested: str


def _number(value: Any, unit: str, *, sign: bool = False) -> str:
    amount = float(value)
    text = present.number(amount, digits=2)
    return f"{'+' if sign and amount > 0 else ''}{text} {unit}".strip()


def _range(row: dict[str, Any], name: str, unit: str) -> str:
    ends = (present.number(float(row[f"{name}_{end}"]), digits=2) for end in ("low", "high"))
    return f"{_number(row[name], unit, sign=True)} ({' to '.join(ends)})"


def listed(names: Sequence[str]) -> str:
    """Return names as a list in a sentence.

    Examples
    --------
    >>> listed(["gypsum"]), listed(["gypsum", "shell", "ash"])
    ('gypsum', 'gypsum, shell and ash')
    """
    return " and ".join(filter(None, [", ".join(names[:-1]), names[-1] if names else ""]))


def why(told: Told) -> str:
    """Return the reason of one row."""
    row = told.row
    blank = f"{told.unlogged}; if nothing went on, write a line with the amount 0" if told.unlogged else ""
    parts = [blank, *_moved(row), *_verdict(told), *_reasons(told)]
    text = "; ".join(part for part in parts if part)
    return text[:1].upper() + text[1:]


def _moved(row: dict[str, Any]) -> list[str]:
    """Return what was expected and what was seen."""
    unit = str(row["test_unit"])
    if row["said"] == judge.NOT_TESTED:
        return [
            "no two comparable tests of it"
            if row["nutrient"] != LIMED
            else "no two comparable tests of acidity, so lime has nothing to be set against; where reports "
            'hold a buffer pH, name it in garden.toml, such as acidity = "Sikora", and acidity is reckoned'
        ]
    if row["censored"]:
        return ["a laboratory's limit hides part of the movement"]
    seen = f"the test moved by {_range(row, 'observed_test', unit)}"
    if np.isnan(row["expected"]):
        return [seen]
    out = [f"{seen} where {_range(row, 'expected_test', unit)} was to be expected if all of it showed"]
    if row["check"]:
        out.append(
            f"{row['check']}, left as it was, moved by {_number(row['check_test'], unit, sign=True)}; "
            f"beyond it the bed moved by {_range(row, 'net_observed', row['unit'])} where "
            f"{_range(row, 'net_expected', row['unit'])} was to be expected"
        )
    return out


def _verdict(told: Told) -> list[str]:
    """Return what follows for the recovery."""
    row = told.row
    share = [present.number(100 * row[name], digits=2) for name in ("recovery", "low", "high")]
    if judge.shapeless(row["low"], row["high"]):
        return [f"{NO_SHARE[row['said']]}; most of that doubt comes from {row['width']}"]
    if not np.isnan(row["low"]):
        shows = f"{share[0]} % of it shows ({share[1]} to {share[2]} %)"
        return [f"{shows}; most of that width comes from {row['width']}"]
    if row["said"] == judge.CANNOT_SAY and not told.unlogged and not row["censored"]:
        return ["what was to be expected cannot be told from nothing, so no share of it can be given"]
    return []


def breathed() -> str:
    """Return what becomes of carbon that is put on, by long trials.

    Examples
    --------
    >>> breathed()
    'most carbon is breathed out by the soil: of manure 12 % (8 to 16 %) is left after years in trials'
    """
    share = [f"{100 * setting(f'carbon kept{end}'):g}" for end in ("", " low", " high")]
    left = f"{share[0]} % ({share[1]} to {share[2]} %)"
    return f"most carbon is breathed out by the soil: of manure {left} is left after years in trials"


def _reasons(told: Told) -> list[str]:
    """Return what else may stand behind a row."""
    row, out = told.row, []
    if told.unharvested:
        out.append(f"{told.unharvested}, so what left is not taken off")
    if row["said"] == judge.NOT_TESTED:
        return out
    days = np.inf if told.last is None else (row["end"] - told.last).days
    if days < setting("lime settling" if row["nutrient"] == LIMED else "settling"):
        out.append(f"it was tested {days} days after the last dressing, too soon for all of it to show")
    if row["nutrient"] == CARBON and row["put_in"] > 0:
        out.append(breathed())
    if told.slow:
        out.append(f"much of the {listed(told.slow)} had not come free yet")
    if row["nutrient"] == LIMED and float(row["value_after"]) < setting("no acidity"):
        out.append("no acidity is left for lime to meet, and what lies unused does not show")
    if not np.isnan(row["deeper_cm"]):
        out.append(f"it was sampled deeper than the {row['deeper_cm']:g} cm of the bed")
    if row["left_alone"]:
        out.append("left as it was: the other beds are set against it")
    elif not row["check"]:
        out.append(
            "no bed left as it was can stand beside it, so weather, washing out and the soil's own "
            "supply are in it: changed, not because of"
        )
    if row["method"] and row["nutrient"] not in (LIMED, CARBON):
        out.append(
            f"{row['method']} draws out a share of what is there, and another extractant another share"
        )
    return out
