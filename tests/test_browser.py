"""The toolkit in a real browser: JupyterLab run by clicks, and the report page looked over.

Runs where Playwright and a Chromium are at hand (``pip install -e ".[browser]"`` and the system's
Chromium, or the one named in CHROMIUM), and is skipped elsewhere.
"""

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is not installed")
CHROMIUM = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("google-chrome")
pytestmark = pytest.mark.skipif(not CHROMIUM, reason="no Chromium on this machine")

COMMAND = "import sys; from soiltrend.cli import main; sys.exit(main())"
PHONE, LAPTOP = {"width": 390, "height": 844}, {"width": 1280, "height": 900}
TOML = '[beds."East"]\narea_m2 = 12\ndepth_cm = 15\n[beds."Wést <b>"]\narea_m2 = 3\ndepth_cm = 15\n'
BEDS = ("East", "Wést <b>")
SETTINGS = "c.ServerApp.open_browser = False\nc.ServerApp.allow_root = True\nc.ServerApp.port = 0\n"
IDLE = "Python 3 (ipykernel) | Idle"
LIMIT = 180_000
"""Milliseconds a step may take; none needs a tenth of it on an idle machine."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Return a garden of two beds and four springs, one bed's name full of mischief."""
    path = tmp_path_factory.mktemp("garden")
    (path / "reports").mkdir()
    (path / "garden.toml").write_text(TOML, encoding="utf-8")
    lines = ["Sample,Date sampled,pH,P (Mehlich-3) mg/kg,K (Mehlich-3) mg/kg,OM %"]
    for year, step in zip(range(2021, 2025), (0, 1, 2, 6), strict=True):
        lines += [f"{bed},{year}-04-1{step},{6 + step / 10},{40 + 9 * step},150,3.{step}" for bed in BEDS]
    (path / "reports" / "all.csv").write_text("\n".join(lines), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def browser():
    """Return a headless Chromium."""
    with playwright.sync_playwright() as started:
        opened = started.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def page_file(folder):
    """Return the report page, made by the command: the browser's own loop runs in this process."""
    done = subprocess.run([sys.executable, "-c", COMMAND, "report", str(folder)], check=False)
    assert done.returncode == 0
    return folder / "out" / "report.html"


@pytest.mark.parametrize("window", [PHONE, LAPTOP], ids=["phone", "laptop"])
def test_the_report_has_no_accessibility_finding(browser, page_file, window):
    """The axe engine (rules of WCAG 2.2 A and AA and best practice) finds nothing, and nothing runs wide."""
    page = browser.new_page(viewport=window)
    page.goto(page_file.as_uri())
    found = axe.Axe().run(page).response["violations"]
    assert [(rule["id"], rule["nodes"][0]["html"][:120]) for rule in found] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= window["width"]
    assert page.locator("script").count() == 0
    page.close()


def test_the_report_asks_nothing_of_the_network(browser, page_file):
    """The page works in a shed: no address but its own is asked for."""
    page, asked = browser.new_page(viewport=LAPTOP), []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(page_file.as_uri())
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    page.close()


@pytest.fixture
def lab(folder, tmp_path):
    """Start ``soiltrend lab`` on the garden and return the address it printed."""
    (tmp_path / "jupyter_server_config.py").write_text(SETTINGS, encoding="utf-8")
    command = [sys.executable, "-c", COMMAND, "lab", str(folder)]
    said = tmp_path / "said.txt"
    with said.open("w", encoding="utf-8") as log:
        server = subprocess.Popen(
            command,
            stdout=log,
            stderr=log,
            env=os.environ | {"JUPYTER_CONFIG_DIR": str(tmp_path)},
            start_new_session=True,
        )
    try:
        yield address(said, server)
    finally:
        os.killpg(server.pid, signal.SIGTERM)  # the command and the JupyterLab it started
        server.wait(30)


def address(said: Path, server):
    """Return the server's address with its token, as soon as it is printed."""
    for _ in range(600):
        found = re.search(r"http://127\.0\.0\.1:\d+/\S*token=\w+", said.read_text(encoding="utf-8"))
        if found:
            return found.group()
        assert server.poll() is None, said.read_text(encoding="utf-8")
        time.sleep(0.2)
    raise AssertionError(said.read_text(encoding="utf-8"))


def test_a_notebook_runs_by_clicks(browser, lab, folder):
    """Open the second notebook, choose Run All Cells in the menu: pictures appear, charts are saved."""
    shutil.rmtree(folder / "out" / "charts", ignore_errors=True)
    page = browser.new_page(viewport=LAPTOP)
    page.set_default_timeout(LIMIT)
    page.goto(re.sub(r"/lab\S*\?", "/lab/tree/out/notebooks/02_spring_and_autumn.ipynb?", lab))
    page.locator(".jp-Notebook .jp-CodeCell").first.wait_for()
    page.get_by_text(IDLE).wait_for()
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
    page.locator(".jp-OutputArea-output img").first.wait_for()
    page.wait_for_function(
        "document.querySelector('.jp-Notebook-ExecutionIndicator')?.dataset.status==='idle'"
    )
    assert page.locator(".jp-OutputArea-output[data-mime-type='application/vnd.jupyter.stderr']").count() == 0
    assert list((folder / "out" / "charts").glob("*.png"))
    page.close()
