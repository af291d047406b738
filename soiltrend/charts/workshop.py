"""One measure in several gardens, called by letters, on one scale."""

from __future__ import annotations

import numpy as np

from soiltrend import story, vocabulary
from soiltrend.charts.change import bed_rows, labelled, span, written
from soiltrend.charts.chart import Chart, measured
from soiltrend.charts.rows import Rows, draw_rows
from soiltrend.charts.style import size_of
from soiltrend.errors import SoiltrendError
from soiltrend.workshop import Workshop


def chart_workshop(workshop: Workshop, *, analyte: str, size: str = "web") -> Chart:
    """Draw one measure in every garden of a workshop, before and after, on one scale.

    Only gardens measured by one method stand on the scale: the method most of them share; the
    subtitle says how many others there are.

    Parameters
    ----------
    workshop : Workshop
        What :func:`soiltrend.workshop` gave.
    analyte : str
        The measure.
    size : str
        "talk", "web", "newsletter" or "print".

    Returns
    -------
    Chart
        A matplotlib figure with ``words`` and ``data``; without marks, and saying so, when no garden
        has two tests of the measure.

    Raises
    ------
    SoiltrendError
        When the measure is not known at all.
    """
    name = vocabulary.analytes().get(vocabulary.key(analyte), analyte)
    rows = workshop.table[workshop.table["analyte"] == name]
    if rows.empty and not vocabulary.facts(name):
        raise SoiltrendError(f"'{analyte}' is not a measure known here", remedy="Take one from the table.")
    compared = rows[rows["verdict"] != "not comparable"]
    method = compared["method"].mode().iloc[0] if len(compared) else ""
    part = compared[compared["method"] == method]
    words = story.workshop_words(workshop, analyte=name, method=method)
    part = written(labelled(part.assign(bed=part["garden"]), part["garden"])).reset_index(drop=True)
    label = measured(name, units=part["unit"], methods=[method])
    limits = span(part) if np.isfinite(part["before"].to_numpy(dtype=float)).any() else (0.0, 1.0)
    return draw_rows(Rows(part, limits, label, bed_rows), words=words, size=size_of(size))
