"""Errors speak to the grower: where, what was found, what to do."""

import pickle

import pytest

from soiltrend import errors
from soiltrend.errors import SoiltrendError

FAMILY = [kind for kind in vars(errors).values() if isinstance(kind, type) and issubclass(kind, Exception)]


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({}, "'abc' is no date."),
        ({"file": "samples.csv"}, "samples.csv: 'abc' is no date."),
        ({"place": "line 3"}, "line 3: 'abc' is no date."),
        ({"file": "samples.csv", "place": "line 3"}, "samples.csv, line 3: 'abc' is no date."),
        ({"remedy": "Write it as 2024-04-12"}, "'abc' is no date. Write it as 2024-04-12."),
        (
            {"file": "samples.csv", "place": "line 3", "remedy": "Write it as 2024-04-12."},
            "samples.csv, line 3: 'abc' is no date. Write it as 2024-04-12.",
        ),
    ],
)
def test_messages(given, message):
    """File, place, problem and remedy in one line, with one full stop after each sentence."""
    assert str(SoiltrendError("'abc' is no date", **given)) == message
    assert str(SoiltrendError("'abc' is no date.", **given)) == message


def test_the_parts_stay_at_hand():
    """Whoever catches the error can read its parts."""
    error = SoiltrendError("found", file="a.csv", place="line 1", remedy="do")
    assert (error.problem, error.file, error.place, error.remedy) == ("found", "a.csv", "line 1", "do")


@pytest.mark.parametrize("kind", FAMILY)
def test_one_family(kind):
    """Catching the family catches all, each says what it is for, and nothing else is caught by it."""
    assert issubclass(kind, SoiltrendError)
    assert kind.__doc__
    with pytest.raises(SoiltrendError, match=r"garden\.toml: 'x' is wrong"):
        raise kind("'x' is wrong", file="garden.toml")


@pytest.mark.parametrize("kind", FAMILY)
def test_errors_travel_between_processes(kind):
    """A worker's error arrives with its message."""
    error = kind("'x' is wrong", file="garden.toml", remedy="Write y")
    back = pickle.loads(pickle.dumps(error))
    assert str(back) == str(error)
    assert (back.file, back.remedy) == (error.file, error.remedy)
