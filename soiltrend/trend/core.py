"""The trend of every series and of the garden, as one table."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import composites, frames, present, scales, series, tables
from soiltrend.errors import SoiltrendError
from soiltrend.noise import Noise
from soiltrend.slopes import joined, lines
from soiltrend.slopes.batch import Fits, fit
from soiltrend.slopes.robust import robustly
from soiltrend.trend import garden, words
from soiltrend.trend.ahead import next_test
from soiltrend.verdicts import discovery_rate

RISING, FALLING, STEADY, UNCLEAR, TOO_FEW = words.VERDICTS
FIRST = [
    "bed",
    "analyte",
    "method",
    "unit",
    "n",
    "n_censored",
    "first",
    "last",
    "slope_per_year",
    "low",
    "high",
    "p",
    "q",
    "verdict",
    "model",
    "why",
]
EXTRA = [
    "lab",
    "top_cm",
    "bottom_cm",
    "n_used",
    "years",
    "level",
    "middle",
    "next_low",
    "next_high",
    "confidence",
    "percent_per_year",
    "percent_low",
    "percent_high",
    "margin",
    "rank_slope",
    "rank_p",
    "line_slope",
    "shrunk_slope",
    "beds",
    "p_dates",
    "p_beds_like_mine",
    "spread",
    "bridge_error",
    "scale",
]
MARGINS = ["margin", "margin_relative", "years"]
_INNER = [
    "kind",
    "slope",
    "low",
    "high",
    "tight_low",
    "tight_high",
    "p",
    "centre",
    "middle",
    "span",
    "confidence",
    "rank_slope",
    "rank_p",
    "line_slope",
    "shrunk",
    "spread",
    "beds",
    "p_dates",
    "p_beds_like_mine",
    "hidden",
    "bridged",
    "joined",
    "model",
    "reason",
    "seasons",
    "next_low",
    "next_high",
]
_GENERAL = {scales.LOG: "(log)", scales.PLAIN: "(plain)", scales.SHARE: "(share)"}


@dataclass(frozen=True, eq=False)
class Trend:
    """Trends over the seasons.

    Attributes
    ----------
    table : DataFrame
        One row per series (bed, analyte, method, laboratory and layer), then one per analyte for the
        garden (bed "(garden)"). ``n`` counts tests: days of sampling, for the garden seasons;
        ``n_used`` those that have a fellow in their season; ``first`` and ``last`` are their days, of a
        test whose day is lost that of :func:`soiltrend.frames.in_time`; ``years`` from the first of these
        to the last. ``slope_per_year, low, high`` are in
        ``unit`` a year at the middle of those tests, where the line stands at ``level``: of a bed on
        the day ``middle``. An interval that does not exist is infinite. On the scale of logarithms
        ``percent_per_year`` (with ``percent_low``, ``percent_high``) is the same trend as a rate.
        ``confidence`` is what the interval really has: rank intervals come in steps. ``p`` is two-sided
        and exact for ranks; ``q`` is p after Benjamini & Hochberg over all beds and analytes (over all
        analytes for the garden).
        ``next_low`` and ``next_high`` bound the test of a year later in the same season, with the
        confidence asked for. ``margin`` is the change that matters over the whole record, in ``unit``.
        ``rank_slope``, ``rank_p`` and ``line_slope`` stand beside the headline for comparison;
        ``shrunk_slope`` is the bed's slope drawn toward the garden's (six beds and more). Garden
        rows add ``beds``, ``p_dates`` (permutation of whole seasons), ``p_beds_like_mine`` and
        ``spread`` (standard deviation of the beds' true slopes, in ``unit`` a year). ``bridge_error`` is
        the standard error of the slope [``unit`` a year] that comes from the bridges which join a record;
        it is inside ``low``, ``high``, ``p``, ``next_low`` and ``next_high``.
    confidence : float
        Asked for.
    model : str
        Asked for.
    """

    table: pd.DataFrame
    confidence: float
    model: str

    def __repr__(self) -> str:
        return present.plain(_title(self), self.table[FIRST[:-1]])

    def _repr_html_(self) -> str:
        return present.page(_title(self), self.table[FIRST])


def _title(result: Trend) -> str:
    table = result.table[result.table["bed"] != frames.GARDEN]
    counts = table["verdict"].value_counts()
    told = ", ".join(f"{counts[name]} {name}" for name in words.VERDICTS if name in counts)
    beds, analytes = (present.counted(table[of].nunique(), of) for of in ("bed", "analyte"))
    return f"Trends: {beds}, {analytes} ({told}), {result.confidence:.0%} intervals"


def trend(
    results: pd.DataFrame, *, confidence: float = 0.95, model: str = lines.AUTO, noise: Noise | None = None
) -> Trend:
    """Return where each series and the garden are going.

    Parameters
    ----------
    results : DataFrame
        A tidy frame.
    confidence : float
        Of the intervals, between 0.5 and 1.
    model : str
        "by length" takes the line that the number of tests allows: least squares up to seven tests,
        the median of pairwise slopes (Theil 1950, Sen 1968) with its exact interval and the exact
        Mann-Kendall chance from eight on. "least squares", "robust" (Huber's weights) and "ranks" take
        one for all. All have a level for each season.
    noise : Noise, optional
        A noise model: its sampling record tells which bags were split from one bucket, and its
        margins which change matters. By default the margins of the table.

    Returns
    -------
    Trend
        Verdicts are "rising" and "falling" (the chance is at most 1 - confidence and the interval lies
        on one side of nothing, at most touching it where rounded results tie), "steady" (over the
        whole record less than what matters, by two one-sided tests), "unclear" and "too few"
        (fewer than three tests that can stand together).

    Raises
    ------
    SoiltrendError
        When the confidence or the model is none.
    FrameError
        When the frame is not tidy.

    Examples
    --------
    >>> days = pd.date_range("2017-04-03", periods=8, freq="365D")
    >>> rows = pd.DataFrame({"bed": "East", "analyte": "K", "unit": "mg/kg", "sampled": days,
    ...                      "value": [100, 108, 111, 125, 128, 140, 155, 158]})
    >>> found = trend(frames.results(rows)).table
    >>> found["verdict"][0], found["slope_per_year"].round(1)[0]
    ('rising', np.float64(8.9))
    """
    if not 0.5 < confidence < 1:
        raise SoiltrendError(
            f"confidence = {confidence!r} does not lie between 0.5 and 1", remedy="Give 0.95 or 0.9"
        )
    if model not in lines.MODELS:
        raise SoiltrendError(
            f"model '{model}' is not known", remedy="Known models: " + ", ".join(lines.MODELS)
        )
    laid = series.lay_out(results, sampling=None if noise is None else noise.composites)
    if not len(laid.series):
        return Trend(pd.DataFrame(columns=FIRST + EXTRA), confidence, model)
    beds = _beds(laid, model, confidence)
    whole, beds["shrunk"] = garden.rows(laid, beds, confidence=confidence)
    table = pd.concat([_numbers(part, noise) for part in (beds, whole)], ignore_index=True)
    table["verdict"] = _verdicts(table, confidence)
    table["why"] = words.why(table, confidence)
    return Trend(table[FIRST + EXTRA], confidence, model)


def _beds(laid: series.Laid, model: str, confidence: float) -> pd.DataFrame:
    """Return the series with their lines on the analysis scale."""
    count = len(laid.series)
    fits = fit(laid.points, count=count, confidence=confidence)
    if model == lines.ROBUST:
        fits = robustly(laid.points, fits)
    short = (fits.n < lines.FULL) if model == lines.AUTO else np.full(count, model != lines.RANKS)
    line = lines.choose(
        fits, model=model, floor=series.rounded(laid, short & (fits.censored == 0)), confidence=confidence
    )
    bridged = joined.error(laid.points, [step[laid.place] for step in laid.moved.values()], count=count)
    line = joined.widened(line, fits, bridged, confidence=confidence)
    median, days = line.kind == lines.MEDIAN, np.rint(fits.middle * frames.YEAR)
    return laid.series.assign(
        **{name: getattr(line, name) for name in line.__dataclass_fields__},
        n_used=fits.n.astype(int),
        bridged=bridged,
        **next_test(laid, fits, confidence=confidence),
        span=fits.end - fits.start,
        middle=laid.origin + pd.to_timedelta(np.nan_to_num(days), unit="D").where(np.isfinite(days)),
        confidence=np.where(median & np.isfinite(fits.rank_level), fits.rank_level, confidence),
        rank_slope=fits.middle_slope,
        rank_p=fits.chance,
        line_slope=fits.slope,
        seasons=np.nan_to_num(fits.seasons),
        model=_models(line.kind, fits, model),
        reason=_few(line.kind, laid.series, fits),
    )


def _models(kind: np.ndarray, fits: Fits, model: str) -> np.ndarray:
    """Return the name of each line."""
    line = "robust least squares" if model == lines.ROBUST else "least squares"
    names = np.array(["none", line, "median of pairwise slopes"], dtype=object)[kind]
    names = np.where((kind == lines.LINE) & (fits.n < lines.SUGGESTIVE), names + " (rough)", names)
    several = (np.nan_to_num(fits.seasons) > 1) & (kind != lines.NOTHING)
    return np.asarray(np.where(several, names + ", by season", names))


def _few(kind: np.ndarray, rows: pd.DataFrame, fits: Fits) -> np.ndarray:
    """Return why a series has no line, or empty."""
    n = rows["n"].to_numpy()
    told = np.array(
        [words.COUNTED.get(k, f"{k} tests") for k in range(int(n.max(initial=0)) + 1)], dtype=object
    )
    apart = np.where((n >= 3) & (fits.n < n), ", of which fewer than three are of one season", "")
    text = told[n] + apart if len(n) else told[n]
    return np.where(kind == lines.NOTHING, text, "")


def _numbers(rows: pd.DataFrame, noise: Noise | None) -> pd.DataFrame:
    """Return the rows with the numbers of the table, in the analyte's unit."""
    rows = rows.reindex(columns=list(dict.fromkeys([*rows.columns, *_INNER])))
    on = rows["scale"].to_numpy()
    level = scales.back(rows["centre"].to_numpy(dtype=float), on)
    steep = scales.steepness(level, on)
    matters = _margins(rows[["analyte", "method", "scale"]], noise)
    points, part = matters["margin"].fillna(0.0).to_numpy(), matters["margin_relative"].fillna(0.0).to_numpy()
    inner = np.where(on == scales.PLAIN, np.maximum(points, part * np.abs(level)), np.log1p(points))
    logs = on == scales.LOG
    percent = {
        name: np.where(logs, 100 * np.expm1(rows[source].to_numpy(dtype=float)), np.nan)
        for name, source in (("percent_per_year", "slope"), ("percent_low", "low"), ("percent_high", "high"))
    }
    with np.errstate(invalid="ignore"):
        unit = {
            name: np.where(
                rows[source] == 0, 0.0, rows[source].to_numpy(dtype=float) * np.nan_to_num(steep, nan=1.0)
            )
            for name, source in (
                ("slope_per_year", "slope"),
                ("low", "low"),
                ("high", "high"),
                ("spread", "spread"),
                ("shrunk_slope", "shrunk"),
                ("rank_slope", "rank_slope"),
                ("line_slope", "line_slope"),
                ("bridge_error", "bridged"),
            )
        }
    p = rows["p"].to_numpy(dtype=float)
    return rows.assign(
        inner_low=rows["low"],
        inner_high=rows["high"],
        matters=inner,
        patience=matters["years"].to_numpy(),
        years=rows["span"],
        level=level,
        next_low=scales.back(rows["next_low"].to_numpy(dtype=float), on),
        next_high=scales.back(rows["next_high"].to_numpy(dtype=float), on),
        margin=inner * steep,
        q=discovery_rate(p),
        family=int((~np.isnan(p)).sum()),
        **percent,
        **unit,
    )


def _margins(rows: pd.DataFrame, noise: Noise | None) -> pd.DataFrame:
    """Return the change that matters for each row, and the years before a headline."""
    kinds = rows.drop_duplicates(["analyte", "method"])
    if noise is not None:
        found = noise.of(kinds)[MARGINS].set_axis(kinds.index)
    else:
        table = tables.load("margins", numbers=tuple(MARGINS)).set_index("analyte")[MARGINS]
        listed = kinds["analyte"].where(kinds["analyte"].isin(table.index), kinds["scale"].map(_GENERAL))
        found = table.loc[listed].set_axis(kinds.index)
    place = composites.codes(rows, ["analyte", "method"])
    return found.iloc[place].set_axis(rows.index)


def _verdicts(rows: pd.DataFrame, confidence: float) -> np.ndarray:
    """Return what may be said of each row."""
    span, matters, p = (rows[name].to_numpy(dtype=float) for name in ("span", "matters", "p"))
    low, high = rows["inner_low"].to_numpy(dtype=float), rows["inner_high"].to_numpy(dtype=float)
    with np.errstate(invalid="ignore"):
        small = (rows["tight_low"] * span > -matters) & (rows["tight_high"] * span < matters)
        sure = (p <= 1 - confidence + 1e-12) & (low < high) | (p == 0)
        up, down = sure & (low >= 0), sure & (high <= 0)
    few = (rows["kind"] == lines.NOTHING).to_numpy()
    return np.select([few, small, up, down], [TOO_FEW, STEADY, RISING, FALLING], UNCLEAR)
