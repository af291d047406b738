"""Carbon held, gained and added: published factors and rates, equal soil mass, and the log."""

from dataclasses import replace

import pandas as pd
import pytest
from opened import demo_garden

from soiltrend import frames, tables
from soiltrend.errors import SoiltrendError
from soiltrend.why import carbon, organic_carbon, stock

ENDS = {"before": "spring 2020", "after": "spring 2026"}


@pytest.fixture(scope="module")
def demo():
    """Return the demonstration garden."""
    return demo_garden()


@pytest.fixture(scope="module")
def found(demo):
    """Return the carbon of all its beds."""
    return carbon(demo, **ENDS)


def rings(garden, bed, before, after):
    """Return the garden with a bulk density of one bed at both ends."""
    days = pd.to_datetime(["2020-04-14", "2026-04-14"])
    rows = [
        {
            "bed": bed,
            "sampled": day,
            "season": season,
            "analyte": "bulk density",
            "value": value,
            "unit": "g/cm3",
        }
        for day, season, value in zip(days, ENDS.values(), (before, after), strict=True)
    ]
    return replace(garden, results=frames.join(garden.results, frames.results(rows)))


def test_a_stock_is_carbon_times_soil():
    """2 % of carbon, 1.3 g/cm3, 20 cm: 52 t/ha (per cent x bulk density x depth, extension texts)."""
    assert 10 * stock(2.0, bulk_density=1.3, depth_cm=20) == pytest.approx(52)


def test_organic_carbon_is_a_range():
    """5 % of organic matter: 2.90 % by 1.724 and 2.50 % by 2 (Pribyl 2010); 75.4 and 65.0 t/ha at 20 cm."""
    low, high = organic_carbon(5.0)
    assert [low, high] == pytest.approx([2.5, 2.90], abs=0.005)
    stocks = [10 * stock(end, bulk_density=1.3, depth_cm=20) for end in (low, high)]
    assert stocks == pytest.approx([65.0, 75.4], abs=0.05)


def test_published_rates_become_points_of_organic_matter(demo, found):
    """409 kg C/ha a year is 0.027 points of organic matter over 20 cm at 1.3 (Bolinder 2020, by 1.724)."""
    beds = demo.beds.set_index("bed")
    for name, rows in found.years.groupby("bed"):
        soil = beds.loc[name, "bulk_density"] * beds.loc[name, "depth_cm"] / (1.3 * 20)
        manure = rows.set_index("practice").loc["manure"]
        assert manure["points_low"] * soil == pytest.approx(0.027 * 1.02, abs=0.0008)
        assert manure["points_high"] * soil == pytest.approx(0.027 * 2 / 1.724 * 0.99, abs=0.0008)
    published = tables.load("carbon_rates", numbers=("carbon",)).set_index("practice")["carbon"]
    rates = found.years[found.years["bed"] == "Ferry"].set_index("practice")["carbon"]
    assert rates[published.index].to_numpy() == pytest.approx(published.to_numpy())


def test_nothing_shows_within_three_years(found):
    """Three to five years at least, says Oregon State University EM 9251."""
    assert (found.years["years"].dropna() >= 3).all()
    manure = found.years[found.years["practice"] == "manure"]
    assert (manure["years"] > 5).all()


def test_compost_of_the_log_is_added_up(demo, found):
    """Compost of Ferry from April 2020 to before April 2026: kg x (1 - moisture) x carbon / area."""
    log = demo.applications
    mine = log[(log["bed"] == "Ferry") & (log["material"] == "house compost")]
    mine = mine[(mine["date"] >= "2020-04-14") & (mine["date"] < "2026-04-10")]
    by_hand = mine["amount"].sum() * (1 - 0.46) * 0.24 / 12.0
    row = found.sources.set_index(["bed", "material"]).loc[("Ferry", "house compost")]
    assert row["added"] == pytest.approx(by_hand, rel=0.03)
    assert row["low"] < by_hand < row["high"]


def test_the_stock_is_that_of_the_published_factors(demo, found):
    """Ferry held 3.8 % of organic matter in 15 cm at 1.2 g/cm3."""
    row = found.table.set_index("bed").loc["Ferry"]
    least, most = (stock(end, bulk_density=1.2, depth_cm=15) for end in organic_carbon(row["before"]))
    assert least < row["stock_before"] < most
    assert row["stock_before_low"] < least
    assert row["stock_before_high"] > most


def test_a_lighter_layer_holds_no_less_over_equal_mass(demo):
    """At one per cent of carbon a fixed depth loses what got lighter, equal mass does not (Lee 2009)."""
    still = demo.results.copy()
    mine = (still["bed"] == "Plum") & (still["analyte"] == "OM")
    still.loc[mine, "value"] = 5.0
    row = carbon(rings(replace(demo, results=still), "Plum", 1.3, 1.1), bed="Plum", **ENDS).table.iloc[0]
    assert row["gained"] == pytest.approx(0.0, abs=0.02)
    assert row["mass"] == pytest.approx(1.1 * 15 * 10)
    middle = sum(organic_carbon(5.0)) / 2
    lost = stock(middle, bulk_density=1.1, depth_cm=15) - stock(middle, bulk_density=1.3, depth_cm=15)
    assert row["gained_fixed_depth"] == pytest.approx(lost, abs=0.04)


