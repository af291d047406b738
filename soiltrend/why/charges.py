"""The charge that each cation brings to a summed exchange capacity, at both ends of a change.

The sum is linear, so the change of the sum is exactly the sum of the changes of its parts. The shares
that :func:`soiltrend.exchange` computes, times the capacity they are shares of, are the parts.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from soiltrend import frames, scales, units, verdicts
from soiltrend.comparable import Match, match_ends
from soiltrend.compare.parts import composites_of, summed
from soiltrend.errors import SoiltrendError
from soiltrend.exchange import extractant
from soiltrend.noise import Noise

BASES = ("Ca", "Mg", "K", "Na")
IONS = (*BASES, "acidity")
SIGN = " sign"
"""Put behind an ion: the column of its qualifier."""

OTHER_SIGN = {"<": ">", ">": "<", "": ""}
"""The lower a buffer pH, the more acidity."""

WITHOUT = "without acidity"
"""How the place of a computed sum says that it counts the bases alone."""

KEPT = "looked at although it "
"""Put before the warning of an inflated sum, which a comparison would not use at all."""

_FINE = 12
"""Decimals kept of a difference: what lies beyond is the machine's."""

PLACE = ["bed", "lab", "top_cm", "bottom_cm"]
"""Whose soil an answer of this room is of."""

Move = dict[str, Any]
"""One row of :func:`moves`."""


def capacities(results: pd.DataFrame) -> pd.DataFrame:
    """Return the computed capacities with the charge of each ion [cmol/kg] beside them.

    Returns
    -------
    DataFrame
        The rows of the tidy frame, with a column for each of :data:`IONS` (missing where it is not
        counted), its qualifier as it was measured ("Na sign" and so on), ``by`` (the extractant), ``counted``
        (whether acidity is in the sum) and ``warned``
        (whether lime or salts may push it up).
    """
    frame = results.assign(bag=frames.composites(results), by=extractant(results))
    ours = frame[frame["source"] == frames.COMPUTED]
    sums = ours[ours["analyte"] == "CEC"].drop_duplicates(["bag", "method"])
    named = ours.assign(ion=ours["analyte"].str.removesuffix(" saturation"))
    parts = named[named["analyte"].str.endswith(" saturation") & named["ion"].isin(IONS)]
    wide = parts.pivot_table(index=["bag", "method"], columns="ion", values="value", aggfunc="first")
    wide = wide.reindex(columns=list(IONS)).reindex(pd.MultiIndex.from_frame(sums[["bag", "method"]]))
    share = wide.div(wide.sum(axis=1), axis=0).set_axis(sums.index)
    out = pd.concat([sums, share.mul(sums["value"], axis=0)], axis=1)
    for ion in IONS:
        out[f"{ion}{SIGN}"] = _signs(frame, out, ion)
    inflated = out["note"].str.startswith(frames.INFLATED)
    return out.assign(warned=inflated, counted=~out["place"].str.contains(WITHOUT, regex=False),
                      note=(KEPT + out["note"]).where(inflated, out["note"])).reset_index(drop=True)


def _signs(frame: pd.DataFrame, sums: pd.DataFrame, ion: str) -> np.ndarray:
    """Return the qualifier of an ion of each sum as measured; of acidity by a buffer the other one."""
    rows = frame[frame["source"] != frames.COMPUTED]
    own = rows[rows["analyte"] == ion]
    keys = ["bag"] if ion == "acidity" else ["bag", "by"]
    if ion == "acidity":
        told = rows[(rows["analyte"] == "buffer pH") & ~rows["bag"].isin(own["bag"])]
        own = pd.concat([own, told.assign(qualifier=told["qualifier"].map(OTHER_SIGN))])
    own = own.assign(by=own["method"])
    found = own[own["qualifier"] != ""].drop_duplicates(keys)[[*keys, "qualifier"]]
    return sums[keys].merge(found, on=keys, how="left")["qualifier"].fillna("").to_numpy()


def matched(rows: pd.DataFrame, noise: Noise, *, before: str, after: str, what: str) -> Match:
    """Return the pairs of two ends, or an error that says which end has none of what is asked.

    Raises
    ------
    SoiltrendError
        When an end has no such value.
    """
    names = ", ".join(rows["season"].unique()) or "none"
    try:
        return match_ends(rows, noise.composites, before=before, after=after)
    except SoiltrendError as error:
        raise SoiltrendError(f"{what}: {error}", remedy=f"Seasons with it: {names}") from error


