"""Several charts of one comparison, shown and saved together."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from soiltrend import frames
from soiltrend.charts.change import chart_change
from soiltrend.charts.chart import Chart
from soiltrend.charts.drift import chart_drift
from soiltrend.charts.save import save_chart
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


def file_name(name: str) -> str:
    """Return a name that every system takes as a file's: letters, digits and hyphens.

    Examples
    --------
    >>> file_name("K:Mg (charge), Brûlé")
    'k-mg-charge-brûlé'
    """
    return re.sub(r"[\W_]+", "-", name.casefold()).strip("-") or "chart"


def save_charts(gallery: Gallery, folder: str | Path, *, size: str = "web", prefix: str = "") -> int:
    """Save every chart of a gallery into a folder and return how many there are.

    Names that come out alike are numbered, so that no chart overwrites another.
    """
    taken: dict[str, int] = {}
    for name, chart in gallery.charts.items():
        stem = file_name(f"{prefix} {name}")
        taken[stem] = taken.get(stem, 0) + 1
        save_chart(
            chart, Path(folder) / f"{stem}{'' if taken[stem] == 1 else f'-{taken[stem]}'}.png", size=size
        )
    return len(gallery.charts)
