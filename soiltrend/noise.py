"""How far a result moves by itself: the noise of one soil test, in parts.

The variance of one result, on the scale on which it is even (:mod:`soiltrend.scales`), is ::

    laboratory^2 + preparation^2 + between_cores^2 / cores

Three terms stand beside it. ``occasion`` is shared by everything taken on one day and measured
in one batch (weather, moisture, the corer, the batch), so more beds do not average it away.
``season`` is the usual swing between spring and autumn. ``lab`` is the difference between two
laboratories; it is for information, because nothing is compared across laboratories.

Defaults come from ``tables/noise.csv``, with degrees of freedom that say how much the table is
trusted. The garden's own duplicates move them: two bags split from one bucket tell of
laboratory and preparation, two separate samples of one bed and day tell of the whole.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import composites, frames, present, scales, swing, tables, vocabulary
from soiltrend.chances import fdtrc
from soiltrend.errors import SoiltrendError

KEY = ["analyte", "method"]
PARTS = ["laboratory", "preparation", "between_cores"]
TERMS = [*PARTS, "occasion", "season", "lab"]
COUNTS = ["relative", "cores", "df"]
MARGINS = ["margin", "margin_relative", "years"]
SETTABLE = ("sd", *TERMS, *COUNTS, *MARGINS)
NOT_ZERO = ("sd", "cores", "df", "margin")
COLUMNS = ["analyte", "method", "scale", "unit", "sd", *PARTS, "cores", "relative", "occasion", "season",
           "lab", "df", "splits", "repeats", *MARGINS, "source", "evidence", "why"]
SWING = swing.OWN[1:]

SHARED = 0.0
"""Correlation of the errors of two analytes of one extract, for ratios of them. Judgement: it is
above 0 in truth, and 0 keeps the band on the wide side; a garden's duplicates correct it."""

OVERRULE_DF = 10
"""Duplicates needed before they may replace the table instead of being averaged with it."""

OVERRULE_P = 0.01
"""How unlikely such unlike duplicates must be under the table before they replace it. Duplicates that
agree too well never do: a laboratory's rounding makes them agree."""

_LOOKUP = {scales.LOG: "(log)", scales.PLAIN: "(plain)", scales.SHARE: "(share)"}
_KIND = {scales.LOG: "share of the value", scales.SHARE: "log of the odds"}


@dataclass(frozen=True, eq=False)
class Noise:
    """A noise model: one row per analyte and method, on the analysis scale.

    Attributes
    ----------
    table : DataFrame
        ``analyte, method, scale, unit, sd`` (one composite of ``cores`` cores), its parts
        ``laboratory, preparation, between_cores, cores``, ``relative`` (where larger, the sd is
        this share of the value), ``occasion, season, lab, df``, ``splits`` and ``repeats``
        (degrees of freedom that duplicates gave), ``margin`` (the change that matters),
        ``years`` (before a headline), ``source, evidence, why``. On the log scale an sd of 0.1
        is 10 % of the value.
    composites : DataFrame
        ``sample, sampled, bed, parent, cores``: the sampling record, by which a split is averaged
        with its parent.
    overrides : dict
        What the grower stated instead of the table.
    swings : DataFrame
        The garden's own swings between seasons, where it has two years or more of both: ``analyte,
        method, lab, top_cm, bottom_cm, first, second, swing`` (second less first, on the analysis scale),
        ``sd`` (what is left unknown of it), ``n_first, n_second`` (occasions).

    Examples
    --------
    >>> noise_model().of(pd.DataFrame({"analyte": ["K"], "method": ["Olsen"]}))["sd"].round(3).tolist()
    [0.1]
    """

    table: pd.DataFrame
    composites: pd.DataFrame
    overrides: dict[str, dict[str, float]]
    swings: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=[*KEY, *SWING]))

    def of(self, rows: pd.DataFrame) -> pd.DataFrame:
        """Return the noise of each row by its analyte and method, with the index of ``rows``.

        A method the model does not hold is looked up in the table of defaults.
        """
        code = composites.codes(rows, KEY)
        wanted = rows[KEY].drop_duplicates()
        table, at = self.table, _index(self.table).get_indexer(_index(wanted))
        missing = at < 0
        if missing.any():
            at[missing] = len(table) + np.arange(missing.sum())
            table = pd.concat([table, _explained(_prior(wanted[missing], self.overrides))], ignore_index=True)
        found: pd.DataFrame = table.iloc[at[code]].set_axis(rows.index)
        return found

    def __repr__(self) -> str:
        return present.plain(_title(self), _shown(self))

    def _repr_html_(self) -> str:
        return present.page(_title(self), _shown(self))


