"""Charts read from the back row: type sizes, overlaps, edges, contrast and words are measured."""

import io

import matplotlib.image
import pytest
from matplotlib.colors import to_rgb
from pictures import VALUES, beds, contrast, drifting, overlaps, texts
from PIL import Image

from soiltrend.charts import (
    Chart,
    chart_beds,
    chart_change,
    chart_drift,
    chart_drifts,
    chart_trend,
    save_chart,
    save_charts,
)
from soiltrend.charts.chart import small_png
from soiltrend.charts.gallery import Gallery
from soiltrend.charts.style import BLUE, INK, QUIET, SIZES, VERMILION
from soiltrend.compare import compare
from soiltrend.errors import SoiltrendError
from soiltrend.trend import trend

MADE = {}
"""Comparisons by what they are made of; a comparison takes longer than its picture."""


@pytest.fixture
def change(two_springs):
    """Return a function that compares two springs, once for each question."""

    def make(names=("East", "West"), values=VALUES):
        key = (*names, *values.items())
        if key not in MADE:
            results = two_springs(values, beds=names)
            MADE[key] = compare(results, before="spring 2022", after="spring 2024")
        return MADE[key]

    return make


def test_a_talk_slide_is_1920_by_1080(change, tmp_path):
    """The saved slide has the pixels of a projector."""
    picture, _, _ = save_chart(chart_change(change(), analyte="K"), tmp_path / "slide.png")
    assert matplotlib.image.imread(picture).shape[:2] == (1080, 1920)


def test_contrast_formula_gives_the_published_ends():
    """Black on white is 21:1 (WCAG 2.2)."""
    assert contrast("black") == pytest.approx(21)


@pytest.mark.parametrize(("ink", "least"), [(BLUE, 3), (VERMILION, 3), (INK, 4.5), (QUIET, 4.5)])
def test_inks_stand_out_on_white(ink, least):
    """Graphics 3:1 (WCAG 2.2, 1.4.11), text 4.5:1 (1.4.3)."""
    assert contrast(ink) >= least


def test_before_and_after_differ_without_colour(change):
    """Before is an open mark, after a filled one: the picture survives a photocopier."""
    lines = [
        line
        for axes in chart_change(change(), analyte="K").axes
        for line in axes.lines
        if line.get_marker() == "o"
    ]
    fills = {line.get_markeredgecolor(): line.get_markerfacecolor() for line in lines}
    assert fills == {BLUE: "white", VERMILION: VERMILION}


def test_a_sure_change_is_filled_and_an_unclear_one_open(change):
    """In the noise chart the mark says the verdict without colour."""
    comparison = change()
    chart = chart_change(comparison, bed="East")
    marks = {
        round(float(line.get_xdata()[0]), 6): line.get_markerfacecolor()
        for axes in chart.axes
        for line in axes.lines
        if line.get_marker() == "o"
    }
    for row in comparison.table.query("bed == 'East'").itertuples():
        at = round(row.in_noise, 6)
        if at in marks:
            assert (marks[at] == VERMILION) == (row.verdict in ("rose", "fell"))


def test_a_mark_beyond_the_scale_is_an_arrow_at_its_edge(change):
    """A change of many noise bands does not squeeze the others; it stands at the edge, pointing out."""
    chart = chart_change(change(values={"pH": (4.5, 8.0), "K": (100, 105)}), bed="East")
    arrows = [line for axes in chart.axes for line in axes.lines if line.get_marker() == ">"]
    assert len(arrows) == 1
    assert arrows[0].get_xdata()[0] == arrows[0].axes.get_xlim()[1]


def test_all_measures_are_shown(change):
    """Every analyte of the bed has its row."""
    chart = chart_change(change(), bed="West")
    assert set(chart.data["analyte"]) == set(VALUES)
    written = {text.get_text() for text, _ in texts(chart)}
    assert set(VALUES) <= written


def test_the_bundle_for_a_notebook_has_picture_and_alt_text(change):
    """A notebook gets a PNG with its alt text and a line of plain text."""
    data, metadata = chart_change(change(), bed="East")._repr_mimebundle_()
    assert data["image/png"].startswith(b"\x89PNG")
    assert metadata["image/png"]["alt"].startswith("Dot chart of 12 soil measures in East")
    assert data["text/plain"].startswith("<Chart: ")


