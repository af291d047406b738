"""Lab reports of a garden: read with all the answers there are, and placed in its beds."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from soiltrend import frames, limits
from soiltrend.errors import GardenError, ReadError, SoiltrendError
from soiltrend.folder import check_keys, nearest, read_toml, stays_inside
from soiltrend.garden.beds import bed_names, same
from soiltrend.reading import FORMATS, Opened, Reading, opened
from soiltrend.reading import answers as answering
from soiltrend.reading.answers import KEYS as ANSWERS
from soiltrend.reading.answers import Answers
from soiltrend.reading.placing import DAY_IS, NAME_IT
from soiltrend.reading.reasons import headed
from soiltrend.writing import real, writable


def _check_answers(given: dict[str, Any], file: str) -> None:
    """Refuse answers that cannot be used, under the name of the file they stand in."""
    try:
        answering.check(given)
    except ReadError as error:
        raise ReadError(error.problem, file=file, place=error.place, remedy=error.remedy) from error


def _answers(file: Path) -> dict[str, Any]:
    """Return what report.toml and the file's own toml say; the file's own wins."""
    told: dict[str, Any] = {}
    for toml in (file.parent / "report.toml", file.with_suffix(".toml")):
        if toml.exists():
            more = read_toml(toml)
            check_keys(more, ANSWERS, file=toml.name, place="")
            _check_answers(more, toml.name)
            told |= {
                key: {**told.get(key, {}), **value} if isinstance(value, dict) else value
                for key, value in more.items()
            }
    return told


def _lab_answers(report: Opened, told: Answers, labs: dict[str, Any]) -> dict[str, Any]:
    """Return what garden.toml says of a report's laboratory on the day of its samples."""
    named, day = report.origin(told) if labs else (set(), None)
    held: dict[str, Any] = {}
    for answers in labs.get(named.pop(), {}).get("answers", ()) if len(named) == 1 else ():
        if day is None or day.date() >= answers.get("from", date.min):
            held = {key: value for key, value in answers.items() if key != "from"}
    return held


def _answered(reading: Reading, names: Iterable[str], samples: pd.DataFrame) -> set[str]:
    """Return the questions that the garden itself answers: beds by their names, days by samples.csv."""
    labels = [label for label in reading.results["bed"].unique() if same(label) in names]
    lines = {answering.ask("beds", label, NAME_IT) for label in labels}
    if DAY_IS in reading.asks and len(reading.results):
        dated = told_by_records(reading.results, samples)["sampled"].notna().all()
        lines |= {DAY_IS} if dated else set()
    return lines


def _without_needless(reading: Reading, lines: set[str]) -> Reading:
    """Return a reading that does not ask what the garden itself answers."""
    asks = tuple(line for line in reading.asks if line not in lines)
    left = next((line for line in asks if line.startswith("[beds]")), "")
    needless = {note: line for note in reading.notes for line in lines if note.endswith(line)}
    spare = {note: left if line.startswith("[beds]") else "" for note, line in needless.items()}
    notes = [note.replace(needless[note], spare[note]) if note in needless else note
             for note in reading.notes if spare.get(note, note)]  # fmt: skip
    return replace(reading, notes=tuple(notes), asks=asks)


def _read(file: Path, settings: dict[str, Any], samples: pd.DataFrame) -> Reading:
    """Return one report, read with all that garden.toml, samples.csv and the tomls beside it say."""
    own = _answers(file)
    if own.get("hemisphere", settings["hemisphere"]) != settings["hemisphere"]:
        raise GardenError(
            f"hemisphere = '{own['hemisphere']}' in the answers, '{settings['hemisphere']}' in garden.toml",
            file=file.name,
            remedy="A garden lies in one: take the line out of the answers, or correct garden.toml.",
        )
    recorded = dict(zip(samples["sample"], samples["bed"], strict=True))
    given = {"hemisphere": settings["hemisphere"], **own, "beds": {**recorded, **own.get("beds", {})}}
    report, told = opened(file), answering.check(given)
    held = _lab_answers(report, told, settings.get("labs", {}))
    if held:
        given = held | {
            key: {**held[key], **value} if isinstance(value, dict) and key in held else value
            for key, value in given.items()
        }
        told = answering.check(given)
    reading = report.read(told)
    if not len(samples) or (reading.results["sample"] != "").all():
        return reading
    printed = report.read(replace(told, beds={})).results.set_index("place")["bed"]
    return replace(reading, results=_labelled(reading.results, printed, samples))


