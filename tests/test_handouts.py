"""Handout and slides: whole pages that work offline, print, speak to a screen reader, and stay the same."""

import base64
import io
import itertools
import os
import re
import shutil
from html.parser import HTMLParser

import pdfplumber
import pytest
from PIL import Image

import soiltrend as st
from soiltrend import frames, story, vocabulary
from soiltrend.errors import SoiltrendError
from soiltrend.handouts.gather import charts_of

MOVED = {"pH": (6.0, 7.1), "K": (200, 90), "Ca": (1500, 1560), "P": (40, 41)}
MANY = "pH OM P K Ca Mg Na S B Zn Mn Fe Cu Mo Al Cl Pb Cd CEC EC NO3-N NH4-N"
MISCHIEF = 'We <b>"won"</b> & </script><script>alert(1)</script>'
VOID = ("meta", "img", "br", "link", "input", "hr")


class Page(HTMLParser):
    """Reads a page: its elements with their attributes, the text of each, and tags left open."""

    def __init__(self, text):
        super().__init__()
        self.elements, self.open, self.texts = [], [], {}
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open:
            self.texts.setdefault(self.open[-1], []).append(data.strip())

    def all(self, tag):
        return [attrs for name, attrs in self.elements if name == tag]


def compared(values, beds):
    """Return the comparison of two springs, from before and after values."""
    ends = (("spring 2022", "2022-04-04"), ("spring 2024", "2024-04-08"))
    rows = [
        {
            "bed": bed,
            "season": season,
            "sampled": day,
            "analyte": analyte,
            "value": value,
            "top_cm": 0.0,
            "unit": vocabulary.canonical_unit(analyte),
            "bottom_cm": 15.0,
            "lab": "Hollin Bench",
        }
        for bed in beds
        for analyte, pair in values.items()
        for (season, day), value in zip(ends, pair, strict=True)
    ]
    return st.compare(frames.results(rows), before="spring 2022", after="spring 2024")


@pytest.fixture(scope="module")
def change():
    return compared(MOVED, ("East", "Wést <i>"))


@pytest.fixture(scope="module")
def charts(change):
    return [st.chart_change(change, bed="Wést <i>"), st.chart_change(change, analyte="pH")]


@pytest.fixture(params=["handout", "slides"], scope="module")
def written(request, charts, tmp_path_factory):
    """Return a page of either kind as text, with the function that wrote it."""
    write = getattr(st, request.param)
    path = write(charts, tmp_path_factory.mktemp("pages") / "page.html", title=MISCHIEF)
    return write, path.read_text(encoding="utf-8")


def test_the_page_is_whole_and_says_its_language(written):
    """Every tag is closed, a language is named, there is one H1, a title and a viewport."""
    page = Page(written[1])
    assert page.open == []
    assert page.all("html")[0]["lang"] == "en"
    assert len(page.all("h1")) == 1
    assert "".join(page.texts["title"]) == MISCHIEF
    assert len(page.all("h2")) >= 2


def test_every_picture_has_its_words(written, charts):
    """Alt text of the chart stands at each picture, at most 150 characters, and says what is seen."""
    page = Page(written[1])
    alts = [image["alt"] for image in page.all("img")]
    assert [chart.words.alt for chart in charts] == alts
    assert all(40 < len(text) <= 150 for text in alts)


def test_headings_go_down_one_at_a_time(written):
    """No level is left out on the way down."""
    levels = [int(name[1]) for name, _ in Page(written[1]).elements if re.fullmatch("h[1-6]", name)]
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))


def test_nothing_comes_from_elsewhere(written):
    """No address but the page's own data; the page's own policy forbids the rest."""
    page = Page(written[1])
    links = [value for _, attrs in page.elements for key, value in attrs.items() if key in ("src", "href")]
    assert all(link.startswith("data:image/png;base64,") for link in links)
    policy = [meta["content"] for meta in page.all("meta") if "http-equiv" in meta]
    assert policy[0].startswith("default-src 'none'")
    assert "http:" not in written[1].replace("http-equiv", "")
    assert "https:" not in written[1]


