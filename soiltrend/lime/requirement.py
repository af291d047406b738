"""Lime requirement bed by bed: every system that can read the bed's buffer, side by side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import composites, frames, present, units
from soiltrend.errors import SoiltrendError
from soiltrend.lime.dressings import dressings
from soiltrend.lime.fineness import efficiency, fineness_systems
from soiltrend.lime.systems import SHORT_TON, WEAK, lime_need, system_row, systems_of
from soiltrend.materials import limits, released

DEPTH_CM = 15.0
WHOLE = 100.0
TOP_PH = 14.0
"""Where the scale of pH ends."""

PER_HECTARE = units.factor("g/m2", "kg/ha")
PER_ACRE = units.factor("g/m2", "lb/acre") / SHORT_TON
COLUMNS = [
    "bed",
    "sampled",
    "lab",
    "system",
    "buffer",
    "pH",
    "reading",
    "target",
    "depth_cm",
    "g_per_m2",
    "kg_per_ha",
    "t_per_acre",
    "low",
    "high",
    "unit",
    "strength",
    "material",
    "material_g_per_m2",
    "material_kg_per_ha",
    "material_t_per_acre",
    "material_low",
    "material_high",
    "dressings",
    "split",
    "why",
    "source",
]
BESIDE = ("buffer pH", "CEC")
"""What says, beside a pH, how much lime moves it."""

SAMPLE = ["bed", "sampled", "lab"]
"""What a pH and the buffer beside it share."""

WEAK_FACTORS = (0.5, 2.0)
"""How far the estimate without a buffer may be off; by judgement: half to double."""


@dataclass(frozen=True, eq=False)
class LimeRequirement:
    """How much lime each bed needs, one row a system.

    Attributes
    ----------
    table : DataFrame
        bed, sampled, lab, system, buffer, pH, reading, target, depth_cm [cm]; g_per_m2, kg_per_ha and
        t_per_acre (short tons) of pure fine CaCO3; low and high [g/m2], the range over the
        systems and laboratories of the bed, or of the weak estimate; unit, strength ("measured", "weak" or
        "none"); material, material_g_per_m2, material_kg_per_ha and material_t_per_acre, with
        material_low and material_high [g/m2]; dressings (into how many the material is split),
        split (how much at a time, how far apart, by whose rule); why, source.
    target : float
        The pH wanted.
    material : str
        What is laid on; blank for pure CaCO3.
    """

    table: pd.DataFrame
    target: float
    material: str

    def __repr__(self) -> str:
        shown = ["bed", "system", "pH", "reading", "g_per_m2", "low", "high", "strength", "why"]
        return present.plain(self._title(), self.table[shown])

    def _repr_html_(self) -> str:
        return present.page(self._title(), self.table)

    def _title(self) -> str:
        of = f" and of {self.material}" if self.material else ""
        return f"Lime to pH {self.target:g}: g/m2 of pure fine CaCO3{of}, one row a system"


def _last(results: pd.DataFrame, *, hemisphere: str) -> pd.DataFrame:
    """Return what lime goes by of the last day on which each bed's pH was measured in water, of its layer.

    A test of which only the season or the year is known stands in the middle of it. What else was measured
    that day says nothing of the layer; a buffer or a capacity of another layer, or of another laboratory
    than a pH, is none of that pH.
    """
    sure = frames.in_time(results, hemisphere=hemisphere)
    sure = sure[(sure["qualifier"] == "") & (sure["bed"] != frames.GARDEN) & sure["sampled"].notna()]
    acid = composites.topsoil(sure[_in_water(sure)], by=["bed"])
    acid = acid[acid["sampled"] == acid.groupby("bed", sort=False)["sampled"].transform("max")]
    acid = composites.uppermost(acid, by=SAMPLE)
    same = acid[SAMPLE].drop_duplicates().assign(_top=acid["top_cm"].fillna(0.0))
    others = sure[sure["analyte"].isin(BESIDE)].merge(same, on=SAMPLE)
    others = others[others["top_cm"].isna() | (others["top_cm"] == others["_top"])]
    return pd.concat([acid, others.drop(columns="_top")], ignore_index=True)


def _in_water(rows: pd.DataFrame) -> pd.Series:
    """Return which rows are a pH that was measured in water, and say so."""
    return (rows["analyte"] == "pH") & rows["method"].str.startswith("water")


def _reading(rows: pd.DataFrame, analyte: str, method: str | None = None) -> float:
    """Return the middle of the values of an analyte, missing when there are none."""
    found = rows[rows["analyte"] == analyte]
    return float(
        found[found["method"] == method]["value"].median() if method is not None else found["value"].median()
    )


def _readings(rows: pd.DataFrame) -> list[tuple[str, str, float]]:
    """Return (system, buffer, reading) for every buffer of a bed; the capacity when there is none."""
    buffers = dict.fromkeys(rows.loc[rows["analyte"] == "buffer pH", "method"])
    found = [(s, b, _reading(rows, "buffer pH", b)) for b in buffers if b for s in systems_of(b)]
    capacity = _reading(rows, "CEC")
    return found or [(system, "", capacity) for system in systems_of("") if np.isfinite(capacity)]


def _outside(row: pd.Series, pH: float, reading: float, target: float) -> str:
    """Return which value lies outside what a system was published for, in words."""
    ends = (
        ("buffer pH" if row["buffers"] else "CEC", reading, row["reading_low"], row["reading_high"]),
        ("target", target, row["target_low"], row["target_high"]),
        ("pH", pH, row["pH_low"], WHOLE),
    )
    told = [
        f"{name} {value:g} lies outside {low:g} to {high:g}"
        for name, value, low, high in ends
        if not low <= value <= high
    ]
    return "none: " + "; ".join(told) + ", and nothing is drawn out beyond it"


def _why(row: pd.Series, need: float, *, pH: float, reading: float, target: float) -> str:
    """Return why a system gives what it gives."""
    if pH >= target:
        return f"pH {pH:g} is at the target or above: no lime"
    if np.isnan(need):
        return _outside(row, pH, reading, target)
    scaled = f"made for {row['region']}, {row['depth_cm']:g} cm and lime of {row['value']:g} %, scaled"
    return f"{row['words']}; {scaled}"


def _row(
    bed: str, rows: pd.DataFrame, found: tuple[str, str, float], target: float, depth: float
) -> dict[str, Any]:
    """Return the answer of one system for one bed."""
    system, buffer, reading = found
    row, pH = system_row(system), _reading(rows, "pH")
    need = float(lime_need(system, pH=pH, reading=reading, target=target, depth_cm=depth))
    ends = WEAK_FACTORS if row["strength"] == WEAK else (1.0, 1.0)
    return {
        "bed": bed, "sampled": rows["sampled"].iloc[0], "lab": rows["lab"].iloc[0], "system": system,
        "buffer": buffer, "pH": pH, "reading": reading, "target": target, "depth_cm": depth, "g_per_m2": need,
        "low": need * ends[0], "high": need * ends[1], "strength": row["strength"],
        "why": _why(row, need, pH=pH, reading=reading, target=target), "source": row["source"],
    }  # fmt: skip


def _without(bed: str, rows: pd.DataFrame, target: float, depth: float, why: str) -> dict[str, Any]:
    """Return the row of a bed for which nothing can be told."""
    told = {"bed": bed, "target": target, "depth_cm": depth, "system": "", "buffer": "", "source": ""}
    sampled, lab = (rows["sampled"].iloc[0], ", ".join(rows["lab"].unique())) if len(rows) else (pd.NaT, "")
    told |= {"lab": lab, "strength": "none", "why": why}
    return {**told, "sampled": sampled, "pH": _reading(rows, "pH")}


def _layer(rows: pd.DataFrame, depth_cm: float | None) -> float:
    """Return the layer to be limed: as asked, as sampled for the pH or what stands beside it, or 15 cm."""
    if depth_cm is not None:
        return depth_cm
    sampled = (rows["bottom_cm"] - rows["top_cm"].fillna(0.0)).dropna()
    return float(sampled.iloc[0]) if len(sampled) else DEPTH_CM


def _nothing(results: pd.DataFrame, bed: str, rows: pd.DataFrame) -> str:
    """Return why nothing can be told of a bed."""
    if len(rows):
        return "no buffer pH known here and no CEC on the last day"
    acid = results[(results["bed"] == bed) & (results["analyte"] == "pH")]
    unsaid = "the method of its pH is not stated, and lime goes by a pH in water"
    return unsaid if (acid["method"] == "").any() else "no pH in water"


def _effect(material: pd.Series, passing: Mapping[int, float] | None) -> tuple[float, float, float]:
    """Return what one part of a material is worth within a year in pure fine CaCO3: low, likely, high."""
    value = limits(material, quantity="CCE")
    if "release" not in material.index:
        raise SoiltrendError(
            f"'{material.get('material', material.name)}' does not say how fast it works",
            remedy="Take its row from st.known_materials(garden.materials), which holds that of its kind",
        )
    if value is None or value[1] <= 0:
        said = "is not known" if value is None else f"is {value[1]:g} %"
        raise SoiltrendError(
            f"the neutralising value of '{material.name}' {said}: it is no lime",
            file="materials.csv",
            remedy="Choose a lime, a shell or an ash; gypsum never raises pH",
        )
    if passing is None:
        grain = released(material, years=1)["CCE"]
    else:
        each = [efficiency(passing, system=system) for system in fineness_systems()]
        grain = (float(np.nanmin(each)), float(np.nanmedian(each)), float(np.nanmax(each)))
    low, likely, high = (v / WHOLE * g for v, g in zip(value, grain, strict=True))
    return low, likely, high


def _of_material(
    table: pd.DataFrame, material: pd.Series | None, passing: Mapping[int, float] | None
) -> pd.DataFrame:
    """Return the table with grams of the material for each answer."""
    low, likely, high = (np.nan,) * 3 if material is None else _effect(material, passing)
    grams = table["g_per_m2"] / likely
    split = [(np.nan, "") if material is None else dressings(each, material) for each in grams]
    return table.assign(
        material="" if material is None else str(material.name),
        material_g_per_m2=grams,
        material_kg_per_ha=grams * PER_HECTARE,
        material_t_per_acre=grams * PER_ACRE,
        material_low=table["low"] / high,
        material_high=table["high"] / low,
        dressings=[count for count, _ in split],
        split=[words for _, words in split],
    )


def _ranged(table: pd.DataFrame) -> pd.DataFrame:
    """Return the table with low and high over all systems of a bed, and the other units."""
    by_bed = table.groupby("bed", sort=False)
    return table.assign(
        low=by_bed["low"].transform("min"),
        high=by_bed["high"].transform("max"),
        kg_per_ha=table["g_per_m2"] * PER_HECTARE,
        t_per_acre=table["g_per_m2"] * PER_ACRE,
        unit="g/m2",
    )


def _typed(answers: list[dict[str, Any]]) -> pd.DataFrame:
    """Return answers as a table with every column there and in its type."""
    table = pd.DataFrame(answers).reindex(columns=COLUMNS)
    words = ["bed", "lab", "system", "buffer", "strength", "why", "source"]
    numbers = ["pH", "reading", "target", "depth_cm", "g_per_m2", "low", "high"]
    typed = table.astype(dict.fromkeys(numbers, "float") | dict.fromkeys(words, "str"))
    return typed.assign(sampled=pd.to_datetime(table["sampled"].astype("object")))


def lime_requirement(
    results: pd.DataFrame,
    *,
    target: float,
    material: pd.Series | None = None,
    passing: Mapping[int, float] | None = None,
    depth_cm: float | None = None,
    hemisphere: str = "",
) -> LimeRequirement:
    """Return how much lime each bed needs to reach a pH, by every system that can read its buffer.

    Parameters
    ----------
    results : DataFrame
        A tidy frame; each bed's last day with a pH that was measured in water, and says so, is used, with
        the buffer pH of that day, layer and laboratory. Without a buffer a weak estimate is made from
        CEC and pH, and marked so.
    target : float
        The pH wanted, in water.
    material : Series, optional
        A row of :func:`soiltrend.known_materials`: how much of it does the same within a year,
        by its neutralising value and its grind.
    passing : mapping of int to float, optional
        The material's sieve test: percent that passes each US mesh. Its range then comes from
        the fineness systems, which disagree.
    depth_cm : float, optional
        The layer to be limed [cm]; as sampled when not given.
    hemisphere : str
        "north" or "south", where the seasons of tests without a day stand; else as tests with a day tell.

    Returns
    -------
    LimeRequirement

    Raises
    ------
    SoiltrendError
        When the target is no pH, or the material does not neutralise acid, such as gypsum.
    FrameError
        When the frame is not tidy, or the hemisphere none.

    Notes
    -----
    Systems: tables/lime_systems.csv and lime_tables.csv. Where systems disagree, low and high
    are their range. A value outside a system's table gives none; nothing is extrapolated.

    Examples
    --------
    >>> same = {"bed": "East", "sampled": pd.Timestamp("2024-04-08"), "unit": "pH"}
    >>> frame = frames.results([
    ...     same | {"analyte": "pH", "method": "water 1:1", "value": 5.4},
    ...     same | {"analyte": "buffer pH", "method": "Sikora", "value": 6.5},
    ... ])
    >>> need = lime_requirement(frame, target=6.4, depth_cm=15.24)
    >>> need.table[["system", "t_per_acre"]].round(1).values.tolist()
    [['Oregon 2025', 1.8], ['Tri-State 1995', 2.5]]
    """
    frames.check(results)
    if not 0 < target <= TOP_PH:
        raise SoiltrendError(f"target = {target!r} is no pH", remedy="Give the pH wanted, such as 6.5")
    last = _last(results, hemisphere=hemisphere)
    answers: list[dict[str, Any]] = []
    for bed in dict.fromkeys(results["bed"]):
        rows = last[last["bed"] == bed]
        asked = [part for _, part in rows.groupby("lab", sort=False)]
        found = [
            _row(bed, part, one, target, _layer(part, depth_cm)) for part in asked for one in _readings(part)
        ]
        nothing = _without(bed, rows, target, _layer(rows, depth_cm), _nothing(results, bed, rows))
        answers += found or [nothing]
    whole = _of_material(_ranged(_typed(answers)), material, passing)
    return LimeRequirement(whole[COLUMNS], float(target), "" if material is None else str(material.name))
