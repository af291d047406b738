"""A chart as others see it: in grey, and with the common deficiencies of colour vision.

The colours are turned by the model of Machado, Oliveira & Fernandes (2009, IEEE Transactions on
Visualization and Computer Graphics 15: 1291-1298), at full severity; grey is the lightness of CIECAM02,
which is how dark a colour looks and not what a channel holds.
"""

from __future__ import annotations

import io

import numpy as np
import pandas as pd
from PIL import Image

from soiltrend.charts.chart import COLOURS, MARGIN, Chart, header
from soiltrend.charts.style import INK, QUIET, Size, line_height, one_look, size_of
from soiltrend.story import Words

FULL = 100
"""Severity of a deficiency [%]: the colour is not seen at all."""

EYES = {
    "as drawn": "",
    "in grey, as a copier prints it": "grey",
    "without red (protan)": "protanomaly",
    "without green (deutan)": "deuteranomaly",
    "without blue (tritan)": "tritanomaly",
}
"""What each picture of the preview is called, and the deficiency it shows."""

GAP = 0.25
"""Room between the pictures [inches]."""


def seen(colours: np.ndarray, *, eye: str) -> np.ndarray:
    """Return colours as an eye sees them.

    Parameters
    ----------
    colours : array
        sRGB from 0 to 1, the last axis being red, green and blue.
    eye : str
        "" (as they are), "grey", "protanomaly", "deuteranomaly" or "tritanomaly".

    Examples
    --------
    >>> seen(np.array([[1.0, 0.0, 0.0]]), eye="grey").round(2).tolist()
    [[0.54, 0.54, 0.54]]
    """
    from colorspacious import cspace_convert  # only where a preview is made

    if not eye:
        return colours
    if eye == "grey":
        look = cspace_convert(colours, "sRGB1", "JCh")
        look[..., 1] = 0.0
        grey = cspace_convert(look, "JCh", "sRGB1").mean(axis=-1, keepdims=True)
        turned = np.broadcast_to(grey, colours.shape)
    else:
        space = {"name": "sRGB1+CVD", "cvd_type": eye, "severity": FULL}
        turned = cspace_convert(colours, space, "sRGB1")
    shown: np.ndarray = np.clip(np.asarray(turned, dtype=float), 0.0, 1.0)
    return shown


def _picture(chart: Chart) -> Image.Image:
    """Return the chart as a picture of few colours, so that only its palette need be turned."""
    drawn = io.BytesIO()
    chart.savefig(drawn, format="png")
    return Image.open(drawn).convert("RGB").quantize(COLOURS, method=Image.Quantize.FASTOCTREE)


def _turned(picture: Image.Image, eye: str) -> np.ndarray:
    """Return the pixels of a picture as an eye sees them, from 0 to 255."""
    palette = np.array(picture.getpalette(), dtype=float).reshape(-1, 3) / 255
    colours = np.round(255 * seen(palette, eye=eye)).astype(np.uint8)
    return np.asarray(colours[np.asarray(picture)])


def _words(chart: Chart) -> Words:
    """Return the words beside a preview."""
    return Words(
        f"Preview: {chart.words.headline}",
        "as drawn, in grey, and as the common deficiencies of colour vision see it",
        "Five copies of one chart. What can be told apart in the first must be told apart in all of them: "
        "marks by shape and filling, bars by hatching, and every value in words. Simulation by Machado, "
        "Oliveira & Fernandes (2009), full severity.",
        f"Five copies of a chart, in colour, in grey and for three colour vision deficiencies. "
        f"{chart.words.headline}.",
    )


def _set_out(chart: Chart, size: Size) -> tuple[int, float, float]:
    """Return how many pictures stand side by side, and the width and height of each [inches]."""
    wide, high = chart.get_size_inches()
    across = 1 if size.width < 5 else 2 if high < 1.2 * wide else 3
    each = (size.width * (1 - 2 * MARGIN) - (across - 1) * GAP) / across
    return across, each, each * high / wide


def preview(chart: Chart, *, size: str = "web") -> Chart:
    """Show a chart as drawn, in grey, and as the common deficiencies of colour vision see it.

    Parameters
    ----------
    chart : Chart
        What a ``chart_*`` function returned.
    size : str
        "web", "newsletter" or "print"; the picture is as high as its five copies need.

    Returns
    -------
    Chart
        Five copies with their names.
    """
    return _preview(chart, size_of(size))


@one_look()
def _preview(chart: Chart, size: Size) -> Chart:
    """Draw the preview of a chart."""
    across, each, deep = _set_out(chart, size)
    line = line_height(size.body)
    down = -(-len(EYES) // across)

    def make(height: float) -> tuple[Chart, float]:
        """Return the sheet of copies at a size."""
        sheet = Chart(
            size,
            height=height,
            words=_words(chart),
            data=pd.DataFrame({"copy": list(EYES), "eye": list(EYES.values())}),
            again=lambda other: _preview(chart, other),
        )
        return sheet, header(sheet)

    top = make(100.0)[1]
    sheet, _ = make(top + down * (deep + 1.6 * line) + 0.5 * line)
    picture = _picture(chart)
    for at, (name, eye) in enumerate(EYES.items()):
        row, column = divmod(at, across)
        place = (MARGIN * size.width + column * (each + GAP), top + row * (deep + 1.6 * line))
        _copy(sheet, _turned(picture, eye), name, place=place, extent=(each, deep))
    return sheet


def _copy(
    sheet: Chart, pixels: np.ndarray, name: str, *, place: tuple[float, float], extent: tuple[float, float]
) -> None:
    """Set one copy on the sheet with its name above, by its distance from the left and the top [inches]."""
    width, height = sheet.get_size_inches()
    line = line_height(sheet.size.body)
    left, top = place
    sheet.text(left / width, 1 - top / height, name, size=sheet.size.body, weight="bold", color=INK, va="top")
    under = top + 1.2 * line
    box = (left / width, 1 - (under + extent[1]) / height, extent[0] / width, extent[1] / height)
    axes = sheet.add_axes(box)
    axes.imshow(pixels, aspect="auto", interpolation="lanczos")
    axes.set_xticks([])
    axes.set_yticks([])
    axes.spines[:].set_color(QUIET)
