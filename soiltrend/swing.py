"""The usual difference between two seasons, from the garden's own years.

Occasions (days of sampling) are laid side by side by what their beds share: bed and occasion
effects are fitted together, so that a bed missed once does not count as a season. Then, for two
seasons, the occasions are a straight line in time plus a step between the seasons. The step is the
swing. Both fits are least squares, and the second knows how surely the first tells each occasion from
each other one: where one bed alone links the springs to the autumns, that bed is all there is.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pandas as pd

from soiltrend import composites, frames

ENOUGH = 2
"""Occasions that each of two seasons needs, so that a trend and a swing can be told apart."""

NOTHING = 1e-9
"""Share of the largest below which an eigenvalue counts as nothing, and so a column that others make up."""

PLACE = ["lab", "top_cm", "bottom_cm"]
"""What a swing belongs to besides the analyte and method: the subsoil need not follow the topsoil."""

SERIES = ["kind", *PLACE]
COLUMNS = ["first", "second", "swing", "se", "n_first", "n_second"]
OWN = [*SERIES, "first", "second", "swing", "sd", "n_first", "n_second"]


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
        ``kind, lab, top_cm, bottom_cm, first, second, swing`` (second less first), ``sd`` (of what is left
        unknown of it), ``n_first, n_second`` (occasions).

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
        return pd.DataFrame(columns=OWN)
    rows = buckets.assign(group=composites.codes(buckets, SERIES))
    names = {season: frames.season_name(season) for season in rows["season"].unique()}
    rows["name"], rows["day"] = rows["season"].map(names), day[rows["kind"]]
    rows["time"] = (rows["sampled"] - rows["sampled"].min()).dt.days / frames.YEAR
    cell = rows.groupby(["group", "bed", "sampled"], sort=False)
    merged = cell[["name", "time", "day"]].first().assign(
        y=cell["y"].mean(), variance=cell["variance"].mean() / cell.size()).reset_index()
    found = [swings(*effects(part)).assign(group=group) for group, part in merged.groupby("group")
             if part.groupby("name")["sampled"].nunique().ge(ENOUGH).sum() > 1]
    if not found:
        return pd.DataFrame(columns=OWN)
    told = pd.concat(found, ignore_index=True)
    told = told.join(rows.drop_duplicates("group").set_index("group")[SERIES], on="group")
    prior = usual[told["kind"].to_numpy(dtype=int)] ** 2
    square = told["se"].to_numpy(dtype=float) ** 2
    told["swing"] *= prior / (prior + square)
    told["sd"] = np.sqrt(prior * square / (prior + square))
    return told[OWN]


def effects(rows: pd.DataFrame) -> tuple[pd.DataFrame, np.ndarray]:
    """Return what each occasion adds to all its beds, and how surely.

    Parameters
    ----------
    rows : DataFrame
        One row per bed and occasion of a series: ``bed``, ``sampled`` (the occasion), ``name`` (of the
        season), ``time`` [years], ``y`` and ``variance`` (of y, without the occasion's own), ``day``
        (standard deviation of an occasion).

    Returns
    -------
    DataFrame
        One row per occasion in time: ``name, time, effect`` and ``part``. Occasions of two parts were never
        met by one bed, nor by a chain of beds: nothing tells how far they lie apart.
    array
        Covariance of the effects within each part, with the occasions' own variance.

    Examples
    --------
    >>> rows = pd.DataFrame({"bed": [0, 1, 0, 1], "sampled": [0, 0, 1, 1], "name": "spring",
    ...                      "time": [0.0, 0.0, 1.0, 1.0], "y": [6.0, 7.0, 6.5, 7.5], "variance": 0.02,
    ...                      "day": 0.1})
    >>> found, covariance = effects(rows)
    >>> step = np.array([-1.0, 1.0])
    >>> round(float(step @ found["effect"]), 6), round(float(step @ covariance @ step), 6)
    (0.5, 0.04)
    """
    bed = composites.codes(rows, ["bed"])
    days, occasion = np.unique(rows["sampled"].to_numpy(), return_inverse=True)
    met = np.zeros((bed.max() + 1, len(days)))
    met[bed, occasion] = 1.0
    within = np.eye(len(days))[occasion] - (met / met.sum(axis=1, keepdims=True))[bed]
    fit = np.linalg.pinv(within.T @ within, rcond=NOTHING, hermitian=True) @ within.T
    found = rows.groupby("sampled")[["name", "time", "day"]].first().reset_index(drop=True)
    covariance = (fit * rows["variance"].to_numpy()) @ fit.T + np.diag(found["day"].to_numpy() ** 2)
    together = np.eye(len(days)) - fit @ within > 0.5 / len(days)  # 1/n among the n occasions of a part
    found = found.drop(columns="day").assign(effect=fit @ rows["y"].to_numpy(), part=together.argmax(axis=1))
    return found, covariance


def swings(occasions: pd.DataFrame, covariance: np.ndarray) -> pd.DataFrame:
    """Return the swing between every two seasons that a series has enough of and can tell apart.

    Parameters
    ----------
    occasions : DataFrame
        As from :func:`effects`.
    covariance : array
        Of their effects.

    Returns
    -------
    DataFrame
        ``first, second, swing`` (second less first, on the analysis scale), ``se`` and the numbers of
        occasions. No row where nothing links the two seasons, so that a swing would be no more than what
        their beds differ by. The standard error is that of the covariance given, and wider when the
        occasions scatter about the line by more.

    Examples
    --------
    >>> days = pd.DataFrame({"name": ["spring", "autumn"] * 3, "time": np.arange(6) / 2,
    ...                      "effect": [0.0, 0.5, 0.2, 0.7, 0.4, 0.9], "part": 0})
    >>> swings(days, 0.01 * np.eye(6))[["first", "second", "swing", "se"]].round(2).to_dict("records")
    [{'first': 'autumn', 'second': 'spring', 'swing': -0.4, 'se': 0.09}]
    """
    count = occasions["name"].value_counts()
    names = sorted(count.index[(count >= ENOUGH) & (count.index != "")])
    found = []
    for first, second in combinations(names, 2):
        mine = np.flatnonzero(occasions["name"].isin([first, second]))
        step = _step(occasions.iloc[mine], covariance[np.ix_(mine, mine)], second)
        if step is not None:
            found.append((first, second, *step, count[first], count[second]))
    return pd.DataFrame(found, columns=COLUMNS)


def _step(part: pd.DataFrame, covariance: np.ndarray, second: str) -> tuple[float, float] | None:
    """Return the step to the second season beside a straight line in time, and its error.

    None where the step cannot be told from what the parts differ by, or nothing is left to see how far
    occasions scatter.
    """
    later = (part["name"] == second).to_numpy(dtype=float)
    levels = (part["part"].to_numpy()[:, None] == part["part"].unique()).astype(float)
    time = part["time"].to_numpy(dtype=float)
    others = np.column_stack([levels, time - time.mean()])
    alone = later - others @ np.linalg.lstsq(others, later, rcond=None)[0]
    free = len(part) - np.linalg.matrix_rank(others) - 1
    if alone @ alone < NOTHING or free < 1:
        return None
    weight = np.linalg.pinv(covariance, rcond=NOTHING, hermitian=True)
    design = np.column_stack([others, later])
    inverse = np.linalg.pinv(design.T @ weight @ design, rcond=NOTHING, hermitian=True)
    y = part["effect"].to_numpy(dtype=float)
    fitted = inverse @ design.T @ weight @ y
    rest = y - design @ fitted
    excess = float(rest @ weight @ rest) / free
    return float(fitted[-1]), float(np.sqrt(inverse[-1, -1] * max(1.0, excess)))
