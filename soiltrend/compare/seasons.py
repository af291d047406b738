"""What changed between two seasons, per bed and for the garden, and what may be said of it.

A change is compared with the noise of the results it comes from, on the scale on which noise is
even. Its variance is ::

    sum of (variance of one composite) / n^2      at both ends
    + occasion^2 * sum of (share of each day)^2   at both ends
    + season^2                                    when spring stands against autumn
                                                  (what is unknown of the swing)
    + (error of a bridge)^2                       once for each, however much it moved;
                                                  nothing when it moved both ends alike

For the garden the composites of all beds share the weight, but the occasion does not shrink
with more beds: a day is one day however many beds are sampled on it. A result below its limit
may be anything from nothing to the limit; a verdict is given only when it holds for all of that. Where
such a bed did not move with the others, the garden's verdict must also hold against what the beds differ by.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import composites, frames, present, reasons, scales, verdicts
from soiltrend.chances import fdtrc
from soiltrend.comparable import Match, match_ends, years
from soiltrend.compare.extremes import extremes
from soiltrend.compare.parts import GARDEN_KEY, composites_of, summed
from soiltrend.errors import SoiltrendError
from soiltrend.noise import Noise, noise_model
from soiltrend.swing import PLACE

FIRST = ["bed", "analyte", "method", "unit", "n_before", "n_after", "before", "after", "change", "low",
         "high", "noise", "verdict", "why"]
EXTRA = ["percent", "in_noise", "in_noise_low", "in_noise_high", "margin", "p", "q", "beds", "same_season",
         "swing_taken_off", "lab", "top_cm", "bottom_cm", "before_censored", "after_censored", "scale",
         "se", "df", "shared"]

APART = 0.01
"""How unlikely the scatter of the beds' changes must be under noise before it is remarked on."""

SWUNG = ["analyte", "method", *PLACE]
"""What a garden's own swing belongs to: that of the topsoil, or of one laboratory, is none of another's."""

KNOWN = 1e9
"""Degrees of freedom that stand for a noise taken as known."""


@dataclass(frozen=True, eq=False)
class Comparison:
    """The changes between two seasons.

    Attributes
    ----------
    table : DataFrame
        One row per bed and analyte, then one per analyte for the garden (bed "(garden)").
        ``before, after, change, low, high, noise, margin`` are in ``unit``: ``noise`` is the
        half-width of the band by which such results differ by themselves, ``low`` and ``high``
        bound the change, ``margin`` is the change that matters. For concentrations the interval
        is one of ratios, applied to ``before``; several composites are averaged as logarithms.
        ``in_noise`` (with ``in_noise_low``, ``in_noise_high``) is the change on its analysis scale in
        half-widths of the band: beyond 1 it is more than noise. ``percent`` is given for
        concentrations and ratios. ``q`` is the p-value adjusted after Benjamini & Hochberg over
        all beds and analytes (over all analytes for the garden); the verdict and the interval are
        not adjusted, and ``why`` says so when a verdict would not stand the adjustment.
        Between unlike seasons ``swing_taken_off`` is the garden's own usual swing, which ``change`` and its
        interval are then net of: ``change`` is ``after - before`` less that swing (0 otherwise).
        ``se`` is the standard error of the change on its analysis scale, on ``df`` degrees of freedom,
        and ``shared`` the part of its variance that all beds share (day, season and bridge).
        ``before_censored``, ``after_censored`` are "<" or ">" where the value is a limit.
    before, after : str
        The two ends as asked for.
    confidence : float
        Of the intervals.
    noise : Noise
        The noise model used.
    lacks : str
        Of a comparison without rows that :func:`soiltrend.compare_latest` chose: "like" where only tests of
        unlike seasons can be compared, "unlike" where only tests of like ones can, else empty.
    """

    table: pd.DataFrame
    before: str
    after: str
    confidence: float
    noise: Noise
    lacks: str = ""

    def __repr__(self) -> str:
        return present.plain(_title(self), self.table[FIRST[:-1]])

    def _repr_html_(self) -> str:
        return present.page(_title(self), self.table[FIRST])


def _title(result: Comparison) -> str:
    table = result.table[result.table["bed"] != frames.GARDEN]
    counts = table["verdict"].value_counts()
    told = ", ".join(f"{counts[name]} {name}" for name in reasons.VERDICTS if name in counts)
    beds, analytes = (present.counted(table[of].nunique(), of) for of in ("bed", "analyte"))
    ends = f"{result.before} to {result.after}"
    return f"{ends}: {beds}, {analytes} ({told}), {result.confidence:.0%} intervals"


