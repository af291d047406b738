"""The saturation chart: the shares of the exchange capacity of one bed, with the amounts beside them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from soiltrend import frames, present, story
from soiltrend.charts.bars import FILLED, OPEN, bar, span, zero
from soiltrend.charts.chart import Chart, only_words, rule
from soiltrend.charts.rows import Rows, draw_rows
from soiltrend.charts.style import size_of
from soiltrend.errors import SoiltrendError
from soiltrend.latest import NONE

IONS = ("Ca", "Mg", "K", "Na", "acidity")
SHARE = " saturation"
ARROW = "\u2192"


def shares(results: pd.DataFrame, *, bed: str, season: str) -> pd.DataFrame:
    """Return the shares of one bed in one season: ion, share [%], cmol [cmol/kg], amount [mg/kg], n, note.

    Share, amount and cec have a ``_sign`` beside them: "<" or ">" where the number is a limit.
    """
    tests = results[(results["bed"] == bed) & (results["season"] == season)]
    rows = story.alike(tests)
    named = [ion + SHARE for ion in IONS if (rows["analyte"] == ion + SHARE).any()]
    if not named:
        return pd.DataFrame(columns=["bed", "season", "ion", "share", "cmol", "amount", "n"])
    kept = ["method", "lab", "top_cm", "bottom_cm", "sampled", "note"]
    table = rows.groupby("analyte", sort=False).agg(
        n=("value", "size"), **{name: (name, "first") for name in kept}
    )
    table = table.loc[named].join(_told(rows, "share")).reset_index(names="ion")
    table["ion"] = table["ion"].str.removesuffix(SHARE)
    beside = story.amounts_beside(tests, rows)
    table = table.join(_told(beside[beside["unit"] == "mg/kg"], "amount"), on="ion")
    table = _charges(table, tests, reported=beside[beside["unit"] == "cmol/kg"])
    signs = [name for name in table if str(name).endswith("_sign")]
    return table.assign(bed=bed, season=season).fillna(dict.fromkeys(signs, ""))


def _told(rows: pd.DataFrame, name: str) -> pd.DataFrame:
    """Return the mean of each analyte under a name, with its sign."""
    means = story.means(rows)[["value", "sign"]].astype({"sign": "str"})
    return means.set_axis([name, f"{name}_sign"], axis=1)


def _charges(table: pd.DataFrame, tests: pd.DataFrame, *, reported: pd.DataFrame) -> pd.DataFrame:
    """Return the shares with the whole and with what each is of it [cmol/kg].

    A limit in the share or in the whole leaves the product open; the acidity is then as it was reported.
    """
    whole = _told(tests[(tests["analyte"] == "CEC") & (tests["method"] == table["method"].iloc[0])], "cec")
    table = table.assign(analyte="CEC").join(whole, on="analyte").drop(columns="analyte")
    exact = (table["share_sign"] == "") & (table["cec_sign"] == "")
    own = _told(reported[reported["qualifier"] == ""], "own")["own"]
    cmol = (table["share"] * table["cec"] / 100).where(exact, table["ion"].map(own).astype(float))
    return table.assign(cmol=cmol)


def _number(row: dict[str, Any], name: str) -> str:
    """Return a number of a row, with that of the earlier season before it, limits with their sign."""
    after = f"{row.get(f'{name}_sign', '')}{present.number(row[name])}"
    if not np.isfinite(row[f"{name}_before"]):
        return after
    return f"{row.get(f'{name}_sign_before', '')}{present.number(row[f'{name}_before'])} {ARROW} {after}"


def _said(row: dict[str, Any]) -> str:
    """Return a row's share with its amounts, so that the percent does not stand alone."""
    charge, mass = map(story.unit_of, ("cmol/kg", "mg/kg"))
    parts = [
        f"{_number(row, 'share')} %",
        f"{_number(row, 'cmol')} {charge}" if np.isfinite(row["cmol"]) else "",
        f"{_number(row, 'amount')} {mass}" if np.isfinite(row["amount"]) else "",
    ]
    if np.isfinite(row["share_before"]) and parts[2]:
        parts[1] = ""  # two numbers before and two after are what an eye can hold
    return ",  ".join(part for part in parts if part)


def _short(row: dict[str, Any]) -> str:
    share = f"{row['share_sign']}{present.number(row['share'], digits=3 if row['share_sign'] else 2)} %"
    name, unit = ("amount", "mg/kg") if np.isfinite(row["amount"]) else ("cmol", "cmol/kg")
    if not np.isfinite(row[name]):
        return share
    return f"{share}, {row.get(f'{name}_sign', '')}{present.number(row[name])} {story.unit_of(unit)}"


def _draw(axes: Axes, part: pd.DataFrame) -> None:
    """Draw a bar for each share; where there are two seasons, the earlier one is the open bar above."""
    rule(axes)
    for at, row in enumerate(part.to_dict("records")):
        two = np.isfinite(row["share_before"])
        if two:
            bar(axes, row["share_before"], -at + 0.18, look=OPEN, thick=0.26)
        bar(axes, row["share"], -at - (0.18 if two else 0.0), look=FILLED, thick=0.26 if two else 0.5)
    zero(axes)


