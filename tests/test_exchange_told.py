"""What is said of a sum, and what is not; which extractant and which acidity are taken among equals."""

import pandas as pd
import pytest
from soils import BASES, buffered, computed, mass, note, sample

from soiltrend import frames
from soiltrend.exchange import exchange, exchange_gaps, extractant
from soiltrend.exchange.acidity import acidities

PLAIN = {**BASES, **mass({"Na": 0.1}), "acidity": 1}


def numbered(frame):
    """Return the frame with composite numbers, and those numbers."""
    frame = frame.assign(composite=frames.composites(frame))
    return frame, pd.Index(frame["composite"].unique(), name="composite")


def test_of_a_plain_sample_nothing_is_said():
    """No limit, no repeat, no lime, one kind of acidity: no note on any row."""
    frame = exchange(sample(PLAIN))
    assert set(frame["note"]) == {""}


def test_a_stated_extractant_comes_before_an_unstated_one():
    """Both complete one sum: what is known of the sum is worth more than what is not."""
    parts = [sample(PLAIN, method="Olsen"), sample(BASES)]
    for order in (parts, parts[::-1]):
        frame = exchange(frames.join(*order))
        assert set(extractant(frame[frame["source"] == frames.COMPUTED])) == {"Olsen"}


def test_among_stated_equals_the_first_by_name_is_taken():
    """Whatever the order of the rows: the same record gives the same sums."""
    parts = [sample(PLAIN, method="Olsen"), sample(BASES, method="Mehlich-3")]
    for order in (parts, parts[::-1]):
        frame = exchange(frames.join(*order))
        assert set(extractant(frame[frame["source"] == frames.COMPUTED])) == {"Mehlich-3"}


def test_acidity_of_another_kind_is_said_without_a_layer_too():
    """Reports often do not state the layer: an unknown one is the same unknown one on both dates."""
    parts = [
        sample(PLAIN, sampled=f"202{year}-04-01", top_cm=None, bottom_cm=None, method="Olsen")
        for year in (1, 2)
    ]
    for part, method in zip(parts, ("KCl", "SMP"), strict=True):
        part.loc[part["analyte"] == "acidity", "method"] = method
    frame = exchange(frames.join(*parts))
    assert frame.loc[frame["source"] == frames.COMPUTED, "note"].str.contains(frames.FORMULA_CHANGED).all()


def test_densities_of_two_methods_are_averaged():
    """1.1 and 1.3 g/cm3 as scooped are 1.2: 1.2 meq/100 cm3 (NCDA&CS, at BpH 6.3) is 1.0 cmol/kg, exactly."""
    frame = buffered(6.3, "Mehlich buffer", **{"scoop density": 1.1})
    other = sample({"scoop density": 1.3}).assign(method="a heavier scoop")
    frame, every = numbered(frames.join(frame, other))
    found = acidities(frame, every, acidity="Mehlich buffer")
    assert found[["low", "high"]].to_numpy().ravel().tolist() == pytest.approx([1.0, 1.0])


def test_an_acidity_taken_as_none_is_none_at_both_ends():
    """There is no interval about a zero that nobody measured."""
    frame, every = numbered(sample({**BASES, "pH": 7.4}))
    found = acidities(frame, every, acidity="lab")
    assert found[["low", "high"]].to_numpy().ravel().tolist() == [0.0, 0.0]
    assert computed(exchange(frame.drop(columns="composite")))["acidity saturation"] == 0


@pytest.mark.parametrize(
    ("buffer", "asked", "told"),
    [
        ("SMP", "lab", "no acidity is reported, and pH is below 7 or not known; its buffer pH would give "
         "one: acidity = 'SMP'"),
        ("a buffer of their own", "lab", "no acidity is reported, and pH is below 7 or not known"),
        ("Woodruff", "SMP", "there is no buffer pH by SMP, and pH is below 7 or not known"),
    ],
)  # fmt: skip
def test_why_there_is_no_acidity(buffer, asked, told):
    """A formula is offered for a buffer that has one, and only where none was asked for."""
    frame = frames.join(buffered(6.5, buffer), buffered(6.5, "SMP").assign(bed="West"))
    assert exchange_gaps(frame[frame["bed"] == "East"] if asked == "lab" else frame, acidity=asked)[
        "reason"
    ].tolist() == [told]


def test_only_what_is_below_its_limit_is_said_to_be():
    """K at its limit is named, the others are not; the note of the laboratory's rows stays blank."""
    frame = exchange(sample({**PLAIN, "K": (150.0, "<")}))
    assert note(frame) == "K is below its limit and counts at that limit"
    assert set(frame.loc[frame["source"] != frames.COMPUTED, "note"]) == {""}
