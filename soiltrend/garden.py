"""The grower's folder: beds, lab reports, samples, what went on, what came off.

:func:`open_garden` reads a folder of plain files and returns a :class:`Garden`. Nothing in
the folder is changed. A value that cannot be placed, because its bed is not one of the
garden's or its file cannot be read, stands in ``set_aside`` with the reason.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import frames, present
from soiltrend.errors import GardenError, SoiltrendError
from soiltrend.folder import Columns, check_keys, nearest, read_table, read_toml
from soiltrend.reading import ANSWERS, Reading, read_report

TOP_KEYS = ("name", "place", "hemisphere", "story", "beds", "labs", "aims", "noise", "cups", "compare", "climate")
BED_KEYS = ("area_m2", "depth_cm", "bulk_density", "medium", "check", "aliases", "note")
NUTRIENTS = ("N", "P", "K", "Ca", "Mg", "S", "Na", "B", "Zn", "Mn", "Cu", "C")

SAMPLES = Columns(
    text=("sample", "bed", "duplicate_of", "surface", "moisture", "note"),
    number=("top_cm", "bottom_cm", "cores", "days_since_dressing"), day=("sampled",),
    required=("sample", "bed", "sampled"), choices={"surface": ("removed", "kept")})
MATERIALS = Columns(
    text=("material", "fineness", "measured", "source"),
    number=(*(f"{n}{part}" for n in NUTRIENTS for part in ("_low", "", "_high")),
            "moisture", "CCE", "density", "cost_per_kg", "on_hand_kg"),
    required=("material",), choices={"measured": ("yes", "no")})
APPLICATIONS = Columns(text=("bed", "material", "unit", "note"), number=("amount",), day=("date",),
                       required=("date", "bed", "material", "amount", "unit"))
HARVESTS = Columns(text=("bed", "crop", "residue", "note"), number=("kg",), day=("date",),
                   required=("date", "bed", "crop", "kg"), choices={"residue": ("kept", "removed")})
OBSERVATIONS = Columns(text=("bed", "measure", "value", "unit", "note"), day=("date",),
                       required=("date", "bed", "measure", "value"))

READABLE = (".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".xls", ".ods", ".pdf", ".xml", ".json")


@dataclass(frozen=True, eq=False)
class Garden:
    """A garden as its folder tells it.

    Attributes
    ----------
    name, hemisphere : str
        From ``garden.toml``.
    path : Path
        The folder.
    results, set_aside : DataFrame
        The tidy frame of all reports and numeric observations, and what could not be placed.
    beds : DataFrame
        bed, area_m2 [m2], depth_cm [cm], bulk_density [g/cm3], medium, check, aliases, note.
    samples, materials, applications, harvests, observations : DataFrame
        The tables of the folder; an absent file is an empty table.
    settings : dict
        The sections of ``garden.toml`` that other rooms read: aims, noise, cups, compare.
    notes : tuple of str
        What the reader should know about how the files were read.
    """

    name: str
    path: Path
    hemisphere: str
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

    @property
    def table(self) -> pd.DataFrame:
        """One row a bed and season: days, composites, values read."""
        grouped = self.results.groupby(["bed", "season"], sort=False)
        return grouped.agg(first_day=("sampled", "min"), samples=("sample", "nunique"),
                           values=("value", "size")).reset_index()

    def __repr__(self) -> str:
        return present.plain(self._title(), self.table)

    def _repr_html_(self) -> str:
        return present.page(self._title(), self.table)

    def _title(self) -> str:
        return (f"{self.name}: {len(self.beds)} beds, {len(self.results)} values read, "
                f"{len(self.set_aside)} set aside")


def _same(text: str) -> str:
    """Return a bed's name as it is matched: case, spaces, accents' encoding, a leading "bed"."""
    name = re.sub(r"\s+", " ", unicodedata.normalize("NFC", text)).strip().casefold()
    return re.sub(r"^(bed|plot)[ .:#-]*(?=.)", "", name)


def bed_names(beds: pd.DataFrame) -> dict[str, str]:
    """Return every way a bed may be written, normalised, mapped to the bed.

    Raises
    ------
    GardenError
        When one way of writing could mean two beds.
    """
    names: dict[str, str] = {}
    for bed, aliases in zip(beds["bed"], beds["aliases"], strict=True):
        for text in (bed, *aliases):
            if names.setdefault(_same(text), bed) != bed:
                raise GardenError(f"'{text}' could mean bed '{names[_same(text)]}' or bed '{bed}'",
                                  file="garden.toml", remedy="Give the beds names that differ.")
    return names


def _positive(value: Any, *, key: str, place: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not value > 0 or not np.isfinite(value):
        raise GardenError(f"{key} = {value!r} is not a positive number", file="garden.toml", place=place)
    return float(value)


def _bed(name: str, given: Any) -> dict[str, Any]:
    """Return one bed of garden.toml as a row."""
    place = f"bed '{name}'"
    if not isinstance(given, dict):
        raise GardenError(f"{given!r} is not a table", file="garden.toml", place=place,
                          remedy=f'Write [beds."{name}"] and area_m2 = 12 under it.')
    check_keys(given, BED_KEYS, file="garden.toml", place=place)
    if name in (frames.GARDEN, ""):
        raise GardenError(f"no bed may be called '{name}'", file="garden.toml", place=place)
    if not isinstance(given.get("check", False), bool):
        raise GardenError(f"check = {given['check']!r} is neither true nor false", file="garden.toml", place=place)
    return {"bed": name,
            "area_m2": _positive(given.get("area_m2", 1.0), key="area_m2", place=place),
            "depth_cm": _positive(given.get("depth_cm", 15.0), key="depth_cm", place=place),
            "bulk_density": _positive(given.get("bulk_density", 1.3), key="bulk_density", place=place),
            "medium": str(given.get("medium", "mineral soil")), "check": given.get("check", False),
            "aliases": tuple(str(alias) for alias in given.get("aliases", ())), "note": str(given.get("note", ""))}


def _settings(path: Path) -> dict[str, Any]:
    """Return garden.toml, checked, with its defaults filled in."""
    told = read_toml(path / "garden.toml")
    check_keys(told, TOP_KEYS, file="garden.toml", place="")
    if not isinstance(told.get("beds"), dict) or not told["beds"]:
        raise GardenError("no bed is described", file="garden.toml",
                          remedy='Add a section for each bed: [beds."East"] and under it area_m2 = 12.')
    hemisphere = told.setdefault("hemisphere", "north")
    if hemisphere not in ("north", "south"):
        raise GardenError(f"hemisphere = {hemisphere!r} is neither \"north\" nor \"south\"", file="garden.toml")
    for lab, given in told.get("labs", {}).items():
        check_keys(given, ("answers", "note"), file="garden.toml", place=f"lab '{lab}'")
        for answers in given.get("answers", ()):
            check_keys(answers, ("from", *ANSWERS), file="garden.toml", place=f"answers of lab '{lab}'")
    told.setdefault("name", path.name)
    return told


def _answers(file: Path) -> dict[str, Any]:
    """Return what report.toml and the file's own toml say; the file's own wins."""
    told: dict[str, Any] = {}
    for toml in (file.parent / "report.toml", file.with_suffix(".toml")):
        if toml.exists():
            more = read_toml(toml)
            check_keys(more, ANSWERS, file=toml.name, place="")
            told |= {key: {**told.get(key, {}), **value} if isinstance(value, dict) else value
                     for key, value in more.items()}
    return told


def _lab_answers(reading: Reading, settings: dict[str, Any]) -> dict[str, Any]:
    """Return what garden.toml says of the reading's laboratory on the day of its samples."""
    labs = reading.results["lab"].unique()
    days = reading.results["sampled"].dropna()
    if len(labs) != 1 or labs[0] not in settings.get("labs", {}):
        return {}
    held: dict[str, Any] = {}
    for answers in settings["labs"][labs[0]].get("answers", ()):
        since = answers.get("from", date.min)
        if not len(days) or days.min().date() >= since:
            held = {key: value for key, value in answers.items() if key != "from"}
    return held