def _pairs(results: pd.DataFrame, bed: str, season: str, before: str) -> pd.DataFrame:
    """Return the shares of a season with those of an earlier one beside them; none when not alike."""
    now = shares(results, bed=bed, season=season)
    then = shares(results, bed=bed, season=before) if before else now.iloc[:0]
    series = list(story.SERIES)
    if before and (now.empty or then.empty or now[series].merge(then[series].drop_duplicates()).empty):
        return now.iloc[:0]
    earlier = then.set_index("ion") if len(then) else pd.DataFrame(index=[])
    for name in ("share", "cmol", "amount"):
        values = earlier[name] if name in earlier else pd.Series(dtype=float)
        now[f"{name}_before"] = now["ion"].map(values).astype(float)
    for name in ("share_sign", "amount_sign"):
        signs = dict(zip(then["ion"], then[name], strict=True)) if len(then) else {}
        now[f"{name}_before"] = [signs.get(ion, "") for ion in now["ion"]]
    return now.assign(season_before=before)


def _season(results: pd.DataFrame, bed: str, season: str | None) -> str:
    """Return the season to show: the one asked for, or the latest with shares of that bed."""
    if bed not in set(results["bed"]) and bed:
        raise SoiltrendError(
            f"there is no bed '{bed}' in the results",
            remedy="There are: " + ", ".join(map(str, results["bed"].unique())),
        )
    has = results[(results["bed"] == bed) & results["analyte"].isin([ion + SHARE for ion in IONS])]
    known = frames.seasons(has)
    if season in (None, NONE):
        return known[-1] if known else ""
    if known and season not in set(results["season"]):
        raise SoiltrendError(
            f"{bed} has no shares of the exchange capacity in '{season}'",
            remedy="It has them in: " + ", ".join(known),
        )
    return str(season)


def _bed(results: pd.DataFrame, seasons: list[str]) -> str:
    """Return the first bed with shares of the exchange capacity, if there is one in those seasons, or ""."""
    has = results[results["analyte"].isin([ion + SHARE for ion in IONS])]
    told = has[has["season"].isin(seasons)].groupby("bed", sort=False)["season"].nunique()
    first = told[told == len(seasons)].index if seasons else has["bed"]
    return str(next(iter([*first, *has["bed"]]), ""))


def _gap(results: pd.DataFrame, bed: str, season: str, before: str) -> tuple[str, str]:
    """Return in which season a bed has no shares, or of which two they are not alike."""
    mine = results[(results["bed"] == bed) & results["analyte"].isin([ion + SHARE for ion in IONS])]
    missing = [name for name in (season, before) if name and not (mine["season"] == name).any()]
    if mine.empty:
        return "", ""
    return (missing[0], "") if missing else (season, before)


def chart_saturation(
    results: pd.DataFrame,
    *,
    bed: str = "",
    season: str | None = None,
    before: str = "",
    size: str = "web",
) -> Chart:
    """Draw the shares of the exchange capacity of one bed, each with its amount beside it.

    Parameters
    ----------
    results : DataFrame
        What :func:`soiltrend.exchange` or :func:`soiltrend.prepared` gave.
    bed : str
        The bed; the first with shares when none is named.
    season : str, optional
        The season; the latest with shares when none is named.
    before : str
        An earlier season to set beside it, as open bars.
    size : str
        As for :func:`chart_change`.

    Returns
    -------
    Chart
        Bars from zero [%]; the amounts [cmol/kg, mg/kg] stand at their ends, because a share falls
        also when another cation rises. Words alone, with the reason, where the bed has no shares in a
        season, or those of the two were not measured alike.

    Raises
    ------
    SoiltrendError
        When the bed or the season is not there.
    """
    named = [name for name in dict.fromkeys((season, before)) if name and name != NONE]
    bed = bed or _bed(results, named)
    season = _season(results, bed, season)
    before = "" if before in (NONE, season) else _season(results, bed, before) if before else ""
    table = _pairs(results, bed, season, before)
    if table.empty:
        lost, beside = _gap(results, bed, season, before)
        words = story.no_shares_words(results, bed=bed, season=lost, before=beside)
        return only_words(words, size_of(size))
    records = [{str(key): value for key, value in row.items()} for row in table.to_dict("records")]
    table = table.assign(
        label=table["ion"].map(lambda ion: story.spoken(str(ion))),
        said=[_said(row) for row in records],
        short=[_short(row) for row in records],
        weight="normal",
    )
    first = table.iloc[0]
    cec = f"{first['cec_sign']}{story.amount(first['cec'], 'cmol/kg')}"
    whole = f"; the whole is {cec} ({first['method']})"
    label = "share of the exchange capacity [%]" + (whole if table["cec"].notna().all() else "")
    label += f"; \u25a1\u00a0{before}, \u25a0\u00a0{season}" if before else ""
    limits = span([*table["share"], *table["share_before"]])
    words = story.saturation_words(results, bed=bed, season=season, before=before)
    return draw_rows(Rows(table, limits, label, _draw), words=words, size=size_of(size))
