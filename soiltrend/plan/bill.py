"""What to have ready, and what to beware of."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import pandas as pd

from soiltrend.materials import NUTRIENTS, warnings_of
from soiltrend.plan.ask import unread
from soiltrend.plan.bench import Bench
from soiltrend.plan.shed import Shed

Array: TypeAlias = np.ndarray

CAUTIONS = ["material", "bed", "caution", "about", "source"]
PURCHASE = ["material", "kg", "on_hand_kg", "to_buy_kg", "cost"]
OWN = "own"
LABEL = "Read its label for that and for what to beware of, and write it into materials.csv."
DEFER = (
    "These are estimates from a few tests. Local rules on nutrients and water, your laboratory's own advice "
    "and a licensed adviser go before them."
)

NO_AIM = "no aim"
"""What a caution is about that names measures without an aim."""

UNAIMED = (
    "Nothing is planned for these, for no aim is known for them by that method, and those of another method "
    "do not hold. Ask your laboratory for its own and write them under [aims] in garden.toml:"
)

LIMITS = "limits"
NOT_READ = (
    "In no test could the laboratory read {names}. Nothing is planned for it on that: too little and too "
    "much of it lie close together. Ask for a test that reads lower, or for one of the leaves."
)

SWEET = (
    "pH {pH:.1f} is above the {high:g} wanted for {crop}, and a plan never acidifies. st.sulphur_to_lower "
    "tells how much sulphur would, step by step, and what to beware of; another crop may be wiser."
)


def purchase(kg: Array, shed: Shed) -> pd.DataFrame:
    """Return the garden's total of each material, what is on hand, and what the rest costs.

    Parameters
    ----------
    kg : array (materials,)
        For all beds.
    shed : Shed
        The materials.
    """
    used = kg > 0
    rows = shed.rows[used]
    on_hand = rows["on_hand_kg"].to_numpy(dtype=float)
    to_buy = np.maximum(kg[used] - np.nan_to_num(on_hand), 0.0)
    price = rows["cost_per_kg"].to_numpy(dtype=float)
    table = pd.DataFrame(
        {
            "material": rows.index.to_numpy(), "kg": kg[used], "on_hand_kg": on_hand, "to_buy_kg": to_buy,
            "cost": np.where(to_buy > 0, to_buy * price, 0.0),
        }
    )  # fmt: skip
    return table[PURCHASE].sort_values("material").reset_index(drop=True)


def _unknown(row: pd.Series, beds: str) -> list[dict[str, str]]:
    """Return the caution of a material of the grower's own of which some contents are not known."""
    missing = [name for name in NUTRIENTS if name != "C" and pd.isna(row[name])]
    if row["origin"] != OWN or not missing:
        return []
    text = f"How much {', '.join(missing)} it holds is not known and counts for nothing here. {LABEL}"
    return [{"material": str(row.name), "bed": beds, "caution": text, "about": "the account",
             "source": "materials.csv"}]  # fmt: skip


def _unaimed(bench: Bench) -> list[dict[str, str]]:
    """Return which measures of which beds have no aim, so that nothing is planned for them."""
    found: dict[str, list[str]] = {}
    for plot in bench.plots:
        lacking = [
            f"{row['analyte']} by {row['method'] or 'a method not stated'}"
            for row, want in zip(plot.measures.to_dict("records"), plot.wants, strict=True)
            if not np.isfinite([want.low, want.ceiling]).any()
        ]
        if lacking and not plot.bed["check"]:
            found.setdefault(", ".join(lacking), []).append(str(plot.bed["bed"]))
    return [
        {"material": "", "bed": ", ".join(beds), "caution": f"{UNAIMED} {names}.", "about": NO_AIM,
         "source": "tables/aims.csv"} for names, beds in found.items()
    ]  # fmt: skip


def _unread(bench: Bench) -> list[dict[str, str]]:
    """Return which measures of which beds get nothing because no test has read them."""
    found: dict[str, list[str]] = {}
    for plot in bench.plots:
        rows = plot.measures[unread(plot)].to_dict("records")
        names = [f"{row['analyte']} ({row['qualifier']}{row['bound']:g} {row['unit']})" for row in rows]
        if names and not plot.bed["check"]:
            found.setdefault(", ".join(names), []).append(str(plot.bed["bed"]))
    return [
        {"material": "", "bed": ", ".join(beds), "caution": NOT_READ.format(names=names), "about": LIMITS,
         "source": "common practice"} for names, beds in found.items()
    ]  # fmt: skip


def _too_sweet(bench: Bench) -> list[dict[str, str]]:
    """Return which beds stand above the pH that their crop wants: a plan never acidifies."""
    rows = []
    for plot in bench.plots:
        crop = bench.rules.crops.get(str(plot.bed["bed"]), "")
        for at in np.flatnonzero(plot.measures["analyte"] == "pH"):
            middle, high = float(np.median(plot.left[:, at])), plot.wants[at].high
            if crop and middle > high and not plot.bed["check"]:
                text = SWEET.format(pH=middle, crop=crop, high=high)
                rows.append({"material": "", "bed": str(plot.bed["bed"]), "caution": text, "about": "pH",
                             "source": "tables/aims.csv"})  # fmt: skip
    return rows


def cautions(doses: pd.DataFrame, bench: Bench) -> pd.DataFrame:
    """Return the cautions of the materials used, those of the approach, and whom to ask.

    Parameters
    ----------
    doses : DataFrame
        The plan's doses.
    bench : Bench
        The materials and what is wanted.
    """
    rows = []
    for name in dict.fromkeys(doses["material"]):
        beds = ", ".join(dict.fromkeys(doses.loc[doses["material"] == name, "bed"]))
        for warning in warnings_of(bench.shed.rows.loc[name]).to_dict("records"):
            rows.append({"material": name, "bed": beds, "caution": warning["text"]}
                        | {"about": warning["about"], "source": warning["source"]})  # fmt: skip
        rows += _unknown(bench.shed.rows.loc[name], beds)
    against = {want.against for plot in bench.plots for want in plot.wants if want.against}
    rows += [
        {"material": "", "bed": "", "caution": text, "about": "the approach",
         "source": "tables/aims.csv"} for text in sorted(against)
    ]  # fmt: skip
    rows += _unaimed(bench) + _unread(bench) + _too_sweet(bench)
    rows.append(
        {"material": "", "bed": "", "caution": DEFER, "about": "the plan", "source": "common practice"}
    )
    return pd.DataFrame(rows, columns=CAUTIONS)
