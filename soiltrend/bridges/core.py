"""A bridge between two laboratories or methods: how far apart they read, from samples split between them.

Nothing is compared across a change of laboratory or method unless the grower asks for a bridge. A
bridge is built from buckets of which both measured a bag. On the scale on which noise is even, the
difference (``to`` less ``of``) has ::

    offset = mean of the differences,   variance = scatter^2 / n + day^2

``scatter`` is the standard deviation of the differences, and never taken for less than two bags of one
bucket differ by themselves. ``day`` is what the two batches of a day of splitting strayed by: more buckets
of that day do not average it away (the model's term for a day also holds the weather, which both bags
share, so it is on the wide side).

From :data:`LINE_FROM` buckets on, a line is fitted with errors on both sides. Its slope moves values only
when it differs from 1.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import composites, present, scales
from soiltrend.bridges.lines import Points, line, slope_error
from soiltrend.bridges.splits import BRIDGED, Side, both_sides, named, not_twice, on_side, paired
from soiltrend.chances import stdtrit
from soiltrend.errors import SoiltrendError
from soiltrend.noise import Noise, noise_model

COLUMNS = [
    "analyte",
    "of_lab",
    "of_method",
    "to_lab",
    "to_method",
    "n",
    "offset",
    "se",
    "slope",
    "slope_se",
    "low",
    "high",
    "why",
    "model",
    "centre",
    "scatter",
    "excess",
    "days",
    "df",
    "unit",
    "scale",
]
SHOWN = ["n", "offset", "low", "high", "slope", "slope_se", "model"]

FEWEST = 3
"""Buckets below which the differences have no scatter to speak of. Judgement."""

LINE_FROM = 8
"""Buckets from which a line is fitted: the least that method comparisons ask for (common practice)."""

CONFIDENCE = 0.95
MEAN, LINE = "mean difference", "line"


@dataclass(frozen=True, eq=False)
class Bridge:
    """How far apart two laboratories or methods read.

    Attributes
    ----------
    table : DataFrame
        One row. ``n`` (buckets), ``offset`` (``to`` less ``of`` at ``centre``, the mean of the ``of``
        values), ``se``, its interval ``low`` to ``high``, ``slope`` and ``slope_se`` (missing below
        :data:`LINE_FROM` buckets), all on the analysis scale (an offset of 0.1 of a concentration is
        10 %), and ``why``. Then ``model`` (by which values are moved), ``centre``, ``scatter`` (of the
        differences, or about the line), ``excess`` (what of it the noise of two bags does not explain:
        soils differ), ``days`` (of splitting), ``df``, ``unit``, ``scale``.
    splits : DataFrame
        The buckets: ``bed, sampled, season, of_value, to_value`` and ``difference`` (analysis scale).
    analyte : str
        What was measured.
    of, to : tuple of str
        Laboratory and method on both sides.
    name : str
        How the note of a moved value calls the bridge.
    twins : frozenset
        Samples of the ``of`` side that ``to`` measured too, as (label, day).
    """

    table: pd.DataFrame
    splits: pd.DataFrame
    analyte: str
    of: Side
    to: Side
    name: str
    twins: frozenset[tuple[str, Any]]

    def bridged_sd(self, values: np.ndarray) -> np.ndarray:
        """Return the error of moving each value, as a standard deviation on the analysis scale.

        It holds the offset's error, which all moved values share, the slope's away from the centre, and
        how far a single soil strays from the bridge. ``values`` are in the unit of the table.
        """
        row = self.table.iloc[0]
        y = scales.forward(np.asarray(values, dtype=float), np.full(len(values), row["scale"]))
        tilt = np.nan_to_num(row["slope_se"]) * (y - row["centre"])
        return np.asarray(np.sqrt(row["se"] ** 2 + tilt**2 + row["excess"] ** 2))

    def __repr__(self) -> str:
        return present.plain(f"Bridge for {self.name}", self.table[SHOWN])

    def _repr_html_(self) -> str:
        return present.page(f"Bridge for {self.name}", self.table[[*SHOWN, "why"]])


def bridge(
    results: pd.DataFrame,
    *,
    analyte: str,
    of: Side,
    to: Side,
    samples: pd.DataFrame | None = None,
    noise: Noise | None = None,
) -> Bridge:
    """Return how far apart two laboratories or methods read, from samples split between them.

    Parameters
    ----------
    results : DataFrame
        A tidy frame.
    analyte : str
        What was measured on both sides.
    of, to : tuple of str
        (laboratory, method) whose values are to be moved, and to whose scale.
    samples : DataFrame, optional
        The garden's sampling record: a bag with ``duplicate_of`` comes from that sample's bucket. Without
        it, that of ``noise``; a label that both report for one day is one bucket in any case.
    noise : Noise, optional
        How far results move by themselves; by default :func:`soiltrend.noise.noise_model` of these results.

    Returns
    -------
    Bridge

    Raises
    ------
    SoiltrendError
        When a side is not in the frame, both are the same, their units differ, a value has crossed a
        bridge before (bridges are never chained), or fewer than 3 buckets have a value on both sides.

    Examples
    --------
    >>> from soiltrend import frames
    >>> rows = [{"bed": bed, "sample": bed, "lab": lab, "analyte": "K", "value": value, "unit": "mg/kg"}
    ...         for bed, pair in {"1": (100, 110), "2": (150, 168), "3": (210, 228)}.items()
    ...         for lab, value in zip(("Old", "New"), pair)]
    >>> found = bridge(frames.results(rows), analyte="K", of=("Old", ""), to=("New", ""))
    >>> found.table[["n", "offset"]].round(3).to_dict("records")
    [{'n': 3, 'offset': 0.097}]
    """
    of, to = (of[0], of[1]), (to[0], to[1])
    sampling = composites.record(samples) if noise is None or samples is not None else noise.composites
    rows = both_sides(results, analyte=analyte, sides=(of, to), sampling=sampling)
    model = noise if noise is not None else noise_model(results, samples=samples)
    pairs = paired(rows, model)
    told = f"{analyte} from {named(of)} to {named(to)}"
    ends = [rows[rows["end"] == end] for end in (0, 1)]
    twins = ends[0][ends[0]["bucket"].isin(ends[1]["bucket"])]
    if len(pairs) < FEWEST:
        raise SoiltrendError(
            f"{len(pairs)} buckets with a value on both sides are too few to bridge {told} "
            f"({twins['bucket'].nunique()} were sent to both)",
            remedy=f"Split {FEWEST} buckets or more, {LINE_FROM} for a line, and write the first bag's "
            "sample in duplicate_of of samples.csv",
        )
    row = _numbers(pairs) | {
        "analyte": analyte,
        "of_lab": of[0],
        "of_method": of[1],
        "to_lab": to[0],
        "to_method": to[1],
        "unit": rows["unit"].iloc[0],
    }
    row["why"] = _why(row, ", ".join(dict.fromkeys(pairs["season"])) or "a season not stated")
    splits = pairs.rename(columns={"value_of": "of_value", "value_to": "to_value"})
    splits = splits.assign(difference=pairs["y_to"] - pairs["y_of"]).reset_index(drop=True)
    return Bridge(
        table=pd.DataFrame([row])[COLUMNS],
        splits=splits[["bed", "sampled", "season", "of_value", "to_value", "difference"]],
        analyte=analyte,
        of=of,
        to=to,
        name=f"{told}, by {len(pairs)} split samples",
        twins=frozenset(zip(twins["sample"], twins["sampled"], strict=True)),
    )


def across(results: pd.DataFrame, *, bridge: Bridge) -> pd.DataFrame:
    """Return the frame with the values of one side moved to the scale of the other.

    A moved row bears the laboratory and method it was moved to; ``reported_value`` stays as printed. Its
    ``note`` names the bridge, and the column ``bridged_sd`` carries the error of the move on the analysis
    scale (:meth:`Bridge.bridged_sd`; 0 where nothing moved). Rows whose notes name one bridge share its
    error: more beds do not average it away. A limit is moved as a limit. A bucket that the other side
    measured itself stays as it is, or it would count twice.

    Parameters
    ----------
    results : DataFrame
        A tidy frame.
    bridge : Bridge
        From :func:`bridge`.

    Raises
    ------
    SoiltrendError
        When no row is there to be moved, or one was moved before.

    Examples
    --------
    >>> from soiltrend import frames
    >>> rows = [{"bed": bed, "sample": bed, "lab": lab, "analyte": "K", "value": value, "unit": "mg/kg"}
    ...         for bed, pair in {"1": (100, 110), "2": (200, 220), "3": (300, 330)}.items()
    ...         for lab, value in zip(("Old", "New"), pair)]
    >>> rows += [{"bed": "4", "sample": "4", "lab": "Old", "analyte": "K", "value": 150, "unit": "mg/kg"}]
    >>> built = bridge(frames.results(rows), analyte="K", of=("Old", ""), to=("New", ""))
    >>> moved = across(frames.results(rows), bridge=built).iloc[-1]
    >>> moved["lab"], round(float(moved["value"]), 6)
    ('New', 165.0)
    """
    out = results.copy(deep=False).reset_index(drop=True)
    out["bridged_sd"] = out["bridged_sd"].fillna(0.0) if "bridged_sd" in out else 0.0
    mine = on_side(out, bridge.analyte, bridge.of)
    twin = [key in bridge.twins for key in zip(out["sample"], out["sampled"], strict=True)]
    rows = out[mine & ~np.array(twin, dtype=bool)]
    if not len(rows):
        raise SoiltrendError(
            f"{int(mine.sum())} values of {named(bridge.of)} and none to be moved: {bridge.name}",
            remedy="Give a frame with results of that laboratory and method beyond the split samples",
        )
    not_twice(rows)
    beyond = ~rows["value"].between(bridge.splits["of_value"].min(), bridge.splits["of_value"].max())
    note = rows["note"].where(rows["note"] == "", rows["note"] + "; ") + f"{BRIDGED} {bridge.name}"
    out.loc[rows.index, "note"] = note.where(~beyond, note + "; beyond the values that were split")
    out.loc[rows.index, "bridged_sd"] = np.nan_to_num(bridge.bridged_sd(rows["value"].to_numpy()))
    out.loc[rows.index, "value"] = _moved(rows["value"].to_numpy(), bridge)
    out.loc[rows.index, "lab"], out.loc[rows.index, "method"] = bridge.to
    return out


def _moved(value: np.ndarray, bridge: Bridge) -> np.ndarray:
    """Return values on the other side's scale; what has no place on the analysis scale stays."""
    row = bridge.table.iloc[0]
    on = np.full(len(value), row["scale"])
    y = scales.forward(value, on)
    tilt = row["slope"] - 1 if row["model"] == LINE else 0.0
    moved = scales.back(y + row["offset"] + tilt * (y - row["centre"]), on)
    return np.where(np.isnan(moved), value, moved)


