"""The commands say what they did, and their exit status means it."""

import re
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from soiltrend import book, cli, desk

TOML = 'name = "Two [beds]"\n[beds."East"]\narea_m2 = 12\n[beds."West"]\narea_m2 = 3\n'


@pytest.fixture
def folder(tmp_path):
    """Return a function that writes a garden whose report is the text given."""

    def make(report="Sample,Date sampled,pH\nEast,2024-04-12,6.4\n"):
        (tmp_path / "reports").mkdir()
        (tmp_path / "garden.toml").write_text(TOML, encoding="utf-8")
        (tmp_path / "reports" / "spring.csv").write_text(report, encoding="utf-8")
        return str(tmp_path)

    return make


def test_check_of_a_clean_garden_is_done(folder, capsys):
    """All read: status 0, the counts, and the assurance that nothing was changed."""
    assert cli.main(["check", folder()]) == 0
    out = capsys.readouterr().out
    assert "Two [beds]" in out
    assert "1 values read, 0 set aside; nothing was changed." in out


def test_check_names_what_was_set_aside_and_why(folder, capsys):
    """A value without a unit: status 1, with place, text, reason and the lines that would settle it."""
    assert cli.main(["check", folder("Sample,Date sampled,pH,K\nEast,2024-04-12,6.4,142\n")]) == 1
    out = capsys.readouterr().out
    assert "reports/spring.csv, line 2" in out
    assert "'142'" in out
    assert "[units]" in out


def test_check_says_what_is_missing_and_what_to_do_next(folder, capsys):
    """A bed without a report, no check bed, empty tables: each with its cost, and the next command."""
    path = folder()
    assert cli.main(["check", path]) == 0
    out = capsys.readouterr().out
    assert "no laboratory report has a value of bed 'West': nothing can be said of it" in out
    assert "bed 'East' has one test only" in out
    assert "no bed is marked check = true" in out
    assert "Next: soiltrend report" in out
    assert "\x1b[" not in out, "a pipe gets plain text"


def test_check_tries_the_log_as_the_account_will(folder, capsys):
    """A material nobody knows and a measure that is none: each line, status 1, and what to mend."""
    path = folder()
    log = Path(path, "applications.csv")
    log.write_text(
        "date,bed,material,amount,unit\n2024-04-20,East,gypsum,1,kg\n2024-04-20,East,dragon dust,2,kg\n"
        "2024-04-21,West,gypsum,3,thimbles\n2024-04-22,West,gypsum,0,kg\n",
        encoding="utf-8",
    )
    assert cli.main(["check", path]) == 1
    out = capsys.readouterr().out
    assert "To be mended (2)" in out
    assert "applications.csv, line 3: 'dragon dust' is no material known here" in out
    assert "applications.csv, line 4, material 'gypsum': 'thimbles' is no measure known here" in out
    assert "Next: mend what the report stops at and run this again." in out


def test_check_says_what_the_report_would_stop_at(folder, capsys):
    """The formula of a buffer that no report names: said before minutes are spent on the rest."""
    path = folder("Sample,Date sampled,pH,Buffer pH\nEast,2024-04-12,6.4,6.6\n")
    Path(path, "garden.toml").write_text('acidity = "Sikora"\n' + TOML, encoding="utf-8")
    assert cli.main(["check", path]) == 1
    out = capsys.readouterr().out
    assert "To be mended (1)" in out
    assert "Sikora" in out.partition("To be mended")[2]


def test_check_calls_a_test_old_that_bears_a_season_alone(folder, capsys):
    """It stands in the middle of its season."""
    cli.main(["check", folder("Sample,Season,pH water 1:1\nEast,spring 2023,6.4\nEast,spring 2024,6.4\n")])
    assert "No test is younger than 2024-04-15: the short page, the plan" in capsys.readouterr().out


def test_check_names_what_is_taken_for_granted(folder, capsys):
    """No laboratory and no area: what is then done, and how to settle it."""
    path = folder()
    Path(path, "garden.toml").write_text(TOML.replace("area_m2 = 3", "depth_cm = 10"), encoding="utf-8")
    cli.main(["check", path])
    out = capsys.readouterr().out
    assert "no laboratory is named for reports/spring.csv: two laboratories cannot be told apart" in out
    assert "bed 'West' has no area_m2 in garden.toml: it is taken as 1 m2" in out
    assert "'East' has no area" not in out


