"""A garden's results made ready for questions: derived rows added, slips questioned, sums by one formula."""

from __future__ import annotations

from weakref import WeakKeyDictionary

import pandas as pd

from soiltrend.exchange import exchange, exchange_gaps, questioned, ratios, recomputed
from soiltrend.garden import Garden
from soiltrend.noise import Noise, noise_model
from soiltrend.present import Listing, counted, grouped

_KEPT: WeakKeyDictionary[Garden, dict[bool, pd.DataFrame]] = WeakKeyDictionary()
"""What was prepared of each garden, without ratios and with them."""


def prepared(garden: Garden, *, with_ratios: bool = False) -> pd.DataFrame:
    """Return a garden's results with what can be computed from them.

    In this order: exchange capacity and saturations by the formula that ``garden.toml`` names
    (:func:`soiltrend.exchange`), figures that their own report contradicts questioned
    (:func:`soiltrend.questioned`), the laboratory's own sums stepped back where they were
    recomputed (:func:`soiltrend.recomputed`), and, if asked for, ratios
    (:func:`soiltrend.ratios`).

    Parameters
    ----------
    garden : Garden
        What :func:`soiltrend.open_garden` gave.
    with_ratios : bool
        Add the ratios of ``tables/ratios.csv``.

    Returns
    -------
    DataFrame
        A tidy frame. A garden is frozen: what was prepared of it once is kept while it lives, and every
        call gives a frame of its own.
    """
    kept = _KEPT.setdefault(garden, {})
    if False not in kept:
        kept[False] = recomputed(questioned(exchange(garden.results, acidity=garden.acidity)))
    if with_ratios and True not in kept:
        kept[True] = questioned(ratios(kept[False]))
    own = {"hemisphere": garden.hemisphere} if "hemisphere" in garden.results else {}
    return kept[with_ratios].assign(**own)


def gaps(garden: Garden) -> Listing:
    """Return the samples for which no exchange capacity can be computed, one row a reason.

    Returns
    -------
    Listing
        Columns reason, rows (how many samples), bed, season, lab.
    """
    found = exchange_gaps(garden.results, acidity=garden.acidity)
    title = f"{counted(len(found), 'sample')} without a computed exchange capacity"
    return grouped(found, by="reason", listed=("bed", "season", "lab"), title=title)


def garden_noise(garden: Garden, *, results: pd.DataFrame) -> Noise:
    """Return the noise model of a garden: its tables, its own duplicates, and what garden.toml states.

    Parameters
    ----------
    garden : Garden
        Its sampling record tells which bags are duplicates.
    results : DataFrame
        Its results, as :func:`prepared` gave them.

    Examples
    --------
    >>> from pathlib import Path
    >>> from soiltrend.garden import open_garden
    >>> garden = open_garden(Path(__file__).parents[1] / "data_demo" / "oxmarrow-steps")
    >>> bool((garden_noise(garden, results=garden.results).table["splits"] > 0).any())
    True
    """
    return noise_model(results, samples=garden.samples, overrides=garden.settings.get("noise"))
