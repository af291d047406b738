"""Sums and saturations agree with published examples and open data, and say where they cannot be had."""

import pandas as pd
import pytest
from soils import BASES, IONS, buffered, computed, horton, mass, note, rich, sample, two_extractants

from soiltrend import frames, units
from soiltrend.errors import FrameError, SoiltrendError
from soiltrend.exchange import exchange, exchange_gaps, extractant, inflated, ratio_gaps, ratios


def test_clemson_worked_example():
    """Clemson Univ. Agricultural Service Laboratory, CEC calculations: lb/acre and an Adams-Evans 7.70."""
    pounds = {"K": 221, "Mg": 28, "Ca": 400, "Na": 12}
    frame = buffered(7.70, "Adams-Evans", **{name: value / 2 for name, value in pounds.items()})
    value = computed(exchange(frame, acidity="Adams-Evans"))
    assert value["acidity"] == pytest.approx(2.40)
    assert value["CEC"] == pytest.approx(3.83, abs=0.01)
    assert value["base saturation"] == pytest.approx(37, abs=0.5)


def test_swapped_divisors_are_not_used():
    """An answer in circulation divides K by 200, Ca by 120 and Mg by 390 and gets 8.65; right is 6.0."""
    value = computed(
        exchange(sample({"K": 157.72, "Ca": 756.56, "Mg": 198.78, "Na": 21.36, "acidity": 0.06}))
    )
    assert value["CEC"] == pytest.approx(5.997, rel=0.006)
    assert value["base saturation"] == pytest.approx(99.0, abs=0.05)
    assert value["Na saturation"] == pytest.approx(1.55, abs=0.02)


def test_second_soil_of_the_swapped_example():
    """The other soil of that answer: 10.85 there, 7.61 by the right divisors."""
    value = computed(
        exchange(sample({"K": 142.66, "Ca": 1139.54, "Mg": 157.22, "Na": 35.89, "acidity": 0.08}))
    )
    assert value["CEC"] == pytest.approx(7.610, rel=0.006)
    assert value["base saturation"] == pytest.approx(98.9, abs=0.1)
    assert value["Na saturation"] == pytest.approx(2.05, abs=0.02)


def test_calcium_saturation_of_a_fact_sheet():
    """Crop File 1.04.132, soil 2: 4639 ppm Ca in a capacity of 29.0 is 80 %; pH 7.7, so no acidity."""
    rest = 29.0 - 4639 / 200
    frame = sample({"Ca": 4639, "pH": 7.7, **mass({"Mg": rest * 0.8, "K": rest * 0.2})})
    value = computed(exchange(frame))
    assert value["Ca saturation"] == pytest.approx(80, abs=0.5)
    assert value["base saturation"] == 100
    assert value["acidity saturation"] == 0


def test_sums_of_open_data():
    """Mean sums of bases by depth: 21.3, 22.7, 22.7, 23.5 meq/100 g, as the columns of the data add up."""
    frame = exchange(horton(), acidity="none")
    means = frame[frame["analyte"] == "CEC"].groupby("season")["value"].mean()
    assert means.round(1).tolist() == [21.3, 22.7, 22.7, 23.5]


def test_a_reported_zero_is_zero():
    """Acidity printed as 0 is a result, not a gap."""
    value = computed(exchange(sample({**mass({"Ca": 5, "Mg": 1, "K": 0.5}), "acidity": 0})))
    assert value["CEC"] == pytest.approx(6.5, rel=1e-4)
    assert value["acidity saturation"] == 0


@pytest.mark.parametrize(
    ("buffer", "reading", "expected"),
    [
        ("Adams-Evans", 7.7, 2.4),
        ("SMP", 6.5, 6.0),
        ("Sikora", 6.5, 6.0),
        ("Woodruff", 6.5, 5.0),
        ("SMP", 7.2, 0.0),
        ("Adams-Evans", 8.1, 0.0),
    ],
)
def test_buffer_formulas(buffer, reading, expected):
    """Univ. of Georgia AESL 8 x (8.00 - BpH); Crop File 1.04.132 12 x (7 - BpH); never below 0."""
    frame = exchange(buffered(reading, buffer), acidity=buffer)
    rows = frame[(frame["analyte"] == "acidity") & (frame["source"] == frames.COMPUTED)]
    assert rows["method"].tolist() == [buffer]
    assert rows["value"].iloc[0] == pytest.approx(expected)


