"""The plan's tables, bed by bed: what to hold, what to give, what to expect, what stands in the way."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeAlias

import numpy as np
import pandas as pd

from soiltrend import present, scales
from soiltrend.materials import known_materials, limits
from soiltrend.plan.ask import (
    ACIDIFIES,
    LIMES,
    TENTH,
    TRUE_LIME,
    UNTOLD,
    Question,
    caustic,
    coming,
    effects,
    expected,
    forecast,
    held,
    interval,
    limes,
    no_lime,
    printed,
)
from soiltrend.plan.bench import Bench, Plot
from soiltrend.plan.kitchen import kitchen
from soiltrend.plan.parts import parts_of, waiting
from soiltrend.plan.shed import WHOLE, brought, chosen
from soiltrend.plan.solve import Solved

Array: TypeAlias = np.ndarray

HOLD = ["bed", "what", "why", "about"]
DOSES = ["bed", "material", "date", "grams", "g_per_m2", "kitchen", "why"]
EXPECTED = [
    "bed", "analyte", "method", "unit", "now", "now_low", "now_high", "aim", "aim_high", "after", "low",
    "high", "left_alone", "ceiling", "test", "why", "lab", "top_cm", "bottom_cm", "qualifier",
]  # fmt: skip
BINDING = ["bed", "aim", "open", "unit", "what", "gain", "why"]

NONE = (0.0, 0.0, 0.0)
RAISES = {"pH": "CCE"}
"""What of a material raises a measure that is no nutrient."""

NAMED = 3
"""Materials of the table named for what is held."""

PHOSPHORUS = "P"
"""It stays and can reach water: what brings it stands before what is held for as many other measures."""

HOLDS = {"pH": "limes", "EC": "is salty", "Ca": "brings Ca without liming"}
"""What is held for a measure, where it is not all that brings it."""

UNREAD = "no test has read it, and the limit stands for"
LIME_GOES_BY = "this is said of calcium for its own sake, lime goes by pH"
EVERYTHING = "everything"
CHECK = "this bed is the check: nothing goes on it, so that there is something to compare with"
NOTHING = "no test of this bed is known, so nothing is planned for it"


def _unit(text: str) -> str:
    return "" if text == "pH" else f" {text}"


MUCH = 0.02
"""Share of what is lacking of a measure from which a dose is told to be given for it: judgement."""

ALONE = "by the next test, with nothing added, "


def _stand(plot: Plot, at: int) -> str:
    """Return where a measure would stand at the next test with nothing added, in words."""
    row = plot.measures.iloc[at]
    low, middle, high = (present.number(float(end[at])) for end in interval(plot.left))
    told = f"{row['qualifier']}{middle}" if row["qualifier"] else f"{middle} ({low} to {high})"
    return f"{row['analyte']} {told}{_unit(row['unit'])}"


GENTLER = "it burns skin and eyes; what else is in your shed limes as well, if more slowly"


def hold(plot: Plot, question: Question, solved: Solved, bench: Bench) -> list[dict[str, Any]]:
    """Return what is not to be added, material by material, and what is too high for which nothing is kept.

    Parameters
    ----------
    plot : Plot
        The bed.
    question : Question
        Its problem.
    solved : Solved
        The answer.
    bench : Bench
        The materials.
    """
    bed, much = str(plot.bed["bed"]), held(question, bench.shed, broken=solved.broken)
    about: dict[str, list[int]] = {}
    for place in np.flatnonzero(solved.broken):
        at = question.ceilings[place]
        for name in _held(bench, much[place], str(plot.measures["analyte"].iloc[at])):
            about.setdefault(name, []).append(at)
    rows, stays = _unlimed(plot, bench), np.flatnonzero(plot.measures["analyte"] == PHOSPHORUS)
    for name, which in sorted(about.items(), key=lambda pair: (-len(pair[1]), not set(stays) & set(pair[1]))):
        analytes = [str(plot.measures["analyte"].iloc[at]) for at in which]
        told = [f"{_stand(plot, at)} is not safely below its ceiling of {_ceiling(plot, at)}" for at in which]
        told += [LIME_GOES_BY] if analytes == ["Ca"] else []
        rows.append({"bed": bed, "what": name, "why": ALONE + "; ".join(told), "about": ", ".join(analytes)})
    rows += _gentler(plot, question, bench, known=[row["what"] for row in rows])
    return rows + _waiting(plot, bench, known=[row["what"] for row in rows])


def _gentler(plot: Plot, question: Question, bench: Bench, *, known: list[str]) -> list[dict[str, Any]]:
    """Return the hold rows of caustic limes where a bed is short of pH and another lime is at hand."""
    short = [str(plot.measures["analyte"].iloc[at]) for at in question.short]
    names = [
        name
        for name, burns in zip(bench.shed.names, caustic(bench.shed), strict=True)
        if burns and "pH" in short and name not in known
    ]
    return [{"bed": str(plot.bed["bed"]), "what": name, "why": GENTLER, "about": "pH"} for name in names]


def _waiting(plot: Plot, bench: Bench, *, known: list[str]) -> list[dict[str, Any]]:
    """Return the hold rows of her own materials whose waiting time does not fit before the harvest."""
    bed, rows = str(plot.bed["bed"]), bench.shed.rows
    mine = rows[(rows["origin"] != "table") & ~rows.index.isin(known)]
    told = [(str(name), waiting(row, bench, bed=bed)) for name, row in mine.iterrows()]
    return [{"bed": bed, "what": name, "why": why, "about": ""} for name, why in told if why]


def _unlimed(plot: Plot, bench: Bench) -> list[dict[str, Any]]:
    """Return the hold rows of what limes, where no pH in water tells whether it may go on."""
    if no_lime(plot, probability=bench.rules.probability) != UNTOLD:
        return []
    names = _held(bench, limes(bench.shed), "pH")
    return [{"bed": str(plot.bed["bed"]), "what": name, "why": UNTOLD, "about": "pH"} for name in names]


def _held(bench: Bench, much: Array, analyte: str) -> list[str]:
    """Return the grower's own materials that are held, each by name, and in one name those of the table.

    Of the table those are named that hold most of it; what is salty, in the order of the table.
    """
    mine = (bench.shed.rows["origin"] != "table").to_numpy()
    names = [name for name, held in zip(bench.shed.names, much & mine, strict=True) if held]
    others = bench.shed.rows[much & ~mine]
    what = RAISES.get(analyte, analyte)
    brings = HOLDS.get(analyte, f"brings {analyte}")
    if len(others):
        holds = [(limits(row, quantity=what) or NONE)[1] for _, row in others.iterrows()]
        named = others.index[np.argsort(np.negative(holds), kind="stable")][:NAMED]
        names.append(f"whatever {brings} ({', '.join(map(str, named))} ...)")
    return names or [f"whatever {brings}"]


def _ceiling(plot: Plot, at: int) -> str:
    return f"{present.number(plot.wants[at].ceiling)}{_unit(plot.measures['unit'].iloc[at])}"


def doses(
    plot: Plot, question: Question, amounts: Array, bench: Bench, *, system: str
) -> list[dict[str, Any]]:
    """Return the dated doses of a bed.

    Parameters
    ----------
    plot : Plot
        The bed.
    question : Question
        Its problem.
    amounts : array (materials,)
        g/m2 in the year.
    bench : Bench
        The materials.
    system : str
        "metric" or "US".
    """
    bed, area = str(plot.bed["bed"]), float(plot.bed["area_m2"])
    gain = effects(plot, coming(plot, bench, amounts)).mean(axis=0)
    rows: list[dict[str, Any]] = []
    for at, parts in parts_of(plot, bench, amounts).items():
        row, when, told = bench.shed.rows.iloc[at], parts.when, parts.why
        each = float(amounts[at]) / len(when)
        why = _for(plot, question, gain[:, at] * amounts[at])
        for number, day in enumerate(when, start=1):
            part = f"; {number} of {len(when)}" if len(when) > 1 else ""
            rows.append(
                {
                    "bed": bed, "material": str(row.name), "date": day, "grams": each * area,
                    "g_per_m2": each, "kitchen": kitchen(row, grams=each * area, system=system),
                    "why": f"{why}{part}{'; ' + told if told else ''}",
                }
            )  # fmt: skip
    return rows


def _for(plot: Plot, question: Question, gains: Array) -> str:
    """Return what a material is given for: all that it does much for, and at least what it does most for."""
    told = []
    does = np.array(gains[question.short] / np.maximum(question.task.need, 1e-9))
    for at, much in zip(question.short, does, strict=True):
        if much > 0 and (much > MUCH or much == does.max()):
            more = present.number(float(gains[at]), digits=2)
            aim = present.number(plot.wants[at].low)
            middle = float(np.median(plot.left[:, at]))
            low = "is below" if middle < plot.wants[at].low else "may well lie below"
            told.append(f"{_stand(plot, at)} {low} {aim}: adds about {more} in all")
    return ALONE + "; ".join(told) if told else ""


def expect(plot: Plot, amounts: Array, bench: Bench) -> list[dict[str, Any]]:
    """Return where each measure stands, and what the next test should show, as an interval.

    Of a measure that no test has read its limit stands there with its qualifier, and the interval is open.

    Parameters
    ----------
    plot : Plot
        The bed.
    amounts : array (materials,)
        g/m2 in the year.
    bench : Bench
        The materials and the days.
    """
    coming_to = forecast(plot, bench, amounts)
    now, after = (_opened(interval(draws), plot) for draws in (plot.now, printed(plot, coming_to)))
    middle, alone = np.median(coming_to, axis=0), expected(plot)
    rows = []
    for at, (row, want) in enumerate(zip(plot.measures.to_dict("records"), plot.wants, strict=True)):
        lime = f"; {plot.lime_why}" if row["analyte"] == "pH" else ""
        rows.append(
            {name: row[name] for name in ("bed", "analyte", "method", "unit")}
            | {"now": now[1][at], "now_low": now[0][at], "now_high": now[2][at]}
            | {"aim": want.low, "aim_high": want.high, "ceiling": want.ceiling}
            | {"after": middle[at], "low": after[0][at], "high": after[2][at], "left_alone": alone[at]}
            | {"test": bench.days.test_season, "why": _since(row, now[0][at], now[2][at]) + want.why + lime}
            | {name: row[name] for name in ("lab", "top_cm", "bottom_cm", "qualifier")}
        )
    return rows


def _opened(ends: tuple[Array, Array, Array], plot: Plot) -> tuple[Array, Array, Array]:
    """Return intervals, open below or above where every test lies there beyond a limit."""
    low, middle, high = ends
    sign = plot.measures["qualifier"].to_numpy()
    return np.where(sign == "<", 0.0, low), middle, np.where(sign == ">", np.inf, high)


def told_of(table: pd.DataFrame, columns: Sequence[str]) -> pd.DataFrame:
    """Return columns of what is expected as they are shown: with the qualifier where a row has one."""
    sign = ["qualifier"] if table.get("qualifier", pd.Series(dtype=str)).ne("").any() else []
    return table[[*columns, *sign]]


def _since(row: dict[Any, Any], low: float, high: float) -> str:
    """Return what a standing rests on, and whether the last test alone says another thing."""
    if row["last"] is pd.NaT:
        return ""
    told = f"from {present.counted(row['n'], 'test')}, the last of {row['last']:%Y-%m-%d}"
    ends = np.array([row["last_low"], row["last_high"]])
    least, most = scales.back(ends, np.array([row["scale"]] * 2))
    sign = "" if least == most else "<" if np.isfinite(ends[1]) else ">"
    end = float(least if sign == ">" else most)
    read = f"{sign}{end:g}" if sign else present.number(end)
    if row["qualifier"]:
        return f"{told}, {read}: {UNREAD} the {'most' if sign == '<' else 'least'} that it may be; "
    if row["n"] < 2 or (least <= high and low <= most):
        return f"{told}; "
    return (
        f"{told}, which alone read {read}: a test moves by itself, so it is weighed with "
        "those before it and with what went on; "
    )


def binding(plot: Plot, question: Question, solved: Solved, bench: Bench) -> list[dict[str, Any]]:
    """Return what stays short, what stops it, and what relaxing that would buy.

    Parameters
    ----------
    plot : Plot
        The bed.
    question : Question
        Its problem.
    solved : Solved
        The answer.
    bench : Bench
        The materials.
    """
    rows: list[dict[str, Any]] = []
    for place, at in enumerate(question.short):
        row = plot.measures.iloc[at]
        left = float(solved.open[place])
        if left <= 0:
            continue
        head = {"bed": row["bed"], "aim": row["analyte"], "open": left, "unit": row["unit"]}
        stops = np.flatnonzero(solved.gain[place] > 0)
        for stop in stops:
            gain = float(solved.gain[place, stop])
            rows.append(head | {"what": _named(plot, question, bench, int(stop)), "gain": gain}
                        | {"why": _stopped(plot, question, bench, (at, int(stop), gain))})  # fmt: skip
        if not len(stops):
            why = _none(plot, question, place, broken=solved.broken, bench=bench)
            rows.append(head | {"what": "materials", "gain": np.nan, "why": why})
    return rows


def _named(plot: Plot, question: Question, bench: Bench, stop: int) -> str:
    at = question.ceilings[stop]
    return (
        str(plot.measures["analyte"].iloc[at])
        if at >= 0
        else f"{bench.limits['what'].iloc[-1 - at]} in a year"
    )


def _stopped(plot: Plot, question: Question, bench: Bench, which: tuple[int, int, float]) -> str:
    """Return in words which ceiling stops a shortfall from being closed."""
    short, stop, gain = which
    row = plot.measures.iloc[short]
    at = question.ceilings[stop]
    brings = question.task.load[:, stop].mean(axis=0) > 0
    credit = question.task.credit[question.short.index(short)]
    both = brings & (credit > 0) & (question.task.most > 0)
    order = np.argsort(-credit * question.task.most, kind="stable")  # what could bring most stands first
    names = [bench.shed.names[at] for at in order if both[at]][:NAMED]
    if at >= 0:
        limit = f"{plot.measures['analyte'].iloc[at]}, whose ceiling is {_ceiling(plot, at)}"
    else:
        line = bench.limits.iloc[-1 - at]
        limit = f"{line['what']}, of which {line['limit']:g} g/m2 in a year are the most ({line['words']})"
    more = f"{present.number(gain, digits=2)}{_unit(row['unit'])}"
    return f"no more {', '.join(names)} because of {limit}; without it {row['analyte']} gains {more} more"


def _none(plot: Plot, question: Question, place: int, *, broken: Array, bench: Bench) -> str:
    """Return why nothing closes a shortfall, and what kind of material would."""
    analyte, shed = str(plot.measures["analyte"].iloc[question.short[place]]), bench.shed
    brings = question.task.credit[place] > 0
    told, scarce = [], brings & question.scarce
    if scarce.any():
        names = [name for name, few in zip(shed.names, scarce, strict=True) if few]
        told = [f"what is on hand of {', '.join(names)} does not close all of it, and has no price at which "
                "more could be had: write that into cost_per_kg of materials.csv, or clear on_hand_kg there"]
    if (brings & (question.task.most > 0) & ~scarce).any():
        told.append(f"what a bed takes in a year does not close all of it; {analyte} goes on next year")
    if told:
        return "; ".join(told)
    if analyte == "pH" and limes(shed).any() and not brings.any():
        return f"how much lime it takes is not known, {plot.lime_why}; ask the laboratory for a buffer pH"
    what = "nothing in your shed that may go on" if brings.any() else "nothing in your shed"
    rich = bool(broken[question.phosphorus].any())
    return f"{what} brings {analyte}; {' or '.join(_would(plot, question, analyte, rich, bench))} would"


def _would(plot: Plot, question: Question, analyte: str, rich: bool, bench: Bench) -> list[str]:
    """Return what of the table brings most of a measure and may go on this bed: no lime but for pH.

    Nor what acidifies where pH is short, limes a little where it is too high or not known, or holds much
    phosphorus where a bed is rich in it.
    """
    table = chosen(known_materials(), stock="any")
    holds, value = table[brought(analyte)].astype(float), table["CCE"].astype(float) / WHOLE
    away = pd.Series(False, index=table.index)
    if analyte != "pH":
        away = value >= (LIMES if no_lime(plot, probability=bench.rules.probability) else TRUE_LIME)
        if "pH" in set(plot.measures["analyte"].iloc[question.short]):
            away |= value <= ACIDIFIES
    if rich and analyte != PHOSPHORUS:
        away |= table[PHOSPHORUS].astype(float) >= TENTH * holds
    return [str(name) for name in holds[~away].sort_values(ascending=False, kind="stable").index[:2]]
