"""samples.csv: which of its bags a report's sample is, and what the grower noted of that bag."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from soiltrend.garden.beds import same
from soiltrend.reading import Reading

PLACE = ["sample", "sampled", "bed", "top_cm", "bottom_cm"]
"""What a line of samples.csv tells of a sample; lines that are alike in it are one."""

NAMED = 5
"""How many bags a remark names; more are counted."""

APART = pd.Timedelta(days=45)
"""Longest time between sampling and the day a laboratory prints on its report: common practice."""

OTHER_DAY = "the report gives the day as "
"""How the note of a value begins whose record and report differ in the day."""

FRESH_DAYS = 60
"""Days after a dressing within which a sample may still hold it undissolved: common practice
is to wait two months or more; no published figure was found."""

UNSURE = -1
"""Stands for the line of a sample that could be any of several."""


def bags(results: pd.DataFrame, samples: pd.DataFrame) -> pd.Series:
    """Return, for each result, the line of samples.csv that tells of its sample: its index, or missing.

    A bag's label may be used again another year: the line is the one whose day lies no more than
    :data:`APART` from the report's, and of several the one of that very day. Where several are
    left that tell different places it is :data:`UNSURE`.
    """
    keys = ["sample", "sampled"]
    lines = samples[PLACE].reset_index(names="line").drop_duplicates(PLACE)
    met = results[keys].drop_duplicates().merge(lines, on="sample", suffixes=("", "_noted"))
    apart = (met["sampled_noted"] - met["sampled"]).abs()
    met = met.assign(that_day=apart == pd.Timedelta(0))[~(apart > APART)]
    of_key = met.groupby(keys, dropna=False)
    met = met[met["that_day"] | ~of_key["that_day"].transform("any")]
    found = met.groupby(keys, dropna=False)["line"].agg(["first", "size"])
    line = found["first"].where(found["size"] == 1, UNSURE).astype(float).rename("line").reset_index()
    return results[keys].merge(line, on=keys, how="left")["line"].set_axis(results.index)


def _noted(results: pd.DataFrame, samples: pd.DataFrame) -> tuple[pd.DataFrame, pd.Series]:
    """Return what samples.csv tells of each result, and whether it could be any of several lines."""
    line = bags(results, samples)
    return samples.reindex(line.where(line != UNSURE)).set_axis(results.index), line == UNSURE


def labelled(results: pd.DataFrame, printed: pd.Series, samples: pd.DataFrame) -> pd.DataFrame:
    """Return the results with the bag's label where it stands in the column of the bed.

    Laboratories number what they get in a column of their own and print the label under "Field".
    A label that several samples of a day bear there is none of them, nor is one of another layer.

    Parameters
    ----------
    results : DataFrame
        Those of one file.
    printed : Series of str
        What stands in the column of the bed, by place.
    samples : DataFrame
        The garden's samples.csv.
    """
    text = results["place"].map(printed[~printed.index.duplicated()]).fillna("").astype("str")
    told, unsure = _noted(results.assign(sample=text), samples)
    apart = (told["top_cm"] >= results["bottom_cm"]) | (told["bottom_cm"] <= results["top_cm"])
    sharing = results.assign(text=text).groupby(["text", "sampled"], dropna=False)["sample"]
    lone = sharing.transform("nunique") == 1
    fits = told["bed"].notna() & ~unsure & ~apart & lone & bags(results, samples).isna()
    return results.assign(sample=text.where(fits, results["sample"]).astype("str"))


def labelled_aside(set_aside: pd.DataFrame, printed: pd.Series, samples: pd.DataFrame) -> pd.DataFrame:
    """Return what was set aside with the bag's label where it stands in the column of the bed.

    Parameters
    ----------
    set_aside : DataFrame
        Values of one file.
    printed, samples : Series of str, DataFrame
        As in :func:`labelled`.
    """
    text = set_aside["place"].map(printed[~printed.index.duplicated()]).fillna("").astype("str")
    known = text.isin(samples["sample"]) & ~set_aside["sample"].isin(samples["sample"])
    return set_aside.assign(sample=text.where(known, set_aside["sample"]).astype("str"))


def _elsewhere(bed: pd.Series, samples: pd.DataFrame, names: Mapping[str, str]) -> pd.Series:
    """Return the bed that all lines of samples.csv tell of a name, where the name itself is no bed's."""
    lines = samples.groupby("sample")["bed"].agg(["first", "nunique"])
    told = bed.map(lines.loc[lines["nunique"] == 1, "first"])
    return told.where(~bed.map(lambda text: same(text) in names))


