"""The composites behind a change, each with its bounds, its variance and its weight."""

from __future__ import annotations

import numpy as np
import pandas as pd

from soiltrend import composites, frames, scales
from soiltrend.noise import Noise, stretch

GARDEN_KEY = list(frames.POOLED)
"""What beds must share to be pooled."""

_FINE = 12
"""Decimals kept of a sum of errors: what lies beyond is the machine's."""

_BOUNDS = ["low", "high", "raw", "within", "field", "day", "swing", "bridged"]


def composites_of(rows: pd.DataFrame, model: Noise) -> pd.DataFrame:
    """Return one row per pair, end, season and composite: its bounds on the analysis scale and its variance.

    Splits of one bucket are averaged: that halves the variance of laboratory and preparation and
    leaves the variance between cores.

    Examples
    --------
    >>> from soiltrend.comparable import match_ends
    >>> from soiltrend.noise import noise_model
    >>> rows = frames.results([{"bed": "East", "analyte": "pH", "value": v, "unit": "pH", "season": s}
    ...                        for s, v in (("spring 2022", 6.0), ("spring 2024", 6.4),
    ...                                     ("spring 2024", 6.6))])
    >>> model = noise_model()
    >>> parts = composites_of(match_ends(rows, model.composites, before="2022", after="2024").rows, model)
    >>> parts[["end", "low", "weight"]].to_numpy().tolist()
    [[0.0, 6.0, 1.0], [1.0, 6.4, 0.5], [1.0, 6.6, 0.5]]
    """
    part, names = _measured(rows, model)
    group = part.groupby(["pair", "end", "cell", "composite"], sort=False)
    out = group[_BOUNDS].mean()
    out["variance"] = out["within"] / group.size() + out["field"]
    out["occasion"] = group["occasion"].first()
    out["bridge"] = names[group["bridge"].max()]
    out = out.reset_index()
    cells = out.groupby(["pair", "end"])["cell"].transform("nunique")
    return out.assign(weight=1 / cells / out.groupby(["pair", "end", "cell"])["low"].transform("size"))


def _measured(rows: pd.DataFrame, model: Noise) -> tuple[pd.DataFrame, np.ndarray]:
    """Return the bounds and variances of each result, its ``bridge`` by number, and the bridges' names."""
    known = model.of(rows)
    on, value, sign = known["scale"].to_numpy(), rows["value"].to_numpy(), rows["qualifier"].to_numpy()
    y = scales.forward(value, on)
    floor = np.where(on == scales.PLAIN, np.minimum(value, 0.0), -np.inf)
    grown = stretch(known, value)
    cores = rows["cores"].fillna(known["cores"])
    named, sd = composites.bridged(rows)
    bridge, names = pd.factorize(named, sort=True)
    each = rows[["pair", "end", "cell", "composite", "occasion"]].assign(
        low=np.where(sign == "<", floor, y), high=np.where(sign == ">", np.inf, y), raw=value,
        within=(known["laboratory"] ** 2 + known["preparation"] ** 2) * grown**2,
        field=known["between_cores"] ** 2 / cores * grown**2,
        day=known["occasion"] * grown, swing=known["season"] * grown,
        bridged=sd, bridge=bridge)
    return each, np.asarray(names, dtype=object)


def summed(parts: pd.DataFrame) -> pd.DataFrame:
    """Return per ``key`` the weighted bounds of both ends, the variance of their difference and the swing.

    Examples
    --------
    >>> parts = pd.DataFrame({"key": 0, "end": [0, 1, 1], "low": [6.0, 6.4, 6.6], "high": [6.0, 6.4, 6.6],
    ...                       "raw": 0.0, "swing": 0.2, "variance": 0.01, "day": 0.1,
    ...                       "weight": [1.0, 0.5, 0.5], "occasion": [0, 1, 1],
    ...                       "bridge": "", "bridged": 0.0})
    >>> summed(parts)[["b_low", "a_low", "variance", "shared"]].round(3).to_numpy().tolist()
    [[6.0, 6.5, 0.035, 0.02]]
    """
    weight = parts["weight"]
    each = parts[["low", "high", "raw", "swing"]].mul(weight, axis=0).assign(
        key=parts["key"], end=parts["end"], variance=weight**2 * parts["variance"])
    ends = each.groupby(["key", "end"]).sum()
    ends["shared"] = 0.0
    days = (weight * parts["day"]).groupby([parts["key"], parts["end"], parts["occasion"]]).sum() ** 2
    ends["shared"] += days.groupby(level=[0, 1]).sum()
    at = ends.index.get_level_values("end")
    both = bridging(parts.assign(weight=weight.where(parts["end"] == 1, -weight)))
    both = both.reindex(ends.index.unique("key"))
    first, second = (ends[at == end].droplevel("end") for end in (0, 1))
    return pd.DataFrame({"b_low": first["low"], "b_high": first["high"], "b_raw": first["raw"],
                         "b_variance": first["variance"],
                         "a_low": second["low"], "a_high": second["high"], "a_raw": second["raw"],
                         "variance": (first["variance"] + second["variance"] + first["shared"]
                                      + second["shared"] + both["bridged"]),
                         "shared": first["shared"] + second["shared"] + both["bridged"],
                         "bridged": both["bridged"], "bridges": both["bridges"],
                         "swing": (first["swing"] + second["swing"]) / 2})


def bridging(parts: pd.DataFrame) -> pd.DataFrame:
    """Return per ``key`` the variance that bridges bring, and their names.

    All that one bridge moved shares its error: it counts once however many composites and beds it moved,
    and cancels where it moved what is added and what is taken off. ``weight`` bears that sign.

    Examples
    --------
    >>> parts = pd.DataFrame({"key": [0, 0, 1, 1], "weight": [0.5, 0.5, 1.0, -1.0], "bridged": 0.1,
    ...                       "bridge": "P from A to B"})
    >>> bridging(parts)["bridged"].round(3).tolist()
    [0.01, 0.0]
    """
    out = pd.DataFrame({"bridged": 0.0, "bridges": ""}, index=pd.Index(parts["key"].unique(), name="key"))
    moved = parts[parts["bridge"] != ""]
    if not len(moved):
        return out
    sums = (moved["weight"] * moved["bridged"]).groupby([moved["key"], moved["bridge"]]).sum()
    error = sums.round(_FINE) ** 2
    out["bridged"] = error.groupby(level=0).sum().reindex(out.index).fillna(0.0)
    names = moved.drop_duplicates(["key", "bridge"]).groupby("key")["bridge"].agg(" and ".join)
    out["bridges"] = names.reindex(out.index).fillna("")
    return out