def test_acidity_per_volume_takes_the_density_as_scooped():
    """NCDA&CS: (6.6 - BpH) x 4 meq/100 cm3, 1.2 at BpH 6.3; at 1.2 g/cm3 as scooped 1.0 cmol/kg."""
    frame = buffered(6.3, "Mehlich buffer", **{"scoop density": 1.2})
    assert computed(exchange(frame, acidity="Mehlich buffer"))["acidity"] == pytest.approx(1.0)


def test_acidity_per_volume_without_a_density_is_a_gap():
    """The density as scooped is asked for, not assumed."""
    frame = buffered(6.3, "Mehlich buffer")
    assert computed(exchange(frame, acidity="Mehlich buffer")).empty
    assert "no density of the soil as scooped" in exchange_gaps(frame, acidity="Mehlich buffer")["reason"][0]


def test_buffers_are_never_mixed():
    """A formula is refused where only another buffer was read, and the buffer found is named."""
    with pytest.raises(
        SoiltrendError, match="no sample has a buffer pH by 'Adams-Evans'; buffers found: 'SMP'"
    ):
        exchange(buffered(6.5, "SMP"), acidity="Adams-Evans")


def test_a_sample_read_with_another_buffer_is_a_gap():
    """In a mixed garden the formula is used on its own buffer only."""
    both = frames.join(buffered(6.5, "SMP"), buffered(7.7, "Adams-Evans").assign(sample="2"))
    frame = exchange(both, acidity="SMP")
    assert frame.loc[frame["analyte"] == "CEC", "sample"].tolist() == [""]
    assert exchange_gaps(both, acidity="SMP")["sample"].tolist() == ["2"]


def test_an_unknown_formula_is_refused():
    """The error names what was asked for and what there is."""
    with pytest.raises(SoiltrendError, match=r"'moonlight' is no way known here.*'Adams-Evans'"):
        exchange(buffered(6.5, "SMP"), acidity="moonlight")


def test_a_formula_may_be_spelled_as_the_trade_does():
    """Spellings of the buffer stand for its formula."""
    frame = buffered(6.5, "SMP")
    pd.testing.assert_frame_equal(exchange(frame, acidity="SMP buffer"), exchange(frame, acidity="SMP"))


@pytest.mark.parametrize(
    ("extra", "summed"),
    [
        ({"pH": 7.0}, True),
        ({"pH": 6.9}, False),
        ({}, False),
        ({"pH": (7.4, "<")}, False),
        ({"pH": (7.4, ">")}, True),
    ],
)
def test_missing_acidity_is_zero_only_where_ph_says_so(extra, summed):
    """At pH 7 or more there is none to measure; below it a sum without it would be false."""
    frame = sample({**BASES, **extra})
    assert ("CEC" in computed(exchange(frame))) is summed
    assert exchange_gaps(frame).empty is summed


def test_zero_acidity_by_ph_is_said():
    """The note tells that acidity was not measured."""
    assert "acidity was not measured and is taken as 0 because pH is 7 or more" in note(
        exchange(sample({**BASES, "pH": 7.1}))
    )


@pytest.mark.parametrize(("pH", "acidity"), [(6.9, 12 * 0.2), (7.0, 0.0), (7.4, 0.0)])
def test_a_buffer_gives_no_acidity_to_a_neutral_soil(pH, acidity):
    """Crop File 1.04.132: (7 - 6.8) x 12, and a soil of pH 7.7 is 100 % base-saturated."""
    frame = exchange(buffered(6.8, "SMP", pH=pH), acidity="SMP")
    assert computed(frame)["acidity saturation"] == pytest.approx(100 * acidity / computed(frame)["CEC"])
    assert ("whatever the buffer reads, because pH is 7 or more" in note(frame)) == (acidity == 0)


