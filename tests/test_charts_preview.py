"""A chart as others see it: the colours are turned as an independent library turns them."""

import io

import numpy as np
import pytest
from colorspacious import deltaE
from daltonlens import simulate
from matplotlib.colors import to_rgb
from pictures import overlaps, texts, web
from PIL import Image

from soiltrend.charts import preview
from soiltrend.charts.preview import EYES, seen
from soiltrend.charts.style import BLUE, VERMILION

KIND = {
    "protanomaly": simulate.Deficiency.PROTAN,
    "deuteranomaly": simulate.Deficiency.DEUTAN,
    "tritanomaly": simulate.Deficiency.TRITAN,
}


@pytest.mark.parametrize("eye", KIND)
def test_colours_are_turned_as_by_another_library(eye):
    """DaltonLens 0.1.5, model of Machado et al. (2009), on a cube of colours, to the last of 255 steps."""
    levels = np.linspace(0, 255, 6).astype(np.uint8)
    cube = np.stack(np.meshgrid(levels, levels, levels), axis=-1).reshape(1, -1, 3)
    theirs = simulate.Simulator_Machado2009().simulate_cvd(cube, KIND[eye], severity=1.0) / 255
    assert seen(cube / 255, eye=eye) == pytest.approx(theirs, abs=0.006)


@pytest.mark.parametrize("eye", ["", *KIND])
def test_the_two_inks_are_told_apart_by_every_eye(eye):
    """Ten units of CAM02-UCS are plain to see (common practice); the inks lie three times as far."""
    one, other = (seen(np.array(to_rgb(ink)), eye=eye) for ink in (BLUE, VERMILION))
    assert deltaE(one, other, input_space="sRGB1") > 30


def test_grey_has_no_colour_and_keeps_black_and_white():
    """Every grey has equal parts; the ends stay."""
    greys = seen(np.array([[0.0, 0, 0], [1, 1, 1], to_rgb(BLUE), to_rgb(VERMILION)]), eye="grey")
    assert np.ptp(greys, axis=-1) == pytest.approx(0)
    assert greys[:2, 0] == pytest.approx([0, 1], abs=0.01)


def test_a_preview_shows_five_copies_by_name():
    """As drawn, in grey, and three deficiencies; no name runs into another."""
    sheet = preview(web("change of a measure"))
    assert len(sheet.axes) == len(EYES)
    named = [text.get_text() for text, _ in texts(sheet)]
    assert set(EYES) <= set(named)
    assert overlaps(sheet) == []
    assert sheet.words.alt.startswith("Five copies of a chart")


def test_the_grey_copy_is_grey():
    """In the picture that is shown."""
    sheet = preview(web("change of a measure"), size="newsletter")
    image = sheet.axes[1].images[0].get_array()
    assert (image[..., 0] == image[..., 1]).all()
    assert (sheet.axes[0].images[0].get_array()[..., 0] != sheet.axes[0].images[0].get_array()[..., 2]).any()


def test_a_preview_is_a_chart():
    """It can be shown and saved like any other."""
    sheet = preview(web("one bed"), size="newsletter")
    drawn = io.BytesIO()
    sheet.savefig(drawn, format="png")
    assert Image.open(drawn).width == 992
