"""The sentence beside each flag: where the ratio stands, how it moves, and which side of it moved."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import present, scales, series
from soiltrend.drift import bands
from soiltrend.drift.signals import ALPHA
from soiltrend.slopes import lines
from soiltrend.slopes.batch import fit

FLAGS = ("outside", "heading out", "shifted", "steady", "too few")
_WHOLE = ("Ca", "Mg", "K", "Na", "acidity")
"""Parts of the exchange capacity whose shares push each other."""

_KEPT = " itself shows no trend beyond its noise"
Moves = dict[tuple[str, str], list[dict[str, Any]]]


def why(rows: pd.DataFrame, laid: series.Laid) -> list[str]:
    """Return the explanation of each row.

    Parameters
    ----------
    rows : DataFrame
        The rows with their numbers, as made by :mod:`soiltrend.drift.core`.
    laid : Laid
        All series, amounts among them.
    """
    flagged = rows["flag"].isin(FLAGS[:3])
    moves = _moves(laid, set(rows.loc[flagged, "bed"])) if flagged.any() else {}
    return [_sentence(row, moves) for row in rows.to_dict("records")]


def _moves(laid: series.Laid, beds: set[str]) -> Moves:
    """Return the trends of the amounts in some beds, by bed and analyte."""
    fits = fit(laid.points, count=len(laid.series))
    line = lines.choose(fits)
    wanted = laid.series["bed"].isin(beds) & ~laid.series["analyte"].str.contains(
        ":| saturation$", regex=True
    )
    table = laid.series.assign(slope=line.slope, p=line.p)[wanted]
    found: Moves = {}
    for row in table.to_dict("records"):
        found.setdefault((row["bed"], row["analyte"]), []).append({str(name): row[name] for name in row})
    return found


def _sentence(row: dict[Any, Any], moves: Moves) -> str:
    """Return the whole explanation of one row."""
    if row["flag"] == FLAGS[4]:
        told = [
            "Too few: "
            + (
                "no measured test that can stand with another"
                if row["n"] == 0
                else f"{row['n']} test{'s' if row['n'] > 1 else ''} that can stand together"
            )
        ]
    else:
        told = [_standing(row), *_moving(row)]
    if row["flag"] in FLAGS[:3]:
        told += [_parts(row, moves)]
        told += (
            []
            if row["firm"]
            else ["Not yet firm: it stands on the latest test of a season; the next one will tell"]
        )
    if row["flag"] in FLAGS[:2] and row["against"]:
        told.append(bands.AGAINST)
    told += [text for text in (row["left"], row["breaks"], row["warning"]) if text]
    if row["joined"]:
        told.append(
            "Joined by a bridge, whose own error is not in these numbers: a step there may be the bridge"
        )
    return ". ".join(text for text in told if text)


def _standing(row: dict[Any, Any]) -> str:
    """Return where the ratio stands now, and against what."""
    lead = row["flag"][0].upper() + row["flag"][1:]
    at, low, high = (present.number(row[name]) for name in ("now", "now_low", "now_high"))
    now = f"{lead}: now {at} ({low} to {high})"
    if row["own"]:
        return f"{now}, against {bands.told(row)} by its own first {row['base']:.0f} tests"
    if not np.isfinite(row["inner_low"]) and not np.isfinite(row["inner_high"]):
        return f"{now}; there is no band for it, and too few tests for one of its own"
    means = f": {row['means']}" if row["means"] else ""
    return f"{now}, band {bands.told(row)}{means} ({row['band']})"


def _moving(row: dict[Any, Any]) -> list[str]:
    """Return how it moves, and when it would meet the edge."""
    told = []
    if row["p_slope"] <= ALPHA and row["slope"] != 0:
        verb = "rises" if row["slope"] > 0 else "falls"
        size = (
            f"{present.two_digits(abs(row['percent_per_year']))} %"
            if row["scale"] == scales.LOG
            else f"{present.number(abs(row['slope_per_year']), digits=2)} points"
        )
        told.append(f"It {verb} by {size} a year over {row['span']:.1f} years")
    if row["flag"] == FLAGS[1]:
        most = present.years_at_most(row["years_high"], record=row["span"])
        told.append(
            f"At that pace the edge is {row['years']:.0f} years off ({row['years_low']:.0f} to {most})"
            if row["years"] > 0
            else "It may stand beyond that edge already"
        )
    elif row["flag"] == FLAGS[2] and row["p_shift"] <= ALPHA:
        told.append(
            f"Its running mean {'rose above' if row['moved'] > 0 else 'fell below'} its first "
            f"{row['base']:.0f} tests by more than noise"
        )
    return told


def _parts(row: dict[Any, Any], moves: Moves) -> str:
    """Return which side of the ratio moved, from the trends of the amounts."""
    name = row["analyte"]
    if name.endswith(" saturation"):
        return _share(row, moves, name.removesuffix(" saturation"))
    sides = re.match(r"^(.+?):(.+?) \(", name)
    if sides is None:
        return ""
    analytes = [part for side in sides.groups() for part in side.strip("()").split("+")]
    return "; ".join(text for part in analytes if (text := _moved(row, moves, part)))


def _share(row: dict[Any, Any], moves: Moves, own: str) -> str:
    """Return how the amount of a share moved and, where it shows no trend, which of the others did."""
    mine = _moved(row, moves, own)
    if not mine:
        return "No amounts stand beside this share, and a share alone does not say whether the amount changed"
    texts = [_moved(row, moves, part) for part in _WHOLE if part != own]
    others = " and ".join(text for text in texts if text and _KEPT not in text)
    if _KEPT not in mine or not others:
        return mine
    return f"{mine}, while {others}"


def _moved(row: dict[Any, Any], moves: Moves, analyte: str) -> str:
    """Return how one amount moved in the same bed, laboratory and layer, or empty for none."""
    near = [
        other
        for other in moves.get((row["bed"], analyte), [])
        if other["lab"] == row["lab"] and str(other["bottom_cm"]) == str(row["bottom_cm"])
    ]
    if not near:
        return ""
    best = max(near, key=lambda other: (other["method"] == row["method"], other["n"]))
    if np.isnan(best["p"]):
        return ""
    if best["p"] > ALPHA or best["slope"] == 0:
        return f"{analyte}{_KEPT}"
    size = 100 * np.expm1(best["slope"]) if best["scale"] == scales.LOG else best["slope"]
    unit = "%" if best["scale"] == scales.LOG else best["unit"]
    moved = f"{present.two_digits(abs(size))} {unit}"
    return f"{analyte} {'rose' if best['slope'] > 0 else 'fell'} by {moved} a year"
