"""Did the treated beds change by more than the beds left as they were?

Treated and check beds are sampled on the same days, so what the day and the season do to all beds
is the same on both sides and drops out of the difference of their changes. That makes a check bed
the only ground on which a change may be laid to what was done, and even then the word is "differs
from the check".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import composites, present, scales, verdicts
from soiltrend.comparable import match_ends
from soiltrend.compare.parts import GARDEN_KEY, bridging, composites_of
from soiltrend.errors import SoiltrendError
from soiltrend.noise import Noise, noise_model

FIRST = ["analyte", "method", "unit", "beds", "checks", "treated", "check", "difference", "low", "high",
         "noise", "q", "verdict", "why"]
EXTRA = ["in_noise", "in_noise_low", "in_noise_high", "p", "lab", "top_cm", "bottom_cm"]

DAY = {True: "the day of sampling is the same for both and drops out",
       False: "they were not all sampled on the same days, and what a day does is a part of that"}
"""What became of the noise of the days of sampling: whether treated beds and check shared each of them."""

DECIMALS = 12
"""Decimals kept of a sum of measured steps: what lies beyond is the machine's."""


@dataclass(frozen=True, eq=False)
class Contrast:
    """Changes of the treated beds beside those of the check beds.

    Attributes
    ----------
    table : DataFrame
        One row per analyte. ``treated`` and ``check`` are the mean changes, ``difference`` is the
        one less the other, with its interval ``low`` to ``high``; ``noise`` is the half-width of the
        band by which such differences come up by themselves. ``unit`` is % for concentrations (of
        the value: the difference is one of ratios), the analyte's own otherwise. ``verdict``
        "rose" says that the treated beds rose by more, or fell by less, than the check. ``q`` is the
        p-value adjusted after Benjamini & Hochberg over all the differences; the verdict is not adjusted,
        and ``why`` says so when it would not stand the adjustment.
    before, after : str
        The two ends.
    checks : tuple of str
        The check beds.
    confidence : float
        Of the intervals.
    """

    table: pd.DataFrame
    before: str
    after: str
    checks: tuple[str, ...]
    confidence: float

    def __repr__(self) -> str:
        return present.plain(_title(self), self.table[FIRST[:-1]])

    def _repr_html_(self) -> str:
        return present.page(_title(self), self.table[FIRST])


def _title(result: Contrast) -> str:
    return (f"{result.before} to {result.after}: treated beds beside {', '.join(result.checks)}, "
            f"{100 * result.confidence:g} % intervals")


def against_check(results: pd.DataFrame, *, checks: Sequence[str], before: str, after: str,
                  noise: Noise | None = None, confidence: float = 0.95) -> Contrast:
    """Compare the change of the treated beds with the change of the beds left as they were.

    Parameters
    ----------
    results : DataFrame
        A tidy frame.
    checks : sequence of str
        The beds that were left as they were; all others count as treated.
    before, after, noise, confidence
        As for :func:`soiltrend.compare.compare`.

    Returns
    -------
    Contrast

    Raises
    ------
    SoiltrendError
        When a check is no bed of the frame, or no treated bed is left, and as for
        :func:`soiltrend.compare.compare`.

    Examples
    --------
    >>> from soiltrend.simulate import simulate_garden
    >>> garden = simulate_garden(seed=1)
    >>> limed = (garden["analyte"] == "pH") & (garden["season"] == "spring 2024") & (garden["bed"] != "bed 6")
    >>> garden.loc[limed, "value"] += 1.0
    >>> found = against_check(garden, checks=["bed 6"], before="spring 2022", after="spring 2024")
    >>> found.table.set_index("analyte").loc["pH", "verdict"]
    'rose'
    """
    named = [checks] if isinstance(checks, str) else list(checks)
    beds = results["bed"].unique().tolist()
    _check(named, beds, confidence)
    model = noise if noise is not None else noise_model(results)
    match = match_ends(results, model.composites, before=before, after=after)
    pairs = match.pairs[match.pairs["comparable"]]
    signed = _signed(composites_of(match.rows, model), pairs, pairs["bed"].isin(named))
    rows = _sums(signed, pairs, model)
    return Contrast(_told(rows, confidence)[FIRST + EXTRA], before, after, tuple(named), confidence)


def _check(named: list[str], beds: list[str], confidence: float) -> None:
    known = ", ".join(f"'{bed}'" for bed in beds)
    for bed in named:
        if bed not in beds:
            raise SoiltrendError(f"the check bed '{bed}' is not in the frame", remedy=f"Beds here: {known}")
    if not named or set(named) == set(beds):
        raise SoiltrendError(f"{len(named)} check beds of {len(beds)} leave nothing to compare",
                             remedy=f"Name some, and not all, of {known}")
    if not 0.5 < confidence < 1:
        raise SoiltrendError(f"confidence = {confidence!r} does not lie between 0.5 and 1",
                             remedy="Give 0.95 or 0.9")


def _signed(parts: pd.DataFrame, pairs: pd.DataFrame, check: pd.Series) -> pd.DataFrame:
    """Return the composites with their weight in the difference of changes: treated and after count up."""
    key = pd.Series(composites.codes(pairs, GARDEN_KEY), index=pairs.index)
    count = check.groupby([key, check]).transform("size")
    at = parts["pair"].to_numpy()
    left, share = check.loc[at].to_numpy(), (1 / count.loc[at]).to_numpy()
    side = np.where(left, -share, share) * np.where(parts["end"] == 1, 1.0, -1.0)
    return parts.assign(key=key.loc[at].to_numpy(), left=left, weight=parts["weight"] * side,
                        unlike=~pairs["same_season"].loc[at].to_numpy())