def _numbers(pairs: pd.DataFrame) -> dict[str, Any]:
    """Return the numbers of a bridge."""
    x, n = pairs["y_of"].to_numpy(), len(pairs)
    apart = pairs["y_to"].to_numpy() - x
    offset = float(apart.mean())
    slope, slope_se = _slope(pairs) if n >= LINE_FROM else (np.nan, np.nan)
    tilted = abs(slope - 1) > float(stdtrit(n - 2, 0.5 + CONFIDENCE / 2)) * slope_se
    left = apart - offset - (slope - 1) * (x - x.mean()) if tilted else apart - offset
    free = n - 2 if tilted else n - 1
    scatter = float((left**2).sum()) / free
    own = float((pairs["bag_of"] + pairs["bag_to"]).mean())
    day = composites.codes(pairs, ["sampled", "season"])
    share = float(((np.bincount(day) / n) ** 2).sum())
    parts = np.array([max(scatter, own) / n, float((pairs["day_of"] + pairs["day_to"]).mean()) * share])
    spent = float((parts**2 / np.array([free, float(pairs["df"].min())])).sum())
    df = float(parts.sum()) ** 2 / spent if spent > 0 else np.inf
    se = float(np.sqrt(parts.sum()))
    half = float(stdtrit(df, 0.5 + CONFIDENCE / 2)) * se
    return {
        "n": n,
        "offset": offset,
        "se": se,
        "slope": slope,
        "slope_se": slope_se,
        "low": offset - half,
        "high": offset + half,
        "model": LINE if tilted else MEAN,
        "centre": float(x.mean()),
        "scatter": float(np.sqrt(scatter)),
        "excess": float(np.sqrt(max(scatter - own, 0.0))),
        "days": int(day.max()) + 1,
        "df": df,
        "scale": pairs["scale"].iloc[0],
    }


