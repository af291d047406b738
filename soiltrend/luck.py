"""Could this be luck? A comparison made again in gardens in which nothing changed.

Many measures in many beds are compared at once, so some rise or fall by chance. How many is asked of the
comparison's own design: its beds, buckets, days, laboratories and limits, with errors drawn from its noise
model, no change, and the same judgement. What is drawn ::

    own error of every bed and measure        (laboratory, preparation, cores)
    what all beds of a measure share          (the days, a batch, what unlike seasons leave unknown)
    how far off the noise model itself is     (by its degrees of freedom)

Measures are drawn as if each were analysed for itself. Sums and shares move with what they are made of, so
that many of them at once come up by luck more often than is said here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import composites, frames, present, scales, verdicts
from soiltrend.compare import Comparison
from soiltrend.errors import SoiltrendError

COUNTS = ["measures", "seen", "expected_by_luck", "chance_of_any", "chance_of_as_many"]
ADJUSTED = ["seen_adjusted", "chance_of_any_adjusted", "chance_of_as_many_adjusted"]
ALL = "(all beds)"
"""The row that counts the measures of all beds together; "(garden)" counts the measures pooled."""

FEWEST = 100
"""Draws below which a chance of a few per cent cannot be told."""

CHANGED = (verdicts.ROSE, verdicts.FELL)
KIND = ["analyte", "method"]
POOL = list(frames.POOLED)


@dataclass(frozen=True, eq=False)
class Luck:
    """What luck alone would have shown.

    Attributes
    ----------
    table : DataFrame
        One row a bed, then "(all beds)" and "(garden)" (the beds pooled): ``bed, measures`` (compared),
        ``seen`` (to rise or fall), ``expected_by_luck`` (the mean count with no change),
        ``chance_of_any`` and ``chance_of_as_many`` (shares of the draws with at least one, and with at
        least as many as were seen); the same ``_adjusted``, for those that stand among all that were
        looked at (Benjamini & Hochberg 1995); ``why``.
    measures : DataFrame
        ``bed, analyte, method, lab, scale`` of each measure compared.
    steps : array
        Drawn changes on the analysis scale: a row a draw, a column a row of ``measures``.
    counts : dict of str to array
        By row of the table: how many measures rose or fell in each of the draws.
    draws, seed : int
        How many gardens were drawn, and from which seed.
    """

    table: pd.DataFrame
    measures: pd.DataFrame
    steps: np.ndarray
    counts: dict[str, np.ndarray]
    draws: int
    seed: int

    def chance_of_rise(self, percent: float) -> pd.Series:
        """Return by bed how often luck alone shows at least one concentration up by so many per cent."""
        logs = (self.measures["scale"] == scales.LOG).to_numpy()
        risen = (self.steps >= np.log1p(percent / 100)) & logs
        beds = self.measures["bed"].to_numpy()
        return pd.Series({bed: float(risen[:, beds == bed].any(axis=1).mean()) for bed in pd.unique(beds)})

    def __repr__(self) -> str:
        return present.plain(_title(self), self.table[["bed", *COUNTS]])

    def _repr_html_(self) -> str:
        return present.page(_title(self), self.table)


def _title(result: Luck) -> str:
    if result.table.empty:
        return "Could this be luck? Nothing was compared, so there is nothing for luck to show"
    return f"Could this be luck? {result.draws} gardens in which nothing changed (seed {result.seed})"


def luck(comparison: Comparison, *, draws: int = 1000, seed: int = 1) -> Luck:
    """Return how often a comparison would have shown as much with nothing changing.

    Parameters
    ----------
    comparison : Comparison
        From :func:`soiltrend.compare`; its design, noise and limits are kept, its changes are not.
    draws : int
        How many gardens are drawn, 100 or more.
    seed : int
        The same seed gives the same gardens.

    Returns
    -------
    Luck
        Without rows when nothing could be compared.

    Raises
    ------
    SoiltrendError
        When the draws are too few.

    Examples
    --------
    >>> from soiltrend.compare import compare
    >>> from soiltrend.simulate import simulate_garden
    >>> still = compare(simulate_garden(seed=3), before="spring 2022", after="spring 2024")
    >>> luck(still, draws=200).table[["bed", "measures"]].tail(2).to_dict("records")
    [{'bed': '(all beds)', 'measures': 72}, {'bed': '(garden)', 'measures': 12}]
    """
    if draws < FEWEST:
        raise SoiltrendError(f"{draws} draws cannot tell a chance", remedy=f"Draw {FEWEST} or more")
    table = comparison.table[comparison.table["verdict"] != verdicts.NOT_COMPARABLE]
    columns = ["bed", *COUNTS, *ADJUSTED, "why"]
    if table.empty:
        none = table[["bed", *KIND, "lab", "scale"]]
        return Luck(pd.DataFrame(columns=columns), none, np.empty((draws, 0)), {}, draws, seed)
    beds, garden = (_judged(table[(table["bed"] == frames.GARDEN) == pooled]) for pooled in (False, True))
    steps = _steps(np.random.default_rng(seed), beds, draws)
    drawn = _counted(steps, beds, comparison.confidence)
    rows = _rows(beds, drawn, comparison.confidence)
    counts = _by_bed(beds["bed"].to_numpy(), drawn[0])
    if len(garden):
        code = composites.codes(pd.concat([beds, garden]), POOL)
        mine = (code[: len(beds), None] == code[None, len(beds) :]).astype(float)
        pooled = _counted(steps @ (mine / mine.sum(axis=0)), garden, comparison.confidence)
        rows.append(_row(frames.GARDEN, _seen(garden, comparison.confidence), pooled))
        counts[frames.GARDEN] = pooled[0].sum(axis=1)
    measures = beds[["bed", *KIND, "lab", "scale"]]
    return Luck(pd.DataFrame(rows)[columns], measures, steps, counts, draws, seed)


def _by_bed(bed: np.ndarray, moved: np.ndarray) -> dict[str, np.ndarray]:
    """Return how many measures moved in each draw, by bed and in all beds together."""
    one = {str(name): moved[:, bed == name].sum(axis=1) for name in pd.unique(bed)}
    return one | {ALL: moved.sum(axis=1)}


def _judged(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows that were compared, with their margin and open sides on the analysis scale."""
    rows = rows[rows["verdict"] != verdicts.NOT_COMPARABLE].reset_index(drop=True)
    on, before = rows["scale"].to_numpy(), rows["before"].to_numpy(dtype=float)
    margin = scales.forward(before + rows["margin"].to_numpy(dtype=float), on) - scales.forward(before, on)
    down, up = (_open(rows, *ends) for ends in (("after", "before"), ("before", "after")))
    return rows.assign(matters=margin, down=down, up=up)


