"""What is printed from a sampling plan: labels for the bags, a card for the pocket, lines for samples.csv."""

from __future__ import annotations

import pandas as pd

from soiltrend.present import Listing, layer
from soiltrend.sampling.plan import SamplingPlan

BLANK = "______"


def bag_labels(plan: SamplingPlan) -> Listing:
    """Return what is written on each bag: no more than the laboratory should know.

    Returns
    -------
    Listing
        Columns bag, sampled, layer. No bed is named, so that the hidden duplicate looks like the rest.
    """
    rows = plan.table
    table = pd.DataFrame({"bag": rows["bag"], "sampled": rows["date"], "layer": _layers(rows)})
    return Listing(f"{len(rows)} bags, {plan.season}", table)


def field_card(plan: SamplingPlan) -> Listing:
    """Return the card for the pocket: bed by bed what to take, with room for what is found.

    Returns
    -------
    Listing
        Columns bed, take (with what is warned of about the layer), bag, and blanks for the day, the moisture
        and a remark. It names the duplicate's true bed: it stays at home.
    """
    rows = plan.table.sort_values(["bed", "duplicate_of", "bag"])
    layer_told = plan.warnings[plan.warnings["about"] == "layer"]
    mind = layer_told.groupby("bed")["warning"].agg(lambda texts: "; " + "; ".join(texts)).to_dict()
    take = [
        f"{row['cores']} cores, {where}" + (f", surface {row['surface']}" if row["surface"] else "")
        + mind.get(row["bed"], "")
        if not row["duplicate_of"]
        else f"a second bag from the bucket of {row['duplicate_of']}"
        for row, where in zip(rows.to_dict("records"), _layers(rows), strict=True)
    ]
    table = pd.DataFrame(
        {
            "bed": rows["bed"],
            "take": take,
            "bag": rows["bag"],
            "day": BLANK,
            "moisture": BLANK,
            "remark": BLANK,
        }
    )
    day = rows["date"].iloc[0]
    return Listing(
        f"{plan.garden}: {plan.season}, {day:%A} {day:%Y-%m-%d} or near it, all beds on one day",
        table.reset_index(drop=True),
    )


def sample_rows(plan: SamplingPlan) -> pd.DataFrame:
    """Return the lines that the plan adds to ``samples.csv``; moisture and note stay to be filled in.

    Parameters
    ----------
    plan : SamplingPlan
        What :func:`soiltrend.sampling_plan` gave.

    Returns
    -------
    DataFrame
        One row a bag, with the headings of ``samples.csv``: layers in cm, days as 2024-04-12.
    """
    rows = plan.table
    return pd.DataFrame(
        {
            "sample": rows["bag"],
            "bed": rows["bed"],
            "sampled": rows["date"].dt.strftime("%Y-%m-%d"),
            "top_cm": rows["top_cm"],
            "bottom_cm": rows["bottom_cm"],
            "cores": rows["cores"],
            "duplicate_of": rows["duplicate_of"],
            "surface": rows["surface"],
            "moisture": "",
            "days_since_dressing": rows["days_since_dressing"].astype("Int64"),
            "note": "",
        }
    )


def _layers(rows: pd.DataFrame) -> list[str]:
    return [layer(top, bottom) for top, bottom in zip(rows["top_cm"], rows["bottom_cm"], strict=True)]