def _labelled(results: pd.DataFrame, printed: pd.Series, samples: pd.DataFrame) -> pd.DataFrame:
    """Return the results with the sample's label where it stands in the column of the bed.

    ``printed`` is what stands there, by place. A label is that of a sample whose record fits its day.
    """
    text = results["place"].map(printed[~printed.index.duplicated()]).fillna("").astype("str")
    tried = results.assign(sample=results["sample"].where(results["sample"] != "", text))
    fits = _records(tried, samples)["bed"].notna().to_numpy()
    return results.assign(sample=tried["sample"].where(fits, results["sample"]).astype("str"))


def _mark(file: Path) -> str:
    """Return what two files have in common only when they are the same to the byte."""
    return hashlib.sha256(limits.contents(file, most=limits.TEXT_BYTES)).hexdigest()


@dataclass(frozen=True, eq=False)
class Reports:
    """All reports of a folder.

    Attributes
    ----------
    reading : Reading
        Their values, notes and questions as of one file.
    finished : dict
        File to the day on which the laboratory issued it, None where nothing tells.
    """

    reading: Reading
    finished: dict[str, pd.Timestamp | None]


def _listed(folder: Path) -> list[Path]:
    """Return what lies in a folder and below: files, links to folders, and folders that may not be listed."""
    found: list[Path] = []

    def blocked(error: OSError) -> None:
        """Keep a folder that cannot be entered, so that it is told of."""
        found.append(Path(error.filename))

    if folder.exists():
        for place, folders, names in os.walk(folder, onerror=blocked):
            found += [Path(place, name) for name in names]
            found += [link for name in folders if (link := Path(place, name)).is_symlink()]
    return sorted(found)


def _refuse(file: Path, folder: Path) -> None:
    """Refuse what is no file of the garden's own that this tool reads."""
    if not stays_inside(file, folder):
        raise GardenError(
            f"it is a link to '{real(file)}', outside of the garden's folder",
            remedy="Put the file itself in its place.",
        )
    if file.is_dir():
        what = "a link to a folder" if file.is_symlink() else "a folder that may not be listed"
        raise GardenError(f"'{file.name}' is {what}", remedy="Put a folder with the files in its place.")
    if file.suffix.casefold() not in FORMATS:
        kind = f"a file ending in '{file.suffix}'" if file.suffix else f"'{file.name}', which has no ending,"
        raise GardenError(
            f"{kind} is not a report this tool reads",
            remedy="Readable: " + ", ".join(FORMATS),
        )


def _read_instead(file: Path, files: list[Path], path: Path) -> str:
    """Return the name of a copy that has answers of its own, where this file has none; blank without one."""
    def answered(one: Path) -> bool:
        """Return whether answers lie beside a file."""
        return one.suffix.casefold() != ".toml" and one.with_suffix(".toml").exists()

    if answered(file):
        return ""
    size = file.stat().st_size
    alike = [one for one in files if answered(one) and one.is_file() and one.stat().st_size == size]
    copies = (one for one in alike if _mark(one) == _mark(file))
    return next((writable(one.relative_to(path).as_posix()) for one in copies), "")


def read_reports(path: Path, settings: dict[str, Any], *, samples: pd.DataFrame,
                 names: Iterable[str]) -> Reports:
    """Return all reports of the folder as one reading; a file that fails is set aside whole.

    ``names`` are those of :func:`bed_names`: a sample that bears one needs no other bed.
    """
    seen: dict[str, str] = {}
    finished: dict[str, pd.Timestamp | None] = {}
    results, aside, notes, asks = [], [], [], []
    files = _listed(path / "reports")
    for file in files:
        name = writable(file.relative_to(path).as_posix())
        if file.suffix.casefold() == ".toml" or file.name.startswith((".", "~")):
            continue
        try:
            _refuse(file, path)
            twin = seen.setdefault(_mark(file), _read_instead(file, files, path) or name)
            if twin != name:
                raise GardenError(f"this file is the same as {twin}, to the byte", remedy="It was read once.")
            reading = _read(file, settings, samples)
            reading = _without_needless(reading, _answered(reading, names, samples))
        except SoiltrendError as error:
            aside.append(
                frames.set_aside(
                    [{"source": name, "place": "the whole file", "reason": writable(str(error))}]
                )
            )
            continue
        finished[name] = reading.reported
        results.append(reading.results.assign(source=name))
        aside.append(reading.set_aside.assign(source=name))
        notes += [f"{name}: {note}" for note in reading.notes]
        asks += headed(reading.asks, name)
    every = frames.set_aside(pd.concat(aside) if aside else ())
    return Reports(Reading(frames.join(*results), every, tuple(notes), tuple(asks)), finished)


