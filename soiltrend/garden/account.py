"""The account of a garden's files: what was found, read and set aside, and why."""

from __future__ import annotations

import pandas as pd

from soiltrend.garden.folder import Garden
from soiltrend.present import Listing, grouped


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
    """Return what was set aside, one row a file, heading and reason.

    Returns
    -------
    Listing
        Columns file, label (the heading it stood under), values (how many), first (where the
        first one stands), text (what stands there), reason.
    """
    keys = ["source", "label", "reason"]
    grouped = garden.set_aside.groupby(keys, sort=False)
    table = grouped.agg(
        values=("text", "size"), first=("place", "first"), text=("text", "first")
    ).reset_index()
    table = table.rename(columns={"source": "file"})[["file", "label", "values", "first", "text", "reason"]]
    return Listing(f"{len(garden.set_aside)} values set aside", table)


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
