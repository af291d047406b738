"""The usual difference between two seasons, from the garden's own years.

Occasions (days of sampling) are laid side by side by what their beds share: bed and occasion
effects are fitted together, so that a bed missed once does not count as a season. Then, for two
seasons, the occasions are a straight line in time plus a step between the seasons. The step is the
swing.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pandas as pd

from soiltrend import composites, frames

ENOUGH = 2
"""Occasions that each of two seasons needs, so that a trend and a swing can be told apart."""

ROUNDS = 30
"""Rounds of fitting beds and occasions in turn; balanced gardens need one."""

SERIES = ["kind", "lab", "top_cm", "bottom_cm"]
COLUMNS = ["group", "first", "second", "swing", "se", "n_first", "n_second"]


def own(buckets: pd.DataFrame, day: np.ndarray, usual: np.ndarray) -> pd.DataFrame:
    """Return a garden's own swings, drawn towards none as far as they are little known.

    Parameters
    ----------
    buckets : DataFrame
        One row per composite: ``kind`` (a row number of the noise table), ``bed, sampled, season, lab,
        top_cm, bottom_cm, y`` and ``variance``.
    day, usual : array
        By kind, the standard deviations of an occasion and of the usual swing.

    Returns
    -------
    DataFrame
        ``kind, first, second, swing`` (second less first), ``sd`` (of what is left unknown of it),
        ``n_first, n_second`` (occasions): the best known laboratory and layer of each kind.

    Notes
    -----
    With the usual swing s0 and the garden's own estimate m +- se, the swing is m s0^2 / (s0^2 + se^2)
    with variance 1 / (1/s0^2 + 1/se^2).

    Examples
    --------
    >>> days = pd.to_datetime(["2021-04-10", "2021-10-10", "2022-04-10", "2022-10-10"])
    >>> rows = pd.DataFrame({"kind": 0, "bed": "East", "sampled": days, "lab": "L", "top_cm": 0.0,
    ...                      "bottom_cm": 15.0, "y": [6.0, 6.4, 6.0, 6.4], "variance": 0.01})
    >>> found = own(rows.assign(season=frames.season(rows["sampled"])), np.array([0.05]), np.array([10.0]))
    >>> found[["first", "second", "swing"]].round(1).to_numpy().tolist()
    [['autumn', 'spring', -0.4]]
    """
    if buckets["season"].nunique() < 2 * ENOUGH:
        return pd.DataFrame(columns=["kind", *COLUMNS[1:4], "sd", *COLUMNS[5:]])
    rows = buckets.assign(group=composites.codes(buckets, SERIES))
    rows["bed"] = composites.codes(rows, ["group", "bed"])
    rows["occasion"] = composites.codes(rows, ["group", "sampled"])
    names = {season: frames.season_name(season) for season in rows["season"].unique()}
    rows["name"], rows["day"] = rows["season"].map(names), day[rows["kind"]]
    rows["time"] = (rows["sampled"] - rows["sampled"].min()).dt.days / frames.YEAR
    kind = rows.groupby("group")["kind"].first()
    cell = rows.groupby(["bed", "occasion"], sort=False)
    merged = cell[["group", "name", "time", "day"]].first().assign(
        y=cell["y"].mean(), variance=cell["variance"].mean() / cell.size()).reset_index()
    found = swings(effects(merged))
    found["kind"] = found["group"].map(kind)
    found = found.sort_values("se", kind="stable").drop_duplicates(["kind", "first", "second"]).sort_index()
    prior = usual[found["kind"].to_numpy(dtype=int)] ** 2
    square = found["se"].to_numpy() ** 2
    found["swing"] *= prior / (prior + square)
    found["sd"] = np.sqrt(prior * square / (prior + square))
    return found[["kind", "first", "second", "swing", "sd", "n_first", "n_second"]].reset_index(drop=True)


def effects(rows: pd.DataFrame) -> pd.DataFrame:
    """Return what each occasion adds to all its beds.

    Parameters
    ----------
    rows : DataFrame
        One row per bed and occasion: ``group`` (analyte, method, laboratory and layer), ``bed``,
        ``occasion`` (whole numbers from 0, each within one group), ``name`` (of the season),
        ``time`` [years], ``y`` and ``variance`` (of y, without the occasion's own), ``day`` (standard
        deviation of an occasion).

    Returns
    -------
    DataFrame
        One row per occasion: ``group, name, time, effect, variance`` (with the occasion's own).

    Examples
    --------
    >>> rows = pd.DataFrame({"group": 0, "bed": [0, 1, 0, 1], "occasion": [0, 0, 1, 1], "name": "spring",
    ...                      "time": [0.0, 0.0, 1.0, 1.0], "y": [6.0, 7.0, 6.5, 7.5], "variance": 0.02,
    ...                      "day": 0.1})
    >>> found = effects(rows)
    >>> round(float(found["effect"].diff()[1]), 6), found["variance"].round(3).tolist()
    (0.5, [0.02, 0.02])
    """
    bed, occasion, y = (rows[name].to_numpy() for name in ("bed", "occasion", "y"))
    beds, occasions = np.bincount(bed), np.bincount(occasion)
    effect = np.zeros(len(occasions))
    for _ in range(ROUNDS):
        level = np.bincount(bed, y - effect[occasion]) / beds
        effect = np.bincount(occasion, y - level[bed]) / occasions
    first = rows.groupby("occasion")[["group", "name", "time", "day"]].first()
    sampled = rows.groupby("occasion")["variance"].sum() / occasions**2
    return first.assign(effect=effect, variance=sampled + first["day"] ** 2).drop(columns="day")


def swings(occasions: pd.DataFrame) -> pd.DataFrame:
    """Return the swing between every two seasons of each group that has enough of both.

    Parameters
    ----------
    occasions : DataFrame
        As from :func:`effects`.

    Returns
    -------
    DataFrame
        ``group, first, second, swing`` (second less first, on the analysis scale), ``se`` and the
        numbers of occasions. The standard error is that of the variances given, and wider when the
        occasions scatter about the line by more.

    Examples
    --------
    >>> days = pd.DataFrame({"group": 0, "name": ["spring", "autumn"] * 3, "variance": 0.01,
    ...                      "time": np.arange(6) / 2, "effect": [0.0, 0.5, 0.2, 0.7, 0.4, 0.9]})
    >>> swings(days)[["first", "second", "swing", "se"]].round(2).to_dict("records")
    [{'first': 'autumn', 'second': 'spring', 'swing': -0.4, 'se': 0.09}]
    """
    many = occasions.groupby(["group", "name"])["time"].transform("size") >= ENOUGH
    found = [
        (group, first, second, *_step(part[part["name"].isin([first, second])], second))
        for group, part in occasions[many & (occasions["name"] != "")].groupby("group")
        for first, second in combinations(sorted(part["name"].unique()), 2)
    ]
    return pd.DataFrame(found, columns=COLUMNS)


def _step(part: pd.DataFrame, second: str) -> tuple[float, float, int, int]:
    """Return the step to the second season beside a straight line in time, its error and the numbers."""
    later = (part["name"] == second).to_numpy()
    time = part["time"].to_numpy(dtype=float)
    design = np.column_stack([np.ones(len(part)), time - time.mean(), later])
    inverse = np.linalg.pinv(design.T @ design) @ design.T
    y, variance = part["effect"].to_numpy(dtype=float), part["variance"].to_numpy(dtype=float)
    fitted = inverse @ y
    free = len(part) - 3
    excess = float(((y - design @ fitted) ** 2 / variance).sum()) / free
    se = np.sqrt((inverse[2] ** 2 * variance).sum() * max(1.0, excess))
    return float(fitted[2]), float(se), int((~later).sum()), int(later.sum())