def _open(rows: pd.DataFrame, lower: str, upper: str) -> np.ndarray:
    """Return how much further a change may lie, where a limit at ``lower`` lets that end be less and one at
    ``upper`` lets the other be more.

    The soil of a result beyond a limit is taken to lie at the limit, where a change is claimed most easily.
    """
    room = np.where(rows["scale"] == scales.PLAIN, np.maximum(rows[lower].to_numpy(dtype=float), 0.0), np.inf)
    less = np.where(rows[f"{lower}_censored"] == "<", room, 0.0)
    return np.where(rows[f"{upper}_censored"] == ">", np.inf, less)


def _steps(rng: np.random.Generator, beds: pd.DataFrame, draws: int) -> np.ndarray:
    """Return drawn changes without cause on the analysis scale, draws by measures."""
    kind = composites.codes(beds, KIND)
    df = beds["df"].groupby(kind).first().to_numpy(dtype=float)
    free = np.where(np.isinf(df), 1.0, df)
    doubt = np.where(np.isinf(df), 1.0, np.sqrt(free / rng.chisquare(free, (draws, len(df)))))
    shared = beds["shared"].to_numpy(dtype=float)
    own = np.maximum(beds["se"].to_numpy(dtype=float) ** 2 - shared, 0.0)
    common = rng.standard_normal((draws, len(df)))[:, kind] * np.sqrt(shared)
    return np.asarray(doubt[:, kind] * (common + rng.standard_normal((draws, len(beds))) * np.sqrt(own)))


