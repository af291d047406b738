"""What may be compared with what: the results of two seasons, paired, with reasons where not.

Only a series may be compared with itself: same bed, analyte, method, laboratory, layer and
unit. Seasons are compared like with like: where a series has the same season name at both
ends (spring and spring), only those results are used; where it has none, spring stands against
autumn and the pair is marked so.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import composites, frames, scales, vocabulary
from soiltrend.errors import SoiltrendError

COLUMNS = ["bed", "analyte", "method", "unit", "lab", "top_cm", "bottom_cm", "comparable", "same_season",
           "n_before", "n_after", "reason", "warning"]
SERIES = list(frames.SERIES)
FRESH = "days after a dressing"
"""What the note of a result says when the soil was sampled soon after something was put on."""

AS_PRINTED = ["reported_value", "reported_unit", "source", "rating"]
"""Columns that no comparison looks at: how a value stood in its file."""

_ENDS = (0, 1)
_CHANGED = {"method": "the method", "unit": "the unit", "lab": "the laboratory"}


@dataclass(frozen=True, eq=False)
class Match:
    """Paired results.

    Attributes
    ----------
    pairs : DataFrame
        One row per pair of series, with ``first`` and ``second`` (numbers of the series, -1 for none).
    rows : DataFrame
        The results used, by ``pair`` and ``end``.
    found : DataFrame
        All results of both ends, by ``series`` and ``end``.
    """

    pairs: pd.DataFrame
    rows: pd.DataFrame
    found: pd.DataFrame


def comparable(results: pd.DataFrame, *, before: str, after: str,
               samples: pd.DataFrame | None = None) -> pd.DataFrame:
    """Return every bed and analyte of two seasons, and whether its results may be compared.

    Parameters
    ----------
    results : DataFrame
        A tidy frame.
    before, after : str
        Seasons ("spring 2023"), years ("2022") or days ("2023-04-12").
    samples : DataFrame, optional
        The garden's sampling record: which bags were split from one bucket, and whether the loose
        surface was kept or removed.

    Returns
    -------
    DataFrame
        One row per pair of series: ``bed, analyte, method, unit, lab, top_cm, bottom_cm,
        comparable, same_season, n_before, n_after`` (composites), ``reason`` (why not) and
        ``warning`` (what to know when it is).

    Raises
    ------
    SoiltrendError
        When an end names nothing in the frame, the ends are the same or overlap, or ``after``
        lies before ``before``.
    FrameError
        When the frame is not tidy.

    Examples
    --------
    >>> rows = [{"bed": "East", "analyte": "P", "value": 30.0, "unit": "mg/kg", "method": m, "season": s}
    ...         for m, s in (("Olsen", "spring 2022"), ("Mehlich-3", "spring 2024"))]
    >>> comparable(frames.results(rows), before="spring 2022", after="spring 2024")["reason"][0]
    'the method changed: Olsen in spring 2022, Mehlich-3 in spring 2024'
    """
    return match_ends(results, composites.record(samples), before=before, after=after).pairs[COLUMNS]


def when(results: pd.DataFrame, text: str) -> pd.Series:
    """Return which rows belong to a season, a year or a day.

    Raises
    ------
    SoiltrendError
        When there are none, with the seasons there are.

    Examples
    --------
    >>> rows = frames.results([{"bed": "East", "season": "spring 2023"}, {"bed": "East", "season": "2023"}])
    >>> when(rows, "2023").tolist(), when(rows, "Spring 2023").tolist()
    ([True, True], [True, False])
    """
    wanted = str(text).strip().casefold()
    found: pd.Series
    if re.fullmatch(r"\d{4}-\d{2}-\d{2}.*", wanted):
        found = results["sampled"].dt.normalize() == _day(wanted)
    else:
        year = re.fullmatch(r"\d{4}", wanted) is not None
        plain = {name: str(name).casefold() for name in results["season"].unique()}
        meant = [name for name, told in plain.items() if (told.endswith(wanted) if year else told == wanted)]
        found = results["season"].isin(meant)
    if not found.any():
        here = ", ".join(f"'{name}'" for name in frames.seasons(results)) or "none"
        raise SoiltrendError(f"no result belongs to '{text}'",
                             remedy=f"Seasons here: {here}. A year (2023) or a day (2023-04-12) will do too")
    return found


def _day(text: str) -> pd.Timestamp:
    try:
        return pd.Timestamp(text).normalize()
    except ValueError as error:
        raise SoiltrendError(f"'{text}' is no day", remedy="Write it as 2023-04-12") from error


def _selected(results: pd.DataFrame, before: str, after: str) -> pd.DataFrame:
    """Return the rows of both ends, with ``end`` 0 or 1."""
    frames.check(results.iloc[:0])
    if str(before).strip().casefold() == str(after).strip().casefold():
        raise SoiltrendError(f"before and after are both '{before}'", remedy="Name two different seasons")
    results = results.reset_index(drop=True)
    first, second = when(results, before), when(results, after)
    if (first & second).any():
        raise SoiltrendError(f"{int((first & second).sum())} results belong to both '{before}' and '{after}'",
                             remedy="Name two seasons, or two years")
    rows = frames.check(results[first | second])
    rows = rows.drop(columns=AS_PRINTED).assign(end=second[rows.index].astype(int))
    _check_order(rows, before, after)
    return rows


def _check_order(rows: pd.DataFrame, before: str, after: str) -> None:
    """Refuse an ``after`` whose days all lie before the days of ``before``, as far as they are known.

    Bare years, and seasons of which nothing tells the hemisphere, are held against each other by their years.
    """
    time, second = years(rows), rows["end"] == 1
    bare = rows["sampled"].isna() & (rows["season"].map(frames.season_name) == "")
    sure = (rows["sampled"].notna().any() or "hemisphere" in rows) and not bare.any()
    latest, earliest = float(time[second].max()), float(time[~second].min())
    if (latest < earliest) if sure else (latest // 1 < earliest // 1):
        raise SoiltrendError(f"'{after}' lies before '{before}'", remedy="Give the earlier season as before")


def years(rows: pd.DataFrame) -> pd.Series:
    """Return the time of each result in years: its day, or that of :func:`soiltrend.frames.in_time`.

    Examples
    --------
    >>> years(frames.results([{"bed": "East", "season": "2022"}])).round(2).tolist()
    [2022.5]
    """
    day = frames.in_time(rows)["sampled"].dt
    dated: pd.Series = day.year + (day.day_of_year - 1) / frames.YEAR
    return dated.astype(float)


def match_ends(results: pd.DataFrame, sampling: pd.DataFrame, *, before: str, after: str) -> Match:
    """Return the pairs of two seasons and the results to be used for each; see :func:`comparable`.

    Parameters
    ----------
    results : DataFrame
        A tidy frame.
    sampling : DataFrame
        The record from :func:`soiltrend.composites.record`.
    before, after : str
        As for :func:`comparable`.

    Returns
    -------
    Match
        ``rows`` holds, for each result used, ``pair`` (a row number of ``pairs``), ``end``
        (0 before, 1 after), ``cell`` (its season, -1 when seasons differ), ``composite``,
        ``occasion`` and ``cores``.

    Examples
    --------
    >>> rows = frames.results([{"bed": "East", "analyte": "P", "value": 30.0, "unit": "mg/kg", "season": s}
    ...                        for s in ("spring 2022", "spring 2024", "spring 2024")])
    >>> match = match_ends(rows, composites.record(), before="spring 2022", after="spring 2024")
    >>> match.rows[["pair", "end", "composite"]].to_numpy().tolist()
    [[0, 0, 0], [0, 1, 1], [0, 1, 2]]
    """
    rows = _numbered(_selected(results, before, after), sampling)
    series = rows.drop_duplicates("series")[[*SERIES, "series"]].set_index("series", drop=False)
    pairs = _paired(series, _seen(rows, (len(series), len(_ENDS))))
    used, same_season = _used(rows, pairs)
    pairs["same_season"] = same_season
    _count(pairs, used, "pair", (pairs.index, pairs.index))
    pairs["reason"] = _reasons(pairs, rows, series, (before, after))
    pairs["comparable"] = pairs["reason"] == ""
    used = used[pairs["comparable"].to_numpy()[used["pair"]]]
    pairs["warning"] = _warnings(pairs, rows, used)
    broken = pairs[~pairs["comparable"]].copy()
    _count(broken, rows, "series", (broken["first"], broken["second"]))
    pairs.loc[broken.index, ["n_before", "n_after"]] = broken[["n_before", "n_after"]]
    return Match(pairs, used, rows)


def tally(results: pd.DataFrame, sampling: pd.DataFrame) -> pd.DataFrame:
    """Return for every two seasons how many of their pairs :func:`match_ends` would find comparable.

    Parameters
    ----------
    results : DataFrame
        A tidy frame.
    sampling : DataFrame
        The record from :func:`soiltrend.composites.record`.

    Returns
    -------
    DataFrame
        Square, the seasons in time down and across; 0 where one is a part of the other.

    Raises
    ------
    FrameError
        When the frame is not tidy.

    Examples
    --------
    >>> rows = frames.results([{"bed": bed, "analyte": "pH", "value": 6.0, "unit": "pH", "season": season}
    ...                        for bed, season in (("East", "2022"), ("West", "2022"), ("East", "2023"))])
    >>> tally(rows, composites.record()).to_numpy().tolist()
    [[0, 1], [1, 0]]
    """
    rows = _numbered(frames.check(results).reset_index(drop=True), sampling)
    names, count = frames.seasons(rows), rows["series"].nunique()
    within = np.array([when(rows, name) for name in names], dtype=bool).reshape(len(names), len(rows))
    end, at = np.nonzero(within)
    laid = rows.loc[at, ["series", "blocked", "surface", "note"]].assign(end=end)
    usable = _seen(laid[laid["blocked"] == ""], (count, len(names))).astype(int)
    surface = _surface(laid, usable.shape)
    kept, removed = (usable * (surface == side) for side in (1, -1))
    counts = usable.T @ usable - kept.T @ removed - removed.T @ kept
    shared = within[:, within.sum(axis=0) > 1]
    apart = ~(np.eye(len(names), dtype=bool) | shared @ shared.T)
    return pd.DataFrame(counts * apart, names, names)


def _numbered(rows: pd.DataFrame, sampling: pd.DataFrame) -> pd.DataFrame:
    """Return the rows marked, with the number of their ``series`` and why they are ``blocked``."""
    rows = composites.mark(rows, sampling)
    rows["blocked"] = _blocked(rows)
    rows["series"] = composites.codes(rows, SERIES)
    return rows


def _count(pairs: pd.DataFrame, rows: pd.DataFrame, by: str, keys: tuple[pd.Index | pd.Series, ...]) -> None:
    """Write the numbers of composites at both ends into the pairs, looked up by the keys."""
    counted = rows[[by, "end", "composite"]].drop_duplicates().groupby(["end", by]).size()
    for end, name in zip(_ENDS, ("n_before", "n_after"), strict=True):
        index = pd.MultiIndex.from_arrays([np.full(len(pairs), end), np.asarray(keys[end])])
        pairs[name] = counted.reindex(index).fillna(0).to_numpy(dtype=int)


def _blocked(rows: pd.DataFrame) -> np.ndarray:
    """Return why a result cannot be used by itself, or empty."""
    on = scales.scales(rows["analyte"]).to_numpy()
    value = rows["value"].to_numpy()
    lost = np.isnan(scales.forward(value, on))
    text = np.full(len(rows), "", dtype=object)
    text[lost] = [f"{v:g} % of the whole has no ratio to the rest: look at the amounts" if share else
                  f"{v:g} was reported, which can only mean below a limit: write it as < with the limit"
                  for v, share in zip(value[lost], on[lost] == scales.SHARE, strict=True)]
    unusable = rows["note"].str.startswith((frames.INFLATED, frames.QUESTIONED))
    return np.where(unusable, rows["note"].to_numpy(object), text)


def _seen(rows: pd.DataFrame, shape: tuple[int, ...]) -> np.ndarray:
    """Return for each series and end whether it has any result."""
    seen = np.zeros(shape, dtype=bool)
    seen[rows["series"], rows["end"]] = True
    return seen


def _paired(series: pd.DataFrame, seen: np.ndarray) -> pd.DataFrame:
    """Return the pairs of series: itself at both ends, else the likest at the other end, else none."""
    both = series[seen.all(axis=1)]
    found = [pd.DataFrame({"first": both["series"], "second": both["series"]})]
    left, right = (series[seen[:, end] & ~seen[:, 1 - end]] for end in _ENDS)
    for keys in (["bed", "analyte", "method", "unit"], ["bed", "analyte"]):
        ranked = [side.assign(rank=side.groupby(keys, sort=False).cumcount()) for side in (left, right)]
        near = ranked[0].merge(ranked[1], on=[*keys, "rank"], suffixes=("_first", "_second"))
        near = near[["series_first", "series_second"]].set_axis(["first", "second"], axis=1)
        found.append(near)
        left, right = left[~left["series"].isin(near["first"])], right[~right["series"].isin(near["second"])]
    found.append(pd.DataFrame({"first": left["series"], "second": -1}))
    found.append(pd.DataFrame({"first": -1, "second": right["series"]}))
    pairs = pd.concat(found, ignore_index=True).astype(int)
    shown = pairs["first"].where(pairs["first"] >= 0, pairs["second"])
    pairs = pd.concat([pairs, series.loc[shown, SERIES].reset_index(drop=True)], axis=1)
    place = np.lexsort((shown, pd.Series(shown).groupby(pairs["bed"]).transform("min")))
    return pairs.iloc[place].reset_index(drop=True)


def _used(rows: pd.DataFrame, pairs: pd.DataFrame) -> tuple[pd.DataFrame, np.ndarray]:
    """Return the usable results of each pair, like seasons where both ends have one, and which have."""
    own = pairs[pairs["first"] == pairs["second"]]
    at = np.full(rows["series"].max() + 1, -1)
    at[own["first"]] = own.index
    rows = rows.assign(pair=at[rows["series"]])
    rows = rows[(rows["blocked"] == "") & (rows["pair"] >= 0)]
    names = {text: frames.season_name(text) for text in rows["season"].unique()}
    name = pd.factorize(rows["season"].map(names))
    blank = np.array([text == "" for text in name[1]], dtype=bool)
    cell = np.where(blank[name[0]], -1, name[0]) if len(rows) else name[0]
    key = pd.Series(rows["pair"].to_numpy() * (len(name[1]) + 1) + cell + 1, index=rows.index)
    shared = (rows["end"].groupby(key).transform("nunique") == 2) & (cell >= 0)
    same = np.zeros(len(pairs), dtype=bool)
    same[rows["pair"][shared]] = True
    keep = shared | ~same[rows["pair"]]
    return rows.assign(cell=np.where(same[rows["pair"]], cell, -1))[keep], same


def _said(column: str, row: pd.Series) -> str:
    return row[column] or "not stated"


def _layer(row: pd.Series) -> str:
    if np.isnan(row["bottom_cm"]):
        return "not stated"
    return f"{row['top_cm'] if row['top_cm'] > 0 else 0:g}-{row['bottom_cm']:g} cm"


def _difference(first: pd.Series, second: pd.Series, ends: tuple[str, str]) -> str:
    """Return what differs between two series of one bed and analyte."""
    told = [(what, _said(column, first), _said(column, second)) for column, what in _CHANGED.items()
            if first[column] != second[column]]
    if _layer(first) != _layer(second):
        told.append(("the layer", _layer(first), _layer(second)))
    return "; ".join(f"{what} changed: {a} in {ends[0]}, {b} in {ends[1]}" for what, a, b in told)


def _reasons(pairs: pd.DataFrame, rows: pd.DataFrame, series: pd.DataFrame,
             ends: tuple[str, str]) -> np.ndarray:
    """Return why each pair cannot be compared, or empty."""
    reason = np.full(len(pairs), "", dtype=object)
    first, second = pairs["first"].to_numpy(), pairs["second"].to_numpy()
    reason[second < 0] = f"no result in {ends[1]}"
    reason[first < 0] = f"no result in {ends[0]}"
    for i in np.flatnonzero((first != second) & (first >= 0) & (second >= 0)):
        reason[i] = _difference(series.loc[first[i]], series.loc[second[i]], ends)
    lost = np.flatnonzero((first == second) & ((pairs["n_before"] == 0) | (pairs["n_after"] == 0)).to_numpy())
    blocked = rows[rows["blocked"] != ""].drop_duplicates(["series", "end"])
    why = blocked.set_index(["series", "end"])["blocked"]
    for i in lost:
        told = [(end, why.get((first[i], k), "")) for k, end in enumerate(ends)]
        reason[i] = "; ".join(f"{end}: {text}" for end, text in told if text)
    surface = _surface(rows, (len(series), len(_ENDS)))
    changed = (reason == "") & (surface[first, 0] * surface[second, 1] < 0)
    reason[changed] = "the loose surface was kept at one end and removed at the other"
    return reason


def _surface(rows: pd.DataFrame, shape: tuple[int, ...]) -> np.ndarray:
    """Return for each series and end 1 where all that is told is a surface kept, -1 removed, else 0."""
    said = {side: rows["note"].str.contains(f"surface {side}", case=False) for side in ("kept", "removed")}
    kept = (rows["surface"] == "kept") | said["kept"]
    sign = np.where(kept, 1, np.where((rows["surface"] != "") | said["removed"], -1, 0))
    total, told = np.zeros(shape, dtype=int), np.zeros(shape, dtype=int)
    for out, by in ((total, sign), (told, np.abs(sign))):
        np.add.at(out, (rows["series"].to_numpy(), rows["end"].to_numpy()), by)
    return np.asarray(np.sign(total) * (np.abs(total) == told))


def _warnings(pairs: pd.DataFrame, rows: pd.DataFrame, used: pd.DataFrame) -> np.ndarray:
    """Return what to know about each comparable pair."""
    blank = {"method": "the method is not stated and taken as unchanged",
             "lab": "the laboratory is not stated and taken as unchanged"}
    text = np.full(len(pairs), "", dtype=object)
    for column, words in blank.items():
        by_eye = (pairs["analyte"].map(lambda name: bool(vocabulary.observed(name)))).to_numpy(dtype=bool)
        text = np.where((pairs[column] == "") & ~by_eye, text + words + "; ", text)
    mine = rows[rows["series"].isin(pairs["first"])]
    left = mine[~mine.index.isin(used.index)]
    for blocked, words in ((True, "that cannot be used"), (False, "of a season that the other end lacks")):
        part = left[(left["blocked"] != "") == blocked]["series"].value_counts()
        count = pairs["first"].map(part).fillna(0).to_numpy(dtype=int)
        told = np.array([f"{n} result{'s' if n > 1 else ''} {words} left out; " for n in count], dtype=object)
        text = np.where(count > 0, text + told, text)
    dressed = used[used["note"].str.contains(FRESH, regex=False)]["pair"]
    text = np.where(pairs.index.isin(dressed), text + "some of it was sampled soon after a dressing; ", text)
    text = np.array([t[:-2] for t in text], dtype=object)
    return np.where(pairs["comparable"], text, "")
