"""Every kind of chart at every size: type, overlaps, edges, contrast and zero are measured on the figure."""

import numpy as np
import pytest
from matplotlib.colors import same_color
from matplotlib.text import Text
from pictures import KINDS, SIZES, beds, comparison, contrast, overlaps, pictures, seasons, texts, tidy, web

from soiltrend.charts import chart_change, chart_trend, save_chart
from soiltrend.charts.style import BAND, TYPEFACE
from soiltrend.charts.style import SIZES as KNOWN
from soiltrend.charts.tricks import TRICKS
from soiltrend.latest import compare_latest

FEW = {**dict.fromkeys(TRICKS, ("talk", "newsletter")), "pH": ("talk",), "one bed": ("talk", "newsletter")}
"""Kinds that stand as others do are drawn at the sizes with the least room."""

EACH = [(kind, size) for kind in KINDS for size in FEW.get(kind, SIZES)]


@pytest.mark.parametrize(("kind", "size"), EACH)
def test_every_kind_can_be_read_at_every_size(kind, size):
    """Type is as large as the size promises, no text runs into another, none is cut at an edge."""
    for chart in pictures(kind, size):
        shown = texts(chart)
        assert min(text.get_fontsize() for text, _ in shown) >= chart.size.body
        assert overlaps(chart) == []
        for text, box in shown:
            assert min(box.x0, box.y0) >= 0, text.get_text()
            assert box.x1 <= chart.bbox.x1 + 1, text.get_text()
            assert box.y1 <= chart.bbox.y1 + 1, text.get_text()


@pytest.mark.parametrize(("size", "pixels", "points"), [
    ("talk", 1920, 24), ("web", 1200, 11), ("newsletter", round(8.4 / 2.54 * 300), 8),
    ("print", round(17.4 / 2.54 * 300), 9),
])  # fmt: skip
def test_sizes_are_in_real_units(size, pixels, points):
    """A slide of 1920 x 1080, a column of 8.4 cm and a page of 17.4 cm at 300 dpi, 1200 pixels a screen."""
    known = KNOWN[size]
    assert round(known.width * known.dpi) == pixels
    assert known.body == points
    assert (round(known.height * known.dpi) == 1080) == (size == "talk")


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_stands_out_on_white(kind):
    """Graphics 3:1 and text 4.5:1 or more (WCAG 2.2, 1.4.11 and 1.4.3); only the grey of a band is paler."""
    chart = web(kind)
    assert all(contrast(text.get_color()) >= 4.5 for text, _ in texts(chart))
    for axes in chart.axes:
        for line in axes.lines:
            marked = line.get_marker() not in (None, "", "None")
            assert contrast(line.get_markeredgecolor() if marked else line.get_color()) >= 3
        for patch in axes.patches:
            inks = [patch.get_facecolor(), patch.get_edgecolor()]
            assert max(map(contrast, inks)) >= 3 or same_color(inks[0], BAND)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_set_in_the_typeface_that_comes_with_it(kind):
    """What is drawn by the machine's settings would differ from one machine to the next."""
    assert {text.get_fontfamily()[0] for text in web(kind).findobj(Text)} == {TYPEFACE}


def _bars(chart):
    """Return the ends of every bar that is no band, along the axis it is measured on."""
    for axes in chart.axes:
        for bars in axes.containers:
            for patch in bars.patches:
                if not same_color(patch.get_facecolor(), BAND) or bars.orientation == "vertical":
                    across = bars.orientation == "horizontal"
                    start = patch.get_x() if across else patch.get_y()
                    yield start, start + (patch.get_width() if across else patch.get_height())


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "cut axis"])
def test_bars_start_at_zero(kind):
    """A bar says its number by its length."""
    assert all(0 in ends for ends in _bars(web(kind)))


def test_the_trick_of_the_cut_axis_is_one():
    """The check above can fail: the misleading bars do not start at zero."""
    assert not any(0 in ends for ends in _bars(web("cut axis")))


