"""The grower's folder: beds, lab reports, samples, what went on, what came off.

:func:`open_garden` reads a folder of plain files and returns a :class:`Garden`. Nothing in
the folder is changed. A value that cannot be placed, because its bed is not one of the
garden's or its file cannot be read, stands in ``set_aside`` with the reason.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import composites, frames, present, units, vocabulary
from soiltrend.errors import GardenError
from soiltrend.folder import Columns, read_table
from soiltrend.garden import revisions
from soiltrend.garden.bags import bags_unmatched, days_told, told_by_records
from soiltrend.garden.beds import bed_names, on_beds, read_beds
from soiltrend.garden.reports import layers, placed, read_reports
from soiltrend.garden.settings import read_settings

NUTRIENTS = ("N", "P", "K", "Ca", "Mg", "S", "Na", "B", "Zn", "Mn", "Cu", "C")

SAMPLES = Columns(
    text=("sample", "bed", "duplicate_of", "surface", "moisture", "note"),
    number=("top_cm", "bottom_cm", "cores", "days_since_dressing"),
    day=("sampled",),
    required=("sample", "bed", "sampled"),
    choices={"surface": ("removed", "kept")},
    rising=(("top_cm", "bottom_cm"),),
)
MATERIALS = Columns(
    text=("material", "fineness", "measured", "source"),
    number=(
        *(f"{n}{part}" for n in NUTRIENTS for part in ("_low", "", "_high")),
        "moisture",
        "CCE",
        "density",
        "cost_per_kg",
        "on_hand_kg",
    ),
    required=("material",),
    choices={"measured": ("yes", "no")},
    signed=("CCE",),
)
APPLICATIONS = Columns(
    text=("bed", "material", "unit", "note"),
    number=("amount",),
    day=("date",),
    required=("date", "bed", "material", "amount", "unit"),
)
HARVESTS = Columns(
    text=("bed", "crop", "residue", "note"),
    number=("kg",),
    day=("date",),
    required=("date", "bed", "crop", "kg"),
    choices={"residue": ("kept", "removed")},
)
OBSERVED = "observations.csv"
"""The file of what was seen in the beds; no laboratory had a bag of it."""

OBSERVATIONS = Columns(
    text=("bed", "measure", "value", "unit", "note"),
    day=("date",),
    required=("date", "bed", "measure", "value"),
)
TABLES = {
    "samples": SAMPLES,
    "materials": MATERIALS,
    "applications": APPLICATIONS,
    "harvests": HARVESTS,
    "observations": OBSERVATIONS,
}


@dataclass(frozen=True, eq=False)
class Garden:
    """A garden as its folder tells it.

    Attributes
    ----------
    name, hemisphere, acidity : str
        From ``garden.toml``; ``acidity`` is where :func:`soiltrend.exchange` takes it from.
    path : Path
        The folder.
    results, set_aside : DataFrame
        The tidy frame of all reports and numeric observations, and what could not be placed.
    beds : DataFrame
        bed, area_m2 [m2], depth_cm [cm], bulk_density [g/cm3], medium, check, crop, sowing, harvest, ended
        (from which day on it is no bed of its own), aliases, note.
    samples, materials, applications, harvests, observations : DataFrame
        The tables of the folder; an absent file is an empty table.
    settings : dict
        The sections of ``garden.toml`` that other rooms read: aims, noise, cups, compare.
    notes : tuple of str
        What the reader should know about how the files were read.
    asks : tuple of str
        Lines of ``report.toml`` that would settle what was set aside.
    """

    name: str
    path: Path
    hemisphere: str
    acidity: str
    results: pd.DataFrame
    set_aside: pd.DataFrame
    beds: pd.DataFrame
    samples: pd.DataFrame
    materials: pd.DataFrame
    applications: pd.DataFrame
    harvests: pd.DataFrame
    observations: pd.DataFrame
    settings: dict[str, Any]
    notes: tuple[str, ...]
    asks: tuple[str, ...]

    def still(self, day: pd.Timestamp) -> Garden:
        """Return the garden with the beds that have not ended by a day, and their log; all tests stay.

        Raises
        ------
        GardenError
            When every bed has ended.
        """
        ended = self.beds["ended"] if "ended" in self.beds else pd.Series(pd.NaT, index=self.beds.index)
        beds = self.beds[~(ended <= day)].reset_index(drop=True)
        if beds.empty:
            raise GardenError(
                f"every bed has ended by {day:%Y-%m-%d}",
                file="garden.toml",
                remedy="Describe the beds that there are now.",
            )
        log = {name: getattr(self, name) for name in ("applications", "harvests")}
        mine = {
            name: rows[rows["bed"].isin(beds["bed"])].reset_index(drop=True) for name, rows in log.items()
        }
        return replace(self, beds=beds, **mine)

    @property
    def table(self) -> pd.DataFrame:
        """One row a season: first day, beds, samples (bags that a laboratory tested) and values of it."""
        order = frames.seasons(self.results)
        table = self.results.groupby("season").agg(
            first_day=("sampled", "min"), beds=("bed", "nunique"), values=("value", "size")
        )
        lab = self.results[self.results["source"] != OBSERVED]
        bags = lab.drop_duplicates([*composites.BUCKET, "sample"]).groupby("season").size()
        table.insert(2, "samples", bags.reindex(table.index, fill_value=0))
        return table.reindex(order).reset_index()

    def __repr__(self) -> str:
        return present.plain(self._title(), self.table)

    def _repr_html_(self) -> str:
        return present.page(self._title(), self.table)

    def _title(self) -> str:
        return (
            f"{self.name}: {present.counted(len(self.beds), 'bed')}, "
            f"{present.counted(len(self.results), 'value')} read, "
            f"{len(self.set_aside)} set aside"
        )


def _unit(row: Mapping[Hashable, Any], analyte: str) -> str:
    """Return the unit an observation is kept in: its own, or the measure's when none is given."""
    unit = row["unit"]
    wanted = vocabulary.canonical_unit(analyte)
    known = units.find(unit)
    given = known.name if known else unit
    if wanted and given and given != wanted:
        raise GardenError(
            f"'{analyte}' of {row['value']} {unit} is kept in '{wanted}' and not in '{unit}'",
            file=OBSERVED,
            place=f"line {row['line']}",
            remedy=f"Write the value in {wanted}, or give the measure a name of your own",
        )
    return given or wanted


