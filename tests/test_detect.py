"""The smallest change that could be seen, against published power tables and by trying."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.stats.power import TTestIndPower, TTestPower

from soiltrend import frames, noise
from soiltrend.compare import compare
from soiltrend.detect import Sampling, cores_needed, detectable, detectable_slope
from soiltrend.errors import SoiltrendError
from soiltrend.simulate import Design, simulate_garden


def stated(analyte="pH", **terms):
    return noise.noise_model(overrides={analyte: {"occasion": 0.0} | terms})


def step(model, *, analyte="pH", power=0.8, confidence=0.95, **sampling):
    table = detectable(model, samplings=[Sampling(**sampling)], power=[power], confidence=confidence).table
    return table[table["analyte"] == analyte].iloc[0]


def test_known_noise_one_against_one():
    """Seen in 80 of 100 cases: (1.960 + 0.842) x sqrt(2) = 3.96 sd (normal theory)."""
    assert step(stated(sd=1.0))["step"] == pytest.approx(
        (stats.norm.ppf(0.975) + stats.norm.ppf(0.8)) * np.sqrt(2)
    )
    assert step(stated(sd=1.0))["step"] == pytest.approx(3.96, abs=0.005)


def test_power_of_the_r_help_page():
    """R power.t.test(n = 20, delta = 1, sd = 1): power 0.8689528; and statsmodels."""
    model = stated(sd=1.0, df=38)
    assert step(model, power=0.8689528, composites=20)["step"] == pytest.approx(1.0, abs=1e-6)
    solved = TTestIndPower().solve_power(nobs1=20, alpha=0.05, power=0.9)
    assert step(model, power=0.9, composites=20)["step"] == pytest.approx(solved, rel=1e-4)


def test_what_shrinks_and_what_does_not():
    """Cores, bags, composites and beds shrink their own part; the day stays as the floor."""
    model = stated(laboratory=0.06, preparation=0.0, between_cores=0.4, occasion=0.05, df=1e9)
    seen = stats.norm.ppf(0.975) + stats.norm.ppf(0.8)
    for plan in ({"cores": 5}, {"bags": 2}, {"composites": 3}, {"beds": 12, "composites": 2}):
        full = {"cores": 15, "bags": 1, "composites": 1, "beds": 1} | plan
        one = 0.06**2 / full["bags"] + 0.4**2 / full["cores"]
        wanted = seen * np.sqrt(2 * (one / full["composites"] / full["beds"] + 0.05**2))
        assert step(model, **plan)["step"] == pytest.approx(wanted, rel=1e-5)
    assert step(model, composites=10**9)["smallest"] == pytest.approx(step(model)["floor"], rel=1e-5)


def test_a_change_of_that_size_is_seen_that_often():
    """Gardens in which K moves by the smallest change show it in about 80 of 100 beds (4 binomial errors)."""
    design = Design(beds=10, composites=2, levels={"K": 150.0})
    model = noise.noise_model(overrides={"K": {"sd": 0.10, "occasion": 0.02}})
    change = {"K": float(step(model, analyte="K", composites=2)["step"])}
    parts = [
        simulate_garden(seed=i, design=design, change=change, noise=model).assign(lab=f"garden {i}")
        for i in range(60)
    ]
    table = compare(pd.concat(parts), before="spring 2022", after="spring 2024", noise=model).table
    seen = (table["verdict"] == "rose")[table["bed"] != frames.GARDEN].mean()
    assert seen == pytest.approx(0.8, abs=4 * np.sqrt(0.8 * 0.2 / 600))


@pytest.mark.parametrize(("years", "tests"), [(4, 1), (5, 2), (10, 2), (8, 4)])
def test_slope_against_the_design_matrix(years, tests):
    """Ordinary least squares with seasons give the error, scipy's noncentral t the power."""
    season = np.tile(np.arange(tests), years)
    time = np.repeat(np.arange(years), tests) + season / tests
    design = np.column_stack([time, season[:, None] == np.arange(tests)])
    se = np.sqrt(np.linalg.inv(design.T @ design)[0, 0])
    found = (
        detectable_slope(stated(sd=1.0), years=[years], tests=tests).table.query("analyte == 'pH'").iloc[0]
    )
    df = years * tests - 1 - tests
    assert stats.nct.sf(stats.t.ppf(0.975, df), df, found["step"] / se) == pytest.approx(0.8, abs=1e-6)


