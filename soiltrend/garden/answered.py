"""report.toml and the answers beside a file: read, and told of where nothing reads them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from soiltrend import vocabulary
from soiltrend.errors import ReadError
from soiltrend.folder import check_keys, read_toml
from soiltrend.reading import Reading
from soiltrend.reading import answers as answering
from soiltrend.reading.answers import KEYS as ANSWERS
from soiltrend.reading.answers import MAPPINGS
from soiltrend.writing import writable

OF_ALL = "report.toml"
"""The answers of every file of a folder; a file's own bear its name."""

BY_ANALYTE = ("units", "methods", "limits")
"""Tables whose lines may name an analyte as well as a heading."""


def _check_answers(given: dict[str, Any], file: str) -> None:
    """Refuse answers that cannot be used, under the name of the file they stand in."""
    try:
        answering.check(given)
    except ReadError as error:
        raise ReadError(error.problem, file=file, place=error.place, remedy=error.remedy) from error


def _homes(file: Path) -> list[Path]:
    """Return where answers of a file may stand; the later goes before the earlier."""
    return [file.parent / OF_ALL, file.with_suffix(".toml")]


def answers_of(file: Path) -> dict[str, Any]:
    """Return what report.toml and the file's own toml say; the file's own wins."""
    told: dict[str, Any] = {}
    for toml in _homes(file):
        if toml.exists():
            more = read_toml(toml)
            check_keys(more, ANSWERS, file=toml.name, place="")
            _check_answers(more, toml.name)
            told |= {
                key: {**told.get(key, {}), **value} if isinstance(value, dict) else value
                for key, value in more.items()
            }
    return told


@dataclass(eq=False)
class Heard:
    """Which lines of which answers were read, file after file.

    Attributes
    ----------
    used : dict
        A file of answers to the lines that a report was read by: (table, label).
    analytes : set of str
        What was read at all.
    tried : set of Path
        Reports that could not be read, of whose answers nothing can be said.
    """

    used: dict[Path, set[tuple[str, str]]] = field(default_factory=dict)
    analytes: set[str] = field(default_factory=set)
    tried: set[Path] = field(default_factory=set)

    def read(self, file: Path, reading: Reading) -> None:
        """Take down by which answers a report was read."""
        self.tried.discard(file)
        self.analytes |= set(reading.results["analyte"].unique())
        for toml in _homes(file):
            self.used.setdefault(toml, set()).update(reading.used)

    def remarks(self, files: Sequence[Path], path: Path) -> list[str]:
        """Return a remark on each line of answers that nothing reads, and on answers beside no report.

        Parameters
        ----------
        files : sequence of Path
            All files of the garden's reports.
        path : Path
            The garden's folder.
        """
        answers = [file for file in files if file.suffix.casefold() == ".toml"]
        beside = {toml for file in set(files) - set(answers) for toml in _homes(file)}
        failed = {toml for file in self.tried for toml in _homes(file)}
        out = []
        for toml in answers:
            name = writable(toml.relative_to(path).as_posix())
            if toml not in beside and toml.name != OF_ALL:
                out.append(f"{name}: nothing of it is read: no report of that name lies beside it")
            elif toml in self.used and toml not in failed:
                lines = _unread(read_toml(toml), self.used[toml])
                out += [f"{name}: {_said(*line, self.analytes, name)}" for line in lines]
        return out


def _unread(given: Mapping[str, Any], used: set[tuple[str, str]]) -> list[tuple[str, str, str]]:
    """Return the lines of the tables of a file of answers by which nothing was read: table, label, answer."""
    lines = [(table, str(label), str(answer)) for table in MAPPINGS
             for label, answer in given.get(table, {}).items()]  # fmt: skip
    return [line for line in lines if (line[0], answering.plain(line[1])) not in used]


def _said(table: str, label: str, answer: str, analytes: set[str], name: str) -> str:
    """Return what there is to say of a line that nothing reads."""
    where = "the reports of its folder" if name.endswith(f"/{OF_ALL}") else "its report"
    kind = "sample or bed" if table == "beds" else "heading or analyte" if table in BY_ANALYTE else "heading"
    why = f"no {kind} in {where} reads so"
    if table == "limits":
        why = f"no value of that {kind} in {where} lies below a limit that is not told"
    known = vocabulary.read_label(label).analyte if table in BY_ANALYTE else ""
    if known in analytes and answering.plain(known) == answering.plain(label) and table != "limits":
        why = f"no value of {known} in {where} takes it"
    elif known in analytes and answering.plain(known) != answering.plain(label):
        why += f"; {answering.quoted(known)} is the analyte, or write the heading in full"
    return f"{answering.ask(table, label, answer)} is used by nothing: {why}"
