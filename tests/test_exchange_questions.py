"""A slip in a report is found by the report's own arithmetic, and by nothing else."""

import pandas as pd
import pytest

from soiltrend import frames
from soiltrend.exchange import exchange, questioned, recomputed
from soiltrend.frames import QUESTIONED

SOUND = {
    "Ca": 1600.0,
    "Mg": 196.0,
    "K": 180.0,
    "Na": 23.0,
    "acidity": 1.2,
    "pH": 6.3,
    "CEC": 11.4,
    "Ca saturation": 70.0,
    "Mg saturation": 14.1,
    "K saturation": 4.0,
    "Na saturation": 0.9,
}
"""A report that adds up: 7.98 + 1.61 + 0.46 + 0.10 + 1.2 cmol/kg by the divisors of Crop File 1.04.132."""

UNITS = {"acidity": "cmol/kg", "CEC": "cmol/kg", "pH": "pH"}


def report(**changed):
    values = {**SOUND, **changed}
    rows = [
        {
            "bed": "East",
            "sample": "7",
            "analyte": name,
            "value": value,
            "source": "spring.csv",
            "unit": UNITS.get(name, "%" if "saturation" in name else "mg/kg"),
            "method": "Mehlich-3" if name in ("Ca", "Mg", "K", "Na") else "",
        }
        for name, value in values.items()
        if value is not None
    ]
    return frames.results(pd.DataFrame(rows))


def noted(frame):
    return set(frame.loc[frame["note"].str.startswith(QUESTIONED), "analyte"])


def test_a_report_that_adds_up_is_not_questioned():
    """Rounding to a tenth and round divisors are no contradiction."""
    assert noted(questioned(report())) == set()


@pytest.mark.parametrize(("ion", "slip"), [("Mg", 1960.0), ("Ca", 160.0), ("K", 18.0), ("Mg", 19.6)])
def test_a_slipped_decimal_is_questioned(ion, slip):
    """Ten times or a tenth of the amount its own share allows; only that cation, and its value stays."""
    frame = questioned(report(**{ion: slip}))
    assert noted(frame) == ({ion} if ion != "K" else {"K"})
    assert frame.loc[frame["analyte"] == ion, "value"].tolist() == [slip]
    assert f"{slip:g} mg/kg of {ion}" in frame.loc[frame["analyte"] == ion, "note"].iloc[0]


def test_a_trace_is_not_worth_a_question():
    """Sodium at one part in a hundred may be off by its rounding; that moves nothing."""
    assert noted(questioned(report(Na=40.0))) == set()


def test_without_the_labs_own_share_there_is_nothing_to_contradict():
    """A value alone is not judged by taste."""
    shares = {f"{ion} saturation": None for ion in ("Ca", "Mg", "K", "Na")}
    assert noted(questioned(report(Mg=1960.0, **shares))) == set()


def test_what_was_computed_from_a_slip_is_questioned_too():
    """Sums and shares that hold the slip carry its note; the measured acidity and pH do not."""
    frame = questioned(exchange(report(Mg=1960.0)))
    computed = frame[frame["source"] == frames.COMPUTED]
    assert noted(computed) == set(computed["analyte"]) - {"acidity"}
    assert noted(frame[frame["source"] != frames.COMPUTED]) == {"Mg"}


def test_the_frame_given_is_left_as_it_was():
    """A new frame comes back."""
    given = report(Mg=1960.0)
    before = given.copy()
    questioned(given)
    pd.testing.assert_frame_equal(given, before)


def test_asking_twice_asks_once():
    """A note is not doubled on rows that already carry it."""
    once = questioned(report(Mg=1960.0))
    assert questioned(once)["note"].str.count(QUESTIONED).max() == 1


def test_the_labs_sums_step_back_where_ours_stand():
    """One capacity and one share of each cation a sample; what was measured stays."""
    frame = recomputed(exchange(report()))
    assert frame["analyte"].value_counts().max() == 1
    assert set(SOUND) <= set(frame["analyte"])


def test_the_labs_sums_stay_where_ours_cannot_be_made():
    """Without potassium there is no sum of ours, and the laboratory's is all there is."""
    frame = recomputed(exchange(report(K=None)))
    assert frame.loc[frame["analyte"] == "CEC", "value"].tolist() == [11.4]


@pytest.mark.parametrize(
    ("times", "asked"), [(1.55, True), (1.45, False), (1 / 1.55, True), (1 / 1.45, False)]
)
def test_half_as_much_again_is_asked(times, asked):
    """Mg of 1.61 cmol/kg by its share: 1.5 times apart either way is a slip, less is not."""
    exact = 0.141 * 11.4 * 10 * 24.305 / 2
    assert noted(questioned(report(Mg=exact * times))) == ({"Mg"} if asked else set())


@pytest.mark.parametrize(("more", "asked"), [(0.0315, True), (0.029, False)])
def test_what_is_less_than_3_percent_of_the_capacity_is_not_asked(more, asked):
    """Na of 1 % of a capacity of 10 and so much of it more, more than half as much again in either case."""
    sodium = (0.01 + more) * 10 * 10 * 22.98977
    changed = {"CEC": 10.0, "Na saturation": 1.0, "Na": sodium}
    shares = {f"{ion} saturation": None for ion in ("Ca", "Mg", "K")}
    assert noted(questioned(report(**changed, **shares))) == ({"Na"} if asked else set())


def test_a_second_sample_without_a_capacity_is_left_alone():
    """Only the sample whose own report contradicts it is asked about."""
    other = report(Mg=1960.0, CEC=None).assign(sample="8")
    frame = questioned(frames.join(report(Mg=1960.0), other))
    assert frame.loc[frame["note"] != "", ["sample", "analyte"]].to_numpy().tolist() == [["7", "Mg"]]


@pytest.mark.parametrize("beyond", ["CEC", "Ca saturation", "Ca"])
def test_what_lies_beyond_its_limit_contradicts_nothing(beyond):
    """9000 mg/kg of Ca are 44.9 cmol/kg (200.4 mg each): 80 % of a capacity of 56, which is ">30"."""
    same = {"bed": "East", "sample": "7", "source": "spring.csv"}
    rows = [{**same, "analyte": "Ca", "value": 9000.0, "unit": "mg/kg"},
            {**same, "analyte": "CEC", "value": 30.0, "unit": "cmol/kg"},
            {**same, "analyte": "Ca saturation", "value": 80.0, "unit": "%"}]  # fmt: skip
    assert questioned(frames.results(rows))["note"].str.startswith(QUESTIONED).sum() == 1
    limited = [row | {"qualifier": ">" if row["analyte"] == beyond else ""} for row in rows]
    assert (questioned(frames.results(limited))["note"] == "").all()