def test_one_test_a_year_against_statsmodels():
    """A line through yearly tests has n - 2 degrees of freedom (power by statsmodels)."""
    found = detectable_slope(stated(sd=1.0), years=[9], tests=1).table.query("analyte == 'pH'").iloc[0]
    distance = found["step"] * np.sqrt(9 * (81 - 1) / 12)
    power = TTestPower().power(distance / np.sqrt(9), nobs=9, alpha=0.05, df=7)
    assert power == pytest.approx(0.8, abs=1e-4)


@pytest.mark.parametrize(("spread", "within", "cores"), [(40, 15, 30), (40, 10, 64), (55, 20, 32)])
def test_cores_by_the_sampling_formula(spread, within, cores):
    """n = (t CV / E)^2, the sampling formula of the handbooks (common practice)."""
    assert cores_needed(spread, within=within) == cores


@pytest.mark.parametrize(("spread", "within"), [(30, 15), (18, 10), (55, 5), (10, 50)])
def test_one_core_fewer_would_not_do(spread, within):
    """scipy's t interval of n cores fits and of n - 1 cores does not."""
    n = cores_needed(spread, within=within)

    def half(count):
        return stats.t.ppf(0.975, count - 1) * spread / np.sqrt(count)

    assert half(n) <= within
    assert n == 2 or half(n - 1) > within


def test_a_frame_brings_its_own_analytes_and_duplicates():
    """Only what was measured is listed, with the noise that its repeats show."""
    garden = simulate_garden(seed=1, design=Design(composites=3, levels={"K": 150.0, "pH": 6.5}))
    found = detectable(garden)
    assert set(found.table["analyte"]) == {"K", "pH"}
    assert found.noise.table["repeats"].min() > 0
    assert len(found.table) == 2 * 4 * 2


def test_units_and_words():
    """Concentrations in per cent, organic matter in points; the sentence says what the day costs."""
    k, om = step(stated("K", sd=0.1), analyte="K"), step(noise.noise_model(), analyte="OM")
    assert k["unit"] == "%"
    assert k["smallest"] == pytest.approx(100 * np.expm1(k["step"]))
    assert om["why"].startswith("With 1 composite of 15 cores at both ends OM must move by 0.7")
    assert "points to be seen 80 times in 100; the day of sampling alone asks for 0.3" in om["why"]
    slope = detectable_slope(noise.noise_model()).table.iloc[0]["why"]
    assert slope.startswith("pH must move by 0.28 pH a year to be seen within 3 years of 2 tests")


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: detectable(noise.noise_model(), samplings=[Sampling(cores=0)]), "cores = 0 is below 1"),
        (lambda: detectable(noise.noise_model(), power=[1.0]), "1.0 does not lie"),
        (lambda: detectable_slope(noise.noise_model(), years=[2]), "over 2 years are too few"),
        (lambda: detectable_slope(noise.noise_model(), tests=0), "0 tests a year"),
        (lambda: detectable_slope(noise.noise_model(), years=[]), "over 0 years are too few"),
        (lambda: detectable(noise.noise_model(), samplings=[]), r"samplings = \[\] holds none"),
        (lambda: cores_needed(30, within=0), "within 0"),
        (lambda: cores_needed(30, within=1e-9), "within 1e-09 lies more than 300 times below the spread 30"),
        (lambda: cores_needed(np.inf, within=np.inf), "within inf"),
    ],
)
def test_designs_that_cannot_be(call, message):
    """A number out of range is refused with what was found."""
    with pytest.raises(SoiltrendError, match=message):
        call()


def test_how_it_shows_itself():
    """Text and HTML name what is listed."""
    found = detectable(noise.noise_model())
    assert repr(found).startswith("What could be seen: ")
    assert ">What could be seen" in found._repr_html_()
