"""What a question is asked of: a garden with its log, or a tidy frame alone."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from soiltrend import frames
from soiltrend.comparable import when
from soiltrend.errors import SoiltrendError
from soiltrend.exchange import exchange, questioned, recomputed
from soiltrend.garden import Garden
from soiltrend.noise import KEY, Noise, noise_model
from soiltrend.prepare import garden_noise, prepared

DRAWS = 4000
"""Draws for intervals of quantities that are products of unsure numbers."""

LOOKED_UP = ("Ca", "Mg", "K", "Na", "CEC", "OM", "TOC", "acidity",
             *(f"{ion} saturation" for ion in ("Ca", "Mg", "K", "Na", "acidity")))
"""Measures whose noise the questions of this room ask for."""

SEED = 1724
"""Of every such draw, so that the same question has the same answer."""


@dataclass(frozen=True, eq=False)
class Given:
    """A frame made ready, its noise, and the garden it comes from, if any.

    Attributes
    ----------
    results : DataFrame
        A tidy frame with computed exchange capacity.
    noise : Noise
        How far results move by themselves.
    garden : Garden or None
        Where the log of what went on is found.
    """

    results: pd.DataFrame
    noise: Noise
    garden: Garden | None


def take(source: pd.DataFrame | Garden, noise: Noise | None) -> Given:
    """Return the question's source with exchange capacity computed and its noise known.

    A frame that holds no computed capacity gets it by the acidity that the laboratory reports; for a
    buffer's formula give the garden, or a frame from :func:`soiltrend.exchange`.
    """
    if isinstance(source, Garden):
        dated = frames.in_time(source.results, hemisphere=source.hemisphere)
        garden = source if dated is source.results else replace(source, results=dated)
        results = prepared(garden)
        own = garden_noise(garden, results=results) if noise is None else noise
        return Given(results, _covering(own, results), garden)
    ours = (source["source"] == frames.COMPUTED) & (source["analyte"] == "CEC") if len(source) else None
    ready = ours is not None and bool(ours.any())
    results = frames.check(source) if ready else recomputed(questioned(exchange(source)))
    return Given(results, _covering(noise_model(results) if noise is None else noise, results), None)


def _covering(noise: Noise, results: pd.DataFrame) -> Noise:
    """Return the noise model with a row for every measure that will be asked for, looked up once."""
    wanted = results[results["analyte"].isin(LOOKED_UP)][KEY].drop_duplicates()
    wanted = pd.concat([wanted, pd.DataFrame([{"analyte": "acidity", "method": ""}])])
    there = pd.MultiIndex.from_frame(noise.table[KEY])
    missing = wanted[~pd.MultiIndex.from_frame(wanted).isin(there)].drop_duplicates()
    if not len(missing):
        return noise
    return replace(noise, table=pd.concat([noise.table, noise.of(missing)], ignore_index=True))


def check_question(results: pd.DataFrame, *, bed: str | None, ends: tuple[str, str],
                   confidence: float) -> None:
    """Refuse a bed that is not there, ends that name nothing, and a confidence that is none.

    Raises
    ------
    SoiltrendError
        With the beds, or the seasons, that there are.
    """
    if not 0.5 < confidence < 1:
        raise SoiltrendError(f"confidence = {confidence!r} does not lie between 0.5 and 1",
                             remedy="Give 0.95 or 0.9")
    for end in ends:
        when(results, end)
    if bed is not None and not (results["bed"] == bed).any():
        known = ", ".join(f"'{name}'" for name in results["bed"].unique())
        raise SoiltrendError(f"'{bed}' is not a bed of these results", remedy=f"Beds here: {known}")


def interval(drawn: np.ndarray, confidence: float) -> tuple[float, float]:
    """Return the middle part of draws that holds them with a confidence.

    Examples
    --------
    >>> interval(np.arange(5.0), 0.5)
    (1.0, 3.0)
    """
    tail = (1 - confidence) / 2
    low, high = np.quantile(drawn, [tail, 1 - tail])
    return float(low), float(high)
