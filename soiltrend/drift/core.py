"""Drift: estimate, band, slope and signals of every ratio and saturation, and one flag for each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import composites, frames, present, scales, series, vocabulary
from soiltrend.drift import bands as edges
from soiltrend.drift import words
from soiltrend.drift.signals import enough, signals
from soiltrend.exchange import exchange, ratios
from soiltrend.noise import Noise, noise_model
from soiltrend.verdicts import discovery_rate

OUTSIDE, HEADING, SHIFTED, STEADY, TOO_FEW = FLAGS = words.FLAGS
FIRST = [
    "bed",
    "ratio",
    "now",
    "low_edge",
    "high_edge",
    "position",
    "slope_per_year",
    "years_to_edge",
    "q",
    "flag",
    "why",
]
EXTRA = [
    "firm",
    "now_low",
    "now_high",
    "years_low",
    "years_high",
    "percent_per_year",
    "n",
    "last",
    "p",
    "p_outside",
    "p_slope",
    "p_shift",
    "band",
    "method",
    "unit",
    "lab",
    "top_cm",
    "bottom_cm",
    "scale",
]

RATE = 0.1
"""False discovery rate of the flags of one call: they ask for a look, they decide nothing. By simulation
(tests/calibration_trend.py) a steady garden then raises far less than one flag in ten bed-years."""


@dataclass(frozen=True, eq=False)
class Drift:
    """Ratios and saturations against their bands and their own past.

    Attributes
    ----------
    table : DataFrame
        One row per bed and ratio (each method, laboratory and layer by itself). ``now`` is the
        estimated level, between ``now_low`` and ``now_high`` with 95 % confidence: the end of the line
        where there is a slope, otherwise a mean in which a test half a year older weighs 0.7 as
        much. ``position`` is 0 at the low edge and 1 at the high one, on the scale of logarithms (of
        the odds for a share). ``years_to_edge`` (from ``years_low`` to ``years_high``) is given when the edge
        lies nearer than the record is long. ``p_outside``, ``p_slope`` and
        ``p_shift`` are the chances of the three signals, ``p`` that of the strongest of them, ``q``
        after Benjamini & Hochberg over all rows. ``firm`` is true when the flag stood already without
        the last test of each season. ``band`` says whose band it is.
    rate : float
        False discovery rate of the flags.
    """

    table: pd.DataFrame
    rate: float

    def __repr__(self) -> str:
        return present.plain(_title(self), self.table[FIRST[:-1]])

    def _repr_html_(self) -> str:
        return present.page(_title(self), self.table[FIRST])


def _title(result: Drift) -> str:
    counts = result.table["flag"].value_counts()
    told = ", ".join(f"{counts[name]} {name}" for name in FLAGS if name in counts)
    beds, ratios = (present.counted(result.table[of].nunique(), of) for of in ("bed", "ratio"))
    return f"Drift: {beds}, {ratios} ({told})"


def drift(
    results: pd.DataFrame, *, bands: Mapping[str, edges.Band] | None = None, noise: Noise | None = None
) -> Drift:
    """Return which ratios and saturations are outside their band, heading out, or shifted.

    Parameters
    ----------
    results : DataFrame
        A tidy frame. Ratios are computed, and saturations of a bed and layer where the laboratory told
        none and none are computed yet.
    bands : mapping, optional
        The grower's bands by name: ``{"Ca:Mg (charge)": (3, 7)}``, with None for an open end, or
        "own" to watch a ratio against the bed's own first tests. By default ``tables/bands.csv``;
        where that has none, the bed's own first tests.
    noise : Noise, optional
        How far results move by themselves; by default of these results.

    Returns
    -------
    Drift
        Flags: "outside" (the level now is beyond an edge), "heading out" (inside, moving, and at an edge
        within as many years as the record is long), "shifted" (left the place of its own first tests, or
        moves by more than noise with no edge so near: ``why`` says which), "steady" and "too few". No flag
        says good or bad.

    Raises
    ------
    SoiltrendError
        When a band names no ratio of the frame, or is none.
    FrameError
        When the frame is not tidy.

    Examples
    --------
    >>> days = pd.date_range("2018-04-03", periods=8, freq="365D")
    >>> rows = pd.DataFrame({"bed": "East", "analyte": "K:Mg (charge)", "unit": "ratio", "sampled": days,
    ...                      "value": [0.30, 0.34, 0.36, 0.45, 0.50, 0.60, 0.68, 0.81]})
    >>> found = drift(frames.results(rows)).table
    >>> found["flag"][0], found["slope_per_year"].round(2)[0]
    ('heading out', np.float64(0.11))
    """
    frame = _derived(results)
    model = noise if noise is not None else noise_model(frame)
    laid = series.lay_out(frame, sampling=model.composites)
    every = laid.series.assign(at=np.arange(len(laid.series)))
    mine = every[_ratios(every["analyte"])].reset_index(drop=True)
    mine = pd.concat([mine, edges.of(mine["analyte"], bands)], axis=1)
    if not len(mine):
        return Drift(pd.DataFrame(columns=FIRST + EXTRA), RATE)
    found = _flagged(signals(laid, mine, model))
    before = _flagged(signals(laid, mine, model, earlier=True))
    found["firm"] = (before["flag"] == found["flag"]) & ~found["flag"].isin([STEADY, TOO_FEW])
    found = _numbers(found)
    found["why"] = words.why(found, laid)
    return Drift(found.rename(columns={"analyte": "ratio"})[FIRST + EXTRA], RATE)


def told_last(table: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of each bed and ratio of the topsoil's series tested last, of one day the longer.

    A series that ended, as with a laboratory left years ago, tells nothing of the present, and the subsoil
    nothing of the topsoil (:func:`soiltrend.composites.topsoil`).

    Parameters
    ----------
    table : DataFrame
        The table of a :class:`Drift`, or rows of it.

    Examples
    --------
    >>> rows = pd.DataFrame({"bed": "East", "ratio": "K:Mg (charge)", "lab": ["Old", "New"],
    ...                      "last": pd.to_datetime(["2021-10-10", "2026-10-10"]), "n": [9, 4],
    ...                      "top_cm": 0.0, "bottom_cm": 15.0})
    >>> told_last(rows)["lab"].tolist()
    ['New']
    """
    by = ["bed", "ratio"]
    latest = composites.topsoil(table, by=by).sort_values(["last", "n"], na_position="first")
    return latest.drop_duplicates(by, keep="last").sort_index()