def compare(results: pd.DataFrame, *, before: str, after: str, noise: Noise | None = None,
            confidence: float = 0.95) -> Comparison:
    """Compare two seasons, per bed and analyte and for the garden.

    Parameters
    ----------
    results : DataFrame
        A tidy frame.
    before, after : str
        Seasons ("spring 2023"), years ("2022") or days ("2023-04-12").
    noise : Noise, optional
        How far results move by themselves; by default :func:`soiltrend.noise.noise_model` of
        these results.
    confidence : float
        Of the intervals, between 0.5 and 1.

    Returns
    -------
    Comparison
        Every bed and analyte of either season has a row; verdicts are "rose", "fell", "held"
        (inside the margin that matters), "unclear" and "not comparable".

    Raises
    ------
    SoiltrendError
        When an end names nothing in the frame, the ends are the same, or the confidence is none.

    Examples
    --------
    >>> rows = [{"bed": "East", "season": s, "sampled": d, "analyte": "K", "unit": "mg/kg", "value": v}
    ...         for s, d, v in (("spring 2022", "2022-04-09", 80), ("spring 2024", "2024-04-11", 150))]
    >>> found = compare(frames.results(rows), before="spring 2022", after="spring 2024")
    >>> float(found.table.loc[0, "change"]), found.table.loc[0, "verdict"]
    (70.0, 'rose')
    """
    if not 0.5 < confidence < 1:
        raise SoiltrendError(f"confidence = {confidence!r} does not lie between 0.5 and 1",
                             remedy="Give 0.95 or 0.9")
    before, after = str(before), str(after)
    model = noise if noise is not None else noise_model(results)
    match = match_ends(results, model.composites, before=before, after=after)
    ends = reasons.Ends(before, after, confidence, _years(match))
    table = _judged(match, model, confidence)
    del match  # as large as the results
    table["why"] = reasons.why(table, ends)
    return Comparison(table[FIRST + EXTRA], before, after, confidence, model)


def _judged(match: Match, model: Noise, confidence: float) -> pd.DataFrame:
    """Return the rows of beds and garden with their numbers and verdicts."""
    parts = composites_of(match.rows, model)
    beds = _numbers(_swung(_beds(match, parts, model), match.rows, model), confidence)
    garden = _numbers(_spread(_garden(match, parts, beds), beds), confidence)
    beds[["back", "extreme"]] = extremes(beds)
    return pd.concat([beds.assign(apart=False), garden.assign(extreme="")], ignore_index=True)


def _years(match: Match) -> float:
    """Return the years between the middles of the two ends."""
    middle = years(match.found).groupby(match.found["end"]).median()
    return float(middle[1] - middle[0])


def _known(rows: pd.DataFrame, model: Noise) -> pd.DataFrame:
    """Return scale, df and margins of each row's analyte and method."""
    return model.of(rows)[["scale", "df", "margin", "margin_relative", "years"]]


def _beds(match: Match, parts: pd.DataFrame, model: Noise) -> pd.DataFrame:
    """Return the pairs with their bounds and variances; pairs that cannot be compared keep only values."""
    pairs = match.pairs
    sums = summed(parts.rename(columns={"pair": "key"})).reindex(pairs.index)
    out = pd.concat([pairs, _known(pairs, model).rename(columns={"margin": "matters"}), sums], axis=1)
    out["beds"] = out["asked"] = 1
    broken = out.index[~out["comparable"]]
    for end, series, name in ((0, "first", "b"), (1, "second", "a")):
        bounds = [f"{name}_low", f"{name}_high", f"{name}_raw"]
        out.loc[broken, bounds] = _values(match.found, end, out.loc[broken, series])
    return out


def _swung(beds: pd.DataFrame, rows: pd.DataFrame, model: Noise) -> pd.DataFrame:
    """Return the pairs with the usual swing of unlike seasons: taken off where the series' own is known.

    ``swing`` becomes what is left unknown of it, 0 for like seasons, and is added to the variance.
    """
    beds["shift"], beds["swing_why"] = 0.0, ""
    beds["swing"] = beds["swing"].where(~beds["same_season"], 0.0)
    unlike = rows[~beds["same_season"].to_numpy()[rows["pair"]]]
    if len(unlike) and len(model.swings):
        names = {season: frames.season_name(season) for season in unlike["season"].unique()}
        named = unlike["season"].map(names).groupby([unlike["pair"], unlike["end"]])
        season = named.min().where(named.min() == named.max(), "")
        known = beds.loc[unlike["pair"].unique(), SWUNG]
        known["first"], known["second"] = (season.xs(end, level="end").reindex(known.index) for end in (0, 1))
        _take_off(beds, known, model.swings)
    square = beds["swing"] ** 2
    return beds.assign(variance=beds["variance"] + square, shared=beds["shared"] + square)


