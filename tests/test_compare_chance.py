"""Could this be luck: the counts that noise alone gives."""

import numpy as np
import pytest
from scipy import stats

from soiltrend import frames, noise
from soiltrend.compare import compare, luck
from soiltrend.errors import SoiltrendError
from soiltrend.simulate import Design, simulate_garden

ENDS = {"before": "spring 2022", "after": "spring 2024"}


def known(**terms):
    """Return a noise model whose sds are known, so that its quantiles are the normal ones."""
    names = ("pH", "K", "Zn", "Ca")
    table = noise.noise_model().table.query("method == ''").set_index("analyte")
    return noise.noise_model(overrides={name: {"sd": table.at[name, "sd"]} | terms for name in names})


def compared(*, seed=1, beds=6, change=None, model=None):
    design = Design(beds=beds, levels={"pH": 6.4, "K": 150.0, "Zn": 4.0, "Ca": 1800.0})
    garden = simulate_garden(seed=seed, design=design, change=change, noise=model)
    return compare(garden, **ENDS, noise=model)


def row(result, what):
    return result.table.set_index("what").loc[what]


def test_independent_rows_are_counted_as_a_binomial():
    """Without a shared day the number of alarms in 24 rows is binomial at 5 % (scipy)."""
    result = luck(compared(model=known(occasion=0.0)), seed=2, times=20_000)
    found = row(result, "beds and analytes that rose or fell")
    count = stats.binom(24, 0.05)
    assert found["by_luck"] == pytest.approx(count.mean(), abs=4 * count.std() / np.sqrt(20_000))
    assert found["chance"] == pytest.approx(count.sf(found["seen"] - 1), abs=0.02)


def test_the_largest_of_several_beds():
    """The largest of six independent normal changes (scipy): 1 - (1 - p)^6."""
    result = compared(model=known(occasion=0.0))
    found = row(luck(result, seed=3, times=20_000), "largest change of K in a bed")
    p = 2 * stats.norm.sf(1.959964 * found["seen"])
    assert found["chance"] == pytest.approx(1 - (1 - p) ** 6, abs=4 * np.sqrt(0.25 / 20_000))


def test_a_shared_day_makes_alarms_come_together():
    """With a rough day the mean number of alarms stays and many at once become common."""
    calm, rough = (luck(compared(model=known(occasion=day)), seed=2, times=4000) for day in (0.0, 1.0))
    what = "beds and analytes that rose or fell"
    assert row(rough, what)["by_luck"] == pytest.approx(row(calm, what)["by_luck"], abs=0.2)
    table = compared(model=known(occasion=1.0), seed=4).table
    assert (table["shared"] < table["se"] ** 2).all()


def test_garden_rows_alarm_at_their_rate():
    """Four analytes of the garden alarm 0.2 times a garden at 5 %."""
    for model in (None, known()):
        found = row(
            luck(compared(model=model), seed=5, times=4000), "analytes of the garden that rose or fell"
        )
        assert found["of"] == 4
        assert found["by_luck"] == pytest.approx(4 * 0.05, abs=4 * np.sqrt(4 * 0.05 * 0.95 / 4000))


def test_a_real_change_is_no_luck():
    """A garden whose K doubled in all beds is rarely made by luck, and the words do not claim never."""
    result = luck(compared(change={"K": np.log(2)}), seed=1)
    found = row(result, "largest change of K in a bed")
    assert found["chance"] == 0
    assert "fewer than 1 of 1000 gardens" in found["why"]
    assert row(result, "largest change of pH in a bed")["chance"] > 0.01


def test_limits_hide_what_could_be_seen():
    """Where all of an analyte's changes are hidden, luck has nothing to be set against."""
    garden = simulate_garden(seed=1, design=Design(levels={"B": 0.7, "K": 150.0}, limits={"B": 99.0}))
    found = row(luck(compare(garden, **ENDS), seed=1), "largest change of B in a bed")
    assert np.isnan(found["chance"])
    assert "hidden by the laboratory's limit" in found["why"]


def test_the_same_seed_gives_the_same_answer():
    """Luck is drawn with a seed that stands beside it."""
    result = compared()
    assert luck(result, seed=1).table.equals(luck(result, seed=1).table)
    assert not luck(result, seed=1).table.equals(luck(result, seed=2).table)
    assert repr(luck(result, seed=7)).startswith(
        "Could this be luck? 1000 gardens in which nothing changed (seed 7)"
    )
    assert "<caption>Could this" in luck(result, seed=7)._repr_html_()


def test_what_cannot_be_asked():
    """Too few gardens, or nothing compared, is refused."""
    with pytest.raises(SoiltrendError, match="99 gardens"):
        luck(compared(), seed=1, times=99)
    rows = [
        {"bed": "East", "season": season, "analyte": "K", "unit": "mg/kg", "value": 1.0, "method": method}
        for season, method in (("spring 2022", "Olsen"), ("spring 2024", "Morgan"))
    ]
    with pytest.raises(SoiltrendError, match="nothing of 2 rows"):
        luck(compare(frames.results(rows), **ENDS), seed=1)
