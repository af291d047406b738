"""On which days the parts of a year's amount go on, by hand from the rules of the tables."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from soiltrend.materials import known_materials
from soiltrend.plan.parts import _parts, _splits, first_day, parts_of, waiting
from soiltrend.plan.rules import PlanRules
from soiltrend.plan.shed import open_shed

MARCH = pd.Timestamp(2027, 3, 1)


def bench(name, *, day=MARCH, sowing=None, picked=None, crop=""):
    """Return what the dates of one material are reckoned from."""
    near = {name: {"East": day} if day else {} for name, day in (("sowing", sowing), ("harvest", picked))}
    first = pd.Timestamp(day)
    days = SimpleNamespace(dressing=first, test=first + pd.DateOffset(years=1), hemisphere="north")
    shed = SimpleNamespace(rows=known_materials().loc[[name]])
    return SimpleNamespace(shed=shed, days=days, rules=SimpleNamespace(crops={"East": crop}, **near))


def together(names, grams, *, day):
    """Return the parts of materials that go on one bed in the same year."""
    here = bench(names[0], day=day)
    own = known_materials().loc[names].assign(origin="own")
    here.shed = open_shed(own, rules=PlanRules(scenarios=50), years=1.0)
    here.at_once = pd.DataFrame({"what": [], "limit": [], "words": []})
    order = [names.index(name) for name in here.shed.names]
    found = parts_of(SimpleNamespace(bed={"bed": "East"}), here, np.array(grams)[order])
    return [found[order.index(at)] for at in range(len(names))]


def parted(name, grams, *, least=(1, ""), **known):
    """Return the parts of one material on one bed."""
    return _parts(bench(name, **known), 0, grams=grams, bed="East", least=least)


@pytest.mark.parametrize(("sowing", "first"), [("2027-03-29", "2027-03-01"), ("2027-03-28", "2027-09-28")])
def test_caustic_lime_lies_four_weeks_before_sowing_or_waits_for_half_a_year(sowing, first):
    """Advice on caustic limes in gardens (common practice): four weeks before anything is sown."""
    here = bench("slaked lime", sowing=pd.Timestamp(sowing))
    assert first_day(here.shed.rows.iloc[0], here, bed="East") == pd.Timestamp(first)
    assert first_day(here.shed.rows.iloc[0], here, bed="West") == MARCH


def test_a_sowing_long_past_keeps_nothing_away():
    """A line of garden.toml from two years ago; no dose lies before the plan begins."""
    here = bench("slaked lime", sowing=pd.Timestamp("2025-05-20"))
    assert first_day(here.shed.rows.iloc[0], here, bed="East") == MARCH


@pytest.mark.parametrize(
    ("name", "sowing", "picked", "first"),
    [
        ("wood ash", "2026-10-25", "2027-07-10", "2027-09-01"),  # garlic over winter, longer than half a year
        ("wood ash", "2026-10-25", None, "2027-04-25"),
        ("wood ash", "2026-11-08", "2027-07-10", "2026-10-17"),
        ("slaked lime", "2026-10-25", "2027-02-10", "2027-02-10"),
        ("wood ash", "2026-10-25", "2026-07-10", "2027-04-25"),  # the harvest of the crop before
        ("wood ash", None, "2027-02-10", "2027-02-10"),
        ("wood ash", None, "2027-07-10", "2026-10-17"),
    ],
)
def test_what_burns_stays_off_a_crop_until_it_is_picked(name, sowing, picked, first):
    """Rules on caustic limes and ash in gardens: not near plants, and a crop stands until its harvest."""
    near = {key: day and pd.Timestamp(day) for key, day in (("sowing", sowing), ("picked", picked))}
    here = bench(name, day=pd.Timestamp(2026, 10, 17), **near)
    assert first_day(here.shed.rows.iloc[0], here, bed="East") == pd.Timestamp(first)


def test_a_day_at_the_end_of_a_crop_waits_until_it_is_off_the_bed():
    """The first day of picking is not the last: boron goes on no standing crop."""
    crop = {"sowing": pd.Timestamp(2026, 10, 25), "picked": pd.Timestamp(2027, 4, 20)}
    found = parted("borax", 1.0, **crop)
    assert found.when == (crop["picked"],)
    assert "not before it is off the bed" in found.why
    assert "off the bed" not in parted("borax", 1.0).why


def test_compost_on_a_standing_crop_is_not_said_to_come_before_it():
    """Garlic in spring: what is told of the day holds for it."""
    told = parted("garden compost", 900.0, sowing=MARCH - pd.Timedelta(days=120)).why
    assert told.startswith("before a crop, or thinly between the plants of one that stands")


@pytest.mark.parametrize(("sowing", "away"), [("2027-09-20", 28), ("2027-03-20", 28), ("2026-11-15", 28)])
def test_no_part_of_a_caustic_lime_lies_near_a_sowing(sowing, away):
    """Neither in the four weeks before it nor in the half-year after it, whatever moved it."""
    there = pd.Timestamp(sowing)
    found = parted("slaked lime", 900.0, least=(3, "the bed's"), sowing=there)
    assert len(found.when) >= 3
    for day in found.when:
        assert day >= MARCH
        assert day <= there - pd.Timedelta(days=away) or day >= there + pd.DateOffset(months=6)


@pytest.mark.parametrize(("wait", "given"), [(0, True), (-1, False)])
def test_raw_manure_goes_on_to_the_day_that_its_waiting_time_allows(wait, given):
    """120 days before crops that touch the soil (7 CFR 205.203): that day will do, the next will not."""
    picked = MARCH + pd.Timedelta(days=120 + wait)
    here = bench("cattle manure", picked=picked)
    told = waiting(here.shed.rows.iloc[0], here, bed="East")
    assert (told == "") == given
    assert given or "120 days must lie between" in told


@pytest.mark.parametrize(
    ("ripe", "told"), [(150, "leave out what comes after 2027-03-31"), (400, "no crop that")]
)
def test_a_part_too_near_to_the_picking_is_to_be_left_out(ripe, told):
    """120 days after the last of three parts of manure (7 CFR 205.203): the first alone is early enough."""
    picked = MARCH + pd.Timedelta(days=ripe)
    found = parted("cattle manure", 9000.0, least=(3, "too much at a time"), picked=picked)
    assert len(found.when) == 3
    assert told in found.why
    assert ("leave out" in found.why) == (ripe == 150)


def test_two_parts_without_a_rule_lie_four_weeks_apart():
    """Common practice; the reason is that of what the bed takes at a time."""
    found = parted("sulphate of potash", 40.0, least=(2, "too much at a time"))
    assert found.when == (MARCH, MARCH + pd.Timedelta(days=28))
    assert found.why == "too much at a time"
    assert parted("sulphate of potash", 40.0).when == (MARCH,)


def test_lime_in_two_is_half_a_year_apart_and_a_bed_s_own_count_is_told_where_it_is_more():
    """Penn State AASL, home garden notes: 11 to 20 lb/100 ft2 in two dressings, six months apart."""
    found = parted("calcitic limestone", 600.0, least=(2, "the bed's"))
    assert [f"{day:%Y-%m-%d}" for day in found.when] == ["2027-03-01", "2027-09-01"]
    assert "the bed's" not in found.why
    more = parted("calcitic limestone", 600.0, least=(3, "the bed's"))
    assert len(more.when) == 3
    assert more.why.endswith("; the bed's; what goes on from 2028-03-01 on comes too late for the next test")


@pytest.mark.parametrize(("weeks", "told"), [(20, False), (9, False), (8, True)])
def test_a_test_too_soon_after_the_last_part_is_told(weeks, told):
    """Common practice: two months between a dressing and the next sample."""
    here = bench("sulphate of potash")
    here.days.test = MARCH + pd.Timedelta(weeks=weeks)
    found = _parts(here, 0, grams=40.0, bed="East", least=(1, ""))
    assert ("days after the last of it" in found.why) == told
    assert not told or f"comes {7 * weeks} days after" in found.why


def test_what_is_slow_with_its_nitrogen_is_not_split_for_it():
    """Of wool two fifths come free in the first year, of soybean meal half (tables/release.csv)."""
    rows = known_materials()
    assert not _splits(rows.loc["sheep's wool"], "N")
    assert _splits(rows.loc["soybean meal"], "N")
    assert _splits(rows.loc["sheep's wool"], "K")
    assert not _splits(rows.loc["cattle manure"], "K")


@pytest.mark.parametrize(
    ("sowing", "first"),
    [("2027-04-15", "2027-04-01"), ("2027-04-14", "2028-04-01"), ("2026-12-20", "2027-06-20")],
)
def test_boron_keeps_away_from_a_sowing(sowing, first):
    """Two weeks before it, and half a year after, in the months of its rule (tables/splitting.csv)."""
    here = bench("borax", sowing=pd.Timestamp(sowing))
    assert first_day(here.shed.rows.iloc[0], here, bed="East") == pd.Timestamp(first)
    assert "on no standing crop" in parted("borax", 1.5, sowing=pd.Timestamp(sowing)).why


@pytest.mark.parametrize("name", ["borax", "boric acid"])
@pytest.mark.parametrize(
    ("crop", "sowing", "kept"),
    [("french bean", "2027-05-20", True), ("Broad beans", None, True), ("carrot", "2027-05-20", False),
     ("", None, False), ("french bean", "2026-08-01", False)],
)  # fmt: skip
def test_beans_get_no_boron(name, crop, sowing, kept):
    """Ontario dry bean agronomy pages: beans are very sensitive. Beans that are gone do not count."""
    here = bench(name, sowing=pd.Timestamp(sowing) if sowing else None, crop=crop)
    told = waiting(here.shed.rows.iloc[0], here, bed="East")
    assert (told != "") == kept
    assert not kept or told.startswith(f"{crop} is to grow here: once in the year")


def test_a_trace_of_boron_is_no_boron_dressing():
    """Of ash 30 mg and of compost 0.2 g of boron at their yearly most: beans get both (by the tables)."""
    for name in ("wood ash", "garden compost", "cattle manure"):
        here = bench(name, crop="bean")
        assert waiting(here.shed.rows.iloc[0], here, bed="East") == ""


@pytest.mark.parametrize(
    ("name", "first"),
    [("poultry litter", "2027-03-01"), ("blood meal", "2027-03-01"), ("cattle manure", "2026-10-17")],
)
def test_no_quick_nitrogen_late_in_the_year(name, first):
    """Lawn and vegetable practice: none from October to January; strawy manure gives its own slowly."""
    here = bench(name, day=pd.Timestamp(2026, 10, 17))
    assert first_day(here.shed.rows.iloc[0], here, bed="East") == pd.Timestamp(first)


def test_quick_nitrogen_is_split_by_what_it_brings():
    """At most 5 g/m2 at a time: of litter with 4 % N of which half is quick, some 260 g/m2 and no more."""
    assert len(parted("poultry litter", 250.0).when) == 1
    assert len(parted("poultry litter", 400.0).when) == 2
    assert "5 g/m2 of quick nitrogen" in parted("poultry litter", 400.0).why


def test_phosphorus_waits_for_drier_soil():
    """Rules against run-off (91/676/EEC and its like): rock phosphate not from November to January."""
    here = bench("rock phosphate", day=pd.Timestamp(2026, 11, 20))
    assert first_day(here.shed.rows.iloc[0], here, bed="East") == pd.Timestamp(2027, 2, 1)


@pytest.mark.parametrize("other", ["cattle manure", "poultry litter", "blood meal"])
@pytest.mark.parametrize("name", ["wood ash", "calcitic limestone", "slaked lime"])
@pytest.mark.parametrize("day", [MARCH, pd.Timestamp(2026, 10, 17)])
def test_what_drives_ammonia_off_keeps_four_weeks_from_manure(name, other, day):
    """Te Ao Hou, December 1961, p. 57: they are not mixed with lime; compost may go on with it."""
    found = together([name, other], [120.0, 90.0], day=day)
    gaps = [abs((one - two).days) for one in found[0].when for two in found[1].when]
    assert min(gaps) >= 28
    assert found[1].when[0] == parted(other, 90.0, day=day).when[0]
    assert ("drives ammonia off" in found[0].why) == (found[0].when != parted(name, 120.0, day=day).when)
    beside = together([name, "garden compost"], [120.0, 900.0], day=day)
    assert beside[0].when[0] == beside[1].when[0] == day


def test_two_parts_of_a_lime_both_keep_from_manure_and_from_each_other():
    """Half a year apart by their own rule (Penn State AASL), four weeks after manure."""
    found = together(["cattle manure", "calcitic limestone"], [900.0, 600.0], day=MARCH)
    assert found[0].when == (MARCH,)
    assert [f"{day:%Y-%m-%d}" for day in found[1].when] == ["2027-03-29", "2027-09-27"]


@pytest.mark.parametrize("kind", ["lime", "ash"])
def test_all_that_drives_ammonia_off_says_so(kind):
    """The caution stands with every lime and ash of the table."""
    rows = known_materials()
    assert rows.loc[rows["kind"] == kind, "cautions"].str.contains("ammonia").all()
