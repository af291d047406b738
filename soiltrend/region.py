"""Many gardens: one question put to each of them, in memory that a chunk fills and a region does not.

What a question learns from the rows it is given, it learns of one garden: ``q`` is adjusted over the beds and
analytes of a garden, its noise comes from its own duplicates, its pooled rows from its own beds. So gardens
are independent families, and a frame of many gardens may be cut anywhere between two of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import frames
from soiltrend.errors import FrameError, SoiltrendError

Question = Callable[[pd.DataFrame], Any]
"""What takes a tidy frame and gives a table, or a result that carries one."""


def by_garden(
    results: pd.DataFrame | Iterable[pd.DataFrame], *, ask: Question, garden: str = "garden"
) -> pd.DataFrame | Iterator[pd.DataFrame]:
    """Put one question to each garden of a frame, or of a stream of chunks of one.

    Parameters
    ----------
    results : DataFrame, or iterable of DataFrame
        Tidy frames with a column more that names the garden. A stream may be cut anywhere, but each garden's
        rows follow one another.
    ask : callable
        Such as ``st.trend``, or ``lambda rows: st.compare(rows, before="2022", after="2024")``. It is given
        the rows of one garden at a time, with the column that names it.
    garden : str
        Name of that column.

    Returns
    -------
    DataFrame, or iterator of DataFrame
        The tables of the gardens one after another, the garden's name first; a frame gives one table, a
        stream a stream of tables, of which no more is held than a chunk and the longest garden. ``q``, noise
        and pooled rows are each garden's own. A garden to which the question has no answer, such as one that
        lacks the season asked for, has one row, with the reason in ``why``.

    Raises
    ------
    FrameError
        When there is no column of that name, a row bears no garden, a garden comes back after another
        in a stream, or a garden's frame is not tidy.

    Notes
    -----
    An engine asks the parts of a frame that is cut by whole gardens; with dask (``pip install
    "soiltrend[region]"``)::

        parts = many.shuffle("garden").to_delayed()
        tables = dask.compute(*[dask.delayed(st.by_garden)(part, ask=st.trend) for part in parts])

    To hold the false discoveries of all gardens together instead, adjust their ``p`` once more:
    :func:`soiltrend.discovery_rate`.

    Examples
    --------
    >>> rows = [{"garden": name, "bed": "East", "analyte": "pH", "unit": "pH", "sampled": f"{year}-04-03",
    ...          "value": value}
    ...         for name in ("Rook", "Wren") for year, value in ((2021, 6.1), (2023, 6.3), (2024, 6.4))]
    >>> by_garden(frames.results(rows), ask=lambda part: part.groupby("bed", as_index=False)["value"].mean())
      garden   bed     value
    0   Rook  East  6.266667
    1   Wren  East  6.266667
    """
    if isinstance(results, pd.DataFrame):
        return _table(results, ask, garden)
    return (_table(part, ask, garden) for part in _whole(results, garden))


def _table(rows: pd.DataFrame, ask: Question, garden: str) -> pd.DataFrame:
    """Return the tables of all gardens of a frame."""
    _check(rows, garden)
    code, names = pd.factorize(rows[garden])
    order = np.argsort(code, kind="stable")
    parts = np.split(order, np.cumsum(np.bincount(code, minlength=len(names)))[:-1])
    tables = [_one(rows.iloc[part], ask, garden) for part in (parts if len(rows) else [order])]
    return pd.concat(tables, ignore_index=True)


def _one(rows: pd.DataFrame, ask: Question, garden: str) -> pd.DataFrame:
    """Return the table of one garden, its name first."""
    name = rows[garden].iloc[0] if len(rows) else ""
    try:
        answer = ask(rows.reset_index(drop=True))
    except FrameError as error:
        raise FrameError(
            error.problem, file=error.file, place=f"garden '{name}'", remedy=error.remedy
        ) from error
    except SoiltrendError as error:
        answer = pd.DataFrame({"bed": [frames.GARDEN], "why": [str(error)]})
    table = answer if isinstance(answer, pd.DataFrame) else answer.table
    table = table.drop(columns=garden, errors="ignore")
    table.insert(0, garden, pd.Series([name] * len(table), index=table.index, dtype="str"))
    return table


def _whole(chunks: Iterable[pd.DataFrame], garden: str) -> Iterator[pd.DataFrame]:
    """Yield the rows of a stream cut anew, so that no garden is cut through."""
    held: list[pd.DataFrame] = []
    closed: set[str] = set()
    for chunk in chunks:
        _check(chunk, garden)
        if not len(chunk):
            continue
        names = chunk[garden].to_numpy()
        start = len(names) - int(np.argmin(np.append(names[::-1] == names[-1], False)))
        done = [*held, chunk.iloc[:start]] if start or (held and held[0][garden].iloc[0] != names[-1]) else []
        if done:
            held = []
            yield _closed(done, closed, garden)
        held.append(chunk.iloc[start:])
    if held:
        yield _closed(held, closed, garden)


def _closed(parts: list[pd.DataFrame], closed: set[str], garden: str) -> pd.DataFrame:
    """Return the rows of whole gardens as one frame, and refuse a garden that was done before."""
    rows = pd.concat(parts)
    new = set(rows[garden].unique())
    for name in new & closed:
        raise FrameError(
            f"garden '{name}' comes back after another garden",
            remedy="Sort the rows by garden before they are cut, or give one frame",
        )
    closed |= new
    return rows


def _check(rows: object, garden: str) -> None:
    """Refuse what is no frame, or does not name the garden of each row."""
    if not isinstance(rows, pd.DataFrame):
        raise FrameError(
            f"a chunk is {type(rows).__name__} {str(rows)[:40]!r} and no pandas DataFrame",
            remedy="Give a frame or an iterable of frames; an engine's parts are asked one by one",
        )
    if garden not in rows:
        raise FrameError(
            f"column '{garden}' is missing",
            remedy="It names the garden of each row, whose own noise and family of tests are used",
        )
    blank = rows[garden].isna() | (rows[garden] == "")
    if blank.any():
        raise FrameError(f"row {rows.index[blank.to_numpy()][0]} bears no garden in column '{garden}'")
