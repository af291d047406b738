"""Could this be luck: chances against the binomial, a simulation of another kind, and real comparisons."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from soiltrend import frames
from soiltrend.compare import compare
from soiltrend.errors import SoiltrendError
from soiltrend.luck import ALL, CHANGED, luck
from soiltrend.noise import noise_model
from soiltrend.simulate import Design, simulate_garden

ENDS = {"before": "spring 2022", "after": "spring 2024"}
TWELVE = ("P", "K", "Ca", "Mg", "Na", "S", "B", "Zn", "Mn", "Fe", "Cu", "CEC")
"""Twelve measures whose noise is a share of the value."""


def known(names=("pH", "K", "Zn", "Ca"), **terms):
    """Return a noise model whose sds are known and in which every change matters."""
    return noise_model(overrides={name: {"sd": 0.1, "margin": 1e-9} | terms for name in names})


def compared(model, *, names=("pH", "K", "Zn", "Ca"), seed=1, beds=6, change=None, limits=None):
    design = Design(beds=beds, levels=dict.fromkeys(names, 6.4), limits=limits or {})
    garden = simulate_garden(seed=seed, design=design, change=change, noise=model)
    return compare(garden, **ENDS, noise=model)


def row(result, bed):
    return result.table.set_index("bed").loc[bed]


@pytest.mark.parametrize(("percent", "wanted"), [(10, 0.97), (20, 0.72), (30, 0.34)])
def test_twelve_measures_of_one_bed(percent, wanted):
    """Own simulation of 12 measures with an SD of 10 % and one composite a date: at least one is up by 10 %
    in 97, by 20 % in 72, by 30 % in 34 of 100 gardens; drawn here anew with normal errors about 1."""
    rng = np.random.default_rng(8)
    before, after = 1 + 0.1 * rng.standard_normal((2, 20_000, 12))
    anew = (after >= before * (1 + percent / 100)).any(axis=1).mean()
    assert anew == pytest.approx(wanted, abs=0.01)
    one = luck(compared(known(TWELVE, occasion=0.0), names=TWELVE, beds=1), draws=10_000)
    found = one.chance_of_rise(percent)["bed 1"]
    exact = 1 - stats.norm.cdf(np.log1p(percent / 100) / np.sqrt(0.02)) ** 12
    assert found == pytest.approx(exact, abs=4 * np.sqrt(exact * (1 - exact) / 10_000))
    assert found == pytest.approx(wanted, abs=0.04)


def test_independent_measures_are_counted_as_a_binomial():
    """Without a shared day the number of changes in 24 measures is binomial at 5 % (scipy)."""
    comparison = compared(known(occasion=0.0), change={"K": 0.35})
    found = row(luck(comparison, draws=5000), ALL)
    count = stats.binom(24, 0.05)
    assert found["expected_by_luck"] == pytest.approx(1.2, abs=4 * count.std() / np.sqrt(5000))
    assert found["chance_of_any"] == pytest.approx(count.sf(0), abs=0.03)
    assert found["chance_of_as_many"] == pytest.approx(count.sf(found["seen"] - 1), abs=0.01)
    one = row(luck(comparison, draws=5000), "bed 2")
    assert one["chance_of_any"] == pytest.approx(stats.binom(4, 0.05).sf(0), abs=0.03)


@pytest.mark.parametrize("df", [4, 20])
def test_a_noise_known_poorly_costs_no_more_alarms(df):
    """The t of the noise model's degrees of freedom keeps each measure at 5 %, in beds and in the garden."""
    result = luck(compared(known(df=df)), draws=5000)
    assert row(result, ALL)["expected_by_luck"] == pytest.approx(24 * 0.05, abs=0.12)
    assert row(result, frames.GARDEN)["expected_by_luck"] == pytest.approx(4 * 0.05, abs=0.03)


def test_false_discoveries():
    """After Benjamini & Hochberg (1995) at most 5 of 100 gardens without change show anything."""
    for day in (0.0, 0.1):
        found = row(luck(compared(known(occasion=day)), draws=4000), ALL)
        assert found["chance_of_any_adjusted"] <= 0.05 + 4 * np.sqrt(0.05 * 0.95 / 4000)
        assert found["chance_of_any"] > 0.3


