"""The shape of a record: flat, a line, a step at a recorded event, or a saw-tooth after dressings.

Each shape is a least-squares fit with a level for each season. They are compared by the corrected
information criterion (Hurvich & Tsai 1989), n ln(RSS/n) + 2k + 2k(k+1)/(n-k-1) with k counting the error
variance, which asks the more of a shape the fewer the tests. A shape is named when every other one is
worse by two or more; a simpler one within two of the best keeps the question open.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import frames, present, scales, series
from soiltrend.chances import stdtrit
from soiltrend.errors import SoiltrendError

FLAT, LINE, STEP, SAW, OPEN, FEW = "flat", "line", "step", "saw-tooth", "cannot tell", "too few"
FEWEST = 8
"""Tests below which shapes are not compared."""

BESIDE = 3
"""Tests wanted on either side of a step."""

CLEAR = 2.0
"""Difference of the criterion by which a shape must lead (Burnham & Anderson 2002: less is no evidence)."""

FADING = 1.0
"""Years in which the effect of a dressing falls to a third (1/e); an assumption of the saw-tooth."""

COLUMNS = ["bed", "analyte", "method", "unit", "n", "shape", "event", "step", "step_low", "step_high"]
COLUMNS += [*(f"score_{name}" for name in (FLAT, LINE, STEP, SAW)), "why"]
_SAYS = {
    FLAT: "no change beyond noise",
    LINE: "a change little by little",
    STEP: "a change at once between the tests before and after the event",
    SAW: "a push after each dressing that fades within years",
}


@dataclass(frozen=True, eq=False)
class Shapes:
    """Shapes of records.

    Attributes
    ----------
    table : DataFrame
        One row per series of the beds with events: ``n`` tests, ``shape``, the first ``event``, ``step``
        with ``step_low`` and ``step_high`` (95 %, in ``unit`` at the level before; NaN unless a step could
        be fitted), ``score_flat`` and so on: the criterion
        of each shape above the best one, and ``why``.
    """

    table: pd.DataFrame

    def __repr__(self) -> str:
        return present.plain(f"Shapes of {len(self.table)} records", self.table[COLUMNS[:-1]])

    def _repr_html_(self) -> str:
        return present.page(f"Shapes of {len(self.table)} records", self.table)


def shape(results: pd.DataFrame, *, events: Mapping[str, Sequence[str]]) -> Shapes:
    """Return whether records look like a line, a step at an event, or a saw-tooth after dressings.

    Parameters
    ----------
    results : DataFrame
        A tidy frame.
    events : mapping
        Days by bed: ``{"East": ["2019-03-20"]}``. The step is tried at the first; the saw-tooth has all.

    Returns
    -------
    Shapes
        One row per series of these beds. A shape is no cause.

    Raises
    ------
    SoiltrendError
        When a bed is not in the frame or an event is no day.

    Examples
    --------
    >>> from soiltrend import frames
    >>> days = pd.date_range("2014-04-03", periods=10, freq="365D")
    >>> rows = pd.DataFrame({"bed": "East", "analyte": "pH", "unit": "pH", "sampled": days,
    ...                      "value": [5.5, 5.6, 5.5, 5.4, 5.5, 6.3, 6.2, 6.3, 6.4, 6.3]})
    >>> shape(frames.results(rows), events={"East": ["2018-10-01"]}).table["shape"].tolist()
    ['step']
    """
    known = set(results["bed"])
    for bed in events:
        if bed not in known:
            raise SoiltrendError(
                f"events are stated for bed '{bed}', which has no results",
                remedy="Beds here: " + ", ".join(sorted(known)),
            )
    laid = series.lay_out(results)
    days = {bed: np.sort([_years(bed, day, laid.origin) for day in listed]) for bed, listed in events.items()}
    found = []
    for place, row in enumerate(laid.series.to_dict("records")):
        if row["bed"] in days and len(days[row["bed"]]):
            found.append(
                _row(
                    row, series.some(laid.points, laid.points.series == place), days[row["bed"]], laid.origin
                )
            )
    return Shapes(pd.DataFrame(found, columns=COLUMNS))


def _years(bed: str, day: str, origin: pd.Timestamp) -> float:
    """Return an event's time in years from the origin."""
    try:
        days = float((pd.Timestamp(day).normalize() - origin).days)
    except (AttributeError, TypeError, ValueError) as error:  # a blank is pandas' missing day, which has none
        raise SoiltrendError(f"'{day}' of bed '{bed}' is no day", remedy="Write it as 2019-03-20") from error
    return days / frames.YEAR


