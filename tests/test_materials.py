"""Materials: analyses by formula, the grower's figures over the table, buckets, and what comes free."""

from pathlib import Path

import numpy as np
import pandas as pd
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from molmass import Formula

from soiltrend import tables, units
from soiltrend.errors import GardenError, SoiltrendError
from soiltrend.folder import read_table, read_toml
from soiltrend.frames import YEAR
from soiltrend.garden.folder import APPLICATIONS, MATERIALS
from soiltrend.materials import (
    COLUMNS,
    NUTRIENTS,
    drawn,
    dry_kg,
    grind,
    known_materials,
    limits,
    material,
    material_card,
    release_class,
    released,
    warnings_of,
)
from soiltrend.materials.reference import chalk_equivalent, ends, key, parts

KNOWN = known_materials()
TABLE = tables.load("materials", numbers=("purity", "neutralises"))
PURE = TABLE[TABLE["formula"] != ""].set_index("material")
UREG = pint.UnitRegistry()


def rng():
    return np.random.default_rng(7)


def mass(formula):
    """Return the molar mass of a formula by an independent library [g/mol]."""
    return sum(count * Formula(part).mass for count, part in parts(formula))


@pytest.mark.parametrize("name", PURE.index)
def test_salts_follow_their_formulas(name):
    """Analyses of pure substances agree with the molar masses of molmass."""
    row, found = PURE.loc[name], KNOWN.loc[name.casefold()]
    purity = row["purity"]
    for element in NUTRIENTS:
        if TABLE.set_index("material").at[name, element]:
            continue
        inside = sum(
            count * Formula(part).composition()[element].mass
            for count, part in parts(row["formula"])
            if element in Formula(part).composition()
        )
        assert found[element] == pytest.approx(purity * inside / mass(row["formula"]), rel=2e-4)
    chalk = row["neutralises"] / 2 * Formula("CaCO3").mass / mass(row["formula"])
    assert found["CCE"] == pytest.approx(purity * chalk, rel=2e-4)


PRINTED = [
    ("gypsum", "Ca", 23.28),
    ("gypsum", "S", 18.62),
    ("epsom salt", "Mg", 9.86),
    ("kieserite", "Mg", 17.56),
    ("sulphate of potash", "K", 44.88),
    ("potassium magnesium sulphate", "Mg", 11.71),
    ("borax", "B", 11.34),
    ("zinc sulphate", "Zn", 22.74),
    ("copper sulphate", "Cu", 25.45),
    ("manganese sulphate", "Mn", 32.5),
]


@pytest.mark.parametrize(("name", "element", "percent"), PRINTED)
def test_pure_salts_as_handbooks_print_them(name, element, percent):
    """At 100 % purity: the percentages that fertiliser handbooks print (NCDA&CS Circular 1 for Mg)."""
    purity = PURE.rename(index=str.casefold).at[name, "purity"]
    assert KNOWN.at[name, element] * 100 / purity == pytest.approx(percent, abs=0.06)


def test_the_table_is_wide_enough():
    """At least 40 commodity and homemade materials in both tables together, none twice by name or alias."""
    assert len(KNOWN) >= 40
    spelled = [key(name) for name in KNOWN.index]
    spelled += [key(alias) for listed in KNOWN["aliases"] for alias in listed.split(";") if alias]
    assert len(spelled) == len(set(spelled))
    assert list(KNOWN.columns) == list(COLUMNS)


@pytest.mark.parametrize("quantity", [*NUTRIENTS, "moisture", "CCE", "density"])
def test_ends_stand_in_order(quantity):
    """Low, likely and high are all there or all missing, in order, and no share is above 100 %."""
    three = KNOWN[ends(quantity)]
    assert (three.notna().sum(axis=1).isin([0, 3])).all()
    three = three.dropna().to_numpy()
    assert (np.diff(three, axis=1) >= 0).all()
    if quantity not in ("CCE", "density"):
        assert ((three >= 0) & (three <= 100)).all()


def test_every_material_can_be_used():
    """Each has moisture and density, a class of release and cautions that are written out."""
    assert KNOWN[[*ends("moisture"), *ends("density")]].notna().all(axis=None)
    for name in KNOWN.index:
        assert release_class(KNOWN.loc[name])
        assert (warnings_of(KNOWN.loc[name])["text"] != "").all()
    bought = KNOWN["kind"].isin(["mineral", "trace salt", "lime", "shell", "ash", "rock dust", "meal"])
    assert (KNOWN.loc[bought, "cautions"] != "").all()