def test_of_measured_densities_those_of_the_topsoil_on_the_nearest_day_count(demo):
    """Three rings of a day count as their mean, whatever their order; one of the subsoil does not."""
    plain = rings(demo, "Plum", 1.3, 1.1)
    mean = {"bed": "Plum", "sampled": pd.Timestamp("2026-04-14"), "season": "spring 2026", "unit": "g/cm3",
            "analyte": "bulk density"}  # fmt: skip
    more = [mean | {"value": value} for value in (0.9, 1.3)]
    deep = mean | {"value": 1.7, "top_cm": 30.0, "bottom_cm": 45.0}
    for order in (1, -1):
        three = frames.join(plain.results, frames.results([*more, deep][::order]))
        row = carbon(replace(demo, results=three), bed="Plum", **ENDS).table.iloc[0]
        assert row["mass"] == pytest.approx(1.1 * 15 * 10)


def test_the_carbon_of_a_bed_is_that_of_its_topsoil(demo):
    """Tests of 15-30 cm beside those of 0-15 change nothing, whichever stands first in the frame."""
    mine = demo.results[(demo.results["bed"] == "Ferry") & (demo.results["analyte"] == "OM")]
    deep = mine.assign(top_cm=15.0, bottom_cm=30.0, value=mine["value"] / 2)
    plain = carbon(demo, bed="Ferry", **ENDS).table.iloc[0]
    for both in ((deep, demo.results), (demo.results, deep)):
        row = carbon(replace(demo, results=frames.join(*both)), bed="Ferry", **ENDS).table.iloc[0]
        assert row["gained"] == pytest.approx(plain["gained"], rel=0.01)


def test_a_bed_without_a_stated_bulk_density_has_no_stock(demo):
    """A usual bulk density is not taken for granted."""
    beds = {
        name: {k: v for k, v in told.items() if k != "bulk_density"}
        for name, told in demo.settings["beds"].items()
    }
    bare = carbon(replace(demo, settings={**demo.settings, "beds": beds}), bed="Ferry", **ENDS)
    assert bare.table["stock_before"].isna().all()
    assert "no bulk density" in bare.table["why"][0]
    assert ("Ferry", "stock") in set(bare.not_counted[["bed", "what"]].itertuples(index=False, name=None))


def test_the_check_bed_is_set_off(found):
    """Gatepost gained without dressings, so what Long Reach gained is not put down to them."""
    table = found.table.set_index("bed")
    assert pd.isna(table.loc["Gatepost", "beside_check"])
    apart = table.loc["Long Reach", "gained"] - table.loc["Gatepost", "gained"]
    assert table.loc["Long Reach", "beside_check"] == pytest.approx(apart, abs=0.05)
    assert "the check may have gained as much" in table.loc["Long Reach", "why"]


def test_what_is_not_counted_is_told(found):
    """Roots are never weighed, and leeks have no haulm in the table."""
    told = found.not_counted
    assert (told["what"] == "roots, weeds and sown covers").sum() == len(found.table)
    assert "residues of leeks" in set(told["what"])


def test_a_season_without_organic_matter_is_refused(demo):
    """The message names the seasons that have it."""
    bare = replace(demo, results=demo.results[~demo.results["analyte"].isin(["OM", "TOC"])])
    with pytest.raises(SoiltrendError, match="no organic matter was measured alike"):
        carbon(bare, **ENDS)


def test_what_was_not_logged_is_not_nothing(demo):
    """A bed without a line has no amount, unless it is the check bed; lines of 0 say that nothing went on."""
    check = demo.beds.loc[demo.beds["check"], "bed"].iloc[0]
    bare = replace(demo, applications=demo.applications.iloc[:0])
    silent = carbon(bare, **ENDS)
    table = silent.table.set_index("bed")
    others = table.drop(index=check)
    assert others[["added", "added_low", "added_high", "kept"]].isna().all(axis=None)
    assert others["why"].str.contains("how much carbon went on is not known: nothing was logged in the whole "
                                      "garden; if nothing went on, write a line with the amount 0").all()
    assert table["gained"].notna().all()
    assert table["added"][check] > 0  # the haulm of its harvests
    own = silent.years[silent.years["practice"].str.startswith("as on this bed")]
    assert set(own["bed"]) <= {check}
    bed = others.index[0]
    days = pd.to_datetime([f"{year}-05-01" for year in range(2020, 2026)])
    line = demo.applications.head(1)
    none = pd.concat([line.assign(bed=bed, date=day, amount=0.0) for day in days])
    told = carbon(replace(demo, applications=none, harvests=demo.harvests.iloc[:0]), bed=bed, **ENDS).table
    assert told["added"].tolist() == [0]
    assert "0 kg of carbon a square metre went on" in told["why"].iloc[0]


def test_residues_that_stayed_did_not_go_on_and_a_share_of_little_is_none(demo):
    """The check bed got nothing: its carbon is haulm of its harvests, by the harvest record alone.

    What stayed lies far within the noise of the tests, so that no share of it is found again or lost.
    """
    check = demo.beds.loc[demo.beds["check"], "bed"].iloc[0]
    found = carbon(demo, **ENDS)
    row = found.table.set_index("bed").loc[check]
    assert set(found.sources.loc[found.sources["bed"] == check, "material"]) == {"crop residues that stayed"}
    assert row["stayed"] == row["added"] > 0
    assert "kg of carbon a square metre stayed there in crop residues" in row["why"]
    assert "went on" not in row["why"]
    assert row["gained_high"] - row["gained_low"] > 2 * row["added"]
    assert pd.isna(row["kept"])
    assert row["why"].endswith("too little beside the noise of the tests for any share of it to be told")
    others = found.table.set_index("bed").drop(index=check)
    assert (others["kept_high"] - others["kept_low"]).dropna().le(200).all()
    both = others[(others["stayed"] > 0) & (others["stayed"] < others["added"])]
    assert both["why"].str.contains("stayed there in crop residues").all()
