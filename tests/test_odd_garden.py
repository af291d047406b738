"""Notebooks on a garden that is unlike the demonstration's in all that a garden may be unlike in.

It lies in the south and is measured in feet; its beds have names that other programs would take for formulas
or pages; its grower writes the sheet herself, without samples, laboratory, exchange capacity or a log, with
salts and limits of detection; one bed is a check, one is to be blueberries, one was tested once.
"""

from html.parser import HTMLParser

import numpy as np
import pytest

from soiltrend import book, desk

BEDS = {
    "=SUM(A1)": "",
    "<marquee onclick=run()>Duck pond": 'crop = "blueberry"',
    "Øst": "check = true",
    "Long bed by the very old wall of the western paddock": "sowing = 2026-10-01\nharvest = 2026-12-20",
}
HEAD = (
    "Bed,Date sampled,pH (water 1:1),Buffer pH (Sikora),P (Mehlich-3) lb/ac,K (Mehlich-3) ppm,"
    "Ca (Mehlich-3) ppm,Mg (Mehlich-3) ppm,EC (saturated paste) mmho/cm,B (hot water) ppm"
)
MIDDLE = (5.4, 6.3, 30, 70, 600, 50, 0.5, 0.3)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Write the garden, three years of it."""
    path = tmp_path_factory.mktemp("odd") / "garden"
    (path / "reports").mkdir(parents=True)
    beds = [f'[beds."{name}"]\narea_ft2 = 96\ndepth_in = 6\n{more}\n' for name, more in BEDS.items()]
    toml = 'hemisphere = "south"\nunits = "US"\n' + "".join(beds)
    (path / "garden.toml").write_text(toml, encoding="utf-8")
    (path / "reports" / "report.toml").write_text("depth_cm = 15\n", encoding="utf-8")
    rng, lines = np.random.default_rng(3), [HEAD]
    days = [f"{day}/{year}" for year in (2023, 2024, 2025) for day in ("12/04", "20/09")]
    for at, name in enumerate(BEDS):
        middle = np.array(MIDDLE) * [1 + 0.07 * at, 1 + 0.02 * at, *[1 + at] * 6]
        for day in days if name != "Øst" else days[-1:]:
            noise = rng.normal(1, [0.01, 0.005, *[0.06] * 6])
            values = [f"{value:.3g}" for value in middle * noise]
            values[-1] = "<0.5" if at == 0 else values[-1]
            lines.append(f'"{name}",{day},' + ",".join(values))
    (path / "reports" / "mine.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


class Page(HTMLParser):
    """The tags of a page, its pictures' alt texts, and whatever would run."""

    def __init__(self):
        super().__init__()
        self.tags, self.alts, self.runs = set(), [], []

    def handle_starttag(self, tag, attrs):
        told = dict(attrs)
        self.tags.add(tag)
        self.alts += [told.get("alt")] if tag == "img" else []
        self.runs += [(tag, name) for name in told if name.startswith("on")]
        self.runs += [(tag, told[at]) for at in ("src", "href") if told.get(at, "").startswith("javascript")]


def test_every_notebook_runs_and_names_stay_text(folder):
    """No cell stops; no bed's name becomes a page's own tags; every picture has its words."""
    parts = book.report(folder, title="Odd", foot="", told=lambda *what: None)
    assert [part.failure for part in parts] == [""] * len(desk.notebooks())
    page = Page()
    for part in parts:
        page.feed(part.body)
    assert {"table", "img", "h2"} <= page.tags
    assert not {"duck", "marquee", "script", "iframe"} & page.tags
    assert page.runs == []
    assert len(page.alts) > 20
    assert all(text and len(text) > 40 for text in page.alts)
    assert "&lt;marquee onclick=run()&gt;Duck" in "".join(part.body for part in parts)
