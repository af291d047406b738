"""Mix what there is toward a carbon-to-nitrogen ratio and a moisture, and say how near it comes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import present
from soiltrend.blend.analysis import Draws, draw, material_row
from soiltrend.blend.averages import averages, lesson
from soiltrend.blend.ingredients import Ingredients, Part, bucket_litres, heap, parts
from soiltrend.blend.solve import Problem, alone, ratio, reached, solve
from soiltrend.errors import SoiltrendError
from soiltrend.present import Listing, number

COLUMNS = (
    "material",
    "given",
    "kg",
    "litres",
    "buckets",
    "dry_kg",
    "C_kg",
    "N_kg",
    "CN",
    "moisture",
    "assumed",
)
SAID = ("unit", "why")
"""Columns of the table that its showing goes without: they repeat what its others tell."""

WEIGHED = "kg"
ENDS = (2.5, 97.5)
PERCENT = 100.0


@dataclass(frozen=True, eq=False)
class Blend:
    """A mixture, what it comes to, and how sure that is.

    Attributes
    ----------
    table : DataFrame
        One row an ingredient: material, given (fixed, bounded, free), kg [wet], litres, buckets,
        dry_kg, C_kg, N_kg, CN, moisture [% of wet weight], assumed; unit (of the amounts that
        went in) and why (how much of it there is).
    cn, cn_low, cn_high : float
        C:N of the mixture, and its 95 % interval from the ranges of the figures.
    moisture, moisture_low, moisture_high : float
        Water in percent of wet weight, likewise.
    asked : dict
        The aims.
    met : bool
        Whether every aim is met by the likely figures.
    why : str
        In words: met, or what cannot be met and what is nearest.
    averaging : Listing
        The right ratio beside the averages of ratios that look like it.
    analysis : DataFrame
        The mixture as one row of ``materials.csv``, before it rots: append it to
        ``garden.materials``.
    """

    table: pd.DataFrame
    cn: float
    cn_low: float
    cn_high: float
    moisture: float
    moisture_low: float
    moisture_high: float
    asked: dict[str, float]
    met: bool
    why: str
    averaging: Listing
    analysis: pd.DataFrame

    def __repr__(self) -> str:
        return present.plain(_title(self), self.table[list(COLUMNS)]) + f"\n{self.why}"

    def _repr_html_(self) -> str:
        return present.page(f"{_title(self)}. {self.why}", self.table[list(COLUMNS)])

    def added_to(self, materials: pd.DataFrame) -> pd.DataFrame:
        """Return the grower's table of materials with the mixture as one row more.

        Parameters
        ----------
        materials : DataFrame
            ``garden.materials``.

        Raises
        ------
        SoiltrendError
            When a material of the mixture's name is there already.
        """
        name = str(self.analysis["material"].iloc[0])
        if name in set(materials["material"]):
            raise SoiltrendError(
                f"there is a material '{name}' already",
                file="materials.csv",
                remedy="Give the blend another name: blend(..., name=...)",
            )
        return (
            self.analysis.copy()
            if materials.empty
            else pd.concat([materials, self.analysis], ignore_index=True)
        )


def told_ratio(cn: float) -> str:
    """Return a ratio of carbon to nitrogen in words.

    Examples
    --------
    >>> told_ratio(30.0), told_ratio(float("nan"))
    ('C:N 30.0', 'no C:N (nothing in it holds nitrogen)')
    """
    return f"C:N {number(cn)}" if np.isfinite(cn) else "no C:N (nothing in it holds nitrogen)"


def _title(blend: Blend) -> str:
    ends = f" ({number(blend.cn_low)} to {number(blend.cn_high)})" if np.isfinite(blend.cn) else ""
    return (
        f"A blend of {number(blend.table['kg'].sum())} kg: {told_ratio(blend.cn)}{ends}, "
        f"moisture {number(blend.moisture)} % ({number(blend.moisture_low)} to {number(blend.moisture_high)})"
    )


def _width(measure: str) -> float:
    """Return half of what is acceptable in a heap: what counts as one step from the aim."""
    return (heap(measure).high - heap(measure).low) / 2


def _problem(known: list[Part], *, cn: float, moisture: float) -> Problem:
    """Return the ingredients and aims as numbers per wet kilogram."""
    water = np.array([part.figure("moisture") for part in known]) / PERCENT
    carbon, nitrogen = (np.array([part.figure(name) for part in known]) / PERCENT for name in ("C", "N"))
    return Problem(
        carbon=(1 - water) * carbon,
        nitrogen=(1 - water) * nitrogen,
        water=water,
        low=np.array([part.low for part in known]),
        high=np.array([part.high for part in known]),
        cn=cn,
        moisture=moisture / PERCENT,
        scale=(_width("C:N"), _width("moisture") / PERCENT),
    )


def _table(known: list[Part], kg: np.ndarray, problem: Problem) -> pd.DataFrame:
    """Return one row an ingredient."""
    litres = kg / np.array([part.figure("density") for part in known])
    return pd.DataFrame(
        {
            "material": [str(part.row.name) for part in known],
            "given": [part.given for part in known],
            "kg": kg,
            "litres": litres,
            "buckets": litres / bucket_litres(),
            "dry_kg": kg * (1 - problem.water),
            "C_kg": kg * problem.carbon,
            "N_kg": kg * problem.nitrogen,
            "CN": [ratio(c, n) for c, n in zip(problem.carbon, problem.nitrogen, strict=True)],
            "moisture": PERCENT * problem.water,
            "assumed": pd.Series([part.assumed for part in known], dtype="str"),
            "unit": WEIGHED,
            "why": [_reason(part) for part in known],
        }
    )[[*COLUMNS, *SAID]]


def _reason(part: Part) -> str:
    """Return why there is so much of an ingredient, and what was taken for granted of it."""
    most = f"{number(part.high)} kg" if np.isfinite(part.high) else "no limit"
    ends = f"{number(part.low)} kg and {most}"
    told = {
        "fixed": f"{number(part.low)} kg as given",
        "bounded": f"as the aims ask, between {ends}",
        "free": "as the aims ask",
    }
    return "; ".join(filter(None, (told[part.given], part.assumed)))


def _stand(problem: Problem, kg: np.ndarray) -> str:
    cn, moisture = reached(problem, kg)
    return f"{told_ratio(cn)} at {number(PERCENT * moisture)} % moisture"


def _each_alone(problem: Problem) -> str:
    """Say what each of two aims comes with when the other is let go."""
    said = []
    for_ratio, met = alone(problem, moisture=False)
    if met and for_ratio.sum() > 0:
        wet = number(PERCENT * reached(problem, for_ratio)[1])
        said.append(f"C:N {number(problem.cn)} alone would come with {wet} % moisture")
    for_water, met = alone(problem, moisture=True)
    if met and for_water.sum() > 0:
        came = number(reached(problem, for_water)[0])
        said.append(f"{number(PERCENT * problem.moisture)} % moisture alone would come with C:N {came}")
    return ", and ".join(said)


def _water_missing(problem: Problem, kg: np.ndarray) -> str:
    """Say how much water would bring a dry mixture to the moisture wanted."""
    total, here = kg.sum(), reached(problem, kg)[1]
    if np.isnan(problem.moisture) or not here < problem.moisture - 0.005 or problem.moisture >= 1:
        return ""
    litres = total * (problem.moisture - here) / (1 - problem.moisture)
    return f"{number(litres)} L of water would bring it to {number(PERCENT * problem.moisture)} %"


def _why(problem: Problem, kg: np.ndarray, *, met: bool) -> str:
    """Return what was met, in words."""
    here = _stand(problem, kg)
    aims = len(problem.balances)
    if met:
        said = [f"{here}: " + ("as asked" if aims else "no aim was given")]
    elif aims == 2:
        said = [f"Both cannot be met with these; the nearest is {here}", _each_alone(problem)]
    else:
        said = [f"The aim cannot be met with these; the nearest is {here}"]
    said.append("" if met else _water_missing(problem, kg))
    outside = [
        f"{measure} {number(value)} is outside the acceptable {heap(measure).low:g} to "
        f"{heap(measure).high:g} of a heap"
        for measure, value in zip(("C:N", "moisture"), _percent(reached(problem, kg)), strict=True)
        if np.isfinite(value) and not heap(measure).low <= value <= heap(measure).high
    ]
    told = [text for text in (*said, "; ".join(outside)) if text]
    return " ".join(f"{text[0].upper()}{text[1:]}." for text in told)


def _percent(stand: tuple[float, float]) -> tuple[float, float]:
    return stand[0], PERCENT * stand[1]


def _interval(drawn: Draws, kg: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the 95 % intervals of C:N and of moisture."""
    dry = kg * (1 - drawn["moisture"] / PERCENT)
    with np.errstate(divide="ignore", invalid="ignore"):
        cn = (dry * drawn["C"]).sum(axis=1) / (dry * drawn["N"]).sum(axis=1)
        moisture = (kg * drawn["moisture"]).sum(axis=1) / kg.sum()
    return np.percentile(cn, ENDS, method="inverted_cdf"), np.percentile(moisture, ENDS)