def _title(noise: Noise) -> str:
    return f"How far a result moves by itself, as one standard deviation: {len(noise.table)} measures"


def _shown(noise: Noise) -> pd.DataFrame:
    """Return the table in the reader's words; the whole of it, with ``why``, is in ``noise.table``."""
    rows = noise.table.to_dict("records")
    shown = {"one result": "sd", "a sampling day": "occasion", "spring to autumn": "season"}
    told = {name: [said(row[part], row) for row in rows] for name, part in shown.items()}
    duplicates = (noise.table["splits"] + noise.table["repeats"]).astype(int)
    return noise.table[KEY].assign(**told, duplicates=duplicates, evidence=noise.table["evidence"])


def _index(rows: pd.DataFrame) -> pd.MultiIndex:
    return pd.MultiIndex.from_frame(rows[KEY])


def noise_model(results: pd.DataFrame | None = None, *, samples: pd.DataFrame | None = None,
                overrides: Mapping[str, Mapping[str, float]] | None = None) -> Noise:
    """Return how far results move by themselves, from the table and the garden's own duplicates.

    Parameters
    ----------
    results : DataFrame, optional
        A tidy frame. Its duplicates move the table: two bags of one bucket (by
        ``duplicate_of`` in ``samples``, or one sample label measured twice) move laboratory and
        preparation; separate composites of one bed, layer and day move the whole. Without it
        the defaults are returned.
    samples : DataFrame, optional
        The garden's sampling record (``sample, sampled, bed, duplicate_of, cores``).
    overrides : mapping, optional
        What the grower states instead, by analyte: ``{"K": {"sd": 0.12}}``. Keys: ``sd`` (of one
        composite), its parts, ``cores, relative, occasion, season, lab, df, margin,
        margin_relative, years``. A stated ``sd`` without ``df`` is taken as known: duplicates
        do not move it.

    Returns
    -------
    Noise
        One row per analyte and method.

    Raises
    ------
    SoiltrendError
        When an override names an unknown analyte or key, or a number that cannot be one.
    FrameError
        When the frame is not tidy.

    Notes
    -----
    With the table's variance s0^2 on d0 degrees of freedom and duplicates of mean square s^2 on
    d, the variance is (d0 s0^2 + d s^2) / (d0 + d), on d0 + d degrees of freedom. Ten or more
    duplicates that differ by more than the table can explain (1 %) replace it.

    Examples
    --------
    >>> model = noise_model(overrides={"K": {"sd": 0.12}})
    >>> model.of(pd.DataFrame({"analyte": ["K", "P"], "method": ["", ""]}))["sd"].round(2).tolist()
    [0.12, 0.1]
    """
    sampling = composites.record(samples)
    pairs = (tables.load("noise") if results is None else frames.check(results))[KEY].drop_duplicates()
    stated = _checked(overrides or {}, set(pairs["analyte"]))
    table = _prior(pairs, stated)
    if results is None or not len(results):
        return Noise(_explained(table), sampling, stated)
    table, buckets = _moved(table, results, sampling)
    found = swing.own(buckets, table["occasion"].to_numpy(), table["season"].to_numpy())
    names = table[KEY].iloc[found["kind"]].reset_index(drop=True)
    return Noise(_explained(table), sampling, stated, pd.concat([names, found[SWING]], axis=1))