def test_no_analysis_holds_more_than_itself():
    """The elements of one material together stay below its dry matter, at their likely values."""
    assert (KNOWN[list(NUTRIENTS)].sum(axis=1) < 100).all()


def test_gypsum_is_never_lime():
    """Gypsum neutralises nothing, and says so (W. Reeves, Univ. of Georgia Extension)."""
    assert (KNOWN.loc["gypsum", ends("CCE")] == 0).all()
    assert "never lime" in KNOWN.at["gypsum", "cautions"]


def test_sulphur_makes_acid():
    """1 g of sulphur consumes 3.12 g of CaCO3 (stoichiometry of S to H2SO4, by molmass)."""
    per_g = Formula("CaCO3").mass / Formula("S").mass
    purity = PURE.at["elemental sulphur", "purity"]
    assert KNOWN.at["elemental sulphur", "CCE"] == pytest.approx(-per_g * purity, rel=2e-4)
    assert round(per_g, 2) == 3.12


LIMES = [("MgCO3", 119), ("CaO2H2", 135), ("MgO2H2", 172), ("CaO", 178), ("MgO", 250)]


@pytest.mark.parametrize(("formula", "percent"), LIMES)
def test_neutralising_values_of_pure_limes(formula, percent):
    """CaCO3 equivalents of Univ. of Nebraska's plant and soil e-library, table 4.4 (by whole masses)."""
    assert 100 * chalk_equivalent(formula, 2) == pytest.approx(percent, rel=0.008)


def test_organic_carbon_is_not_that_of_carbonates():
    """Lime, shell and chalk bring no organic carbon; acetate does."""
    carbonates = KNOWN[(KNOWN["formula"] == "CaCO3")]
    assert (carbonates["C"] == 0).all()
    assert KNOWN.at["vinegar extract of eggshell", "C"] > 20


def own(**row):
    return pd.DataFrame([{"material": "gypsum", **row}])


def test_the_grower_wins_quantity_by_quantity():
    """What she measured stands, what she left blank comes from the table, and both say so."""
    row = known_materials(own(Ca=20.0, S=np.nan, measured="yes", source="her test")).loc["gypsum"]
    assert row["Ca"] == 20.0
    assert np.isnan(row["Ca_high"])
    assert row["S"] == KNOWN.at["gypsum", "S"]
    assert row["origin"] == "own, rest from table"
    assert row["source"].startswith("her test; N, P, K, Mg, S")
    assert limits(row, quantity="Ca") == pytest.approx((17, 20, 23))


def test_an_alias_takes_the_place_of_the_reference_row():
    """A grower's name for a known material replaces it and keeps its other names."""
    known = known_materials(pd.DataFrame({"material": ["Stove ash"], "K": [5.2]}))
    assert "wood ash" not in known.index
    assert len(known) == len(KNOWN)
    assert material(known, name="wood ashes").name == "stove ash"
    assert known.at["stove ash", "origin"] == "own, rest from table"


def test_a_material_of_her_own_stands_alone():
    """What no table knows has only what she wrote, and a release between nothing and all."""
    row = known_materials(pd.DataFrame({"material": ["Bog dust"], "Ca": [3.0]})).loc["bog dust"]
    assert row["origin"] == "own"
    assert np.isnan(row["N"])
    assert release_class(row) == "unknown"
    assert released(row, years=1)["Ca"] == (0.0, 0.5, 1.0)


FAULTS = [
    ({"Ca_low": 30, "Ca": 20.0}, "Ca: 30, 20 are not low, likely, high"),
    ({"N": 230.0}, "N = 230 is no percentage"),
    ({"moisture": -4.0}, "moisture = -4 is no percentage"),
    ({"density": 600.0}, "density = 600 is no density.* such as 0.6 for 600 kg/m3"),
    ({"CCE_low": "much"}, "CCE_low 'much' is not a number"),
]


@pytest.mark.parametrize(("row", "words"), FAULTS)
def test_an_analysis_that_cannot_be_is_refused(row, words):
    """The error names the file, the line and the value found."""
    with pytest.raises(GardenError, match=words) as told:
        known_materials(own(line=7, **row))
    assert str(told.value).startswith("materials.csv, line 7:")


