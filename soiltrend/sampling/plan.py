"""The sampling list of a coming season: like last time, with one bag sent twice under another name."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from soiltrend import frames, present
from soiltrend.errors import SoiltrendError
from soiltrend.garden import Garden
from soiltrend.garden.bags import FRESH_DAYS
from soiltrend.noise import noise_model
from soiltrend.sampling.labels import LETTER, hidden_stem, new_stem, stem_of
from soiltrend.sampling.past import bags, layers, next_season, same_week, usual_layer
from soiltrend.sampling.warn import cautions

COLUMNS = [
    "bed",
    "bag",
    "date",
    "top_cm",
    "bottom_cm",
    "cores",
    "surface",
    "duplicate_of",
    "lab",
    "days_since_dressing",
    "why",
]


@dataclass(frozen=True, eq=False)
class SamplingPlan:
    """What to sample in a coming season.

    Attributes
    ----------
    table : DataFrame
        One row a bag, in the order of their names: ``bed`` (the true one), ``bag`` (its label), ``date``,
        ``top_cm, bottom_cm``, ``cores``, ``surface`` (removed, kept or "" when not known),
        ``duplicate_of`` (the bag from whose bucket it is split), ``lab``, ``days_since_dressing`` (at
        that date), ``why``.
    warnings : DataFrame
        ``bed`` ("" for the garden), ``about`` (layer, surface, laboratory, season, dressing) and
        ``warning``.
    season : str
        The season planned.
    garden : str
        The garden's name.
    """

    table: pd.DataFrame
    warnings: pd.DataFrame
    season: str
    garden: str

    def __repr__(self) -> str:
        told = [present.plain(_title(self), self.table[COLUMNS[:8]])]
        return "\n\n".join(told + [present.plain("Warnings", self.warnings)] * (len(self.warnings) > 0))

    def _repr_html_(self) -> str:
        table = present.page(_title(self), self.table)
        return table + present.page("Warnings", self.warnings) * (len(self.warnings) > 0)


def _title(plan: SamplingPlan) -> str:
    beds = plan.table["bed"].nunique()
    bags, of = present.counted(len(plan.table), "bag"), present.counted(beds, "bed")
    return f"{plan.garden}, {plan.season}: {bags} of {of}, {present.counted(len(plan.warnings), 'warning')}"


def sampling_plan(
    garden: Garden, *, season: str = "", duplicate: bool = True, cores: int | None = None
) -> SamplingPlan:
    """Return what to sample in a coming season, so that it can be compared with the last one like it.

    The day is the weekday nearest to that of the last like season, a year or more on; layer, surface,
    cores, number of buckets and laboratory are as usual. One bucket is split and its second bag sent under a
    name that looks like the rest: of the bed checked least often so far, among equals the one checked longest
    ago, then the first in garden.toml.

    Parameters
    ----------
    garden : Garden
        What :func:`soiltrend.open_garden` gave.
    season : str
        The season to come, such as "spring 2027"; by default that of :func:`soiltrend.next_season`.
    duplicate : bool
        Send one bucket twice.
    cores : int, optional
        Cores in each bucket; as last time by default.

    Returns
    -------
    SamplingPlan

    Raises
    ------
    SoiltrendError
        When the season cannot be read or was sampled already, or the cores are fewer than 1 or no whole
        number.
    """
    season = " ".join(season.split()).casefold() or next_season(garden)
    start = frames.season_starts(season, hemisphere=garden.hemisphere)
    garden = garden.still(start)
    if cores is not None and not (cores >= 1 and cores % 1 == 0):
        wrong = "below 1" if cores < 1 else "no whole number"
        raise SoiltrendError(f"cores = {cores} is {wrong}", remedy="Give 15 or more")
    known = bags(garden)
    taken = known[known["season"] == season]
    if len(taken):
        first = taken.loc[~taken["placed"], "sampled"].min()
        raise SoiltrendError(
            f"{season} was sampled already" + ("" if taken["placed"].all() else f", on {first:%Y-%m-%d}"),
            remedy="Name a season to come",
        )
    past = known[known["sampled"] < start]
    day = _day(past, season, start)
    stems = _stems(garden, past)
    code = f"{season[-2:]}{LETTER[frames.season_name(season)]}"
    rows = [
        row | {"bag": f"{stems[row['bed']]}-{code}{row.pop('number')}", "date": day}
        for bed in garden.beds.to_dict("records")
        for row in _buckets(bed, past, season, cores)
    ]
    if duplicate:
        rows.append(_hidden(rows, past, stems, code))
    table = pd.DataFrame(rows)
    table["days_since_dressing"] = _dressed(garden, table)
    warnings = cautions(table, past, season=season, fresh=FRESH_DAYS)
    return SamplingPlan(
        table[COLUMNS].sort_values("bag").reset_index(drop=True), warnings, season, garden.name
    )


def _day(past: pd.DataFrame, season: str, start: pd.Timestamp) -> pd.Timestamp:
    """Return the day of the last like season in the same week, or the middle of the season.

    A week that the year pushes over the season's edge is the next one inside.
    """
    like = past[past["season"].map(frames.season_name) == frames.season_name(season)]
    if not len(like):
        return start + pd.DateOffset(months=1, days=14)
    last = like[like["season"] == like["season"].iloc[-1]]
    day = same_week(
        last["sampled"].mode().iloc[-1], years=int(season[-4:]) - int(last["season"].iloc[0][-4:])
    )
    over = day >= start + pd.DateOffset(months=3)
    return day + pd.Timedelta(weeks=int(day < start) - int(over))


def _stems(garden: Garden, past: pd.DataFrame) -> dict[str, str]:
    """Return what stands for each bed on its bags: as last time, or a short name of its own."""
    own = past[past["duplicate_of"] == ""]
    stems: dict[str, str] = {}
    aliases = {bed: {alias.upper() for alias in names} for bed, names in
               zip(garden.beds["bed"], garden.beds["aliases"], strict=True)}  # fmt: skip
    for bed in garden.beds["bed"]:
        others = set().union(*(names for other, names in aliases.items() if other != bed))
        before = [stem for label in own.loc[own["bed"] == bed, "sample"] if (stem := stem_of(label))]
        free = [stem for stem in before if stem not in stems.values()]
        stems[bed] = free[-1] if free else new_stem(bed, {*stems.values(), *others})
    return stems


def _buckets(bed: dict[Any, Any], past: pd.DataFrame, season: str, cores: int | None) -> list[dict[str, Any]]:
    """Return one bed's bags: of each layer as many as were filled separately the last time."""
    own = past[(past["bed"] == bed["bed"]) & (past["duplicate_of"] == "")]
    like = own[own["season"].map(frames.season_name) == frames.season_name(season)]
    last = like if len(like) else own
    last = last[last["season"] == last["season"].iloc[-1]] if len(last) else last
    surface = next((text for text in reversed(last["surface"].tolist()) if text), "")
    lab = last["lab"].iloc[-1] if len(last) else ""
    number = cores or _cores(last)
    when = f"As in {last['season'].iloc[0]}" if len(last) else "No dated sampling before"
    top = last["top_cm"].fillna(0.0)
    of = {ends: last[(top == ends[0]) & (last["bottom_cm"] == ends[1])] for ends in layers(last)}
    bags_of = of or {usual_layer(own, bed["depth_cm"]): last}
    same = {"bed": bed["bed"], "cores": number, "surface": surface, "duplicate_of": "", "lab": lab}
    untold = len(last) and cores is None and last["cores"].isna().all()
    rest = "; how many cores were taken then is not written down" if untold else ""
    loose = f", surface {surface}" if surface else ", write down whether the loose surface was removed"
    rows = [
        same
        | {"top_cm": ends[0], "bottom_cm": ends[1]}
        | {"why": f"{when}: {number} cores, {present.layer(*ends)}{_mostly(last, ends)}{loose}{rest}"}
        for ends, bags_there in bags_of.items()
        for _ in range(max(bags_there["sample"].nunique(), 1))
    ]
    return [row | {"number": str(i + 1) if len(rows) > 1 else ""} for i, row in enumerate(rows)]


