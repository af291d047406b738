"""Odd lines of the log: kilograms for grams, a line written twice, more than any crop bears."""

import pytest

from soiltrend import cli
from soiltrend.garden import open_garden
from soiltrend.odd import logged

TOML = '[beds.East]\narea_m2 = 8\n[beds.West]\narea_ft2 = 100\n[beds."No size"]\n'


@pytest.fixture
def told(tmp_path):
    """Return a function that gives what is odd in a log, as (where, why)."""

    def make(applications="", harvests=""):
        (tmp_path / "garden.toml").write_text(TOML)
        (tmp_path / "applications.csv").write_text("date,bed,material,amount,unit,note\n" + applications)
        (tmp_path / "harvests.csv").write_text("date,bed,crop,kg,residue,note\n" + harvests)
        return logged(open_garden(tmp_path)).table.to_numpy().tolist()

    return make


def test_kilograms_for_grams_are_told_with_the_arithmetic(told):
    """200 kg on 8 m2 are 25,000 g/m2; trace salts are kept at 5 g/m2 in a year (tables/keeping.csv)."""
    assert told("2025-04-02,East,borax,200,kg,\n") == [[
        "applications.csv, line 2",
        "200 kg of borax on East (8 m2) comes to 25000 g/m2, 5000 times the most that a bed is given of a "
        "material in a year: 5 g/m2, trace metals in grams, never in handfuls. It is counted as it stands; "
        "look at the number and the unit, g for kg perhaps",
    ]]


@pytest.mark.parametrize(("line", "odd"), [
    ("West,wood ash,30,kg", True),  # 30,000 g on 9.29 m2 are 13.2 times 5 lb/100 ft2, which is 244.1 g/m2
    ("West,wood ash,20,kg", False),  # 8.8 times
    ("West,wood ash,60,lb/100ft2", True),  # 12 times, whatever the bed's size
    ("West,compost,254,L/m2", False),  # ten inches, and the limit is one
    ("West,compost,255,L/m2", True),
    ("West,compost,2590,L", True),  # on 9.29 m2, 278.8 L/m2
    ("No size,borax,200,kg", False),  # nothing is known of its area
    ("East,star dust,200,kg", False),  # told of as a material that no table has
])
def test_what_is_beyond_ten_years_of_a_material(told, line, odd):
    """Ten times the year's most (tables/ceilings.csv), by weight or by volume as that is stated."""
    assert len(told(f"2025-04-02,{line},\n")) == odd


def test_a_line_written_twice_is_told_and_one_with_a_note_of_its_own_is_not(told):
    """Both are counted; a second barrow is told apart by its note."""
    line = "2024-04-20,East,compost,20,kg,"
    assert told(f"{line}\n{line}\n{line}second barrow\n2024-04-21,East,compost,20,kg,\n") == [[
        "applications.csv, lines 2 and 3",
        "the same stands there 2 times and counts as often: 20 kg of compost, East, 2024-04-20. Keep one "
        "line if it was written twice; if it is true, write the sum on one",
    ]]
    where, why = told(harvests=3 * "2024-08-21,East,cabbage,12,removed,\n")[0]
    assert where == "harvests.csv, lines 2, 3 and 4"
    assert "3 times and counts as often: 12 kg of cabbage, East, 2024-08-21" in why


def test_a_harvest_beyond_any_crop(told):
    """69 kg/m2 of cucumbers in a year under glass (FAOSTAT 2017, the Netherlands): 552 kg on 8 m2."""
    assert told(harvests="2024-08-20,East,cabbage,552,removed,\n") == []
    (where, why), = told(harvests="2024-08-20,East,cabbage,25000,removed,\n")
    assert where == "harvests.csv, line 2"
    assert why.startswith("25000 kg of cabbage from East (8 m2) comes to 3120 kg/m2, and 69 kg/m2 is what ")
    assert told(harvests="2024-08-20,No size,cabbage,25000,removed,\n") == []


def test_check_tells_it_under_odd(told, tmp_path, capsys):
    """README: check says what is odd; nothing was measured yet, and the log is looked at all the same."""
    told("2025-04-02,East,borax,200,kg,\n")
    cli.main(["check", str(tmp_path)])
    out = capsys.readouterr().out
    assert "Odd (1): kept and used, but look at them" in out
    assert "applications.csv, line 2: 200 kg of borax" in out