def test_a_row_without_a_line_is_named_by_its_material():
    """What was mixed and laid beside her own has no line in a file."""
    mixed = pd.concat([own(line=3), pd.DataFrame({"material": ["mix"], "N": [101.0]})])
    with pytest.raises(GardenError, match=r"materials.csv, material 'mix': N = 101 is no percentage"):
        known_materials(mixed)


def test_nitrogen_of_meals_makes_acid():
    """100 lb of dried blood need 23 lb of CaCO3, of cottonseed meal 10 (Pierre 1933; from memory)."""
    assert KNOWN.at["blood meal", "CCE"] == -23
    assert KNOWN.at["cottonseed meal", "CCE"] == -10
    meals = KNOWN[(KNOWN["kind"] == "meal") & (KNOWN["N"] > 5) & (KNOWN["Ca"] < 5)]
    per_nitrogen = -meals["CCE"] / meals["N"]
    most = Formula("CaCO3").mass / 2 / Formula("N").mass  # one H+ for each N that becomes nitrate
    assert per_nitrogen.between(0, most).all()


def test_a_material_written_twice_is_refused():
    """Two lines of one name would hide each other."""
    with pytest.raises(GardenError, match="'Gypsum' stands twice"):
        known_materials(pd.DataFrame({"material": ["gypsum", "Gypsum"]}))


def test_a_cup_of_nothing_known_is_refused():
    """A cup weight for an unknown name is not dropped."""
    with pytest.raises(GardenError, match=r"'gypsom' is no material known here .nearest: 'gypsum'"):
        known_materials(cups={"gypsom": 250})


@pytest.mark.parametrize("grams", [0, -3, 24000, "240", True])
def test_a_weight_that_no_cup_can_have_is_refused(grams):
    """Solid iron would fill a cup of 250 ml with less than 2 kg; 240 in quotes is no number."""
    said = rf"^garden\.toml, cups: gypsum = {grams!r} is no weight"
    with pytest.raises(GardenError, match=said):
        known_materials(cups={"gypsum": grams})


def test_an_unknown_material_is_named_with_the_nearest():
    """An application of something unknown is an error with a remedy."""
    with pytest.raises(SoiltrendError, match=r"'gypsumm' is no material known here .nearest: 'gypsum'"):
        material(KNOWN, name="gypsumm")


MEASURES = tables.load("measures", numbers=("factor", "cv")).set_index("measure")
PINT = {
    "t": ("tonne", "kg"),
    "lb": ("lb", "kg"),
    "oz": ("oz", "kg"),
    "kg/ha": ("kg/hectare", "kg/m**2"),
    "t/ha": ("tonne/hectare", "kg/m**2"),
    "oz/yd2": ("oz/yd**2", "kg/m**2"),
    "lb/100ft2": ("lb/(100 ft**2)", "kg/m**2"),
    "lb/1000ft2": ("lb/(1000 ft**2)", "kg/m**2"),
    "oz/100ft2": ("oz/(100 ft**2)", "kg/m**2"),
    "lb/acre": ("lb/acre", "kg/m**2"),
    "ft3": ("ft**3", "L"),
    "yd3": ("yd**3", "L"),
    "gal": ("gallon", "L"),
    "qt": ("quart", "L"),
    "US cup": ("cup", "L"),
    "cm": ("cm", "L/m**2"),
    "mm": ("mm", "L/m**2"),
    "in": ("inch", "L/m**2"),
    "m3/ha": ("m**3/hectare", "L/m**2"),
}


@pytest.mark.parametrize("measure", PINT)
def test_measures_by_an_independent_unit_library(measure):
    """Factors of defined units agree with pint, whose acre is the survey acre (4 parts in a million off)."""
    unit, to = PINT[measure]
    assert MEASURES.at[measure, "factor"] == pytest.approx(UREG(unit).to(to).magnitude, rel=5e-6)


