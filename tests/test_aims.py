"""Aims by extractant and medium, the values to stop at, and how dressings are split."""

import numpy as np
import pytest

from soiltrend import tables, units, vocabulary
from soiltrend.aims import (
    aims,
    ceilings,
    dressing_limits,
    no_aim,
    nutrient_limits,
    settled,
    splitting,
)
from soiltrend.errors import GardenError, SoiltrendError
from soiltrend.materials import known_materials

AIMS = tables.load("aims", numbers=("low", "high"))
CEILINGS = tables.load("ceilings", numbers=("limit",))
SPLITTING = tables.load("splitting", numbers=("above", "parts"))
KNOWN = known_materials()
SOIL = "mineral soil"
FURROW_SLICE = {"depth_cm": 6.67 * 2.54, "bulk_density": 1.324}
"""2,000,000 lb of soil on an acre [cm, g/cm3]."""

PER_ACRE = [("P", 72, 137), ("K", 146, 277), ("Mg", 144, 295), ("Ca", 1401, 1790)]


@pytest.mark.parametrize(("analyte", "low", "high"), PER_ACRE)
def test_new_jersey_by_weight(analyte, low, high):
    """Rutgers NJAES prints lb/acre; the table holds the same in mg/kg (2,000,000 lb of soil)."""
    row = aims(analyte, "Mehlich-3", SOIL).query("region == 'New Jersey'").iloc[0]
    for end, pounds in ((row["low"], low), (row["high"], high)):
        by_area = units.convert(pounds, unit="lb/acre", to="mg/kg", **FURROW_SLICE)
        assert end == pytest.approx(by_area, rel=0.001)


def test_sources_that_disagree_all_stand():
    """Three states aim at three ranges of Mehlich-3 phosphorus; the middle is taken, and said."""
    rows = aims("P", "Mehlich-3", SOIL)
    assert set(rows["region"]) == {"New Jersey", "Delaware", "Iowa, field crops"}
    low, high, why = settled(rows)
    assert (low, high) == (36.0, 68.5)
    assert why.startswith("3 sources, middle taken: 36 to 68.5 mg/kg (New Jersey, published)")


def test_garlic_divides_the_sources():
    """Oregon State (EM 9057) asks for pH 6.5 and more, copied lists for 5.0 to 6.0: both are shown."""
    rows = aims("pH", "water 1:1", SOIL, crop="garlic").set_index("region")
    assert rows.at["western Oregon", "low"] == 6.5
    assert rows.at["copied lists", "high"] == 6.0
    assert rows.at["copied lists", "evidence"] == "common practice"


@pytest.mark.parametrize(
    ("crop", "low"),
    [("garlic", 6.5), ("brassica", 6.3), ("bean", 5.8), ("sweet corn", 5.8), ("blueberry", 4.5)],
)
def test_lowest_pH_by_crop(crop, low):
    """Minimum pH of Oregon State Univ. EM 9057, table 1."""
    rows = aims("pH", "water", SOIL, crop=crop)
    assert rows.loc[rows["region"] == "western Oregon", "low"].tolist() == [low]


def test_a_copied_list_alone_displaces_nothing():
    """Of carrots only a list without a source tells (5.0 to 6.0): those of vegetables in general hold."""
    assert aims("pH", "water", SOIL, crop="carrots").equals(aims("pH", "water", SOIL))
    assert "copied lists" in set(aims("pH", "water", SOIL, crop="garlic")["region"])


@pytest.mark.parametrize(
    ("word", "crop"),
    [("Potatoes", "potato"), ("new potatoes", "potato"), ("kale", "brassica"), ("runner beans", "bean"),
     ("Blueberries", "blueberry"), ("courgettes", "cucurbit"), ("garlics", "garlic"), ("lucerne", "alfalfa")],
)  # fmt: skip
def test_a_crop_is_known_by_the_words_growers_use(word, crop):
    """A plural or a member of the family gets the aim of the crop, and not that of vegetables in general."""
    found = aims("pH", "water", SOIL, crop=word)
    assert set(found["crop"]) == {crop}
    assert found.equals(aims("pH", "water", SOIL, crop=crop))