def _slope(pairs: pd.DataFrame) -> tuple[float, float]:
    """Return the slope of the line through the buckets and its error; one variance for each side."""
    of, to = (np.full(len(pairs), pairs[name].mean()) for name in ("bag_of", "bag_to"))
    points = Points(pairs["y_of"].to_numpy(), pairs["y_to"].to_numpy(), of, to)
    intercept, slope = line(points)
    scatter = float(((points.y - intercept - slope * points.x) ** 2).sum()) / (len(pairs) - 2)
    error = slope_error(points, slope=slope, scatter=max(scatter, float(to[0] + slope**2 * of[0])))
    return (slope, error) if np.isfinite(error) else (np.nan, np.nan)


def _amount(step: float, row: dict[str, Any]) -> str:
    """Return a step of the analysis scale in the reader's words."""
    if row["scale"] == scales.PLAIN:
        return f"{step:+.2g} {'points' if row['unit'] == '%' else row['unit']}".strip()
    return f"{100 * np.expm1(step):+.2g} %" + (" of the odds" if row["scale"] == scales.SHARE else "")


def _why(row: dict[str, Any], when: str) -> str:
    """Return the sentence of a bridge."""
    offset, low, high = (_amount(row[name], row) for name in ("offset", "low", "high"))
    apart = (
        f"{row['n']} buckets of {when} were measured by both: {named((row['to_lab'], row['to_method']))} "
        f"reads {row['analyte']} {offset} beside {named((row['of_lab'], row['of_method']))} "
        f"(between {low} and {high})"
    )
    batch = (
        ""
        if row["days"] > 1
        else "; all were split on one day, so what its two batches strayed by counts in full"
    )
    if np.isnan(row["slope"]):
        return apart + batch + f"; a line needs {LINE_FROM} buckets and values that lie apart"
    slope = f"{row['slope']:.2f} +- {row['slope_se']:.2f}"
    if row["model"] == LINE:
        return apart + batch + f"; the difference changes with the value (slope {slope})"
    return apart + batch + f"; the slope, {slope}, does not differ from 1, so one offset serves all values"
