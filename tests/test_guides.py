"""The guides beside the notebooks are true: their files, commands and messages are tried as printed."""

import re
import shlex
from pathlib import Path

import pytest

import soiltrend as st
from soiltrend import book, cli
from soiltrend.garden.beds import BED_KEYS
from soiltrend.garden.folder import TABLES
from soiltrend.garden.settings import TOP_KEYS
from soiltrend.reading.answers import KEYS
from soiltrend.start import new_garden

NOTEBOOKS = Path(__file__).parents[1] / "notebooks"
GUIDES = sorted(NOTEBOOKS.glob("guide_*.md"))
BLOCK = re.compile(r"^```(\w+)(?: (\S+))?\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def squeezed(text):
    return " ".join(text.split())


@pytest.mark.parametrize("path", [*GUIDES, NOTEBOOKS.parent / "README.md"], ids=lambda path: path.stem)
def test_links_lead_somewhere(path):
    """Each link to a file of the project finds it."""
    for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", path.read_text(encoding="utf-8")):
        assert (path.parent / target).exists(), target


def test_ten_minutes_go_as_printed(tmp_path, monkeypatch, capsys):
    """Every file of the tutorial is written, every command run, every line of output found."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(book, "report", lambda *given, **more: [])
    monkeypatch.setattr(cli.subprocess, "run", lambda *given, **more: type("Done", (), {"returncode": 0}))
    said, done = "", []
    for kind, name, text in BLOCK.findall((NOTEBOOKS / "guide_ten_minutes.md").read_text(encoding="utf-8")):
        if name:
            Path(name).write_text(text, encoding="utf-8")
        elif kind == "sh":
            command = shlex.split(text)
            done.append(command[1])
            assert command[0] == "soiltrend"
            assert cli.main(command[1:]) in (0, 1)
            said = capsys.readouterr().out
        elif kind == "text":
            for line in text.strip().splitlines():
                assert squeezed(line) in squeezed(said)
        else:
            exec(text, {})
    assert done == ["new", "check", "check", "check", "report", "lab"]
    assert Path("my-garden/out/long-bed.png").exists()


def columns(heading):
    """Return the names in the first column of the tables under a heading of the guide to the files."""
    text = (NOTEBOOKS / "guide_files.md").read_text(encoding="utf-8")
    part = text.split(f"\n## {heading}")[1].split("\n## ")[0]
    return {
        name
        for line in part.splitlines()
        if line[:1] == "|"
        for name in re.findall(r"`(\w+)`", line.split("|")[1])
    }


@pytest.mark.parametrize(
    ("heading", "known"),
    [
        ("garden.toml", {*TOP_KEYS, *BED_KEYS}),
        ("reports/", {*KEYS}),
        ("samples.csv", {*TABLES["samples"].all}),
        ("materials.csv", {name for name in TABLES["materials"].all if not re.search("_(low|high)$", name)}),
        ("applications.csv", {*TABLES["applications"].all, *TABLES["harvests"].all}),
        ("observations.csv", {*TABLES["observations"].all}),
    ],
)
def test_the_guide_names_every_key_and_no_other(heading, known):
    """What the tool reads is written down, and what is written down is read."""
    assert columns(heading) == known


def garden(folder, *, toml='[beds."East"]\narea_m2 = 1\n', report="", name="a.csv", answers=""):
    """Write a garden and return what opening it says: its reasons, notes or error."""
    (folder / "reports").mkdir()
    (folder / "garden.toml").write_text(toml, encoding="utf-8")
    (folder / "reports" / name).write_text(report, encoding="utf-8")
    (folder / "reports" / "report.toml").write_text(answers, encoding="utf-8")
    try:
        opened = st.open_garden(folder)
    except st.SoiltrendError as error:
        return str(error)
    return " / ".join([*opened.set_aside["reason"], *opened.notes])


HEAD = "Sample,Date sampled,pH"
PLAIN = f"{HEAD}\nEast,2024-04-12,6.4\n"
BROKEN = {
    "its unit is not stated": {"report": f"{HEAD},K\nEast,2024-04-12,6.4,150\n"},
    "is not a bed of this garden": {"report": PLAIN.replace("East", "A1")},
    "is not a measurement known here": {"report": f"{HEAD},Luck\nEast,2024-04-12,6.4,3\n"},
    "the day of sampling is not stated": {"report": "Sample,pH\nEast,6.4\n"},
    "there is no day": {"report": PLAIN.replace("04-12", "02-30")},
    "is not a key known here": {"report": PLAIN, "toml": '[beds."East"]\naera_m2 = 1\n'},
    "is used by nothing": {"report": PLAIN, "answers": '[units]\nKali = "mg/kg"\n'},
    "the days of this file stand in both orders": {
        "report": f"{HEAD}\nEast,13/04/2024,6.4\nEast,04/14/2024,6.4\n"
    },
    "this is not TOML": {"report": PLAIN, "answers": "lab = Hill\n"},
    "is not a report this tool reads": {"report": PLAIN, "name": "scan.jpg"},
    "could mean bed": {"report": PLAIN, "toml": '[beds."East"]\n[beds."Sun"]\naliases = ["east"]\n'},
}
HEADINGS = re.findall(
    r"^## (.+)$", (NOTEBOOKS / "guide_messages.md").read_text(encoding="utf-8"), re.MULTILINE
)


@pytest.mark.parametrize("message", BROKEN)
def test_a_broken_folder_says_what_the_guide_explains(tmp_path, message):
    """Each fault brings the words under which the guide explains it."""
    assert message in garden(tmp_path, **BROKEN[message])
    assert message in HEADINGS


def test_the_other_messages_of_the_guide(tmp_path):
    """Twins, seasons without a test, a folder in use, another thing than is taken, values not comparable."""
    told = {
        "this file is the same as": lambda: twins(tmp_path),
        "no result belongs to": lambda: refusal(
            lambda: st.compare(
                st.read_report(tmp_path / "reports" / "a.csv").results, before="1999", after="2024"
            )
        ),
        "is there already and is not an empty folder": lambda: refusal(lambda: new_garden(tmp_path)),
        "where it takes": lambda: refusal(lambda: st.trend(tmp_path)),
    }
    for message, said in told.items():
        assert message in said()
    rest = set(HEADINGS) - set(BROKEN) - set(told) - set(OF_CHECK)
    assert rest == {"not comparable", "Nothing happens, or something breaks"}


OF_CHECK = ("the method of P is not told", "No test is younger than")


@pytest.mark.parametrize("message", OF_CHECK)
def test_what_check_says_of_a_garden_that_can_be_used(tmp_path, capsys, message):
    """Phosphorus without a method, tested years ago."""
    garden(tmp_path, report="Sample,Date sampled,P (ppm)\nEast,2020-04-12,30\n")
    cli.main(["check", str(tmp_path)])
    assert message in HEADINGS
    assert message in capsys.readouterr().out


def twins(folder):
    garden(folder, report=PLAIN)
    (folder / "reports" / "b.csv").write_text(PLAIN, encoding="utf-8")
    return " / ".join(st.open_garden(folder).set_aside["reason"])


def refusal(call):
    with pytest.raises(st.SoiltrendError) as caught:
        call()
    return str(caught.value)