@pytest.mark.parametrize(("day", "old"), [("2024-04-12", True), (f"{date.today():%Y-%m-%d}", False)])
def test_check_says_that_plans_go_on_from_an_old_test(folder, capsys, day, old):
    """More than a year by this machine's clock."""
    cli.main(["check", folder(f"Sample,Date sampled,pH water 1:1\nEast,{day},6.4\n")])
    assert (f"No test is younger than {day}: the short page, the plan" in capsys.readouterr().out) == old


def test_check_asks_for_the_method_on_which_a_number_hangs(folder, capsys):
    """What is kept as of a method not told is named, with the line; organic matter as well."""
    path = folder("Sample,Date sampled,P (ppm),OM (%),pH water 1:1\nEast,2024-04-12,30,3.1,6.4\n")
    line = 'methods = { "P" = "its method", "OM" = "its method" }'
    cli.main(["check", path])
    out = capsys.readouterr().out
    assert "the method of P, OM is not told in reports/spring.csv: no aim holds for them" in out
    assert line in out
    told = 'methods = { "P" = "Olsen", "OM" = "LOI" }'
    Path(path, "reports", "spring.toml").write_text(told, encoding="utf-8")
    cli.main(["check", path])
    assert "the method of" not in capsys.readouterr().out


def test_check_names_an_odd_value(folder, capsys):
    """A slipped decimal point among six years of tests is asked about; the value is kept."""
    lines = [f"East,{2016 + i}-04-12,{value}" for i, value in enumerate((120, 126, 118, 1230, 122, 125))]
    text = "Sample,Date sampled,K (Mehlich-3) mg/kg\n" + "\n".join(lines) + "\n"
    assert cli.main(["check", folder(text)]) == 0
    out = capsys.readouterr().out
    assert "East, K, spring 2019: 1230 mg/kg stands where" in out
    assert "6 values read, 0 set aside" in out


def written_as_printed(reports, out):
    """Write the lines that ``check`` printed into the files it named, with a bed's name for the example."""
    for where, lines in re.findall(r"^# for .+, in (\S+)[^\n]*\n((?:(?!#|Missing).*\n)+)", out, re.MULTILINE):
        answers = lines.replace("name of the bed", "East")
        (reports / where).write_text(answers, encoding="utf-8")


def test_what_check_prints_can_be_pasted(folder, capsys):
    """The lines to settle it are TOML as they stand: pasted where check says, everything is read."""
    path = folder("Sample,pH,P,K\nA1,6.4,38,142\n")
    assert cli.main(["check", path]) == 1
    written_as_printed(Path(path, "reports"), capsys.readouterr().out)
    cli.main(["check", path])
    assert "3 values read, 0 set aside" in capsys.readouterr().out


def test_a_day_answered_for_one_report_dates_no_other(folder, capsys):
    """The day goes beside its file, so a second report of the same bed is asked for its own."""
    path = folder("Sample,pH,K ppm\nEast,6.4,142\n")
    reports = Path(path, "reports")
    cli.main(["check", path])
    out = capsys.readouterr().out
    assert "To settle it, write in spring.toml beside it: sampled = " in out
    written_as_printed(reports, out)
    (reports / "next.csv").write_text("Sample,pH,K ppm\nEast,6.1,120\n", encoding="utf-8")
    cli.main(["check", path])
    out = capsys.readouterr().out
    assert "# for reports/next.csv, in next.toml beside it\nsampled = " in out
    assert "4 values read, 0 set aside" in out


