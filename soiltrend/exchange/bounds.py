"""What sums and ratios share: measured amounts as intervals, guards, notes, derived rows.

A value below a limit lies between nothing and the limit, a value above one between the limit
and no end. Such intervals are carried through sums, shares and ratios, so that a derived
value is plain, or "<", or ">", or is not given at all; half a limit is never put in its place.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import pandas as pd

from soiltrend import frames, tables

TO_PERCENT = 100.0


@lru_cache(maxsize=None)
def limit(guard: str) -> float:
    """Return the limit of a guard in ``tables/guards.csv``.

    Examples
    --------
    >>> limit("high pH")
    7.3
    """
    table = tables.load("guards", numbers=("limit",)).set_index("guard")
    return float(table["limit"][guard])


def measured(frame: pd.DataFrame, analytes: Sequence[str]) -> pd.DataFrame:
    """Return the interval of each analyte by composite and method; repeats are averaged.

    Parameters
    ----------
    frame : DataFrame
        A tidy frame with the column ``composite`` (:func:`frames.composites`).
    analytes : sequence of str
        The analytes wanted.

    Returns
    -------
    DataFrame
        composite, method, analyte, low, high (in the analyte's unit) and n, the number of
        values averaged.
    """
    rows = frame[frame["analyte"].isin(analytes)]
    rows = rows.assign(low=rows["value"].where(rows["qualifier"] != "<", np.minimum(rows["value"], 0.0)),
                       high=rows["value"].where(rows["qualifier"] != ">", np.inf))
    groups = rows.groupby(["composite", "method", "analyte"], sort=False)
    return groups.agg(low=("low", "mean"), high=("high", "mean"), n=("low", "size")).reset_index()


def settle(bounds: pd.DataFrame, *, cap: float) -> pd.DataFrame:
    """Return the value and qualifier that an interval can honestly be given.

    Parameters
    ----------
    bounds : DataFrame
        Columns low, high and at, the value computed with the printed limits.
    cap : float
        The largest value there can be (100 for a share, infinity for a sum).

    Returns
    -------
    DataFrame
        value and qualifier; the value is missing when the interval says nothing.

    Examples
    --------
    >>> given = pd.DataFrame({"low": [5.0, 9.99, 0.0, 8.0, 0.0], "at": [5.0, 10.0, 2.0, 8.0, 3.0],
    ...                       "high": [5.0, 10.0, 2.0, np.inf, np.inf]})
    >>> settle(given, cap=np.inf)["qualifier"].tolist()
    ['', '', '<', '>', '']
    >>> settle(given, cap=np.inf)["value"].tolist()
    [5.0, 10.0, 2.0, 8.0, nan]
    """
    low, high, at = (bounds[name].to_numpy(dtype=float) for name in ("low", "high", "at"))
    with np.errstate(invalid="ignore"):
        narrow = (low == high) | (high - low <= limit("small share") / TO_PERCENT * high) & np.isfinite(high)
        nearer_high = np.abs(at - high) <= np.abs(at - low)
    from_zero, to_end = low <= 0, high >= cap
    below = ~narrow & ~to_end & (from_zero | nearer_high)
    above = ~narrow & ~from_zero & ~below
    value = np.select([narrow, below, above], [np.minimum(at, cap), high, low], np.nan)
    return pd.DataFrame({"value": np.where(np.isfinite(value), value, np.nan),
                         "qualifier": np.select([below, above], ["<", ">"], "")}, index=bounds.index)


def join_notes(*notes: pd.Series, by: str = "; ") -> pd.Series:
    """Return texts that say several things at once, parted by ``by``; blanks add nothing.

    Examples
    --------
    >>> join_notes(pd.Series(["a", ""]), pd.Series(["b", "c"])).tolist()
    ['a; b', 'c']
    """
    text = notes[0]
    for more in notes[1:]:
        text = text + np.where((text != "") & (more != ""), by, "") + more
    return text


def say(text: str, where: pd.Series) -> pd.Series:
    """Return the text where a condition holds, blank elsewhere."""
    return pd.Series(np.where(where, text, ""), index=where.index, dtype="str")


def highest(frame: pd.DataFrame, analyte: str, *, method: str = "") -> pd.Series:
    """Return the highest value of an analyte in each composite, "<" values left out.

    Parameters
    ----------
    frame : DataFrame
        A tidy frame with the column ``composite``.
    analyte : str
        The analyte.
    method : str
        Only values by this method; any when empty.
    """
    wanted = (frame["analyte"] == analyte) & (frame["qualifier"] != "<")
    if method:
        wanted &= frame["method"] == method
    return frame[wanted].groupby("composite")["value"].max()


def warnings(frame: pd.DataFrame, composites: pd.Index) -> pd.Series:
    """Return, for each composite, why sums of its cations may be inflated; blank when nothing says so.

    Parameters
    ----------
    frame : DataFrame
        A tidy frame with the column ``composite``.
    composites : Index
        The composites wanted.
    """
    table = tables.load("guards", numbers=("limit",)).query("guard not in ['no acidity', 'small share']")
    reasons = []
    for row in table.to_dict("records"):
        top = highest(frame, row["analyte"], method=row["method"]).reindex(composites)
        unit = "" if row["unit"] == "pH" else f" {row['unit']}"
        text = (f"{row['analyte']} " + top.round(2).astype("str")
                + f"{unit} is above {row['limit']:g}, {row['words']}")
        reasons.append(text.where(top > row["limit"], ""))
    told = frame[(frame["analyte"] == "Ca") & frame["note"].str.contains(frames.DRESSING, regex=False)]
    dressed = told.groupby("composite")["note"].first().reindex(composites).fillna("")
    reasons.append(("Ca may still lie undissolved in the soil (" + dressed + ")").where(dressed != "", ""))
    reason = join_notes(*reasons)
    return (f"{frames.INFLATED} " + reason).where(reason != "", "").astype("str")


def derived(frame: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    """Return tidy rows for values computed on composites.

    Parameters
    ----------
    frame : DataFrame
        The tidy frame they come from, with the column ``composite``.
    rows : DataFrame
        composite, analyte, method, value, unit, qualifier, place, note.
    """
    known = frame.drop_duplicates("composite").set_index("composite")[list(frames.COMPOSITE)]
    whose = known.loc[rows["composite"]].reset_index(drop=True)
    own = rows.drop(columns="composite").reset_index(drop=True)
    return frames.results(pd.concat([whose, own], axis=1).assign(source=frames.COMPUTED))


def told_gaps(frame: pd.DataFrame, reasons: pd.Series) -> pd.DataFrame:
    """Return the composites (index of ``reasons``) with why nothing was computed for them."""
    known = frame.drop_duplicates("composite").set_index("composite")[list(frames.COMPOSITE)]
    return known.loc[reasons.index].assign(reason=reasons).reset_index(drop=True)