def _counted(steps: np.ndarray, rows: pd.DataFrame, confidence: float) -> tuple[np.ndarray, np.ndarray]:
    """Return which drawn measures rose or fell, and which of those stand among all of their draw."""
    same = {name: np.tile(rows[name].to_numpy(dtype=float), len(steps)) for name in ("se", "df", "matters")}
    change = (
        pd.DataFrame(same)
        .rename(columns={"matters": "margin"})
        .assign(
            d_low=(steps - rows["down"].to_numpy()).ravel(), d_high=(steps + rows["up"].to_numpy()).ravel()
        )
    )
    told = verdicts.judge(change, confidence=confidence)
    moved = told["verdict"].isin(CHANGED).to_numpy().reshape(steps.shape)
    p = told["p"].to_numpy().reshape(steps.shape)
    q = np.array([verdicts.discovery_rate(row) for row in p])
    return moved, moved & (q <= 1 - confidence)


def _seen(rows: pd.DataFrame, confidence: float) -> tuple[np.ndarray, np.ndarray]:
    """Return which measures of the comparison rose or fell, and which of those stand among all."""
    moved = rows["verdict"].isin(CHANGED).to_numpy()
    return moved, moved & (rows["q"].to_numpy() <= 1 - confidence)


def _rows(
    beds: pd.DataFrame, drawn: tuple[np.ndarray, np.ndarray], confidence: float
) -> list[dict[str, Any]]:
    """Return the rows of the beds and of all beds together."""
    seen, bed = _seen(beds, confidence), beds["bed"].to_numpy()
    one = [
        _row(
            str(name),
            (seen[0][bed == name], seen[1][bed == name]),
            (drawn[0][:, bed == name], drawn[1][:, bed == name]),
        )
        for name in pd.unique(bed)
    ]
    return [*one, _row(ALL, seen, drawn)]


def _row(
    bed: str, seen: tuple[np.ndarray, np.ndarray], drawn: tuple[np.ndarray, np.ndarray]
) -> dict[str, Any]:
    """Return one row of the table."""
    (moved, stand), (by_luck, stand_by_luck) = (
        [part.sum(axis=-1) for part in pair] for pair in (seen, drawn)
    )
    row = {
        "bed": bed,
        "measures": len(seen[0]),
        "seen": int(moved),
        "expected_by_luck": float(by_luck.mean()),
        "chance_of_any": float((by_luck >= 1).mean()),
        "chance_of_as_many": float((by_luck >= moved).mean()),
        "seen_adjusted": int(stand),
        "chance_of_any_adjusted": float((stand_by_luck >= 1).mean()),
        "chance_of_as_many_adjusted": float((stand_by_luck >= stand).mean()),
    }
    return row | {"why": _why(row, len(by_luck))}


def _why(row: dict[str, Any], draws: int) -> str:
    """Return the sentence of a row."""
    start = (
        f"{row['seen']} of {present.counted(row['measures'], 'measure')} rose or fell. "
        "If nothing changed, luck would show "
        f"{present.number(row['expected_by_luck'], digits=2)} on average"
    )
    if row["seen"] == 0:
        return f"{start} and at least one in {_share(row['chance_of_any'], draws)}"
    middle = f"{start} and {row['seen']} or more in {_share(row['chance_of_as_many'], draws)}"
    if row["seen_adjusted"] == 0:
        return f"{middle}; none stands when it is counted how many were looked at"
    return (
        f"{middle}; {row['seen_adjusted']} stand when it is counted how many were looked at, which luck "
        f"would show in {_share(row['chance_of_as_many_adjusted'], draws)}"
    )


def _share(chance: float, draws: int) -> str:
    """Return a share of the draws in words that claim no more than was drawn."""
    if chance * draws < 1:
        return f"fewer than 1 of {draws} gardens"
    return f"{100 * chance:.{1 if chance < 0.095 else 0}f} of 100 gardens"
