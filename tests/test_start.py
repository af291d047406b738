"""A new garden is complete, can be checked at once, and overwrites nothing."""

import errno
import os
import tomllib
from pathlib import Path

import pytest

from soiltrend.cli import main
from soiltrend.errors import GardenError
from soiltrend.garden import open_garden
from soiltrend.start import new_garden


def test_a_new_garden_opens(tmp_path):
    """Every template is read by the room that reads it later: one bed, empty tables, no report."""
    new_garden(tmp_path / "mine")
    garden = open_garden(tmp_path / "mine")
    assert garden.beds["bed"].tolist() == ["Bed 1"]
    assert len(garden.results) == 0
    assert all(
        len(table) == 0
        for table in (
            garden.samples,
            garden.materials,
            garden.applications,
            garden.harvests,
            garden.observations,
        )
    )


def test_every_setting_in_the_templates_can_be_used(tmp_path):
    """With every setting of garden.toml and report.toml switched on, the garden still opens."""
    new_garden(tmp_path / "mine")
    for name in ("garden.toml", "reports/report.toml"):
        path = tmp_path / "mine" / name
        lines = path.read_text(encoding="utf-8").splitlines()
        used = [line[1:] if line.startswith("#") and not line.startswith("# ") else line for line in lines]
        path.write_text("\n".join(used), encoding="utf-8")
    report = "Sample,Date sampled,pH,K,P\nthe long bed,2024-04-12,6.4,142,30\n"
    (tmp_path / "mine" / "reports" / "spring.csv").write_text(
        report.replace("P\n", "P ppm\n"), encoding="utf-8"
    )
    garden = open_garden(tmp_path / "mine")
    assert set(garden.results["analyte"]) == {"pH", "K", "P"}
    assert set(garden.results["bed"]) == {"Bed 1"}


@pytest.mark.parametrize("kind", ["folder", "file"])
def test_nothing_is_overwritten(tmp_path, kind):
    """A folder with anything in it, or a file of that name, is refused and stays as it is."""
    mine = tmp_path / "mine"
    if kind == "folder":
        mine.mkdir()
        (mine / "diary.txt").write_text("frost", encoding="utf-8")
    else:
        mine.write_text("frost", encoding="utf-8")
    with pytest.raises(GardenError, match="is there already"):
        new_garden(mine)
    assert [path.name for path in tmp_path.rglob("*") if path.is_file()] in (["diary.txt"], ["mine"])


@pytest.mark.parametrize("there", [False, True])
def test_a_garden_that_cannot_be_written_is_not_there_by_half(tmp_path, monkeypatch, capsys, there):
    """The disk is full at the fourth file (ENOSPC): said, and nothing is left; a folder given stays."""
    if there:
        (tmp_path / "mine").mkdir()
    write, wrote = Path.write_text, []

    def full(path, *given, **named):
        wrote.append(path)
        if len(wrote) > 3:
            path.touch()
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return write(path, *given, **named)

    monkeypatch.setattr(Path, "write_text", full)
    assert main(["new", str(tmp_path / "mine")]) == 1
    assert "cannot be filled (No space left on device). Nothing was left there" in capsys.readouterr().err
    assert [path.name for path in tmp_path.rglob("*")] == ["mine"] * there
    monkeypatch.undo()
    assert main(["new", str(tmp_path / "mine")]) == 0


def test_a_place_under_a_file_is_said(tmp_path, capsys):
    """No folder can be made there."""
    (tmp_path / "paper").write_text("")
    assert main(["new", str(tmp_path / "paper" / "mine")]) == 1
    assert "Not a directory" in capsys.readouterr().err


def test_new_then_check_from_the_command(tmp_path, capsys):
    """Two commands: a garden is there, and nothing is wrong with it."""
    folder = str(tmp_path / "mine")
    assert main(["new", folder]) == 0
    assert main(["check", folder]) == 0
    assert "0 values read, 0 set aside" in capsys.readouterr().out


@pytest.mark.parametrize("hemisphere", ["north", "south"])
@pytest.mark.parametrize("units", ["metric", "US"])
def test_either_hemisphere_and_either_units(tmp_path, hemisphere, units):
    """A garden of the south says south; one in feet and inches holds the same metres and centimetres.

    One square foot is 0.09290304 m2 and one inch 2.54 cm (NIST SP 811, exact).
    """
    folder = str(tmp_path / "mine")
    assert main(["new", folder, "--hemisphere", hemisphere, "--units", units]) == 0
    garden = open_garden(folder)
    assert garden.hemisphere == hemisphere
    assert garden.settings["units"] == units
    size = garden.beds.loc[0, ["area_m2", "depth_cm"]].astype(float).tolist()
    assert size == pytest.approx([10.0, 15.0] if units == "metric" else [9.290304, 15.24])


def test_a_size_given_twice_is_refused(tmp_path):
    """Feet and metres for one bed could contradict each other."""
    new_garden(tmp_path / "mine", units="US")
    path = tmp_path / "mine" / "garden.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("depth_in = 6", "depth_in = 6\ndepth_cm = 15"))
    with pytest.raises(GardenError, match="depth_cm = 15 and depth_in = 6 both stand here"):
        open_garden(tmp_path / "mine")


@pytest.mark.parametrize("wrong", [{"hemisphere": "east"}, {"units": "cubits"}])
def test_a_garden_of_neither_kind_is_refused(tmp_path, wrong):
    """The known words are named, and nothing is written."""
    with pytest.raises(GardenError, match="Say one of"):
        new_garden(tmp_path / "mine", **wrong)
    assert not (tmp_path / "mine").exists()


def test_what_is_told_for_all_reports_holds_for_all(tmp_path):
    """The days of one report stand beside that report (README), and are not offered for all of them."""
    new_garden(tmp_path / "mine")
    text = (tmp_path / "mine" / "reports" / "report.toml").read_text(encoding="utf-8")
    assert not any(line.startswith(("#sampled", "#reported", "#season")) for line in text.splitlines())


def test_a_southern_template_has_the_months_of_the_south(tmp_path):
    """Sown in its spring, picked in its summer, and January among the warmest months."""
    new_garden(tmp_path / "mine", hemisphere="south")
    text = (tmp_path / "mine" / "garden.toml").read_text(encoding="utf-8")
    told = tomllib.loads("\n".join(line.removeprefix("#") for line in text.splitlines()
                                   if line.startswith(("#sowing", "#harvest", "#monthly"))))
    assert told["sowing"].month in (9, 10, 11)
    assert told["harvest"].month in (12, 1, 2)
    assert told["monthly_mean_C"][0] == max(told["monthly_mean_C"])