def _checked(overrides: Mapping[str, Mapping[str, float]], measured: set[str]) -> dict[str, dict[str, float]]:
    """Return the overrides as plain numbers, or refuse them by name."""
    for analyte, terms in overrides.items():
        if not vocabulary.facts(analyte) and analyte not in measured:
            raise SoiltrendError(f"the noise of '{analyte}' is stated, but nothing measured has that name",
                                 place="noise", remedy="Write it as in the column analyte, such as K or OM")
        if not isinstance(terms, Mapping):
            raise SoiltrendError(f"the noise of '{analyte}' is {terms!r} and no table", place="noise",
                                 remedy=f"Write {analyte} = {{sd = 0.12}} under [noise]")
        for name, value in terms.items():
            _check_term(analyte, name, value)
    return {analyte: {name: float(value) for name, value in terms.items()}
            for analyte, terms in overrides.items()}


def _check_term(analyte: str, name: str, value: object) -> None:
    if name not in SETTABLE:
        raise SoiltrendError(f"'{name}' is no term of the noise of '{analyte}'", place="noise",
                             remedy="Known terms: " + ", ".join(SETTABLE))
    number = isinstance(value, (int, float, np.number)) and not isinstance(value, bool)
    if not number or not 0 <= float(value) < np.inf or (name in NOT_ZERO and value == 0):  # type: ignore[arg-type]
        raise SoiltrendError(f"{name} = {value!r} for '{analyte}' is not a positive number", place="noise")


@lru_cache(maxsize=None)
def _listed() -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the tables of noise and of margins by their keys; they are never written to."""
    table = tables.load("noise", numbers=tuple(TERMS + COUNTS)).set_index(KEY)
    table[TERMS + COUNTS] = table[TERMS + COUNTS].astype(float)
    margins = tables.load("margins", numbers=tuple(MARGINS)).set_index("analyte")[MARGINS].astype(float)
    return table, margins


def _defaults(pairs: pd.DataFrame) -> pd.DataFrame:
    """Return the table's row for each analyte and method: its own, the analyte's, or its scale's."""
    table, margins = _listed()
    out = pairs.reset_index(drop=True)
    out["scale"] = scales.scales(out["analyte"])
    general = out["scale"].map(_LOOKUP)
    listed = out["analyte"].where(out["analyte"].isin(table.index.get_level_values(0)), general)
    exact = pd.MultiIndex.from_arrays([listed, out["method"]])
    rows = pd.MultiIndex.from_arrays([listed, out["method"].where(exact.isin(table.index), "")])
    limits = out["analyte"].where(out["analyte"].isin(margins.index), general)
    found = [table.loc[rows].reset_index(drop=True), margins.loc[limits].reset_index(drop=True)]
    return pd.concat([out, *found], axis=1)


def _state(table: pd.DataFrame, overrides: dict[str, dict[str, float]]) -> pd.DataFrame:
    """Return the rows with what the grower stated in the place of what the table says."""
    for analyte, terms in overrides.items():
        mine = table["analyte"] == analyte
        given = {name: value for name, value in terms.items() if name != "sd"}
        for name, value in given.items():
            table.loc[mine, name] = value
        if "sd" in terms:
            factor = terms["sd"] / _sd(table.loc[mine])
            table.loc[mine, PARTS] = table.loc[mine, PARTS].mul(factor, axis=0)
            table.loc[mine, "relative"] = terms.get("relative", np.nan)
            table.loc[mine, "df"] = terms.get("df", np.inf)
        stated = f"stated for this garden ({', '.join(terms)}); "
        table.loc[mine, "source"] = stated + table.loc[mine, "source"]
    return table


def _sd(table: pd.DataFrame) -> pd.Series:
    """Return the sd of one composite of the row's own number of cores."""
    within = table["laboratory"] ** 2 + table["preparation"] ** 2
    return (within + table["between_cores"] ** 2 / table["cores"]) ** 0.5


