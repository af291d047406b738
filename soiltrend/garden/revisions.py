"""One sample in two files: printed again, or revised by a later edition of the same report.

Files that are the same to the byte are set aside before they are read. What is left is the
same sample (laboratory, label, bed, day and layer) in two files that differ. A value printed
twice is kept once. A later edition of a report, by its number and the day it bears, replaces
the values it changed. Where nothing tells which of two values is the later, neither is used.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
import pandas as pd

from soiltrend import frames
from soiltrend.reading.reasons import headed

SAMPLE = ("lab", "sample", "bed", "sampled", "season", "top_cm", "bottom_cm")
"""Columns that name one sample of one laboratory; the season counts where there is no day."""

MEASURED = ("analyte", "method", "unit")
SAME = 1e-6
"""Relative difference up to which two values are the same number printed twice."""

Finished = Mapping[str, pd.Timestamp | None]


@dataclass(frozen=True, eq=False)
class Editions:
    """What is left of the results when every value stands there once.

    Attributes
    ----------
    results, set_aside : DataFrame
        Together one row for each row given.
    notes, asks : tuple of str
        What was kept twice, and the lines that would settle what could not be told.
    """

    results: pd.DataFrame
    set_aside: pd.DataFrame
    notes: tuple[str, ...] = ()
    asks: tuple[str, ...] = ()


@dataclass(eq=False)
class _Talk:
    """Why rows are set aside, and what there is to say and to ask."""

    gone: dict[int, str] = field(default_factory=dict)
    open: dict[int, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    asks: dict[str, list[str]] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class _Pair:
    """The values that two files share of one sample, row for row."""

    one: pd.DataFrame
    two: pd.DataFrame

    @property
    def same(self) -> np.ndarray:
        """Whether each value is the same in both."""
        first, second = self.one["value"].to_numpy(), self.two["value"].to_numpy()
        near = np.abs(first - second) <= SAME * np.maximum(np.abs(first), np.abs(second))
        return np.asarray(near & (self.one["qualifier"].to_numpy() == self.two["qualifier"].to_numpy()))

    def told(self, column: str) -> tuple[str, str]:
        """Return the text of a column in each of the two files."""
        return str(self.one[column].iloc[0]), str(self.two[column].iloc[0])


def _numbered(results: pd.DataFrame) -> pd.DataFrame:
    """Return the results with a number for the sample and one for what was measured on it."""
    season = results["season"].where(results["sampled"].isna(), "")
    out = results.reset_index(drop=True).assign(season=season.to_numpy())
    out["at_sample"] = out.groupby(list(SAMPLE), dropna=False, sort=False).ngroup()
    keys = ["at_sample", *MEASURED]
    out["turn"] = out.groupby([*keys, "source"], sort=False).cumcount()
    out["at_measure"] = out.groupby([*keys, "turn"], sort=False).ngroup()
    return out.assign(row=out.index)


def _shared(results: pd.DataFrame) -> pd.DataFrame:
    """Return the rows whose measurement stands in more than one file."""
    rows = _numbered(results if len(results["source"].unique()) > 1 else results.head(0))
    return rows[rows["at_measure"].duplicated(keep=False)]


def _pairs(rows: pd.DataFrame, talk: _Talk) -> Iterator[_Pair]:
    """Return the pairs of files that share values of one sample; values replaced meanwhile are left out."""
    for names in combinations(sorted(rows["source"].unique()), 2):
        left = rows[[row not in talk.gone for row in rows["row"]]]
        one, two = (left[left["source"] == name].set_index("at_measure") for name in names)
        both = one.index.intersection(two.index)
        if len(both):
            yield _Pair(one.loc[both], two.loc[both])


def _later(pair: _Pair, finished: Finished) -> int | None:
    """Return which of two editions of one report is the later, 0 or 1, or None when it is not told."""
    one, two = pair.told("report")
    days = [finished.get(source) for source in pair.told("source")]
    if one != two or not one or days[0] is None or days[1] is None or days[0] == days[1]:
        return None
    return int(days[1] > days[0])


def _printed_again(pair: _Pair, which: np.ndarray, talk: _Talk) -> None:
    """Set the values of the second file aside that the first one holds too."""
    one, two = pair.told("source")
    reason = f"printed again in {two}: the same value was read from {one}"
    talk.gone |= dict.fromkeys(pair.two["row"][which].tolist(), reason)


def _revised(pair: _Pair, later: int, finished: Finished, talk: _Talk) -> None:
    """Set what the earlier edition says aside: its values were changed, or are printed again."""
    old, new = (pair.one, pair.two) if later else (pair.two, pair.one)
    source = pair.told("source")[later]
    edition = f"{source}, the edition of {finished[source]:%Y-%m-%d} of report {pair.told('report')[0]}"
    for at, same, text in zip(old["row"].tolist(), pair.same, new["reported_value"], strict=True):
        talk.gone[at] = (
            f"printed again in {edition}" if same else f"revised by {edition}: it says {text} there"
        )


def _asked(pair: _Pair, talk: _Talk) -> None:
    """Set both values aside where they differ and nothing tells which is the later."""
    remedy = (
        "which of the two holds? Say in a .toml beside each of the two files which report it is and when "
        'the laboratory issued it (report = "...", reported = "2024-05-02"): of one report the later '
        "edition replaces the earlier. If they are samplings of different days, give each file its own day "
        'there (sampled = "2024-04-12")'
    )
    differs = ~pair.same
    for mine, other in ((pair.one, pair.two), (pair.two, pair.one)):
        texts = zip(
            mine["row"][differs], other["source"][differs], other["reported_value"][differs], strict=True
        )
        talk.open |= {
            at: f"{source} gives {text} for the same sample; {remedy}" for at, source, text in texts
        }
    for source, report in zip(pair.told("source"), pair.told("report"), strict=True):
        lines = [*([] if report else ['report = "its number"']), 'reported = "2024-05-02"']
        talk.asks[source] = headed(lines, source)


def _apart(pair: _Pair) -> bool:
    """Return whether the files hold two measurements: of two reports, or of samples that nothing names."""
    (one, two), row = pair.told("report"), pair.one.iloc[0]
    if one and two:
        return one != two
    return not row["sample"] or not (row["season"] or pd.notna(row["sampled"]))


def _settle(pair: _Pair, finished: Finished, talk: _Talk) -> None:
    """Decide what two files say of one sample."""
    later = _later(pair, finished)
    if later is not None:
        _revised(pair, later, finished, talk)
    elif pair.same.all():
        _printed_again(pair, pair.same, talk)
    elif _apart(pair):
        name, files = pair.told("sample")[0] or pair.told("bed")[0], " and ".join(pair.told("source"))
        talk.notes.append(
            f"{files} both hold values of '{name}' that differ; they are kept as two measurements"
        )
    else:
        _printed_again(pair, pair.same, talk)
        _asked(pair, talk)


def settle(results: pd.DataFrame, finished: Finished) -> Editions:
    """Return the results with every value once.

    Parameters
    ----------
    results : DataFrame
        A tidy frame of several files, in the garden's own beds and layers.
    finished : mapping of str to Timestamp or None
        When the laboratory issued each file, by its source; None where nothing tells.

    Returns
    -------
    Editions
        Values of one sample that two files share are kept once when they are the same. When
        some differ, the later of two editions of one report number replaces the earlier;
        reports of different numbers are two measurements and both are kept; else the values
        that differ are set aside in both files, with the question.

    Examples
    --------
    >>> row = {"lab": "Hill", "sample": "7", "bed": "East", "sampled": "2024-04-12", "analyte": "K",
    ...        "unit": "mg/kg", "value": 120.0, "reported_value": "120", "report": "A-17"}
    >>> two = frames.results([row | {"source": "a.csv"}, row | {"source": "b.csv", "value": 102.0}])
    >>> days = {"a.csv": pd.Timestamp("2024-05-02"), "b.csv": pd.Timestamp("2024-05-09")}
    >>> settle(two, days).results["source"].tolist()
    ['b.csv']
    """
    talk = _Talk()
    for _, rows in _shared(results).groupby("at_sample", sort=False):
        for pair in _pairs(rows, talk):
            _settle(pair, finished, talk)
    why = {**talk.open, **talk.gone}
    out = results.reset_index(drop=True)
    aside = out.loc[sorted(why)]
    aside = aside.assign(label=aside["analyte"], text=aside["reported_value"], reason=aside.index.map(why))
    kept = out.drop(index=aside.index).reset_index(drop=True)
    left = set(talk.open) - set(talk.gone)
    asks = tuple(line for lines in talk.asks.values() for line in lines) if left else ()
    return Editions(kept, frames.set_aside(aside[list(frames.SET_ASIDE)]), tuple(talk.notes), asks)