def moves(match: Match, noise: Noise, *, confidence: float) -> pd.DataFrame:
    """Return how far each pair moved, with its interval and verdict, in the unit of its analyte.

    The verdict and the interval are those of a comparison: reached on the scale on which noise is even.
    Means of several buckets are taken as they are, so that sums stay sums.

    Returns
    -------
    DataFrame
        By pair: before, after, change, low, high, verdict, step (on the analysis scale; missing where a limit
        of the laboratory hides it), se, df, scale, before_sign and after_sign ("<" or ">" beyond a limit).
    """
    rows, pairs = match.rows, match.pairs
    sums = summed(composites_of(rows, noise).rename(columns={"pair": "key"}))
    first = rows.drop_duplicates("pair").set_index("pair").loc[sums.index]
    known = noise.of(first)[["scale", "df", "margin", "margin_relative"]]
    unlike = np.where(pairs.loc[sums.index, "same_season"], 0.0, sums["swing"])
    on = known["scale"].to_numpy()
    before, after = sums["b_raw"].to_numpy(), sums["a_raw"].to_numpy()
    level = (np.abs(before) + np.abs(after)) / 2
    points, part = (known[name].fillna(0.0).to_numpy() for name in ("margin", "margin_relative"))
    step = pd.DataFrame({"d_low": sums["a_low"] - sums["b_high"], "d_high": sums["a_high"] - sums["b_low"],
                         "se": np.sqrt(sums["variance"] + unlike**2), "df": known["df"],
                         "margin": np.where(on == scales.PLAIN, np.maximum(points, part * level),
                                            np.log1p(points))})
    told = verdicts.judge(step, confidence=confidence)
    start = scales.forward(before, on)
    ends = {name: scales.back(start + told[name].to_numpy(), on) - before for name in ("low", "high")}
    change = np.round(after - before, _FINE) + 0.0
    middle = (step["d_low"] + step["d_high"]) / 2
    shown = middle.mask(step["d_high"] - step["d_low"] > 10.0**-_FINE)
    signs = {f"{name}_sign": _beyond(sums[f"{end}_low"], sums[f"{end}_high"])
             for name, end in (("before", "b"), ("after", "a"))}
    return pd.DataFrame({"before": before, "after": after, "change": change, **ends, **signs,
                         "verdict": told["verdict"], "step": shown,
                         "se": step["se"], "df": step["df"], "scale": on}, index=sums.index)


def _beyond(low: pd.Series, high: pd.Series) -> np.ndarray:
    """Return the qualifier of what lies between two bounds; none where they are one."""
    return np.select([low == high, np.isinf(high)], ["", ">"], "<")


def by_pair(moved: pd.DataFrame) -> dict[int, Move]:
    """Return the rows of :func:`moves` by their pair."""
    records = moved.to_dict("records")
    return {int(pair): {str(name): value for name, value in row.items()}
            for pair, row in zip(moved.index, records, strict=True)}


def ion_moves(match: Match, noise: Noise, ion: str, *, confidence: float) -> pd.DataFrame:
    """Return :func:`moves` of one ion of the sums [cmol/kg]; no row for a pair that does not count it.

    The noise is that of the ion by its own extractant. What lies beyond a laboratory's limit is no amount:
    the verdict is that of a comparison, and where the limit hides how far it moved there is no change.
    """
    rows = match.rows[match.rows[ion].notna()]
    if not len(rows):
        return pd.DataFrame()
    plain = ion == "acidity"
    charge = 1.0 if plain else units.factor("mg/kg", "cmol/kg", analyte=ion)
    own = rows.assign(analyte=ion, method="" if plain else rows["by"], value=rows[ion] / charge,
                      unit="cmol/kg" if plain else "mg/kg", qualifier=rows[f"{ion}{SIGN}"])
    both = own.groupby("pair")["end"].transform("nunique") == 2
    if not both.any():
        return pd.DataFrame()
    found = moves(Match(match.pairs, own[both], match.found), noise, confidence=confidence)
    told = ("before", "after", "change", "low", "high")
    found = found.assign(**{name: found[name] * charge for name in told})
    return found.assign(change=found["change"].mask(found["step"].isna()))


def draws(move: Move, rng: np.random.Generator, *, count: int) -> np.ndarray:
    """Return draws of a change around the one seen, in its own unit; missing where a limit hides it.

    Examples
    --------
    >>> seen = {"before": 10.0, "step": 0.1, "se": 0.0, "df": 20.0, "scale": "log"}
    >>> draws(seen, np.random.default_rng(1), count=2).round(3).tolist()
    [1.052, 1.052]
    """
    df = float(move["df"])
    error = rng.standard_normal(count) if not np.isfinite(df) else rng.standard_t(df, count)
    on = np.full(count, move["scale"])
    start = scales.forward(np.full(count, float(move["before"])), on)
    return np.asarray(scales.back(start + move["step"] + move["se"] * error, on) - move["before"])
