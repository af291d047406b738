"""From a bed laid out as arrays to the solver's problem, and from its answer to the next test."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from soiltrend import scales
from soiltrend.plan.bench import INSIDE, Bench, Plot
from soiltrend.plan.parts import lain, parts_of, waiting
from soiltrend.plan.shed import BRINGS, CAUSTIC_LIME, Shed, brings_of
from soiltrend.plan.task import Task, worst

Array: TypeAlias = np.ndarray

TRACE = 0.01
"""Share of a ceiling below which an addition is nothing to speak of: far below what a test can tell."""

BY_WORTH = ("N", "Mn")
"""Nutrients whose yearly limit counts what comes free; of the others all is counted. Manganese does harm
where it is dissolved; a soil holds hundreds of grams to the square metre that are not (common practice)."""

MANURE = "manure N"
"""The limit that counts manures alone."""

LIMING, CALCIUM = BRINGS.index("CCE"), BRINGS.index("Ca")
MAGNESIUM = BRINGS.index("Mg")
MUCH = 0.05
"""Share of calcium or magnesium from which a material is given for it: gypsum has a fifth of calcium,
dolomite a tenth of magnesium; manures, ashes and limestones have a hundredth of magnesium."""

LIMES = 0.1
"""Share of CaCO3 from which a material counts as a lime: ashes, shells and marl hold more, rock dusts, chars
and composts less (tables/materials.csv, tables/residues.csv)."""

TENTH, THIRD = 0.1, 0.3
"""A material is held when a tenth of its greatest amount would be too much already; phosphorus stays and can
reach water, so that a manure is held for it sooner, when a third of its greatest amount would. Judgement."""

UNTOLD = "no pH in water with a known ceiling stands here, and without it nothing that limes is planned"
TOO_HIGH = "pH is not safely below its ceiling"

ENDLESS = 2.0
"""What lies above its limit in every test counts as so many times its ceiling: it may. Judgement."""

PH_TRACE = 0.03
"""A quarter of what one pH test strays by itself (tables/noise.csv)."""

ENOUGH = 0.75
"""How surely an aim is to be reached where there is room: three times in four. Judgement: half would
leave every second bed short, nine in ten would feed for the noise."""

BY_THE_GRAM = ("B", "Zn", "Mn", "Cu")
"""What is given only where a test that was read asks for it: the step from enough to harm is small."""

SMALL = 0.02
"""Share of an aim below which a shortfall is left alone: far below what a test can tell."""


@dataclass(frozen=True, eq=False)
class Question:
    """A bed's problem with what its rows and columns mean.

    Attributes
    ----------
    task : Task
        For the solver.
    short : list of int
        The measures that are short, in the order in which they are closed.
    ceilings : list of int
        The measure of each ceiling, -1 and below for the yearly limits (-1 is the first).
    lacking : array (measures,)
        Where each stands as a share of its aim.
    acid : array of bool (ceilings,)
        The ceiling of pH.
    phosphorus : array of bool (ceilings,)
        The ceiling of phosphorus.
    scarce : array of bool (materials,)
        Of which less is left than a year would take.
    """

    task: Task
    short: list[int]
    ceilings: list[int]
    lacking: Array
    acid: Array
    phosphorus: Array
    scarce: Array


def expected(plot: Plot) -> Array:
    """Return the middle of where each measure would stand at the next test with nothing added."""
    return np.asarray(np.median(plot.left, axis=0))


def effects(plot: Plot, brought: Array) -> Array:
    """Return what a gram of each material to the square metre does (scenarios, measures, materials).

    Parameters
    ----------
    plot : Plot
        The bed.
    brought : array (scenarios, materials, brings)
        ``Shed.total`` for all of it, ``Shed.free`` or :func:`coming` for what comes free by the next test.
    """
    return np.asarray(np.einsum("sab,smb->sam", plot.moves, brought, optimize=True))


def coming(plot: Plot, bench: Bench, amounts: Array) -> Array:
    """Return what of a gram of each material has come free by the next test, part by part of these amounts.

    Parameters
    ----------
    plot : Plot
        The bed.
    bench : Bench
        Materials and days.
    amounts : array (materials,)
        g/m2 in the year.
    """
    return bench.shed.later(lain(parts_of(plot, bench, amounts), bench.days))


def _for_itself(load: Array, plot: Plot, shed: Shed) -> Array:
    """Keep the ceilings of calcium and magnesium for what is given for them: limes go by pH.

    Neither does harm as such where it is high: a hundredth of magnesium in a manure or a lime does not count.
    """
    out, mean = load, shed.total.mean(axis=0)
    spared = {
        "Ca": (mean[:, LIMING] > 0) | (mean[:, CALCIUM] < MUCH),
        "Mg": mean[:, MAGNESIUM] < MUCH,
    }
    for at, name in enumerate(plot.measures["analyte"]):
        if name in spared:
            out[:, at, spared[name]] = 0.0
    return out


TRUE_LIME = 0.5
"""CaCO3 equivalent, as a share, from which a material is a lime and not something that limes a little."""


def limes(shed: Shed) -> Array:
    """Return which materials lime."""
    return np.asarray(shed.total.mean(axis=0)[:, LIMING] >= LIMES)


def caustic(shed: Shed) -> Array:
    """Return which limes burn skin and eyes, where the shed holds another lime that does not."""
    burns = (shed.rows["release"] == CAUSTIC_LIME).to_numpy()
    gentle = (shed.total.mean(axis=0)[:, LIMING] >= TRUE_LIME) & ~burns
    return np.asarray(burns & gentle.any())


ACIDIFIES = -0.5
"""CaCO3 equivalent, as a share, from which down a material is given to acidify: sulphur, not a meal."""


def contrary(plot: Plot, shed: Shed) -> Array:
    """Return which materials would go against what the bed's pH asks for.

    Lime goes by pH and not by its calcium or phosphorus: on a sour bed nothing that acidifies is given for
    its sulphur, on any other no lime.
    """
    value = shed.total.mean(axis=0)[:, LIMING]
    sour = (plot.measures["analyte"].array[lacks(plot)[0] > 0] == "pH").any()
    return np.asarray(value <= ACIDIFIES if sour else value >= TRUE_LIME)


def too_late(plot: Plot, bench: Bench) -> Array:
    """Return which materials cannot go on a bed long enough before its crop is picked."""
    bed, rows = str(plot.bed["bed"]), bench.shed.rows
    return np.array([waiting(rows.iloc[at], bench, bed=bed) != "" for at in range(len(rows))], dtype=bool)


def no_lime(plot: Plot, *, probability: float) -> str:
    """Return why nothing that limes may go on a bed, whether or not its need of lime is known; else blank.

    Parameters
    ----------
    plot : Plot
        The bed.
    probability : float
        How surely the ceiling of pH must hold.
    """
    at = np.flatnonzero(plot.measures["analyte"] == "pH")
    ceiling = plot.wants[at[0]].ceiling if len(at) else np.nan
    if not np.isfinite(ceiling):
        return UNTOLD
    return TOO_HIGH if worst(plot.left[:, at[0]], probability) > ceiling else ""


def held(question: Question, shed: Shed, *, broken: Array) -> Array:
    """Return which materials are held because of which ceilings (ceilings, materials).

    Parameters
    ----------
    question : Question
        A bed's problem.
    shed : Shed
        The materials.
    broken : array of bool (ceilings,)
        The ceilings that are broken before anything is added.
    """
    task = question.task
    share = np.where(question.phosphorus, THIRD, TENTH)[:, None]
    much = share * task.load.mean(axis=0) * shed.most > task.trace[:, None]
    much[question.acid] |= limes(shed)
    return np.asarray(much & broken[:, None])


def unread(plot: Plot) -> Array:
    """Return which measures get nothing because no test has read them: what is given by the gram."""
    by_the_gram = plot.measures["analyte"].isin(BY_THE_GRAM)
    return np.asarray(by_the_gram & (plot.measures["qualifier"] == "<"))


def lacks(plot: Plot) -> tuple[Array, Array]:
    """Return what is lacking of each measure at the next test, and where it stands as a share of its aim.

    pH is on no scale of shares: a whole unit below counts as having nothing. Of what lies below a limit in
    every test at least what the limit itself lacks is lacking; nothing is given by the gram on that.
    """
    middle, careful = np.quantile(plot.left, (0.5, 1 - ENOUGH), axis=0)
    value = np.where(plot.measures["analyte"].isin(BY_THE_GRAM), middle, careful)
    value[unread(plot)] = np.inf
    low = np.array([want.low for want in plot.wants])
    acid = (plot.measures["analyte"] == "pH").to_numpy()
    need = np.nan_to_num(np.where(low - value > SMALL * np.where(acid, 1.0, low), low - value, 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(acid, 1 - (low - value), value / low)
    return need, share


def _counted(what: str, shed: Shed) -> Array:
    """Return what of a gram of each material counts for a yearly limit (scenarios, materials)."""
    load = (shed.free if what in BY_WORTH else shed.total)[:, :, BRINGS.index(brings_of(what))]
    return load * (shed.rows["kind"] == "manure").to_numpy() if what == MANURE else load


def _limits(bench: Bench, shed: Shed) -> tuple[Array, Array]:
    """Return loads and rooms of the yearly limits of nutrients (scenarios, limits, materials)."""
    load = np.stack([_counted(str(what), shed) for what in bench.limits["what"]], axis=1)
    room = np.broadcast_to(bench.limits["limit"].to_numpy(dtype=float), load.shape[:2])
    return load, room


def _credit(plot: Plot, free: Array) -> Array:
    """Return what a gram of each material is expected to do; no lime is counted on where none is known."""
    credit = effects(plot, free).mean(axis=0)
    acid = (plot.measures["analyte"] == "pH").to_numpy()
    return np.where(acid[:, None] & (not plot.lime_known), 0.0, credit)


def question(
    plot: Plot,
    bench: Bench,
    *,
    barred: Array | None = None,
    stock: Array | None = None,
    free: Array | None = None,
) -> Question:
    """Return a bed's problem for the solver.

    Parameters
    ----------
    plot : Plot
        The bed.
    bench : Bench
        Materials and limits.
    barred : array of bool, optional
        Which materials may not go on at all.
    stock : array, optional
        How much is left of each [g/m2]; more than any bed takes by default.
    free : array, optional
        What comes free by the next test, where not all is given on the first day.
    """
    shed = bench.shed
    need, share = lacks(plot)
    short = [int(at) for at in np.argsort(share, kind="stable") if need[at] > 0]
    short.sort(key=lambda at: plot.measures["analyte"].iloc[at] != "pH")  # pH first: the rest hangs on it
    ceiling = np.array([want.ceiling for want in plot.wants])
    tested = np.flatnonzero(np.isfinite(ceiling))
    whole = _for_itself(effects(plot, shed.total), plot, shed)
    away = np.zeros(len(shed.most), bool) if barred is None else barred
    if no_lime(plot, probability=bench.rules.probability):
        away = away | limes(shed)
    left = np.full(len(shed.most), np.inf) if stock is None else stock
    most = np.where(away, 0.0, np.minimum(shed.most, left))
    load, room = _limits(bench, shed)
    stands = plot.left[:, tested]
    endless = (plot.measures["qualifier"] == ">").to_numpy()[tested]  # safely below no ceiling
    stands = np.where(endless, np.maximum(stands, ENDLESS * ceiling[tested]), stands)
    scale = np.concatenate([ceiling[tested], room[0]])
    acid = np.concatenate([plot.measures["analyte"].to_numpy()[tested] == "pH", np.zeros(len(room[0]), bool)])
    trace = np.where(acid, PH_TRACE, TRACE * np.abs(scale))
    task = Task(
        credit=_credit(plot, shed.free if free is None else free)[short],
        need=need[short],
        load=np.concatenate([whole[:, tested], load], axis=1),
        room=np.concatenate([ceiling[tested] - stands, room], axis=1),
        trace=trace,
        most=most,
        price=shed.price,
    )
    stays = np.concatenate([plot.measures["analyte"].to_numpy()[tested] == "P", np.zeros(len(room[0]), bool)])
    ceilings = [*map(int, tested), *range(-1, -1 - len(room[0]), -1)]
    return Question(task, short, ceilings, share, acid, stays, (left < shed.most) & ~away)


def forecast(plot: Plot, bench: Bench, amounts: Array) -> Array:
    """Return draws of where each measure stands at the next test, without the test's noise.

    Each part of an amount counts by how long it has lain.

    Parameters
    ----------
    plot : Plot
        The bed.
    bench : Bench
        Materials and days.
    amounts : array (materials,)
        g/m2 in the year.
    """
    after = plot.left + effects(plot, coming(plot, bench, amounts)) @ amounts
    positive = (plot.measures["scale"] == scales.LOG).to_numpy()
    return np.asarray(np.where(positive, np.maximum(after, 1e-3), after))


def printed(plot: Plot, value: Array) -> Array:
    """Return draws of what the laboratory would print: the value with the test's noise."""
    on = np.broadcast_to(plot.measures["scale"].to_numpy(), value.shape)
    return scales.back(scales.forward(value, on) + plot.test, on)


def interval(draws: Array, *, inside: float = INSIDE) -> tuple[Array, Array, Array]:
    """Return low, middle and high of draws, so that a new one lies between the ends as often as told.

    Examples
    --------
    >>> [round(float(end)) for end in interval(np.arange(200.0))]
    [9, 100, 190]
    """
    ends = (0.5 - inside / 2, 0.5, 0.5 + inside / 2)
    low, middle, high = np.quantile(draws, ends, axis=0, method="weibull")
    return low, middle, high
