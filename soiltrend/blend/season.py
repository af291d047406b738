"""The nitrogen of a season: when what lies in a bed ties nitrogen up, and when it lets it go."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import present
from soiltrend.blend.courses import course, monthly, pace_of
from soiltrend.blend.pools import terms
from soiltrend.blend.sources import (
    AS_NOTED,
    DRAWS,
    DUG_IN,
    ON_TOP,
    PLACES,
    YEARS_BACK,
    Left,
    Planned,
    Source,
    Told,
    bed_area,
    gathered,
    growing_year,
    planned,
)
from soiltrend.errors import SoiltrendError

TOGETHER = "(together)"
FIRST_YEAR, LAST_YEAR = 1900, 2200
"""Years that a calendar of nanoseconds can follow, with those before and after it to spare."""

ENDS = (2.5, 50.0, 97.5)
UNIT = "g N/m2"
COLUMNS = ("month", "what", "credit", "place", "unit", "low", "likely", "high", "said")
PLACED = ("month", "unit", "on_top_low", "on_top", "on_top_high", "dug_in_low", "dug_in", "dug_in_high")
ASK = "monthly_mean_C = [twelve numbers] under [climate] in garden.toml"
NOTHING_YET = (
    "Nothing is written down yet in applications.csv or harvests.csv, so nothing is known to rot here."
)
HOLDS = (
    "Residues and dressings only: what the soil's own humus gives comes on top, and rain and crops take from "
    "it. Tested for residues of C:N 8 to 100, chopped into moist soil that had nitrogen to lend; where the "
    "soil has none, rotting waits instead. Warmth is each month's mean."
)


@dataclass(frozen=True, eq=False)
class NitrogenSeason:
    """Nitrogen tied up and let go in a bed, month by month.

    Attributes
    ----------
    table : DataFrame
        One row a month and source, then a month's sum ("(together)"): month, what, credit
        (dressing, residue, legume residue, roots, legume roots), place, unit (g N/m2 in that
        month), low, likely, high (95 %), said ("lets go", "ties up", "about even", "either way").
        Above nothing is let go, below nothing is tied up.
    calendar : DataFrame
        The crops picked in the season: crop, date, kg_per_m2, residue.
    totals : DataFrame
        The season's sum of each source: what, credit, place, on, unit, brought, low, likely, high.
    places : DataFrame
        Months, all on top against all dug in: month, unit, on_top_low, on_top, on_top_high,
        dug_in_low, dug_in, dug_in_high.
    left_out : DataFrame
        What was written down and is not counted: date, what, why.
    bed : str
    year : int
    why : str
        What the figures hold for, or what is missing.
    """

    table: pd.DataFrame
    calendar: pd.DataFrame
    totals: pd.DataFrame
    places: pd.DataFrame
    left_out: pd.DataFrame
    bed: str
    year: int
    why: str

    def __repr__(self) -> str:
        return present.plain(self._title(), self._shown()) + f"\n{self.why}"

    def _repr_html_(self) -> str:
        return present.page(f"{self._title()}. {self.why}", self._shown())

    def _title(self) -> str:
        where = f"{self.bed}, {self.year}" if self.bed else "no bed"
        return f"Nitrogen of residues and dressings in {where} ({UNIT} a month; below 0 it is tied up)"

    def _shown(self) -> pd.DataFrame:
        together = self.table[self.table["what"] == TOGETHER]
        shown = together.drop(columns=["what", "credit", "place"])
        return shown.assign(month=shown["month"].map("{:%b %Y}".format))


def _said(low: float, high: float) -> str:
    least, _, most = terms()["even"]
    if low >= least and high <= most:
        return "about even"
    if low > 0:
        return "lets go"
    return "ties up" if high < 0 else "either way"


def _rows(months: pd.DatetimeIndex, values: np.ndarray) -> pd.DataFrame:
    low, likely, high = np.percentile(values, ENDS, axis=1)
    return pd.DataFrame({"month": months[:-1], "unit": UNIT, "low": low, "likely": likely, "high": high})


def _table(months: pd.DatetimeIndex, each: list[tuple[Source, np.ndarray]]) -> pd.DataFrame:
    """Return a row a month and source, and the sums."""
    parts = [
        _rows(months, values).assign(what=source.what, credit=source.credit, place=source.place)
        for source, values in each
    ]
    whole = sum((values for _, values in each), np.zeros((len(months) - 1, DRAWS)))
    parts.append(_rows(months, whole).assign(what=TOGETHER, credit="", place=""))
    table = pd.concat(parts, ignore_index=True)
    said = [_said(low, high) for low, high in zip(table["low"], table["high"], strict=True)]
    return table.assign(said=said)[list(COLUMNS)]


def _totals(each: list[tuple[Source, np.ndarray]]) -> pd.DataFrame:
    """Return the sum of each source over the season."""
    rows = [
        {
            "what": source.what,
            "credit": source.credit,
            "place": source.place,
            "on": source.day,
            "unit": UNIT,
            "brought": float(np.median(source.nitrogen)),
            **dict(zip(("low", "likely", "high"), np.percentile(values.sum(axis=0), ENDS), strict=True)),
        }
        for source, values in each
    ]
    columns = ["what", "credit", "place", "on", "unit", "brought", "low", "likely", "high"]
    return pd.DataFrame(rows, columns=columns)


def _places(
    sources: list[Source], *, days: pd.DatetimeIndex, pace: np.ndarray, months: pd.DatetimeIndex
) -> pd.DataFrame:
    """Return the months with everything on top, and with everything dug in (roots are in either way)."""
    out = pd.DataFrame({"month": months[:-1], "unit": UNIT})
    for place, name in ((ON_TOP, "on_top"), (DUG_IN, "dug_in")):
        whole = np.zeros((len(months) - 1, DRAWS))
        for source in sources:
            lies = source.place if "roots" in source.credit else place
            whole = whole + monthly(
                course(source, place=lies, days=days, pace=pace), days=days, months=months
            )
        out[[f"{name}_low", name, f"{name}_high"]] = np.percentile(whole, ENDS, axis=1).T
    return out[list(PLACED)]


def _calendar(garden: Told, *, bed: str, months: pd.DatetimeIndex) -> pd.DataFrame:
    area = bed_area(garden, bed=bed)
    picked = garden.harvests
    picked = picked[(picked["bed"] == bed) & picked["date"].between(months[0], months[-1], inclusive="left")]
    out = picked.assign(kg_per_m2=picked["kg"] / area).sort_values("date", kind="stable", ignore_index=True)
    return out[["crop", "date", "kg_per_m2", "residue"]]


def _empty(bed: str, year: int, why: str) -> NitrogenSeason:
    """Return a season of which nothing can be said, and why."""
    listed = {
        "calendar": ["crop", "date", "kg_per_m2", "residue"],
        "totals": ["what", "credit", "place", "on", "unit", "brought", "low", "likely", "high"],
        "places": list(PLACED),
        "left_out": ["date", "what", "why"],
    }
    table = pd.DataFrame(columns=list(COLUMNS))
    return NitrogenSeason(
        table, **{k: pd.DataFrame(columns=v) for k, v in listed.items()}, bed=bed, year=year, why=why
    )


def _season_of(garden: Told, *, bed: str, year: int) -> tuple[str, int]:
    """Return the bed and the year asked for; else the year of the last entry and its busiest bed."""
    entries = pd.concat([table[["bed", "date"]] for table in (garden.applications, garden.harvests)])
    if bed:
        bed_area(garden, bed=bed)
        entries = entries[entries["bed"] == bed]
    if entries.empty:
        return bed, year
    own = growing_year(entries["date"], hemisphere=garden.hemisphere)
    year = year or int(own.max())
    counts = entries.loc[own == year, "bed"].value_counts()
    most = counts[counts == counts.max()].index if len(counts) else garden.beds["bed"]
    return bed or next(name for name in garden.beds["bed"] if name in set(most)), year


def _months(year: int, hemisphere: str) -> pd.DatetimeIndex:
    """Return the firsts of the season's twelve months and of the one after: from July in the south."""
    first = pd.Timestamp(
        year=year if hemisphere == "north" else year - 1, month=1 if hemisphere == "north" else 7, day=1
    )
    return pd.date_range(first, periods=13, freq="MS")


