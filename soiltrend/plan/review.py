"""How the last plan did: its forecast intervals against the tests that came after."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from soiltrend import frames, present
from soiltrend.errors import SoiltrendError
from soiltrend.garden import Garden
from soiltrend.plan.bench import INSIDE
from soiltrend.plan.write import FORECAST, OUT
from soiltrend.writing import as_told

PLANS = "plans"
KEY = ["bed", "analyte", "method", "unit", "lab"]
LAYER = ["top_cm", "bottom_cm"]
COLUMNS = [*KEY, *LAYER, "season", "forecast", "low", "high", "test", "sampled", "inside", "why"]
TALLY = ["season", "analyte", "tests", "inside", "share"]
ALL = "all measures"
REMEDY = "Take the file away, or write the plan anew with save_plan"


@dataclass(frozen=True, eq=False)
class Review:
    """Forecasts against tests.

    Attributes
    ----------
    table : DataFrame
        bed, analyte, method, unit, lab, top_cm, bottom_cm, season (tested); forecast, low, high (as the plan
        told them); test (of the laboratory and the layer that the forecast was of), sampled, inside, why.
    tally : DataFrame
        season, analyte, tests, inside (how many), share; the row "all measures" counts them all. Nine in ten
        were promised.
    why : str
        What could not be reviewed, and why.
    """

    table: pd.DataFrame
    tally: pd.DataFrame
    why: str

    def __repr__(self) -> str:
        return present.plain(_title(self), self.tally)

    def _repr_html_(self) -> str:
        return present.page(_title(self), self.tally) + present.page("Each forecast", self.table)


def _title(review: Review) -> str:
    count = len(review.table)
    if not count:
        return "No forecast to review yet: a plan that was kept meets its test a year later"
    inside = int(review.table["inside"].sum())
    return f"{inside} of {count} tests inside the {INSIDE:.0%} interval that was forecast"


def _saved(folder: Path) -> dict[str, Path]:
    """Return the forecasts kept in a folder by season."""
    found = sorted(folder.glob(f"plan-*-{FORECAST}.csv")) if folder.is_dir() else []
    return {
        path.name.removeprefix("plan-").removesuffix(f"-{FORECAST}.csv").replace("-", " "): path
        for path in found
    }


def _forecast(path: Path, season: str) -> pd.DataFrame:
    """Return a forecast kept earlier, refused when it lacks what it must hold."""
    try:
        table = pd.read_csv(path, dtype="str", keep_default_na=False).map(as_told)
    except ValueError as error:
        raise SoiltrendError(
            f"it is no table ({str(error).strip()})",
            file=path.name,
            remedy=REMEDY,
        ) from error
    missing = [name for name in (*KEY, *LAYER, "after", "low", "high", "test") if name not in table]
    if missing:
        raise SoiltrendError(
            f"the column '{missing[0]}' is missing",
            file=path.name,
            remedy=REMEDY,
        )
    numbers = [*LAYER, "after", "low", "high"]
    table[numbers] = table[numbers].apply(pd.to_numeric, errors="coerce")
    return table.rename(columns={"after": "forecast"}).assign(planned=season)


def _against(forecasts: pd.DataFrame, garden: Garden) -> pd.DataFrame:
    """Return the forecasts whose test has come, beside that test of the same laboratory and layer."""
    keys = [*KEY, *LAYER, "season"]
    tests = (
        garden.results[garden.results["qualifier"] == ""]
        .groupby(keys, sort=False, dropna=False)
        .agg(test=("value", "mean"), sampled=("sampled", "max"))
        .reset_index()
    )
    forecasts = forecasts.rename(columns={"test": "season"}).drop_duplicates(keys, keep="last")
    both = forecasts.merge(tests, on=keys, how="inner")
    inside = both["test"].between(both["low"], both["high"])
    side = np.where(both["test"] < both["low"], "below the interval", "above the interval")
    return both.assign(inside=inside, why=np.where(inside, "as forecast", side))[COLUMNS]


def _tally(table: pd.DataFrame) -> pd.DataFrame:
    """Return how often the forecasts were right, by season and measure, and in all."""
    grouped = table.groupby(["season", "analyte"], sort=False)["inside"]
    rows = grouped.agg(tests="size", inside="sum").reset_index()
    whole = {"season": "", "analyte": ALL, "tests": len(table), "inside": int(table["inside"].sum())}
    rows = pd.concat([rows, pd.DataFrame([whole])], ignore_index=True) if len(table) else rows
    return rows.assign(share=rows["inside"] / rows["tests"])[TALLY]


def review(garden: Garden, *, folder: str | Path | None = None) -> Review:
    """Return how the forecasts of earlier plans compare with the tests that came after.

    Parameters
    ----------
    garden : Garden
        The garden with its new tests.
    folder : str or Path, optional
        Where :func:`soiltrend.save_plan` wrote; the garden's ``out/plans`` by default.

    Returns
    -------
    Review

    Raises
    ------
    SoiltrendError
        When a file of the folder is no forecast.
    """
    where = Path(folder) if folder is not None else garden.path / OUT / PLANS
    kept = _saved(where)
    if not kept:
        why = f"no plan was kept in {where.name} yet; save_plan keeps one"
        return Review(pd.DataFrame(columns=COLUMNS), pd.DataFrame(columns=TALLY), why)
    order = sorted(kept, key=lambda season: frames.season_starts(season, hemisphere=garden.hemisphere))
    table = _against(pd.concat([_forecast(kept[season], season) for season in order]), garden)
    why = "" if len(table) else f"the tests after {', '.join(order)} have not come yet"
    return Review(table, _tally(table), why)
