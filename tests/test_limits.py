"""Limits stand in one place, are told, and hold."""

import zlib
from pathlib import Path

import pytest

from soiltrend import limits
from soiltrend.errors import GardenError, ReadError


def test_limits_stand_in_one_place():
    """Every limit is a positive number with a word on what it is for."""
    text = Path(limits.__file__).read_text(encoding="utf-8").splitlines()
    names = [name for name in vars(limits) if name.isupper()]
    assert len(names) >= 10
    for name in names:
        at = next(number for number, line in enumerate(text) if line.startswith(f"{name} = "))
        assert text[at + 1].startswith('"""')
        assert getattr(limits, name) > 0


def test_a_file_at_its_limit_is_read_and_one_byte_more_is_not(tmp_path):
    """The error is of the kind asked for and names file, size and limit."""
    path = tmp_path / "a.csv"
    path.write_bytes(b"12345")
    assert limits.contents(path, most=5) == b"12345"
    with pytest.raises(GardenError, match=r"a\.csv: it holds 5 bytes and no more than 4 are read"):
        limits.contents(path, most=4, error=GardenError)


@pytest.mark.parametrize("name", ["gone.csv", "folder"])
def test_what_is_no_file_is_said(tmp_path, name):
    """A file that vanished, and a folder."""
    (tmp_path / "folder").mkdir()
    with pytest.raises(ReadError, match=r"cannot be opened \(No such file|it is no plain file"):
        limits.contents(tmp_path / name, most=5)


@pytest.mark.parametrize(("rows", "columns"), [(1, limits.COLUMNS + 1), (limits.CELLS + 1, 1)])
def test_an_area_beyond_a_limit_is_refused(rows, columns):
    """At the limits it is not."""
    limits.area(limits.CELLS // limits.COLUMNS, limits.COLUMNS, file="a", sheet="")
    with pytest.raises(ReadError, match=r"a, sheet 'S': its cells span"):
        limits.area(rows, columns, file="a", sheet="S")


def test_what_is_packed_is_weighed_up_to_the_limit():
    """Packed once, twice, not at all, or broken."""
    once = zlib.compress(bytes(5000))
    assert limits.inflated(once, most=10_000) == 5000
    assert limits.inflated(zlib.compress(once), most=10_000) == 5000 + len(once)
    assert limits.inflated(once, most=100) == 101
    assert limits.inflated(b"plain", most=100) == 0
    assert limits.inflated(once[:2] + b"\xff\xff\xff", most=100) == 0