def test_every_crop_of_the_aims_has_its_words():
    """Each is listed, and no word stands for two."""
    listed = tables.load("crop_aims")
    assert set(tables.load("aims")["crop"]) - {""} == set(listed["crop"])
    words = [word for row in listed["spellings"] for word in row.split(";") if word] + listed["crop"].tolist()
    assert len(words) == len(set(words))


def test_a_crop_nobody_names_gets_the_general_aim():
    """Without a row of its own a crop takes that of vegetables in general."""
    for crop in ("salsify", "lettuce", "tomatoes", ""):
        assert aims("pH", "water", SOIL, crop=crop).equals(aims("pH", "water", SOIL))


@pytest.mark.parametrize(
    ("analyte", "method", "medium"),
    [("K", "Olsen", SOIL), ("P", "", SOIL), ("pH", "CaCl2", SOIL), ("P", "Mehlich-3", "compost-rich mix")],
)
def test_an_aim_is_never_borrowed(analyte, method, medium):
    """No aim of another extractant, pH solution or medium is offered, and the sentence says so."""
    assert aims(analyte, method, medium).empty
    said = no_aim(analyte, method=method, medium=medium)
    assert said.startswith(f"no aim known for {analyte} by")
    assert medium in said
    with pytest.raises(SoiltrendError, match="0 aims cannot be settled"):
        settled(aims(analyte, method, medium))


def test_the_growers_aim_goes_first():
    """Her own aim stands before the table and settles it; by another method it does not hold."""
    own = {"P": {"low": 50, "high": 100, "method": "Mehlich-3"}}
    rows = aims("P", "Mehlich-3", SOIL, own=own)
    assert rows["origin"].tolist() == ["own", "table", "table", "table"]
    assert settled(rows) == (50.0, 100.0, "your own aim (garden.toml)")
    assert "own" not in set(aims("P", "Olsen", SOIL, own=own)["origin"])
    assert aims("P", "Mehlich-3", "compost-rich mix", own=own)["origin"].tolist() == ["own"]


@pytest.mark.parametrize(
    ("told", "words"),
    [({"low": 9, "high": 3}, "low = 9, high = 3 is no aim"), ({"lwo": 3}, "'lwo' is no part")],
)
def test_an_aim_that_is_none_is_refused(told, words):
    """The error names garden.toml and the analyte."""
    with pytest.raises(GardenError, match=words) as error:
        aims("P", "Mehlich-3", SOIL, own={"P": told})
    assert str(error.value).startswith("garden.toml, aims, P")


def test_saturation_is_one_school_and_says_what_speaks_against_it():
    """Kopittke & Menzies 2007 stands beside every row of the saturation approach, and only there."""
    rows = aims("Ca saturation", "summation", SOIL, approach="saturation")
    assert rows[["low", "high"]].values.tolist() == [[60.0, 75.0]]
    assert rows["against"].str.contains("Kopittke & Menzies 2007").all()
    assert aims("Ca saturation", "summation", SOIL).empty
    with pytest.raises(SoiltrendError, match="'balance' is no approach"):
        aims("Ca saturation", "summation", SOIL, approach="balance")


def test_aims_are_ranges_in_known_units():
    """Low is not above high, one end is there, and unit, method and analyte are the frame's."""
    low, high = AIMS["low"], AIMS["high"]
    assert (low.notna() | high.notna()).all()
    assert (~(low > high)).all()
    known = set(tables.load("methods")["method"]) | {"ammonium nitrate"}
    assert {method for cell in AIMS["method"] for method in cell.split(";")} <= known
    for analyte, unit in zip(AIMS["analyte"], AIMS["unit"], strict=True):
        assert unit in (vocabulary.canonical_unit(analyte), "mg/dm3")


