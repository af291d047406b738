"""Answers that cannot be used are named, with what was found and what to write."""

import datetime
import tomllib

import pytest

from soiltrend.errors import ReadError
from soiltrend.reading import meaning, read_report
from soiltrend.reading.answers import KEYS, check, toml


@pytest.mark.parametrize(("given", "match"), [
    ({"bed": {"S1": "East"}}, r"report\.toml, bed: the answer 'bed' is not known. Known answers: lab, "),
    ({"units": {"K": "furlongs"}}, r"units\.k = 'furlongs' cannot be used. Write it as one of: mg/kg"),
    ({"units": "mg/kg"}, r"units = 'mg/kg' cannot be used. Write it as a table"),
    ({"analytes": {"X": "stardust"}}, r"analytes\.x = 'stardust' cannot be used. Write one of: pH"),
    ({"ignore": {"X": ""}}, r"ignore\.x = '' cannot be used"),
    ({"sampled": "3/4/2024"}, r"sampled = '3/4/2024' cannot be used. Write the day as 2024-04-12"),
    ({"reported": "May"}, r"reported = 'May' cannot be used. Write the day as 2024-04-12"),
    ({"season": "warm"}, r"season = 'warm' cannot be used"),
    ({"hemisphere": "east"}, r"hemisphere = 'east' cannot be used. Write one of north, south"),
    ({"depth_cm": [15, 0]}, r"depth_cm = \[15, 0\] cannot be used"),
    ({"depth_cm": -5}, r"depth_cm = -5 cannot be used. Write a number above zero"),
    ({"depth_cm": 1500}, r"depth_cm = 1500 cannot be used. Write it in cm, such as 15 for 150 mm; 200 is"),
    ({"bulk_density": 1300}, r"bulk_density = 1300 cannot be used. Write it in g/cm3, such as 1.3"),
    ({"depth_unit": "ell"}, r"depth_unit = 'ell' cannot be used"),
    ({"bulk_density": True}, r"bulk_density = True cannot be used"),
])
def test_answers_that_cannot_be_used(given, match):
    """The error names the key, the value and the remedy."""
    with pytest.raises(ReadError, match=match):
        check(given)


def test_days_as_toml_gives_them():
    """A TOML date is a day."""
    assert check({"sampled": datetime.date(2024, 4, 12)}).sampled == "2024-04-12"


@pytest.mark.parametrize(("above", "answers", "day"), [
    ("Date reported: 2024-05-02\n", None, "2024-05-02"),
    ("Date of report,9 May 2024\n", None, "2024-05-09"),
    ("", None, None),
    ("Date reported: 03/04/2024\n", None, None),
    ("Date reported: 03/04/2024\n", {"dates": "DMY"}, "2024-04-03"),
    ("Date reported: 2024-05-02\n", {"reported": datetime.date(2024, 5, 9)}, "2024-05-09"),
])
def test_the_day_of_the_report(tmp_path, above, answers, day):
    """It is read over the table; an answer wins; what may be two days is none."""
    path = tmp_path / "a.csv"
    path.write_text(above + "Sample,pH,K ppm\nA,6.4,120\n")
    reported = read_report(path, answers=answers).reported
    assert (f"{reported:%Y-%m-%d}" if reported else None) == day


def test_the_last_day_of_a_column_is_that_of_the_report(tmp_path):
    """Samples finished on several days make a report of the last."""
    path = tmp_path / "a.csv"
    path.write_text("Sample,Date reported,pH,K ppm\nA,2024-05-02,6.4,120\nB,2024-05-06,6.1,90\n")
    assert f"{read_report(path).reported:%Y-%m-%d}" == "2024-05-06"


def test_the_lines_asked_for_settle_the_file(tmp_path):
    """The lines that a reading asks for, put into a report.toml, leave nothing to ask."""
    path = tmp_path / "a.csv"
    path.write_text("plot,depth,Date sampled,K,Sparkle\n1,0-15,3/4/2024,120,7\n1,15-30,3/4/2024,90,8\n")
    asked = read_report(path)
    assert len(asked.results) == 0
    answered = read_report(path, answers=tomllib.loads(toml(list(asked.asks))))
    assert answered.results["value"].tolist() == [120.0, 90.0]
    assert answered.results["bottom_cm"].tolist() == [15.0, 30.0]
    assert answered.results["season"].tolist() == ["spring 2024"] * 2
    assert answered.asks == ()
    assert set(answered.set_aside["reason"]) == {"left out as answered: not followed"}


def test_every_key_is_documented():
    """The docstring that a grower reads names every key."""
    assert [key for key in KEYS if key not in (check.__doc__ or "")] == []


@pytest.mark.parametrize(("written", "answers", "day", "asks"), [
    ("4/15/2024", {"dates": "DMY"}, None, 'dates = "MDY"'),
    ("15/4/2024", {"dates": "MDY"}, None, 'dates = "DMY"'),
    ("4/15/2024", {"dates": "MDY"}, "2024-04-15", None),
    ("after the rain", None, None, 'sampled = "2024-04-12"'),
    ("after the rain", {"sampled": "2024-04-12"}, "2024-04-12", None),
    ("2024-04-20", {"sampled": "2024-04-12"}, "2024-04-20", None),
])
def test_a_day_that_is_none_asks_for_what_settles_it(tmp_path, written, answers, day, asks):
    """The other order of day and month, or the day itself, which then stands; a true day goes before."""
    path = tmp_path / "a.csv"
    path.write_text(f"bed,Date sampled,pH\nEast,{written},6.4\n")
    found = read_report(path, answers=answers)
    seen = [f"{moment:%Y-%m-%d}" for moment in found.results["sampled"].dropna()]
    assert seen == ([day] if day else [])
    assert [line for line in found.asks if line.startswith(("dates", "sampled"))] == ([asks] if asks else [])