@pytest.mark.parametrize("ending", [".png", ".svg", ".pdf"])
def test_saving_writes_words_and_data_and_the_same_bytes_twice(change, tmp_path, ending):
    """Picture, words and table; the same chart saved twice is the same file."""
    first = save_chart(chart_change(change(), bed="East"), tmp_path / f"one{ending}", size="web")
    second = save_chart(chart_change(change(), bed="East"), tmp_path / f"two{ending}", size="web")
    assert [path.suffix for path in first] == [ending, ".txt", ".csv"]
    for one, two in zip(first, second, strict=True):
        assert one.read_bytes() == two.read_bytes()
    assert "Alt text: Dot chart" in first[1].read_text(encoding="utf-8")


def test_a_gallery_holds_every_bed_and_saves_it(change, tmp_path):
    """One chart a bed, saved under names that every system takes."""
    gallery = chart_beds(change(["A/B", "a b"]))
    assert list(gallery.charts) == ["A/B", "a b"]
    assert save_charts(gallery, tmp_path, prefix="change") == 2
    assert sorted(path.name for path in tmp_path.glob("*.png")) == ["change-a-b-2.png", "change-a-b.png"]
    assert repr(gallery).count("\n") == 1


def test_an_empty_gallery_says_so():
    """No charts is said, not shown as nothing."""
    assert repr(Gallery({})) == "(no charts)"


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"bed": "East", "analyte": "K"}, "both asked for"),
        ({"bed": "North"}, "no bed 'North'"),
        ({"bed": "East", "size": "poster"}, "'poster' is not a picture size"),
    ],
)
def test_wrong_questions_are_answered(change, given, said):
    """An unknown bed or size, or two questions at once, is refused with what there is."""
    with pytest.raises(SoiltrendError, match=said):
        chart_change(change(), **given)


def test_what_does_not_fit_is_refused(change):
    """Thirty beds at 24 pt do not fit a slide, and the tool says so instead of shrinking the type."""
    with pytest.raises(SoiltrendError, match="do not fit a picture of size 'talk'"):
        chart_change(change(beds(30)), analyte="K", size="talk")


def test_an_unknown_ending_is_refused(change, tmp_path):
    """Pictures are PNG, SVG or PDF."""
    with pytest.raises(SoiltrendError, match=r"cannot be saved as 'x\.bmp'"):
        save_chart(chart_change(change(), bed="East"), tmp_path / "x.bmp")


def test_a_chart_is_a_figure(change):
    """Whoever knows matplotlib can go on from here."""
    chart = chart_change(change(), bed="East")
    assert isinstance(chart, Chart)
    assert chart.size == SIZES["web"]
    assert chart.axes[0].get_xlim()[0] < 0 < chart.axes[0].get_xlim()[1]


def test_a_limit_has_an_interval_but_no_mark(two_springs):
    """A value known only to lie below its limit is drawn as what it may have been, not as a point."""
    frame = two_springs({"B": (0.5, 0.9), "Zn": (3, 4)})
    below = (frame["analyte"] == "B") & (frame["season"] == "spring 2022")
    results = compare(
        frame.assign(qualifier=frame["qualifier"].mask(below, "<")), before="spring 2022", after="spring 2024"
    )
    chart = chart_change(results, bed="East")
    marks = [
        line for axes in chart.axes for line in axes.lines if line.get_marker() not in ("None", None, "")
    ]
    assert len(marks) == len(results.table.query("bed == 'East' and before_censored == ''"))


def test_the_small_picture_keeps_its_inks(change):
    """A picture of few colours still shows vermilion as vermilion and blue as blue."""
    chart = chart_change(change(), analyte="K")
    colours = Image.open(io.BytesIO(small_png(chart))).convert("RGB").getcolors(1 << 16)
    for ink in (BLUE, VERMILION):
        want = [round(255 * part) for part in to_rgb(ink)]
        assert min(max(abs(a - b) for a, b in zip(colour, want, strict=True)) for _, colour in colours) <= 8


@pytest.fixture
def seasons(tidy):
    """Return a function that makes eight springs and autumns of the beds named, and their trends."""

    def make(names=("East", "West")):
        days = [f"{year}-{day}" for year in range(2019, 2023) for day in ("04-05", "10-07")]
        rows = [(bed, day, "K", 100.0 * (1 + 0.05 * at)) for bed in names for at, day in enumerate(days)]
        results = tidy(rows, method="Mehlich-3")
        return trend(results), results

    return make