def test_where_delaware_stops():
    """Mehlich-3 P: above optimum from 100, environmental from 150 mg/kg (Sims et al. 2002, SSSAJ 66:2016)."""
    rows = ceilings("P", "Mehlich-3", SOIL)
    assert rows["limit"].is_monotonic_increasing
    delaware = rows[rows["source"].str.contains("Sims")]
    assert delaware["limit"].tolist() == [100.0, 150.0]
    assert set(rows["stops"]) == {"P"}


POUNDS = 0.5
"""mg/kg in a pound to the acre, of 2,000,000 pounds of soil (the furrow slice of the trade)."""

STOPS = {
    "Rutgers NJAES": [
        ("P", "Mehlich-3", 137 * POUNDS), ("K", "Mehlich-3", 277 * POUNDS), ("Mg", "Mehlich-3", 295 * POUNDS),
        ("Ca", "Mehlich-3", 1790 * POUNDS), ("B", "Mehlich-3", 20), ("Zn", "Mehlich-3", 50),
        ("Cu", "Mehlich-3", 20),
    ],
    "Univ. of Massachusetts": [
        ("P", "modified Morgan", 14), ("K", "modified Morgan", 160), ("Mg", "modified Morgan", 120),
        ("Ca", "modified Morgan", 1500), ("B", "modified Morgan", 0.5), ("Zn", "modified Morgan", 7.6),
        ("Cu", "modified Morgan", 0.6), ("EC", "water 1:2", 0.6),
    ],
    "Fertilizer Association of Ireland": [("P", "Morgan", 10), ("K", "Morgan", 150), ("Mg", "Morgan", 100)],
    "Oregon State Univ. EC 1478": [  # from memory
        ("P", "Bray P1", 100), ("P", "Olsen", 40), ("K", "ammonium acetate", 800),
        ("Mg", "ammonium acetate", 300), ("Ca", "ammonium acetate", 2000), ("B", "hot water", 2),
    ],
    "USDA Handbook 60": [("Na saturation", "summation", 15), ("EC", "saturated paste", 4)],
    "Univ. of Georgia": [("pH", "water 1:1", 7.0)],
}  # fmt: skip


@pytest.mark.parametrize(
    ("source", "analyte", "method", "limit"),
    [(source, *row) for source, rows in STOPS.items() for row in rows],
)
def test_where_each_source_stops(source, analyte, method, limit):
    """What harms plants or water from there on: by the source, and nowhere else in its name."""
    rows = ceilings(analyte, method, SOIL)
    told = rows.loc[rows["source"].str.startswith(source), "limit"].tolist()
    assert told == [pytest.approx(limit)]


@pytest.mark.parametrize(
    ("analyte", "method", "stops"),
    [("pH", "water 1:1", "lime"), ("EC", "saturated paste", "salt"), ("Na saturation", "summation", "Na")],
)
def test_what_a_test_stops(analyte, method, stops):
    """A high pH stops lime, salt stops salts, sodium stops sodium."""
    assert set(ceilings(analyte, method, SOIL)["stops"]) == {stops}


def test_an_aim_lies_below_the_ceiling_of_its_own_source():
    """No source aims above the value at which it stops."""
    for row in AIMS[AIMS["low"].notna()].itertuples():
        tops = ceilings(row.analyte, row.method.split(";")[0], row.medium)
        same = tops[tops["source"].str.split(" ").str[0] == row.source.split(" ")[0]]
        assert (same["limit"] >= row.low).all()


PENNSYLVANIA = [("calcitic limestone", "lime", 10), ("epsom salt", "mineral", 3)]


