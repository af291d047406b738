"""How a residue rots: carbon and nitrogen through residue, soil life and humus, day by day.

The model is that of Nicolardot, Recous & Mary (2001), with the parameters of Justes, Mary &
Nicolardot (2009): the residue decays at first order; of its carbon the share ``yield`` becomes
soil life, which dies at first order in turn, the share ``humus`` of it becoming humus; the rest
is breathed out. Pace, humus share and the C:N of soil life follow from the C:N of the residue.
What nitrogen the three pools do not hold is mineral; while soil life builds up on a poor residue
that is less than nothing, and is taken from the soil. On the surface only the layer that touches
the soil rots. Warmth acts as a logistic factor, 1 at 15 C.

Valid for residues of C:N 8 to 100 in soil that has nitrogen to lend; where it has none, rotting
slows down instead.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from soiltrend import tables
from soiltrend.errors import SoiltrendError

PLACES = ("on top", "dug in")
NUMBERS = (
    "rate_a",
    "rate_b",
    "yield",
    "biomass_a",
    "biomass_b",
    "biomass_least",
    "humus_a",
    "humus_b",
    "decay",
    "cn_low",
    "cn_high",
    "reach",
)
Numbers = np.ndarray


@dataclass(frozen=True)
class Pools:
    """The parameters of a residue of one C:N.

    Attributes
    ----------
    rate : float or array
        Decay of the residue [1/d at 15 C].
    growth : float
        Share of its carbon that becomes soil life.
    biomass_cn : float or array
        C:N of that soil life.
    humus : float or array
        Share of dying soil life that becomes humus.
    decay : float
        Death of soil life [1/d at 15 C].
    reach : float
        How much carbon can rot at once [g/m2]: what touches the soil; no limit when dug in.
    """

    rate: float | Numbers
    growth: float
    biomass_cn: float | Numbers
    humus: float | Numbers
    decay: float
    reach: float


@dataclass(frozen=True, eq=False)
class Course:
    """Where carbon and nitrogen are at the end of each day [same unit as what went in].

    Attributes
    ----------
    residue, life, humus, breathed : array
        Carbon, days by draws; the first row is the day it went on.
    mineral : array
        Nitrogen let go since the beginning; below nothing while it is tied up.
    """

    residue: Numbers
    life: Numbers
    humus: Numbers
    breathed: Numbers
    mineral: Numbers


@lru_cache(maxsize=None)
def terms() -> dict[str, tuple[float, float, float]]:
    """Return low, likely and high of what all residues share (tables/decay_terms.csv).

    Examples
    --------
    >>> terms()["warmth reference"][1]
    15.0
    """
    table = tables.load("decay_terms", numbers=("low", "likely", "high"))
    rows = table[["term", "low", "likely", "high"]].itertuples(index=False, name=None)
    return {str(term): (float(low), float(likely), float(high)) for term, low, likely, high in rows}


@lru_cache(maxsize=None)
def _parameters() -> dict[tuple[str, str], dict[str, float]]:
    table = tables.load("pools", numbers=NUMBERS)
    return {
        (str(row["pools"]), str(row["place"])): {name: float(row[name]) for name in NUMBERS}
        for row in table.to_dict("records")
    }


def pools(kind: str, *, place: str, cn: float | Numbers) -> Pools:
    """Return the parameters of a kind of residue of a C:N.

    Parameters
    ----------
    kind : str
        "crop" (tables/pools.csv).
    place : str
        "on top" or "dug in".
    cn : float or array
        Its C:N; beyond the tested range the nearest tested one gives pace and shares.

    Raises
    ------
    SoiltrendError
        When there is no such kind or place.

    Examples
    --------
    >>> straw = pools("crop", place="dug in", cn=80.0)
    >>> round(float(straw.rate), 3), round(float(straw.biomass_cn), 1), round(float(straw.humus), 2)
    (0.107, 14.5, 0.35)
    """
    if (kind, place) not in _parameters():
        known = ", ".join(f"'{a}' {b}" for a, b in _parameters())
        raise SoiltrendError(f"'{kind}' {place} is no kind of residue known here", remedy=f"Known: {known}")
    p = _parameters()[kind, place]
    tested = np.clip(cn, p["cn_low"], p["cn_high"])
    return Pools(
        rate=p["rate_a"] + p["rate_b"] / tested,
        growth=p["yield"],
        biomass_cn=np.maximum(p["biomass_least"], p["biomass_a"] + p["biomass_b"] / tested),
        humus=np.clip(1 - p["humus_a"] * tested / (p["humus_b"] + tested), 0.0, 1.0),
        decay=p["decay"],
        reach=np.inf if np.isnan(p["reach"]) else p["reach"],
    )


def warmth(celsius: float | Numbers) -> Numbers:
    """Return the pace at a temperature against that at 15 C; none at or below freezing.

    Examples
    --------
    >>> warmth(np.array([0.0, 5.0, 15.0, 25.0])).round(2)
    array([0.  , 0.38, 1.  , 2.44])
    """
    top, slope, reference = (terms()[f"warmth {name}"][1] for name in ("top", "slope", "reference"))
    pace = top / (1 + (top - 1) * np.exp(-slope * (np.asarray(celsius, dtype=float) - reference)))
    return np.where(np.asarray(celsius) > 0, pace, 0.0)


def rot(
    stuff: Pools,
    *,
    carbon: float | Numbers,
    nitrogen: float | Numbers,
    pace: Numbers,
    speed: float | Numbers = 1.0,
) -> Course:
    """Let a residue rot.

    Parameters
    ----------
    stuff : Pools
        From :func:`pools`.
    carbon, nitrogen : float or array
        What went on [g/m2]; an array holds draws.
    pace : array
        The pace of each day against 15 C and moist soil.
    speed : float or array
        The pace of this stuff against a ground crop residue, on its decay only.

    Examples
    --------
    >>> straw = rot(pools("crop", place="dug in", cn=80), carbon=100.0, nitrogen=1.25, pace=np.ones(168))
    >>> straw.mineral[[10, 168], 0].round(1)
    array([-2. , -1.6])
    """
    carbon, nitrogen, speed = np.broadcast_arrays(*(np.atleast_1d(x) for x in (carbon, nitrogen, speed)))
    shape = (len(pace) + 1, len(carbon))
    residue, life, humus, breathed = (np.zeros(shape) for _ in range(4))
    residue[0] = carbon
    for day, today in enumerate(pace):
        gone = np.minimum(residue[day], stuff.reach) * -np.expm1(-stuff.rate * speed * today)
        dying = life[day] * -np.expm1(-stuff.decay * today)
        residue[day + 1] = residue[day] - gone
        life[day + 1] = life[day] - dying + stuff.growth * gone
        humus[day + 1] = humus[day] + stuff.humus * dying
        breathed[day + 1] = breathed[day] + (1 - stuff.growth) * gone + (1 - stuff.humus) * dying
    share = np.divide(nitrogen, carbon, out=np.zeros(len(carbon)), where=carbon > 0)
    bound = residue * share + life / stuff.biomass_cn + humus * terms()["humus N"][1]
    return Course(residue, life, humus, breathed, nitrogen - bound)


@lru_cache(maxsize=None)
def _stuffs() -> dict[tuple[str, str], tuple[str, tuple[float, float, float]]]:
    table = tables.load("decay", numbers=("rate_low", "rate", "rate_high"))
    return {
        (str(row["stuff"]), str(row["place"])): (
            str(row["pools"]),
            (float(row["rate_low"]), float(row["rate"]), float(row["rate_high"])),
        )
        for row in table.to_dict("records")
    }


def decay_of(*stuff: str, place: str) -> tuple[str, tuple[float, float, float]] | None:
    """Return the kind of pools of a material, and its pace against the tested residues.

    Parameters
    ----------
    *stuff : str
        What it may be listed under, the first found counts: its name, its kind, its class of
        release.
    place : str
        "on top" or "dug in".

    Returns
    -------
    (str, (low, likely, high)) or None
        None for what is not listed in tables/decay.csv: its nitrogen comes free by the shares of
        tables/release.csv, or not at all.

    Examples
    --------
    >>> decay_of("sawdust", "wood", "woody residue", place="dug in")
    ('crop', (0.015, 0.04, 0.1))
    """
    listed = _stuffs()
    keys = ((name, where) for name in stuff for where in (place, ""))
    return next((listed[key] for key in keys if key in listed), None)
