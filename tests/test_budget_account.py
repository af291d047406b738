"""What counts between two tests, dressing by dressing and day by day: additions that must hold exactly."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

import soiltrend as st
from soiltrend import frames
from soiltrend.budget import log_faults, periods
from soiltrend.budget.books import account, open_books
from soiltrend.budget.card import _newest, _tests
from soiltrend.budget.chance import Dice, check, setting
from soiltrend.budget.core import Budget, _title
from soiltrend.budget.invented import invented
from soiltrend.budget.lines import _line
from soiltrend.budget.movement import _ends, density
from soiltrend.budget.shelf import shelf
from soiltrend.budget.sources import of_garden
from soiltrend.budget.uncounted import not_counted
from soiltrend.budget.words import _range

FIRST, MIDDLE, LAST = (pd.Timestamp(day) for day in ("2022-04-10", "2023-04-10", "2024-04-10"))
DRESSINGS = "date,bed,material,amount,unit\n"
HARVESTS = "date,bed,crop,kg,residue\n"


@pytest.fixture
def books(tmp_path):
    """Return a function that opens the books of one bed of 10 m2 with these lines in its logs."""

    def opened(*dressings, harvests=(), more=""):
        (tmp_path / "garden.toml").write_text(f'[beds."East"]\narea_m2 = 10\n{more}', encoding="utf-8")
        (tmp_path / "applications.csv").write_text(DRESSINGS + "\n".join(dressings), encoding="utf-8")
        (tmp_path / "harvests.csv").write_text(HARVESTS + "\n".join(harvests), encoding="utf-8")
        garden = st.open_garden(tmp_path)
        stock = shelf(garden, check(400, seed=1, confidence=0.9))
        return open_books(garden, stock, confidence=0.9)

    return opened


def between(books, nutrient, start, end):
    return account(books, bed="East", nutrient=nutrient, start=start, end=end)


@pytest.mark.parametrize(
    ("nutrient", "material"), [("Ca", "gypsum"), ("N", "garden compost"), ("Ca", "dolomite")]
)
@pytest.mark.parametrize("day", ["2021-10-01", "2022-04-10", "2022-11-02", "2023-09-15"])
def test_what_comes_free_in_two_years_is_that_of_each_year(books, nutrient, material, day):
    """Draw by draw: a dressing before the first test, on its day, in either year."""
    here = books(f"{day},East,{material},500,g/m2")
    one, two, both = (between(here, nutrient, *ends).inputs
                      for ends in ((FIRST, MIDDLE), (MIDDLE, LAST), (FIRST, LAST)))
    assert both.free.mean() > 0
    np.testing.assert_allclose(one.free + two.free, both.free, rtol=1e-9)
    np.testing.assert_allclose(one.put_in + two.put_in, both.put_in, rtol=1e-9)


def test_two_old_dressings_are_one_twice_as_large(books):
    """What both bring after the first test adds up; nothing of them was put in since."""
    line = "2021-10-01,East,garden compost,500,g/m2"
    one, two = (between(books(*[line] * count), "N", FIRST, LAST).inputs for count in (1, 2))
    assert one.earlier > 0
    assert two.earlier == pytest.approx(2 * one.earlier)
    np.testing.assert_allclose(two.free, 2 * one.free)
    assert not two.put_in.any()


@pytest.mark.parametrize("nutrient", ["Ca", "C"])
@pytest.mark.parametrize(
    ("day", "counts"),
    [("2022-04-09", False), ("2022-04-10", True), ("2024-04-09", True), ("2024-04-10", False)],
)
def test_a_dressing_on_the_day_of_a_test_lies_after_it(books, day, counts, nutrient):
    """A sample is taken before anything goes on; carbon counts whole, in the time in which it went on."""
    found = between(books(f"{day},East,garden compost,500,g/m2"), nutrient, FIRST, LAST).inputs
    assert (found.put_in.mean() > 0) == counts
    if nutrient == "C":
        np.testing.assert_array_equal(found.free, found.put_in)


@pytest.mark.parametrize(
    ("day", "counts"),
    [("2022-04-09", False), ("2022-04-10", True), ("2024-04-09", True), ("2024-04-10", False)],
)
def test_a_harvest_on_the_day_of_a_test_lies_after_it(books, day, counts):
    found = between(books(harvests=[f"{day},East,carrot,20,removed"]), "K", FIRST, LAST)
    assert (found.off.mean() > 0) == counts
    assert found.expected.mean() == pytest.approx(-found.off.mean())


def test_what_a_legume_fixed_is_expected_in_the_test(books):
    """Broad beans fix more than is picked of them: nothing went on, and nitrogen is to be expected."""
    found = between(books(harvests=["2023-07-01,East,broad bean,10,kept"]), "N", FIRST, LAST)
    assert found.fixed.mean() > found.off.mean() > 0
    assert found.expected.mean() == pytest.approx(found.fixed.mean() - found.off.mean())


def test_a_garden_s_sources_are_weighed_by_the_areas_of_its_beds(books):
    """100 g/m2 on 10 m2 and twice 200 on 30 m2 are 325 g/m2 of all; beans fix on their own bed."""
    lines = ["2022-05-01,East,gypsum,100,g/m2", *["2022-05-01,West,gypsum,200,g/m2"] * 2]
    beans = "2023-07-01,East,broad bean,10,kept"
    here = books(*lines, harvests=[beans], more='[beds."West"]\narea_m2 = 30\n')
    alone = between(here, "Ca", FIRST, LAST).inputs.put_in.mean()
    both = [{"bed": bed, "start": FIRST, "end": LAST} for bed in ("East", "West")]
    (row,) = of_garden(here, [test | {"nutrient": "Ca"} for test in both])
    assert row["material"] == "gypsum"
    assert row["put_in"] == pytest.approx(3.25 * alone)
    assert row["low"] < row["put_in"] < row["high"]
    (row,) = of_garden(here, [test | {"nutrient": "N"} for test in both])
    assert row["material"] == "fixed by broad bean"
    assert row["put_in"] == pytest.approx(between(here, "N", FIRST, LAST).fixed.mean() / 4)


def test_what_is_left_out_of_an_account_is_named(books):
    """Seaweed has no figure for copper, nobody knows what rubies hold; carrots and potassium are counted."""
    here = books(harvests=["2022-08-01,East,rubies,3,removed", "2022-08-02,East,carrot,3,removed"])
    found = not_counted(["seaweed"], here.stock, nutrients=("K", "Cu"), harvests=here.harvests)
    rows = found[found["source"] == ""].set_index("what")
    assert rows.loc["seaweed", "nutrient"] == "Cu"
    assert rows.loc["rubies", "bed"] == "East"
    assert {"carrot", "K"}.isdisjoint(rows.index)
    none = not_counted(["seaweed"], here.stock, nutrients=("K",), harvests=here.harvests.head(0))
    assert none.loc[none["source"] == ""].empty


def test_a_card_has_the_newest_first_and_its_tests_in_the_order_of_time():
    """The log from the last entry back, the tests from the oldest of four seasons on."""
    log = pd.DataFrame({"bed": ["East"] * 3, "date": [FIRST, LAST, MIDDLE], "what": list("abc")})
    assert _newest(log, "East", ["date", "what"])["what"].tolist() == ["b", "c", "a"]
    seasons = [f"spring {year}" for year in (2024, 2020, 2022, 2021, 2023)]
    results = frames.results([
        {"bed": "East", "season": season, "sampled": pd.Timestamp(f"{season[-4:]}-04-01"), "analyte": analyte,
         "value": 1.0}
        for season in seasons for analyte in ("pH", "K")])  # fmt: skip
    found = _tests(results, "East")
    assert found.columns[4:].tolist() == [f"spring {year}" for year in (2021, 2022, 2023, 2024)]
    assert found["analyte"].tolist() == ["pH", "K"]


def test_a_sentence_says_where_more_left_than_came_free():
    """Only there; and the share first, then its interval."""
    row = {"bed": "East", "nutrient": "K", "period": "p", "unit": "g/m2", "check": "", "said": "partly",
           "put_in": 30.04, "net_expected": 0.5, "net_observed": 0.2, "recovery": 0.41, "low": 0.12,
           "high": 0.93}  # fmt: skip
    sources = pd.DataFrame([{**row, "material": "ash", "put_in": 30.0}])
    told = _line(row, sources)
    assert told.startswith("Mostly ash brought 30 g/m2, and 0.50 g/m2 was to be expected in the test if all")
    assert "41 % (12 to 93 %)" in told
    assert "more left" not in told
    told = _line(row | {"net_expected": -0.5}, sources)
    assert "if all of it showed (more left than came free): it gained" in told


def test_a_sentence_tells_no_digits_that_its_interval_does_not_bear():
    """Next to nothing is 0.0, and what a bed lost is called lost."""
    row = {"bed": "East", "nutrient": "S", "period": "p", "unit": "g/m2", "check": "", "said": "not seen",
           "put_in": 22.0, "net_expected": 8.3, "net_observed": -0.0076, "net_observed_low": -2.2,
           "net_observed_high": 2.1, "recovery": -0.00092, "low": -0.27, "high": 0.26}  # fmt: skip
    sources = pd.DataFrame([{**row, "material": "ash", "put_in": 22.0}])
    assert "it gained 0.0, which is 0 % (-27 to 26 %);" in _line(row, sources)
    lost = row | {"net_observed": -7.5, "net_observed_low": -9.8, "net_observed_high": -4.2}
    assert "it lost 7.5, which is" in _line(lost, sources)


@pytest.mark.parametrize(("beds", "told"), [(["East"], "1 bed (2 "), (["East", "West"], "2 beds (")])
def test_a_title_counts_beds_and_what_was_said_most_first(beds, told):
    table = pd.DataFrame({"bed": [*beds, *beds][:3], "said": ["partly", "showed", "showed"][: len(beds) * 2]})
    table = table if len(beds) > 1 else table.assign(said="showed")
    title = _title(Budget(table, table, table, 0.9, 1, 100))
    assert told in title
    assert title.endswith(", 90% intervals")
    assert len(beds) == 1 or "2 showed, 1 partly" in title


def test_two_check_beds_count_by_their_mean(tmp_path):
    """A second bed left alone, the first one's twin with half its harvest again and other tests.

    What a row expects and saw is less the mean of both, and its interval lies about what it saw.
    """
    one = invented(seed=3).garden
    again = one.harvests[one.harvests["bed"] == "Stand"]
    more = one.results[one.results["bed"] == "Stand"]
    late = more["season"] == "spring 2024"
    twin = {
        "beds": one.beds[one.beds["bed"] == "Stand"].assign(bed="Copse"),
        "results": more.assign(bed="Copse", value=more["value"] * np.where(late, 0.9, 1.0)),
        "harvests": again.assign(bed="Copse", kg=again["kg"] * 1.5),
    }
    both = {name: pd.concat([getattr(one, name), rows], ignore_index=True) for name, rows in twin.items()}
    found = st.budget(dataclasses.replace(one, **both), draws=4000).table.set_index(["bed", "nutrient"])
    for nutrient in ("P", "K", "Ca", "Mg"):
        east, stand, copse = (found.loc[(bed, nutrient)] for bed in ("East", "Stand", "Copse"))
        assert east["check"] == "Stand, Copse"
        mean = (stand["observed"] + copse["observed"]) / 2
        assert abs(mean) > 0.05 * abs(east["observed"])
        assert east["net_observed"] == pytest.approx(east["observed"] - mean)
        assert east["check_test"] == pytest.approx((stand["observed_test"] + copse["observed_test"]) / 2)
        due = (stand["expected"] + copse["expected"]) / 2
        assert east["net_expected"] == pytest.approx(east["expected"] - due)
        wide = east["net_observed_high"] - east["net_observed_low"]
        centre = (east["net_observed_high"] + east["net_observed_low"]) / 2
        assert centre == pytest.approx(east["net_observed"], abs=0.1 * wide)


def test_a_test_deeper_than_the_bed_is_told():
    """What stands below the layer that is worked is no part of the account, and the row says how deep."""
    one = invented(seed=3).garden
    thin, deep = (one.results.assign(bottom_cm=bottom) for bottom in (15.0, 30.0))
    gardens = (dataclasses.replace(one, results=rows) for rows in (thin, deep))
    usual, below = (st.budget(garden, draws=200).table for garden in gardens)
    tested = below["observed"].notna()
    assert not usual["why"].str.contains("deeper than the 15 cm").any()
    assert below.loc[tested, "why"].str.contains("deeper than the 15 cm").all()


@pytest.mark.parametrize(("material", "nutrient"), [("dolomite", "Ca"), ("garden compost", "N")])
def test_between_birthdays_what_is_free_grows_evenly(books, material, nutrient):
    """Half-way between two years it is their mean, draw by draw, and never less than before."""
    stock = books().stock
    name = stock.called(material)
    whole = [stock.freed(name, nutrient=nutrient, years=float(year)) for year in range(4)]
    for year in range(3):
        half = stock.freed(name, nutrient=nutrient, years=year + 0.5)
        np.testing.assert_allclose(half, (whole[year] + whole[year + 1]) / 2)
        assert (whole[year + 1] >= whole[year]).all()
    assert whole[3].mean() > whole[0].mean()


def test_a_salt_is_counted_as_free_after_weeks(books):
    """Sulphate of potash after half a year: all that comes free in a year; half of it in 14 days."""
    stock = books().stock
    name = stock.called("sulphate of potash")
    whole = stock.freed(name, nutrient="K", years=1.0)
    np.testing.assert_allclose(stock.freed(name, nutrient="K", years=0.5), whole)
    np.testing.assert_allclose(stock.freed(name, nutrient="K", years=14 / frames.YEAR), whole / 2)


def test_a_card_keeps_layers_apart():
    """Two layers are two rows; with one of them alone nothing is said of it."""
    rows = [
        {"bed": "East", "analyte": "K", "unit": "mg/kg", "value": value, "season": "spring 2024",
         "sampled": "2024-04-01", "top_cm": top, "bottom_cm": top + 15}
        for value, top in ((140.0, 0.0), (60.0, 15.0))
    ]  # fmt: skip
    rows.append({"bed": "East", "analyte": "tilth", "unit": "", "value": 3.0, "season": "spring 2024",
                 "sampled": "2024-04-01", "method": "visual"})  # fmt: skip
    found = _tests(frames.results(rows), "East")
    assert found[["analyte", "layer", "spring 2024"]].to_numpy().tolist() == [
        ["K", "0-15 cm", "140"], ["K", "15-30 cm", "60.0"], ["tilth", "", "3.00"],
    ]  # fmt: skip
    assert "layer" not in _tests(frames.results(rows[::2]), "East")
    assert _tests(frames.results(), "East").empty


@pytest.mark.parametrize(("value", "told"), [(12.3, "+12"), (-3.0, "-3.0"), (0.0, "0")])
def test_a_movement_is_told_with_its_sign(value, told):
    row = {"step": value, "step_low": 8.1, "step_high": 15.2}
    assert _range(row, "step", "mg/kg") == f"{told} mg/kg (8.1 to 15)"


def test_bulk_densities_are_lognormal_about_what_is_stated():
    """Their mean is 1 and their relative spread that of the table, within four errors of 200,000 draws."""
    dice, spread = Dice(200_000, 1), setting("bulk density")
    draws = density("East", dice=dice)
    assert draws.mean() == pytest.approx(1.0, abs=4 * spread / np.sqrt(dice.draws))
    assert draws.std() == pytest.approx(spread, rel=0.02)


def test_beds_share_what_a_day_does_and_nothing_else():
    """Between two tests a bed strays by its se; two beds of one day stray together by the shared variance."""
    row = {"analyte": "pH", "method": "", "lab": "L", "before_season": "spring 2022", "df": 1e6,
           "after_season": "spring 2024", "value_before": 6.0, "value_after": 6.5, "scale": "plain",
           "se": 0.25, "shared": 0.02}  # fmt: skip
    dice = Dice(200_000, 1)
    ends = [_ends({**row, "bed": bed}, dice) for bed in ("East", "West")]
    steps = np.array([after - before for before, after in ends])
    found = np.cov(steps)
    assert steps.mean(axis=1) == pytest.approx([0.5, 0.5], abs=0.003)
    assert np.diag(found) == pytest.approx([0.0625, 0.0625], rel=0.02)
    assert found[0, 1] == pytest.approx(0.02, rel=0.05)


def test_the_time_of_an_account_is_that_of_its_own_test(tmp_path):
    """K is dug on 10 April; Mg was tried twice in March by another laboratory, before the dressing."""
    (tmp_path / "reports").mkdir()
    (tmp_path / "garden.toml").write_text('[beds."East"]\narea_m2 = 10\n', encoding="utf-8")
    (tmp_path / "applications.csv").write_text(
        DRESSINGS + "2022-03-25,East,wood ash,500,g/m2\n2022-11-01,East,gypsum,9,g/m2\n"
        "2023-06-01,East,gypsum,9,g/m2\n2024-03-25,East,wood ash,300,g/m2\n",
        encoding="utf-8",
    )
    rows = ["Sample,Bed,Date sampled,Lab,Mg (Mehlich-3) mg/kg,K (Mehlich-3) mg/kg"]
    for year in (2022, 2024):
        rows += [f"K{year},East,{year}-04-10,Hollin Bench,,{100 + year}"]
        rows += [f"P{number}{year},East,{year}-03-{number},Carrow Bench,140," for number in (10, 20)]
    (tmp_path / "reports" / "all.csv").write_text("\n".join(rows), encoding="utf-8")
    table = st.budget(st.open_garden(tmp_path), draws=200).table
    found = table[table["nutrient"] == "K"].iloc[0]
    assert (found["start"], found["end"]) == (FIRST, LAST)
    assert 0 < found["put_in"] < 40, "the ash of 2024 alone: 300 g/m2 of a few percent K"


def test_a_check_bed_is_expected_to_move_in_the_time_of_its_own_test(tmp_path):
    """What was picked from it before its first test has left no mark between its two tests."""
    (tmp_path / "reports").mkdir()
    toml = '[beds."East"]\narea_m2 = 10\n[beds."Check"]\narea_m2 = 10\ncheck = true\n'
    (tmp_path / "garden.toml").write_text(toml, encoding="utf-8")
    (tmp_path / "applications.csv").write_text(
        DRESSINGS + "2022-03-20,East,sulphate of potash,500,g\n2023-06-01,East,gypsum,1,g\n", encoding="utf-8"
    )
    (tmp_path / "harvests.csv").write_text(
        HARVESTS + "2022-04-20,Check,potato,60,kept\n2022-09-01,East,potato,1,kept\n"
        "2023-06-01,East,potato,1,kept\n",
        encoding="utf-8",
    )
    days = {"a": ("2022-03-10", "2022-05-20", 100), "b": ("2024-03-10", "2024-03-10", 160)}
    for name, (east, check_day, value) in days.items():
        text = f"Bed,Sampled,K Mehlich-3 (mg/kg)\nEast,{east},{value}\nCheck,{check_day},100\n"
        (tmp_path / "reports" / f"{name}.csv").write_text(text, encoding="utf-8")
    table = st.budget(st.open_garden(tmp_path), draws=300).table
    row = table[(table["nutrient"] == "K") & (table["bed"] == "East")].iloc[0]
    assert row["expected"] > 10
    assert row["net_expected"] == pytest.approx(row["expected"])


def test_the_period_of_a_bed_is_its_own():
    """The later of two equally long periods, whatever other beds were tested, and in whatever order."""
    both = ["autumn 2020", "autumn 2024"]
    seasons = {"A": both, "B": ["spring 2020", both[0], "spring 2024", both[1]]}
    ends = []
    for beds in ("B", "AB", "BA"):
        rows = frames.results([
            {"bed": bed, "season": season, "analyte": "K", "method": "Olsen", "unit": "mg/kg", "value": 9.0}
            for bed in beds for season in seasons[bed]])  # fmt: skip
        noise = st.noise_model(rows)
        found = periods.tests(rows, nutrients=("K",), noise=noise, span="longest", asked=("", "")).rows
        ends += found.loc[found["bed"] == "B", "after_season"].tolist()
    assert ends == ["autumn 2024"] * 3


def test_nothing_of_a_material_that_cannot_be_weighed_is_nothing(tmp_path):
    """A line of 0 needs neither moisture nor density; one of 1 does."""
    (tmp_path / "garden.toml").write_text('[beds."East"]\narea_m2 = 10\n', encoding="utf-8")
    (tmp_path / "materials.csv").write_text("material,N\nfinished compost,1.5\n", encoding="utf-8")
    for amount, faults in ((0, 0), (1, 1)):
        line = f"2026-04-01,East,finished compost,{amount},kg\n"
        (tmp_path / "applications.csv").write_text(DRESSINGS + line, encoding="utf-8")
        assert len(log_faults(st.open_garden(tmp_path))) == faults


def test_a_test_of_which_only_the_season_is_known_lies_in_the_season_of_its_hemisphere(tmp_path):
    """Spring in the south is October: what went on in June before it lies before the period."""
    (tmp_path / "reports").mkdir()
    toml = 'hemisphere = "south"\n[beds."East"]\narea_m2 = 10\ndepth_cm = 15\nbulk_density = 1.3\n'
    (tmp_path / "garden.toml").write_text(toml, encoding="utf-8")
    for year, value in ((2022, 100), (2024, 150)):
        report = f"Sample,Lab,Depth cm,K (Mehlich-3) mg/kg\nEast,Hill,15,{value}\n"
        (tmp_path / "reports" / f"{year}.csv").write_text(report, encoding="utf-8")
        (tmp_path / "reports" / f"{year}.toml").write_text(f'season = "spring {year}"\n', encoding="utf-8")
    lines = ["2022-06-01,East,sulphate of potash,400,g", "2023-06-01,East,sulphate of potash,100,g"]
    (tmp_path / "applications.csv").write_text(DRESSINGS + "\n".join(lines) + "\n", encoding="utf-8")
    row = st.budget(st.open_garden(tmp_path)).table.set_index("nutrient").loc["K"]
    assert (row["start"].month, row["end"].month) == (10, 10)
    percent = st.known_materials().loc["sulphate of potash", "K"]
    assert row["put_in"] == pytest.approx(100 * percent / 100 / 10, rel=0.05)
