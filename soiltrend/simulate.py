"""An invented garden whose truth is known, to ask "could this be luck?" and to try the intervals.

A result is the bed's true level, moved by the season, by the day of sampling (shared by all beds)
and by the error of one composite, all drawn from a noise model.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from soiltrend import frames, scales, vocabulary
from soiltrend.errors import SoiltrendError
from soiltrend.noise import Noise, noise_model, stretch

SHAPES = ("normal", "heavy", "skewed")
"""Shapes of the error: normal; Student's t on 3 degrees of freedom; a lognormal of sigma 0.5. All are
centred and scaled to the same standard deviation."""

MONTH = {"winter": "01", "spring": "04", "summer": "07", "autumn": "10"}
SPREAD = 0.15
"""How far beds of one garden lie apart, as a standard deviation on the analysis scale; invented."""

LEVELS = {"pH": 6.4, "OM": 5.0, "CEC": 14.0, "P": 45.0, "K": 150.0, "Ca": 1800.0, "Mg": 180.0, "S": 12.0,
          "B": 0.7, "Zn": 4.0, "Mn": 30.0, "Cu": 1.5}
"""Levels around which an invented garden lies, in canonical units; ordinary and from nowhere real."""

METHODS = {"pH": "water 1:1", "OM": "LOI", "CEC": "summation"}
OTHERWISE = "Mehlich-3"
MEASURED = "Write it as in the column analyte, such as K or OM"


@dataclass(frozen=True)
class Design:
    """How an invented garden is sampled.

    Attributes
    ----------
    beds, composites : int
        Number of beds, and of separate composites per bed and season.
    seasons : tuple of str
        Seasons in time, such as ``("spring 2022", "spring 2023")``.
    levels : dict
        Analytes and the levels around which the garden lies, in canonical units.
    limits : dict
        Detection limits by analyte: what falls below is reported as "<" with the limit.
    """

    beds: int = 6
    composites: int = 1
    seasons: tuple[str, ...] = ("spring 2022", "spring 2024")
    levels: Mapping[str, float] = field(default_factory=lambda: dict(LEVELS))
    limits: Mapping[str, float] = field(default_factory=dict)


def simulate_garden(*, seed: int, design: Design | None = None, change: Mapping[str, float] | None = None,
                    noise: Noise | None = None, shape: str = "normal") -> pd.DataFrame:
    """Return the results of an invented garden, with the truth beside each.

    Parameters
    ----------
    seed : int
        The same seed gives the same garden.
    design : Design, optional
        Beds, seasons, composites, analytes and limits.
    change : mapping, optional
        True change from the first to the last season by analyte, on the analysis scale (pH and
        organic matter in points, concentrations as the logarithm of a ratio), in a straight line.
    noise : Noise, optional
        How far results move by themselves; the table by default.
    shape : str
        Of the error of one composite, one of :data:`SHAPES`.

    Returns
    -------
    DataFrame
        A tidy frame with one column more, ``truth``: the bed's true level at that time, in ``unit``,
        without season, day and error.

    Raises
    ------
    SoiltrendError
        When the shape is not known, an analyte has no unit, a season cannot be read, or the design or the
        change is none that can be drawn.

    Examples
    --------
    >>> garden = simulate_garden(seed=1, change={"K": 0.2})
    >>> len(garden), garden["season"].unique().tolist()
    (144, ['spring 2022', 'spring 2024'])
    """
    plan = design or Design()
    _check(plan, shape, change or {})
    rng = np.random.default_rng(seed)
    names = list(plan.levels)
    kinds = pd.DataFrame({"analyte": names, "method": [METHODS.get(name, OTHERWISE) for name in names]})
    known = (noise or noise_model()).of(kinds)
    on = known["scale"].to_numpy()
    centre = scales.forward(np.array([plan.levels[name] for name in names], dtype=float), on)
    days = pd.to_datetime([f"{name[-4:]}-{MONTH[frames.season_name(name)]}-10" for name in plan.seasons])
    elapsed = (days - days[0]).days.to_numpy() / max((days[-1] - days[0]).days, 1)
    moved = np.array([(change or {}).get(name, 0.0) for name in names])
    level = centre + SPREAD * rng.standard_normal((plan.beds, 1, 1, len(names)))
    truth = level + elapsed[:, None, None] * moved
    grown = stretch(known, np.array(list(plan.levels.values()), dtype=float))
    error = _error(rng, shape, (plan.beds, len(days), plan.composites, len(names))) * known["sd"].to_numpy()
    y = truth + grown * (_shared(rng, known, plan) + error)
    return _frame(plan, kinds, days, scales.back(y, np.broadcast_to(on, y.shape)),
                  scales.back(np.broadcast_to(truth, y.shape), np.broadcast_to(on, y.shape)))


def _check(plan: Design, shape: str, change: Mapping[str, float]) -> None:
    """Refuse a design that cannot be drawn, and a change of what it does not hold."""
    for name, count in (("beds", plan.beds), ("composites", plan.composites)):
        if not isinstance(count, (int, np.integer)) or count < 1:
            raise SoiltrendError(f"{name} = {count!r} is no number of {name}", remedy="Give 1 or more")
    if not plan.seasons or not plan.levels:
        raise SoiltrendError(f"seasons = {plan.seasons!r} and levels = {plan.levels!r} make no garden",
                             remedy="Give one of each or more")
    if shape not in SHAPES:
        raise SoiltrendError(f"shape '{shape}' is not known", remedy="Known shapes: " + ", ".join(SHAPES))
    for name in plan.seasons:
        if frames.season_name(name) not in MONTH or not name[-4:].isdigit():
            raise SoiltrendError(f"'{name}' is no season", remedy="Write it as 'spring 2022'")
    for name in plan.levels:
        if not vocabulary.canonical_unit(name):
            raise SoiltrendError(f"'{name}' is no analyte of the tables", remedy=MEASURED)
    on = scales.scales(pd.Series(list(plan.levels))).to_numpy()
    known = np.isfinite(scales.forward(np.array(list(plan.levels.values()), dtype=float), on))
    for name, level in (pair for pair, sound in zip(plan.levels.items(), known, strict=True) if not sound):
        raise SoiltrendError(f"a garden cannot lie around {name} {level!r}", remedy="Give a level above 0")
    for name, much in change.items():
        if name not in plan.levels or not np.isfinite(much):
            raise SoiltrendError(f"{name!r} cannot change by {much!r} here",
                                 remedy=f"The garden has {', '.join(plan.levels)}, each changed by a number")


def _shared(rng: np.random.Generator, known: pd.DataFrame, plan: Design) -> np.ndarray:
    """Return what all beds of a season share: its swing and its day, by season and analyte."""
    seasons = [frames.season_name(name) for name in plan.seasons]
    code, names = pd.factorize(pd.Series(seasons))
    swing = rng.standard_normal((len(names), len(known))) * known["season"].to_numpy() / np.sqrt(2)
    day = rng.standard_normal((len(seasons), len(known))) * known["occasion"].to_numpy()
    return np.asarray((swing[code] + day)[:, None, :])


def _error(rng: np.random.Generator, shape: str, size: tuple[int, ...]) -> np.ndarray:
    """Return errors of standard deviation 1."""
    if shape == "heavy":
        return np.asarray(rng.standard_t(3, size) / np.sqrt(3))
    if shape == "skewed":
        spread = np.exp(0.25)
        return np.asarray((rng.lognormal(0, 0.5, size) - np.sqrt(spread)) / np.sqrt(spread * (spread - 1)))
    return rng.standard_normal(size)


def _frame(plan: Design, kinds: pd.DataFrame, days: pd.DatetimeIndex, value: np.ndarray,
           truth: np.ndarray) -> pd.DataFrame:
    """Return the drawn values as a tidy frame with the truth."""
    bed, season, bag, analyte = (index.ravel() for index in np.indices(value.shape))
    names = kinds["analyte"].to_numpy()[analyte]
    limit = np.array([plan.limits.get(name, -np.inf) for name in kinds["analyte"]])[analyte]
    below = value.ravel() < limit
    unit = np.array([vocabulary.canonical_unit(name) for name in kinds["analyte"]], dtype=object)
    seasons = np.array(plan.seasons, dtype=object)[season]
    rows = pd.DataFrame({
        "bed": [f"bed {i + 1}" for i in bed], "sampled": days[season], "season": seasons, "top_cm": 0.0,
        "bottom_cm": 15.0, "analyte": names, "method": kinds["method"].to_numpy()[analyte],
        "value": np.where(below, limit, value.ravel()), "unit": unit[analyte],
        "qualifier": np.where(below, "<", ""), "lab": "invented", "source": "simulated",
        "sample": [f"{i + 1}{chr(97 + k)} {s}" for i, k, s in zip(bed, bag, seasons, strict=True)],
        "truth": truth.ravel()})
    return frames.results(rows)
