"""Published conversions are opt-in, of one region, wide, and never chained."""

import numpy as np
import pytest

from soiltrend import frames, tables
from soiltrend.bridges import across, published_bridge
from soiltrend.compare import compare
from soiltrend.errors import SoiltrendError

BRAY = {"analyte": "P", "unit": "mg/kg", "lab": "Hollin Bench", "method": "Bray P1", "bed": "East"}


def results():
    rows = [
        {**BRAY, "season": "spring 2020", "sampled": "2020-04-03", "value": 40.0, "sample": "1"},
        {
            **BRAY,
            "season": "spring 2024",
            "sampled": "2024-04-03",
            "value": 60.0,
            "sample": "2",
            "method": "Mehlich-3",
        },
    ]
    return frames.results(rows)


def found(region="Ohio and Indiana"):
    return published_bridge("P", lab="Hollin Bench", of="Bray P1", to="Mehlich-3", region=region)


def test_the_factor_is_the_one_published():
    """Ohio State University Extension ANR-75 (2019): Mehlich-3 P about 35 % above Bray P1."""
    moved = across(results(), bridge=found())
    assert moved.loc[0, "value"] == pytest.approx(54.0)
    assert moved.loc[0, "method"] == "Mehlich-3"
    assert moved.loc[0, "reported_value"] == results().loc[0, "reported_value"]


def test_the_error_spans_what_the_sources_disagree_by():
    """Ohio State agbmps page: Bray = -8.08 + 0.832 M3 gives 10.2 at M3 22 where the factor gives 16.3."""
    back = published_bridge("P", lab="L", of="Mehlich-3", to="Bray P1", region="Ohio and Indiana").table.iloc[
        0
    ]
    older, newer = -8.08 + 0.832 * 22, 22 * np.exp(back["offset"])
    assert older == pytest.approx(10.22, abs=0.005)
    assert newer == pytest.approx(16.3, abs=0.05)
    assert abs(np.log(older / newer)) < 1.96 * back["se"]


def test_a_comparison_over_it_is_wide_and_named():
    """54 against 60 could be anything within half: unclear, with region and error in the reason."""
    frame = across(results(), bridge=found())
    row = compare(frame, before="spring 2020", after="spring 2024").table.iloc[0]
    assert row["verdict"] == "unclear"
    assert "published for Ohio and Indiana, within 50 %" in row["why"]


def test_without_it_nothing_is_joined():
    """The conversion is opt-in: by itself the pair is not comparable."""
    assert (
        compare(results(), before="spring 2020", after="spring 2024").table["verdict"][0] == "not comparable"
    )


@pytest.mark.parametrize(
    ("of", "to", "region"), [("Bray P1", "Mehlich-3", "Iowa"), ("Olsen", "Bray P1", "Iowa")]
)
def test_what_is_not_published_is_refused(of, to, region):
    """Neither another region's factor nor two factors in a row; the regions known are named."""
    with pytest.raises(SoiltrendError, match=f"from {of} to {to} in '{region}'"):
        published_bridge("P", lab="L", of=of, to=to, region=region)


def test_a_moved_value_is_not_moved_again():
    """Conversions are never chained."""
    once = across(results(), bridge=found())
    back = published_bridge("P", lab="Hollin Bench", of="Mehlich-3", to="Bray P1", region="New York")
    with pytest.raises(SoiltrendError, match="crossed a bridge already"):
        across(once, bridge=back)


def test_factors_turned_round_agree():
    """Where the table holds both directions of one source, they are each other's inverse."""
    table = tables.load("extractants", numbers=("factor",)).set_index(["analyte", "of", "to", "region"])[
        "factor"
    ]
    for analyte, of, to, region in table.index:
        if (analyte, to, of, region) in table.index:
            assert table[analyte, of, to, region] * table[analyte, to, of, region] == pytest.approx(
                1, abs=0.001
            )
