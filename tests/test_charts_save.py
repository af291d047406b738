"""Saved charts: the same bytes for the same data, where they come from, and what stands in the file."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from matplotlib.figure import Figure
from pictures import beds, comparison, texts, web
from PIL import Image

from soiltrend.charts import chart_change, save_chart
from soiltrend.charts.sign import newest, provenance
from soiltrend.errors import SoiltrendError

ENDINGS = (".png", ".svg", ".pdf")
SCRIPT = """
import sys
from pathlib import Path
from pictures import comparison
from soiltrend.charts import chart_change, save_chart
for ending in (".png", ".svg", ".pdf"):
    save_chart(chart_change(comparison(1), analyte="K"), Path(sys.argv[1]) / f"other{ending}", size="web")
"""


def test_two_processes_write_the_same_bytes(tmp_path):
    """Picture, words and data are equal byte by byte, whatever order a process gives its sets."""
    env = os.environ | {"PYTHONHASHSEED": "7", "PYTHONPATH": str(Path(__file__).parent)}
    subprocess.run([sys.executable, "-c", SCRIPT, str(tmp_path)], check=True, env=env)
    for ending in ENDINGS:
        here = save_chart(chart_change(comparison(1), analyte="K"), tmp_path / f"one{ending}", size="web")
        for path in here:
            assert path.read_bytes() == path.with_stem("other").read_bytes(), path.name


def test_where_it_comes_from_stands_in_the_words_and_in_the_file(tmp_path):
    """Hash, version and newest sample; headline and alt text are in the picture's own metadata."""
    chart = web("change of a bed")
    source = provenance(chart)
    assert re.fullmatch(r"data [0-9a-f]{8}, soiltrend [\d.]+, newest sample spring 2024", source)
    for ending in ENDINGS:
        picture, words, _ = save_chart(chart, tmp_path / f"chart{ending}", size="web")
        assert f"Provenance: {source}" in words.read_text(encoding="utf-8")
        if ending == ".png":
            told = Image.open(picture).text
            assert (told["Title"], told["Source"]) == (chart.words.headline, source)
            assert told["Description"] == chart.words.alt
        else:
            assert source.encode() in picture.read_bytes()


def test_it_stands_on_the_picture_where_there_is_room():
    """In the type of the rest, and not on a slide, which has none to spare."""
    chart = web("change of a bed")
    assert provenance(chart) in [text.get_text() for text, _ in texts(chart)]
    slide = chart.pages(chart_change(comparison(4), analyte="K", size="talk").size)[0]
    assert not any("data " in text.get_text() for text, _ in texts(slide))


def test_other_data_have_another_hash():
    """One changed number is seen; the clock of the day is not in it."""
    one, other = web("change of a bed"), chart_change(comparison(4), bed=beds(4)[2])
    assert provenance(one) != provenance(other)
    changed = chart_change(comparison(4), bed=beds(4)[3])
    changed.data = changed.data.assign(after=changed.data["after"] * 1.001)
    assert provenance(changed).split(",")[0] != provenance(one).split(",")[0]


def test_the_newest_sample_of_no_samples_is_not_told():
    """A blend was never sampled."""
    assert newest(web("blend").data) == ""
    assert provenance(web("blend")).count(",") == 1


def test_the_trend_s_data_hold_every_test_that_is_drawn():
    """A mark a row, with the trend of its series beside it."""
    data = web("trend").data
    assert len(data) == 4 * 8
    assert {"sampled", "value", "slope_per_year", "verdict"} <= set(data)
    assert data["verdict"].notna().all()


def test_what_is_no_chart_is_not_drawn_on():
    """A bare figure knows neither its words nor its type."""
    from soiltrend.charts.chart import chart_of

    with pytest.raises(SoiltrendError, match="these axes stand on a Figure"):
        chart_of(Figure().subplots())


def test_pages_of_an_earlier_run_are_not_left_beside_the_new(tmp_path):
    """Under out/ of a garden; a chart of its own that bears a number stays, and so does all elsewhere."""
    (tmp_path / "garden.toml").touch()
    long, short = (chart_change(comparison(count), analyte="K") for count in (40, 3))
    kept = {}
    for folder in (tmp_path / "out" / "charts", tmp_path / "out" / "mine", tmp_path.parent / "elsewhere"):
        pages = save_chart(long, folder / "k.png")
        assert len(pages) > 4
        if folder.name == "mine":
            save_chart(short, folder / "k_2.png")
        save_chart(short, folder / "k.png")
        kept[folder.name] = sorted(file.name for file in folder.glob("*.png"))
        assert len(save_chart(long, folder / "k.png")) == len(pages)
        assert (folder / "k.png").exists() == (folder.name == "elsewhere")
    assert kept["charts"] == ["k.png"]
    assert kept["mine"] == ["k.png", "k_2.png"]
    assert kept["elsewhere"] == ["k.png", *(file.name for file in pages[:-2])]