def test_names_are_text_and_not_markup(written):
    """A bed and a title full of mischief are shown as they were written."""
    text = written[1]
    assert "<b>" not in text
    assert "<i>" not in text
    assert "alert(1)</script>" not in text
    assert "Wést &lt;i&gt;" in text


def test_the_same_charts_give_the_same_bytes(written, charts, tmp_path):
    """Written anew, from charts drawn anew, byte by byte."""
    write, text = written
    again = [chart.again(chart.size) for chart in charts]
    assert write(again, tmp_path / "again.html", title=MISCHIEF).read_text(encoding="utf-8") == text


def test_slides_are_pictures_of_a_projector(charts, tmp_path):
    """1920 by 1080, as PNG within the file, with the speaker's note and what was refused beside each."""
    text = st.slides(charts, tmp_path / "s.html").read_text(encoding="utf-8")
    page = Page(text)
    for image in page.all("img"):
        drawn = Image.open(io.BytesIO(base64.b64decode(image["src"].partition(",")[2])))
        assert drawn.size == (1920, 1080)
        assert (image["width"], image["height"]) == ("1920", "1080")
    notes = " ".join(page.texts["p"])
    assert all(chart.words.note in notes for chart in charts)
    assert "“a trend”: two dates are a difference" in " ".join(page.texts["li"])
    assert len(page.all("section")) == len(charts) + 1


def test_a_chart_of_many_lines_takes_several_slides(tmp_path):
    """What does not fit one picture at 24 pt is numbered, and each part says which it is."""
    values = dict.fromkeys(MANY.split(), (5.0, 5.2))
    chart = st.chart_change(compared(values, ("A bed",)), bed="A bed")
    page = Page(st.slides(chart, tmp_path / "s.html").read_text(encoding="utf-8"))
    alts = [image["alt"] for image in page.all("img")]
    assert len(alts) > 1
    assert [f"(part {n} of {len(alts)})" in text for n, text in enumerate(alts, start=1)] == [True] * len(
        alts
    )


def test_one_chart_has_the_width_and_more_stand_side_by_side(charts, tmp_path):
    """A lone chart is drawn for the page, several for a column each."""
    alone = st.handout(charts[0], tmp_path / "a.html").read_text(encoding="utf-8")
    several = st.handout(charts, tmp_path / "b.html").read_text(encoding="utf-8")
    assert [attrs["class"] for attrs in Page(alone).all("section")] == ["wide"]
    assert [attrs["class"] for attrs in Page(several).all("section")] == ["narrow", "narrow"]
    assert Page(alone).all("img")[0]["width"] == str(round(17.4 / 2.54 * 300))
    assert Page(several).all("img")[0]["width"] == str(round(8.4 / 2.54 * 300))


def test_the_handout_bears_words_refusals_and_caution(charts, tmp_path):
    """Caption, paragraph, what was not said, the numbers, and who comes first."""
    page = Page(st.handout(charts[1], tmp_path / "a.html").read_text(encoding="utf-8"))
    words = charts[1].words
    assert words.caption in page.texts["figcaption"]
    assert words.paragraph in page.texts["p"]
    assert words.refusals[0] in page.texts["li"]
    assert page.all("table")
    assert all(cell.get("scope") == "col" for cell in page.all("th"))
    assert "the laboratory's own advice" in " ".join(page.texts["p"])


def test_a_garden_is_told_by_itself(tmp_path):
    """The name as heading, the pooled chart, a sentence for what may be claimed and one for the rest."""
    (tmp_path / "reports").mkdir()
    (tmp_path / "garden.toml").write_text(
        'name = "Two <beds>"\n[beds.East]\narea_m2 = 9\ndepth_cm = 15\n'
        "[beds.West]\narea_m2 = 9\ndepth_cm = 15\n",
        encoding="utf-8",
    )
    report = "Bed,Date sampled,pH\nEast,2022-04-02,5.6\nWest,2022-04-02,6.0\n"
    report += "East,2024-04-04,7.2\nWest,2024-04-04,6.1\n"
    (tmp_path / "reports" / "a.csv").write_text(report, encoding="utf-8")
    garden = st.open_garden(tmp_path)
    page = Page(st.handout(garden, garden.path / "out" / "handout.html").read_text(encoding="utf-8"))
    assert page.texts["h1"] == ["Two <beds>"]
    told = page.texts["li"]
    assert any(text.startswith("pH rose in East") for text in told)
    assert "No sure change in West" in told
    shown = Page(st.slides(garden, garden.path / "out" / "slides.html").read_text(encoding="utf-8"))
    assert len(shown.all("img")) == 1