def told_by_records(results: pd.DataFrame, samples: pd.DataFrame, *,
                    names: Mapping[str, str]) -> pd.DataFrame:
    """Return the results with bed, day and layer from the sampling record where it tells them.

    The grower's record of where and when she dug wins over what the laboratory printed; a
    day that differs is said in the note. Where no line fits the day the report's own bed stands,
    or what the record says of a name in its column of the bed.

    Parameters
    ----------
    results : DataFrame
        A tidy frame whose beds are the reports' own.
    samples : DataFrame
        The garden's samples.csv.
    names : mapping
        The names of the beds, from :func:`~soiltrend.garden.beds.bed_names`.
    """
    out = results.reset_index(drop=True)
    told, unsure = _noted(out, samples)
    printed = _elsewhere(out["bed"], samples, names).where(out["bed"] != out["sample"])
    own = printed.where(printed.notna(), out["bed"]).mask(unsure, out["sample"])
    out["bed"] = told["bed"].where(told["bed"].notna(), own).astype("str")
    differs = told["sampled"].notna() & out["sampled"].notna() & (told["sampled"] != out["sampled"])
    said = OTHER_DAY + out["sampled"].dt.strftime("%Y-%m-%d").fillna("")
    out["note"] = _add_note(out["note"], said, differs)
    out["sampled"] = told["sampled"].where(told["sampled"].notna(), out["sampled"])
    for column in ("top_cm", "bottom_cm"):
        out[column] = told[column].where(told[column].notna(), out[column])
    days = told["days_since_dressing"]
    said = "sampled " + days.fillna(0).astype(int).astype(str) + " days after a dressing"
    out["note"] = _add_note(out["note"], said, days.notna() & (days < FRESH_DAYS))
    return out


def _add_note(note: pd.Series, text: pd.Series, where: pd.Series) -> pd.Series:
    joined = note.where(note == "", note + "; ") + text
    return note.where(~where, joined).astype("str")


def days_told(results: pd.DataFrame, finished: Mapping[str, pd.Timestamp | None]) -> tuple[str, ...]:
    """Return a remark for each sample that was dug, by the record, on another day than its report says.

    One that was dug after its report was issued bears a wrong day, or the label of another sample.
    """
    keys = ["source", "sample", "sampled", "note"]
    rows = results.loc[results["sampled"].notna(), keys].drop_duplicates()
    out = []
    for source, sample, day, note in rows.itertuples(index=False):
        said = f"{source}: sample '{sample}' was dug on {day:%Y-%m-%d}"
        issued = finished.get(source)
        if issued is not None and day.normalize() > issued.normalize():
            out.append(f"{said}, after its report was issued ({issued:%Y-%m-%d}): look at year and label")
        for told in (part for part in note.split("; ") if part.startswith(OTHER_DAY)):
            out.append(f"{said} by samples.csv, which is taken; {told}")
    return tuple(dict.fromkeys(out))


def bags_unmatched(reading: Reading, samples: pd.DataFrame) -> tuple[str, ...]:
    """Return a remark on the bags that no report names, though reports hold tests of their days.

    A bag of a later day than every test is still on its way, and not remarked on.
    """
    labels = ["sample", "sampled"]
    tests = pd.concat([reading.results[labels], reading.set_aside[["sample"]]]).drop_duplicates()
    met = samples.reset_index(names="bag").merge(tests, on="sample", suffixes=("", "_test"))
    near = ~((met["sampled_test"] - met["sampled"]).abs() > APART)
    days = tests["sampled"].dropna().drop_duplicates()
    due = [day <= days.max() and (days - day).abs().min() <= APART for day in samples["sampled"]]
    lost = samples.loc[np.array(due, dtype=bool) & ~samples.index.isin(met.loc[near, "bag"]), "sample"]
    if lost.empty:
        return ()
    match = "1 bag matches" if len(lost) == 1 else f"{len(lost)} bags match"
    shown = ", ".join(lost[:NAMED]) + (" ..." if len(lost) > NAMED else "")
    return (f"samples.csv: {match} no sample of a report of those days ({shown}), and what you noted of them "
            "is not used; write there the label that the report bears",)


def no_bag(text: str, samples: pd.DataFrame, *, unsure: bool) -> str:
    """Return why samples.csv does not place a sample whose label stands there, or empty where it does not.

    Parameters
    ----------
    text : str
        The label.
    samples : DataFrame
        The garden's samples.csv.
    unsure : bool
        Whether several of its lines fit.
    """
    mine = samples[samples["sample"] == text]
    if mine.empty:
        return ""
    if unsure:
        lines = mine["line"].astype(str).tolist()
        return (
            f"'{text}' stands on lines {', '.join(lines[:-1])} and {lines[-1]} of samples.csv, and nothing "
            "tells which of them this sample is; give each bag a label of its own there, the one that its "
            "report bears, or each line a day of its own and that day to the report"
        )
    days = mine["sampled"].drop_duplicates().sort_values().dt.strftime("%Y-%m-%d")
    return (
        f"'{text}' is not a bed of this garden, and samples.csv has that label for other days alone "
        f"({', '.join(days)}); write a line for it there with the day of this sample"
    )