def _row(row: dict[Any, Any], points: Any, events: np.ndarray, origin: pd.Timestamp) -> dict[str, Any]:
    """Return the shape of one series."""
    exact = points.low == points.high
    t, y, season = points.time[exact], points.low[exact], points.season[exact]
    event = origin + pd.Timedelta(days=round(float(events[0]) * frames.YEAR))
    kept = {name: row[name] for name in ("bed", "analyte", "method", "unit")} | {"n": len(t), "event": event}
    if len(t) < FEWEST:
        return {**kept, "shape": FEW, "why": f"{len(t)} measured tests: shapes are compared from {FEWEST} on"}
    levels = (season[:, None] == np.unique(season)).astype(float)
    after = (t > events[0]).astype(float)
    columns = {FLAT: levels, LINE: np.column_stack([t, levels])}
    if min(after.sum(), len(t) - after.sum()) >= BESIDE:
        columns[STEP] = np.column_stack([after, levels])
    since = np.array([np.exp(-(x - events[events < x]) / FADING).sum() for x in t])
    if np.ptp(since) > 0 and len(events) > 1:
        columns[SAW] = np.column_stack([since, levels])
    score = {name: _criterion(design, y) for name, design in columns.items()}
    best = min(score, key=lambda name: score[name])
    others = [value - score[best] for name, value in score.items() if name != best]
    named = best if min(others) >= CLEAR else OPEN
    told = {name: value - score[best] for name, value in score.items()}
    return {
        **kept,
        **{f"score_{name}": value for name, value in told.items()},
        "shape": named,
        **_step(columns.get(STEP), y, row["scale"]),
        "why": _why(named, best, told),
    }


def _criterion(design: np.ndarray, y: np.ndarray) -> float:
    """Return the corrected information criterion of a least-squares fit."""
    n, k = len(y), design.shape[1] + 1
    rest = y - design @ np.linalg.lstsq(design, y, rcond=None)[0]
    square = max(float(rest @ rest), 1e-20 * n)
    return float(n * np.log(square / n) + 2 * k + 2 * k * (k + 1) / (n - k - 1))


def _step(design: np.ndarray | None, y: np.ndarray, scale: str) -> dict[str, float]:
    """Return the step and its interval in the unit, at the level before it."""
    if design is None:
        return {}
    beta = np.linalg.lstsq(design, y, rcond=None)[0]
    rest = y - design @ beta
    df = len(y) - design.shape[1]
    se = np.sqrt(float(rest @ rest) / df * np.linalg.inv(design.T @ design)[0, 0])
    half = float(stdtrit(df, 0.975) * se)
    before = float(np.mean(y[design[:, 0] == 0]))
    ends = np.array([before, before + beta[0], before + beta[0] - half, before + beta[0] + half])
    level, step, low, high = scales.back(ends, np.array([scale] * 4))
    return {"step": float(step - level), "step_low": float(low - level), "step_high": float(high - level)}


def _why(named: str, best: str, told: dict[str, float]) -> str:
    """Return the sentence beside a shape."""
    tried = ", ".join(f"{name} {value:.1f}" for name, value in sorted(told.items(), key=lambda item: item[1]))
    if named == OPEN:
        near = [name for name, value in told.items() if value < CLEAR and name != best]
        others = " or ".join(near)
        return f"Looks most like a {best}, but {others} does nearly as well (criterion {tried})"
    lead = named[0].upper() + named[1:]
    return f"{lead}: {_SAYS[named]} (criterion {tried}; two or more tell apart). A shape is no cause"