def meant(heading, **answers):
    """What a heading means with some answers, and no unit or method beside it."""
    return meaning.of(heading, unit="", method="", cell_unit="", answers=check(answers))


@pytest.mark.parametrize(("heading", "analyte"), [
    ("Organic Mater %", "OM"),
    ("Potasium (Mehlich 3) ppm", "K"),
    ("Potasium K2O ppm", "K"),
    ("Cation Exchange Capacty", "CEC"),
    ("Mangenese mg/kg", "Mn"),
])
def test_a_misspelt_heading_is_asked_about_by_what_it_looks_like(heading, analyte):
    """The line keeps the values; leaving them out stands beside it in words."""
    found = meant(heading)
    assert found.ask == f'[analytes] "{heading}" = "{analyte}"'
    assert f'looks like {analyte}; if it is something else, write [ignore] "{heading}" = ' in found.reason


@pytest.mark.parametrize("heading", ["Sparkle", "Luck", "Nitrite N ppm", "Organic N %", "Inorganic N %",
                                     "Chlorite ppm", "Xx N"])
def test_another_substance_is_no_slip_of_spelling(heading):
    """A sign, a beginning or an ending of its own makes another thing, which is not guessed at."""
    assert meant(heading).ask == f'[ignore] "{heading}" = "not followed"'


@pytest.mark.parametrize(("heading", "method", "unit"), [
    ("Potasium (Mehlich 3) ppm", "Mehlich-3", "ppm"),
    ("Leaf food K, ammonium acetate pH 7 [mg/kg]", "ammonium acetate", "mg/kg"),
    ("Potasium (Mehlich 3, Olsen) ppm", "Mehlich-3 and Olsen", "ppm"),
    ("Potasium K2O ppm", "", "ppm K2O"),
    ("Potasium ppm", "", "ppm"),
])
def test_a_named_analyte_keeps_what_its_heading_tells(heading, method, unit):
    """An answer under [analytes] gives the name alone; method, unit and form stay those of the heading."""
    found = meant(heading, analytes={heading: "K"})
    assert (found.analyte, found.method, found.unit) == ("K", method, unit)
    assert meant(heading, analytes={heading: "K"}, methods={heading: "Olsen"}).method == "Olsen"


def days_read(tmp_path, *written, **answers):
    """The reading of a file of some days, and the days it found."""
    path = tmp_path / "b2025.csv"
    path.write_text("bed,Date sampled,pH\n" + "".join(f"East,{day},6.4\n" for day in written))
    found = read_report(path, answers=answers)
    return found, found.results["sampled"].dt.strftime("%Y-%m-%d").fillna("").tolist()


def test_days_in_both_orders_are_each_read_in_the_one_that_is_a_day(tmp_path):
    """A year has twelve months: 13/04 and 04/13 are both the thirteenth of April, and 03/04 stays open."""
    found, read = days_read(tmp_path, "13/04/2025", "04/13/2025", "03/04/2025")
    assert read == ["2025-04-13", "2025-04-13", ""]
    assert found.notes == (
        "the days of this file stand in both orders ('13/04/2025' and '04/13/2025'); each is read in the one "
        "order in which it is a day",
        "'03/04/2025' may be day or month first; the day of sampling is left open. To settle it, write in "
        'b2025.toml beside it: sampled = "2024-04-12"',
    )
    told = days_read(tmp_path, "13/04/2025", "04/13/2025", "03/04/2025", sampled="2025-04-03")
    assert told[1] == ["2025-04-13", "2025-04-13", "2025-04-03"]


def test_a_day_that_contradicts_the_order_answered_is_settled_beside_its_file(tmp_path):
    """report.toml rules every file: the other order there would turn the days of the others round."""
    found, read = days_read(tmp_path, "04/13/2025", dates="DMY")
    assert read == [""]
    assert found.notes == ("'04/13/2025' is no day by dates = \"DMY\"; the day of sampling is left open. To "
                           'settle it, write in b2025.toml beside it: dates = "MDY"',)
    found, read = days_read(tmp_path, "13/04/2025", "04/13/2025", dates="DMY")
    assert read == ["2025-04-13", ""]
    assert found.notes[0] == "the days of this file stand in both orders ('13/04/2025' and '04/13/2025')"
    assert found.asks == ('sampled = "2024-04-12"',)  # the other order would open the first day instead
    assert days_read(tmp_path, "31/31/2025", dates="DMY")[0].asks == ('sampled = "2024-04-12"',)


def test_of_a_row_that_is_no_sample_nothing_is_asked(tmp_path):
    """Totals lie in no bed and were dug on no day; the sample above them does."""
    path = tmp_path / "b.csv"
    path.write_text("Sample,Bed,Date sampled,Depth,pH,K ppm\n1,East,2025-04-13,0-15 cm,6.3,160\n"
                    "Total,,3/4/2025,15,6.3,160\n")
    found = read_report(path)
    assert (found.notes, found.asks) == ((), ())
    assert found.results["bed"].tolist() == ["East", "East"]
    assert set(found.set_aside["reason"]) == {"its row, 'Total', sums up other rows and is no sample"}