def _mostly(last: pd.DataFrame, ends: tuple[float, float]) -> str:
    """Return that the layer is that of most samplings, where that of the last was another; else nothing."""
    known = last[last["bottom_cm"].notna()]
    same = (known["top_cm"].fillna(0.0) == ends[0]) & (known["bottom_cm"] == ends[1])
    return "" if known.empty or same.any() else ", as in most samplings before"


def _cores(last: pd.DataFrame) -> int:
    """Return the cores of last time, or those of the noise model's composite."""
    known = last["cores"].dropna()
    return int(known.iloc[-1] if len(known) else noise_model().table["cores"].median())


def _hidden(
    rows: list[dict[str, Any]], past: pd.DataFrame, stems: dict[str, str], code: str
) -> dict[str, Any]:
    """Return the bag that is split from another's bucket and sent under a name of its own."""
    first = past[past["duplicate_of"] == ""].drop_duplicates(["sample", "sampled"])
    split = past[past["duplicate_of"] != ""].merge(
        first[["sample", "sampled", "lab"]],
        left_on=["duplicate_of", "sampled"],
        right_on=["sample", "sampled"],
        suffixes=("", "_parent"),
    )
    split = split[split["lab"] == split["lab_parent"]]
    count, when = split["bed"].value_counts(), split.groupby("bed")["sampled"].max()
    never = pd.Timestamp(0)
    chosen = min(rows, key=lambda row: (count.get(row["bed"], 0), when.get(row["bed"], never)))
    times, bed = int(count.get(chosen["bed"], 0)), chosen["bed"]
    often = "once" if times == 1 else f"{times} times"
    before = f"checked so {often}, last in {when[bed].year}" if times else "not checked so before"
    stem = hidden_stem([stem_of(label) for label in split["sample"]], stems.values())
    why = f"A second bag from the bucket of {chosen['bag']} under another name, to see how far two differ: "
    return chosen | {
        "bag": f"{stem}-{code}{chosen['bag'].rpartition(code)[2]}",
        "duplicate_of": chosen["bag"],
        "why": f"{why}{bed} was {before}",
    }


def _dressed(garden: Garden, table: pd.DataFrame) -> pd.Series:
    """Return the days from the last dressing known of each bed to the day planned."""
    day = table["date"].iloc[0]
    before = garden.applications[(garden.applications["date"] <= day) & (garden.applications["amount"] > 0)]
    last = before.groupby("bed")["date"].max().reindex(table["bed"])
    days: pd.Series = (day - last.reset_index(drop=True)).dt.days.astype(float)
    return days
