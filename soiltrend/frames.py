"""The tidy frame: one row is one measured or derived value.

========================  ========  =====================================================
column                    type      meaning
========================  ========  =====================================================
bed                       text      the grower's name of the bed
sampled                   datetime  day the soil was taken, as the calendar there told it (no
                                    time zone); missing when the report does not say (a year
                                    alone is no day)
season                    text      "spring 2024", from the day and the hemisphere; a bare
                                    year ("2024") when that is all the report says
top_cm, bottom_cm         float     sampled layer [cm]; missing when not stated
analyte                   text      canonical name (``tables/analytes.csv``)
method                    text      extractant or procedure; "" when not stated
value                     float     in ``unit``; for a censored value, its limit
unit                      text      canonical unit of the analyte
qualifier                 text      "", "<" (below the limit) or ">" (above it)
reported_value,           text      exactly as printed; "" for a derived row
reported_unit
lab, report, sample       text      who measured, which report, the laboratory's number
source, place             text      file, and where in it; for a derived row the formula
rating                    text      the laboratory's own word beside the value, unchanged
note                      text      what a reader must know before using the value
========================  ========  =====================================================

More columns may follow. One of them, ``hemisphere``, says in a southern garden's results where its
seasons lie, since a test without a day cannot.

A *series* is what may be compared with itself over time: one bed, analyte, method, lab and
layer (:data:`SERIES`). Values that could not be placed in this frame stand in a second
frame, set aside with a reason (:data:`SET_ASIDE`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import vocabulary
from soiltrend.errors import FrameError

TEXT = ("bed", "season", "analyte", "method", "unit", "qualifier", "reported_value", "reported_unit",
        "lab", "report", "sample", "source", "place", "rating", "note")
NUMBER = ("top_cm", "bottom_cm", "value")
RESULTS = ("bed", "sampled", "season", "top_cm", "bottom_cm", "analyte", "method", "value", "unit",
           "qualifier", "reported_value", "reported_unit", "lab", "report", "sample", "source", "place",
           "rating", "note")
SERIES = ("bed", "analyte", "method", "lab", "top_cm", "bottom_cm", "unit")
"""Columns that name a series: change one and the series breaks."""

POOLED = SERIES[1:]
"""Columns that the series of several beds share where they are told as one."""

COMPOSITE = ("bed", "sampled", "season", "top_cm", "bottom_cm", "lab", "report", "sample")
"""Columns that name one composite sample: its values were measured on the same soil."""

SET_ASIDE = ("source", "place", "sample", "label", "text", "reason")
QUALIFIERS = ("", "<", ">")
GARDEN = "(garden)"
"""The name that stands for all beds pooled; no bed may bear it."""

LAYER = ("top_cm", "bottom_cm")
RULES: dict[str, tuple[str, Callable[[pd.Series], pd.Series]]] = {
    "bed": ("names a bed", lambda text: (text != "") & (text != GARDEN)),
    "analyte": ("names an analyte", lambda text: text != ""),
    "qualifier": (f"is one of {QUALIFIERS}", lambda text: text.isin(QUALIFIERS)),
    "value": ("is a finite number", np.isfinite),
    "top_cm": ("is not above the soil", lambda depth: ~(depth < 0)),
    "bottom_cm": ("is below the soil's surface", lambda depth: ~(depth <= 0)),
}
"""What every cell of a column must hold besides its type, in words and as a test; a layer may be missing."""

COMPUTED = "computed"
"""The source of a derived row: it was computed here and stands in no file."""

INFLATED = "may be inflated:"
"""Begins the note of a derived row that undissolved lime or dissolved salts may push up."""

QUESTIONED = "questioned:"
"""How the note of a value begins that its own report contradicts."""

FORMULA_CHANGED = "formula changed:"
"""Stands in the note of a sum whose series has acidity of another kind on other dates."""

BRIDGED = "bridged:"
"""Stands in the note of a value that was moved across a bridge, before the bridge's name."""

DRESSING = "dressing"
"""The word by which a note says that something was spread shortly before the soil was taken."""

YEAR = 365.2425
"""Days in a mean year of the calendar."""

MIDDLE = 45
"""Days from the start of a season to its middle."""

SEASONS = ("winter", "spring", "summer", "autumn")
FAULTS_SHOWN = 8
DAYS = "is a column of days without a time zone"
TYPED = "soiltrend.frames.results(frame) gives every column its type"


