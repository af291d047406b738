"""The grower's plain files: every fault is named by file and line, none is repaired silently."""

import pandas as pd
import pytest

from soiltrend.errors import GardenError
from soiltrend.folder import Columns, check_keys, nearest, read_table, read_toml

WENT_ON = Columns(
    text=("bed", "material"),
    number=("amount",),
    day=("date",),
    required=("date", "bed", "amount"),
    choices={"done": ("yes", "no")},
)


def write(path, text):
    path.write_text(text, encoding="utf-8")
    return path


def test_a_table_comes_back_with_its_types_and_lines(tmp_path):
    """Numbers are numbers, days are days, and each row knows its line, remarks not counted out."""
    path = write(
        tmp_path / "a.csv",
        "# what went on\ndate,bed,material,amount\n2024-04-02,East,gypsum,2.5\n\n"
        '2024-05-01,NA,"lime, ground",1\n',
    )
    table = read_table(path, WENT_ON)
    assert table["amount"].tolist() == [2.5, 1.0]
    assert table["date"].tolist() == [pd.Timestamp("2024-04-02"), pd.Timestamp("2024-05-01")]
    assert table["bed"].tolist() == ["East", "NA"]
    assert table["material"].tolist() == ["gypsum", "lime, ground"]
    assert table["line"].tolist() == [3, 5]


def test_semicolons_and_a_byte_order_mark_are_read(tmp_path):
    """A table saved by a spreadsheet of another country is the same table."""
    path = write(tmp_path / "a.csv", "\ufeffdate;bed;amount\n2024-04-02;Süd;3\n")
    assert read_table(path, WENT_ON)["bed"].tolist() == ["Süd"]


def test_all_faults_are_named_at_once(tmp_path):
    """Five mistakes, one message, each with its line and the text found."""
    path = write(
        tmp_path / "went_on.csv",
        'date,bed,amount,done\n12.4.2024,East,"2,5",maybe\n2024-04-02,,1,yes\n2024-04-02,East,inf,no\n',
    )
    with pytest.raises(GardenError) as caught:
        read_table(path, WENT_ON)
    message = str(caught.value)
    assert message.startswith("went_on.csv: ")
    for part in (
        "line 2: date '12.4.2024'",
        "line 2: amount '2,5'",
        "line 2: done 'maybe'",
        "line 3: bed is blank",
        "line 4: amount 'inf'",
    ):
        assert part in message


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("date,bed\n2024-04-02,East\n", "the column 'amount' is missing"),
        ("date,bed,bed,amount\n", "the column 'bed' stands twice"),
        ("date,bed,amount\n2024-04-02,East,1,surplus\n", "3 headings .text with a comma needs quotes."),
        ("date,bed,amount\n2024-04-02,East,-1\n", "line 2: amount '-1' is not a number from 0 up"),
    ],
)
def test_a_heading_that_does_not_fit_is_refused(tmp_path, text, said):
    """Columns missing, doubled or overrun are faults."""
    with pytest.raises(GardenError, match=said):
        read_table(write(tmp_path / "a.csv", text), WENT_ON)


def test_an_absent_file_is_an_empty_table(tmp_path):
    """A grower who logs no harvest has an empty harvest table with typed columns."""
    table = read_table(tmp_path / "none.csv", WENT_ON)
    assert len(table) == 0
    assert {"date", "bed", "material", "amount", "line"} <= set(table.columns)
    assert pd.api.types.is_datetime64_any_dtype(table["date"])


def test_columns_beyond_the_known_ones_are_kept(tmp_path):
    """A grower's own column stays hers."""
    path = write(tmp_path / "a.csv", "date,bed,amount,weather\n2024-04-02,East,1,drizzle\n")
    assert read_table(path, WENT_ON)["weather"].tolist() == ["drizzle"]


@pytest.mark.parametrize(
    ("data", "said"), [(b"name = \xff", "byte 7 is not UTF-8"), (b"name = [", "not TOML")]
)
def test_a_toml_that_cannot_be_read_is_named(tmp_path, data, said):
    """The error names the file, and what stands there."""
    path = tmp_path / "garden.toml"
    path.write_bytes(data)
    with pytest.raises(GardenError, match=said):
        read_toml(path)


def test_a_missing_toml_says_how_to_start(tmp_path):
    """The remedy stands in the message."""
    with pytest.raises(GardenError, match="Start a garden"):
        read_toml(tmp_path / "garden.toml")


def test_unknown_keys_name_the_nearest():
    """A slip of the pen is answered with the word it was meant to be."""
    with pytest.raises(GardenError, match=r"'dept_cm' is not a key known here \(nearest: 'depth_cm'\)"):
        check_keys({"dept_cm": 3}, ["depth_cm", "area_m2"], file="garden.toml", place="bed 'East'")


def test_nearest_lists_what_there_is_when_nothing_is_near():
    """Without a near name, the known ones are listed."""
    assert nearest("xyz", ["East", "West"]) == "known: 'East', 'West'"


def test_nearest_lists_all_keys_and_counts_what_it_leaves_out():
    """Of 17 keys all stand there, the likest first; of 30 names 24, and how many more there are."""
    keys = [f"key_{at}" for at in range(16)] + ["name"]
    told = nearest("title_of_name", keys)
    assert told.startswith("known: 'name', ")
    assert all(f"'{key}'" in told for key in keys)
    assert nearest("xyz", [f"bed {at}" for at in range(30)]).endswith("' and 6 more")


def test_too_many_columns_are_refused_at_once(tmp_path):
    """A hundred thousand headings: once they took minutes to be compared with each other."""
    path = tmp_path / "a.csv"
    path.write_text("sample," + ",".join(f"c{at}" for at in range(100_000)) + "\n", encoding="utf-8")
    with pytest.raises(GardenError, match=r"a\.csv, line 1: 100,001 cells stand here, and no more than 1,0"):
        read_table(path, Columns(text=("sample",)))


@pytest.mark.parametrize("mark", ["\u2028", "\u0085", "\x0b", "\x0c", "\x1e"])
def test_only_line_ends_end_a_line(tmp_path, mark):
    """What a word processor writes for a break inside a paragraph stays in its cell (Unicode 5.8)."""
    path = tmp_path / "a.csv"
    path.write_text(f"bed,note\nEast,first{mark}second\nWest,x\n", encoding="utf-8")
    table = read_table(path, Columns(text=("bed", "note")))
    assert table["note"].tolist() == [f"first{mark}second", "x"]
    assert table["line"].tolist() == [2, 3]
