"""Names in scripts that are read from the right, beside words that are read from the left."""

import warnings
from dataclasses import replace

import matplotlib as mpl
import numpy as np
import pytest
from bidi import get_display
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from pictures import beds, comparison, springs, texts

from soiltrend.charts import chart_change, style
from soiltrend.charts.chart import small_png
from soiltrend.charts.style import APART, TYPEFACE, is_right_to_left, isolate, ordered, text_width, wrap
from soiltrend.compare import compare

HEBREW, ARABIC = "מזרח", "حديقة"


def ink(text):
    """Return how much ink each column of a drawn text holds, from its left edge to its right."""
    figure = Figure(figsize=(6, 1), dpi=100)
    figure.text(0.1, 0.3, text, size=30)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    dark = np.asarray(canvas.buffer_rgba())[..., 0] < 128
    columns = np.flatnonzero(dark.any(axis=0))
    return dark[:, columns[0] : columns[-1] + 1]


def test_a_hebrew_name_begins_at_the_right():
    """Lamed, which rises above the others, is drawn on the side where its name begins."""
    name = ink("לאאאא")
    highest = np.flatnonzero(name.any(axis=1))[0]
    assert np.flatnonzero(name[highest]).mean() > 0.7 * name.shape[1]


def test_arabic_letters_join():
    """Joined letters take less room than the same letters each for itself."""
    figure = Figure(dpi=100)
    apart = sum(text_width(figure, letter, 30) for letter in "بيت")
    assert text_width(figure, "بيت", 30) < 0.9 * apart


def shown(text):
    """Return a text as the Unicode bidirectional algorithm orders it, by a library of its own."""
    return "".join(letter for letter in get_display(text) if letter not in (*APART, "\u200e"))


@pytest.mark.parametrize("name", [f"{HEBREW} 3", f"{ARABIC} 3"])
def test_numbers_after_a_name_stay_out_of_it(name):
    """Set apart, "bed 3: 2 of 22" keeps its two numbers on their own sides (UAX 9, isolates)."""
    line = f"No change in {name}: 2 of 22"
    assert not shown(line).endswith(": 2 of 22")
    assert shown(ordered(isolate(line, [name]))).endswith(": 2 of 22")


def test_a_line_that_begins_with_such_a_name_is_still_read_from_the_left():
    """The sentence around the name is English."""
    line = ordered(isolate(f"{HEBREW}: all steady", [HEBREW]))
    assert shown(line).endswith(": all steady")


def test_a_name_broken_over_lines_is_closed_on_each():
    """Every line opens and closes what it sets apart."""
    name = f"{HEBREW} {HEBREW} {HEBREW}"
    figure = Figure(dpi=100)
    broken = wrap(figure, isolate(f"in {name} now", [name]), 20, width=1.2)
    lines = ordered(broken).split("\n")
    assert len(lines) > 1
    assert all(line.count(APART[0]) == line.count(APART[1]) for line in lines)


def test_other_texts_are_left_alone():
    """Accents need nothing."""
    assert not is_right_to_left("Süd, Ångström's terrace")
    assert ordered(isolate("Süd: 2 of 22", ["Süd"])) == "Süd: 2 of 22"


def test_a_long_word_is_broken_where_it_must_be():
    """No line is wider than its column, and no letter is lost."""
    figure = Figure(dpi=100)
    word = "Donaudampfschifffahrtsgesellschaftsbeet"
    lines = wrap(figure, f"Beet {word}", 12, width=1.0).split("\n")
    assert "".join(lines) == f"Beet{word}"
    assert all(text_width(figure, line, 12) <= 1.0 for line in lines)


def test_a_no_break_space_holds_sign_and_word_together():
    """A sign and what it means are not parted at the end of a line."""
    lines = wrap(Figure(dpi=100), "spring, \u25cf\u00a0autumn", 12, width=0.9).split("\n")
    assert "\u25cf\u00a0autumn" in lines


def test_the_headline_of_a_chart_sets_its_bed_apart():
    """The chart does it by itself."""
    name = beds(4)[3]
    chart = chart_change(comparison(4), bed=name)
    assert name in chart.words.headline
    assert any(
        f"{APART[0]}{name}{APART[1]}" in text.get_text().replace("\n", " ") for text, _ in texts(chart)
    )


def drawn(name, face="sans-serif"):
    """Return what is told on drawing a bed of a name, its picture, and the typefaces of each text."""
    rows = springs(1).assign(bed=name)
    change = compare(rows, before="spring 2022", after="spring 2024")
    with mpl.rc_context({"font.family": face}), warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        style._others.cache_clear()
        chart = chart_change(change, analyte="K")
        picture = small_png(chart)
    faces = {text.get_text(): text.get_fontfamily() for text in chart.findobj(Text)}
    return [str(one.message) for one in told], picture, faces


def test_letters_that_our_typeface_lacks_come_from_another():
    """A circled A is in STIX, which comes with matplotlib, and not in DejaVu Sans; an A is in both."""
    told, circled, faces = drawn("Ⓐ")
    assert told == []
    assert faces["Ⓐ"] == [TYPEFACE, "STIXGeneral"]
    assert circled != drawn("A")[1]
    assert set(map(tuple, drawn("A")[2].values())) == {(TYPEFACE,)}


def test_the_typeface_chosen_on_the_machine_is_asked_first_and_for_such_letters_alone():
    """What the machine's settings name for all that matplotlib draws is no part of our look."""
    assert drawn("Ⓐ", "DejaVu Serif")[2]["Ⓐ"] == [TYPEFACE, "DejaVu Serif", "STIXGeneral"]
    pictures = [drawn("A", face)[1] for face in ("sans-serif", "STIXGeneral", "on no machine")]
    assert pictures[0] == pictures[1] == pictures[2]


def test_letters_that_no_typeface_has_are_told_with_a_remedy(monkeypatch):
    """Where matplotlib knows our typeface alone, beside the one that draws a box for everything and one whose
    file is gone since."""
    alone = [one for one in style.fontManager.ttflist if one.name in (TYPEFACE, style.BOXES)]
    gone = replace(alone[0], name="Gone", fname="/nowhere/gone.ttf")
    monkeypatch.setattr(style.fontManager, "ttflist", [gone, *alone])
    told, _, faces = drawn("Ⓐ")
    assert [text.partition(":")[0] for text in told] == ["boxes stand for Ⓐ"]
    assert faces["Ⓐ"] == [TYPEFACE]