def _typed(values: pd.Series, column: str) -> pd.Series:
    """Return a column of the schema in its type."""
    if column == "sampled":
        return pd.to_datetime(values).dt.tz_localize(None)
    return values.astype(float) if column in NUMBER else values.fillna("").astype("str")


def _cast(frame: pd.DataFrame, columns: Sequence[str]) -> pd.DataFrame:
    """Return the frame with the wanted columns first, missing ones blank, types set."""
    out = frame.copy(deep=False)  # pandas copies a column when it is written to, and no other
    for column in columns:
        if column not in out:
            out[column] = pd.NaT if column == "sampled" else np.nan if column in NUMBER else ""
    for column in columns:
        try:
            out[column] = _typed(out[column], column)
        except (ValueError, TypeError) as error:
            kind = "a day" if column == "sampled" else "a number"
            raise FrameError(f"the column '{column}' holds what is not {kind}: {error}") from error
    return out[[*columns, *(c for c in out.columns if c not in columns)]].reset_index(drop=True)


def results(rows: pd.DataFrame | Sequence[dict[str, Any]] = ()) -> pd.DataFrame:
    """Return a tidy frame of the given rows; columns not given are blank or missing.

    Raises
    ------
    FrameError
        When a day is no day, or a value no number.

    Examples
    --------
    >>> results([{"bed": "East", "analyte": "pH", "value": 6.4, "unit": "pH"}]).shape
    (1, 19)
    """
    return _cast(pd.DataFrame(rows), RESULTS)


def set_aside(rows: pd.DataFrame | Sequence[dict[str, Any]] = ()) -> pd.DataFrame:
    """Return a frame of values set aside, each with its place and reason.

    Examples
    --------
    >>> list(set_aside().columns)
    ['source', 'place', 'sample', 'label', 'text', 'reason']
    """
    return _cast(pd.DataFrame(rows), SET_ASIDE)


def join(*parts: pd.DataFrame) -> pd.DataFrame:
    """Return tidy frames one below the other, with the columns in order."""
    filled = [part for part in parts if len(part)]
    return _cast(pd.concat(filled, ignore_index=True), RESULTS) if filled else results()


def composites(frame: pd.DataFrame) -> pd.Series:
    """Return a number for each row that is the same for all values of one composite sample.

    Examples
    --------
    >>> composites(results([{"sample": "7"}, {"sample": "8"}, {"sample": "7"}])).tolist()
    [0, 1, 0]
    """
    return frame.groupby(list(COMPOSITE), dropna=False, sort=False).ngroup()


def _half(hemisphere: str) -> int:
    """Return the months by which the seasons of a hemisphere come later than in the north."""
    if hemisphere not in ("north", "south"):
        raise FrameError(f"hemisphere '{hemisphere}' is neither 'north' nor 'south'")
    return 6 if hemisphere == "south" else 0


