"""Damaged files give right values or a clear error, never a wrong value (a part of ``mutations.py``)."""

from collections import Counter

import mutations
import pytest


@pytest.mark.parametrize("start", range(0, 240, 40))
def test_no_damage_makes_a_wrong_value(tmp_path, start):
    """Cells lost and added, units and headings lost, files cut short: no wrong value under any bed."""
    found = {number: mutations.outcome(number, tmp_path) for number in range(start, start + 40)}
    assert [number for number, (_, what) in found.items() if what == "WRONG"] == []
    assert Counter(what for _, what in found.values())["right"] > 0


def test_the_corpus_can_fail(tmp_path, monkeypatch):
    """A reader that swaps two beds is caught."""
    real = mutations.read_report

    def swapped(path):
        reading = real(path)
        reading.results["bed"] = reading.results["bed"].replace({"Hill": "Harbour", "Harbour": "Hill"})
        return reading

    monkeypatch.setattr(mutations, "read_report", swapped)
    assert any(mutations.outcome(number, tmp_path)[1] == "WRONG" for number in range(20))
