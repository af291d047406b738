"""How many years until an aim is reached, as an interval, and not beyond what the record can say."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
import pandas as pd

from soiltrend import frames, present, scales, vocabulary
from soiltrend.errors import SoiltrendError
from soiltrend.trend.core import TOO_FEW, Trend
from soiltrend.trend.words import VERDICTS

Aimed: TypeAlias = str | tuple[str, str]
"""What an aim is for: an analyte, or an analyte by a method."""

SERIES = ["bed", "analyte", "method", "lab", "top_cm", "bottom_cm", "unit"]
COLUMNS = [*SERIES, "now", "aim", "years", "years_low", "years_high", "why"]


@dataclass(frozen=True, eq=False)
class Outlook:
    """Years until aims are reached.

    Attributes
    ----------
    table : DataFrame
        ``bed, analyte, method, lab, top_cm, bottom_cm, unit, now`` (the line at the last test), ``aim``,
        ``years`` from the last test on, ``years_low``, ``years_high`` (by the fastest and the slowest slope
        of the interval; infinite where the slowest never comes there), ``why``. No years are given without
        a trend that stands among all those fitted, or beyond as many years as the record is long.
    """

    table: pd.DataFrame

    def __repr__(self) -> str:
        return present.plain(self._title(), self.table[COLUMNS[:-1]])

    def _repr_html_(self) -> str:
        return present.page(self._title(), self.table)

    def _title(self) -> str:
        return f"Outlook: {present.counted(len(self.table), 'record')} with an aim"


def outlook(trend: Trend, *, aims: Mapping[Aimed, float]) -> Outlook:
    """Return the years until each series reaches an aim, if it goes on as it did.

    Parameters
    ----------
    trend : Trend
        What :func:`soiltrend.trend` gave.
    aims : mapping
        A value by analyte, in its canonical unit: ``{"pH": 6.5}``; or by analyte and method:
        ``{("pH", "water 1:1"): 6.5}``, which is asked for where the trends are by several methods, for an
        aim of one does not hold for another.

    Returns
    -------
    Outlook
        One row per series of an analyte with an aim.

    Raises
    ------
    SoiltrendError
        When an aim names neither an analyte known here nor one of the trends, or is no number that the
        analyte can take. A known analyte that was not measured has no rows.

    Examples
    --------
    >>> from soiltrend.trend import trend
    >>> days = pd.date_range("2012-04-03", periods=8, freq="365D")
    >>> rows = pd.DataFrame({"bed": "East", "analyte": "pH", "unit": "pH", "sampled": days,
    ...                      "value": [5.2, 5.3, 5.31, 5.5, 5.52, 5.7, 5.72, 5.86]})
    >>> outlook(trend(frames.results(rows)), aims={"pH": 6.2}).table["years"].round(1).tolist()
    [3.2]
    """
    names = [aimed if isinstance(aimed, str) else aimed[0] for aimed in aims]
    for name, aim in zip(names, aims.values(), strict=True):
        _check(trend, name, aim)
    rows = trend.table[(trend.table["bed"] != frames.GARDEN) & trend.table["analyte"].isin(names)]
    methods = rows.groupby("analyte")["method"].unique().map(list)
    rate = 1 - trend.confidence
    found = [_ahead(row, aims, sorted(methods[row["analyte"]]), rate) for row in rows.to_dict("records")]
    return Outlook(pd.DataFrame(found, columns=COLUMNS))


def _check(trend: Trend, name: str, aim: Any) -> None:
    """Raise when an aim is for nothing known, or is no value of it."""
    known = set(trend.table["analyte"])
    if name not in known and not vocabulary.facts(name):
        raise SoiltrendError(
            f"an aim is stated for '{name}', which has no trend here",
            remedy="Here are: " + ", ".join(sorted(known)),
        )
    on = np.array([scales.scale(name)])
    if isinstance(aim, (str, bool)) or np.isnan(scales.forward(np.array([aim]), on)[0]):
        raise SoiltrendError(f"the aim {aim!r} of '{name}' is no value it can take")


def _ahead(
    row: dict[Any, Any], aims: Mapping[Aimed, float], methods: list[str], rate: float
) -> dict[str, Any]:
    """Return the row of one series, with years only where the aim is one of its own method."""
    analyte, method = str(row["analyte"]), str(row["method"])
    aim = aims.get((analyte, method), aims.get(analyte, np.nan) if len(methods) == 1 else np.nan)
    found = _row(row, float(aim), rate)
    if np.isnan(aim):
        said = " or ".join(each or "method not stated" for each in methods)
        found["why"] = f"No years: an aim holds for one method; say for which it is: {said}"
    return found


def _row(row: dict[Any, Any], aim: float, rate: float) -> dict[str, Any]:
    """Return the years until one series reaches its aim."""
    on = np.array([row["scale"]])
    steep = float(scales.steepness(np.array([row["level"]]), on)[0])
    slope, low, high = (float(row[name]) / steep for name in ("slope_per_year", "low", "high"))
    level, target = (float(scales.forward(np.array([value]), on)[0]) for value in (row["level"], aim))
    now = level + slope * row["years"] / 2
    shown = float(scales.back(np.array([now]), on)[0])
    kept = {name: row[name] for name in SERIES}
    return {**kept, "now": shown, "aim": aim, **_years(row, target - now, (slope, low, high), rate)}


def _years(
    row: dict[Any, Any], gap: float, slopes: tuple[float, float, float], rate: float
) -> dict[str, Any]:
    """Return years and words for a gap that is left on the analysis scale."""
    none = {"years": np.nan, "years_low": np.nan, "years_high": np.nan}
    if row["verdict"] not in VERDICTS[:2]:
        few = "there are too few tests for a trend"
        why = few if row["verdict"] == TOO_FEW else f"the trend is {row['verdict']}"
        return {**none, "why": f"No years: {why}"}
    if not row["q"] <= rate:
        chance = present.number(float(row["q"]), digits=2)
        return {**none, "why": f"No years: among all the trends fitted luck can make this one (q = {chance})"}
    if not np.isfinite(gap):
        return {**none, "why": "No years: no aim of its own"}
    slope, low, high = slopes
    if gap * slope <= 0:
        return {**none, "why": "No years: it stands beyond the aim or moves away from it"}
    fast, slow = (high, low) if gap > 0 else (low, high)
    years, least = gap / slope, gap / fast
    most = gap / slow if gap * slow > 0 else np.inf
    if years > row["years"]:
        return {
            **none,
            "why": f"No years: further off than the {row['years']:.1f} years of the record can say",
        }
    end = present.years_at_most(most, record=row["years"]) + " years" * bool(np.isfinite(most))
    return {
        "years": years,
        "years_low": least,
        "years_high": most,
        "why": f"If it goes on as it did: {present.counted(round(years), 'year')} from the last test on "
        f"({least:.0f} to {end})",
    }