def season(day: pd.Series, *, hemisphere: str = "north") -> pd.Series:
    """Return the season and year of each day, by calendar quarters from March.

    The season that spans New Year bears the year it ends in, as climatologists count it.

    Parameters
    ----------
    day : Series of datetime
        Missing days give "".
    hemisphere : str
        "north" or "south".

    Raises
    ------
    FrameError
        When the hemisphere is neither.

    Examples
    --------
    >>> days = pd.Series(pd.to_datetime(["2024-04-02", "2024-12-05", None]))
    >>> season(days).tolist(), season(days, hemisphere="south").tolist()
    (['spring 2024', 'winter 2025', ''], ['autumn 2024', 'summer 2025', ''])
    """
    half = _half(hemisphere)
    months, codes = np.unique(day.to_numpy("datetime64[M]"), return_inverse=True)
    since = months.astype("int64") + 1  # months since December 1969, with which a winter begins
    quarter = since % 12 // 3 + half // 3
    words = [f"{SEASONS[place]} {year}" for place, year in zip(quarter % 4, 1970 + since // 12, strict=True)]
    told = np.where(np.isnat(months), "", np.array(words, dtype=object))
    return pd.Series(pd.array(told, dtype="str").take(codes), index=day.index)


def hemisphere_of(frame: pd.DataFrame) -> str:
    """Return the hemisphere that a frame's own column states, else what most of its days and seasons tell of.

    North where nothing tells.

    Examples
    --------
    >>> hemisphere_of(results([{"season": "spring 2024", "hemisphere": "south"}]))
    'south'
    """
    stated = set(frame["hemisphere"].dropna()) if "hemisphere" in frame else set()
    if len(stated) == 1:
        return str(stated.pop())
    north, south = ((season(frame["sampled"], hemisphere=half) == frame["season"]).sum()
                    for half in ("north", "south"))
    return "south" if south > north else "north"


def seasons(frame: pd.DataFrame) -> list[str]:
    """Return the seasons of a frame in time, by their names.

    Whether spring comes before autumn in a year is told by :func:`hemisphere_of`. A bare year comes
    before its seasons; any other name takes its place by its first day.

    Examples
    --------
    >>> days = pd.to_datetime(["2024-09-30", "2024-04-02", "2023-10-01", None])
    >>> names = ["autumn 2024", "spring 2024", "autumn 2023", "summer 2024"]
    >>> seasons(pd.DataFrame({"sampled": days, "season": names}))
    ['autumn 2023', 'spring 2024', 'summer 2024', 'autumn 2024']
    """
    first = frame[frame["season"] != ""].groupby("season")["sampled"].min().reset_index()
    year = pd.to_numeric(first["season"].str.extract(r"(\d{4})$")[0])
    places = {name: place for place, name in enumerate(SEASONS)}
    quarter = first["season"].map(season_name).map(places).astype(float)  # of no season it would be text
    by_name = year + ((quarter + 2 * int(hemisphere_of(frame) == "south")) % 4 + 0.5) / 4
    by_day = first["sampled"].dt.year + first["sampled"].dt.day_of_year / 367
    at = by_name.fillna(by_day).fillna(year)
    return [str(text) for text in first.assign(at=at).sort_values(["at", "season"])["season"]]


def season_name(text: str) -> str:
    """Return the season's name without its year ("spring 2024" gives "spring")."""
    return text.rpartition(" ")[0]


def _is_plainly_tidy(frame: pd.DataFrame) -> bool:
    """Return whether columns that all exist have just the schema's types, and no row breaks a rule."""
    kinds = frame.dtypes
    return bool(
        kinds.index.is_unique and (kinds[list(TEXT)] == "str").all() and is_day(frame["sampled"])
        and (kinds[list(NUMBER)] == "float64").all() and frame[[*TEXT, "value"]].notna().to_numpy().all()
        and all(rule(frame[column]).all() for column, (_, rule) in RULES.items()))


def _misfits(frame: pd.DataFrame) -> list[str]:
    """Return the faults of a frame whose columns all exist, in words."""
    import pandera.pandas as pa  # heavy; only where there may be a fault to tell

    text = pa.Column("str", nullable=False, coerce=False)
    number = pa.Column(float, nullable=True)
    columns = {**dict.fromkeys(TEXT, text), **dict.fromkeys(NUMBER, number)}
    columns |= {name: pa.Column(columns[name].dtype, pa.Check(rule, name=words), nullable=name in LAYER)
                for name, (words, rule) in RULES.items()}
    columns["sampled"] = pa.Column(checks=pa.Check(is_day, name=DAYS, element_wise=False), nullable=True)
    try:
        pa.DataFrameSchema(columns, strict=False).validate(frame, lazy=True)
    except pa.errors.SchemaErrors as error:
        return [f"column '{row.column}' holds values of type {frame[row.column].dtype} ({row.check})"
                if pd.isna(row.index) or row.check == DAYS else
                f"row {row.index}: column '{row.column}' holds {row.failure_case!r} ({row.check})"
                for row in error.failure_cases.itertuples(index=False)]
    return []


def is_day(column: pd.Series) -> bool:
    """Return whether a column holds days, and no time zone that could move them.

    Examples
    --------
    >>> days = pd.Series(pd.to_datetime(["2024-04-02"]))
    >>> is_day(days), is_day(days.dt.tz_localize("Pacific/Auckland")), is_day(days.astype("str"))
    (True, False, False)
    """
    return bool(pd.api.types.is_datetime64_dtype(column))


def _unit_faults(frame: pd.DataFrame) -> list[str]:
    """Return the analytes whose values are not in their canonical unit, in words."""
    pairs = frame[["analyte", "unit"]].drop_duplicates()
    wanted = pairs["analyte"].map(vocabulary.canonical_unit)
    wrong = pairs[(wanted != "") & (wanted != pairs["unit"])]
    return [f"analyte '{analyte}' is in '{unit}' and not in '{vocabulary.canonical_unit(analyte)}'"
            for analyte, unit in zip(wrong["analyte"], wrong["unit"], strict=True)]


def check(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the frame if it is a tidy frame.

    Raises
    ------
    FrameError
        When it is not, with all its faults in one message: missing columns, blank beds,
        values that are no numbers, qualifiers and units that are not the schema's, layers
        upside down.

    Examples
    --------
    >>> check(results([{"bed": "East", "analyte": "pH", "value": 6.4, "unit": "mg/kg"}]))
    Traceback (most recent call last):
    ...
    soiltrend.errors.FrameError: the frame is not tidy: analyte 'pH' is in 'mg/kg' and not in 'pH'.
    """
    missing = [f"column '{column}' is missing" for column in RESULTS if column not in frame]
    faults = missing or [*([] if _is_plainly_tidy(frame) else _misfits(frame)), *_unit_faults(frame)]
    if not missing:
        upside_down = frame[frame["bottom_cm"] <= frame["top_cm"]]
        layers = zip(upside_down.index, upside_down["top_cm"], upside_down["bottom_cm"], strict=True)
        faults += [f"row {row}: the layer from {top} to {bottom} cm is upside down"
                   for row, top, bottom in layers]
    if faults:
        shown = "; ".join(faults[:FAULTS_SHOWN])
        rest = f"; and {len(faults) - FAULTS_SHOWN} more" if len(faults) > FAULTS_SHOWN else ""
        raise FrameError(f"the frame is not tidy: {shown}{rest}", remedy=TYPED if " type " in shown else "")
    return frame


FIRST_MONTH = {"spring": 3, "summer": 6, "autumn": 9, "winter": 12}
"""First month of each season in the north, by calendar quarters; six months later in the south."""


def season_starts(text: str, *, hemisphere: str) -> pd.Timestamp:
    """Return the first day of a season.

    Raises
    ------
    FrameError
        When the text names no season and year, or the hemisphere is neither.

    Examples
    --------
    >>> season_starts("winter 2025", hemisphere="north"), season_starts("spring 2025", hemisphere="south")
    (Timestamp('2024-12-01 00:00:00'), Timestamp('2025-09-01 00:00:00'))
    """
    name, year = season_name(text), text[-4:]
    if name not in FIRST_MONTH or not year.isdigit():
        raise FrameError(f"'{text}' is no season of a year", remedy="Write it as 'spring 2027'")
    month = (FIRST_MONTH[name] + _half(hemisphere) - 1) % 12 + 1
    return pd.Timestamp(int(year) - (month == 12), month, 1)


def in_time(results: pd.DataFrame, *, hemisphere: str = "") -> pd.DataFrame:
    """Return results in which a test whose day is lost stands on the middle day of its season's other tests.

    Where none of them bears a day it stands in the middle of the season or bare year; else it keeps no day.

    Parameters
    ----------
    results : DataFrame
        With ``sampled`` and ``season``; a row without either keeps no day.
    hemisphere : str
        "north" or "south"; else as :func:`hemisphere_of` tells.

    Examples
    --------
    >>> rows = results([{"bed": "East", "season": name} for name in ("spring 2024", "2024", "")])
    >>> in_time(rows)["sampled"].dt.strftime("%d %b").tolist()
    ['15 Apr', '02 Jul', nan]
    """
    _half(hemisphere or "north")
    lost = results["sampled"].isna() & (results["season"] != "")
    if not lost.any():
        return results
    half = hemisphere or hemisphere_of(results)
    middle = {name: _middle(name, half) for name in results.loc[lost, "season"].unique()}
    dated = results[~lost].groupby("season")["sampled"].median().dropna().dt.normalize().to_dict()
    placed = results["season"].map(middle | dated).astype("datetime64[us]")
    return results.assign(sampled=results["sampled"].where(~lost, placed))


def _middle(name: str, hemisphere: str) -> pd.Timestamp | None:
    """Return the middle of a season, or of the year at the end of another name; no day when it bears none."""
    if not name[-4:].isdigit():
        return None
    if season_name(name) in FIRST_MONTH:
        return season_starts(name, hemisphere=hemisphere) + pd.Timedelta(days=MIDDLE)
    return pd.Timestamp(int(name[-4:]), 7, 2)
