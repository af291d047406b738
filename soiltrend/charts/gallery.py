"""Several charts of one comparison, shown and saved together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from soiltrend import frames, writing
from soiltrend.charts.change import chart_change
from soiltrend.charts.chart import Chart
from soiltrend.charts.drift import chart_drift
from soiltrend.charts.save import save_chart
from soiltrend.charts.style import size_of
from soiltrend.compare import Comparison
from soiltrend.drift import Drift


@dataclass(frozen=True, eq=False)
class Gallery:
    """Charts by name, in order.

    Attributes
    ----------
    charts : dict of str to Chart
        The name each chart is known by, such as its bed.
    """

    charts: dict[str, Chart]

    def __repr__(self) -> str:
        """Return the headlines, one a line."""
        return "\n".join(chart.words.headline for chart in self.charts.values()) or "(no charts)"

    def __iter__(self) -> Iterator[Chart]:
        """Go through the charts in order."""
        return iter(self.charts.values())

    def _ipython_display_(self) -> None:
        from IPython.display import display  # only where a notebook shows the charts

        for chart in self:
            display(chart)  # type: ignore[no-untyped-call]


def chart_beds(comparison: Comparison, *, size: str = "web") -> Gallery:
    """Draw every bed of a comparison, all its measures against noise.

    Parameters
    ----------
    comparison : Comparison
        What :func:`soiltrend.compare` gave.
    size : str
        As for :func:`chart_change`.
    """
    beds = [bed for bed in comparison.table["bed"].unique() if bed != frames.GARDEN]
    return Gallery({bed: chart_change(comparison, bed=bed, size=size) for bed in beds})


def chart_drifts(drift: Drift, *, size: str = "web") -> Gallery:
    """Draw every bed's ratios and shares against their bands.

    Parameters
    ----------
    drift : Drift
        What :func:`soiltrend.drift` gave.
    size : str
        As for :func:`chart_drift`.
    """
    return Gallery({bed: chart_drift(drift, bed=bed, size=size) for bed in drift.table["bed"].unique()})


def save_charts(gallery: Gallery, folder: str | Path, *, size: str = "web", prefix: str = "") -> int:
    """Save every chart of a gallery into a folder and return how many there are.

    Names that come out alike are numbered, so that no chart overwrites another.
    """
    stems = writing.file_names([f"{prefix} {name}" for name in gallery.charts])
    for stem, chart in zip(stems, gallery.charts.values(), strict=True):
        save_chart(chart, Path(folder) / f"{stem}.png", size=size)
    return len(gallery.charts)


def pages(chart: Chart, *, size: str = "talk") -> Gallery:
    """Draw a chart at a size on as many pictures as it needs there, its type in full size on each.

    Parameters
    ----------
    chart : Chart
        What a ``chart_*`` function returned.
    size : str
        "talk" (1920 x 1080 pixels), "web", "newsletter" or "print".

    Returns
    -------
    Gallery
        One picture where it fits; else several, each saying which part of the whole it shows.
    """
    drawn = chart.pages(size_of(size))
    return Gallery({f"{at} of {len(drawn)}": picture for at, picture in enumerate(drawn, start=1)})
