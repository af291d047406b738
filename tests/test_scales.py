"""Scales against the standard library's logarithm and SciPy's logit."""

import math

import numpy as np
import pandas as pd
import pytest
from scipy.special import expit, logit

from soiltrend import scales


@pytest.mark.parametrize(("analyte", "wanted"), [
    ("P", "log"), ("Zn", "log"), ("CEC", "log"), ("EC", "log"), ("pH", "plain"), ("buffer pH", "plain"),
    ("OM", "plain"), ("base saturation", "plain"), ("acidity saturation", "plain"), ("acidity", "plain"),
    ("Ca saturation", "share"), ("K:Mg (charge)", "log"), ("P:Zn (mass)", "log"), ("daisies", "plain")])
def test_scale_of_an_analyte(analyte, wanted):
    """Concentrations and ratios are on logarithms, pH and organic matter as they are."""
    assert scales.scale(analyte) == wanted


def test_forward_agrees_with_other_libraries():
    """The log is the standard library's, the share's odds are SciPy's logit."""
    values, on = np.array([120.0, 6.4, 4.0]), np.array(["log", "plain", "share"])
    assert scales.forward(values, on).tolist() == pytest.approx([math.log(120.0), 6.4, logit(0.04)])


def test_back_undoes_forward():
    """Going there and back changes nothing."""
    values, on = np.array([120.0, 6.4, 4.0, 99.0]), np.array(["log", "plain", "share", "share"])
    there = scales.forward(values, on)
    assert scales.back(there, on) == pytest.approx(values)
    assert scales.back(there, on)[2] == pytest.approx(100 * expit(there[2]))


@pytest.mark.parametrize(("value", "on"), [(0.0, "log"), (-1.0, "log"), (0.0, "share"), (100.0, "share")])
def test_values_the_scale_does_not_reach(value, on):
    """A zero has no logarithm and a whole has no rest: the answer is missing, not invented."""
    assert np.isnan(scales.forward(np.array([value]), np.array([on]))[0])


def test_scales_of_a_column():
    """A column of analytes gets a column of scales with its index."""
    column = pd.Series(["K", "pH", "K"], index=[5, 6, 7])
    assert scales.scales(column).to_dict() == {5: "log", 6: "plain", 7: "log"}
