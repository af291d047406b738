"""The invented garden has the noise it was asked for."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from soiltrend import frames, noise
from soiltrend.errors import SoiltrendError
from soiltrend.simulate import Design, simulate_garden

WIDE = Design(
    beds=400, composites=2, seasons=("spring 2022", "autumn 2022", "spring 2023"), levels={"K": 150.0}
)


def test_the_frame_is_tidy_and_repeats_itself():
    """One seed, one garden; another seed, another."""
    garden = simulate_garden(seed=3)
    frames.check(garden)
    pd.testing.assert_frame_equal(garden, simulate_garden(seed=3))
    assert not garden["value"].equals(simulate_garden(seed=4)["value"])


@pytest.mark.parametrize("shape", ["normal", "heavy", "skewed"])
def test_repeats_have_the_stated_noise(shape):
    """Two composites of a bed and day differ by sqrt(2) of the sd (1,200 pairs)."""
    garden = simulate_garden(seed=1, design=WIDE, shape=shape).assign(y=lambda t: np.log(t["value"]))
    pair = garden.groupby(["bed", "season"])["y"].agg(np.ptp)
    sd = np.sqrt((pair**2).mean() / 2)
    assert sd == pytest.approx(0.10, rel=0.15 if shape == "heavy" else 0.05)


def test_the_shapes_differ():
    """Normal errors pass for normal (Shapiro-Wilk, scipy), heavy and skewed ones do not."""
    kurtosis = {}
    for shape in ("normal", "heavy", "skewed"):
        garden = simulate_garden(seed=2, design=WIDE, shape=shape)
        error = np.log(garden["value"] / garden["truth"])
        error -= error.groupby(garden["season"]).transform("mean")
        kurtosis[shape] = (stats.skew(error), stats.kurtosis(error))
    assert abs(kurtosis["normal"][1]) < 0.3
    assert kurtosis["heavy"][1] > 3
    assert kurtosis["skewed"][0] > 1


def test_days_are_shared_by_all_beds():
    """Between two springs all beds move together, with the sd of the occasion."""
    design = Design(
        beds=30,
        seasons=("spring 2022", "spring 2023"),
        levels=dict.fromkeys(("K", "P", "S", "Zn", "Na"), 40.0),
    )
    model = noise.noise_model(overrides={name: {"occasion": 0.3} for name in design.levels})
    moves = []
    for seed in range(60):
        garden = simulate_garden(seed=seed, design=design, noise=model)
        mean = np.log(garden["value"]).groupby([garden["analyte"], garden["season"]]).mean()
        moves.extend(mean.xs("spring 2023", level=1) - mean.xs("spring 2022", level=1))
    wanted = np.sqrt(2 * (0.3**2 + 0.15**2 / 30))
    assert np.std(moves) == pytest.approx(wanted, rel=3 / np.sqrt(2 * 300))


def test_the_truth_moves_as_told():
    """The true change runs in a straight line from first to last, and noise does not touch it."""
    seasons = ("spring 2020", "spring 2022", "spring 2024")
    truth = simulate_garden(seed=1, design=Design(seasons=seasons), change={"K": 0.4, "pH": -0.5})
    wide = truth.pivot_table(index=["bed", "analyte"], columns="season", values="truth")[list(seasons)]
    k, ph, p = (wide.xs(name, level="analyte") for name in ("K", "pH", "P"))
    assert np.log(k["spring 2024"] / k["spring 2020"]).to_numpy() == pytest.approx(0.4)
    assert np.log(k["spring 2022"] / k["spring 2020"]).to_numpy() == pytest.approx(0.2, abs=1e-3)
    assert (ph["spring 2024"] - ph["spring 2020"]).to_numpy() == pytest.approx(-0.5)
    assert p["spring 2024"].to_numpy() == pytest.approx(p["spring 2020"].to_numpy())


def test_values_below_the_limit_are_limits():
    """What falls below is reported as "<" with the limit, and nothing else is touched."""
    free = simulate_garden(seed=1, design=Design(levels={"B": 0.7}))
    cut = simulate_garden(seed=1, design=Design(levels={"B": 0.7}, limits={"B": 0.7}))
    below = free["value"] < 0.7
    assert 0 < below.sum() < len(below)
    assert (cut["value"][below] == 0.7).all()
    assert (cut["qualifier"] == np.where(below, "<", "")).all()
    assert cut["value"][~below].equals(free["value"][~below])


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"shape": "bumpy"}, "'bumpy'"),
        ({"design": Design(seasons=("2022",))}, "'2022' is no season"),
        ({"design": Design(levels={"beetles": 3.0})}, "'beetles' is no analyte of the tables. Write it"),
        ({"design": Design(beds=-2)}, "beds = -2 is no number of beds. Give 1 or more"),
        ({"design": Design(composites=1.5)}, "composites = 1.5 is no number of composites"),
        ({"design": Design(seasons=())}, r"seasons = \(\) and levels = .* make no garden"),
        ({"design": Design(levels={})}, r"and levels = \{\} make no garden"),
        ({"design": Design(levels={"pH": 6.0, "K": 0})}, "cannot lie around K 0. Give a level above 0"),
        ({"change": {"Foo": 0.2}}, "'Foo' cannot change by 0.2 here. The garden has pH, OM"),
        ({"change": {"K": np.nan}}, "'K' cannot change by nan here"),
    ],
)
def test_designs_that_cannot_be_drawn(given, message):
    """A wrong word is refused with what was found."""
    with pytest.raises(SoiltrendError, match=message):
        simulate_garden(seed=1, **given)
