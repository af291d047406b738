"""The account of a garden's files: what was found, read and set aside, and why."""

from __future__ import annotations

import pandas as pd

from soiltrend import vocabulary
from soiltrend.garden.folder import Garden
from soiltrend.present import Listing, counted, grouped
from soiltrend.reading.meaning import LEFT_OUT
from soiltrend.reading.reasons import ELSEWHERE, NO_DATA


def account(garden: Garden) -> Listing:
    """Return one row a file: values found, read and set aside.

    Parameters
    ----------
    garden : Garden
        What :func:`soiltrend.open_garden` gave.

    Returns
    -------
    Listing
        Columns file, found, read, set aside; found is the sum of the other two.
    """
    read = garden.results.groupby("source").size()
    aside = garden.set_aside.groupby("source").size()
    table = pd.DataFrame({"read": read, "set aside": aside}).fillna(0).astype(int)
    table.insert(0, "found", table["read"] + table["set aside"])
    sums = table[["found", "read", "set aside"]].sum()
    total = f"{sums['found']} values found: {sums['read']} read, {sums['set aside']} set aside"
    return Listing(total, table.rename_axis("file").reset_index())


def reasons(garden: Garden) -> Listing:
    """Return what was set aside, one row a file and reason.

    Returns
    -------
    Listing
        Columns file, label (the headings they stood under), values (how many), first (where the
        first one stands), text (what stands there), reason.
    """
    alike = garden.set_aside.groupby(["source", "reason"], sort=False)
    table = alike.agg(
        label=("label", lambda labels: ", ".join(dict.fromkeys(filter(None, labels)))),
        values=("text", "size"),
        first=("place", "first"),
        text=("text", "first"),
    ).reset_index()
    table = table.rename(columns={"source": "file"})[["file", "label", "values", "first", "text", "reason"]]
    return Listing(f"{counted(len(garden.set_aside), 'value')} set aside", table)


def unsettled(garden: Garden) -> int:
    """Return how many values were set aside that neither stand elsewhere nor were left out as answered."""
    return int((~garden.set_aside["reason"].str.startswith((*ELSEWHERE, LEFT_OUT))).sum())


def remarks(garden: Garden) -> Listing:
    """Return what the reader remarked on, one row a file; nothing here needs an answer.

    Returns
    -------
    Listing
        Columns file, remark. Lines that hold no values stand together in one remark.
    """
    pairs = [note.split(": ", 1) if ": " in note else ["", note] for note in garden.notes]
    rows = pd.DataFrame(pairs, columns=["file", "remark"], dtype="str")
    plain = rows["remark"].str.startswith(NO_DATA)
    lines = rows[plain].assign(remark=rows["remark"].str.removeprefix(NO_DATA)).groupby("file", sort=False)
    joined = lines["remark"].agg(lambda texts: f"lines without values ({len(texts)}): {' / '.join(texts)}")
    table = pd.concat([rows[~plain], joined.reset_index()], ignore_index=True)
    return Listing(f"Remarks on {table['file'].nunique()} files", table.sort_values("file", kind="stable"))


MISSING = (
    (
        "no bed is marked check = true in garden.toml",
        "a change can be shown, but not laid at the door of anything you did",
    ),
    (
        "samples.csv is empty",
        "cores and hidden duplicates are not known, so the noise comes from tables and not from your beds",
    ),
    ("applications.csv is empty", "what went on is not known: no account, and no plan that remembers it"),
    ("materials.csv is empty", "doses are planned from common materials and not from what you have"),
    ("harvests.csv is empty", "what left the beds is not counted"),
)


NO_LAB = (
    "two laboratories cannot be told apart, and all is compared as if one had measured it: "
    'write lab = "its name" into reports/report.toml, or into a file beside each report'
)
BY_METHOD = ("mg/kg", "pH", "dS/m")
"""Units of what an extractant or a dilution decides."""

ALSO_BY_METHOD = ("OM",)
"""Measures of other units whose number hangs on the method (burnt off or oxidised, for one)."""

