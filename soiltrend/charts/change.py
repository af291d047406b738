"""The change charts: one bed with all its measures against noise, one measure over all beds."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from soiltrend import frames, present, story, tables, vocabulary
from soiltrend.charts.chart import Chart, chart_of, measured, only, rule
from soiltrend.charts.rows import Rows, draw_rows
from soiltrend.charts.style import BAND, BLUE, INK, QUIET, VERMILION, size_of
from soiltrend.compare import Comparison
from soiltrend.errors import SoiltrendError

WIDEST = 5.0
"""Widest scale of the noise chart, in noise bands; marks beyond it stand at the edge as arrows."""

EDGE = 0.97
"""Where an interval that goes on beyond the scale is cut, as a share of the scale."""

ARROW = "\u2192"


def _order(analyte: pd.Series) -> pd.Series:
    """Return the place of each analyte in the trade's order (pH, humus, exchange, nutrients)."""
    place = {name: at for at, name in enumerate(tables.load("analytes")["analyte"])}
    return analyte.map(lambda name: place.get(name, len(place)))


def _pick(comparison: Comparison, *, column: str, wanted: str) -> pd.DataFrame:
    """Return the comparison's rows of one bed or analyte; none for an analyte that was not measured."""
    table = comparison.table[comparison.table[column] == wanted]
    absent = comparison.table.empty or (column == "analyte" and bool(vocabulary.facts(wanted)))
    if table.empty and not absent:
        known = ", ".join(f"'{name}'" for name in comparison.table[column].unique())
        raise SoiltrendError(f"the comparison holds no {column} '{wanted}'", remedy=f"It holds: {known}.")
    return table.assign(season_before=comparison.before, season_after=comparison.after)


def _amounts(row: pd.Series) -> str:
    """Return a row's two values in words ("180 -> 201 mg/kg")."""
    unit = f" {story.unit_of(row['unit'])}".rstrip()
    signs = [str(row.get(f"{end}_censored", "") or "") for end in ("before", "after")]
    before, after = (present.number(row[end]) for end in ("before", "after"))
    return f"{signs[0]}{before} {ARROW} {signs[1]}{after}{unit}"


def _said(row: pd.Series) -> str:
    """Return a row's verdict and amounts in words."""
    if row["verdict"] == "not comparable":
        return "not comparable"
    return f"{row['verdict']}  {_amounts(row)}"


def _short(row: pd.Series) -> str:
    """Return a row's change in as few signs as can be: per cent, or points for pH and shares."""
    if row["verdict"] == "not comparable":
        return "n. c."
    per_cent = row["unit"] in ("mg/kg", "ratio")
    change = row["percent"] if per_cent else row["change"]
    if not np.isfinite(change):
        return "?"
    size = f"{abs(change):.0f} %" if per_cent else present.number(abs(change), digits=2)
    return ("+" if change >= 0 else "\u2212") + size


def written(table: pd.DataFrame) -> pd.DataFrame:
    """Return the table with the words that stand in each row."""
    weight = np.where(table["bed"] == frames.GARDEN, "bold", "normal")
    return table.assign(said=table.apply(_said, axis=1), short=table.apply(_short, axis=1), weight=weight)


def mark(axes: Axes, x: float, y: float, *, verdict: str, size: float) -> None:
    """Draw one mark: filled vermilion when changed, filled blue square when held, else open."""
    style = {
        "rose": ("o", VERMILION, VERMILION),
        "fell": ("o", VERMILION, VERMILION),
        "held": ("s", BLUE, BLUE),
    }.get(verdict, ("o", "white", QUIET))
    shape, fill, edge = style
    low, high = axes.get_xlim()
    if not low <= x <= high:
        shape, x = (">", high) if x > high else ("<", low)
    axes.plot([x], [y], marker=shape, ms=size, mfc=fill, mec=edge, mew=size / 6, clip_on=False, zorder=4)


def _noise_rows(axes: Axes, part: pd.DataFrame) -> None:
    """Draw the noise band and the marks of a bed's measures."""
    low, high = axes.get_xlim()
    axes.axvspan(-1, 1, color=BAND, zorder=0)
    axes.axvline(0, color=QUIET, lw=chart_of(axes).size.body / 12, zorder=1)
    size = 0.45 * chart_of(axes).size.body
    for at, row in part.iterrows():
        y = -float(at)  # type: ignore[arg-type]  # the index was reset to 0, 1, 2 ...
        if row["verdict"] == "not comparable":
            continue
        ends = np.nan_to_num(np.array([row["in_noise_low"], row["in_noise_high"]], dtype=float), nan=0.0)
        ends = np.clip(ends, EDGE * low, EDGE * high)
        axes.plot(ends, [y, y], color=INK, lw=size / 5, solid_capstyle="butt", zorder=3)
        if np.isfinite(row["in_noise"]):
            mark(axes, row["in_noise"], y, verdict=row["verdict"], size=size)


def labelled(table: pd.DataFrame, names: pd.Series) -> pd.DataFrame:
    """Return the table with its labels; rows of one name bear what tells them apart."""
    apart = story.told_apart(table, names=names)
    return table.assign(label=names.where(apart == "", names + ", " + apart))


