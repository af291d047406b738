"""One formula over all dates: the laboratory's own sums step back where they were recomputed."""

from __future__ import annotations

import pandas as pd

from soiltrend import frames
from soiltrend.exchange.sums import OWN


def recomputed(results: pd.DataFrame) -> pd.DataFrame:
    """Return the frame without the laboratory's own sums and shares of samples that have computed ones.

    A laboratory's exchange capacity and saturations are arithmetic on the cations it measured,
    and laboratories change their arithmetic. Beside the computed rows they say the same thing
    twice. Measured acidity stays: it is a measurement.

    Parameters
    ----------
    results : DataFrame
        What :func:`soiltrend.exchange` gave.

    Examples
    --------
    >>> same = {"bed": "East", "sample": "7", "analyte": "CEC", "unit": "cmol/kg"}
    >>> rows = frames.results([{**same, "value": 11.2, "source": "spring.csv"},
    ...                        {**same, "value": 11.0, "source": frames.COMPUTED}])
    >>> recomputed(rows)["value"].tolist()
    [11.0]
    """
    ours = results["source"] == frames.COMPUTED
    columns = [*frames.COMPOSITE, "analyte"]
    keys = pd.MultiIndex.from_frame(
        results[columns].fillna({"sampled": pd.Timestamp(0), "top_cm": -1.0, "bottom_cm": -1.0})
    )
    arithmetic = results["analyte"].isin([name for name in OWN if name != "acidity"])
    return results[ours | ~(arithmetic & keys.isin(keys[ours]))].reset_index(drop=True)