def _records(results: pd.DataFrame, samples: pd.DataFrame) -> pd.DataFrame:
    """Return, for each result, the line of samples.csv that tells of its sample, or missing.

    A label that stands on one line is that sample; a label used again and again ("1", "2")
    is matched by its day as well, unless lines of that day tell two places. A report dated more
    than :data:`APART` from the record is of another sample that bore the same label.
    """
    lone = ~samples["sample"].duplicated(keep=False)
    by_label = samples[lone].assign(record=samples.index[lone]).set_index("sample")["record"]
    record = results["sample"].map(by_label)
    again = samples[~lone].assign(record=samples.index[~lone]).drop_duplicates(PLACE)
    again = again[~again.duplicated(["sample", "sampled"], keep=False)]
    by_day = again.set_index(["sample", "sampled"])["record"]
    keys = pd.MultiIndex.from_frame(results[["sample", "sampled"]])
    record = record.fillna(pd.Series(by_day.reindex(keys).to_numpy(), index=results.index))
    told = samples.reindex(record).reset_index(drop=True)
    return told.mask((told["sampled"] - results["sampled"]).abs() > APART)


def told_by_records(results: pd.DataFrame, samples: pd.DataFrame) -> pd.DataFrame:
    """Return the results with bed, day and layer from the sampling record where it tells them.

    The grower's record of where and when she dug wins over what the laboratory printed; a
    day that differs is said in the note.
    """
    out = results.reset_index(drop=True)
    told = _records(out, samples)
    recorded = out["sample"].isin(samples["sample"])
    unplaced = out["sample"].where(recorded, out["bed"])
    out["bed"] = told["bed"].where(told["bed"].notna(), unplaced).astype("str")
    differs = told["sampled"].notna() & out["sampled"].notna() & (told["sampled"] != out["sampled"])
    said = OTHER_DAY + out["sampled"].dt.strftime("%Y-%m-%d").fillna("")
    out["note"] = _add_note(out["note"], said, differs)
    out["sampled"] = told["sampled"].where(told["sampled"].notna(), out["sampled"])
    for column in ("top_cm", "bottom_cm"):
        out[column] = told[column].where(told[column].notna(), out[column])
    days = told["days_since_dressing"]
    said = "sampled " + days.fillna(0).astype(int).astype(str) + " days after a dressing"
    out["note"] = _add_note(out["note"], said, days.notna() & (days < FRESH_DAYS))
    return out


def days_told(results: pd.DataFrame, finished: Mapping[str, pd.Timestamp | None]) -> tuple[str, ...]:
    """Return a remark for each sample that was dug, by the record, on another day than its report says.

    One that was dug after its report was issued bears a wrong day, or the label of another sample.
    """
    keys = ["source", "sample", "sampled", "note"]
    rows = results.loc[results["sampled"].notna(), keys].drop_duplicates()
    out = []
    for source, sample, day, note in rows.itertuples(index=False):
        said = f"{source}: sample '{sample}' was dug on {day:%Y-%m-%d}"
        issued = finished.get(source)
        if issued is not None and day.normalize() > issued.normalize():
            out.append(f"{said}, after its report was issued ({issued:%Y-%m-%d}): look at year and label")
        for told in (part for part in note.split("; ") if part.startswith(OTHER_DAY)):
            out.append(f"{said} by samples.csv, which is taken; {told}")
    return tuple(dict.fromkeys(out))


