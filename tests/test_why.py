"""A summed exchange capacity taken apart: exact sums, published charges, and what may only seem to be so."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from opened import demo_garden
from soils import CHARGE, SOILS, WEIGHT, mass

from soiltrend import frames, story
from soiltrend.errors import SoiltrendError
from soiltrend.exchange import exchange
from soiltrend.noise import noise_model
from soiltrend.why import why_cec
from soiltrend.why.cec import charge_at

ENDS = {"before": "spring 2022", "after": "spring 2024"}
DAYS = {"spring 2022": "2022-04-04", "spring 2024": "2024-04-08"}


def soil(season, charges, bed="East", **more):
    """Return the rows of one composite: cations and acidity in cmol/kg, the rest in its own unit."""
    same = {
        "bed": bed,
        "season": season,
        "sampled": DAYS[season],
        "lab": "Hollin Bench",
        "sample": bed,
        "top_cm": 0.0,
        "bottom_cm": 15.0,
    }
    masses = mass(charges)
    rows = [
        {
            **same,
            "analyte": ion,
            "value": value,
            "method": "" if ion == "acidity" else "Mehlich-3",
            "unit": "cmol/kg" if ion == "acidity" else "mg/kg",
        }
        for ion, value in masses.items()
    ]
    units = {"OM": "%", "pH": "pH"}
    rows += [{**same, "analyte": name, "value": value, "unit": units[name]} for name, value in more.items()]
    return rows


def test_parts_of_open_data_add_up_to_the_sum():
    """Soils of Horton, Russell & Moore 1968 (open data): topsoil against the next layer, by numpy."""
    ions = list(CHARGE)
    top, under = (
        SOILS[SOILS["Depth"] == depth].head(3).reset_index(drop=True) for depth in ("0-10", "10-30")
    )
    rows = [
        row
        for number in range(len(top))
        for season, table in (("spring 2022", top), ("spring 2024", under))
        for row in soil(season, {**table.loc[number, ions].to_dict(), "acidity": 1.0}, bed=f"plot {number}")
    ]
    found = why_cec(frames.results(rows), **ENDS)
    cations = found.table[found.table["kind"] == "cation"]
    wide = cations.pivot_table(index="bed", columns="part", values="change")
    for ion in ions:
        steps = (under[ion] - top[ion]).set_axis([f"plot {number}" for number in range(len(top))])
        assert wide[ion].to_numpy() == pytest.approx(steps[wide.index].to_numpy(), rel=1e-3)
    sums = found.table[found.table["kind"] == "sum"].set_index("bed")["change"]
    assert wide.sum(axis=1).to_numpy() == pytest.approx(sums[wide.index].to_numpy(), abs=1e-9)
    assert WEIGHT["Ca"] == pytest.approx(20.039)


@pytest.mark.parametrize(("pH", "published"), [(2.5, 36), (3.5, 73), (5.0, 127), (6.0, 131), (8.0, 213)])
def test_charge_of_organic_matter_follows_pH(pH, published):
    """Means of 60 soils by Helling, Chesters & Corey 1964 (from memory), as shares of the 163 at pH 7."""
    low, high = charge_at(pH)
    assert low < 100 * published / 163 * 1.35
    assert high > 300 * published / 163 * 0.75
    assert high == pytest.approx(3 * low)


SOUR, LIMED = {"Ca": 6, "Mg": 1, "K": 0.3, "acidity": 4}, {"Ca": 9, "Mg": 1, "K": 0.3, "acidity": 1}
EVEN = {"Ca": 8, "Mg": 1, "K": 0.3, "acidity": 1}
ASKED = {
    "limed": (SOUR, LIMED, {}, {}),
    "sour": (LIMED, SOUR, {}, {}),
    "limed hard": (EVEN, {"Ca": 20, "Mg": 1, "K": 0.3}, {"pH": 6.3}, {"pH": 7.8}),
    "with Na": (EVEN, {**EVEN, "Na": 2}, {}, {}),
}
"""Charges before and after, and what else was measured, of some beds."""

KNOWN = {
    "more humus": (EVEN, {**EVEN, "Ca": 12}, {"OM": 4.0}, {"OM": 6.0}),
    "same humus": (EVEN, {**EVEN, "Ca": 16}, {"OM": 4.0}, {"OM": 4.0}),
}
"""The same of beds whose tests are taken to be without noise."""


def beds_of(told):
    """Return the tidy frame of some beds in two springs."""
    rows = []
    for bed, (before, after, more_before, more_after) in told.items():
        rows += soil("spring 2022", before, bed=bed, **more_before)
        rows += soil("spring 2024", after, bed=bed, **more_after)
    return frames.results(rows)


@pytest.fixture(scope="module")
def asked():
    """Return what is said of the beds asked about."""
    return why_cec(beds_of(ASKED), **ENDS)


@pytest.fixture(scope="module")
def known():
    """Return what is said of beds whose tests are without noise."""
    rows, quiet = beds_of(KNOWN), {"sd": 1e-6, "occasion": 0.0}
    sure = noise_model(rows, overrides=dict.fromkeys(("OM", "Ca", "Mg", "K", "CEC", "acidity"), quiet))
    return why_cec(rows, noise=sure, confidence=0.999, **ENDS)


def said(found, bed):
    """Return the word and the sentence of one bed."""
    head = found.headlines.set_index("bed").loc[bed]
    return head["said"], head["sentence"]


def part(found, bed, kind):
    """Return one row of one bed by its kind."""
    return found.table[found.table["bed"] == bed].set_index("kind").loc[kind]


def test_sites_that_change_hands_are_no_gain(asked):
    """Liming by 3 cmol/kg: calcium rises, acidity falls by as much, the sum stands (charge is charge)."""
    assert part(asked, "limed", "sum")["change"] == pytest.approx(0.0, abs=1e-9)
    word, sentence = said(asked, "limed")
    assert word == "sites changed hands"
    assert "Ca took the place of acidity" in sentence
    assert "acidity (+3.0 cmol/kg) took the place of Ca" in said(asked, "sour")[1]


def test_high_pH_makes_the_number_an_artefact(asked):
    """Extracts part from exchangeable calcium above pH 7.3 (Kansas Agric. Exp. Stn. Res. Reports 7(8))."""
    word, sentence = said(asked, "limed hard")
    assert word == "artefact"
    assert "The later sum reads too high" in sentence
    assert part(asked, "limed hard", "can fake")[["change", "low", "high"]].isna().all()


def test_sodium_counted_once_is_said(asked):
    """A sum with sodium beside one without is no change of the soil."""
    word, sentence = said(asked, "with Na")
    assert word == "artefact"
    assert "Na is counted at one end only" in sentence


def test_organic_matter_explains_its_published_charge(known):
    """Two points of organic matter carry 2 to 6 cmol/kg (Stevenson 1994, 100 to 300 cmol/kg near pH 7)."""
    row = part(known, "more humus", "can explain")
    assert [row["low"], row["change"], row["high"]] == pytest.approx([2, 4, 6], abs=0.1)
    assert said(known, "more humus")[0] == "as organic matter allows"


def test_a_rise_without_organic_matter_is_left_over(known):
    """A rise of 8 cmol/kg with the same organic matter is not explained by it."""
    row = part(known, "same humus", "left over")
    assert [row["low"], row["high"]] == pytest.approx([8, 8], abs=0.01)
    word, sentence = said(known, "same humus")
    assert word == "not explained"
    assert "Most of it is Ca" in sentence


def test_one_bed_can_be_asked_for(asked):
    """The other beds do not change what is said of one."""
    one = why_cec(beds_of(ASKED), bed="limed hard", **ENDS)
    assert one.headlines["sentence"].tolist() == [said(asked, "limed hard")[1]]


def test_a_bed_asked_for_keeps_its_own_pH():
    """Where the sum counts no acidity, what organic matter explains goes with the pH of its own bags."""
    bare = {"Ca": 8, "Mg": 1, "K": 0.3}
    more = {**bare, "Ca": 12}
    rows = beds_of({"first": (bare, more, {"OM": 4.0, "pH": 7.0}, {"OM": 5.0, "pH": 7.0}),
                    "second": (bare, more, {"OM": 4.0, "pH": 5.2}, {"OM": 5.0, "pH": 5.2})})
    rows = exchange(rows, acidity="none")
    alone = why_cec(rows, bed="second", **ENDS)
    pd.testing.assert_series_equal(part(alone, "second", "can explain"),
                                   part(why_cec(rows, **ENDS), "second", "can explain"))
    assert "5.2" in part(alone, "second", "can explain")["why"]


@pytest.mark.parametrize(
    ("wanted", "message"),
    [
        ({**ENDS, "bed": "North"}, "'North' is not a bed"),
        ({"before": "spring 2012", "after": "spring 2024"}, "no result belongs to 'spring 2012'"),
        ({**ENDS, "confidence": 95}, "confidence = 95"),
    ],
)
def test_what_is_not_there_is_refused(wanted, message):
    """The value and what would do instead."""
    rows = beds_of({"limed": ASKED["limed"]})
    with pytest.raises(SoiltrendError, match=message):
        why_cec(rows, **wanted)


def test_another_extractant_is_not_compared():
    """A sum by another extractant is another sum, and the reason is told."""
    rows = beds_of({"limed": ASKED["limed"]})
    later = (rows["season"] == "spring 2024") & (rows["unit"] == "mg/kg")
    found = why_cec(rows.assign(method=rows["method"].mask(later, "Morgan")), **ENDS)
    assert found.headlines["said"].tolist() == ["cannot say"]
    assert "the method changed" in found.headlines["sentence"][0]
    assert np.isnan(found.headlines["change"][0])


@pytest.fixture(scope="module")
def demo():
    """Return what is said of the demonstration garden, on one bed of which lies what nobody knows."""
    garden = demo_garden()
    log = garden.applications.copy()
    log.loc[log["bed"] == "Plum", "material"] = "stardust"
    return why_cec(replace(garden, applications=log), **ENDS)


def test_a_dressing_twelve_days_before_is_sized_by_the_log(demo):
    """Gypsum of 1.2 kg on 10.2 m2 holds 0.7 cmol/kg over 15 cm (weights of molmass), shell more."""
    layer = 1.18 * 15 * 10
    gypsum = 1.2 * 1000 / 10.2 * 0.214 * 1000 / layer / 10 / WEIGHT["Ca"]
    shell = 180 * 0.364 * 1000 / layer / 10 / WEIGHT["Ca"] * 0.98
    row = part(demo, "Zo\u00eb's Row", "can fake")
    assert 0 <= row["low"] < row["change"] < row["high"] < 1.25 * (gypsum + shell)
    assert row["high"] > gypsum
    assert "ground mussel shell, gypsum" in row["why"]
    assert said(demo, "Zo\u00eb's Row")[0] == "artefact"


def test_without_lime_in_the_log_nothing_fakes(demo):
    """Ferry had compost, leaf mould, ferments, wrack and borax."""
    assert part(demo, "Ferry", "can fake")[["low", "change", "high"]].tolist() == [0.0, 0.0, 0.0]


def test_a_material_of_which_nothing_is_known_is_told(demo):
    """It is not dropped in silence."""
    assert "no analysis is known: stardust" in part(demo, "Plum", "can fake")["why"]


def test_lime_on_a_limed_bed_may_all_still_lie_there(demo):
    """10.5 kg with 48 % Ca on 12.6 m2: 11 cmol/kg over 15 cm at 1.2, and at pH 7.8 none need dissolve."""
    brought = 10.5 * 0.48 * 1e6 / 12.6 / (1.2 * 15 * 10) / 10 / WEIGHT["Ca"]
    row = part(demo, "Lower Wall", "can fake")
    assert "builders' lime" in row["why"]
    word, sentence = said(demo, "Lower Wall")
    assert word == "artefact"
    most = float(sentence.split("by up to ")[1].split(" ")[0])
    assert 0.4 * brought < most <= 1.1 * brought


@pytest.mark.parametrize(("depth_cm", "share"), [(15.0, 0.0), (30.0, 0.5)])
def test_lime_that_went_on_the_bed_lies_in_a_lower_layer_only_as_deep_as_the_bed(depth_cm, share):
    """What is counted for the topsoil cannot lie below it as well; a bed 30 cm deep may hold half there."""
    garden = demo_garden()
    mine = garden.results[garden.results["bed"] == "Lower Wall"]
    mine = mine.assign(value=mine["value"].mask(mine["analyte"] == "pH", 7.0))
    below = mine.assign(top_cm=15.0, bottom_cm=30.0, sample=mine["sample"] + " below")
    both = replace(garden, results=pd.concat([mine, below], ignore_index=True),
                   beds=garden.beds.assign(depth_cm=depth_cm))
    asked = why_cec(both, bed="Lower Wall", **ENDS)
    parts = asked.table[asked.table["kind"] == "can fake"]
    assert "; 0-15 cm; " in story.why_words(asked, bed="Lower Wall").subtitle
    top, under = (parts[parts["top_cm"] == at].iloc[0] for at in (0.0, 15.0))
    assert "builders' lime" in top["why"]
    assert under["high"] == pytest.approx(share * top["high"], rel=0.05)
    assert ("lies in the layers above" in under["why"]) == (share == 0)


def test_lime_that_came_later_sizes_no_artefact():
    """Too high a pH at a test before which the log has no lime: by how much is not told, none is blamed."""
    garden = demo_garden()
    log = garden.applications.copy()
    log.loc[log["bed"] == "Lower Wall", "date"] = pd.Timestamp("2023-06-01")
    word, sentence = said(why_cec(replace(garden, applications=log), bed="Lower Wall", **ENDS), "Lower Wall")
    assert word == "artefact"
    assert "by how much cannot be told" in sentence
    assert "builders' lime" not in sentence


def test_tests_of_a_season_without_a_day_come_after_what_went_on_before(demo):
    """The guide lets a report say its season alone: what lay in the soil by its middle is counted."""
    garden = demo_garden()
    lost = replace(garden, results=garden.results.assign(sampled=pd.NaT))
    undated = why_cec(lost, bed="Lower Wall", **ENDS)
    found, wanted = (part(each, "Lower Wall", "can fake")["high"] for each in (undated, demo))
    assert found == pytest.approx(wanted, rel=0.2)
    assert wanted > 1


@pytest.mark.parametrize(("limit", "told"), [(0.15, True), (2.0, False)])
def test_what_limits_hide_is_not_reckoned_with(limit, told):
    """Na below 0.15 of 10 cmol/kg leaves the sum as sure as it was; below 2 of 12 nobody knows."""
    charges = {"Ca": 7.0, "Mg": 1.5, "K": 0.5, "acidity": 1.0}
    rows = [*soil("spring 2022", {**charges, "Na": limit}), *soil("spring 2024", {**charges, "Na": limit})]
    signs = ["<" if row["analyte"] == "Na" else "" for row in rows]
    found = why_cec(frames.results(pd.DataFrame(rows).assign(qualifier=signs)), **ENDS)
    left = found.table[found.table["part"] == "left over"].iloc[0]
    assert np.isfinite(left[["change", "low", "high"]].astype(float)).tolist() == [told] * 3
    assert not told or left["low"] <= left["change"] <= left["high"]
    assert found.headlines["said"][0] == ("within noise" if told else "cannot say")
    assert ("lies beyond the laboratory's limit" in found.headlines["sentence"][0]) != told
