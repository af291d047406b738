"""How small a change could be seen at all, before a sample is taken.

A change between two seasons is seen when it stands out from the noise of both. With the same
sampling at both ends the variance of the difference is ::

    2 x (((laboratory^2 + preparation^2) / bags + between_cores^2 / cores) / (composites x beds) + occasion^2)

The change that is seen with a given power is that of a noncentral t on the noise model's degrees of
freedom. More cores, bags, composites and beds shrink the first part only: what the day of sampling
costs stays, and ``floor`` says how much that is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import present, scales, vocabulary
from soiltrend.chances import nctdtrinc, ndtri, stdtrit
from soiltrend.errors import SoiltrendError
from soiltrend.noise import Noise, noise_model

FIRST = ["analyte", "method", "unit", "composites", "cores", "bags", "beds", "power", "smallest", "floor",
         "step", "why"]
SLOPE = ["analyte", "method", "unit", "composites", "cores", "bags", "beds", "years", "tests", "power",
         "smallest", "step", "why"]
FINEST = 300
"""How many times below the spread a distance may lie; judgement: there it takes 300,000 cores and more."""

FEWEST_YEARS = 3
"""Years below which a slope with seasons has no degrees of freedom left to speak of."""


@dataclass(frozen=True)
class Sampling:
    """How a season is sampled.

    Attributes
    ----------
    composites : int
        Separate buckets per bed.
    cores : int
        Cores in each bucket.
    bags : int
        Bags split from each bucket and sent.
    beds : int
        Beds pooled: 1 for a single bed, more for the garden.
    """

    composites: int = 1
    cores: int = 15
    bags: int = 1
    beds: int = 1


USUAL = tuple(Sampling(composites=n) for n in (1, 2, 3, 5))


@dataclass(frozen=True, eq=False)
class Detectable:
    """The smallest changes that could be seen.

    Attributes
    ----------
    table : DataFrame
        One row per analyte, method, sampling and power. ``smallest`` is the change (in ``unit``: %
        of the value for concentrations) that is seen with this power, ``floor`` what it would be
        with no noise but the day's, ``step`` the same as ``smallest`` on the analysis scale.
        :func:`detectable_slope` gives changes per year, with ``years`` and ``tests``. Where noise is
        a share of the value (organic matter above 3 %) more is needed at higher levels.
    confidence : float
        Of the intervals with which the change is to be seen.
    noise : Noise
        The noise model used.
    """

    table: pd.DataFrame
    confidence: float
    noise: Noise

    def __repr__(self) -> str:
        return present.plain(_title(self), self.table.drop(columns="why"))

    def _repr_html_(self) -> str:
        return present.page(_title(self), self.table)


def _title(result: Detectable) -> str:
    return (f"What could be seen: {result.table['analyte'].nunique()} analytes, "
            f"{100 * result.confidence:g} % intervals")


def detectable(source: pd.DataFrame | Noise, *, samplings: Sequence[Sampling] = USUAL,
               power: Sequence[float] = (0.8, 0.95), confidence: float = 0.95) -> Detectable:
    """Return the smallest change between two like seasons that could be seen.

    Parameters
    ----------
    source : DataFrame or Noise
        A tidy frame, whose analytes and duplicates count, or a noise model.
    samplings : sequence of Sampling
        The ways of sampling to weigh, the same before and after.
    power : sequence of float
        How often the change is to be seen, between 0.5 and 1.
    confidence : float
        Of the interval with which it is to be seen.

    Returns
    -------
    Detectable

    Raises
    ------
    SoiltrendError
        When a number of a sampling is below 1, or a power or the confidence is out of range.

    Examples
    --------
    >>> found = detectable(noise_model(overrides={"K": {"sd": 0.1, "occasion": 0}}), samplings=[Sampling()])
    >>> row = found.table.query("analyte == 'K' and power == 0.8").iloc[0]
    >>> round(float(row["step"]), 3), round(float(row["smallest"]))
    (0.396, 49)
    """
    model = source if isinstance(source, Noise) else noise_model(source)
    _check(samplings, [*power, confidence])
    rows = _rows(model).merge(pd.DataFrame([vars(item) for item in samplings]), how="cross")
    rows = _looks(rows.merge(pd.DataFrame({"power": [float(value) for value in power]}), how="cross"))
    seen = _distance(rows["df"].to_numpy(dtype=float), rows["power"].to_numpy(), confidence)
    day = np.sqrt(2) * rows["occasion"].to_numpy()
    rows["step"] = seen * np.sqrt(2 * _sampled(rows) + day**2)
    rows["smallest"], rows["floor"] = _amount(rows, rows["step"]), _amount(rows, seen * day)
    rows["why"] = [_why(row) for row in rows.to_dict("records")]
    return Detectable(rows[FIRST], confidence, model)


def detectable_slope(source: pd.DataFrame | Noise, *, years: Sequence[int] = tuple(range(3, 13)),
                     tests: int = 2, sampling: Sampling | None = None, power: float = 0.8,
                     confidence: float = 0.95) -> Detectable:
    """Return the smallest change per year that a straight line through so many years could show.

    Parameters
    ----------
    source : DataFrame or Noise
        A tidy frame or a noise model.
    years : sequence of int
        Lengths of the record, 3 years or more.
    tests : int
        Tests a year, each in its own season every year.
    sampling : Sampling, optional
        How each season is sampled; one composite of 15 cores of one bed by default.
    power, confidence : float
        As for :func:`detectable`.

    Returns
    -------
    Detectable
        With the columns ``years`` and ``tests``; ``smallest`` is a change per year.

    Raises
    ------
    SoiltrendError
        As for :func:`detectable`, and for fewer than 3 years or less than one test a year.

    Notes
    -----
    With seasons told apart, the slope's standard error is sd / sqrt(tests x years x (years^2 - 1) / 12)
    on tests x years - 1 - tests degrees of freedom.

    Examples
    --------
    >>> found = detectable_slope(noise_model(overrides={"OM": {"sd": 0.15, "occasion": 0}}), years=[5, 10])
    >>> found.table.query("analyte == 'OM'")["smallest"].round(3).tolist()
    [0.11, 0.035]
    """
    model = source if isinstance(source, Noise) else noise_model(source)
    plan = sampling or Sampling()
    _check([plan], [power, confidence])
    shortest = min(years, default=0)
    if tests < 1 or shortest < FEWEST_YEARS:
        raise SoiltrendError(f"{tests} tests a year over {shortest} years are too few for a slope",
                             remedy="Give 3 years or more and a test a year or more")
    rows = _rows(model).merge(pd.DataFrame([vars(plan)]), how="cross")
    rows = rows.merge(pd.DataFrame({"years": list(years), "tests": tests, "power": power}), how="cross")
    rows = _looks(rows)
    count = rows["years"].to_numpy()
    seen = _distance((tests * count - 1 - tests).astype(float), rows["power"].to_numpy(), confidence)
    one = _sampled(rows) + rows["occasion"].to_numpy() ** 2
    rows["step"] = seen * np.sqrt(one / (tests * count * (count**2 - 1) / 12))
    rows["smallest"] = _amount(rows, rows["step"])
    rows["why"] = [f"{row['analyte']} must move by {_said(row, 'smallest')} a year to be seen within "
                   f"{row['years']} years of {tests} tests, {100 * power:g} times in 100"
                   for row in rows.to_dict("records")]
    return Detectable(rows[SLOPE], confidence, model)


def cores_needed(spread: float, *, within: float, confidence: float = 0.95) -> int:
    """Return how many cores bring the mean of a bed within so much of the truth.

    Parameters
    ----------
    spread : float
        Standard deviation between single cores (in % of the value, or in units).
    within : float
        The distance allowed, in the same terms.
    confidence : float
        How often the mean is to lie within it.

    Notes
    -----
    The smallest n with n >= (t x spread / within)^2, t on n - 1 degrees of freedom.

    Raises
    ------
    SoiltrendError
        When a number is not positive, or the distance lies too far below the spread.

    Examples
    --------
    >>> cores_needed(40, within=15), cores_needed(40, within=10)
    (30, 64)
    """
    if not (spread > 0 and within > 0 and 0.5 < confidence < 1):
        raise SoiltrendError(f"spread {spread}, within {within} and confidence {confidence} must be above 0",
                             remedy="Give the confidence between 0.5 and 1")
    if not spread / within <= FINEST:
        raise SoiltrendError(f"within {within} lies more than {FINEST} times below the spread {spread}",
                             remedy="Allow a greater distance: nobody takes so many cores")
    count = np.arange(2, 2 + int(np.ceil(50 + 10 * (spread / within) ** 2)))
    wanted = (stdtrit(count - 1, 0.5 + confidence / 2) * spread / within) ** 2
    return int(count[np.argmax(count >= wanted)])


def _check(samplings: Sequence[Sampling], shares: Sequence[float]) -> None:
    if not len(samplings):
        raise SoiltrendError(f"samplings = {samplings!r} holds none", remedy="Give st.Sampling() or several")
    for item in samplings:
        for name, value in vars(item).items():
            if not value >= 1:
                raise SoiltrendError(f"{name} = {value} is below 1", remedy="Give at least one of each")
    for value in shares:
        if not 0.5 < value < 1:
            raise SoiltrendError(f"{value} does not lie between 0.5 and 1", remedy="Give a power such as 0.8")


def _rows(model: Noise) -> pd.DataFrame:
    """Return the model's analytes, without the rows that stand for what is not listed."""
    rows = model.table[~model.table["analyte"].str.startswith("(")]
    return rows.drop(columns=["cores", "years", "why"]).reset_index(drop=True)