@given(
    amount=st.floats(0.01, 500),
    unit=st.sampled_from(sorted(MEASURES.index)),
    name=st.sampled_from(sorted(KNOWN.index)),
    area=st.floats(0.5, 60),
)
def test_dry_matter_is_what_was_put_on_less_its_water(amount, unit, name, area):
    """Dry matter is positive, below the wet mass at its densest, and in proportion to the amount."""
    row, of = KNOWN.loc[name], MEASURES.loc[unit]
    kg = dry_kg(amount, unit, row, area_m2=area, draws=40, rng=rng())
    twice = dry_kg(2 * amount, unit, row, area_m2=area, draws=40, rng=rng())
    wet = amount * of["factor"] * (area if "area" in of["of"] else 1)
    wet *= row["density_high"] if "volume" in of["of"] else 1
    assert (kg > 0).all()
    assert (kg <= wet * (1 - row["moisture_low"] / 100) * np.exp(5 * of["cv"])).all()
    assert twice == pytest.approx(2 * kg)


@given(name=st.sampled_from(sorted(KNOWN.index)), area=st.floats(0.5, 60))
def test_a_bed_twice_as_large_takes_twice_as_much(name, area):
    """Per square metre and per bed are the same dressing."""
    row = KNOWN.loc[name]
    per_area = dry_kg(80, "g/m2", row, area_m2=area, draws=20, rng=rng())
    at_once = dry_kg(160, "g/m2", row, area_m2=area / 2, draws=20, rng=rng())
    assert per_area == pytest.approx(at_once)


def test_metric_and_american_measures_agree():
    """The same dressing in lb/100 ft2 and g/m2: 1 lb/100 ft2 = 48.824 g/m2."""
    row = KNOWN.loc["gypsum"]
    one = dry_kg(1, "lb/100 sq ft", row, area_m2=10, draws=30, rng=rng())
    other = dry_kg(48.82427636, "g/m2", row, area_m2=10, draws=30, rng=rng())
    assert one == pytest.approx(other)


@pytest.mark.parametrize("name", ["wood ash", "garden compost", "comfrey ferment", "elemental sulphur"])
def test_draws_stay_between_the_ends(name):
    """Each draw lies between low and high, the same seed draws the same, unknown stays unknown."""
    row = KNOWN.loc[name]
    found = drawn(row, draws=300, rng=rng())
    again = drawn(row, draws=300, rng=rng())
    assert set(found) == {q for q in (*NUTRIENTS, "moisture", "CCE", "density") if pd.notna(row[q])}
    for quantity, values in found.items():
        low, likely, high = (row[column] for column in ends(quantity))
        assert ((values >= low - 1e-9) & (values <= high + 1e-9)).all()
        assert values == pytest.approx(again[quantity])
        assert values.mean() == pytest.approx((low + likely + high) / 3, abs=(high - low) * 0.05 + 1e-9)


def test_a_scale_is_surer_than_a_shovel():
    """The spread of an amount grows with the coarseness of the measure."""
    row = KNOWN.loc["basalt dust"]
    spread = {
        unit: np.std(np.log(dry_kg(1, unit, row, area_m2=1, draws=2000, rng=rng())))
        for unit in ("kg", "L", "bucket", "shovel")
    }
    assert spread["kg"] < spread["L"] < spread["bucket"] < spread["shovel"]


@pytest.mark.parametrize("unit", ["kg", "bucket", "shovel"])
def test_an_unsure_measure_is_right_on_the_average(unit):
    """The error of a measure spreads the amount and does not add to it."""
    row = KNOWN.loc["gypsum"].copy()
    row[[*ends("density"), *ends("moisture")]] = [1.0] * 3 + [0.0] * 3
    kg = dry_kg(1, unit, row, area_m2=1, draws=40_000, rng=rng())
    assert kg.mean() == pytest.approx(MEASURES.at[unit, "factor"], rel=0.01)


def test_a_weighed_cup_goes_before_the_density():
    """A cup is as heavy as the grower weighed it."""
    known = known_materials(cups={"gypsum": 300})
    kg = dry_kg(4, "cup", known.loc["gypsum"], area_m2=1, draws=4000, rng=rng())
    assert kg.mean() == pytest.approx(1.2, rel=0.02)


def test_a_guess_of_water_keeps_a_liquid_thin():
    """A stated moisture of 98.6 % without ends leaves between 1 and 2 % of dry matter."""
    row = known_materials(pd.DataFrame({"material": ["nettle ferment"], "moisture": [98.6]})).loc[
        "nettle ferment"
    ]
    low, likely, high = limits(row, quantity="moisture")
    assert (low, likely, high) == pytest.approx((98.25, 98.6, 98.95))