@pytest.mark.parametrize("number", [1, 8, 30])
@pytest.mark.parametrize("size", ["web", "talk", "newsletter"])
def test_no_bed_is_lost_and_no_type_is_shrunk(number, size):
    """One to thirty beds with long names, accents, Hebrew and Arabic: on as many pictures as they need.

    The mean of the garden stands under them; of one bed there is none.
    """
    chart = chart_change(comparison(number), analyte="K")
    shown = [chart] if size == "web" else chart.pages(KNOWN[size])
    named = [name for page in shown for name in page.data["bed"]]
    assert sorted(named) == sorted([*beds(number), *(["(garden)"] if number > 1 else [])])
    assert all(overlaps(page) == [] for page in (shown[0], shown[-1]))
    assert min(text.get_fontsize() for text, _ in texts(shown[-1])) >= KNOWN[size].body


def test_each_of_several_pictures_says_what_it_shows():
    """Thirty beds in type of 24 pt need several slides, each with its part in its subtitle, on one scale."""
    pages = chart_change(comparison(30), analyte="K").pages(KNOWN["talk"])
    assert len(pages) > 2
    for at, page in enumerate(pages, start=1):
        assert f"picture {at} of {len(pages)}, lines " in page.words.subtitle
        assert page.words.subtitle.endswith(" of 31")
    assert len({axes.get_xlim() for page in pages for axes in page.axes}) == 1


def test_panels_of_many_pictures_share_one_range():
    """The same range in every panel of one measure, over all pictures; each bed has its panel."""
    found, results = seasons(12)
    pages = chart_trend(found, results=results, analyte="K").pages(KNOWN["talk"])
    assert len({axes.get_ylim() for page in pages for axes in page.axes}) == 1
    assert len(pages) > 1
    assert sum(len(page.axes) for page in pages) == 12
    assert overlaps(pages[0]) == []


def test_acidity_is_never_drawn_from_zero_and_said_to_be_logarithmic():
    """pH 6 to 7.1 fills its scale, in a change as over the years."""
    found, results = seasons(1, "pH")
    trend = chart_trend(found, results=results, analyte="pH")
    for low, chart in ((web("pH").axes[0].get_xlim()[0], web("pH")), (trend.axes[0].get_ylim()[0], trend)):
        assert low > 5
        assert any("logarithmic" in text.get_text() for text, _ in texts(chart))


def test_a_saved_chart_that_does_not_fit_becomes_several(tmp_path):
    """Two slides are numbered; words and data are written once, for the whole."""
    chart = chart_change(comparison(4), bed=beds(4)[0])
    *slides, words, data = save_chart(chart, tmp_path / "bed.png")
    assert [path.name for path in slides] == [f"bed_{at}.png" for at in range(1, len(slides) + 1)]
    assert len(slides) > 1
    assert (words.name, data.name) == ("bed.txt", "bed.csv")
    assert len(data.read_text(encoding="utf-8").splitlines()) == len(chart.data) + 1


def test_marks_in_a_trend_lie_on_the_days_of_their_tests():
    """Dressings stand as triangles and harvests as uprights under the axis, at their dates."""
    chart = web("trend of one bed")
    below = {line.get_marker(): line for line in chart.axes[0].lines if line.get_marker() in ("^", "|")}
    assert len(below["^"].get_xdata()) == 4
    assert len(below["|"].get_xdata()) == 2
    named = [text.get_text() for text, _ in texts(chart)]
    assert any("kale" in text for text in named)
    assert np.diff(below["^"].get_xdata()).round().tolist() == [366, 365, 365]


def test_a_picture_of_one_line_counts_one():
    """Two beds of long names and their average do not fit one slide: the second bears "line 3 of 3"."""
    names = (
        "The long bed under the old pear tree by the north wall",
        "The wet bed along the neighbour's fence",
    )
    tests = (("2022-04-04", 90), ("2024-04-08", 190))
    rows = [(bed, day, "K", value) for bed in names for day, value in tests]
    change = compare_latest(tidy(rows))
    pages = chart_change(change, analyte="K").pages(KNOWN["talk"])
    assert [page.words.subtitle.rpartition("; ")[2] for page in pages] == [
        "picture 1 of 2, lines 1 to 2 of 3", "picture 2 of 2, line 3 of 3"]