def _nothing(table: pd.DataFrame, *, words: story.Words, size: str) -> Chart:
    """Return a chart that says why there is nothing to compare."""
    return draw_rows(Rows(table, (-1.0, 1.0), "", _noise_rows), words=words, size=size_of(size))


def _of_bed(comparison: Comparison, bed: str, size: str) -> Chart:
    table = _pick(comparison, column="bed", wanted=bed)
    if table.empty:
        return _nothing(table, words=story.uncompared_words(comparison, bed=bed), size=size)
    table = table.assign(order=_order(table["analyte"])).sort_values(
        ["order", "analyte", "method"], kind="stable"
    )
    table = written(labelled(table, table["analyte"])).assign(weight="normal")
    reach = float(np.nanmax(np.abs(table["in_noise"].to_numpy(dtype=float)), initial=0.0))
    limit = min(WIDEST, max(2.5, 1.15 * reach))
    rows = Rows(
        table.drop(columns="order"),
        (-limit, limit),
        "change, in noise bands (grey: what noise alone does)",
        _noise_rows,
    )
    return draw_rows(rows, words=story.change_words(comparison, bed=bed), size=size_of(size))


def bed_rows(axes: Axes, part: pd.DataFrame) -> None:
    """Draw before and after of each bed, and the interval of the change."""
    size = 0.45 * chart_of(axes).size.body
    low, high = axes.get_xlim()
    rule(axes)
    for at, row in part.iterrows():
        y = -float(at)  # type: ignore[arg-type]  # the index was reset to 0, 1, 2 ...
        if row["bed"] == frames.GARDEN:
            axes.axhline(y + 0.5, color=QUIET, lw=chart_of(axes).size.body / 12)
        if row["verdict"] != "not comparable":
            ends = np.clip([row["before"] + row["low"], row["before"] + row["high"]], low, high)
            axes.plot(ends, [y, y], color=QUIET, lw=size / 5, zorder=2)
        axes.plot([row["before"]], [y], marker="o", ms=size, mfc="white", mec=BLUE, mew=size / 4, zorder=4)
        axes.plot([row["after"]], [y], marker="o", ms=size, mfc=VERMILION, mec=VERMILION, zorder=5)


def span(table: pd.DataFrame) -> tuple[float, float]:
    """Return the scale that holds all marks and finite intervals, a little wider."""
    ends = (
        pd.concat(
            [table["before"], table["after"], table["before"] + table["low"], table["before"] + table["high"]]
        )
        .replace([np.inf, -np.inf], np.nan)
        .dropna()
    )
    low, high = (float(ends.min()), float(ends.max())) if len(ends) else (0.0, 1.0)
    edge = 0.06 * (high - low) or 0.5
    return low - edge, high + edge


def _of_analyte(comparison: Comparison, analyte: str, beds: Sequence[str] | None, size: str) -> Chart:
    table = _pick(comparison, column="analyte", wanted=analyte)
    if table.empty:
        return _nothing(table, words=story.uncompared_words(comparison, analyte=analyte), size=size)
    table = labelled(table, story.pooled(table))[~story.lone(table)]
    garden = table["bed"] == frames.GARDEN
    table, shown = only(
        pd.concat([table[~garden].sort_values("after", ascending=False, kind="stable"), table[garden]]), beds
    )
    table = written(table)
    label = measured(analyte, units=table["unit"], methods=table["method"])
    rows = Rows(table, span(table), label, bed_rows)
    words = story.with_note(story.beds_words(comparison, analyte=analyte), shown)
    return draw_rows(rows, words=words, size=size_of(size))


def chart_change(
    comparison: Comparison,
    *,
    bed: str | None = None,
    analyte: str | None = None,
    beds: Sequence[str] | None = None,
    size: str = "web",
) -> Chart:
    """Draw a comparison.

    Parameters
    ----------
    comparison : Comparison
        What :func:`soiltrend.compare` gave.
    bed : str, optional
        One bed, all its measures on a scale of noise bands: a mark outside the grey band
        moved more than sampling, laboratory and day move by themselves. Without ``bed`` and
        ``analyte`` the garden's pooled rows are drawn, or the only bed that can be compared.
    analyte : str, optional
        One measure over all beds in its own unit, before (open, blue) and after (filled,
        vermilion).
    beds : sequence of str, optional
        With ``analyte``: the beds to show, in this order; the picture says how many of all.
    size : str
        "talk" (1920 x 1080 pixels), "web", "newsletter" or "print".

    Returns
    -------
    Chart
        A matplotlib figure with ``words`` and ``data``.

    Raises
    ------
    SoiltrendError
        When both or an unknown bed or analyte is asked for, or the rows do not fit.
    """
    if bed is not None and analyte is not None:
        raise SoiltrendError(
            f"bed '{bed}' and analyte '{analyte}' were both asked for",
            remedy="Draw one bed with all its measures, or one measure over all beds.",
        )
    if analyte is not None:
        return _of_analyte(
            comparison, vocabulary.analytes().get(vocabulary.key(analyte), analyte), beds, size
        )
    return _of_bed(comparison, story.whole(comparison) if bed is None else bed, size)
