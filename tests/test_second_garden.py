"""The notebooks on gardens that are nothing like the demonstration: they still run and make sense."""

from html.parser import HTMLParser

import pytest

from soiltrend import book, desk

ODD = """hemisphere = "south"
[beds."NA"]
area_m2 = 1.5
depth_cm = 10
"""
ONCE = "Sample,Date sampled,pH,K (Mehlich-3) ppm\nNA,2024-04-12,6.4,142\n"
TWICE = """Bed,Date sampled,Depth in,pH (CaCl2),P (Olsen) lb/acre,K lb/acre,Zn
NA,2023-09-12,0-6,5.9,40,210,<0.5
NA,2024-09-20,0-6,6.0,44,190,0.9
"""


def alts(parts):
    """Return the alt text of every picture of a report, None where one has none."""
    found = []

    class Pictures(HTMLParser):
        def handle_starttag(self, tag, attrs):
            if tag == "img":
                found.append(dict(attrs).get("alt"))

    for part in parts:
        Pictures().feed(part.body)
    return found


@pytest.fixture
def garden(tmp_path):
    """Return a function that writes a garden of one bed with the report given."""

    def make(report):
        (tmp_path / "reports").mkdir()
        (tmp_path / "garden.toml").write_text(ODD, encoding="utf-8")
        (tmp_path / "reports" / "a.csv").write_text(report, encoding="utf-8")
        return tmp_path

    return make


@pytest.mark.parametrize(
    ("report", "said"),
    [
        (ONCE, "the garden has no two tests that can be compared"),
        (TWICE, "spring 2023 to spring 2024"),
    ],
    ids=["one test", "two tests"],
)
def test_all_notebooks_run_on_an_odd_garden(garden, report, said):
    """Southern, one bed called NA, US units, a limit, a missing unit; or a single test."""
    parts = book.report(garden(report), title="Odd", foot="", told=lambda *what: None)
    assert [part.failure for part in parts] == [""] * len(desk.notebooks())
    assert said in " ".join(part.body for part in parts)
    texts = alts(parts)
    assert len(texts) > 1
    assert all(text and len(text) > 40 for text in texts)


def test_a_garden_without_a_report_yet(garden):
    """Beds described, nothing tested: every notebook says so instead of failing."""
    path = garden("Sample,Date sampled,pH\n")
    (path / "reports" / "a.csv").unlink()
    parts = book.report(path, title="Empty", foot="", told=lambda *what: None)
    assert [part.failure for part in parts] == [""] * len(desk.notebooks())
