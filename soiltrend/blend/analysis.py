"""A mixture as a material of its own: its computed analysis, with ranges."""

from __future__ import annotations

import numpy as np
import pandas as pd

from soiltrend.blend.ingredients import Part
from soiltrend.materials import COLUMNS, NUTRIENTS, drawn
from soiltrend.materials.reference import ends

DRAWS = 1000
ENDS = (2.5, 50.0, 97.5)
PERCENT = 100.0
DRY = (*NUTRIENTS, "CCE")
Draws = dict[str, np.ndarray]


def draw(known: list[Part], *, seed: int) -> Draws:
    """Return draws of every quantity, one column an ingredient; NaN where a quantity is not known."""
    rng = np.random.default_rng(seed)
    each = [drawn(part.row, draws=DRAWS, rng=rng) for part in known]
    blank = np.full(DRAWS, np.nan)
    return {
        quantity: np.column_stack([one.get(quantity, blank) for one in each])
        for quantity in (*DRY, "moisture", "density")
    }


def _three(values: np.ndarray, likely: float) -> list[float]:
    """Return low, likely and high of a quantity; all missing when a part of it is not known."""
    if np.isnan(values).any() or np.isnan(likely):
        return [np.nan, np.nan, np.nan]
    low, _, high = np.percentile(values, ENDS)
    return [min(float(low), likely), likely, max(float(high), likely)]


def _weighted(values: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Return the weighted mean over ingredients; one that is not known counts only if there is any of it."""
    used = weights > 0
    total = weights.sum(axis=-1)
    return np.asarray(
        (np.where(used, values, 0.0) * weights).sum(axis=-1) / np.where(total > 0, total, np.nan)
    )


def _joined(known: list[Part], kg: np.ndarray, column: str) -> str:
    words = (str(part.row[column]).split(";") for part, one in zip(known, kg, strict=True) if one > 0)
    return ";".join(dict.fromkeys(text for listed in words for text in listed if text))


def _figures(known: list[Part], kg: np.ndarray, drawn_: Draws) -> dict[str, list[float]]:
    """Return low, likely and high of every quantity of the mixture."""
    likely = {name: np.array([part.figure(name) for part in known]) for name in drawn_}
    dry = kg * (1 - drawn_["moisture"] / PERCENT)
    likely_dry = kg * (1 - likely["moisture"] / PERCENT)
    found = {
        name: _three(_weighted(drawn_[name], dry), float(_weighted(likely[name], likely_dry))) for name in DRY
    }
    wet = np.broadcast_to(kg, dry.shape)
    found["moisture"] = _three(_weighted(drawn_["moisture"], wet), float(_weighted(likely["moisture"], kg)))
    litres = float(_weighted(1 / likely["density"], kg))
    found["density"] = _three(1 / _weighted(1 / drawn_["density"], wet), 1 / litres)
    return found


def material_row(known: list[Part], kg: np.ndarray, drawn_: Draws, *, name: str) -> pd.DataFrame:
    """Return a mixture as one row of the grower's table of materials.

    A quantity is known only where it is known of every ingredient: what is not known is left
    blank, never counted as nothing. The density is that of the loose parts side by side; a heap
    settles, and its carbon, water and bulk go as it rots, so a finished compost needs its own test.

    Parameters
    ----------
    known : list of Part
        The ingredients.
    kg : array
        How much of each [kg, wet].
    drawn_ : dict
        From :func:`draw`.
    name : str
        What the mixture is called.

    Returns
    -------
    DataFrame
        One row: ``material`` and the columns of :func:`soiltrend.materials.known_materials`.
    """
    row: dict[str, object] = dict.fromkeys(COLUMNS, "")
    row |= dict.fromkeys(("cost_per_kg", "on_hand_kg", "cup_g"), np.nan)
    for quantity, three in _figures(known, kg, drawn_).items():
        row |= dict(zip(ends(quantity), three, strict=True))
    dry = kg * np.array([1 - part.figure("moisture") / PERCENT for part in known])
    largest = known[int(np.argmax(dry))].row
    cost = np.array([float(part.row["cost_per_kg"]) for part in known])
    row |= {
        "kind": "blend",
        "release": largest["release"],
        "fineness": "mixed",
        "cautions": _joined(known, kg, "cautions"),
        "cost_per_kg": float(_weighted(cost, kg)),
        "measured": "no",
        "source": "computed from "
        + ", ".join(f"{one:.3g} kg {part.row.name}" for part, one in zip(known, kg, strict=True) if one > 0),
        "evidence": "computed",
        "origin": "own",
    }
    return pd.DataFrame([{"material": name, **row}])