@pytest.mark.parametrize(
    ("buffer", "reading", "summed"),
    [("SMP", 7.0, True), ("SMP", 6.9, False), ("Adams-Evans", 7.0, False), ("", 7.5, False)],
)
def test_a_buffer_at_its_reference_means_no_acidity(buffer, reading, summed):
    """Each buffer has its own reference; a buffer without a name has none."""
    assert ("CEC" in computed(exchange(buffered(reading, buffer)))) is summed


def test_bases_alone():
    """Without acidity the saturations are shares of the bases, and the note says so."""
    frame = exchange(sample({**BASES, "pH": 5.5}), acidity="none")
    assert computed(frame)["CEC"] == pytest.approx(10.5, rel=1e-4)
    assert "acidity saturation" not in computed(frame)
    assert "acidity is not counted" in note(frame)


def test_two_kinds_of_acidity_are_not_chosen_between():
    """KCl acidity and buffer acidity differ; with both reported the sum waits for the grower."""
    two = sample({**BASES, "acidity": 0.3})
    other = sample({"acidity": 2.1})
    two.loc[two["analyte"] == "acidity", "method"] = "KCl"
    other["method"] = "SMP"
    reason = exchange_gaps(frames.join(two, other))["reason"][0]
    assert reason == "acidity is reported by several methods (KCl, SMP); keep the rows of one"


@pytest.mark.parametrize("lacking", ["Ca", "Mg", "K"])
def test_a_cation_that_was_not_measured_is_a_gap(lacking):
    """No sum is given without it, and the gap names it."""
    frame = sample({name: value for name, value in {**BASES, "acidity": 1}.items() if name != lacking})
    assert computed(exchange(frame)).empty
    assert exchange_gaps(frame)["reason"].tolist() == [f"not measured: {lacking}"]


def test_sodium_may_be_missing_and_that_is_said():
    """Without Na the sum stands, with a note and no share of Na."""
    frame = exchange(sample({**BASES, "acidity": 1}))
    assert "Na was not measured by the same method and is not counted" in note(frame)
    assert "Na saturation" not in computed(frame)


def test_cations_of_two_extractants_are_not_mixed():
    """Ca by one and K by another are no sum."""
    frame = frames.join(
        sample({"Ca": 900, "Mg": 90, "acidity": 1}, method="Mehlich-3"),
        sample({"K": 100, "Mg": 90}, method="Olsen"),
    )
    assert exchange_gaps(frame)["reason"][0].startswith("Ca, Mg and K do not share one method")
    assert computed(exchange(frame)).empty


def test_the_reference_extractant_wins_among_equals():
    """Measured by both on one date, the sum is of ammonium acetate, and the note tells of the other."""
    frame = exchange(two_extractants())
    assert extractant(frame)[frame["analyte"] == "CEC"].tolist() == ["ammonium acetate"]
    assert computed(frame)["CEC"] == pytest.approx(9.4, rel=1e-4)
    assert "also measured by another extractant" in note(frame)


def test_the_main_extractant_of_the_laboratory_wins():
    """A laboratory that mostly used one extractant stays with it on the date that has both."""
    earlier = [
        sample({**BASES, "acidity": 1}, method="Mehlich-3", sampled=f"202{year}-04-01") for year in (1, 2)
    ]
    frame = exchange(frames.join(two_extractants(), *earlier))
    sums = frame[frame["analyte"] == "CEC"]
    assert set(extractant(sums)) == {"Mehlich-3"}
    assert set(sums["method"]) == {"summation"}


def test_a_series_breaks_where_the_extractant_changed():
    """The less used extractant stands in the method, in every bed: nothing is compared across."""
    then = [
        sample({**BASES, "acidity": 1}, method="ammonium acetate", bed=bed, sampled="2021-04-01")
        for bed in ("East", "West", "North")
    ]
    now = [sample({**BASES, "acidity": 1}, method="Mehlich-3", bed=bed) for bed in ("East", "West")]
    frame = exchange(frames.join(*then, *now))
    sums = frame[frame["analyte"] == "K saturation"]
    assert sums.groupby("method")["sampled"].unique().map(len).to_dict() == {
        "summation": 1,
        "summation (Mehlich-3)": 1,
    }
    assert extractant(sums).tolist() == ["ammonium acetate"] * 3 + ["Mehlich-3"] * 2