@pytest.mark.parametrize(
    ("told", "says"), [([], "there is no chart"), (["a chart"], "'a chart' is no chart")]
)
def test_what_is_no_chart_is_refused(told, says):
    """Nothing, or something else, is named and refused."""
    with pytest.raises(SoiltrendError, match=says):
        charts_of(told)


def test_nothing_is_written_over_a_growers_file(charts, tmp_path):
    """In a garden's folder only out/ is written to."""
    (tmp_path / "garden.toml").write_text("", encoding="utf-8")
    with pytest.raises(SoiltrendError, match="out"):
        st.handout(charts, tmp_path / "handout.html")


def test_us_units_reach_the_words_of_the_page(change):
    """The layer is said in inches where the words are asked for so."""
    voice = story.Voice(units="US")
    assert "0-5.9 in" in story.change_words(change, bed="East", voice=voice).subtitle
    assert "0-15 cm" in story.change_words(change, bed="East").subtitle


CHROMIUM = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("google-chrome")


@pytest.fixture(scope="module")
def browser():
    """Return a headless Chromium, where there is one."""
    playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
    if not CHROMIUM:
        pytest.skip("no Chromium on this machine")
    with playwright.sync_playwright() as started:
        opened = started.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_handout_prints_on_one_page(browser, charts, tmp_path, paper):
    """One page of A4 and one of Letter, no text off its edge."""
    path, out = st.handout(charts, tmp_path / "h.html", title="Two pictures"), tmp_path / "h.pdf"
    page = browser.new_page()
    page.goto(path.as_uri())
    page.pdf(path=str(out), format=paper)
    page.close()
    with pdfplumber.open(out) as pdf:
        assert len(pdf.pages) == 1
        sheet = pdf.pages[0]
        words = sheet.extract_words()
        assert words
        assert max(word["x1"] for word in words) < sheet.width
        assert len(sheet.images) == 2


@pytest.mark.parametrize("kind", ["handout", "slides"])
def test_the_page_has_no_accessibility_finding(browser, charts, tmp_path, kind):
    """The axe engine (WCAG and best practice) finds nothing, and nothing is asked of the network."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is not installed")
    page, asked, faults = browser.new_page(), [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto(getattr(st, kind)(charts, tmp_path / "p.html", title=MISCHIEF).as_uri())
    found = axe.Axe().run(page).response["violations"]
    assert [(rule["id"], rule["nodes"][0]["html"][:120]) for rule in found] == []
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    assert faults == []
    page.close()


def test_slides_turn_by_keys_and_show_their_notes(browser, charts, tmp_path):
    """One slide at a time; arrows, space, Home and End turn; N shows the notes and hides them."""
    page = browser.new_page(viewport={"width": 1280, "height": 720})
    page.goto(st.slides(charts, tmp_path / "s.html").as_uri())
    seen = []
    for key in ("ArrowRight", "Space", "ArrowRight", "ArrowLeft", "Home", "End", "PageUp"):
        page.keyboard.press(key)
        assert page.locator(".slide:visible").count() == 1
        seen.append(page.locator(".slide:visible").get_attribute("id"))
    assert seen == [f"slide-{number}" for number in (2, 3, 3, 2, 1, 3, 2)]
    assert page.locator(".place").inner_text() == "Slide 2 of 3"
    assert page.locator(".notes:visible").count() == 0
    page.keyboard.press("n")
    assert charts[0].words.note in page.locator(".notes:visible").inner_text()
    page.keyboard.press("n")
    assert page.locator(".notes:visible").count() == 0
    page.close()