NO_AREA = "it is taken as 1 m2, so what went on and came off it in kilograms or litres is reckoned by that"

NO_METHOD = (
    "no aim holds for them, nothing is planned by them, and another method would pass for a change of the "
    "soil: ask the laboratory, and write into report.toml, or into a file beside the report"
)

NO_CROP = (
    "what it took off is not counted, nor what its roots and haulm left: give it a plainer name, or that of "
    "the crop nearest to it"
)
NO_AIMS = (
    "its pH is planned as for vegetables in general, and some plants are hurt by that: set an aim of your own"
)


def _strange(garden: Garden) -> list[str]:
    """Return the crops of harvests.csv that were weighed and that no table knows."""
    words = garden.harvests.loc[garden.harvests["kg"] > 0, "crop"].unique()
    return sorted(word for word in words if not vocabulary.crop(word))


def _by_no_method(lab: pd.DataFrame) -> list[tuple[str, str]]:
    """Return what was read of which files without the method on which its number hangs, and what to write."""
    hangs = lab["unit"].isin(BY_METHOD) | lab["analyte"].isin(ALSO_BY_METHOD)
    rows = lab[(lab["method"] == "") & hangs]
    files: dict[tuple[str, ...], list[str]] = {}
    for file, told in rows.groupby("source", sort=False)["analyte"]:
        files.setdefault(tuple(told.unique()), []).append(str(file))
    out = []
    for names, where in files.items():
        line = ", ".join(f'"{name}" = "its method"' for name in names)
        head = f"the method of {', '.join(names)} is not told in {', '.join(where)}"
        out.append((head, f"{NO_METHOD}: methods = {{ {line} }}"))
    return out


def missing(garden: Garden) -> Listing:
    """Return what the folder does not hold yet, and what each gap costs; none of it is an error.

    Returns
    -------
    Listing
        Columns missing, so (what cannot be said without it).
    """
    tables = (garden.samples, garden.applications, garden.materials, garden.harvests)
    gaps = [not garden.beds["check"].any(), *(table.empty for table in tables)]
    rows = [told for told, gap in zip(MISSING, gaps, strict=True) if gap]
    lab = garden.results[garden.results["source"].str.startswith("reports/")]
    unnamed = lab.loc[lab["lab"] == "", "source"].unique()
    if len(unnamed):
        rows.append((f"no laboratory is named for {', '.join(unnamed)}", NO_LAB))
    rows += _by_no_method(lab)
    rows += [(f"crop '{word}' of harvests.csv stands in no table", NO_CROP) for word in _strange(garden)]
    given = garden.settings.get("beds", {})
    for bed, crop in zip(garden.beds["bed"], garden.beds["crop"], strict=True):
        if not {"area_m2", "area_ft2"} & set(given.get(bed, ())):
            rows.append((f"bed '{bed}' has no area_m2 in garden.toml", NO_AREA))
        if crop and not (vocabulary.crop(crop) or vocabulary.crop_with_aims(crop)):
            rows.append((f"crop = '{crop}' of bed '{bed}' stands in no table", NO_AIMS))
        tests = lab.loc[lab["bed"] == bed, ["season", "sampled"]].drop_duplicates()
        if tests.empty:
            rows.append((f"no laboratory report has a value of bed '{bed}'", "nothing can be said of it"))
        elif len(tests) == 1:
            rows.append((f"bed '{bed}' has one test only", "two make a difference, three or more a trend"))
    return Listing(f"{len(rows)} things are missing", pd.DataFrame(rows, columns=["missing", "so"]))


def cautions(results: pd.DataFrame) -> Listing:
    """Return the notes that travel with values, one row each.

    Parameters
    ----------
    results : DataFrame
        A tidy frame, with its derived rows or without.

    Returns
    -------
    Listing
        Columns note, rows (how many values carry it), bed, season, analyte.
    """
    noted = results[results["note"] != ""]
    title = f"{len(noted)} of {len(results)} values carry a caution"
    return grouped(noted, by="note", listed=("bed", "season", "analyte"), title=title)