def _read(file: Path, settings: dict[str, Any]) -> Reading:
    """Return one report, read with all that garden.toml and the tomls beside it say."""
    own = _answers(file)
    given = {"hemisphere": settings["hemisphere"], **own}
    reading = read_report(file, answers=given)
    held = _lab_answers(reading, settings)
    if not held:
        return reading
    merged = {**held, **{key: {**held[key], **value} if isinstance(value, dict) and key in held else value
                         for key, value in given.items()}}
    return read_report(file, answers=merged)


def _reports(path: Path, settings: dict[str, Any]) -> Reading:
    """Return all reports of the folder as one reading; a file that fails is set aside whole."""
    seen: dict[str, str] = {}
    results, aside, notes = [], [], []
    for file in sorted(p for p in (path / "reports").rglob("*") if p.is_file()):
        name = file.relative_to(path).as_posix()
        if file.suffix.casefold() == ".toml" or file.name.startswith((".", "~")):
            continue
        twin = seen.setdefault(hashlib.sha256(file.read_bytes()).hexdigest(), name)
        try:
            if twin != name:
                raise GardenError(f"this file is the same as {twin}, to the byte", remedy="It was read once.")
            if file.suffix.casefold() not in READABLE:
                raise GardenError(f"a file ending in '{file.suffix}' is not a report this tool reads",
                                  remedy="Readable: " + ", ".join(READABLE))
            reading = _read(file, settings)
        except SoiltrendError as error:
            aside.append(frames.set_aside([{"source": name, "place": "the whole file", "reason": str(error)}]))
            continue
        results.append(reading.results.assign(source=name))
        aside.append(reading.set_aside.assign(source=name))
        notes += [f"{name}: {note}" for note in reading.notes]
    return Reading(frames.join(*results), frames.set_aside(pd.concat(aside) if aside else ()), tuple(notes))