def test_an_older_edition_beside_the_newer_is_no_problem(folder, capsys):
    """A copy to the byte, a value printed again and one revised: named, and status 0."""
    path = Path(folder("lab: Hill\nreport: A-17\nSample,Date sampled,pH\nEast,2024-04-12,6.4\n"))
    reports = path / "reports"
    (reports / "twin.csv").write_bytes((reports / "spring.csv").read_bytes())
    (reports / "later.csv").write_text("Sample,Date sampled,pH\nEast,2024-04-12,6.1\n", encoding="utf-8")
    (reports / "later.toml").write_text(
        'lab = "Hill"\nreport = "A-17"\nreported = "2024-05-09"\n', encoding="utf-8"
    )
    (reports / "spring.toml").write_text(
        'lab = "Hill"\nreport = "A-17"\nreported = "2024-05-02"\n', encoding="utf-8"
    )
    assert cli.main(["check", str(path)]) == 0
    out = capsys.readouterr().out
    assert "this file is the same as" in out
    assert "revised by" in out
    assert "1 values read, 2 set aside" in out


def test_what_is_left_out_as_answered_is_no_problem(folder, capsys):
    """A measure the grower does not follow: asked for at first, and named and settled after her answer."""
    path = Path(folder("lab: Hill\nSample,Date sampled,pH,Sparkle\nEast,2024-04-12,6.4,7\n"))
    assert cli.main(["check", str(path)]) == 1
    answer = '[ignore]\n"Sparkle" = "not followed"\n'
    assert answer in capsys.readouterr().out
    (path / "reports" / "report.toml").write_text(answer, encoding="utf-8")
    assert cli.main(["check", str(path)]) == 0
    assert "left out as answered: not followed" in capsys.readouterr().out


def test_check_asks_for_the_bed_of_each_sample_that_bears_no_name_of_one(folder, capsys):
    """A line for each label, and none for one that is a bed's name already."""
    path = folder("Sample,Date sampled,pH\nbed East,2024-04-12,6.4\nS1,2024-04-12,6.1\nS2,2024-04-12,6\n")
    assert cli.main(["check", path]) == 1
    out = capsys.readouterr().out
    assert '"S1" = "name of the bed"' in out
    assert '"S2" = "name of the bed"' in out
    assert "bed East" not in out


@pytest.mark.parametrize("order", [("S1", "S2", "East"), ("East", "S1", "S2")])
def test_the_remark_on_samples_without_a_bed_stays_while_there_is_one(folder, capsys, order):
    """Whichever sample stands first in the file."""
    rows = "".join(f"{label},2024-04-12,6.{at}\n" for at, label in enumerate(order))
    cli.main(["check", folder("lab: Hill\nSample,Date sampled,pH\n" + rows)])
    said = 'each one\'s label stands in. To settle it, write in report.toml: [beds] "S1" = "name of the bed"'
    assert said in capsys.readouterr().out


def test_beds_are_not_asked_for_where_each_sample_bears_the_name_of_one(folder, capsys):
    """Nor is it remarked on."""
    cli.main(["check", folder("lab: Hill\nSample,Date sampled,pH\nbed East,2024-04-12,6.4\n")])
    assert "no bed is named" not in capsys.readouterr().out


def test_check_names_days_that_cannot_be(folder, capsys):
    """Days of the log still to come, a sample dug after its report, and record and report that differ."""
    path = Path(folder("Sample,Date sampled,pH\nA1,2024-04-12,6.4\nA2,2024-05-19,6.1\n"))
    (path / "reports" / "spring.toml").write_text('reported = "2024-05-02"\n', encoding="utf-8")
    (path / "samples.csv").write_text(
        "sample,bed,sampled\nA1,East,2024-04-10\nA2,West,2024-05-19\n", encoding="utf-8"
    )
    (path / "applications.csv").write_text(
        "date,bed,material,amount,unit\n2062-05-01,East,wood ash,1,kg\n2022-05-01,East,wood ash,1,kg\n",
        encoding="utf-8",
    )
    assert cli.main(["check", str(path)]) == 0
    out = capsys.readouterr().out
    assert "'A1' was dug on 2024-04-10 by samples.csv, which is taken; the report gives the day as" in out
    assert "sample 'A2' was dug on 2024-05-19, after its report was issued (2024-05-02)" in out
    assert "'A1' was dug on 2024-04-10, after" not in out
    assert "applications.csv: in the future by this machine's clock: line 2 (2062-05-01)\n" in out