def _prior(pairs: pd.DataFrame, overrides: dict[str, dict[str, float]]) -> pd.DataFrame:
    """Return the noise of each analyte and method before any duplicate is looked at."""
    table = _defaults(pairs)
    parts = {i: pair for i, name in enumerate(table["analyte"]) if (pair := scales.ratio_parts(name))}
    if parts:
        sides = [_defaults(pd.DataFrame({"analyte": [pair[side] for pair in parts.values()], "method": ""}))
                 for side in (0, 1)]
        _of_ratios(table, np.array(list(parts)), [_state(side, overrides) for side in sides])
    table = _state(table, overrides)
    return table.assign(sd=_sd(table), splits=0.0, repeats=0.0)


def _of_ratios(table: pd.DataFrame, where: np.ndarray, sides: list[pd.DataFrame]) -> None:
    """Write the noise of ln(A/B), sqrt(a^2 + b^2 - 2 r a b) in every term, into the ratio rows."""
    general = _listed()[0].loc[("(log)", ""), TERMS].to_numpy().astype(float)
    first, second = (np.where(side[["scale"]] == scales.LOG, side[TERMS], general) for side in sides)
    spread = np.sqrt(first**2 + second**2 - 2 * SHARED * first * second)
    table.loc[where, TERMS] = spread
    table.loc[where, "df"] = np.minimum(sides[0]["df"].to_numpy(), sides[1]["df"].to_numpy())
    table.loc[where, "source"] = "computed from the noise of " + sides[0]["analyte"].to_numpy(object) + (
        " and of " + sides[1]["analyte"].to_numpy(object))
    table.loc[where, "evidence"] = "common practice"


def stretch(noise: pd.DataFrame, value: np.ndarray) -> np.ndarray:
    """Return by how much each row's SDs grow at the given values, where they are a share of it.

    Examples
    --------
    >>> stretch(noise_model().of(pd.DataFrame({"analyte": ["OM"], "method": [""]})), np.array([9.0])).round(2)
    array([3.01])
    """
    share = noise["relative"].fillna(0.0).to_numpy(dtype=float) * np.abs(value)
    sd = noise["sd"].to_numpy(dtype=float)
    return np.asarray(np.maximum(1.0, np.divide(share, sd, out=np.ones(len(sd)), where=sd > 0)))


def _measured(results: pd.DataFrame, sampling: pd.DataFrame, table: pd.DataFrame) -> pd.DataFrame:
    """Return the uncensored, dated results on the analysis scale with the sds the table expects."""
    rows = results[(results["qualifier"] == "") & results["sampled"].notna()]
    rows = composites.mark(rows.reset_index(drop=True), sampling)
    found = rows[KEY].drop_duplicates()
    rows["kind"] = _index(table).get_indexer(_index(found))[composites.codes(rows, KEY)]
    model = table.iloc[rows["kind"]].set_axis(rows.index)
    value = rows["value"].to_numpy()
    rows["y"] = scales.forward(value, model["scale"].to_numpy())
    grown = stretch(model, value) ** 2
    cores = rows["cores"].fillna(model["cores"])
    rows["within"] = (model["laboratory"] ** 2 + model["preparation"] ** 2) * grown
    rows["field"] = model["between_cores"] ** 2 / cores * grown
    return rows[rows["y"].notna()]


def _pooled(rows: pd.DataFrame, by: list[str], variance: str) -> pd.DataFrame:
    """Return per kind the squares about the group's mean over the expected variance, and their df."""
    group = rows.groupby(by, sort=False, dropna=False)
    square = (rows["y"] - group["y"].transform("mean")) ** 2 / group[variance].transform("mean")
    tally = pd.DataFrame({"kind": rows["kind"], "q": square, "one": 1.0, "group": group.ngroup()})
    per_kind = tally.groupby("kind").agg(q=("q", "sum"), n=("one", "sum"), groups=("group", "nunique"))
    return per_kind.assign(df=per_kind["n"] - per_kind["groups"])[["q", "df"]]