def _aim(value: float | None, *, name: str, top: float) -> float:
    if value is None:
        return np.nan
    if not (0 < value <= top and np.isfinite(value)):
        raise SoiltrendError(
            f"{name} = {value!r} is no aim", remedy="C:N above 0, moisture in percent, or None for no aim"
        )
    return float(value)


def blend(
    ingredients: Ingredients,
    *,
    cn: float | None = 30.0,
    moisture: float | None = 60.0,
    own: pd.DataFrame | None = None,
    name: str = "blend",
    seed: int = 1,
) -> Blend:
    """Mix ingredients toward a C:N and a moisture, or say plainly that both cannot be met.

    Parameters
    ----------
    ingredients : list or DataFrame
        Names of materials, dicts, or a table. Figures: moisture [% of wet weight], C and N [% of
        dry matter] or CN, density [kg/L]; amounts on a wet basis: kg, litres or buckets (fixed),
        min and max in ``unit`` (bounded), or none (free). What is not given comes from the
        reference table; "water" is an ingredient too.
    cn : float, optional
        The C:N wanted; None for none.
    moisture : float, optional
        The water wanted [% of wet weight]; None for none.
    own : DataFrame, optional
        ``garden.materials``: her own figures win.
    name : str
        What the mixture is called in ``analysis``.
    seed : int
        Of the draws that make the intervals.

    Returns
    -------
    Blend

    Raises
    ------
    SoiltrendError
        When an ingredient cannot be understood, an aim is none, or there is nothing to mix.

    Notes
    -----
    C:N = sum of Q C (100 - M) over sum of Q N (100 - M), Q wet mass, C and N in percent of dry
    matter, M moisture (Cornell Waste Management Institute 1996). With one aim and no bounds the
    answer is exact; free ingredients on one side of the aim go in equal wet parts. With two aims
    or bounds it is a linear program that shares the work among the free ones; where it has no
    answer, bounded least squares finds the nearest, 10 of C:N weighing as much as 12.5 % of
    moisture (half of what is acceptable in a heap, tables/heaps.csv).

    Examples
    --------
    >>> grass = {"material": "grass", "moisture": 77, "C": 45, "N": 2.4, "kg": 10}
    >>> leaves = {"material": "leaves", "moisture": 35, "C": 50, "N": 0.75}
    >>> mixed = blend([grass, leaves], cn=30, moisture=None)
    >>> mixed.table["kg"].round(2).tolist(), round(mixed.cn, 1), round(mixed.moisture, 1)
    ([10.0, 3.47], 30.0, 66.2)
    """
    known = parts(ingredients, own=own)
    problem = _problem(
        known,
        cn=_aim(cn, name="cn", top=np.inf),
        moisture=_aim(moisture, name="moisture", top=PERCENT),
    )
    kg, met = solve(problem)
    if not kg.sum() > 0:
        raise SoiltrendError(
            f"{len(known)} ingredients and {kg.sum():g} kg make no blend",
            remedy="Give an aim, or amounts in kg, litres or buckets",
        )
    drawn = draw(known, seed=seed)
    likely_cn, likely_moisture = reached(problem, kg)
    (cn_low, cn_high), (wet_low, wet_high) = _interval(drawn, kg)
    table = _table(known, kg, problem)
    compared = averages(table)
    return Blend(
        table,
        likely_cn,
        float(cn_low),
        float(cn_high),
        PERCENT * likely_moisture,
        float(wet_low),
        float(wet_high),
        {"cn": problem.cn, "moisture": PERCENT * problem.moisture},
        met,
        f"{_why(problem, kg, met=met)} {lesson(compared)}".strip(),
        Listing("Why ratios are not averaged", compared),
        material_row(known, kg, drawn, name=name),
    )
