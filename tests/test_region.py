"""Many gardens: cut into parts, they give the table of the whole, to the bit."""

from functools import lru_cache

import numpy as np
import pandas as pd
import pytest

import soiltrend as st
from soiltrend import frames
from soiltrend.errors import FrameError

YEARS = range(2015, 2025)
BASES = {"pH": ("pH", 6.3), "K": ("mg/kg", 150.0), "Mg": ("mg/kg", 180.0), "Ca": ("mg/kg", 1500.0),
         "CEC": ("cmol/kg", 11.0)}  # fmt: skip


def region(count=5, seed=4):
    """Return results of so many gardens of one to four beds, no two alike; all have a bed named East."""
    rng = np.random.default_rng(seed)
    rows = [
        {"garden": f"garden {at}", "bed": bed, "sampled": f"{year}-04-{3 + at:02d}", "lab": f"lab {at % 2}",
         "season": f"spring {year}", "analyte": analyte, "unit": unit, "method": "a method",
         "sample": f"{year} {bed} {bag}",
         "value": round(float(value * np.exp(rng.normal(0.03 * (at % 3) * (year - 2015), 0.06))), 2)}
        for at in range(count)
        for bed in ["East", "West", "North", "South"][: 1 + at % 4]
        for year in YEARS
        for analyte, (unit, value) in BASES.items()
        for bag in range(1 + (at == 3))
    ]  # fmt: skip
    return frames.results(rows)


@pytest.fixture(scope="module")
def many():
    """Return the region once."""
    return region()


def cut(rows, size):
    """Yield a frame in chunks of so many rows."""
    for start in range(0, len(rows), size):
        yield rows.iloc[start : start + size]


def two(rows):
    """Return the comparison that the tests ask for."""
    return st.compare(rows, before="spring 2016", after="spring 2024")


QUESTIONS = {"trend": st.trend, "compare": two, "drift": st.drift, "exchange": st.exchange}
PARTS = {"trend": [1, 53, 400, 10_000]}
"""In chunks of one row, of a part of a garden, of several gardens, and of all; other questions once."""


@pytest.fixture(scope="module")
def answered(many):
    """Return a function that puts a question to the whole region, once."""
    return lru_cache(lambda name: st.by_garden(many, ask=QUESTIONS[name]))


@pytest.mark.parametrize("name", QUESTIONS)
def test_a_garden_in_a_region_is_answered_as_if_alone(many, answered, name):
    """q, noise and pooled rows are of its own, whatever stands beside it."""
    ask, found = QUESTIONS[name], answered(name)
    assert found["garden"].unique().tolist() == many["garden"].unique().tolist()
    for garden in ("garden 3", "garden 0"):
        rows = many[many["garden"] == garden].drop(columns="garden").reset_index(drop=True)
        alone = ask(rows)
        alone = alone if isinstance(alone, pd.DataFrame) else alone.table
        mine = found[found["garden"] == garden].drop(columns="garden").reset_index(drop=True)
        pd.testing.assert_frame_equal(mine, alone, check_exact=True, check_dtype=False)


@pytest.mark.parametrize("name", QUESTIONS)
def test_chunks_cut_anywhere_give_the_table_of_the_whole(many, answered, name):
    """Whatever the cuts run through."""
    whole = answered(name)
    assert len(whole) >= 80
    for size in PARTS.get(name, [53]):
        parts = list(st.by_garden(cut(many, size), ask=QUESTIONS[name]))
        assert len(parts) > 1 or size > len(many)
        pd.testing.assert_frame_equal(pd.concat(parts, ignore_index=True), whole, check_exact=True)


def test_a_stream_holds_a_chunk_and_not_the_region():
    """Chunks are taken as tables are asked for; a garden a chunk waits for the next one only."""
    taken = []

    def chunks():
        for at in range(50):
            taken.append(at)
            yield region(1).assign(garden=f"garden {at}")

    tables = st.by_garden(chunks(), ask=lambda rows: rows.head(1))
    assert taken == []
    for at in range(49):
        assert next(tables)["garden"].tolist() == [f"garden {at}"]
        assert len(taken) == at + 2
    assert next(tables)["garden"].tolist() == ["garden 49"]
    assert next(tables, None) is None


