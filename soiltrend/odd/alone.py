"""How far each value lies from the others of its own series, in noise."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pandas as pd

from soiltrend import composites, frames, scales, vocabulary
from soiltrend.chances import stdtr
from soiltrend.comparable import years
from soiltrend.noise import Noise, stretch

OTHERS = 3
"""Other values of its series that a value needs to be held against. Judgement."""

REACH = 0.5
"""How far beyond the other values their line may be drawn, as a share of the time they span. Judgement."""

RESTLESS = 20
"""Values of one kind from which it can be told whether they scatter by more than their noise. Judgement."""

CALM = 0.9
"""Share of the values of a kind that are taken to be free of slips when its restlessness is judged."""

MEDIAN = np.pi / 2
"""Variance of a median over that of a mean, for normal errors and many values; less for few."""

CALM_TIMES = 1.645
"""Standard deviations within which that share of normal errors lies (two-sided)."""


def departures(results: pd.DataFrame, model: Noise) -> pd.DataFrame:
    """Return the measured values that have others to be held against, with their distance from them.

    Parameters
    ----------
    results : DataFrame
        A tidy frame. Left out are derived rows, what the grower observed, values beyond a limit and those
        without a time.
    model : Noise
        How far results move by themselves.

    Returns
    -------
    DataFrame
        The rows with ``others`` (values held against), ``middle`` (theirs), ``least`` and ``most`` (between
        which the series allows a value), ``nearest`` (of these to the value), ``y``, all on the analysis
        scale; ``spread`` and
        ``middle_spread`` (standard deviations of a value and of the middle), ``times`` (distance from
        ``nearest`` over the standard deviation of that distance), ``df``, ``p``.

    Examples
    --------
    >>> days = pd.to_datetime(["2021-04-01", "2022-04-01", "2023-04-01", "2024-04-01"])
    >>> rows = pd.DataFrame({"bed": "East", "analyte": "K", "unit": "mg/kg", "sampled": days, "lab": "L",
    ...                      "season": frames.season(pd.Series(days)), "value": [100.0, 110, 1000, 105]})
    >>> from soiltrend.noise import noise_model
    >>> departures(frames.results(rows), noise_model())["times"].round(1).tolist()
    [-0.7, 0.0, 16.0, -0.3]
    """
    rows = _usable(results, model)
    found = np.full((len(rows), 5), np.nan)
    y, time = rows["y"].to_numpy(), rows["time"].to_numpy()
    name = pd.factorize(rows["season"].map(frames.season_name))[0]
    for at in rows.groupby("series", sort=False).indices.values():
        if len(at) > OTHERS:
            found[at] = _series(y[at], time[at], name[at])
    rows[["middle", "least", "most", "others", "like"]] = found
    rows["nearest"] = rows["y"].clip(rows["least"], rows["most"])
    rows = rows[rows["others"] >= OTHERS].reset_index(drop=True)
    _measure(rows, model)
    return rows


def measured(results: pd.DataFrame) -> pd.Series:
    """Return which rows a laboratory measured: neither derived here nor observed by the grower.

    Examples
    --------
    >>> measured(frames.results([{"analyte": "K"}, {"analyte": "earthworms"}])).tolist()
    [True, False]
    """
    return (results["source"] != frames.COMPUTED) & (_kinds(results["analyte"]) != "observation")


def _kinds(analytes: pd.Series) -> pd.Series:
    """Return the kind of each analyte by the table, "" where it is not listed."""
    return analytes.map({name: vocabulary.facts(name).get("kind", "") for name in analytes.unique()})


def _usable(results: pd.DataFrame, model: Noise) -> pd.DataFrame:
    """Return the measured, dated values on their analysis scale, by series and time."""
    rows = composites.mark(results.reset_index(drop=True), model.composites)
    rows["scale"] = scales.scales(rows["analyte"])
    rows["y"] = scales.forward(rows["value"].to_numpy(), rows["scale"].to_numpy())
    rows["time"] = years(rows)
    rows["kind_of"] = _kinds(rows["analyte"])
    keep = measured(rows) & (rows["qualifier"] == "") & rows["y"].notna() & rows["time"].notna()
    rows = rows[keep].copy()
    rows["series"] = composites.codes(rows, list(frames.SERIES))
    return rows.sort_values(["series", "time"], kind="stable").reset_index(drop=True)


def _series(y: np.ndarray, time: np.ndarray, name: np.ndarray) -> np.ndarray:
    """Return middle, least, most, number and likeness of the others of each value of one series, in time."""
    out = np.empty((len(y), 5))
    for i in range(len(y)):
        rest = np.arange(len(y)) != i
        same = rest & (name == name[i])
        like = int(same.sum()) >= OTHERS
        pool = same if like else rest
        middle = _median(y[pool])
        allowed = [middle, *y[max(i - 1, 0) : i], *y[i + 1 : i + 2], *_line(y[pool], time[pool], time[i])]
        out[i] = middle, min(allowed), max(allowed), pool.sum(), like
    return out


def _line(y: np.ndarray, time: np.ndarray, at: float) -> list[float]:
    """Return the median line of values at a time (Theil 1950, Sen 1968), if there are enough for one."""
    first, second = _two_of(len(y))
    apart = time[second] - time[first]
    if len(y) <= OTHERS or not (apart > 0).any():
        return []
    slope = _median((y[second] - y[first])[apart > 0] / apart[apart > 0])
    reach = REACH * (time[-1] - time[0])
    at = min(max(at, time[0] - reach), time[-1] + reach)
    return [_median(y - slope * time) + slope * at]


@lru_cache(maxsize=None)
def _two_of(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the places of every two of so many values."""
    first, second = np.triu_indices(count, 1)
    return first, second


def _median(values: np.ndarray) -> float:
    """Return the median of a few numbers, quicker than for many."""
    ranked = np.sort(values)
    half = len(ranked) // 2
    return float(ranked[half]) if len(ranked) % 2 else float(ranked[half - 1] + ranked[half]) / 2


def _measure(rows: pd.DataFrame, model: Noise) -> None:
    """Write spreads, distances and p-values into the rows."""
    known = model.of(rows)
    expected = scales.back(rows["nearest"].to_numpy(), rows["scale"].to_numpy())
    cores = rows["cores"].fillna(known["cores"])
    own = known["laboratory"] ** 2 + known["preparation"] ** 2 + known["between_cores"] ** 2 / cores
    season = np.where(rows["like"] > 0, 0.0, known["season"] ** 2)
    rows["spread"] = np.sqrt(own + known["occasion"] ** 2 + season) * stretch(known, expected)
    rows["middle_spread"] = rows["spread"] * np.sqrt(MEDIAN / rows["others"])
    distance = rows["y"] - rows["nearest"]
    rows["times"] = distance / np.hypot(rows["spread"], rows["middle_spread"])
    rows["df"] = known["df"]
    rows["restless"] = _restless(rows)
    rows["p"] = 2 * stdtr(rows["df"], -rows["times"].abs() / rows["restless"])


def _calm(times: pd.Series) -> float:
    """Return the distance that the calm share of values does not exceed."""
    return float(times.quantile(CALM, interpolation="lower"))


def _restless(rows: pd.DataFrame) -> pd.Series:
    """Return by how much values of each analyte and method scatter by more than noise, at least 1."""
    kind = composites.codes(rows, ["analyte", "method"])
    group = rows["times"].abs().groupby(kind)
    factor = (group.transform(_calm) / CALM_TIMES).clip(lower=1.0)
    return factor.where(group.transform("size") >= RESTLESS, 1.0)
