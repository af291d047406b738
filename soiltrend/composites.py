"""Composites and occasions: which results were measured on the same soil, and on the same day.

A *composite* is one bucket of mixed cores. Two bags split from one bucket are one composite:
they tell how the laboratory repeats itself and are averaged before anything is compared. Two
buckets filled separately are two composites. An *occasion* is one day and one laboratory:
everything of an occasion shares weather, moisture, corer and batch.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from soiltrend import frames
from soiltrend.errors import FrameError

RECORD = ("sample", "sampled", "bed", "parent", "cores", "surface")
"""Columns of the sampling record that matter here; ``parent`` is the sample a bag was split from."""

BUCKET = ["bed", "sampled", "season", "top_cm", "bottom_cm", "lab"]
"""What two results must share before their labels can mean the same bucket."""

_WIDE = 2**62
"""Codes of several columns are combined in one integer up to here."""


def record(samples: pd.DataFrame | None = None) -> pd.DataFrame:
    """Return the sampling record with the columns :data:`RECORD`.

    Parameters
    ----------
    samples : DataFrame, optional
        A garden's ``samples``: ``sample``, and where known ``sampled``, ``bed``,
        ``duplicate_of``, ``cores`` (number of cores in the bucket) and ``surface`` ("kept" or
        "removed": the loose cover on the soil).

    Raises
    ------
    FrameError
        When there is no column ``sample``, a number of cores is not a positive number, or a
        duplicate was split from itself or from another duplicate.

    Examples
    --------
    >>> record(pd.DataFrame({"sample": ["7", "8"], "duplicate_of": ["", "7"]}))["parent"].tolist()
    ['', '7']
    """
    if samples is None:
        samples = pd.DataFrame({"sample": pd.Series(dtype="str")})
    if "sample" not in samples:
        raise FrameError("the sampling record has no column 'sample'",
                         remedy="Its columns are sample, bed, sampled, cores, duplicate_of")
    out = samples.rename(columns={"duplicate_of": "parent"})
    for name, blank in (("sampled", pd.NaT), ("bed", ""), ("parent", ""), ("cores", np.nan), ("surface", "")):
        if name not in out:
            out[name] = blank
    out = out[list(RECORD)]
    out["sampled"] = pd.to_datetime(out["sampled"]).dt.tz_localize(None)
    text = ["sample", "bed", "parent", "surface"]
    out[text] = out[text].fillna("").astype("str")
    out["cores"] = pd.to_numeric(out["cores"]).astype(float)
    _check_cores(out)
    _check_parents(out)
    return out.reset_index(drop=True)


def _check_cores(out: pd.DataFrame) -> None:
    for row in out[out["cores"] <= 0].itertuples(index=False):
        raise FrameError(f"sample '{row.sample}' is recorded with {row.cores:g} cores",
                         remedy="Write how many cores went into the bucket, or leave it blank")


def _check_parents(out: pd.DataFrame) -> None:
    """Refuse a duplicate whose parent is a duplicate itself, on the same day."""
    split = out[out["parent"] != ""]
    chained = split.merge(split, left_on=["parent", "sampled"], right_on=["sample", "sampled"],
                          suffixes=("", "_2"))
    for row in chained.itertuples(index=False):
        raise FrameError(f"sample '{row.sample}' is a duplicate of '{row.parent}', which is a duplicate too",
                         remedy="Name the first bag of the bucket in duplicate_of")


def codes(rows: pd.DataFrame, by: list[str]) -> np.ndarray:
    """Return the group of each row by the columns ``by``, numbered from 0 in order of appearance.

    Missing values are equal to each other, as in a layer that no report states.

    Examples
    --------
    >>> codes(pd.DataFrame({"a": ["x", "x", "y"], "b": [np.nan, np.nan, 1.0]}), ["a", "b"]).tolist()
    [0, 0, 1]
    """
    code, size = np.zeros(len(rows), dtype=np.int64), 1
    for name in by:
        if constant(rows[name]):
            continue
        part, levels = pd.factorize(rows[name], use_na_sentinel=False)
        if size * (len(levels) + 1) >= _WIDE:
            code, known = pd.factorize(code)
            size = len(known)
        code, size = code * (len(levels) + 1) + part, size * (len(levels) + 1)
    return pd.factorize(code)[0]


def constant(column: pd.Series) -> bool:
    """Return whether all values are one text or number, which is seen faster than they are coded.

    Examples
    --------
    >>> constant(pd.Series(["x", "x"])), constant(pd.Series([1.0, np.nan]))
    (True, False)
    """
    if column.empty or column.iloc[-1] != column.iloc[0]:
        return False
    return bool(column.isin(column.iloc[:1]).all())


def mark(results: pd.DataFrame, sampling: pd.DataFrame) -> pd.DataFrame:
    """Return the results with the columns ``composite``, ``occasion``, ``cores`` and ``surface``.

    A bag recorded as a split gets its parent's composite and the bed the record gives it, even
    when it went to the laboratory under another name. A line of the record tells of the results of its
    label and day, or of its label alone where one of the two bears no day and no other line has that label.
    Lines of one label and day that tell two beds or two parents tell nothing. A result without a sample
    label is a composite of its own. Where the day is not known, a season's report stands for it.

    Parameters
    ----------
    results : DataFrame
        A tidy frame.
    sampling : DataFrame
        The record from :func:`record`.

    Examples
    --------
    >>> rows = frames.results([{"bed": "East", "analyte": "K", "value": v, "unit": "mg/kg", "sample": s}
    ...                        for s, v in (("7", 90.0), ("8", 96.0))])
    >>> split = record(pd.DataFrame({"sample": ["8"], "duplicate_of": ["7"]}))
    >>> mark(rows, split)["composite"].tolist()
    [0, 0]
    """
    out = results.copy(deep=False)
    label, out["cores"], out["surface"] = out["sample"], np.nan, ""
    if len(sampling):
        found = _recorded(out, sampling)
        parent = found["parent"].fillna("")
        label = parent.where(parent != "", out["sample"])
        out["bed"] = out["bed"].where((parent == "") | (found["bed"].fillna("") == ""), found["bed"])
        out["cores"], out["surface"] = found["cores"], found["surface"].fillna("")
    alone = np.where(label == "", np.arange(1, len(out) + 1), 0)
    out["composite"] = codes(out.assign(_label=label, _alone=alone), [*BUCKET, "_label", "_alone"])
    undated = out["sampled"].isna()
    out["occasion"] = codes(out.assign(_season=out["season"].where(undated, ""),
                                        _report=out["report"].where(undated, "")),
                             ["sampled", "lab", "_season", "_report"])
    return out


def _recorded(rows: pd.DataFrame, sampling: pd.DataFrame) -> pd.DataFrame:
    """Return for each result what the record tells of its sample, missing where it tells nothing."""
    bag = ["sample", "sampled"]
    lines = sampling[sampling["sample"] != ""].drop_duplicates([*bag, "bed", "parent"])
    plain = lines[lines["sampled"].notna() & ~lines.duplicated(bag, keep=False)]
    found = rows[bag].merge(plain, on=bag, how="left")
    lone = lines[~lines["sample"].duplicated(keep=False)]
    named = rows[["sample"]].merge(lone, on="sample", how="left")
    dayless = named["sampled"].isna() | rows["sampled"].isna().to_numpy()
    return found.where(found["bed"].notna() | ~dayless, named).set_axis(rows.index)


def topsoil(rows: pd.DataFrame, *, by: Sequence[str]) -> pd.DataFrame:
    """Return the rows of the uppermost layer of each group, and of those that reach into it.

    A bed whose mulch was raked off before it was sampled is the same bed; its subsoil is another soil.

    Examples
    --------
    >>> layers = pd.DataFrame({"bed": "East", "top_cm": [0.0, 2.0, 15.0], "bottom_cm": [15.0, 17.0, 30.0]})
    >>> topsoil(layers, by=["bed"]).index.tolist()
    [0, 1]
    """
    top, groups = rows["top_cm"].fillna(0.0), [rows[name] for name in by]
    first = top == top.groupby(groups, dropna=False).transform("min")
    reach = rows["bottom_cm"].where(first).groupby(groups, dropna=False).transform("min")
    return rows[first | (top < reach)]


def uppermost(rows: pd.DataFrame, *, by: Sequence[str]) -> pd.DataFrame:
    """Return the rows of the uppermost layer of each group; one that is not told counts as the topsoil.

    Examples
    --------
    >>> layers = pd.DataFrame({"bed": ["East", "East", "West"], "top_cm": [15.0, 0.0, 15.0]})
    >>> uppermost(layers, by=["bed"]).index.tolist()
    [1, 2]
    """
    top = rows["top_cm"].fillna(0.0)
    return rows[top == top.groupby([rows[name] for name in by], dropna=False).transform("min")]


def bridged(rows: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Return the bridge by which each row was moved ("" for none) and its error on the analysis scale.

    Examples
    --------
    >>> rows = frames.results([{"bed": "East", "note": "bridged: P from A to B"}, {"bed": "East"}])
    >>> names, sd = bridged(rows.assign(bridged_sd=[0.1, 0.0]))
    >>> names.tolist(), sd.tolist()
    (['P from A to B', ''], [0.1, 0.0])
    """
    names, sd = np.full(len(rows), "", dtype=object), np.zeros(len(rows))
    if "bridged_sd" not in rows:
        return names, sd
    moved = rows["bridged_sd"].fillna(0.0).to_numpy(dtype=float) > 0
    said = rows.loc[moved, "note"].str.extract(f"{frames.BRIDGED} (.*?)(?:; |$)")[0]
    names[moved], sd[moved] = said.fillna("not named").to_numpy(dtype=object), rows["bridged_sd"][moved]
    return names, sd
