"""What hand and eye find: published scales, their own noise, and words instead of grades."""

import numpy as np
import pandas as pd
import pytest

from soiltrend import frames, open_garden, tables, vocabulary
from soiltrend.comparable import comparable
from soiltrend.compare import compare
from soiltrend.detect import Sampling, detectable
from soiltrend.errors import GardenError
from soiltrend.noise import noise_model, stretch
from soiltrend.trend import trend

TOML = '[beds."East"]\narea_m2 = 10.0\n[beds."West"]\narea_m2 = 10.0\n'
HEAD = "date,bed,measure,value,unit,note\n"
SEEN = tables.load("observations", numbers=("lowest", "highest")).set_index("measure")


@pytest.fixture
def garden(tmp_path):
    """Return a function that opens a garden of two beds with the given observations."""

    def make(lines):
        (tmp_path / "reports").mkdir(exist_ok=True)
        (tmp_path / "garden.toml").write_text(TOML, encoding="utf-8")
        (tmp_path / "observations.csv").write_text(HEAD + lines, encoding="utf-8")
        return open_garden(tmp_path)

    return make


@pytest.mark.parametrize(
    ("measure", "scale", "words"),
    [
        ("structure score", (1, 5), "lower is better"),  # Guimaraes, Ball & Tormena 2011: Sq 1 to 5
        ("slake score", (0, 6), "higher is better"),  # Herrick et al. 2001, Catena 44:27: classes 0 to 6
        ("tilth score", (1, 10), "higher is better"),  # Oregon State University EM 8710, from memory
    ],
)
def test_scales_are_the_published_ones(measure, scale, words):
    """Ends and direction as the method has them; the direction is a word and no colour."""
    assert tuple(SEEN.loc[measure, ["lowest", "highest"]]) == scale
    assert words in SEEN.loc[measure, "words"]


def test_every_measure_of_the_eye_is_whole():
    """A measure has a unit, a scale in words, noise of one look and a change that matters."""
    analytes = tables.load("analytes").set_index("analyte")
    measures = set(analytes.index[analytes["kind"] == "observation"])
    assert measures == set(SEEN.index)
    noise = tables.load("noise", numbers=("cores",)).set_index("analyte")
    assert (noise.loc[list(measures), "cores"] == 1).all()
    assert measures <= set(tables.load("margins")["analyte"])


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (
            "2024-04-12,East,VESS,5.5,,\n",
            r"'structure score' of 5.5 is off its scale, which goes from 1 to 5",
        ),
        ("2024-04-12,East,VESS,0,,\n", "'structure score' of 0 is off its scale"),
        ("2024-04-12,East,slake,7,score,\n", "'slake score' of 7 is off its scale, which goes from 0 to 6"),
        ("2024-04-12,East,earthworms,-1,count,\n", "'earthworms' of -1 is off its scale, which goes from 0"),
    ],
)
def test_a_number_off_its_scale_is_refused(garden, line, said):
    """The message names file, line, value and scale."""
    with pytest.raises(GardenError, match=said) as caught:
        garden("2024-04-12,West,VESS,2,,\n" + line)
    assert "observations.csv, line 3" in str(caught.value)


def test_ends_of_a_scale_are_on_it(garden):
    """A slake class of 0 and a bed without worms are findings; a measure of one's own has no ends."""
    lines = (
        "2024-04-12,East,slake,0,,\n2024-04-12,East,earthworms,0,count,\n2024-04-12,East,beetles,40,count,\n"
    )
    assert garden(lines).results["value"].tolist() == [0.0, 0.0, 40.0]


def looks(measure, pairs, beds=("East",)):
    """Return looks by eye at beds in several springs."""
    rows = [
        {"bed": bed, "sampled": f"{year}-04-10", "season": f"spring {year}", "analyte": measure,
         "value": value, "method": "visual", "unit": vocabulary.canonical_unit(measure),
         "source": "observations.csv"}
        for bed in beds
        for year, values in pairs.items()
        for value in values
    ]  # fmt: skip
    return frames.results(rows)