REFUSED = [
    ({"unit": "hogshead"}, "applications.csv, material 'bog dust': 'hogshead' is no measure known here"),
    ({"amount": -1}, "-1 kg on 10 m2 is no amount"),
    ({"unit": "bucket"}, "materials.csv, material 'bog dust': its density is not known"),
    ({}, "materials.csv, material 'bog dust': its moisture is not known"),
]


@pytest.mark.parametrize(("told", "words"), REFUSED)
def test_what_cannot_be_told_is_refused(told, words):
    """The error names the file, the material, the value and the remedy."""
    row = known_materials(pd.DataFrame({"material": ["bog dust"], "Ca": [3.0]})).loc["bog dust"]
    with pytest.raises(SoiltrendError, match=words):
        dry_kg(told.get("amount", 1), told.get("unit", "kg"), row, area_m2=10, draws=5, rng=rng())


@pytest.mark.parametrize("name", sorted(set(KNOWN["release"])))
def test_release_grows_and_never_passes_the_total(name):
    """Shares grow with the years, stay in order and between 0 and 1."""
    row = KNOWN[KNOWN["release"] == name].iloc[0]
    last = None
    for years in (0, 0.5, 1, 2, 3, 10, 60):
        now = np.array(list(released(row, years=years).values()))
        assert (np.diff(now, axis=1) >= 0).all()
        assert ((now >= 0) & (now <= 1)).all()
        assert last is None or (now >= last).all()
        last = now


def test_published_years_of_manure_and_compost():
    """N after three years: 47 % of feedlot manure, 37 % of compost (Univ. of Nebraska, water.unl.edu)."""
    manure, compost = KNOWN.loc["garden compost"].copy(), KNOWN.loc["garden compost"]
    manure["release"] = "manure"
    for row, percent in ((manure, 0.47), (compost, 0.37)):
        low, _, high = released(row, years=3)["N"]
        assert low <= percent <= high


@pytest.mark.parametrize(("years", "stages"), [(0.5, (0.5, 0, 0)), (1.5, (1, 0.5, 0)), (4, (1, 1, 2))])
def test_years_add_up(years, stages):
    """The first year, the second, and each later one stand in the table; parts of years are even."""
    table = tables.load("release", numbers=("first", "second", "later")).set_index(["release", "nutrient"])
    row = table.loc[("compost", "N")]
    expected = sum(
        part * row[stage] for part, stage in zip(stages, ("first", "second", "later"), strict=True)
    )
    assert released(KNOWN.loc["garden compost"], years=years)["N"][1] == pytest.approx(expected)


DISSOLVES = [("sulphate of potash", "K"), ("borax", "B"), ("wood ash", "K"), ("sheep's wool", "K")]


@pytest.mark.parametrize(("name", "nutrient"), DISSOLVES)
@pytest.mark.parametrize(("days", "part"), [(0, 0.0), (14, 0.5), (28, 1.0), (183, 1.0), (365, 1.0)])
def test_what_dissolves_is_free_within_weeks(name, nutrient, days, part):
    """By the words of tables/release.csv; by hand half of the first year's share after two of four weeks."""
    row = KNOWN.loc[name]
    table = tables.load("release", numbers=("first_low", "first", "first_high", "within_days"))
    table = table.set_index(["release", "nutrient"])
    key = (row["release"], nutrient if (row["release"], nutrient) in table.index else "*")
    line = table.loc[key]
    assert "soluble" in line["source"] or "within days or weeks" in line["source"]
    assert line["within_days"] == 28
    expected = part * line[["first_low", "first", "first_high"]].to_numpy(dtype=float)
    assert released(row, years=days / YEAR)[nutrient] == pytest.approx(tuple(expected), abs=1e-9)


def test_what_the_table_calls_dissolved_does_not_wait_a_year():
    """Salts, what is dissolved already, and the water-soluble part of ash: each has its days."""
    table = tables.load("release", numbers=("within_days",))
    words = table["source"].str.contains("dissolved already$|days or weeks|water-soluble")
    assert (table["within_days"] > 0).tolist() == words.tolist()


