"""Could this be luck? The same comparison, a thousand times over, in a garden where nothing changed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from soiltrend import composites, frames, present, verdicts
from soiltrend.compare.seasons import Comparison
from soiltrend.errors import SoiltrendError

CHANGED = (verdicts.ROSE, verdicts.FELL)
KIND = ["analyte", "method"]


@dataclass(frozen=True, eq=False)
class Luck:
    """How often luck alone would show what a comparison shows.

    Attributes
    ----------
    table : DataFrame
        ``what`` is counted or measured, ``seen`` in the comparison, ``of`` how many, ``by_luck`` the
        mean over gardens without any change, ``chance`` the share of those gardens in which luck
        showed as much or more, ``unit``, and ``why`` in words. The rows: beds and analytes called
        "rose" or "fell", analytes of the garden called so, and for each analyte the largest change
        of a bed, in half-widths of its noise band.
    times, seed : int
        Gardens drawn, and the seed they were drawn with.
    """

    table: pd.DataFrame
    times: int
    seed: int

    def __repr__(self) -> str:
        return present.plain(_title(self), self.table.drop(columns="why"))

    def _repr_html_(self) -> str:
        return present.page(_title(self), self.table)


def _title(result: Luck) -> str:
    return f"Could this be luck? {result.times} gardens in which nothing changed (seed {result.seed})"


def luck(comparison: Comparison, *, seed: int, times: int = 1000) -> Luck:
    """Return how often luck alone would show what a comparison shows.

    Parameters
    ----------
    comparison : Comparison
        From :func:`soiltrend.compare.compare`; its design and noise model are kept, its changes
        are replaced by none.
    seed : int
        The same seed gives the same answer.
    times : int
        Gardens to draw, 100 or more.

    Returns
    -------
    Luck

    Raises
    ------
    SoiltrendError
        When fewer than 100 gardens are asked for, or nothing could be compared.

    Notes
    -----
    What the day and the season add is drawn once per analyte and shared by its beds; analytes are
    drawn apart from each other, and the error of the noise model itself is drawn with its degrees of
    freedom. Limits and "held" are not drawn: a row is counted when its change leaves the noise band.

    Examples
    --------
    >>> from soiltrend.compare import compare
    >>> from soiltrend.simulate import simulate_garden
    >>> still = compare(simulate_garden(seed=5), before="spring 2022", after="spring 2024")
    >>> luck(still, seed=1).table["what"].head(2).tolist()
    ['beds and analytes that rose or fell', 'analytes of the garden that rose or fell']
    """
    if times < 100:
        raise SoiltrendError(f"{times} gardens are too few to tell of luck", remedy="Draw 100 or more")
    table = comparison.table[comparison.table["verdict"] != verdicts.NOT_COMPARABLE]
    beds, garden = (table[(table["bed"] == frames.GARDEN) == pooled] for pooled in (False, True))
    if beds.empty:
        raise SoiltrendError(f"nothing of {len(comparison.table)} rows could be compared",
                             remedy="Compare two seasons with the same method, laboratory and layer")
    kind = composites.codes(beds, KIND)
    change, guess = _drawn(beds, kind, np.random.default_rng(seed), times)
    width = np.abs(change) / _half(beds, comparison.confidence) / guess[:, kind]
    rows = [_counted("beds and analytes that rose or fell", beds, (width > 1).sum(axis=1), times)]
    if len(garden):
        at = _index(beds.groupby(kind)[KIND].first()).get_indexer(_index(garden))
        mean = np.stack([change[:, kind == code].mean(axis=1) for code in at], axis=1) / guess[:, at]
        out = (np.abs(mean) > _half(garden, comparison.confidence)).sum(axis=1)
        rows.append(_counted("analytes of the garden that rose or fell", garden, out, times))
    rows += [_largest(beds[kind == code], width[:, kind == code], times) for code in np.unique(kind)]
    return Luck(pd.DataFrame(rows), times, seed)


def _index(rows: pd.DataFrame) -> pd.MultiIndex:
    return pd.MultiIndex.from_frame(rows[KIND])


def _half(rows: pd.DataFrame, confidence: float) -> np.ndarray:
    """Return the half-width of each row's band on its analysis scale."""
    return np.asarray(stdtrit(rows["df"].to_numpy(), 0.5 + confidence / 2) * rows["se"].to_numpy())


def _drawn(beds: pd.DataFrame, kind: np.ndarray, rng: np.random.Generator,
           times: int) -> tuple[np.ndarray, np.ndarray]:
    """Return drawn changes of the beds, and by kind the factor by which the noise model errs."""
    count = kind.max() + 1
    df = beds["df"].groupby(kind).first().to_numpy()
    finite = np.where(np.isinf(df), 1.0, df)
    guess = np.where(np.isinf(df), 1.0, np.sqrt(rng.chisquare(finite, (times, count)) / finite))
    shared, variance = beds["shared"].to_numpy(), beds["se"].to_numpy() ** 2
    day = rng.standard_normal((times, count))[:, kind] * np.sqrt(shared)
    return day + rng.standard_normal((times, len(beds))) * np.sqrt(variance - shared), guess


def _counted(what: str, rows: pd.DataFrame, drawn: np.ndarray, times: int) -> dict[str, object]:
    """Return the row of a count."""
    seen, of = int(rows["verdict"].isin(CHANGED).sum()), len(rows)
    chance = float((drawn >= seen).mean())
    why = (f"{seen} of {of} {what}; with no change at all luck gives {drawn.mean():.1f} on average, and "
           f"{seen} or more in {_share(chance, times)}")
    return {"what": what, "seen": float(seen), "of": of, "by_luck": float(drawn.mean()), "chance": chance,
            "unit": "rows", "why": why}


def _largest(rows: pd.DataFrame, drawn: np.ndarray, times: int) -> dict[str, object]:
    """Return the row of an analyte's largest change."""
    name, seen = rows["analyte"].iloc[0], float(rows["in_noise"].abs().max())
    most = drawn.max(axis=1)
    chance = float((most >= seen).mean()) if np.isfinite(seen) else np.nan
    told = f"{seen:.2f} of its band; luck shows as much in {_share(chance, times)}"
    why = f"The largest change of {name} in {len(rows)} beds is {told}"
    if not np.isfinite(seen):
        why = f"All changes of {name} are hidden by the laboratory's limit"
    return {"what": f"largest change of {name} in a bed", "seen": seen, "of": len(rows),
            "by_luck": float(most.mean()), "chance": chance, "unit": "half-widths of the band", "why": why}


def _share(chance: float, times: int) -> str:
    """Return a share of gardens in words that do not claim more than the number drawn."""
    if chance == 0:
        return f"fewer than 1 of {times} gardens"
    return f"{100 * chance:.0f} of 100 gardens" if chance >= 0.1 else f"{100 * chance:.2g} of 100 gardens"