def _records(results: pd.DataFrame, samples: pd.DataFrame) -> pd.DataFrame:
    """Return, for each result, the line of samples.csv that tells of its sample, or missing.

    A label that stands on one line is that sample; a label used again and again ("1", "2")
    is matched by its day as well.
    """
    lone = ~samples["sample"].duplicated(keep=False)
    by_label = samples[lone].assign(record=samples.index[lone]).set_index("sample")["record"]
    record = results["sample"].map(by_label)
    again = samples[~lone].assign(record=samples.index[~lone]).drop_duplicates(["sample", "sampled"])
    by_day = again.set_index(["sample", "sampled"])["record"]
    keys = pd.MultiIndex.from_frame(results[["sample", "sampled"]])
    return samples.reindex(record.fillna(pd.Series(by_day.reindex(keys).to_numpy(), index=results.index)))


def _told(results: pd.DataFrame, samples: pd.DataFrame) -> pd.DataFrame:
    """Return the results with bed, day and layer from the sampling record where it tells them.

    The grower's record of where and when she dug wins over what the laboratory printed; a
    day that differs is said in the note.
    """
    out = results.reset_index(drop=True)
    told = _records(out, samples).reset_index(drop=True)
    out["bed"] = told["bed"].where(told["bed"].notna(), out["bed"]).astype("str")
    differs = told["sampled"].notna() & out["sampled"].notna() & (told["sampled"] != out["sampled"])
    said = "the report gives the day as " + out["sampled"].dt.strftime("%Y-%m-%d").fillna("")
    out["note"] = _add_note(out["note"], said, differs)
    out["sampled"] = told["sampled"].where(told["sampled"].notna(), out["sampled"])
    for column in ("top_cm", "bottom_cm"):
        out[column] = told[column].where(told[column].notna(), out[column])
    days = told["days_since_dressing"]
    said = "sampled " + days.fillna(0).astype(int).astype(str) + " days after a dressing"
    out["note"] = _add_note(out["note"], said, days.notna() & (days < FRESH_DAYS))
    return out