@pytest.mark.parametrize(("material", "kind", "pounds"), PENNSYLVANIA)
def test_dressings_of_pennsylvania(material, kind, pounds):
    """Penn State AASL, home garden: lime above 10, Epsom salt from 3 lb/100 ft2 is split."""
    limit = dressing_limits(material, kind=kind).set_index("per").at["dressing", "limit"]
    assert limit == pytest.approx(pounds * 48.8243, abs=0.1)
    rule = splitting(material, kind=kind).query("parts == 2").iloc[0]
    assert rule["above"] == pytest.approx(limit)
    assert rule["gap_days"] == {"lime": 182, "mineral": 120}[kind]


def test_a_caustic_lime_has_its_own_smaller_dressing():
    """The material's limit goes before its kind's."""
    own = dressing_limits("slaked lime", kind="lime").set_index("per")["limit"]
    common = dressing_limits("dolomite", kind="lime").set_index("per")["limit"]
    assert own["dressing"] < common["dressing"]
    assert own["year"] == 2 * own["dressing"] < common["year"]


@pytest.mark.parametrize(
    ("alias", "name"), [("Builders' lime", "slaked lime"), ("Epsom salts", "epsom salt")]
)
def test_limits_know_a_material_by_its_other_names(alias, name):
    """What is written on the sack does not change what a bed takes."""
    assert dressing_limits(alias, kind="lime").equals(dressing_limits(name, kind="lime"))
    assert splitting(alias, kind="lime")["rule"].tolist() == splitting(name, kind="lime")["rule"].tolist()


def test_boron_by_the_acre():
    """2 lb B per acre is 0.22 g/m2, a full dose and given once."""
    limits = nutrient_limits().set_index(["what", "per"])["limit"]
    assert limits["B", "year"] == pytest.approx(units.convert(2, unit="lb/acre", to="g/m2"), abs=0.005)
    assert ("B", "dressing") not in limits.index
    both = splitting("borax", kind="trace salt", nutrients=("B",))
    assert both["of"].tolist() == ["kind", "nutrient"]
    assert both["gap_days"].tolist() == [365, 365]
    assert both["spares"].tolist() == [(), ("bean",)]


def test_raw_manure_waits():
    """120 days before harvest where the crop touches the soil (US organic rule, 7 CFR 205.203)."""
    assert splitting("raw manure", kind="manure")["before_harvest_days"].tolist() == [120]


def test_months_turn_over_for_the_south():
    """Half a year apart: April in the north is October in the south."""
    north = splitting("epsom salt")["months"].iloc[0]
    south = splitting("epsom salt", hemisphere="south")["months"].iloc[0]
    assert north == (4, 5, 6, 7, 8)
    assert south == (10, 11, 12, 1, 2)
    with pytest.raises(SoiltrendError, match="'east' is no hemisphere"):
        splitting("gypsum", hemisphere="east")


def test_months_are_months_and_none_is_both_wanted_and_avoided():
    """Each month is 1 to 12, and a rule does not contradict itself."""
    for wanted, avoided in zip(SPLITTING["months"], SPLITTING["avoid_months"], strict=True):
        months = [set(filter(None, cell.split(";"))) for cell in (wanted, avoided)]
        assert {int(month) for both in months for month in both} <= set(range(1, 13))
        assert not months[0] & months[1]


def test_limits_and_rules_are_of_things_that_are_known():
    """Every material and kind named is in the table of materials."""
    for table in (CEILINGS, SPLITTING):
        assert set(table.loc[table["of"] == "material", "what"]) <= set(KNOWN.index)
        assert set(table.loc[table["of"] == "kind", "what"]) <= {*KNOWN["kind"]}


def test_limits_are_positive_and_dressings_below_years():
    """Each limit is above 0; a dressing is not more than a year."""
    assert (CEILINGS["limit"] > 0).all()
    wide = CEILINGS[CEILINGS["per"].isin(["dressing", "year"])]
    pairs = wide.pivot_table(index=["of", "what"], columns="per", values="limit")
    assert np.all(~(pairs["dressing"] > pairs["year"]))