def bags_unmatched(reading: Reading, samples: pd.DataFrame) -> tuple[str, ...]:
    """Return a remark on the bags that no report names, though reports hold tests of their days.

    A bag of a later day than every test is still on its way, and not remarked on.
    """
    labels = ["sample", "sampled"]
    tests = pd.concat([reading.results[labels], reading.set_aside[["sample"]]]).drop_duplicates()
    met = samples.reset_index(names="bag").merge(tests, on="sample", suffixes=("", "_test"))
    near = ~((met["sampled_test"] - met["sampled"]).abs() > APART)
    days = tests["sampled"].dropna().drop_duplicates()
    due = [day <= days.max() and (days - day).abs().min() <= APART for day in samples["sampled"]]
    lost = samples.loc[np.array(due, dtype=bool) & ~samples.index.isin(met.loc[near, "bag"]), "sample"]
    if lost.empty:
        return ()
    bags = "1 bag matches" if len(lost) == 1 else f"{len(lost)} bags match"
    shown = ", ".join(lost[:NAMED]) + (" ..." if len(lost) > NAMED else "")
    return (f"samples.csv: {bags} no sample of a report of those days ({shown}), and what you noted of them "
            "is not used; write there the label that the report bears",)


PLACE = ["sample", "sampled", "bed", "top_cm", "bottom_cm"]
"""What a line of samples.csv tells of a sample; lines that are alike in it are one."""

NAMED = 5
"""How many bags a remark names; more are counted."""

APART = pd.Timedelta(days=45)
"""Longest time between sampling and the day a laboratory prints on its report: common practice."""

OTHER_DAY = "the report gives the day as "
"""How the note of a value begins whose record and report differ in the day."""

FRESH_DAYS = 60
"""Days after a dressing within which a sample may still hold it undissolved: common practice
is to wait two months or more; no published figure was found."""


def _add_note(note: pd.Series, text: pd.Series, where: pd.Series) -> pd.Series:
    joined = note.where(note == "", note + "; ") + text
    return note.where(~where, joined).astype("str")


def _strange(text: str, beds: pd.DataFrame, samples: pd.DataFrame) -> str:
    """Return why a sample is in none of the garden's beds, and what would place it."""
    lines = samples.loc[samples["sample"] == text, "line"].astype(str).tolist()
    if len(lines) > 1:
        both = f"{', '.join(lines[:-1])} and {lines[-1]}"
        return (
            f"'{text}' stands on lines {both} of samples.csv, and nothing tells "
            "which of them this sample is; give each bag a label of its own there, the one that its report "
            "bears, or each line a day of its own and that day to the report"
        )
    return (
        f"'{text}' is not a bed of this garden ({nearest(text, beds['bed'])}); say which in "
        "samples.csv, in the aliases of garden.toml or under [beds] in report.toml"
    )


def placed(results: pd.DataFrame, beds: pd.DataFrame, *,
           samples: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the results whose bed is the garden's, and the others as rows set aside."""
    names = bed_names(beds)
    bed = results["bed"].map(lambda text: names.get(same(text)))
    known = results[bed.notna()].assign(bed=bed.dropna().astype("str")).reset_index(drop=True)
    strange = results[bed.isna()]
    reasons = {text: _strange(text, beds, samples) for text in strange["bed"].unique()}
    aside = frames.set_aside(
        strange.assign(
            label=strange["analyte"], text=strange["reported_value"], reason=strange["bed"].map(reasons)
        )
    )
    return known, aside[list(frames.SET_ASIDE)]


def _refuse_upside_down(results: pd.DataFrame) -> None:
    """Refuse the edge of a layer in samples.csv that does not fit the other edge, which the report tells."""
    wrong = results[results["top_cm"] >= results["bottom_cm"]]
    if wrong.empty:
        return
    row = wrong.iloc[0]
    raise GardenError(
        f"sample '{row['sample']}' of {row['source']} would come from {row['top_cm']:g} to "
        f"{row['bottom_cm']:g} cm by top_cm or bottom_cm here and the other edge there",
        file="samples.csv",
        remedy="Write both top_cm and bottom_cm of this sample, top_cm the smaller.",
    )


def layers(results: pd.DataFrame, beds: pd.DataFrame) -> pd.DataFrame:
    """Return the results with the bed's own depth as the layer where nothing else states one.

    A layer of which only the lower end is stated begins at the surface.
    """
    _refuse_upside_down(results)
    depth = results["bed"].map(beds.set_index("bed")["depth_cm"]).astype(float)
    unstated = results["top_cm"].isna() & results["bottom_cm"].isna()
    return results.assign(
        top_cm=results["top_cm"].mask(unstated | results["bottom_cm"].notna(), results["top_cm"].fillna(0.0)),
        bottom_cm=results["bottom_cm"].mask(unstated, depth)
    )
