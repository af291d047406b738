"""The strips under a panel's axis: when the bed was dressed, and what was taken off it."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.dates import date2num
from matplotlib.transforms import offset_copy

from soiltrend.charts.chart import chart_of
from soiltrend.charts.style import INK, QUIET, Size, is_right_to_left, isolate, text_width
from soiltrend.garden import Garden


@dataclass(frozen=True)
class Strips:
    """Dressings and harvests within the days a chart shows, and the key to their marks.

    Attributes
    ----------
    applications, harvests : DataFrame
        As in the garden.
    key : str
        What the marks mean, to stand beside what is measured.
    """

    applications: pd.DataFrame
    harvests: pd.DataFrame
    key: str

    @property
    def lines(self) -> int:
        """Lines of type the strips take."""
        return int(len(self.applications) > 0) + int(len(self.harvests) > 0)


def strips_of(garden: Garden, *, within: pd.Series) -> Strips:
    """Return the dressings and harvests of a garden between the first and the last of some days."""
    first, last = within.min(), within.max()
    logged = garden.applications[garden.applications["amount"] > 0]  # 0 says that nothing went on
    applications, harvests = (
        frame[(frame["date"] >= first) & (frame["date"] <= last)] for frame in (logged, garden.harvests)
    )
    key = ("; \u25b2\u00a0dressing" if len(applications) else "") + (
        "; |\u00a0harvest" if len(harvests) else ""
    )
    return Strips(applications, harvests, key)


def strip_lines(strips: int, size: Size) -> int:
    """Return the lines of type that strips take: one for all of them where the height is given."""
    return min(strips, 1) if size.height else strips


def draw_strips(axes: Axes, strips: Strips, *, bed: str, size: Size) -> None:
    """Draw the marks of one bed under its axis, dressings above harvests."""
    figure, line, tight = chart_of(axes), 0.0, bool(size.height) and strips.lines > 1
    for frame, mark, named in ((strips.applications, "^", False), (strips.harvests, "|", True)):
        if frame.empty:
            continue
        mine = frame[frame["bed"] == bed].sort_values("date", kind="stable")
        at = offset_copy(
            axes.get_xaxis_transform(),
            fig=figure,
            y=-((0.4 + 0.6 * line) if tight else (0.75 + 1.3 * line)) * size.body,
            units="points",
        )
        axes.plot(
            date2num(mine["date"]),
            [0.0] * len(mine),
            ls="",
            marker=mark,
            ms=(0.35 if tight else 0.5) * size.body,
            mew=0.1 * size.body,
            mfc=INK,
            mec=INK,
            transform=at,
            clip_on=False,
        )
        if named and not tight and len(mine):
            _name(axes, mine, at=at, size=size)
        line += 1


def _name(axes: Axes, harvests: pd.DataFrame, *, at: object, size: Size) -> None:
    """Write the crops to the right of their marks, each where it runs into no other mark, name or edge."""
    figure, (low, high) = chart_of(axes), axes.get_xlim()
    width = axes.get_position().width * figure.get_size_inches()[0]
    inch, pad = (high - low) / width, 0.3 * size.body / 72
    days = date2num(harvests["date"])
    ends = [*days[1:], high]
    for day, end, crop in zip(days, ends, harvests["crop"], strict=True):
        if day + (text_width(figure, crop, size.body) + 2 * pad) * inch <= end:
            text = isolate(crop, [crop] if is_right_to_left(crop) else [])
            axes.text(
                day + pad * inch,
                0.0,
                text,
                transform=at,
                size=size.body,
                color=QUIET,
                va="center",
                parse_math=False,
            )