def _take_off(beds: pd.DataFrame, known: pd.DataFrame, swings: pd.DataFrame) -> None:
    """Write the garden's own swing into the pairs whose two seasons it knows, either way round."""
    back = swings.rename(columns={"first": "second", "second": "first", "n_first": "n_second",
                                  "n_second": "n_first"})
    both = pd.concat([swings, back.assign(swing=-back["swing"])], ignore_index=True)
    found = known.reset_index().merge(both, on=[*SWUNG, "first", "second"]).set_index("index")
    beds.loc[found.index, "shift"] = found["swing"]
    beds.loc[found.index, "swing"] = found["sd"]
    told = [f"by {n} {first}s and {m} {second}s" for n, first, m, second in zip(
        found["n_first"], found["first"], found["n_second"], found["second"], strict=True)]
    beds.loc[found.index, "swing_why"] = told


def _values(found: pd.DataFrame, end: int, series: pd.Series) -> np.ndarray:
    """Return the bounds of series at one end on their analysis scale, for show only."""
    rows = found[(found["end"] == end) & found["series"].isin(series)]
    y = scales.forward(rows["value"].to_numpy(), scales.scales(rows["analyte"]).to_numpy())
    sign = rows["qualifier"].to_numpy()
    bounds = pd.DataFrame({"low": np.where(sign == "<", -np.inf, y),
                           "high": np.where(sign == ">", np.inf, y), "raw": rows["value"].to_numpy()})
    return bounds.groupby(rows["series"].to_numpy()).mean().reindex(series).to_numpy(dtype=float)


def _garden(match: Match, parts: pd.DataFrame, beds: pd.DataFrame) -> pd.DataFrame:
    """Return one row per analyte and series of the garden, beds weighing alike."""
    good = beds[beds["comparable"]]
    key = pd.Series(composites.codes(good, GARDEN_KEY), index=good.index)
    count = key.map(key.value_counts())
    pooled = parts.assign(key=key.reindex(parts["pair"]).to_numpy(),
                          weight=parts["weight"] / count.reindex(parts["pair"]).to_numpy())
    group = good.groupby(key)
    out = group[[*GARDEN_KEY, "scale", "df", "matters", "margin_relative", "years"]].first()
    out = pd.concat([out, summed(pooled), group[["n_before", "n_after"]].sum()], axis=1)
    out["beds"], out["same_season"] = group.size(), group["same_season"].all()
    out[["swing", "shift"]] = group[["swing", "shift"]].mean()
    out["swing_why"] = group["swing_why"].max()
    out["variance"] += out["swing"] ** 2
    out["shared"] += out["swing"] ** 2
    out["warning"] = ""
    out["reason"] = np.where(out["beds"] < 2, "only one bed can be compared: see its own row", "")
    lost = beds[~beds["analyte"].isin(good["analyte"])].drop_duplicates("analyte")
    lost = lost[[*GARDEN_KEY, "scale", "years"]].assign(
        beds=0, n_before=0, n_after=0, same_season=False, warning="", reason="no bed can be compared",
        shift=0.0, swing_why="")
    out = pd.concat([out, lost], ignore_index=True).assign(bed=frames.GARDEN)
    out["asked"] = out["analyte"].map(match.pairs.groupby("analyte")["bed"].nunique())
    return out.assign(comparable=out["reason"] == "")


def _spread(garden: pd.DataFrame, beds: pd.DataFrame) -> pd.DataFrame:
    """Return the garden's rows with whether their beds moved apart.

    Where they did and one lies beyond a limit, what the beds differ by takes the place of their noise: a
    bed that moved nobody knows how far may not speak for beds that did not move with it.
    """
    scatter = _apart(beds, garden)
    limited = (garden["b_low"] < garden["b_high"]) | (garden["a_low"] < garden["a_high"])
    wide = limited.to_numpy() & ~np.isnan(scatter)
    return garden.assign(apart=~np.isnan(scatter), df=garden["df"].mask(wide, garden["beds"] - 1.0),
                         variance=garden["variance"].mask(wide, garden["shared"] + scatter))


