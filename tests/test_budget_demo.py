"""The account of the demonstration garden beside its truth, and the page about a bed."""

import dataclasses
import importlib.util
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import soiltrend as st
from soiltrend import frames
from soiltrend.budget.invented import Plot, invented
from soiltrend.budget.movement import grams
from soiltrend.errors import SoiltrendError

ROOT = Path(__file__).parents[1]
PRIBYL = 1.9  # organic matter to organic carbon, median of measured factors: Pribyl 2010, Geoderma 156:75
CHECK = "Gatepost"


@pytest.fixture(scope="module")
def demo():
    """The generator, loaded from its path."""
    spec = importlib.util.spec_from_file_location("demo_of_account", ROOT / "data_demo" / "generate.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def garden(demo):
    """The demonstration garden."""
    return st.open_garden(demo.FOLDER)


@pytest.fixture(scope="module")
def account(garden):
    """Its account."""
    return st.budget(garden, draws=500)


@pytest.fixture(scope="module")
def truth(demo, garden, account):
    """The tested rows of the account with what the soil truly gained, alone and beside the check [g/m2]."""
    beds = garden.beds.set_index("bed")
    table = account.table[account.table["observed"].notna()].copy()

    def gained(row, bed):
        method = "" if row.analyte == "acidity" else row.method
        ends = [
            demo.soil.true_value(bed, row.analyte, method=method, day=day.date())
            for day in (row.start, row.end)
        ]
        per = grams(row.analyte, unit=row.test_unit) / (PRIBYL if row.analyte == "OM" else 1.0)
        return (ends[1] - ends[0]) * per * beds.at[bed, "bulk_density"] * beds.at[bed, "depth_cm"]

    table["true"] = [gained(row, row.bed) for row in table.itertuples()]
    beside = [gained(row, CHECK) if row.check else 0.0 for row in table.itertuples()]
    return table.assign(true_net=table["true"] - beside)


def test_intervals_hold_what_the_soil_truly_gained(truth):
    """Of some ninety 90 % intervals of the observed gain few miss the truth (binomial, one in a thousand)."""
    held = (truth["observed_low"] <= truth["true"]) & (truth["true"] <= truth["observed_high"])
    assert len(truth) > 80
    assert held.mean() >= stats.binom.ppf(0.001, len(truth), 0.9) / len(truth)


def test_recovery_holds_the_true_share(truth):
    """Where a recovery is given, its interval holds the true gain over what was to be expected."""
    known = truth[truth["low"].notna()]
    true = known["true_net"] / known["net_expected"]
    assert len(known) > 60
    assert ((known["low"] <= true) & (true <= known["high"])).mean() >= 0.85


def test_the_limed_bed_shows_its_lime(truth):
    """Shell and compost on Zoë's Row: most of their lime met acidity in truth, and the account says so."""
    row = truth.set_index(["bed", "nutrient"]).loc[("Zoë's Row", "acidity")]
    assert row["said"] == "showed"
    assert row["low"] > 0
    assert row["net_observed_low"] < row["true_net"] < row["net_observed_high"]


def test_the_check_bed_stands_beside_all_others(account):
    """Every tested row of another bed names the check; its own rows name none and say what it is."""
    tested = account.table[account.table["observed"].notna()]
    assert set(tested.loc[tested["bed"] != CHECK, "check"]) == {CHECK}
    own = tested[tested["bed"] == CHECK]
    assert set(own["check"]) == {""}
    assert own["why"].str.contains("left as it was: the other beds are set against it").all()
    assert (own["put_in"] == 0).all()


@pytest.mark.parametrize(
    ("bed", "material", "element"),
    [
        ("Zoë's Row", "ground mussel shell", "Ca"),
        ("Zoë's Row", "gypsum", "S"),
        ("Plum", "epsom salt", "Mg"),
        ("Ferry", "house compost", "P"),
    ],
)
def test_put_in_is_the_dose_that_was_spread(demo, garden, account, bed, material, element):
    """What a material brought is kilograms x dry matter x analysis, as the generator reckons it."""
    row = account.table.set_index(["bed", "nutrient"]).loc[(bed, element)]
    layer = demo.story.BED[bed].bulk_density * demo.story.DEPTH_CM * 0.01
    spread = [
        one
        for one in demo.soil.APPLICATIONS
        if one.bed == bed
        and one.material.casefold() == material
        and row["start"] <= pd.Timestamp(one.day) < row["end"]
    ]
    dose = (
        sum(demo.soil.dose(one, demo.soil.MATERIAL[one.material].percent[element]) for one in spread) * layer
    )
    found = account.sources.set_index(["bed", "nutrient", "material"]).loc[(bed, element, material)]
    assert found["put_in"] == pytest.approx(dose, rel=0.04)
    assert found["low"] < dose < found["high"]


def test_sources_sum_to_what_was_put_in(account):
    """Materials of a bed add up to its put in and fixed; the garden's rows are all beds together."""
    table = account.table.set_index(["bed", "nutrient"])
    for (bed, nutrient), part in account.sources.groupby(["bed", "nutrient"]):
        if bed != frames.GARDEN:
            row = table.loc[(bed, nutrient)]
            assert part["put_in"].sum() == pytest.approx(row["put_in"] + row["fixed"])
    garden = account.sources[account.sources["bed"] == frames.GARDEN]
    assert {"Ca", "P", "K", "acidity"} <= set(garden["nutrient"])
    assert (garden["low"] <= garden["put_in"]).all()


def test_beans_fix_nitrogen_and_nothing_else_does(account):
    """Broad beans are a source of nitrogen in the beds that grew them, and of nothing else."""
    fixed = account.sources[account.sources["material"].str.startswith("fixed by")]
    assert set(fixed["nutrient"]) == {"N"}
    assert set(fixed["material"]) == {"fixed by broad bean"}
    assert (account.table.loc[account.table["nutrient"] != "N", "fixed"] == 0).all()


def test_what_is_left_out_is_listed(account):
    """Brews, blank figures, rain and leaching, each with a reason; sizes with a source."""
    listed = account.not_counted
    assert (listed["why"] != "").all()
    sized = listed[listed["low"].notna()]
    assert (sized["source"] != "").all()
    assert (sized["low"] < sized["high"]).all()
    brews = listed[listed["why"].str.contains("counted by its analysis alone")]
    assert {"comfrey ferment", "shells in vinegar"} <= set(brews["what"])
    lime = sized[(sized["nutrient"] == "acidity")].iloc[0]
    assert (lime["low"], lime["high"]) == (22.5, 85.2)  # Bolton 1977, J. agric. Sci. 89:81: 225 to 852 kg/ha


def test_a_bed_sampled_deeper_once_is_compared_elsewhere(account):
    """Long Reach was sampled to 30 cm in autumn 2022, so its account runs over other seasons."""
    rows = account.table[(account.table["bed"] == "Long Reach") & (account.table["nutrient"] == "Ca")]
    assert rows["period"].tolist() == ["spring 2022 to spring 2026"]


def test_a_card_holds_all_of_a_bed(garden, account):
    """Dressings, crops, tests and account of one bed; the bed with most dressings when none is named."""
    card = st.bed_card(garden, bed="Zoë's Row", account=account)
    assert set(card.table["bed"]) == {"Zoë's Row"}
    assert card.dressings["date"].is_monotonic_decreasing
    assert len(card.dressings) == (garden.applications["bed"] == "Zoë's Row").sum()
    assert card.tests.columns[-1] == "autumn 2026"
    text = repr(card)
    assert "the sour bed under the larches" in text
    assert "What came off" in text
    assert card._repr_html_().count("<table") == 4
    assert st.bed_card(garden, account=account).bed == garden.applications["bed"].value_counts().index[0]


def test_a_bed_that_is_none(garden, account):
    """A bed that the garden lacks is refused, with the nearest."""
    with pytest.raises(SoiltrendError, match="'Zoe Row' is no bed of this garden"):
        st.bed_card(garden, bed="Zoe Row", account=account)


def test_every_test_against_the_one_before():
    """With periods = "each" a bed has one row for every test that has a predecessor of its season."""
    garden = invented(seed=3, plot=Plot(levels={"K": 150.0}, check=False)).garden
    more = garden.results[garden.results["season"] == "spring 2024"].assign(
        sampled=pd.Timestamp("2025-04-10"), season="spring 2025", sample="later"
    )
    longer = dataclasses.replace(garden, results=frames.join(garden.results, more))
    rows = st.budget(longer, periods="each", draws=300).table
    told = rows.loc[rows["nutrient"] == "K", "period"].tolist()
    assert told == ["spring 2022 to spring 2024", "spring 2024 to spring 2025"]
    asked = st.budget(longer, asked=("spring 2024", "spring 2025"), draws=300).table
    assert asked.loc[asked["nutrient"] == "K", "period"].tolist() == told[1:]
    assert np.isfinite(rows.loc[rows["nutrient"] == "K", "observed"]).all()
