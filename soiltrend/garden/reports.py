"""Lab reports of a garden: read with all the answers there are, and placed in its beds."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd

from soiltrend import frames, limits
from soiltrend.errors import GardenError, SoiltrendError
from soiltrend.folder import nearest, stays_inside
from soiltrend.garden.answered import Heard, answers_of
from soiltrend.garden.bags import UNSURE, bags, labelled, labelled_aside, no_bag, told_by_records
from soiltrend.garden.beds import bed_names, same
from soiltrend.reading import FORMATS, Opened, Reading, opened
from soiltrend.reading import answers as answering
from soiltrend.reading.answers import Answers
from soiltrend.reading.placing import DAY_IS, NAME_IT
from soiltrend.reading.reasons import headed
from soiltrend.writing import real, writable


def _lab_answers(report: Opened, told: Answers, labs: dict[str, Any]) -> dict[str, Any]:
    """Return what garden.toml says of a report's laboratory on the day of its samples."""
    named, day = report.origin(told) if labs else (set(), None)
    held: dict[str, Any] = {}
    for answers in labs.get(named.pop(), {}).get("answers", ()) if len(named) == 1 else ():
        if day is None or day.date() >= answers.get("from", date.min):
            held = {key: value for key, value in answers.items() if key != "from"}
    return held


def _answered(reading: Reading, names: Mapping[str, str], samples: pd.DataFrame) -> set[str]:
    """Return the questions that the garden itself answers: beds by their names, days by samples.csv."""
    labels = [label for label in reading.results["bed"].unique() if same(label) in names]
    lines = {answering.ask("beds", label, NAME_IT) for label in labels}
    if DAY_IS in reading.asks and len(reading.results):
        dated = told_by_records(reading.results, samples, names=names)["sampled"].notna().all()
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
    own = answers_of(file)
    if own.get("hemisphere", settings["hemisphere"]) != settings["hemisphere"]:
        raise GardenError(
            f"hemisphere = '{own['hemisphere']}' in the answers, '{settings['hemisphere']}' in garden.toml",
            file=file.name,
            remedy="A garden lies in one: take the line out of the answers, or correct garden.toml.",
        )
    given = {"hemisphere": settings["hemisphere"], **own}
    used: set[tuple[str, str]] = set()
    report, told = opened(file), replace(answering.check(given), used=used)
    held = _lab_answers(report, told, settings.get("labs", {}))
    if held:
        both = held | {
            key: {**held[key], **value} if isinstance(value, dict) and key in held else value
            for key, value in given.items()
        }
        told = replace(answering.check(both), used=used)
    return _with_bags(report, told, samples)


def _with_bags(report: Opened, told: Answers, samples: pd.DataFrame) -> Reading:
    """Return a report that asks for no bed that samples.csv tells, its beds still its own, its bags labelled.

    Which line tells of a sample hangs on its day as well, and is settled with all reports together.
    """
    labels = samples["sample"].map(answering.plain)
    recorded = dict(zip(labels, samples["bed"], strict=True))
    reading = report.read(replace(told, beds=recorded | told.beds))
    if samples.empty:
        return reading
    printed, results = report.beds(told), reading.results
    beds = report.read(told).results.set_index("place")["bed"]
    own = results["place"].map(beds[~beds.index.duplicated()]).fillna(results["bed"])
    return replace(
        reading,
        results=labelled(results.assign(bed=own.astype("str")), printed, samples),
        set_aside=labelled_aside(reading.set_aside, printed, samples),
    )


def _mark(file: Path) -> str:
    """Return what two files have in common only when they are the same to the byte."""
    return hashlib.sha256(limits.contents(file, most=limits.TEXT_BYTES)).hexdigest()


def _told_mark(file: Path) -> str:
    """Return what two files have in common only when they and the answers beside them are the same."""
    own = file.with_suffix(".toml")
    return _mark(file) + (_mark(own) if own.is_file() else "")


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
                 names: Mapping[str, str]) -> Reports:
    """Return all reports of the folder as one reading; a file that fails is set aside whole.

    ``names`` are those of :func:`bed_names`: a sample that bears one needs no other bed.
    """
    seen: dict[str, str] = {}
    finished: dict[str, pd.Timestamp | None] = {}
    results, aside, notes, asks = [], [], [], []
    files, heard = _listed(path / "reports"), Heard()
    for file in files:
        name = writable(file.relative_to(path).as_posix())
        if file.suffix.casefold() == ".toml" or file.name.startswith((".", "~")):
            continue
        try:
            _refuse(file, path)
            twin = seen.setdefault(_told_mark(file), _read_instead(file, files, path) or name)
            if twin != name:
                raise GardenError(f"this file is the same as {twin}, to the byte", remedy="It was read once.")
            heard.tried.add(file)
            reading = _read(file, settings, samples)
            reading = _without_needless(reading, _answered(reading, names, samples))
        except SoiltrendError as error:
            aside.append(
                frames.set_aside(
                    [{"source": name, "place": "the whole file", "reason": writable(str(error))}]
                )
            )
            continue
        heard.read(file, reading)
        finished[name] = reading.reported
        results.append(reading.results.assign(source=name))
        aside.append(reading.set_aside.assign(source=name))
        notes += [f"{name}: {note}" for note in reading.notes]
        asks += headed(reading.asks, name)
    notes += heard.remarks(files, path)
    every = frames.set_aside(pd.concat(aside) if aside else ())
    return Reports(Reading(frames.join(*results), every, tuple(notes), tuple(asks)), finished)


def _strange(text: str, beds: pd.DataFrame, samples: pd.DataFrame, *, unsure: bool) -> str:
    """Return why a sample is in none of the garden's beds, and what would place it."""
    return no_bag(text, samples, unsure=unsure) or (
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
    unsure = bags(strange, samples) == UNSURE
    cases = list(zip(strange["bed"], unsure, strict=True))
    why = {(text, any_of): _strange(text, beds, samples, unsure=any_of) for text, any_of in set(cases)}
    aside = frames.set_aside(
        strange.assign(
            label=strange["analyte"], text=strange["reported_value"], reason=[why[case] for case in cases]
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