def test_the_main_extractant_is_each_laboratory_s_own():
    """Two laboratories with an extractant each both have plain summation."""
    one = sample({**BASES, "acidity": 1}, method="ammonium acetate", lab="Hill")
    other = sample({**BASES, "acidity": 1}, method="Mehlich-3", lab="Dale")
    frame = exchange(frames.join(one, other))
    assert set(frame.loc[frame["analyte"] == "CEC", "method"]) == {"summation"}


def test_acidity_of_another_kind_on_another_date_is_said():
    """KCl acidity then and buffer acidity now do not make one series; a zero by pH goes with either."""
    parts = [sample({**BASES, "acidity": 1}, sampled=f"202{year}-04-01") for year in (1, 2)]
    for part, method in zip(parts, ("KCl", "SMP"), strict=True):
        part.loc[part["analyte"] == "acidity", "method"] = method
    neutral = sample({**BASES, "pH": 7.2}, sampled="2023-04-01")
    both = exchange(frames.join(*parts))
    alike = exchange(frames.join(parts[0], neutral))
    told = [
        f.loc[f["source"] == frames.COMPUTED, "note"].str.contains(frames.FORMULA_CHANGED)
        for f in (both, alike)
    ]
    assert told[0].all()
    assert not told[1].any()


def test_samples_laboratories_and_layers_are_not_pooled():
    """Each composite gets its own sum."""
    one = sample({**BASES, "acidity": 1})
    frame = exchange(
        frames.join(one, one.assign(sample="2"), one.assign(lab="Other"), one.assign(bottom_cm=30.0))
    )
    assert (frame["analyte"] == "CEC").sum() == 4


def test_repeats_of_one_sample_are_averaged_and_said():
    """Ca printed twice on one sample counts once, as the mean."""
    frame = frames.join(sample({**BASES, "acidity": 1}), sample(mass({"Ca": 10})))
    assert computed(exchange(frame))["CEC"] == pytest.approx(12.5, rel=1e-4)
    assert "repeated results are averaged" in note(exchange(frame))


@pytest.mark.parametrize("amounts", [{"acidity": -0.2}, {"acidity": 1, "Na": -3}])
def test_a_result_below_zero_is_a_gap(amounts):
    """Soil holds no negative charge of a cation: the report is at fault and no sum is made of it."""
    frame = sample({**BASES, **amounts})
    assert computed(exchange(frame)).empty
    assert exchange_gaps(frame)["reason"].tolist() == ["a cation or the acidity is reported below zero"]


def test_a_sum_of_zeros_is_a_gap():
    """There are no shares of nothing."""
    frame = sample(dict.fromkeys(IONS, 0))
    assert computed(exchange(frame)).empty
    assert exchange_gaps(frame)["reason"].tolist() == ["all cations are reported as zero"]


@pytest.mark.parametrize(
    ("extra", "method", "told"),
    [
        ({"pH": 7.3}, "", False),
        ({"pH": 7.4}, "", True),
        ({"lime content": 0.5}, "", False),
        ({"lime content": 2.0}, "", True),
        ({"EC": 0.4}, "water 1:5", True),
        ({"EC": 0.4}, "saturated paste", False),
        ({"EC": 4.5}, "saturated paste", True),
        ({"pH": (8.0, "<")}, "", False),
    ],
)
def test_guards(extra, method, told):
    """Kansas AES 7(8): pH 7.3; CSSPA 29:1785: 0.5 % CaCO3; Australian 15A3: 0.3; Handbook 60: 4 dS/m."""
    frame = rich(**extra)
    frame.loc[frame["analyte"].isin(["pH", "EC"]), "method"] = method
    result = exchange(frame)
    ours = result["source"] == frames.COMPUTED
    assert inflated(result)[ours].all() == inflated(result)[ours].any() == told
    assert note(result).startswith(frames.INFLATED) is told


def test_a_recent_dressing_on_the_calcium_row_is_a_guard():
    """A note on Ca that tells of a dressing is passed on to sums and to ratios with Ca, no others."""
    frame = rich()
    frame.loc[frame["analyte"] == "Ca", "note"] = "sampled 20 days after a dressing"
    assert "sampled 20 days after a dressing" in note(exchange(frame))
    result = ratios(frame)
    warned = result.loc[inflated(result), "analyte"]
    assert set(warned) == {"Ca:Mg (charge)", "Ca:Mg (mass)", "Ca:K (charge)", "(Ca+Mg):K (charge)"}