def _apart(beds: pd.DataFrame, garden: pd.DataFrame) -> np.ndarray:
    """Return the variance of a garden's mean by what its beds differ by; NaN where noise explains it (F).

    A bed beyond a limit counts by the least movement that the limit allows.
    """
    known = beds[beds["least"].notna()]
    key = composites.codes(known, GARDEN_KEY)
    own = known["se"] ** 2 - (known["shared"] - known["bridged"])
    apart = (known["least"] - known["least"].groupby(key).transform("mean")) ** 2
    group = known.assign(apart=apart, square=apart / own, one=1).groupby(key)
    count, df = group["one"].sum(), group["df"].first().replace(np.inf, KNOWN)
    free = (count - 1).where(count > 1)
    scatter = group["apart"].sum() / free / count
    unlike = (fdtrc(count - 1, df, group["square"].sum() / free) < APART).to_numpy()
    names = [pd.MultiIndex.from_frame(rows[GARDEN_KEY].fillna(-1.0))
             for rows in (garden, group[GARDEN_KEY].first()[unlike])]
    return pd.Series(scatter[unlike].to_numpy(), names[1]).reindex(names[0]).to_numpy(dtype=float)


def _numbers(rows: pd.DataFrame, confidence: float) -> pd.DataFrame:
    """Return the rows with the numbers of the table, in the analyte's unit."""
    on = rows["scale"].to_numpy()
    before, before_sign = _end(rows, "b", on)
    after, after_sign = _end(rows, "a", on)
    share, points = rows["margin_relative"].fillna(0.0), rows["matters"].fillna(0.0)
    level = (np.abs(before) + np.abs(after)) / 2
    margin = np.where(on == scales.PLAIN, np.maximum(points, share * level), np.log1p(points))
    step = rows.assign(d_low=rows["a_low"] - rows["b_high"] - rows["shift"],
                       d_high=rows["a_high"] - rows["b_low"] - rows["shift"],
                       se=np.sqrt(rows["variance"]), margin=margin)
    told = verdicts.judge(step, confidence=confidence)
    good = rows["comparable"].to_numpy()
    told.loc[~good, ["half", "low", "high", "p"]] = np.nan
    exact = (before_sign == "") & (after_sign == "")
    middle = np.where(good & exact, step["d_low"], np.nan)
    start = scales.forward(before, on)

    def moved(by: np.ndarray) -> np.ndarray:
        """Return a step of the analysis scale in the unit of the value."""
        return np.asarray(scales.back(start + by, on) - before)

    return rows.assign(
        before=before, after=after, se=step["se"], before_censored=before_sign, after_censored=after_sign,
        change=np.where(rows["shift"].to_numpy() == 0, np.where(np.isnan(middle), np.nan, after - before),
                        moved(middle)),
        swing_taken_off=moved(rows["shift"].to_numpy()), low=moved(told["low"].to_numpy()),
        high=moved(told["high"].to_numpy()), noise=moved(told["half"].to_numpy()), margin=moved(margin),
        percent=np.where(on == scales.LOG, 100 * np.expm1(middle), np.nan), p=told["p"],
        matters_here=margin, bridge_sd=np.sqrt(rows["bridged"]),
        q=verdicts.discovery_rate(told["p"].to_numpy()), half=told["half"], step=middle,
        least=np.where(good, np.clip(0.0, step["d_low"], step["d_high"]), np.nan),
        in_noise=middle / told["half"], in_noise_low=told["low"] / told["half"],
        in_noise_high=told["high"] / told["half"],
        verdict=np.where(good, told["verdict"], verdicts.NOT_COMPARABLE))


def _end(rows: pd.DataFrame, name: str, on: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return one end's values in their unit and "<" or ">" where the value is a limit.

    A single value is handed on to the last digit, without the rounding of a logarithm and back.
    """
    low, high = rows[f"{name}_low"].to_numpy(dtype=float), rows[f"{name}_high"].to_numpy(dtype=float)
    sign = np.where(np.isposinf(high), ">", np.where(low < high, "<", ""))
    value, raw = scales.back(np.where(sign == ">", low, high), on), rows[f"{name}_raw"].to_numpy(dtype=float)
    return np.where(np.isclose(value, raw, rtol=1e-9, atol=0), raw, value), sign