def _looks(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows with one core and one bag for what hand and eye measure: a spadeful is one look."""
    by_eye = rows["analyte"].map(lambda name: bool(vocabulary.observed(name))).to_numpy(dtype=bool)
    return rows.assign(cores=rows["cores"].mask(by_eye, 1), bags=rows["bags"].mask(by_eye, 1))


def _sampled(rows: pd.DataFrame) -> np.ndarray:
    """Return the variance of the mean of a season that sampling can shrink."""
    bag = (rows["laboratory"] ** 2 + rows["preparation"] ** 2) / rows["bags"]
    bucket = bag + rows["between_cores"] ** 2 / rows["cores"]
    return np.asarray(bucket / (rows["composites"] * rows["beds"]))


def _distance(df: np.ndarray, power: np.ndarray, confidence: float) -> np.ndarray:
    """Return how many standard errors a change must measure to be seen with a power."""
    limit = stdtrit(df, 0.5 + confidence / 2)
    known = np.isinf(df)
    exact = nctdtrinc(np.where(known, 1.0, df), 1 - power, np.where(known, 1.0, limit))
    return np.asarray(np.where(known, limit + ndtri(power), exact))


def _amount(rows: pd.DataFrame, step: pd.Series | np.ndarray) -> np.ndarray:
    """Return a step of the analysis scale in the row's unit, and write that unit into the rows."""
    on = rows["scale"].to_numpy()
    relative = np.where(on == scales.LOG, "%", "% of the odds")
    rows["unit"] = rows["unit"].where(on == scales.PLAIN, relative)
    return np.where(on == scales.PLAIN, step, 100 * np.expm1(np.asarray(step, dtype=float)))


def _said(row: dict[Any, Any], name: str) -> str:
    """Return an amount of a row with its unit."""
    unit = "points" if row["unit"] == "%" and row["scale"] == scales.PLAIN else row["unit"]
    noun = vocabulary.observed(row["analyte"]).get("noun", unit) if row["scale"] == scales.PLAIN else unit
    return f"{present.number(row[name], digits=2)} {noun}"


def _why(row: dict[Any, Any]) -> str:
    """Return the sentence of one sampling."""
    smallest, floor = (_said(row, name) for name in ("smallest", "floor"))
    beds = f" in each of {row['beds']} beds" if row["beds"] > 1 else ""
    look = vocabulary.observed(row["analyte"]).get("look")
    several = "s" if row["composites"] > 1 else ""
    buckets = (f"{row['composites']} {look}{several}" if look
               else f"{row['composites']} composite{several} of {row['cores']} cores")
    return (f"With {buckets}{beds} at both ends {row['analyte']} must move by {smallest} to be seen "
            f"{100 * row['power']:g} times in 100; the day of sampling alone asks for {floor}")