def test_the_frame_passed_in_is_unchanged():
    """Neither call writes into its argument."""
    frame = frames.join(two_extractants(), buffered(6.5, "SMP").assign(sample="2"))
    before = frame.copy(deep=True)
    exchange(frame)
    exchange(frame, acidity="SMP")
    ratios(frame)
    pd.testing.assert_frame_equal(frame, before)


@pytest.mark.parametrize("acidity", ["lab", "none", "SMP"])
def test_computing_twice_changes_nothing(acidity):
    """Derived rows are replaced, not doubled."""
    once = ratios(
        exchange(frames.join(buffered(6.5, "SMP", acidity=1.0), rich().assign(sample="2")), acidity=acidity)
    )
    pd.testing.assert_frame_equal(exchange(ratios(once), acidity=acidity), exchange(once, acidity=acidity))
    assert not once.duplicated([*frames.COMPOSITE, "analyte", "method"]).any()


def test_another_formula_replaces_the_rows_of_the_first():
    """One formula over all dates: nothing of the formula used before remains."""
    frame = buffered(6.5, "SMP", acidity=1.0)
    again = exchange(exchange(frame, acidity="SMP"), acidity="none")
    assert computed(again).round(6).to_dict() == computed(exchange(frame, acidity="none")).round(6).to_dict()


def test_reported_capacity_and_saturations_stay():
    """What the laboratory printed keeps its value, method and words beside the computed rows."""
    frame = frames.join(rich(), sample({"CEC": 30.0, "K saturation": 104.0}))
    result = exchange(frame)
    pd.testing.assert_frame_equal(result.iloc[: len(frame)], frame)


def test_a_laboratory_summation_does_not_share_our_series():
    """The laboratory's own "summation" is renamed and says so; the computed row has the name to itself."""
    printed = sample({"CEC": 30.0}).assign(method="summation")
    result = exchange(frames.join(rich(), printed))
    capacity = result[result["analyte"] == "CEC"].set_index("method")
    assert capacity["value"].to_dict() == pytest.approx(
        {"summation (lab)": 30.0, "summation": 11.5}, rel=1e-4
    )
    assert capacity.loc["summation (lab)", "note"] == "the laboratory's own figure, by its own formula"


def test_derived_rows_are_tidy_and_say_how_they_were_made():
    """Source "computed", the formula in words, nothing printed, and the composite's own columns."""
    result = exchange(rich().assign(lab="Hill", report="7", sample="A", season="spring 2024"))
    frames.check(result)
    row = result[result["analyte"] == "K saturation"].iloc[0]
    assert (
        row["place"]
        == "K in 100 parts of the sum of Ca, Mg, K by extractant not stated, with acidity as reported"
    )
    assert row[
        ["lab", "report", "sample", "season", "source", "reported_value", "reported_unit"]
    ].tolist() == ["Hill", "7", "A", "spring 2024", "computed", "", ""]


@pytest.mark.parametrize("call", [exchange, ratios, exchange_gaps, ratio_gaps])
def test_an_empty_frame(call):
    """Nothing in, nothing out."""
    assert len(call(frames.results())) == 0


@pytest.mark.parametrize("call", [exchange, ratios, exchange_gaps, ratio_gaps])
def test_an_untidy_frame_is_refused(call):
    """Charge per kg under the name of Ca would be summed wrongly: the frame is checked first."""
    with pytest.raises(FrameError, match="'Ca' is in 'cmol/kg' and not in 'mg/kg'"):
        call(sample({"Ca": 5}).assign(unit="cmol/kg"))


def test_charge_uses_the_units_of_the_house():
    """The sum of one cation in charge is its mass turned by the unit table."""
    frame = sample({"Ca": 1000, "Mg": 0, "K": 0, "acidity": 0})
    assert computed(exchange(frame))["CEC"] == pytest.approx(
        units.convert(1000, unit="mg/kg", to="cmol/kg", analyte="Ca")
    )