def test_rock_dust_is_not_its_total():
    """At most 5 % of a silicate dust in a year (Swoboda et al. 2022, Sci. Total Environ. 150976)."""
    assert released(KNOWN.loc["basalt dust"], years=1)["Mg"][2] <= 0.05


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("powder", "powder"),
        ("through a 1 mm kitchen sieve", "sieved"),
        ("crushed by hand", "crushed"),
        ("", ""),
    ],
)
def test_shells_go_by_their_grind(words, expected):
    """Coarse shell comes free later than fine, and an untold grind is wide."""
    row = KNOWN.loc["eggshell"].copy()
    row["fineness"] = words
    assert grind(words) == expected
    low, likely, high = released(row, years=1)["CCE"]
    crushed = released(
        KNOWN.loc["eggshell"].copy().where(lambda r: r.index != "fineness", "crushed"), years=1
    )
    assert likely >= crushed["CCE"][1]
    assert high - low > 0.2


def test_time_does_not_run_backwards():
    """Years below 0 are refused."""
    with pytest.raises(SoiltrendError, match="-1 years is no time after"):
        released(KNOWN.loc["gypsum"], years=-1)


def test_a_wrong_class_or_caution_is_named():
    """A row that names an unknown class or caution is an error."""
    row = KNOWN.loc["gypsum"].copy()
    row["release"], row["cautions"] = "soon", "dragons"
    with pytest.raises(SoiltrendError, match="'soon' is no class of release"):
        released(row, years=1)
    with pytest.raises(SoiltrendError, match="'dragons' is no caution"):
        warnings_of(row)


def test_the_demo_garden_weighs_every_bucket():
    """Every application of the demo garden becomes kilograms of dry matter."""
    folder = Path(__file__).parents[1] / "data_demo" / "oxmarrow-steps"
    rows = read_table(folder / "applications.csv", APPLICATIONS)
    cups = read_toml(folder / "garden.toml")["cups"]
    known = known_materials(read_table(folder / "materials.csv", MATERIALS), cups=cups)
    kg = [
        dry_kg(row.amount, row.unit, material(known, name=row.material), area_m2=10, draws=9, rng=rng())
        for row in rows.itertuples()
    ]
    assert len(kg) == len(rows) > 90
    assert (np.array(kg) > 0).all()


def test_the_pound_of_nitrogen():
    """1 lb of N from a fertiliser of 12 % takes about 8 lb (Oregon State Univ. Extension, Penhallegon)."""
    row = known_materials(pd.DataFrame({"material": ["twelve"], "N": [12.0], "moisture": [0.0]})).loc[
        "twelve"
    ]
    kg = dry_kg(8.33, "lb", row, area_m2=1, draws=4000, rng=rng()).mean()
    assert kg * row["N"] / 100 / MEASURES.at["lb", "factor"] == pytest.approx(1.0, rel=0.005)


def test_a_full_dose_of_boron():
    """1 and 2 lb B per acre as borax: 8.8 and 17.6 lb per acre, 1.0 and 2.0 g/m2 (by formula, 11.34 % B)."""
    purity = PURE.at["borax", "purity"]
    boron = KNOWN.at["borax", "B"] / purity
    for pounds, borax in ((1, 8.8), (2, 17.6)):
        need = pounds / boron
        assert need == pytest.approx(borax, abs=0.05)
        grams = need * 1000 * MEASURES.at["lb/acre", "factor"]
        assert grams == pytest.approx(pounds * 1.0, abs=0.03)
        ounces = grams / 1000 / MEASURES.at["oz/100ft2", "factor"]
        assert ounces == pytest.approx({1: 0.32, 2: 0.65}[pounds], abs=0.005)


def test_gypsum_for_a_hundred_parts_of_calcium():
    """100 mg/kg Ca in 2,000,000 lb of soil: 859 lb/ac = 96 g/m2 of pure gypsum (by formula and molmass)."""
    calcium = KNOWN.at["gypsum", "Ca"] / PURE.at["gypsum", "purity"]
    pounds = 100e-6 * 2e6 / calcium
    assert pounds == pytest.approx(859, abs=0.6)
    grams = pounds * 1000 * MEASURES.at["lb/acre", "factor"]
    assert grams == pytest.approx(96, abs=0.5)
    assert grams / 1000 / MEASURES.at["lb/100ft2", "factor"] == pytest.approx(1.97, abs=0.005)


