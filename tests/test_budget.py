"""What went in, what came out, what the test did: amounts, periods, recovery, and what is not known."""

import dataclasses
import re

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy import stats

import soiltrend as st
from soiltrend import frames, tables, units
from soiltrend.budget import judge
from soiltrend.budget.chance import Dice, check, setting, spread, triangle
from soiltrend.budget.crops import contents, crop, taken
from soiltrend.budget.invented import Plot, invented
from soiltrend.budget.log import unlogged
from soiltrend.budget.movement import Layer, grams
from soiltrend.budget.periods import middle
from soiltrend.errors import SoiltrendError

ACRE_M2 = 4046.8564224  # NIST Handbook 44, appendix C
POUND_G = 453.59237  # NIST Handbook 44, appendix C
PERFECT = Plot(noise=0.0, drawn=False)


def rows(found):
    """Return the table by bed and nutrient."""
    return found.table.set_index(["bed", "nutrient"])


@pytest.fixture(scope="module")
def usual():
    """An invented garden of which 70 % shows, and its account."""
    one = invented(seed=3, recovery=0.7)
    return one, st.budget(one.garden)


@pytest.fixture(scope="module")
def demo():
    """The account of the demonstration garden."""
    garden = st.open_garden("data_demo/oxmarrow-steps")
    return garden, st.budget(garden, draws=500)


def with_own(garden, **tables_):
    """Return a garden with some of its tables exchanged."""
    return dataclasses.replace(garden, **tables_)