def _check_observed(value: float, analyte: str, line: int) -> None:
    """Refuse a number that its own scale does not have."""
    scale = vocabulary.observed(analyte)
    low, high = (float(scale.get(end) or "nan") for end in ("lowest", "highest"))
    if value < low or value > high:
        ends = f"from {low:g}" + ("" if np.isnan(high) else f" to {high:g}")
        raise GardenError(
            f"'{analyte}' of {value:g} is off its scale, which goes {ends} ({scale['words']})",
            file=OBSERVED,
            place=f"line {line}",
            remedy="Correct the number, or give a scale of another kind a name of your own",
        )


def _observed(observations: pd.DataFrame) -> pd.DataFrame:
    """Return the numeric observations as rows of the tidy frame."""
    value = pd.to_numeric(observations["value"], errors="coerce").astype(float)
    rows = observations[value.notna()]
    analyte = rows["measure"].map(lambda text: vocabulary.analytes().get(vocabulary.key(text), text))
    for number, name, line in zip(value.dropna(), analyte, rows["line"], strict=True):
        _check_observed(number, name, line)
    named = zip(rows.to_dict("records"), analyte, strict=True)
    return frames.results(
        pd.DataFrame(
            {
                "bed": rows["bed"],
                "sampled": rows["date"],
                "analyte": analyte,
                "method": "visual",
                "value": value.dropna(),
                "unit": [_unit(row, name) for row, name in named],
                "reported_value": rows["value"],
                "reported_unit": rows["unit"],
                "source": OBSERVED,
                "place": "line " + rows["line"].astype(str),
            }
        )
    )


def _ahead(tables: Mapping[str, pd.DataFrame]) -> list[str]:
    """Return a remark for each of the grower's tables that bears days still to come."""
    now = pd.Timestamp.now()
    told = []
    for name, columns in TABLES.items():
        for day in columns.day:
            late = tables[name][tables[name][day] > now]
            lines = [f"{row['line']} ({row[day]:%Y-%m-%d})" for row in late.to_dict("records")]
            if lines:
                told.append(f"{name}.csv: in the future by this machine's clock: line {', '.join(lines)}")
    return told


def _tables(path: Path, beds: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """Return the grower's tables with the beds under their own names; the faults of all are told at once."""
    found, faults = {}, []
    for name, columns in TABLES.items():
        try:
            table = read_table(path / f"{name}.csv", columns)
            found[name] = table if name == "materials" else on_beds(table, beds, file=f"{name}.csv")
        except GardenError as error:
            faults.append(error)
    if len(faults) == 1:
        raise faults[0]
    if faults:
        told = (f"{len(faults)} of the garden's files are not understood:", *map(str, faults))
        raise GardenError("\n".join(told))
    return found


def open_garden(path: str | Path) -> Garden:
    """Read a grower's folder.

    Parameters
    ----------
    path : str or Path
        The folder that holds ``garden.toml``.

    Returns
    -------
    Garden

    Raises
    ------
    GardenError
        When ``garden.toml`` or one of the grower's tables cannot be understood. A report
        that cannot be read does not stop the garden: it is set aside whole, with its error.
    """
    path = Path(path)
    settings = read_settings(path)
    beds = read_beds(settings["beds"])
    tables = _tables(path, beds)
    names, samples = bed_names(beds), tables["samples"]
    reports = read_reports(path, settings, samples=samples, names=names)
    reading = reports.reading
    told = told_by_records(reading.results, samples, names=names)
    known, strange = placed(told, beds, samples=samples)
    once = revisions.settle(layers(known, beds), reports.finished)
    results = frames.join(once.results, _observed(tables["observations"]))
    season = frames.season(results["sampled"], hemisphere=settings["hemisphere"])
    if settings["hemisphere"] == "south":
        results["hemisphere"] = "south"
    return Garden(
        name=settings["name"],
        path=path,
        hemisphere=settings["hemisphere"],
        acidity=settings["acidity"],
        results=frames.check(results.assign(season=season.where(season != "", results["season"]))),
        set_aside=frames.set_aside(pd.concat([reading.set_aside, strange, once.set_aside])),
        beds=beds,
        settings=settings,
        notes=(
            *reading.notes,
            *once.notes,
            *days_told(once.results, reports.finished),
            *bags_unmatched(reading, samples),
            *_ahead(tables),
        ),
        asks=(*reading.asks, *once.asks),
        **tables,
    )
