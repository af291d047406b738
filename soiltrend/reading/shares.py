"""Columns of "%" that prove to be shares of the exchange capacity: they sum to a hundred."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from soiltrend.reading import answers as answering
from soiltrend.reading.answers import Answers
from soiltrend.reading.figures import Numbers
from soiltrend.reading.gather import Found
from soiltrend.reading.meaning import ASKS_SHARE, Meaning

WHOLE = (97.0, 103.0)
"""Percent between which shares of one whole sum, each rounded to a tenth or a whole percent."""

FEWEST = 3
MOST_OF = 0.9
"""Share of the samples whose columns must sum to the whole."""


def _open_questions(meanings: Sequence[Meaning]) -> dict[int, str]:
    """Return the meanings that may be a share or a percentage by mass, with their analytes."""
    return {code: one.analyte for code, one in enumerate(meanings) if one.reason.startswith(ASKS_SHARE)}


def proven(found: Found, numbers: Numbers, codes: np.ndarray, meanings: Sequence[Meaning]) -> list[str]:
    """Return the labels of "%" columns that sum to a hundred in nearly every sample of a wide table.

    Parameters
    ----------
    found : Found
        All values as text.
    numbers : Numbers
        Their numbers.
    codes, meanings : array of int, sequence of Meaning
        What each value means so far.

    Notes
    -----
    Percentages by mass of calcium, magnesium and potassium never sum to a hundred, so that
    the sum is a proof and not a guess. Without a column for acidity, sour soils sum to less
    and the question stays open.
    """
    asked = _open_questions(meanings)
    ions = set(asked.values())
    if len(ions) < FEWEST or "Ca" not in ions or len(asked) != len(ions):
        return []
    at = np.flatnonzero(np.isin(codes, list(asked)) & (found.rows >= 0) & np.isfinite(numbers.value))
    if not len(at):
        return []
    _, rows = np.unique(found.rows[at], return_inverse=True)
    total = np.bincount(rows, weights=numbers.value[at])
    fits = (total >= WHOLE[0]) & (total <= WHOLE[1])
    if fits.mean() < MOST_OF:
        return []
    label = found.columns["label"]
    return sorted({str(label.words[code]) for code in np.unique(label.codes[at]).tolist()})


def answered(answers: Answers, labels: Sequence[str]) -> Answers:
    """Return the answers with the proven labels among them."""
    return replace(answers, units={**{answering.plain(label): answering.SATURATION for label in labels},
                                   **answers.units})