def test_a_ratio_target_by_the_acre_foot():
    """700 mg/kg Ca, limestone of 32 % Ca, 1 foot at 4 lb per mg/kg: 8750 lb, 4.4 t, 201 lb/1000 ft2.

    UC Santa Cruz growers' manual, unit 1.11 appendix 4; it prints 200 where it divides by 44.
    """
    lime = known_materials(pd.DataFrame({"material": ["lime of 32"], "Ca": [32.0]})).loc["lime of 32"]
    pounds = 700 * 4 / (lime["Ca"] / 100)
    assert pounds == pytest.approx(8750)
    assert pounds / 2000 == pytest.approx(4.375)
    assert units.convert(pounds, unit="lb/acre", to="lb/1000 sq ft") == pytest.approx(200.9, abs=0.05)
    exact = units.convert(1.0, unit="mg/kg", to="lb/acre", depth_cm=30.48, bulk_density=1.33)
    assert exact == pytest.approx(3.62, abs=0.005)


@pytest.mark.parametrize("name", sorted(KNOWN.index))
def test_every_material_has_its_card(name):
    """A card lists each known quantity with its unit, grams in a kilogram and what comes free."""
    card = material_card(name)
    table, row = card.table.set_index("what"), KNOWN.loc[name]
    assert set(table.index) == {q for q in (*NUTRIENTS, "moisture", "CCE", "density") if pd.notna(row[q])}
    assert (table["low"] <= table["likely"]).all()
    assert (table["likely"] <= table["high"]).all()
    solid = table.drop(index=["moisture", "density"])
    dry = 1 - table.at["moisture", "likely"] / 100
    assert solid["in_a_kilogram"].to_numpy() == pytest.approx((10 * solid["likely"] * dry).to_numpy())
    assert card.source == row["source"]


def test_a_card_shows_its_cautions():
    """In plain text and in HTML the cautions stand below the analysis."""
    card = material_card("quicklime")
    assert "- Burns eyes and skin" in repr(card)
    assert "What to beware of" in card._repr_html_()
    own_ash = known_materials(pd.DataFrame({"material": ["stove ash"], "K": [5.2], "measured": ["yes"]}))
    line = material_card("stove ash", known=own_ash).table.set_index("what").loc["K"]
    assert (line["low"], line["high"]) == pytest.approx((4.42, 5.98))
    assert line["why"] == "a stated spread around what is given"
    with pytest.raises(SoiltrendError, match=r"^'unobtainium' is no material known here"):
        material_card("unobtainium")


TOLD_ONCE = [
    ("measures", ["measure"]),
    ("cautions", ["caution"]),
    ("release", ["release", "nutrient"]),
    ("grinds", ["grind"]),
    ("spreads", ["quantity", "measured"]),
    ("acids", ["acid"]),
    ("solids", ["solid"]),
    ("uptake", ["nutrient"]),
    ("lime_systems", ["system"]),
    ("lime_tables", ["system", "reading", "target"]),
    ("fineness", ["system", "passes_mesh"]),
    ("acidify", ["system", "texture"]),
    ("ceilings", ["of", "what", "method", "medium", "per", "limit"]),
    ("splitting", ["rule"]),
    ("apart", ["kind"]),
]


@pytest.mark.parametrize(("name", "columns"), TOLD_ONCE)
def test_tables_tell_each_thing_once(name, columns):
    """The key of each table names one row."""
    assert not tables.load(name).duplicated(columns).any()


def test_a_measure_is_spelled_one_way_only():
    """No spelling means two measures, whatever its case and blanks."""
    seen = {}
    for name, listed in zip(MEASURES.index, MEASURES["spellings"], strict=True):
        for text in (name, *filter(None, listed.split(";"))):
            spelled = key(text.replace("²", "2").replace("³", "3")).replace(" ", "")
            assert seen.setdefault(spelled, name) == name
    assert (MEASURES["factor"] > 0).all()
    assert MEASURES["cv"].between(0, 0.5).all()


def test_every_class_of_release_has_a_rule_for_the_rest():
    """A nutrient without a row of its own takes the row of its class."""
    table = tables.load("release")
    assert (table["nutrient"] == "*").groupby(table["release"]).any().all()
    used = {release_class(KNOWN.loc[name]) for name in KNOWN.index}
    assert used <= set(table["release"])
