"""Small frames that a test can state in one line."""

import pandas as pd
import pytest
from hypothesis import settings

from soiltrend import frames, vocabulary

settings.register_profile("untimed", deadline=None)  # no test is judged by the speed of the machine
settings.load_profile("untimed")


@pytest.fixture
def tidy():
    """Return a function that turns (bed, day, analyte, value) rows into a tidy frame."""

    def make(rows, **same):
        table = pd.DataFrame(rows, columns=["bed", "sampled", "analyte", "value"])
        table["sampled"] = pd.to_datetime(table["sampled"])
        table["season"] = frames.season(table["sampled"])
        table["unit"] = table["analyte"].map(vocabulary.canonical_unit)
        return frames.results(table.assign(top_cm=0.0, bottom_cm=15.0, lab="Hollin Bench", **same))

    return make


@pytest.fixture
def two_springs(tidy):
    """Return a function that makes the results of two springs, by bed, from before and after values."""

    def make(values, beds=("East", "West")):
        rows = [
            (bed, day, analyte, value)
            for bed in beds
            for analyte, ends in values.items()
            for day, value in zip(("2022-04-04", "2024-04-08"), ends, strict=True)
        ]
        return tidy(rows)

    return make
