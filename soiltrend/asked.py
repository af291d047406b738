"""Why a number moved between the two tests that lie farthest apart, when the reader has not said which."""

from __future__ import annotations

import pandas as pd

from soiltrend import frames
from soiltrend.exchange import exchange_gaps
from soiltrend.garden import Garden
from soiltrend.latest import Pair, latest_pair
from soiltrend.prepare import garden_noise, prepared
from soiltrend.present import Listing
from soiltrend.why import Carbon, WhyCEC, WhyShare, carbon, why_cec, why_share

SAYS = {"CEC": ("CEC",), "carbon": ("OM", "TOC", "total C")}
"""Measures of which two comparable tests are needed, by question; any other is a share by its name."""

REASONS = 2
"""Reasons given why no exchange capacity can be computed, the commonest first."""


def why_latest(
    garden: Garden, *, question: str = "CEC", asked: Pair = ("", ""), bed: str = ""
) -> WhyCEC | WhyShare | Carbon | Listing:
    """Answer a question about the two seasons asked for, or else the two farthest apart that can answer it.

    Parameters
    ----------
    garden : Garden
        What :func:`soiltrend.open_garden` gave.
    question : str
        "CEC" (:func:`soiltrend.why_cec`), "carbon" (:func:`soiltrend.carbon`), or the cation whose share
        of the exchange capacity moved, such as "K" (:func:`soiltrend.why_share`).
    asked : tuple of str
        Before and after; two empty texts leave the choice.
    bed : str
        One bed; all when left empty.

    Returns
    -------
    WhyCEC, WhyShare, Carbon or Listing
        An empty listing that says so where no two tests can answer.

    Raises
    ------
    SoiltrendError
        As for the question asked.
    """
    results = prepared(garden)
    about = SAYS.get(question, (f"{question} saturation",))
    rows = results[results["analyte"].isin(about)]
    if question != "carbon":  # what a laboratory prints of it cannot be taken apart
        rows = rows[rows["source"] == frames.COMPUTED]
    rows = rows[rows["bed"] == bed] if bed else rows
    before, after = asked if any(asked) else latest_pair(rows, longest=True, samples=garden.samples)
    if not before or not after:
        title = _nothing(garden, rows, about=about, bed=bed)
        return Listing(title, pd.DataFrame(columns=["bed", "part", "change"]))
    noise = garden_noise(garden, results=results)
    one = bed or None
    if question == "CEC":
        return why_cec(garden, bed=one, before=before, after=after, noise=noise)
    if question == "carbon":
        return carbon(garden, bed=one, before=before, after=after, noise=noise)
    return why_share(garden, bed=one, before=before, after=after, cation=question, noise=noise)


def _nothing(garden: Garden, rows: pd.DataFrame, *, about: tuple[str, ...], bed: str) -> str:
    """Return why nothing can be taken apart: no sums and the reason, or no two that can be compared."""
    results = garden.results[garden.results["bed"] == bed] if bed else garden.results
    reasons = exchange_gaps(results, acidity=garden.acidity)["reason"].value_counts().index
    if rows.empty and len(reasons) and about != SAYS["carbon"]:
        why = f"No exchange capacity can be computed ({'; '.join(reasons[:REASONS])})"
    else:
        why = f"No two tests can be compared that tell of {' or '.join(about)}"
    return f"{why}: nothing to take apart"
