"""Gardens side by side: each against its own past, by letter, nobody named."""

import numpy as np
import pandas as pd
import pytest

import soiltrend as st

TOML = 'name = "{name}"\n[beds."{name} bed"]\narea_m2 = 10\ndepth_cm = 15\n{more}'
SECOND = '[beds."Other"]\narea_m2 = 5\ndepth_cm = 15\n'
HEAD = "Sample,Date sampled,pH (water 1:1),P ({method}) mg/kg\n"


@pytest.fixture(scope="module")
def garden(tmp_path_factory):
    """Return a function that writes and opens a garden of one bed or two, tested in two springs."""

    def make(name, *, values, method="Mehlich-3", two=False):
        folder = tmp_path_factory.mktemp(name)
        (folder / "reports").mkdir(parents=True)
        more = SECOND if two else ""
        (folder / "garden.toml").write_text(TOML.format(name=name, more=more), encoding="utf-8")
        beds = [f"{name} bed", *(["Other"] if two else [])]
        rows = [
            f"{bed},{year}-04-10,6.5,{value}"
            for bed in beds
            for year, value in zip((2021, 2024), values, strict=True)
        ]
        text = HEAD.format(method=method) + "\n".join(rows) + "\n"
        (folder / "reports" / "all.csv").write_text(text, encoding="utf-8")
        (folder / "reports" / "report.toml").write_text('lab = "Hill"\ndepth_cm = 15\n', encoding="utf-8")
        return st.open_garden(folder)

    return make


@pytest.fixture(scope="module")
def room(garden):
    """Return three gardens: one rose tenfold, one held, one was measured by another extractant."""
    return [
        garden("Rook", values=(20, 200), two=True),
        garden("Wren", values=(40, 40)),
        garden("Teal", values=(15, 16), method="Olsen"),
    ]


def test_each_garden_brings_its_own_comparison(room):
    """Rows are those st.compare gives for each garden alone: nothing is pooled over gardens."""
    found = st.workshop(room)
    called = found.key.set_index("name")["garden"]
    for garden in room:
        results = st.prepared(garden)
        noise = st.noise_model(results, samples=garden.samples)
        alone = st.compare(results, before="spring 2021", after="spring 2024", noise=noise).table
        bed = "(garden)" if garden.name == "Rook" else f"{garden.name} bed"
        alone = alone[(alone["bed"] == bed) & (alone["analyte"] == "P")].iloc[0]
        mine = found.table[(found.table["garden"] == called[garden.name]) & (found.table["analyte"] == "P")]
        assert mine["verdict"].tolist() == [alone["verdict"]]
        columns = ["before", "after", "change", "low", "high"]
        np.testing.assert_array_equal(mine[columns].to_numpy(float)[0], alone[columns].to_numpy(float))


def test_nobody_is_named(room):
    """Neither a garden's nor a bed's name stands in the table, its pages, or the picture's words."""
    found = st.workshop(room)
    chart = st.chart_workshop(found, analyte="P")
    shown = found.table.to_csv() + repr(found) + found._repr_html_() + repr(chart.words) + chart.data.to_csv()
    for name in ("Rook", "Wren", "Teal", "Other"):
        assert name not in shown
    assert set(found.key["name"]) == {"Rook", "Wren", "Teal"}


def test_one_garden_that_moved_is_told_as_one(room):
    """The only one measured is no share of many."""
    chart = st.chart_workshop(st.workshop(room[:1]), analyte="P")
    assert chart.words.headline == "Phosphorus surely rose in the one garden measured"


def test_folders_will_do_for_gardens(room):
    """What is opened from a folder gives the same rows."""
    pd.testing.assert_frame_equal(st.workshop([room[0].path]).table, st.workshop(room[:1]).table)


def test_letters_are_dealt_by_the_seed(room):
    """The same seed deals alike; over several seeds a garden gets more than one letter."""
    keys = [
        st.workshop(room, seed=seed).key.set_index("name")["garden"].to_dict() for seed in (1, 1, 2, 3, 4)
    ]
    assert keys[0] == keys[1]
    assert len({key["Rook"] for key in keys}) > 1
    assert all(sorted(key.values()) == ["garden A", "garden B", "garden C"] for key in keys)


def test_another_extractant_is_not_put_on_the_scale(room):
    """Two gardens by Mehlich-3 are drawn; the one by Olsen is counted in the subtitle."""
    chart = st.chart_workshop(st.workshop(room), analyte="phosphorus")
    assert set(chart.data["method"]) == {"Mehlich-3"}
    assert "1 measured otherwise and not on this scale" in chart.words.subtitle
    assert chart.words.headline == "Phosphorus surely rose in 1 of 2 gardens that were measured alike"
    one = st.chart_workshop(st.workshop(room[:1]), analyte="phosphorus")
    assert "in 1 garden, by letter" in one.words.alt


def test_a_garden_with_one_test_stands_in_the_key_only(garden):
    """It has no rows, and nothing fails; a measure nobody has twice gives a picture that says so."""
    lone = garden("Swift", values=(20, 21))
    results = lone.results[lone.results["season"] == "spring 2021"]
    lone = st.Garden(**(vars(lone) | {"results": results}))
    found = st.workshop([lone])
    assert (len(found.table), len(found.key)) == (0, 1)
    assert "nothing to compare yet" in st.chart_workshop(found, analyte="P").words.headline


@pytest.mark.parametrize("count", [0, 27])
def test_too_few_or_too_many(count, room):
    """Letters end at Z."""
    with pytest.raises(st.SoiltrendError, match=f"{count} gardens were given"):
        st.workshop(room[:1] * count)


def test_an_unknown_measure_is_refused(room):
    """A slip of the pen does not give an empty picture."""
    with pytest.raises(st.SoiltrendError, match="'phlogiston' is not a measure known here"):
        st.chart_workshop(st.workshop(room), analyte="phlogiston")


def test_beds_of_other_layers_are_not_counted_among_the_pooled(garden):
    """Two beds at 0-15 cm and one at 0-20 cm: each row says of how many it is, and which layer it is of."""
    made = garden("Rook", values=(20, 200), two=True)
    deep = made.results[made.results["bed"] == "Other"].assign(bed="Deep", bottom_cm=20.0)
    made = st.Garden(**(vars(made) | {"results": pd.concat([made.results, deep], ignore_index=True)}))
    found = st.workshop([made])
    rows = found.table[found.table["analyte"] == "P"].set_index("bottom_cm")
    assert rows["of_beds"].to_dict() == {15.0: 2, 20.0: 1}
    assert "(2 of 3 beds" in rows.loc[15.0, "why"]
    assert rows.loc[20.0, "verdict"] == "not comparable"
    for shown in (repr(found), found._repr_html_()):
        assert "bottom" in shown
    chart = st.chart_workshop(found, analyte="P")
    assert chart.data["garden"].tolist() == ["garden A"]
    assert chart.words.headline == "Phosphorus surely rose in the one garden measured"


def test_a_garden_with_two_layers_is_one_garden(garden):
    """Two beds in each of two layers: two lines, told apart by layer, of one garden."""
    made = garden("Rook", values=(20, 200), two=True)
    both = [made.results, made.results.assign(top_cm=15.0, bottom_cm=30.0)]
    made = st.Garden(**(vars(made) | {"results": pd.concat(both, ignore_index=True)}))
    chart = st.chart_workshop(st.workshop([made]), analyte="P")
    assert sorted(chart.data["label"]) == ["garden A, 0-15 cm", "garden A, 15-30 cm"]
    assert chart.words.headline == "Phosphorus surely rose in the one garden measured"