def test_check_names_crops_that_no_table_knows(folder, capsys):
    """In the log, where it was weighed, and for the season planned; spellings are known."""
    path = Path(folder())
    (path / "garden.toml").write_text(
        TOML.replace("= 3", '= 3\ncrop = "rhododendron"').replace("= 12", '= 12\ncrop = "Potatoes"'),
        encoding="utf-8",
    )
    (path / "harvests.csv").write_text(
        "date,bed,crop,kg\n2023-07-01,East,onoins,3\n2023-07-01,East,broad-beans,3\n2023-07-01,East,phacelia,0\n",
        encoding="utf-8",
    )
    assert cli.main(["check", str(path)]) == 0
    out = capsys.readouterr().out
    assert "crop 'onoins' of harvests.csv stands in no table: what it took off is not counted" in out
    assert "crop = 'rhododendron' of bed 'West' stands in no table: its pH is planned as for" in out
    for known in ("broad-beans", "phacelia", "Potatoes"):
        assert known not in out


def test_check_gathers_the_remarks_of_a_file(folder, capsys):
    """Letterhead lines stand in one remark a file, not one line each."""
    head = "Hill Laboratory\nFor: A Grower\n\n"
    assert cli.main(["check", folder(head + "Sample,Date sampled,pH\nEast,2024-04-12,6.4\n")]) == 0
    out = capsys.readouterr().out
    assert "reports/spring.csv: lines without values (2): Hill Laboratory / For: A Grower" in out


def test_a_folder_that_is_no_garden_is_said_on_stderr(tmp_path, capsys):
    """Status 1 and a sentence with a remedy; no traceback."""
    assert cli.main(["check", str(tmp_path)]) == 1
    err = capsys.readouterr().err
    assert "Cannot go on." in err
    assert "garden.toml" in err
    assert "Traceback" not in err


@pytest.mark.parametrize("arguments", [[], ["plant"], ["check"], ["check", "a", "b"]])
def test_wrong_usage_has_status_2(arguments, capsys):
    """The usage is printed and nothing is done."""
    with pytest.raises(SystemExit) as left:
        cli.main(arguments)
    assert left.value.code == 2
    assert "usage: soiltrend" in capsys.readouterr().err


def test_report_tells_of_each_notebook_and_where_the_page_is(folder, capsys, monkeypatch):
    """Progress by name, the path of the page, status 0; status 1 when a part stopped."""
    chapters = [book.Chapter("01_one", "One", "", "")]

    def bind(path, *, title, foot, told):
        told("01_one", "start")
        told("01_one", "done")
        return chapters

    monkeypatch.setattr(book, "report", bind)
    path = folder()
    assert cli.main(["report", path]) == 0
    out = capsys.readouterr().out
    assert "01_one: done in" in out
    assert "report.html" in out
    chapters[0] = book.Chapter("01_one", "One", "", "ZeroDivisionError: [x]")
    assert cli.main(["report", path]) == 1
    assert "01_one stopped: ZeroDivisionError: [x]" in capsys.readouterr().out


def test_the_version_is_told(capsys):
    """One line, status 0."""
    with pytest.raises(SystemExit) as left:
        cli.main(["--version"])
    assert left.value.code == 0
    assert capsys.readouterr().out.startswith("soiltrend 0.")


def test_the_package_runs_as_the_command(tmp_path):
    done = subprocess.run(
        [sys.executable, "-m", "soiltrend", "check", str(tmp_path / "none")],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 1
    assert "Cannot go on." in done.stderr


def test_lab_opens_jupyterlab_on_copies(folder, capsys, monkeypatch):
    """The server is started in the garden's folder with the first notebook open."""
    started = []
    monkeypatch.setattr(cli.subprocess, "run", lambda command, **named: started.append(command) or Done())
    path = folder()
    assert cli.main(["lab", path]) == 0
    assert started[0][1:3] == ["-m", "jupyterlab"]
    assert f"--ServerApp.root_dir={path}" in started[0]
    assert started[0][-1].endswith(f"/lab/tree/out/notebooks/{desk.notebooks()[0].name}")
    assert "notebooks in" in capsys.readouterr().out


class Done:
    """A command that ended well."""

    returncode = 0
