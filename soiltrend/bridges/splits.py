"""Buckets of which two laboratories or methods measured a bag each."""

from __future__ import annotations

import pandas as pd

from soiltrend import composites, frames, scales
from soiltrend.errors import SoiltrendError
from soiltrend.noise import Noise, stretch

Side = tuple[str, str]
"""Laboratory and method."""

BRIDGED = frames.BRIDGED
"""How the note of a value begins that was moved across a bridge."""


def named(side: Side) -> str:
    """Return a side in words.

    Examples
    --------
    >>> named(("Hollin Bench", "Olsen")), named(("", ""))
    ('Hollin Bench (Olsen)', 'a laboratory not stated (method not stated)')
    """
    return f"{side[0] or 'a laboratory not stated'} ({side[1] or 'method not stated'})"


def on_side(results: pd.DataFrame, analyte: str, side: Side) -> pd.Series:
    """Return which rows are an analyte measured by a side."""
    return (results["analyte"] == analyte) & (results["lab"] == side[0]) & (results["method"] == side[1])


def both_sides(
    results: pd.DataFrame, *, analyte: str, sides: tuple[Side, Side], sampling: pd.DataFrame
) -> pd.DataFrame:
    """Return the rows of both sides with ``end`` (0 of, 1 to), ``y`` and ``bucket``.

    A bag belongs to the bucket of the sample it was split from, whoever measured it.

    Raises
    ------
    SoiltrendError
        When the sides are the same, one measured nothing, units differ, or a row was moved before.
    """
    if sides[0] == sides[1]:
        raise SoiltrendError(f"both sides of the bridge are {named(sides[0])}", remedy="Name two that differ")
    parts = [_side(results, analyte, side).assign(end=end) for end, side in enumerate(sides)]
    rows = pd.concat(parts, ignore_index=True)
    units = rows["unit"].unique()
    if len(units) > 1:
        raise SoiltrendError(
            f"'{analyte}' is in '{units[0]}' on one side and in '{units[1]}' on the other",
            remedy="A bridge joins values of one unit",
        )
    on = scales.scales(rows["analyte"])
    bucket = composites.mark(rows.assign(lab=""), sampling)["composite"]
    return rows.assign(y=scales.forward(rows["value"].to_numpy(), on.to_numpy()), scale=on, bucket=bucket)


def _side(results: pd.DataFrame, analyte: str, side: Side) -> pd.DataFrame:
    rows = results[on_side(results, analyte, side)]
    if not len(rows):
        have = results.loc[results["analyte"] == analyte, ["lab", "method"]].drop_duplicates()
        known = [named((str(lab), str(method))) for lab, method in have.itertuples(index=False)]
        raise SoiltrendError(
            f"{named(side)} measured no '{analyte}' here",
            remedy=f"Measured by: {'; '.join(known) or 'nobody'}",
        )
    not_twice(rows)
    return rows


def not_twice(rows: pd.DataFrame) -> None:
    """Refuse rows that were moved before: bridges are not chained.

    Raises
    ------
    SoiltrendError
        With the first such row.
    """
    for row in rows[rows["note"].str.contains(BRIDGED, regex=False)].head(1).to_dict("records"):
        raise SoiltrendError(
            f"{row['analyte']} of bed '{row['bed']}' has crossed a bridge already ({row['note']})",
            remedy="Bridges are not chained: split samples between the two ends themselves",
        )


def paired(rows: pd.DataFrame, model: Noise) -> pd.DataFrame:
    """Return one row per bucket with a value on both sides, in order of appearance.

    Parameters
    ----------
    rows : DataFrame
        From :func:`both_sides`; limits are left out.
    model : Noise
        How far results move by themselves.

    Returns
    -------
    DataFrame
        ``bed, sampled, season, scale, df``, and for both ends (``_of``, ``_to``) the mean of the bags
        ``y`` and ``value``, its variance by the laboratory ``bag``, and that of a day ``day``.
    """
    rows = rows[(rows["qualifier"] == "") & rows["y"].notna()]
    known = model.of(rows)
    grown = stretch(known, rows["value"].to_numpy()) ** 2
    rows = rows.assign(
        bag=(known["laboratory"] ** 2 + known["preparation"] ** 2) * grown,
        day=known["occasion"] ** 2 * grown,
        df=known["df"],
    )
    group = rows.groupby(["end", "bucket"])
    mean = group[["y", "value", "bag", "day"]].mean()
    mean["bag"] /= group.size()
    of, to = (
        mean[mean.index.get_level_values("end") == end].droplevel("end").add_suffix(name)
        for end, name in enumerate(("_of", "_to"))
    )
    first = rows.groupby("bucket")[["bed", "sampled", "season", "scale", "df"]].first()
    return first.join(of, how="inner").join(to, how="inner")
