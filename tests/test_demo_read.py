"""The demo garden read end to end: what its generator printed is what the garden holds."""

import importlib.util
import sys
from pathlib import Path

import pandas as pd
import pytest

from soiltrend.garden import open_garden

DATA = Path(__file__).parents[1] / "data_demo"


@pytest.fixture(scope="module")
def printed():
    """Every value the generator printed, one row each."""
    sys.path.insert(0, str(DATA))
    spec = importlib.util.spec_from_file_location("generate", DATA / "generate.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    sys.path.remove(str(DATA))
    rows = [
        (
            p.file,
            p.sample,
            p.bed,
            pd.Timestamp(p.day),
            p.analyte,
            p.symbol,
            p.method,
            p.text,
            p.measured,
            0.5 * 10.0**-p.decimals / p.factor,
            p.outlier,
        )
        for p in module.prints()
    ]
    names = [
        "file",
        "sample",
        "bed",
        "day",
        "analyte",
        "symbol",
        "method",
        "text",
        "measured",
        "rounding",
        "outlier",
    ]
    return pd.DataFrame(rows, columns=names)


@pytest.fixture(scope="module")
def garden():
    return open_garden(DATA / "oxmarrow-steps")


def test_as_many_values_are_found_as_were_printed(printed, garden):
    """File by file: printed is read plus set aside."""
    files = [frame["source"] for frame in (garden.results, garden.set_aside)]
    found = pd.concat(files).value_counts().drop("observations.csv")
    assert found.to_dict() == printed["file"].value_counts().to_dict()


def test_every_value_read_is_the_value_measured(printed, garden):
    """Bed, day, method and number of each: units, oxides, decimal commas and areas came out right.

    The number may differ by the rounding of the print (half a unit in its last digit), and by one
    part in a thousand for the printed conversion factors.
    """
    read = garden.results.assign(file=garden.results["source"])
    both = printed.merge(read, on=["file", "sample", "analyte"], suffixes=("_printed", ""), how="left")
    assert set(both.loc[both["value"].isna(), "symbol"]) == set(garden.set_aside["label"])
    both = both.dropna(subset="value")
    assert len(both) == (garden.results["source"] != "observations.csv").sum()
    assert (both["bed_printed"] == both["bed"]).all()
    assert (both["day"] == both["sampled"]).all()
    stated = both["analyte"].isin(["P", "K", "Ca", "Mg", "Na", "S", "B", "Zn", "Mn", "Fe", "Cu", "pH"])
    assert (both["method_printed"] == both["method"])[stated].all()
    plain = both[(both["qualifier"] == "") & ~both["outlier"]]
    off = (plain["value"] - plain["measured"]).abs() - plain["rounding"]
    wrong = plain[off > 1e-3 * plain["measured"]]
    assert wrong.empty, wrong[["file", "sample", "analyte", "text", "measured", "value"]].to_string()


def test_what_is_below_its_limit_stays_below_it(printed, garden):
    """ "<0.5" and "ND" are limits with a sign, as many as were printed, and never numbers."""
    below = printed["text"].str.contains("<|ND", regex=True).sum()
    assert (garden.results["qualifier"] == "<").sum() == below


def test_the_slip_of_the_pen_is_read_as_printed(printed, garden):
    """A magnesium of 1960 for 196 is kept as it stands: it is questioned later, not repaired."""
    slip = printed[printed["outlier"]].iloc[0]
    row = garden.results.query("sample == @slip['sample'] and analyte == @slip['analyte']").iloc[0]
    assert row["reported_value"] == slip["text"]