FRESH_DAYS = 60
"""Days after a dressing within which a sample may still hold it undissolved: common practice
is to wait two months or more; no published figure was found."""


def _add_note(note: pd.Series, text: pd.Series, where: pd.Series) -> pd.Series:
    joined = note.where(note == "", note + "; ") + text
    return note.where(~where, joined).astype("str")


def _placed(results: pd.DataFrame, beds: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the results whose bed is the garden's, and the others as rows set aside."""
    names = bed_names(beds)
    bed = results["bed"].map(lambda text: names.get(_same(text)))
    known = results[bed.notna()].assign(bed=bed.dropna().astype("str")).reset_index(drop=True)
    strange = results[bed.isna()]
    reasons = {text: f"'{text}' is not a bed of this garden ({nearest(text, beds['bed'])}); say which in "
                     "samples.csv, in the aliases of garden.toml or under [beds] in report.toml"
               for text in strange["bed"].unique()}
    aside = frames.set_aside(strange.assign(label=strange["analyte"], text=strange["reported_value"],
                                            reason=strange["bed"].map(reasons)))
    return known, aside[list(frames.SET_ASIDE)]


def _layers(results: pd.DataFrame, beds: pd.DataFrame) -> pd.DataFrame:
    """Return the results with the bed's own depth as the layer where nothing else states one."""
    depth = results["bed"].map(beds.set_index("bed")["depth_cm"])
    unstated = results["top_cm"].isna() & results["bottom_cm"].isna()
    return results.assign(top_cm=results["top_cm"].mask(unstated, 0.0),
                          bottom_cm=results["bottom_cm"].mask(unstated, depth))


def _observed(observations: pd.DataFrame, beds: pd.DataFrame) -> pd.DataFrame:
    """Return the numeric observations as rows of the tidy frame."""
    value = pd.to_numeric(observations["value"], errors="coerce")
    rows = observations[value.notna()]
    return frames.results(pd.DataFrame({
        "bed": rows["bed"], "sampled": rows["date"], "analyte": rows["measure"], "method": "visual",
        "value": value.dropna(), "unit": rows["unit"], "reported_value": rows["value"],
        "reported_unit": rows["unit"], "source": "observations.csv",
        "place": "line " + rows["line"].astype(str), "note": rows["note"]}))


def _on_beds(table: pd.DataFrame, beds: pd.DataFrame, *, file: str) -> pd.DataFrame:
    """Return one of the grower's tables with its beds under their own names."""
    names = bed_names(beds)
    matched = table["bed"].map(lambda text: names.get(_same(text)))
    if matched.isna().any():
        faults = [f"line {row.line}: '{row.bed}' is not a bed of this garden ({nearest(row.bed, beds['bed'])})"
                  for row in table[matched.isna()].head(8).itertuples()]
        raise GardenError("; ".join(faults), file=file, remedy="Beds and their aliases stand in garden.toml.")
    return table.assign(bed=matched.astype("str"))


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
    settings = _settings(path)
    beds = pd.DataFrame([_bed(name, given) for name, given in settings["beds"].items()])
    bed_names(beds)
    tables = {name: read_table(path / f"{name}.csv", columns) for name, columns in (
        ("samples", SAMPLES), ("materials", MATERIALS), ("applications", APPLICATIONS),
        ("harvests", HARVESTS), ("observations", OBSERVATIONS))}
    for name in ("samples", "applications", "harvests", "observations"):
        tables[name] = _on_beds(tables[name], beds, file=f"{name}.csv")
    reading = _reports(path, settings)
    placed, strange = _placed(_told(reading.results, tables["samples"]), beds)
    results = frames.join(_layers(placed, beds), _observed(tables["observations"], beds))
    season = frames.season(results["sampled"], hemisphere=settings["hemisphere"])
    results["season"] = season.where(season != "", results["season"])
    return Garden(name=settings["name"], path=path, hemisphere=settings["hemisphere"],
                  results=frames.check(results), set_aside=frames.set_aside(pd.concat([reading.set_aside, strange])),
                  beds=beds, settings=settings, notes=reading.notes, **tables)