def test_a_shared_day_brings_many_at_once():
    """With a rough day as many changes are expected, and crowds of them become common."""
    calm, rough = (row(luck(compared(known(occasion=day), seed=5), draws=4000), ALL) for day in (0.0, 1.0))
    assert rough["expected_by_luck"] == pytest.approx(calm["expected_by_luck"], abs=0.25)
    assert rough["chance_of_any"] < calm["chance_of_any"] - 0.2


def test_real_comparisons_of_gardens_without_change_show_as_much():
    """150 invented gardens, each compared: as many changes in one as luck expects, margins and all."""
    model = noise_model(overrides={name: {"sd": 0.1} for name in ("K", "Zn", "Ca")})
    design = Design(beds=4, levels={"K": 150.0, "Zn": 4.0, "Ca": 1800.0})
    parts = [
        simulate_garden(seed=i, design=design, noise=model).assign(lab=f"garden {i}") for i in range(150)
    ]
    table = compare(pd.concat(parts), **ENDS, noise=model).table
    for pooled, bed in ((False, ALL), (True, frames.GARDEN)):
        moved = table[(table["bed"] == frames.GARDEN) == pooled].groupby("lab")["verdict"]
        counts = moved.agg(lambda verdict: verdict.isin(CHANGED).sum())
        chance = row(luck(compare(parts[0], **ENDS, noise=model), draws=4000), bed)
        assert counts.mean() == pytest.approx(chance["expected_by_luck"], abs=4 * counts.std() / np.sqrt(150))
        any_here = (counts > 0).mean()
        assert any_here == pytest.approx(chance["chance_of_any"], abs=4 * np.sqrt(0.25 / 150))


def test_limits_leave_half_of_the_alarms():
    """A value below its limit before allows a rise alone; limits at both ends allow nothing."""
    one, model = ("Zn",), known(("Zn",))
    rows = compared(model, names=one, beds=2)
    table = rows.table.assign(before_censored="<")
    half = luck(type(rows)(table, rows.before, rows.after, 0.95, model), draws=5000)
    assert row(half, ALL)["expected_by_luck"] == pytest.approx(0.05, abs=0.02)
    both = table.assign(after_censored="<")
    none = luck(type(rows)(both, rows.before, rows.after, 0.95, model), draws=500)
    assert row(none, ALL)["expected_by_luck"] == 0


def test_change_stands_out_of_luck():
    """A garden in which one measure truly doubled: seen in every bed, which luck hardly ever shows."""
    result = luck(compared(noise_model(), names=("pH", "K", "Zn"), change={"K": 0.7}))
    found = row(result, ALL)
    assert found["seen_adjusted"] >= 6
    assert found["chance_of_as_many_adjusted"] <= 0.01
    assert "stand when it is counted how many were looked at, which luck would show in" in found["why"]


def test_counts_add_up():
    """All beds together have the measures and the changes of the beds; beds stand in their order."""
    table = luck(compared(known(), change={"K": 0.3}), draws=200).table
    assert table["bed"].tolist() == [*(f"bed {i + 1}" for i in range(6)), ALL, frames.GARDEN]
    for column in ("measures", "seen", "seen_adjusted"):
        assert table[column][:6].sum() == table[column][6]
    assert table["expected_by_luck"][:6].sum() == pytest.approx(table["expected_by_luck"][6])


def test_the_seed_gives_the_garden():
    """One seed, one answer; another seed, another."""
    comparison = compared(known())
    first, again, other = (luck(comparison, draws=200, seed=seed) for seed in (1, 1, 2))
    pd.testing.assert_frame_equal(first.table, again.table)
    assert not np.array_equal(first.steps, other.steps)


def test_what_luck_cannot_be_asked():
    """Too few draws, or nothing compared."""
    comparison = compared(known(), beds=2)
    with pytest.raises(SoiltrendError, match="20 draws cannot tell a chance"):
        luck(comparison, draws=20)
    lost = comparison.table.assign(verdict="not comparable")
    nothing = luck(type(comparison)(lost, comparison.before, comparison.after, 0.95, comparison.noise))
    assert nothing.table.empty
    assert "nothing for luck to show" in repr(nothing)


def test_how_it_shows_itself():
    """Text and HTML say how many gardens were drawn; no change seen is said in words of its own."""
    result = luck(compared(known(), beds=2), draws=100)
    assert repr(result).startswith("Could this be luck? 100 gardens in which nothing changed (seed 1)")
    assert "rose or fell. If nothing changed, luck would show" in result._repr_html_()
    quiet = result.table[result.table["seen"] == 0]["why"]
    assert quiet.str.contains("and at least one in").all()
