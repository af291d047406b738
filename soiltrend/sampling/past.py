"""What was sampled before: every bag with its bed, day, layer, surface, laboratory."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pandas as pd

from soiltrend import frames, vocabulary
from soiltrend.garden import Garden

BAG = [
    "sample", "bed", "sampled", "season", "top_cm", "bottom_cm", "cores", "surface", "duplicate_of", "lab",
    "placed",
]  # fmt: skip


def bags(garden: Garden) -> pd.DataFrame:
    """Return every bag that the sampling record or a report tells of, with the columns :data:`BAG`.

    One whose day is lost stands where :func:`soiltrend.frames.in_time` puts it, and is ``placed``.
    """
    by_hand = [name for name in garden.results["analyte"].unique() if vocabulary.observed(name)]
    seen = garden.results[~garden.results["analyte"].isin(by_hand)]
    seen = seen.drop_duplicates(["sample", "bed", "sampled", "season", "lab", "top_cm", "bottom_cm"])
    key = ["sample", "sampled"]
    lab = seen.drop_duplicates(key)[[*key, "season", "lab"]]
    told = garden.samples.merge(lab, on=key, how="left")
    season = frames.season(told["sampled"], hemisphere=garden.hemisphere)
    told["season"] = season.where(season != "", told["season"].fillna(""))
    known = pd.MultiIndex.from_frame(told[key])
    rest = seen[~pd.MultiIndex.from_frame(seen[key]).isin(known)]
    out = pd.concat([told, rest.assign(cores=np.nan, surface="", duplicate_of="")], ignore_index=True)
    placed = out["sampled"].isna()
    out = frames.in_time(out, hemisphere=garden.hemisphere).assign(placed=placed)[BAG]
    text = ["surface", "duplicate_of", "lab"]
    out[text] = out[text].fillna("")
    return out[out["sampled"].notna()].sort_values("sampled", kind="stable").reset_index(drop=True)


def same_week(day: pd.Timestamp, *, years: int) -> pd.Timestamp:
    """Return the same weekday nearest to the day so many years later.

    Examples
    --------
    >>> same_week(pd.Timestamp("2026-04-14"), years=1)
    Timestamp('2027-04-13 00:00:00')
    """
    later = day + pd.DateOffset(years=years)
    return later + pd.Timedelta(days=(day.weekday() - later.weekday() + 3) % 7 - 3)


def usual_layer(rows: pd.DataFrame, depth_cm: float) -> tuple[float, float]:
    """Return the layer most bags were taken from, the latest of equals, or the bed's own depth."""
    known = rows[rows["bottom_cm"].notna()]
    if not len(known):
        return 0.0, float(depth_cm)
    pairs = list(zip(known["top_cm"].fillna(0.0), known["bottom_cm"], strict=True))
    top, bottom = max(reversed(pairs), key=pairs.count)
    return float(top), float(bottom)


def layers(rows: pd.DataFrame) -> list[tuple[float, float]]:
    """Return the layers [cm] that lie one below the other, from the top; none where fewer than two do.

    Examples
    --------
    >>> two = pd.DataFrame({"top_cm": [15.0, None, 15.0], "bottom_cm": [30.0, 15.0, 30.0]})
    >>> layers(two), layers(two.assign(bottom_cm=20.0))
    ([(0.0, 15.0), (15.0, 30.0)], [])
    """
    known = rows.loc[rows["bottom_cm"].notna(), ["top_cm", "bottom_cm"]].fillna(0.0)
    found = sorted({(float(top), float(bottom)) for top, bottom in known.to_numpy()})
    apart = all(below[0] >= above[1] for above, below in pairwise(found))
    return found if apart and len(found) > 1 else []


def next_season(garden: Garden) -> str:
    """Return the season to sample next: the first after the last test, of the names used so far.

    A garden never tested begins with the season to come.

    Examples
    --------
    >>> from pathlib import Path
    >>> from soiltrend.garden import open_garden
    >>> next_season(open_garden(Path(__file__).parents[2] / "data_demo" / "oxmarrow-steps"))
    'spring 2027'
    """
    tested = bags(garden)
    start = tested["sampled"].max() if len(tested) else pd.Timestamp.today().normalize()
    used = set(tested["season"].map(frames.season_name)) & set(frames.SEASONS) or set(frames.SEASONS)
    here = frames.season(pd.Series([start]), hemisphere=garden.hemisphere)[0]
    coming = frames.season(
        pd.Series(pd.date_range(start, periods=14, freq="MS")), hemisphere=garden.hemisphere
    )
    return next(str(name) for name in coming if name != here and frames.season_name(name) in used)