def test_a_file_is_read_by_chunks(many, answered, tmp_path):
    """Plain CSV through pandas, as the guide shows it."""
    many.to_csv(tmp_path / "region.csv", index=False)
    with pd.read_csv(tmp_path / "region.csv", dtype=str, chunksize=300) as reader:
        found = pd.concat(
            st.by_garden((frames.results(part) for part in reader), ask=st.trend), ignore_index=True
        )
    pd.testing.assert_frame_equal(found, answered("trend"), check_exact=True)


def test_a_garden_without_an_answer_has_a_row_that_says_so(many):
    """It stops no other, and is not dropped."""
    lacks = many[(many["garden"] != "garden 2") | (many["season"] != "spring 2016")]
    found = st.by_garden(lacks, ask=two)
    row = found[found["garden"] == "garden 2"]
    assert row["why"].item().startswith("no result belongs to 'spring 2016'")
    assert row["bed"].item() == frames.GARDEN
    others = st.by_garden(many[many["garden"] != "garden 2"], ask=two)
    pd.testing.assert_frame_equal(
        found[found["garden"] != "garden 2"].reset_index(drop=True),
        others,
        check_exact=True,
        check_dtype=False,
    )


def test_many_false_discoveries_are_held_together_by_adjusting_once_more(answered):
    """Over all gardens: as R's p.adjust(p, "BH") and statsmodels adjust the same chances."""
    from statsmodels.stats.multitest import multipletests

    found = answered("trend")
    beds = found[found["bed"] != frames.GARDEN].dropna(subset="p")
    together = st.discovery_rate(beds["p"].to_numpy())
    np.testing.assert_allclose(together, multipletests(beds["p"], method="fdr_bh")[1], rtol=1e-12)
    assert (together != beds["q"]).any()


def test_a_garden_that_comes_back_is_refused(many):
    """In a stream its rows would be two families."""
    mixed = pd.concat([many, many.head(1)])
    with pytest.raises(FrameError, match=r"garden 'garden 0' comes back after another garden.*Sort the rows"):
        list(st.by_garden(cut(mixed, 100), ask=st.trend))
    assert len(st.by_garden(mixed, ask=lambda rows: rows)) == len(mixed)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda rows: rows.drop(columns="garden"), "column 'garden' is missing.*family of tests"),
        (lambda rows: rows.assign(garden=rows["garden"].where(rows.index != 3, "")), "row 3 bears no garden"),
        (lambda rows: rows.assign(garden=rows["garden"].where(rows.index != 3)), "row 3 bears no garden"),
        (
            lambda rows: rows.assign(value=np.nan),
            "garden 'garden 0': the frame is not tidy.*'value' holds nan",
        ),
        (lambda rows: rows.to_dict("list"), "a chunk is str 'bed' and no pandas DataFrame"),
    ],
)
def test_what_cannot_be_told_apart_is_refused(many, change, told):
    """The message names the column, the row or the garden, and what was found."""
    with pytest.raises(FrameError, match=told):
        list(st.by_garden(change(many.head(60)), ask=st.trend))


def test_no_rows_give_no_rows(many):
    """An empty frame gives an empty table with its columns; an empty stream nothing."""
    assert st.by_garden(many.head(0), ask=st.trend).columns.tolist()[:2] == ["garden", "bed"]
    assert list(st.by_garden([], ask=st.trend)) == []


@pytest.mark.parametrize("scheduler", ["threads", "processes"])
def test_an_engine_gives_the_table_of_the_whole(many, scheduler):
    """dask asks the parts of a frame that was cut by whole gardens (the recipe of the docstring)."""
    dask = pytest.importorskip("dask", reason="dask is not installed (the extra [region])")
    dataframe = pytest.importorskip("dask.dataframe", reason="dask has no dataframes (the extra [region])")
    mixed = many.sample(frac=1, random_state=1)
    parts = dataframe.from_pandas(mixed, npartitions=5, sort=False).shuffle("garden").to_delayed()
    asked = [dask.delayed(st.by_garden)(part, ask=st.trend) for part in parts]
    found = pd.concat(dask.compute(*asked, scheduler=scheduler))
    whole = st.by_garden(mixed, ask=st.trend)
    assert len(parts) > 1
    by = ["garden", "bed", "analyte"]
    # a shuffle changes the order of a garden's rows, and with it the last digit of a sum
    found, whole = (table.sort_values(by, ignore_index=True) for table in (found, whole))
    pd.testing.assert_frame_equal(found, whole, rtol=1e-12, check_dtype=False)
