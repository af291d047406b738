"""The months' temperatures in garden.toml: twelve of them, in Celsius, or a word about what is wrong."""

from pathlib import Path

import pytest

from soiltrend.errors import GardenError
from soiltrend.garden import open_garden

BED = '[beds."East"]\narea_m2 = 10\n'
TWELVE = "[4, 4, 6, 8, 11, 14, 16, 16, 14, 11, 7, 5]"
TEMPLATE = Path(__file__).parents[1] / "soiltrend" / "templates" / "garden.toml"


@pytest.fixture
def folder(tmp_path):
    def make(climate):
        (tmp_path / "garden.toml").write_text(BED + climate, encoding="utf-8")
        return tmp_path

    return make


def test_twelve_means_are_kept(folder):
    """They reach the garden's settings as they were written."""
    garden = open_garden(folder(f"[climate]\nmonthly_mean_C = {TWELVE}\n"))
    assert garden.settings["climate"]["monthly_mean_C"] == [4, 4, 6, 8, 11, 14, 16, 16, 14, 11, 7, 5]


def test_a_garden_needs_no_climate(folder):
    """Without the section nothing is assumed."""
    assert "climate" not in open_garden(folder("")).settings


def test_the_template_shows_how(folder):
    """The lines of the template, their # taken away, are read."""
    lines = [line[1:] for line in TEMPLATE.read_text(encoding="utf-8").splitlines() if "monthly" in line]
    garden = open_garden(folder("[climate]\n" + lines[0] + "\n"))
    assert len(garden.settings["climate"]["monthly_mean_C"]) == 12


@pytest.mark.parametrize(
    ("climate", "said"),
    [
        ("[climate]\nmonthly_mean_C = [4, 5]\n", "climate: monthly_mean_C holds 2 and not 12 numbers"),
        ("[climate]\nmonthly_mean_C = 9.5\n", "monthly_mean_C holds 9.5 and not 12"),
        (
            "[climate]\nmonthly_mean = [1]\n",
            "'monthly_mean' is not a key known here .nearest: 'monthly_mean_C'",
        ),
        (f"[climate]\nmonthly_mean_C = {TWELVE.replace('14', '57', 1)}\n", "month 6 is 57"),
        (f"[climate]\nmonthly_mean_C = {TWELVE.replace('8', 'true', 1)}\n", "month 4 is True"),
        ("[climate]\n", "monthly_mean_C holds 0 and not 12 numbers"),
    ],
)
def test_a_climate_that_is_none_is_refused(folder, climate, said):
    """The error names the section, what was found, and how to write it."""
    with pytest.raises(GardenError, match=said):
        open_garden(folder(climate))


def test_a_climate_that_is_no_section_is_refused(tmp_path):
    """A bare value is shown how the section is written."""
    (tmp_path / "garden.toml").write_text("climate = 4\n" + BED, encoding="utf-8")
    with pytest.raises(GardenError, match=r"climate = 4 is not a table. Write \[climate\] and its lines"):
        open_garden(tmp_path)
