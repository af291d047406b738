"""What changed between past samplings, and what stands in the way of the next one."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from soiltrend import frames
from soiltrend.present import counted, layer

WEEKS = 4
"""Weeks within which the days of like seasons should lie; the same month every year is common practice."""

Warning_ = tuple[str, str, str]
"""Bed ("" for the garden), what it is about, and the sentence."""


def cautions(table: pd.DataFrame, past: pd.DataFrame, *, season: str, fresh: int) -> pd.DataFrame:
    """Return what the grower should know: ``bed, about, warning``.

    Parameters
    ----------
    table : DataFrame
        The planned bags.
    past : DataFrame
        The bags before.
    season : str
        The season planned.
    fresh : int
        Days to wait after a dressing.
    """
    own = past[past["duplicate_of"] == ""]
    beds = table[table["duplicate_of"] == ""].drop_duplicates("bed")
    found = [
        *_seasons(own, table["date"].iloc[0], season),
        *_labs(own),
        *_layers(own, table),
        *_surfaces(own, beds),
        *_missed(own, beds),
        *_dressings(beds, fresh),
    ]
    return pd.DataFrame(found, columns=["bed", "about", "warning"])


def _listed(names: pd.Series) -> str:
    return ", ".join(dict.fromkeys(names))


def _seasons(own: pd.DataFrame, day: pd.Timestamp, season: str) -> Iterator[Warning_]:
    """Say when like seasons were missed, or sampled in other weeks."""
    name = frames.season_name(season)
    like = own[own["season"].map(frames.season_name) == name]
    if not len(like):
        yield "", "season", f"no {name} was sampled before: it can be compared only with {name}s to come"
        return
    years = like["season"].str[-4:].astype(int)
    missing = [f"{name} {year}" for year in range(years.min(), int(season[-4:])) if year not in set(years)]
    if missing:
        yield "", "season", f"not sampled: {', '.join(missing)}"
    apart = (like["sampled"].dt.day_of_year - day.day_of_year).abs()
    weeks = pd.concat([apart, 365 - apart], axis=1).min(axis=1) / 7
    far = like[~like["placed"] & (weeks > WEEKS)]
    for text, rows in far.groupby("season", sort=False):
        yield (
            "",
            "season",
            (
                f"{text} was sampled on {rows['sampled'].iloc[0]:%d %B}, more than {WEEKS} weeks "
                f"from {day:%d %B}: season and moisture may differ"
            ),
        )


def _labs(own: pd.DataFrame) -> Iterator[Warning_]:
    """Say which seasons went to another laboratory than the last."""
    known = own[own["lab"] != ""]
    last = known["lab"].iloc[-1] if len(known) else ""
    for lab, rows in known[known["lab"] != last].groupby("lab", sort=False):
        yield (
            "",
            "laboratory",
            (
                f"{_listed(rows['season'])} went to {lab} and not to {last}: nothing is compared "
                f"across without samples split between the two"
            ),
        )


def _layers(own: pd.DataFrame, table: pd.DataFrame) -> Iterator[Warning_]:
    """Say which bags were taken from another layer than is planned."""
    for bed, rows in table.groupby("bed", sort=False):
        planned = list(dict.fromkeys(zip(rows["top_cm"], rows["bottom_cm"], strict=True)))
        wanted = " or ".join(layer(*ends) for ends in planned)
        mine = own[(own["bed"] == bed) & own["bottom_cm"].notna()].fillna({"top_cm": 0.0})
        for _, taken in mine.groupby(["top_cm", "bottom_cm"]):
            ends = tuple(taken[["top_cm", "bottom_cm"]].iloc[0])
            if ends not in planned:
                yield (
                    str(bed),
                    "layer",
                    f"{_listed(taken['season'])} was taken from {layer(*ends)}, not from {wanted}: "
                    "mind the mark on the corer",
                )


def _surfaces(own: pd.DataFrame, beds: pd.DataFrame) -> Iterator[Warning_]:
    """Say in which seasons the loose surface was treated otherwise."""
    planned = own["bed"].map(beds.set_index("bed")["surface"])
    other = own[(own["surface"] != "") & planned.notna() & (planned != "") & (own["surface"] != planned)]
    for surface, rows in other.groupby("surface", sort=False):
        yield (
            "",
            "surface",
            (
                f"the loose surface was {surface} in {_listed(rows['season'])} "
                f"({counted(rows['bed'].nunique(), 'bed')}) and is not now: organic matter differs by itself"
            ),
        )


def _missed(own: pd.DataFrame, beds: pd.DataFrame) -> Iterator[Warning_]:
    """Say which beds were not sampled before."""
    for bed in beds.loc[~beds["bed"].isin(own["bed"]), "bed"]:
        yield bed, "season", "this bed has no dated sampling before: its first result is a beginning"


def _dressings(beds: pd.DataFrame, fresh: int) -> Iterator[Warning_]:
    """Say where the last dressing is too fresh at the planned day."""
    for row in beds[beds["days_since_dressing"] < fresh].to_dict("records"):
        days = int(row["days_since_dressing"])
        until = row["date"] + pd.Timedelta(days=fresh - days)
        yield (
            row["bed"],
            "dressing",
            (
                f"{days} days after its last dressing: wait {fresh - days} days more, until "
                f"{until:%Y-%m-%d}, or take all beds later"
            ),
        )