def _sums(parts: pd.DataFrame, pairs: pd.DataFrame, model: Noise) -> pd.DataFrame:
    """Return per series of the garden the bounds of both changes and of their difference."""
    weight, up = parts["weight"], parts["weight"] > 0
    swing = parts["swing"] * weight * (parts["end"] == 1) * parts["unlike"]
    each = parts[["key"]].assign(
        d_low=weight * np.where(up, parts["low"], parts["high"]), variance=weight**2 * parts["variance"],
        d_high=weight * np.where(up, parts["high"], parts["low"]), swing=swing, level=parts["raw"].abs())
    total = each.groupby("key").agg(d_low=("d_low", "sum"), d_high=("d_high", "sum"), level=("level", "mean"),
                                    variance=("variance", "sum"), swing=("swing", "sum"))
    occasions = [parts["key"], parts["occasion"]]
    days = (weight * parts["day"]).groupby(occasions).sum() ** 2
    total["variance"] += days.groupby(level=0).sum() + total["swing"] ** 2
    total["one_day"] = weight.groupby(occasions).sum().round(DECIMALS).eq(0).groupby(level=0).all()
    total["variance"] += bridging(parts)["bridged"]
    for name, left, sign in (("treated", False, 1), ("check", True, -1)):
        side = parts["left"] == left
        bounds = each[side].groupby("key")[["d_low", "d_high"]].sum().reindex(total.index)
        exact = bounds["d_low"] == bounds["d_high"]
        total[name] = (sign * bounds["d_low"]).where(exact)
        total["checks" if left else "beds"] = parts[side].groupby("key")["pair"].nunique().reindex(
            total.index).fillna(0).astype(int)
    names = pairs.loc[parts.groupby("key")["pair"].first(), GARDEN_KEY].set_index(total.index)
    known = model.of(names)[["scale", "df", "margin", "margin_relative"]]
    return pd.concat([names, known.rename(columns={"margin": "matters"}), total], axis=1)


def _told(rows: pd.DataFrame, confidence: float) -> pd.DataFrame:
    """Return the rows with verdicts, in the reader's units."""
    on = rows["scale"].to_numpy()
    points, share = rows["matters"].fillna(0.0), rows["margin_relative"].fillna(0.0)
    margin = np.where(on == scales.PLAIN, np.maximum(points, share * rows["level"]), np.log1p(points))
    told = verdicts.judge(rows.assign(se=np.sqrt(rows["variance"]), margin=margin), confidence=confidence)
    good = ((rows["beds"] > 0) & (rows["checks"] > 0)).to_numpy()
    told.loc[~good, ["half", "low", "high", "p"]] = np.nan
    step = rows["d_low"].where(good & (rows["d_low"] == rows["d_high"]))

    def shown(value: pd.Series) -> np.ndarray:
        """Return steps as a reader sees them: points, or per cent."""
        exact = np.round(value.to_numpy(dtype=float), DECIMALS) + 0.0
        return np.asarray(np.where(on == scales.PLAIN, exact, 100 * np.expm1(exact)))

    relative = np.where(on == scales.LOG, "%", "% of the odds")
    out = rows.assign(
        unit=rows["unit"].where(on == scales.PLAIN, relative), treated=shown(rows["treated"]),
        check=shown(rows["check"]), difference=shown(step), low=shown(told["low"]),
        high=shown(told["high"]),
        noise=shown(told["half"]), band=shown(told["half"] * np.where(step < 0, -1, 1)),
        p=told["p"], q=verdicts.discovery_rate(told["p"].to_numpy()),
        in_noise=step / told["half"], in_noise_low=told["low"] / told["half"],
        in_noise_high=told["high"] / told["half"],
        verdict=np.where(good, told["verdict"], verdicts.NOT_COMPARABLE))
    family = int(out["p"].notna().sum())
    out["why"] = [_why(row, confidence) + _luck(row, family, confidence) for row in out.to_dict("records")]
    return out.reset_index(drop=True)


def _were(count: int) -> str:
    return "it was" if count == 1 else "they were"


def _luck(row: dict[Any, Any], family: int, confidence: float) -> str:
    """Return that a difference does not stand among all of them, where it left its band and does not."""
    if row["verdict"] not in (verdicts.ROSE, verdicts.FELL) or not row["q"] > 1 - confidence:
        return ""
    return (f". Among all {family} differences such a one could come up by chance: it does not stand by "
            f"itself (q = {row['q']:.2g})")


def _why(row: dict[Any, Any], confidence: float) -> str:
    """Return the sentence of one row."""
    if row["verdict"] == verdicts.NOT_COMPARABLE:
        side = "check" if row["checks"] == 0 else "treated"
        return f"Not compared: no {side} bed has comparable results at both ends"
    if np.isnan(row["difference"]):
        return f"A laboratory's limit hides part of the change; against the check: {row['verdict']}"
    unit = "points" if row["unit"] == "%" and row["scale"] == scales.PLAIN else row["unit"]
    treated, check = (f"{present.two_digits(row[name], sign=True)} {unit}" for name in ("treated", "check"))
    apart, band = (f"{present.number(abs(row[name]), digits=2)} {unit}" for name in ("difference", "band"))
    than = {verdicts.UNCLEAR: "which is within", verdicts.HELD: "too little to matter, against"}
    beds, left = present.counted(row["beds"], "treated bed"), f"left as {_were(row['checks'])}"
    return (f"{beds} changed by {treated}, {row['checks']} {left} by {check}: "
            f"they differ by {apart}, {than.get(row['verdict'], 'which is more than')} the {band} that such "
            f"differences come to with no cause, {100 * confidence:g} % of the time; {DAY[row['one_day']]}")
