"""A garden's results are made ready in one call."""

from pathlib import Path

import pytest

from soiltrend import frames
from soiltrend.garden import open_garden
from soiltrend.prepare import gaps, prepared

DEMO = Path(__file__).parents[1] / "data_demo" / "oxmarrow-steps"


@pytest.fixture(scope="module")
def garden():
    return open_garden(DEMO)


def test_every_measured_value_is_still_there(garden):
    """Nothing that was measured is lost; the laboratory's own sums step back for ours."""
    ready = prepared(garden)
    measured = ~garden.results["analyte"].str.contains("saturation|CEC")
    kept = ready[ready["source"] != frames.COMPUTED]
    keys = ["source", "place"]
    assert set(map(tuple, garden.results.loc[measured, keys].to_numpy())) <= set(
        map(tuple, kept[keys].to_numpy())
    )


def test_the_planted_slip_is_the_only_figure_questioned(garden):
    """Of two thousand figures the one that was slipped is found, and no other."""
    ready = prepared(garden)
    own = ready[(ready["source"] != frames.COMPUTED) & ready["note"].str.startswith(frames.QUESTIONED)]
    assert own[["bed", "season", "analyte"]].to_numpy().tolist() == [["Plum", "autumn 2025", "Mg"]]


def test_ratios_of_a_slip_are_questioned_too(garden):
    """Every ratio that holds the slipped magnesium, and none that does not."""
    ready = prepared(garden, with_ratios=True).query("bed == 'Plum' and season == 'autumn 2025'")
    ratios = ready[ready["analyte"].str.contains(":")]
    asked = ratios["note"].str.startswith(frames.QUESTIONED)
    assert (asked == ratios["analyte"].str.contains("Mg")).all()
    assert asked.any()


def test_ratios_are_added_when_asked_for(garden):
    """And only then."""
    assert not prepared(garden)["analyte"].str.contains(":").any()
    assert prepared(garden, with_ratios=True)["analyte"].str.contains(":").any()


def test_gaps_are_listed_by_reason(garden):
    """Every sample without a sum is counted under one reason."""
    listing = gaps(garden)
    assert listing.title.startswith(f"{listing.table['rows'].sum()} samples")
    assert listing.table["reason"].str.contains("Sikora").any()


def test_a_southern_garden_says_so_in_every_row(tmp_path):
    """Seasons alone, and autumn (March) before spring (September), in what was computed too."""
    (tmp_path / "reports").mkdir()
    (tmp_path / "garden.toml").write_text('hemisphere = "south"\n[beds."East"]\n', encoding="utf-8")
    rows = [f"East,{name} 2024,{k},1500,200,120,5.9" for k, name in enumerate(("spring", "autumn"))]
    text = "Bed,Season,Sample,Ca (mg/kg),Mg (mg/kg),K (mg/kg),pH\n" + "\n".join(rows) + "\n"
    (tmp_path / "reports" / "all.csv").write_text(text, encoding="utf-8")
    found = prepared(open_garden(tmp_path), with_ratios=True)
    assert set(found["hemisphere"]) == {"south"}
    ratio = found[found["analyte"] == "Ca:Mg (charge)"]
    assert frames.seasons(ratio) == ["autumn 2024", "spring 2024"]
    assert frames.in_time(ratio)["sampled"].dt.month.tolist() == [10, 4]