def _combined(prior_df: np.ndarray, found: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Return the factor on the variance and the df after the duplicates have spoken."""
    q, df = found["q"].to_numpy(), found["df"].to_numpy()
    ratio = np.divide(q, df, out=np.ones(len(q)), where=df > 0)
    known = np.isinf(prior_df)
    trust = np.where(known, 1.0, prior_df)
    unlikely = fdtrc(np.maximum(df, 1), trust, ratio)
    trust = np.where((df >= OVERRULE_DF) & (unlikely < OVERRULE_P), 0.0, trust)
    factor = (trust + q) / np.maximum(trust + df, 1.0)
    return np.where(known, 1.0, factor), np.where(known, prior_df, trust + df)


def _moved(table: pd.DataFrame, results: pd.DataFrame,
           sampling: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the table moved by splits, then by separate composites, and those composites."""
    rows = _measured(results, sampling, table)
    none = pd.DataFrame({"q": 0.0, "df": 0.0}, index=table.index)
    splits = _pooled(rows[rows["within"] > 0], ["composite", "kind"], "within")
    splits = splits.reindex(table.index).fillna(none)
    factor, _ = _combined(table["df"].to_numpy(), splits)
    rows["within"] *= factor[rows["kind"]]
    same = ["kind", "bed", "sampled", "season", "lab", "top_cm", "bottom_cm"]
    whole = rows.groupby([*same, "composite"], sort=False, dropna=False).agg(
        y=("y", "mean"), within=("within", "mean"), field=("field", "mean"), n=("y", "size")).reset_index()
    whole["variance"] = whole["within"] / whole["n"] + whole["field"]
    repeats = _pooled(whole[whole["variance"] > 0], same, "variance").reindex(table.index).fillna(none)
    whole_factor, df = _combined(table["df"].to_numpy(), repeats)
    before = table["sd"]
    table[PARTS[:2]] = table[PARTS[:2]].mul(np.sqrt(factor * whole_factor), axis=0)
    table["between_cores"] *= np.sqrt(whole_factor)
    whole["variance"] *= whole_factor[whole["kind"]]
    table["relative"] *= _sd(table) / before
    table = table.assign(sd=_sd(table), df=df, splits=splits["df"], repeats=repeats["df"], was=before)
    return table, whole


def said(sd: float, row: Mapping[Any, Any]) -> str:
    """Return an sd in the reader's words: a share of the value, or so many units."""
    if row["scale"] == scales.PLAIN:
        unit = "points" if row["unit"] == "%" else row["unit"]
        unit = vocabulary.observed(str(row.get("analyte", ""))).get("noun", unit)
        return f"{present.number(sd, digits=2)} {unit}".strip()
    return f"{100 * sd:.2g} %" + (" of the odds" if row["scale"] == scales.SHARE else "")


def _why(row: Mapping[Any, Any]) -> str:
    """Return one row's explanation."""
    look = vocabulary.observed(row["analyte"]).get("look")
    field = said(row["between_cores"] / row["cores"] ** 0.5, row)
    parts = (f"laboratory {said(row['laboratory'], row)}, preparation {said(row['preparation'], row)}, "
             f"{row['cores']:.0f} cores {field}" if not look else
             f"the eye that looks {said(row['laboratory'], row)}, from one {look} to the next {field}")
    moved = ""
    counts = [f"{row[name]:.0f} {word}{'s' if row[name] > 1 else ''}" if row[name] else ""
              for name, word in (("splits", "split sample"), ("repeats", "repeated sample"))]
    if any(counts) and np.isfinite(row["df"]):
        moved = f"; {' and '.join(filter(None, counts))} moved it from {said(row['was'], row)}"
    share = f", or {100 * row['relative']:.2g} % of the value where that is more"
    return (f"One result moves by {said(row['sd'], row)} by itself{share if row['relative'] > 0 else ''} "
            f"({parts}){moved}. A sampling day adds {said(row['occasion'], row)} to all beds alike")


def _explained(table: pd.DataFrame) -> pd.DataFrame:
    """Return the table with units and explanations, columns in order."""
    unit = table["analyte"].map(vocabulary.canonical_unit)
    out = table.assign(unit=table["scale"].map(_KIND).fillna(unit).astype("str"))
    out = out.assign(was=out.get("was", out["sd"]))
    out["why"] = [_why(row) for row in out.to_dict("records")]
    return out[COLUMNS].reset_index(drop=True)