def _ratios(names: pd.Series) -> pd.Series:
    """Return which analytes are ratios or shares of the exchange capacity."""
    ours = {
        name: scales.ratio_parts(name) is not None or vocabulary.facts(name).get("kind") in ("ratio", "share")
        for name in names.unique()
    }
    return names.map(ours).astype(bool)


def _derived(results: pd.DataFrame) -> pd.DataFrame:
    """Return the frame with its ratios, and with the saturations of beds for which a laboratory told none.

    A frame that holds computed ones was made with the garden's own formula: nothing is added by another.
    """
    shares = frames.check(results)["analyte"].str.endswith(" saturation")
    if (shares & (results["source"] == frames.COMPUTED)).any():
        return ratios(results)
    place = composites.codes(results, ["bed", "lab", "top_cm", "bottom_cm"])
    told = np.isin(place, place[shares])
    return ratios(frames.join(results[told], exchange(results[~told])))


def _flagged(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows with p, q and flag: the signals that stand among all rows, the gravest first."""
    each = rows[["p_outside", "p_slope", "p_shift"]].to_numpy(dtype=float)
    judged = enough(rows)
    each[~judged] = np.nan
    looks = np.isfinite(each).sum(axis=1)
    scaled = each * looks[:, None]
    p = np.where(looks > 0, np.minimum(np.where(np.isnan(scaled), np.inf, scaled).min(axis=1), 1.0), np.nan)
    q = discovery_rate(p)
    found, looked = int((q <= RATE).sum()), int(np.isfinite(p).sum())
    bound = RATE * found / looked if found else -1.0
    outside, moving, moved = (np.nan_to_num(scaled[:, i], nan=np.inf) <= bound for i in range(3))
    edge = np.where(rows["slope"] > 0, rows["inner_high"], rows["inner_low"])
    with np.errstate(divide="ignore", invalid="ignore"):
        years = np.where(rows["slope"] == 0, np.inf, (edge - rows["level"]) / rows["slope"])
    near = moving & ~rows["own"].to_numpy() & np.isfinite(edge) & (years <= rows["span"].to_numpy())
    flag = np.select([~judged, outside, near, moved | moving], [TOO_FEW, OUTSIDE, HEADING, SHIFTED], STEADY)
    return rows.assign(p=p, q=q, flag=flag, edge=edge, years=np.maximum(years, 0.0))


def _numbers(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows with the numbers of the table, in the ratio's unit."""
    rows = _within(rows)
    on = rows["scale"].to_numpy()
    now = scales.back(rows["level"].to_numpy(), on)
    width = rows["inner_high"] - rows["inner_low"]
    ends = {
        name: np.where(np.isfinite(rows[source]), scales.back(rows[source].to_numpy(), on), np.nan)
        for name, source in (("low_edge", "inner_low"), ("high_edge", "inner_high"))
    }
    few = rows["flag"] == TOO_FEW
    with np.errstate(invalid="ignore"):
        position = np.where(np.isfinite(width), (rows["level"] - rows["inner_low"]) / width, np.nan)
    heading = (rows["flag"] == HEADING).to_numpy()
    fast, slow = _years(rows)
    logs = on == scales.LOG
    return rows.assign(
        **ends,
        now=now,
        now_low=scales.back(rows["level_low"].to_numpy(), on),
        now_high=scales.back(rows["level_high"].to_numpy(), on),
        position=position,
        slope_per_year=np.where(few, np.nan, rows["slope"] * scales.steepness(now, on)),
        percent_per_year=np.where(logs, 100 * np.expm1(rows["slope"]), np.nan),
        years_to_edge=np.where(rows["flag"] == OUTSIDE, 0.0, np.where(heading, rows["years"], np.nan)),
        years_low=np.where(heading, fast, np.nan),
        years_high=np.where(heading, slow, np.nan),
    )


def _within(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows, the levels of shares and the edges of their own bands between nothing and the whole.

    The share of acidity, and that of all bases, stand in points on a scale that has no ends: near nothing and
    near the whole their intervals would reach beyond. Edges that someone stated stay as stated.
    """
    kinds = {name: vocabulary.facts(name).get("kind") for name in rows["analyte"].unique()}
    share = (rows["analyte"].map(kinds) == "share") & (rows["scale"] == scales.PLAIN)
    ends = dict.fromkeys(("level", "level_low", "level_high"), share)
    ends |= dict.fromkeys(("inner_low", "inner_high"), share & rows["own"])
    return rows.assign(
        **{name: rows[name].mask(here, rows[name].clip(0.0, scales.WHOLE)) for name, here in ends.items()}
    )


def _years(rows: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Return the years to the edge by the fastest and the slowest slope that the record allows."""
    gap = (rows["edge"] - rows["level"]).to_numpy()
    up = gap >= 0
    fast = np.where(up, rows["slope_high"], rows["slope_low"])
    slow = np.where(up, rows["slope_low"], rows["slope_high"])
    with np.errstate(divide="ignore", invalid="ignore"):
        least = np.maximum(gap / fast, 0.0)
        most = np.where(np.sign(slow) == np.sign(gap), gap / slow, np.inf)
    return least, most
