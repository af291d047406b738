"""The sentence beside each verdict says what was seen and what it rests on."""

import numpy as np
import pandas as pd
import pytest

from soiltrend import frames
from soiltrend.compare import compare

UNITS = {"pH": "pH", "OM": "%", "K saturation": "%", "CEC": "cmol/kg"}
ENDS = {"before": "spring 2022", "after": "spring 2024"}


def told(values, *, bed="East", **ends):
    """Return the sentences of one bed by analyte: ``values`` maps an analyte to (before, after)."""
    days = {"spring 2022": "2022-04-11", "spring 2024": "2024-04-11", "spring 2026": "2026-04-11"}
    ends = ENDS | ends
    rows = [
        {
            "bed": name,
            "season": ends[end],
            "sampled": days[ends[end]],
            "analyte": analyte,
            "method": "summation",
        }
        | {"unit": UNITS.get(analyte, "mg/kg"), "lab": "L", "value": pair[i]}
        for analyte, pair in values.items()
        for i, end in enumerate(("before", "after"))
        for name in ("East", "West")
    ]
    table = compare(frames.results(rows), **ends).table
    return table[table["bed"] == bed].set_index("analyte")["why"].to_dict()


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"K": (100, 200)}, "Rose by 100 %, which is more than the 3"),
        ({"K": (200, 100)}, "Fell by 50 %, which is more than the 2"),
        ({"K": (100, 105)}, "Moved by 5.0 %, which is within the 3"),
        (
            {"pH": (6.0, 6.9)},
            "Rose by 0.90 pH, which is more than the 0.39 pH that two such results differ by",
        ),
        ({"OM": (2.0, 2.1)}, "Moved by 0.10 points, which is within the 0.49 points"),
    ],
)
def test_what_moved_and_by_how_much(values, words):
    """The change and the band stand in the words of the analyte: per cent, pH or points."""
    (sentence,) = told(values).values()
    assert words in sentence
    assert "with no change in the soil, 95 % of the time (1 composite before, 1 after)" in sentence


def test_the_garden_says_that_days_are_shared():
    """The garden's sentence names its beds and why more beds do not help without end."""
    sentence = told({"K": (100, 200)}, bed=frames.GARDEN)["K"]
    assert "two such averages differ by" in sentence
    assert "(2 beds, 2 composites before, 2 after; what a day does is shared by the beds of" in sentence


def test_a_share_that_fell_because_another_rose():
    """Liming lowers the share of K and leaves its amount: the sentence says so."""
    sentence = told({"K saturation": (4.0, 2.0), "K": (150, 148), "Ca": (1000, 2500), "Mg": (100, 101)})
    assert "The share fell because Ca rose: K itself went from 150 to 148 mg/kg" in sentence["K saturation"]


def test_a_share_that_fell_with_its_amount():
    """When the amount fell too, that is what is said."""
    sentence = told({"K saturation": (4.0, 2.0), "K": (150, 60), "Ca": (1000, 2500)})["K saturation"]
    assert "The amount fell as well: K itself went from 150 to 60.0 mg/kg" in sentence


def test_a_share_without_reason_or_without_amounts():
    """No other part fell; or there are no amounts at all."""
    assert (
        "Look at the amount: K itself" in told({"K saturation": (2.0, 4.0), "K": (150, 160)})["K saturation"]
    )
    assert "a share alone does not say" in told({"K saturation": (2.0, 4.0)})["K saturation"]


@pytest.mark.parametrize(("after", "said"), [("spring 2024", True), ("spring 2026", False)])
def test_organic_matter_needs_three_years(after, said):
    """No headline before three years (Oregon State University EM 9251: three to five at least)."""
    sentence = told({"OM": (3.0, 6.0)}, after=after)["OM"]
    assert ("no headline before 3 years, and here are 2.0" in sentence) == said


def test_sentences_are_shared_only_by_rows_that_agree():
    """Many beds at once get the same sentences as each bed alone."""
    rng = np.random.default_rng(4)
    rows = [
        {"bed": f"bed {i}", "season": season, "sampled": day, "analyte": "K", "unit": "mg/kg", "value": value}
        for i in range(40)
        for season, day, value in (
            ("spring 2022", "2022-04-11", 100.0),
            ("spring 2024", "2024-04-11", float(rng.choice([100.0, 130.0, 131.0]))),
        )
    ]
    table = compare(frames.results(rows), **ENDS).table.iloc[:-1]
    assert table["why"].nunique() == table["change"].round(6).nunique()
    alone = compare(frames.results(rows[:2]), **ENDS).table
    assert alone.loc[0, "why"] == table.loc[0, "why"]


def test_limits_are_named():
    """A result beyond its limit is said to be one."""
    rows = pd.DataFrame(
        {
            "bed": "East",
            "season": ["spring 2022", "spring 2024"],
            "analyte": "B",
            "unit": "mg/kg",
            "value": [0.2, 1.5],
            "qualifier": ["<", ""],
        }
    )
    sentence = compare(frames.results(rows), **ENDS).table.loc[0, "why"]
    assert sentence.startswith(
        "Rose, whatever lies beyond the laboratory's limit (below 0.2 mg/kg before)"
    )
    rows = rows.assign(value=[1000.0, 1800.0], qualifier=[">", ""], analyte="Ca")
    sentence = compare(frames.results(rows), **ENDS).table.loc[0, "why"]
    assert "(above 1000 mg/kg before)" in sentence
