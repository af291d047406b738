"""Whatever the amounts, on either side of a limit, what the sums say of them is true."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from soils import IONS, WEIGHT, buffered, mass, note, rich, sample, two_extractants

from soiltrend import frames
from soiltrend.exchange import exchange, ratios

SAMPLES = 40
SHARES = [f"{ion} saturation" for ion in IONS]
seeds = st.integers(0, 2**32 - 1)


def many(charges, marks=None):
    """Return one tidy frame of many samples: a row of charges [cmol/kg] and of qualifiers for each."""
    per_kg = np.array([10 * WEIGHT.get(ion, 0.1) for ion in IONS])
    marks = np.full(charges.shape, "") if marks is None else marks
    return frames.results(
        pd.DataFrame(
            {
                "bed": "East",
                "sample": np.repeat(np.arange(len(charges)), len(IONS)).astype(str),
                "analyte": np.tile(IONS, len(charges)),
                "value": (charges * per_kg).ravel(),
                "qualifier": marks.ravel(),
                "unit": np.tile(["mg/kg"] * 4 + ["cmol/kg"], len(charges)),
            }
        )
    )


def wide(frame, column="value"):
    """Return the derived rows with a row for each sample and a column for each analyte."""
    rows = frame[frame["source"] == frames.COMPUTED].assign(sample=lambda f: f["sample"].astype(int))
    return rows.pivot_table(index="sample", columns="analyte", values=column, aggfunc="first")


def drawn(seed):
    """Return random charges of many samples, from traces to rich soil."""
    return np.exp(np.random.default_rng(seed).uniform(np.log(0.02), np.log(40), (SAMPLES, len(IONS))))


@settings(max_examples=15, deadline=None)
@given(seeds, st.floats(0, 0.6))
def test_what_is_said_of_censored_sums_is_true(seed, often):
    """Whatever lies beyond the limits, each value, "<" and ">" holds: plain ones within 2 % (guards.csv)."""
    random, printed = np.random.default_rng(seed), drawn(seed)
    marks = random.choice(["", "<", ">"], printed.shape, p=[1 - often, often * 0.7, often * 0.3])
    part = random.uniform(0, 1, printed.shape) * random.integers(0, 2, printed.shape)
    true = np.select([marks == "<", marks == ">"], [printed * part, printed * (1 + 50 * part)], printed)
    total = true.sum(axis=1)
    truth = pd.DataFrame({f"{ion} saturation": 100 * true[:, i] / total for i, ion in enumerate(IONS)})
    truth = truth.assign(CEC=total, **{"base saturation": 100 - truth["acidity saturation"]})
    frame = exchange(many(printed, marks))
    value, sign = wide(frame).reindex(index=truth.index), wide(frame, "qualifier").reindex(index=truth.index)
    for analyte in value:
        low = value[analyte].where(sign[analyte] != "<", 0.0)
        high = value[analyte].where(sign[analyte] != ">", np.inf)
        said = value[analyte].notna()
        assert (truth.loc[said, analyte] >= 0.9799 * low[said] - 1e-9).all(), analyte
        assert (truth.loc[said, analyte] <= 1.0205 * high[said] + 1e-9).all(), analyte


def test_a_small_share_below_its_limit_leaves_the_sum_plain():
    """Na below a limit that is 0.5 % of the sum: the sum stands, the share of Na itself is "<"."""
    frame = exchange(
        sample({**mass({"Ca": 8, "Mg": 1, "K": 0.5, "acidity": 0.45}), "Na": (0.5 * WEIGHT["Na"], "<")})
    )
    marks = frame[frame["source"] == frames.COMPUTED].set_index("analyte")["qualifier"]
    assert marks["CEC"] == ""
    assert marks["Na saturation"] == "<"
    assert "Na is below its limit and counts at that limit" in note(frame)


def test_a_large_share_below_its_limit_marks_the_sum():
    """Mg below a limit that is a tenth of the sum makes the sum "<" and the other shares ">"."""
    frame = exchange(sample({**mass({"Ca": 8, "K": 0.5, "acidity": 0.5}), "Mg": (10 * WEIGHT["Mg"], "<")}))
    marks = frame[frame["source"] == frames.COMPUTED].set_index("analyte")["qualifier"]
    assert marks[["CEC", "Mg saturation", "Ca saturation", "K saturation"]].tolist() == ["<", "<", ">", ">"]


def test_a_limit_is_never_halved():
    """The value beside "<" is the limit itself, 10 of 19 cmol/kg here, and not half of it."""
    frame = exchange(sample({**mass({"Ca": 8, "K": 0.5, "acidity": 0.5}), "Mg": (100 * WEIGHT["Mg"], "<")}))
    row = frame[(frame["analyte"] == "CEC") & (frame["source"] == frames.COMPUTED)].iloc[0]
    assert (row["qualifier"], row["value"]) == ("<", pytest.approx(19, rel=1e-4))


@pytest.mark.parametrize(("reading", "qualifier", "value"), [((6.5, ">"), "<", 6.0), ((6.5, "<"), ">", 6.0)])
def test_a_buffer_beyond_its_limit(reading, qualifier, value):
    """A buffer pH above 6.5 means less acidity than 12 x (7 - 6.5), one below it more."""
    frame = exchange(buffered(reading, "SMP"), acidity="SMP")
    row = frame[frame["analyte"] == "acidity"].iloc[0]
    assert (row["qualifier"], row["value"]) == (qualifier, pytest.approx(value))


@settings(max_examples=15, deadline=None)
@given(seeds)
def test_saturations_sum_to_100(seed):
    """The shares of all ions close, those of the bases make the base saturation, and none is above 100."""
    charges = drawn(seed)
    value = wide(exchange(many(charges)))
    assert value["CEC"].to_numpy() == pytest.approx(charges.sum(axis=1), rel=1e-4)
    assert value[SHARES].sum(axis=1).to_numpy() == pytest.approx(np.full(SAMPLES, 100))
    assert value[SHARES[:4]].sum(axis=1).to_numpy() == pytest.approx(value["base saturation"].to_numpy())
    assert (value.drop(columns="CEC") <= 100).all(axis=None)


@settings(max_examples=3, deadline=None)
@given(seeds, st.floats(0.01, 100))
def test_scaling(seed, scale):
    """More of everything: the capacity grows with it, shares and ratios stay."""
    charges = drawn(seed)
    one, more = (wide(ratios(exchange(many(charges * by)))) for by in (1.0, scale))
    assert (one.pop("CEC") * scale).to_numpy() == pytest.approx(more.pop("CEC").to_numpy())
    assert one.to_numpy() == pytest.approx(more.to_numpy())


@pytest.mark.parametrize("seed", range(3))
def test_order_of_rows_makes_no_difference(seed):
    """Shuffled rows give the same derived rows."""
    frame = frames.join(
        two_extractants(),
        rich(Na=(5, "<")).assign(bed="West"),
        buffered(6.4, "SMP", acidity=2.0).assign(sample="3"),
    )
    order = np.random.default_rng(seed).permutation(len(frame))
    keys = ["bed", "sample", "analyte", "method", "value", "note"]
    one, other = (
        ratios(exchange(f)).query("source == 'computed'")[keys].sort_values(keys).reset_index(drop=True)
        for f in (frame, frame.iloc[order].reset_index(drop=True))
    )
    pd.testing.assert_frame_equal(one, other)