def test_a_rising_bed_is_drawn_and_said(seasons):
    """Eight tests that climb 5 % a season: the headline counts the beds, the panel says the rate."""
    found, results = seasons(["East", "West", "North"])
    chart = chart_trend(found, results=results, analyte="K")
    assert chart.words.headline == "Potassium is rising in 3 of 3 beds, 2019 to 2022"
    assert any("rising, +" in text.get_text() for text, _ in texts(chart))
    blue = [line for axes in chart.axes for line in axes.lines if line.get_color() == BLUE]
    assert len(blue) == 3
    assert all((line.get_ydata()[-1] > line.get_ydata()[0]) for line in blue)


def test_another_method_is_not_joined(seasons):
    """Tests by another method are squares in grey, and the blue line leaves them out."""
    _, results = seasons(["East"])
    results["method"] = results["method"].mask(results["sampled"] > "2021-12-31", "Olsen")
    chart = chart_trend(trend(results), results=results, analyte="K")
    shapes = {
        line.get_marker() for axes in chart.axes for line in axes.lines if line.get_marker() in ("o", "s")
    }
    assert shapes == {"o", "s"}
    assert "Olsen" in " ".join(text.get_text() for text, _ in texts(chart))


def test_a_measure_without_tests_gets_words_instead_of_panels(seasons):
    """Nothing to draw is said, and that it was not tested and not that two tests differ."""
    found, results = seasons()
    words = chart_trend(found, results=results, analyte="Zn").words
    assert words.headline == "Zinc: nothing to show yet"
    assert words.subtitle == "There is no usable test of zinc that bears a day or a year"
    assert "two tests" not in repr(words)


def test_a_measure_that_neither_date_has_is_said_to_be_unmeasured(change):
    """Not that laboratory and method differ, nor that two tests are wanting."""
    words = chart_change(change(), analyte="Al").words
    assert words.subtitle == "Aluminium was not measured at either of the two dates"
    assert "two tests" not in repr(words)


@pytest.mark.parametrize("kind", ["change", "trend"])
def test_a_part_of_the_beds_says_that_it_is_one(change, seasons, kind):
    """A picture of two of three beds says "2 of 3 beds shown", in the order asked for."""
    names = ["East", "West", "North"]
    found, results = seasons(names)
    chart = (
        chart_change(change(names), analyte="K", beds=["North", "East"])
        if kind == "change"
        else chart_trend(found, results=results, analyte="K", beds=["North", "East"])
    )
    assert "2 of 3 beds shown" in chart.words.subtitle
    shown = [text.get_text() for text, _ in texts(chart) if text.get_text() in names]
    assert sorted(shown) == ["East", "North"]


def test_a_bed_that_is_not_there_cannot_be_shown(change):
    """The beds there are are named."""
    with pytest.raises(SoiltrendError, match="no bed 'South' to show"):
        chart_change(change(), analyte="K", beds=["South"])


@pytest.fixture(name="drifting")
def _drifting():
    return drifting()


def test_a_ratio_outside_its_band_is_filled_and_said(drifting):
    """Calcium over magnesium ends far above its band: filled mark, flag and description."""
    chart = chart_drift(drifting, bed="East")
    row = drifting.table.query("ratio == 'Ca:Mg (charge)'").iloc[0]
    assert row["flag"] == "outside"
    assert "Ca:Mg (charge)" in chart.words.description
    filled = [line for axes in chart.axes for line in axes.lines if line.get_markerfacecolor() == VERMILION]
    assert len(filled) == drifting.table["flag"].isin(["outside", "heading out", "shifted"]).sum()


def test_every_ratio_of_the_bed_has_its_row(drifting):
    """Also the steady ones and those with an open band; no text runs into another."""
    chart = chart_drift(drifting, bed="East")
    shown = [text.get_text() for text, _ in texts(chart)]
    assert set(drifting.table["ratio"]) <= set(shown)
    assert overlaps(chart) == []


def test_the_band_is_called_a_description(drifting):
    """The caption carries the published doubt about ratio targets."""
    assert "Kopittke & Menzies 2007" in chart_drift(drifting, bed="East").words.caption


def test_drift_of_an_unknown_bed_is_refused(drifting):
    """The beds there are are named."""
    with pytest.raises(SoiltrendError, match="no bed 'South'"):
        chart_drift(drifting, bed="South")


def test_a_gallery_of_drifts_has_every_bed(drifting):
    """One chart a bed."""
    assert list(chart_drifts(drifting).charts) == ["East"]
