"""A plan for what lies beyond the laboratory's limits: nothing is given on what no test has read."""

import pytest

import soiltrend as st
from soiltrend.charts import chart_plan
from soiltrend.plan.ask import BY_THE_GRAM
from soiltrend.story import plan_words

METHODS = {"P": "Mehlich-3", "Zn": "Mehlich-3", "Mn": "DTPA", "Cu": "Mehlich-3", "K": "Mehlich-3"}
METHODS |= {"B": "Mehlich-3", "Na": "Mehlich-3"}
LOW = {
    "B": ["<0.1", "<0.2", "<0.3", "<0.4"],
    "Zn": ["<0.1", "<0.3", "<0.4", "<0.2"],
    "Mn": ["<0.4", "<0.3", "<0.5", "<0.6"],
    "Cu": ["<0.1", "<0.15", "<0.12", "<0.2"],
}
"""Limits below every aim there is for them."""


def garden(folder, columns):
    """Return a garden of one bed: a cell a spring for each measure."""
    (folder / "reports").mkdir(parents=True)
    (folder / "garden.toml").write_text('[beds."East"]\narea_m2 = 10\ndepth_cm = 15\n', encoding="utf-8")
    methods = "\n".join(f'"{name}" = "{METHODS[name]}"' for name in columns)
    for at, cells in enumerate(zip(*columns.values(), strict=True)):
        head = ",".join(f"{name} (mg/kg)" for name in columns)
        (folder / f"reports/{at}.csv").write_text(f"bed,{head}\nEast,{','.join(cells)}\n", encoding="utf-8")
        told = f'lab = "Elm"\nsampled = {2021 + at}-04-10\n[methods]\n{methods}\n'
        (folder / f"reports/{at}.toml").write_text(told, encoding="utf-8")
    return st.open_garden(folder)


def planned(folder, columns):
    """Return the plan and what it expects, by measure."""
    found = st.plan(garden(folder, columns), season="spring 2025", rules=st.PlanRules(scenarios=100))
    return found, found.expected.set_index("analyte")


@pytest.mark.parametrize("analyte", BY_THE_GRAM)
def test_what_does_harm_by_the_gram_is_not_given_on_limits_alone(tmp_path, analyte):
    """No number was read; one spring read below the aim, it is what the plan goes by."""
    found, expected = planned(tmp_path / "limits", {analyte: LOW[analyte]})
    assert found.doses.empty
    assert found.binding.empty
    row, last = expected.loc[analyte], LOW[analyte][-1]
    assert (row["qualifier"], row["now"], row["now_low"]) == ("<", pytest.approx(float(last[1:])), 0)
    assert f"from 4 tests, the last of 2024-04-10, {last}: no test has read it" in row["why"]
    assert "read 0" not in row["why"]
    told = found.cautions.set_index("about").loc["limits"]
    assert f"{analyte} ({last} mg/kg)" in told["caution"]
    read, _ = planned(tmp_path / "read", {analyte: [cell.strip("<") for cell in LOW[analyte]]})
    assert len(read.doses) > 0
    assert "limits" not in set(read.cautions["about"])


def test_the_words_and_the_chart_say_below(tmp_path):
    """No zero, no half, and no number without its sign."""
    found, _ = planned(tmp_path, {"B": LOW["B"]})
    assert "boron now <0.400, aim 0.500, after <0.400 (0 to " in plan_words(found, bed="East").description
    assert "<0.400 \u2192 <0.400 mg/kg" in chart_plan(found, bed="East").data["said"].iloc[0]
    assert "<" in repr(st.what_if(found, amounts={"East": {}}))


def test_of_what_lies_below_a_limit_at_least_the_limit_s_own_lack_is_lacking(tmp_path):
    """Phosphorus <2 by Mehlich-3, with an aim from 36: as much as of a bed that reads 2."""
    most = {}
    for name, cells in (("limit", ["<2"]), ("two", ["2"])):
        found, expected = planned(tmp_path / name, {"P": cells})
        given = found.doses["g_per_m2"].sum()
        open_ = found.binding.loc[found.binding["aim"] == "P", "open"].sum()
        most[name] = (given, open_)
        assert expected.loc["P", "qualifier"] == ("<" if name == "limit" else "")
    assert most["limit"][0] > 0
    assert most["limit"] == pytest.approx(most["two"], rel=0.1)


def test_what_lies_above_a_limit_is_safely_below_no_ceiling(tmp_path):
    """Phosphorus >60 in every test may be anything above: its ceiling is not known to hold."""
    over, _ = planned(tmp_path / "over", {"P": [">60"]})
    at, _ = planned(tmp_path / "at", {"P": ["60"]})
    assert any("P >60.0 mg/kg is not safely below its ceiling" in why for why in over.hold["why"])
    assert not any("P 6" in why for why in at.hold["why"])
    assert over.expected["high"].tolist() == [float("inf")]


def test_a_last_test_below_its_limit_is_told_as_such(tmp_path):
    """After 60, 61 and 62 a last <20 is told by its limit, and weighed with those before."""
    _, expected = planned(tmp_path / "far", {"K": ["60", "61", "62", "<20"]})
    assert "which alone read <20: a test moves by itself" in expected.loc["K", "why"]
    assert 20 < expected.loc["K", "now"] < 60
    _, expected = planned(tmp_path / "near", {"K": ["60", "61", "62", "<70"]})
    assert "alone" not in expected.loc["K", "why"]