def test_the_eye_has_no_laboratory_to_miss():
    """A look is compared without a word of a laboratory; a result without one is warned of."""
    rows = looks("structure score", {2022: [3.5], 2024: [1.5]})
    found = comparable(rows, before="spring 2022", after="spring 2024")
    assert found["comparable"].all()
    assert found["warning"].tolist() == [""]
    row = compare(rows, before="spring 2022", after="spring 2024").table.iloc[0]
    assert row["verdict"] == "fell"
    assert "1 is friable and best, 5 very compact: lower is better" in row["why"]
    assert "(1 spadeful before, 1 after)" in row["why"]


def test_a_change_of_laboratory_does_not_break_a_series_of_looks():
    """Looks bear no laboratory, so six springs are one series although the lab moved in between."""
    spade = looks("earthworms", {year: [8.0 + year - 2019] for year in range(2019, 2025)})
    lab = spade.assign(
        analyte="K", unit="mg/kg", method="", lab=["A"] * 3 + ["B"] * 3, value=spade["value"] * 10
    )
    table = trend(frames.join(spade, lab)).table
    table = table[table["bed"] != frames.GARDEN]
    assert table.set_index("analyte")["n"].to_dict() == {"earthworms": 6, "K": 3}
    row = table[table["analyte"] == "earthworms"].iloc[0]
    assert "The record breaks" not in row["why"]
    assert "worms a year" in row["why"]


def test_counts_scatter_as_counts_do():
    """No less than Poisson, and no more than a negative binomial of k = 3 (their variances)."""
    counts = np.arange(1.0, 41.0)
    known = noise_model().of(pd.DataFrame({"analyte": ["earthworms"] * 40, "method": ["visual"] * 40}))
    sd = known["sd"].to_numpy() * stretch(known, counts)
    assert (sd >= np.sqrt(counts)).all()
    assert (sd[4:] <= np.sqrt(counts + counts**2 / 3)[4:]).all()


def test_two_spadefuls_of_one_soil_seldom_differ():
    """Poisson counts of one mean (numpy) are called different in at most 5 % of gardens."""
    rng = np.random.default_rng(7)
    called = 0
    for mean in (4, 10, 20):
        beds = [f"bed {number}" for number in range(150)]
        rows = looks("earthworms", {2022: [0.0], 2024: [0.0]}, beds=beds)
        rows["value"] = rng.poisson(mean, len(rows)).astype(float)
        table = compare(rows, before="spring 2022", after="spring 2024").table
        called += table.loc[table["bed"] != frames.GARDEN, "verdict"].isin(["rose", "fell"]).sum()
    assert called / 450 <= 0.05


def test_more_spadefuls_show_more():
    """Three looks at each end are averaged, and the band is narrower by the root of three."""
    noise = noise_model(overrides={"slake score": {"sd": 0.6, "occasion": 0.0}})
    one, three = (
        compare(
            looks("slake score", {2022: [3.0] * n, 2024: [4.0] * n}), before="2022", after="2024", noise=noise
        )
        for n in (1, 3)
    )
    assert one.table["noise"][0] == pytest.approx(1.96 * np.sqrt(2) * 0.6, rel=1e-3)
    assert one.table["noise"][0] / three.table["noise"][0] == pytest.approx(np.sqrt(3))


def test_cores_are_nothing_to_the_eye():
    """Fifteen cores in a bag do not make a spadeful surer; a second spadeful does."""
    model = noise_model(overrides={"structure score": {"occasion": 0.0}})
    samplings = [Sampling(cores=1), Sampling(cores=30), Sampling(composites=2)]
    table = detectable(model, samplings=samplings, power=[0.8]).table.query("analyte == 'structure score'")
    assert table["cores"].tolist() == [1, 1, 1]
    assert table["smallest"].iloc[0] == table["smallest"].iloc[1] > table["smallest"].iloc[2]
    assert table["why"].iloc[2].startswith("With 2 spadefuls at both ends")