def _missing(garden: Told, *, bed: str, year: int) -> str:
    """Return why no season can be told, or an empty text."""
    if not bed or not year:
        return NOTHING_YET
    if "climate" not in garden.settings:
        return f"How warm the months are is not known, and nothing is guessed: write {ASK}."
    return ""


def _left_out(left: list[Left]) -> pd.DataFrame:
    rows = [{"date": one.day, "what": one.what, "why": one.why} for one in left]
    table = pd.DataFrame(rows, columns=["date", "what", "why"])
    return table.sort_values("date", kind="stable", ignore_index=True)


def nitrogen_season(
    garden: Told,
    *,
    bed: str = "",
    year: int = 0,
    place: str = AS_NOTED,
    added: Planned | None = None,
    own: pd.DataFrame | None = None,
) -> NitrogenSeason:
    """Say, month by month, when residues and dressings tie nitrogen up in a bed and when they let it go.

    Parameters
    ----------
    garden : Garden
        Its applications and harvests of the season and the two years before it, its materials,
        and ``[climate] monthly_mean_C`` of its garden.toml.
    bed : str
        The bed; empty for the one with most entries in that year.
    year : int
        The year, from January (in the south from the July before); 0 for the last with an entry.
    place : str
        "as noted": dug in where the note of an entry says so ("raked in" ...), else on top; or
        "on top" or "dug in" for all. Roots are always in the soil.
    added : list of dict or DataFrame, optional
        What you think of adding: material, amount, unit, date or month (1 to 12), and place.
    own : DataFrame, optional
        Materials in place of ``garden.materials``, such as :meth:`Blend.added_to` gives.

    Returns
    -------
    NitrogenSeason
        With an empty table and the reason when nothing is written down, or no temperatures are.

    Raises
    ------
    SoiltrendError
        When the bed, the year or the place is not known, or what is to be added is not told in full or
        cannot be turned into kilograms. A dressing of the record that cannot is left out, with the
        reason in ``left_out``.

    Notes
    -----
    Residues, green stuff, straw, leaves and wood follow :mod:`soiltrend.blend.pools`, whose
    error of 3.3 g N per kg of carbon is in the interval; manures, composts, meals and liquids let
    go the yearly shares of tables/release.csv, spread as the months are warm. Intervals are of 400
    seeded draws over analyses, amounts, pace and wetness.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> from soiltrend.garden import open_garden
    >>> folder = Path(tempfile.mkdtemp())
    >>> lines = ("beds.East.area_m2 = 10", f"climate.monthly_mean_C = {[10] * 12}")
    >>> _ = (folder / "garden.toml").write_text(chr(10).join(lines))
    >>> straw = {"material": "wheat straw", "amount": 1.0, "unit": "kg/m2", "month": 4, "place": "dug in"}
    >>> season = nitrogen_season(open_garden(folder), bed="East", year=2025, added=[straw])
    >>> season.table.query("what == '(together)'")["said"].tolist()[3:6]
    ['ties up', 'ties up', 'either way']
    """
    if place not in PLACES:
        raise SoiltrendError(f"place '{place}' is not known", remedy=f"Say one of: {', '.join(PLACES)}")
    if year and not FIRST_YEAR <= year <= LAST_YEAR:
        raise SoiltrendError(f"year = {year!r} is none that is followed here",
                             remedy=f"Give one from {FIRST_YEAR} to {LAST_YEAR}")  # fmt: skip
    bed, year = _season_of(garden, bed=bed, year=year)
    why = _missing(garden, bed=bed, year=year)
    if why:
        return _empty(bed, year, why)
    months = _months(year, garden.hemisphere)
    since = months[0] - pd.DateOffset(years=YEARS_BACK)
    days = pd.date_range(since, months[-1], freq="D")
    beyond = pd.date_range(since, months[-1] + pd.DateOffset(years=1), freq="D")
    pace = pace_of(beyond, garden.settings["climate"]["monthly_mean_C"])
    sources, left = gathered(
        garden, bed=bed, months=months, place=place, added=planned(added, months=months), own=own
    )
    each = [
        (one, monthly(course(one, place=one.place, days=days, pace=pace), days=days, months=months))
        for one in sources
    ]
    return NitrogenSeason(
        _table(months, each),
        _calendar(garden, bed=bed, months=months),
        _totals(each),
        _places(sources, days=days, pace=pace, months=months),
        _left_out(left),
        bed,
        year,
        HOLDS,
    )
