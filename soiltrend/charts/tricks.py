"""The tricks by which a comparison is made to say more than it carries, one drawing each."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from soiltrend import frames, present, scales, story
from soiltrend.charts.bars import bar, zero
from soiltrend.charts.chart import Chart, chart_of
from soiltrend.charts.panels import Panels, draw_panels
from soiltrend.charts.rows import Rows, draw_rows
from soiltrend.charts.style import BLUE, INK, VERMILION, Size
from soiltrend.story import Words

PICKED = 3
"""Measures that the trick of picking shows."""

ALL_BEDS = "all beds"
SHARE = " saturation"
AHEAD = 60
"""Most years that two dates are drawn on, when nothing happens before."""


@dataclass(frozen=True)
class Trick:
    """A chart of a trick: what is claimed with which figures, and how it is drawn at a size."""

    claim: str
    figures: Mapping[str, object]
    draw: Callable[[Words, Size], Chart]


def _written(table: pd.DataFrame, said: list[str]) -> pd.DataFrame:
    return table.assign(said=said, short=said, weight="normal").reset_index(drop=True)


def _steps(rows: pd.DataFrame) -> list[str]:
    """Return before and after of each row in words."""
    ends = zip(rows["before"], rows["after"], strict=True)
    return [f"{present.number(before)} \u2192 {present.number(after)}" for before, after in ends]


def _claim(up: bool) -> str:
    """Return the column of the claim that fits."""
    return "claim_up" if up else "claim_down"


def _drawn(rows: pd.DataFrame) -> pd.Series:
    """Return how far each row goes as it is drawn; ``change`` is without what the season alone moves."""
    step: pd.Series = rows["after"] - rows["before"]
    return step


def _up(rows: pd.DataFrame) -> bool:
    """Return whether more rows are drawn upwards than down."""
    step = _drawn(rows)
    return bool((step > 0).sum() >= (step < 0).sum())


def _beds(table: pd.DataFrame, analyte: str) -> pd.DataFrame:
    """Return the beds of a measure, the greatest after first."""
    rows = table[(table["analyte"] == analyte) & (table["bed"] != frames.GARDEN)]
    rows = rows.sort_values("after", ascending=False, kind="stable").drop_duplicates("bed")
    return rows.assign(label=rows["bed"])


def _place(rows: pd.DataFrame) -> str:
    """Return the only bed that rows are of, or words for all of them."""
    beds = rows["bed"].unique()
    return str(beds[0]) if len(beds) == 1 and beds[0] != frames.GARDEN else ALL_BEDS


def _cut_axis(table: pd.DataFrame, analyte: str) -> Trick | None:
    """Return bars that begin just under the least value."""
    rows = _beds(table, analyte)
    if rows.empty:
        return None
    ends = rows[["before", "after"]].to_numpy(dtype=float)
    low, high = float(ends.min()), float(ends.max())
    room = 0.15 * (high - low) or 0.5
    limits = (low - room, high + room)

    def draw(axes: Axes, part: pd.DataFrame) -> None:
        """Draw the trick."""
        for at, row in enumerate(part.to_dict("records")):
            for end, lift, ink in (("before", 0.19, BLUE), ("after", -0.19, VERMILION)):
                axes.barh([-at + lift], [row[end] - limits[0]], left=limits[0], height=0.34, color=ink)

    shown = Rows(_written(rows, _steps(rows)), limits, story.spoken(analyte), draw)
    name = {"name": story.spoken(analyte)}
    return Trick(_claim(_up(rows)), name, lambda words, size: draw_rows(shown, words=words, size=size))


def _picked(table: pd.DataFrame, analyte: str) -> Trick | None:  # noqa: ARG001 (all tricks are called alike)
    """Return the few measures that went furthest the way that tells a story."""
    compared = table[table["whole"]].drop_duplicates("analyte")
    rows = table[table["whole"] & np.isfinite(table["percent"])]
    rows = rows.sort_values("percent", kind="stable").drop_duplicates("analyte")
    if rows.empty:
        return None
    up = bool(rows["percent"].iloc[-1] >= -rows["percent"].iloc[0])
    picked = rows.iloc[::-1].head(PICKED) if up else rows.head(PICKED)
    picked = picked.assign(label=[story.spoken(name) for name in picked["analyte"]])
    reach = 1.1 * float(picked["percent"].abs().max()) or 1.0

    def draw(axes: Axes, part: pd.DataFrame) -> None:
        """Draw the trick."""
        for at, row in enumerate(part.to_dict("records")):
            bar(axes, row["percent"], -at)
        zero(axes)

    said = [f"{row['percent']:+.0f} %".replace("-", "\u2212") for _, row in picked.iterrows()]
    limits = (0.0, reach) if up else (-reach, 0.0)
    shown = Rows(_written(picked, said), limits, "change [%]", draw)
    figures = {"listed": story.listed(list(picked["label"])), "shown": len(picked), "of": len(compared)}
    return Trick(_claim(up), figures, lambda words, size: draw_rows(shown, words=words, size=size))


def _unlike_days(table: pd.DataFrame, analyte: str) -> Trick | None:
    """Return an arrow for every bed, however short, and no band."""
    rows = _beds(table, analyte)
    if rows.empty:
        return None
    up = _up(rows)
    ends = rows[["before", "after"]].to_numpy(dtype=float)
    room = 0.08 * float(ends.max() - ends.min()) or 0.5

    def draw(axes: Axes, part: pd.DataFrame) -> None:
        """Draw the trick."""
        size = chart_of(axes).size.body
        for at, row in enumerate(part.to_dict("records")):
            arrow = {
                "arrowstyle": "-|>",
                "color": VERMILION,
                "lw": size / 5,
                "shrinkA": 0,
                "shrinkB": 0,
                "mutation_scale": 1.4 * size,
            }
            axes.annotate("", (row["after"], -at), (row["before"], -at), arrowprops=arrow)

    step = _drawn(rows) if up else -_drawn(rows)
    moved = int((step > 0).sum())
    limits = (float(ends.min()) - room, float(ends.max()) + room)
    shown = Rows(_written(rows, _steps(rows)), limits, story.spoken(analyte), draw)
    figures = {"name": story.spoken(analyte), "moved": moved, "of": len(rows)}
    return Trick(_claim(up), figures, lambda words, size: draw_rows(shown, words=words, size=size))


def _joined(table: pd.DataFrame, analyte: str) -> Trick | None:
    """Return a line through two dates, drawn on until something happens."""
    rows = _beds(table, analyte)
    if rows.empty:
        return None
    ends = rows[["before", "after"]].to_numpy(dtype=float)
    on = np.broadcast_to(rows["scale"].to_numpy()[:, None], ends.shape)
    before, after = map(float, scales.back(scales.forward(ends, on).mean(axis=0), on[0]))
    years = (float(rows["year_before"].iloc[0]), float(rows["year_after"].iloc[0]))
    slope = (after - before) / (years[1] - years[0])
    goal = 2 * after if slope >= 0 else 0.0
    ahead = float(np.clip((goal - after) / slope, 1, AHEAD)) if slope else float(AHEAD)
    place = _place(rows)
    data = pd.DataFrame({"bed": place, "year": years, "value": (before, after)})

    def draw(axes: Axes, name: str, width: float) -> None:  # noqa: ARG001 (the one panel there is)
        """Draw the trick."""
        size = chart_of(axes).size.body
        axes.plot(data["year"], data["value"], color=VERMILION, lw=size / 4, marker="o", ms=0.6 * size)
        on = (years[1], years[1] + ahead)
        axes.plot(on, (after, after + slope * ahead), color=VERMILION, lw=size / 4, ls="--")
        axes.locator_params(axis="x", integer=True, nbins=4)
        axes.locator_params(axis="y", nbins=4)
        axes.xaxis.set_major_formatter(lambda x, _: f"{x:.0f}")

    panels = Panels({place: story.spoken(analyte)}, data, "", draw)
    figures = {"name": story.spoken(analyte), "year": f"{years[1] + ahead:.0f}"}
    return Trick(_claim(slope >= 0), figures, lambda words, size: draw_panels(panels, words=words, size=size))


def _shares(table: pd.DataFrame, analyte: str) -> Trick | None:
    """Return the shares of one bed before and after, and no amount."""
    rows = table[table["analyte"].str.endswith(SHARE) & (table["bed"] != frames.GARDEN)]
    rows = rows[~rows["analyte"].str.startswith("base") & (rows["before"] > 0)]
    if rows.empty:
        return None
    rows = rows[rows["bed"] == rows["bed"].iloc[0]]
    asked = rows[rows["analyte"] == analyte + SHARE]
    pool = asked if len(asked) else rows
    worst = pool.iloc[int((pool["after"] / pool["before"]).to_numpy().argmin())]
    mine = rows.assign(label=[story.spoken(name.removesuffix(SHARE)) for name in rows["analyte"]])
    limits = (0.0, 1.06 * float(mine[["before", "after"]].max(axis=None)))

    def draw(axes: Axes, part: pd.DataFrame) -> None:
        """Draw the trick."""
        for at, row in enumerate(part.to_dict("records")):
            for end, lift, look in (("before", 0.18, "open"), ("after", -0.18, "filled")):
                bar(axes, row[end], -at + lift, look=look, thick=0.26)

    shown = Rows(_written(mine, [f"{text} %" for text in _steps(mine)]), limits, "share [%]", draw)
    ends = {end: present.number(worst[end], digits=2) for end in ("before", "after")}
    figures = {"name": story.spoken(worst["analyte"].removesuffix(SHARE)), **ends}
    up = bool(worst["after"] >= worst["before"])
    return Trick(_claim(up), figures, lambda words, size: draw_rows(shown, words=words, size=size))


def _beside(axes: Axes, measure: str, values: np.ndarray, *, side: str, size: float) -> None:
    """Write the name of a measure at one end of its line, on the side from which the line goes away."""
    end = 0 if side == "left" else 1
    above = (values[1] < values[0]) == (side == "left")
    axes.annotate(story.spoken(measure), (end, values[end]), (0, (0.4 if above else -0.4) * size),
                  textcoords="offset points", size=size, color=INK, ha=side, va="bottom" if above else "top")


def _two_axes(table: pd.DataFrame, analyte: str) -> Trick | None:
    """Return two measures on two scales, chosen to make them cross or go together."""
    rows = table[table["whole"] & np.isfinite(table["change"])]
    rows = rows.drop_duplicates("analyte").set_index("analyte")
    if len(rows) < 2:
        return None
    one = analyte if analyte in rows.index else str(rows.index[0])
    others = rows.drop(index=one)
    amounts = others[others["unit"] == "mg/kg"]
    pool = amounts if len(amounts) else others
    other = str(pool["change"].abs().div(pool["before"].abs()).idxmax())
    step = _drawn(rows)
    same = bool(step[one] * step[other] >= 0)
    place = _place(rows)
    data = rows.loc[[one, other]].reset_index().assign(bed=place)

    def draw(axes: Axes, name: str, width: float) -> None:  # noqa: ARG001 (the one panel there is)
        """Draw the trick."""
        size = chart_of(axes).size.body
        for measure, ink, at, side in ((one, BLUE, axes, "left"), (other, VERMILION, axes.twinx(), "right")):
            values = rows.loc[measure, ["before", "after"]].astype(float).to_numpy()
            room = 0.3 * abs(values[1] - values[0]) or 0.5
            at.plot([0, 1], values, color=ink, lw=size / 4, ls="-" if side == "left" else "--")
            at.set_ylim(values.min() - room, values.max() + room)
            at.set_yticks([])
            _beside(at, measure, values, side=side, size=size)
            at.spines[:].set_visible(False)
        axes.set_xticks([0, 1], ["before", "after"])
        axes.set_xlim(-0.15, 1.15)

    panels = Panels({place: "each on a scale of its own"}, data, "", draw)
    first, second = (one, other) if step[one] >= 0 else (other, one)
    figures = {"name": story.spoken(first), "other": story.spoken(second)}
    return Trick(_claim(same), figures, lambda words, size: draw_panels(panels, words=words, size=size))


TRICKS: dict[str, Callable[[pd.DataFrame, str], Trick | None]] = {
    "cut axis": _cut_axis,
    "picked measures": _picked,
    "unlike days": _unlike_days,
    "two dates joined": _joined,
    "shares alone": _shares,
    "two axes": _two_axes,
}
"""Each draws the rows of a comparison, about one measure; nothing where it has no rows to draw."""
