"""Why a value cannot be used, what would settle it, and what else there is to say of a file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import PurePath

import numpy as np

NO_DATA = "a line that is no data: "
"""How a remark on a line of a file begins that holds no values, such as a letterhead."""

ELSEWHERE = ("printed again in ", "revised by ", "the same measurement as ", "this file is the same as ")
"""How reasons begin that ask nothing of the grower: what was set aside stands elsewhere, and was read."""


OF_ONE_FILE = ("sampled", "season", "report", "reported", "dates")
"""Answers that hold for one file alone; in ``report.toml`` they would be said of every file."""


def home(line: str, file: str) -> str:
    """Return where a line of answers belongs: beside its file, or into the toml of all files.

    Examples
    --------
    >>> home('sampled = "2024-04-12"', "reports/test1.csv")
    'test1.toml beside it'
    >>> home('[units] "K" = "mg/kg"', "reports/test1.csv")
    'report.toml'
    """
    return f"{PurePath(file).stem}.toml beside it" if line.split(" ")[0] in OF_ONE_FILE else "report.toml"


def headed(lines: Sequence[str], file: str) -> list[str]:
    """Return the lines that would settle a file's questions, each part under a comment that says where."""
    homes = [home(line, file) for line in lines]
    out = []
    for place in sorted(set(homes), key=lambda place: place == "report.toml"):
        out += [f"# for {file}, in {place}"]
        out += [line for line, own in zip(lines, homes, strict=True) if own == place]
    return out


def with_line(text: str, line: str, file: str) -> str:
    """Return a question about a file with the line that would settle it, and where to write it.

    Examples
    --------
    >>> with_line("its unit is not stated", '[units] "K" = "mg/kg"', "test1.csv")
    'its unit is not stated. To settle it, write in report.toml: [units] "K" = "mg/kg"'
    """
    return f"{text}. To settle it, write in {home(line, file)}: {line}"


@dataclass(eq=False)
class Talk:
    """What there is to say of a file.

    Attributes
    ----------
    file : str
        Its name.
    notes : list of str
        Sentences for the grower.
    asks : list of str
        Lines of answers that would settle what was asked.
    """

    file: str
    notes: list[str] = field(default_factory=list)
    asks: list[str] = field(default_factory=list)

    def ask(self, text: str, line: str) -> None:
        """Ask a question, once."""
        if line not in self.asks:
            self.notes.append(with_line(text, line, self.file))
            self.asks.append(line)


@dataclass(eq=False)
class Reasons:
    """The first reason found against each value, and the lines that would settle it.

    Attributes
    ----------
    codes : array of int
        For each value the position of its reason, 0 for none.
    talk : Talk
        Where the lines go that would settle what is asked.
    texts : list of str
        The reasons; the first is empty.
    """

    codes: np.ndarray
    talk: Talk
    texts: list[str] = field(default_factory=lambda: [""])

    def put(self, where: np.ndarray, text: str, *, line: str = "") -> None:
        """Give a reason to those of the values that have none yet; ``line`` would settle it."""
        free = where & (self.codes == 0)
        if text and free.any():
            self.texts.append(with_line(text, line, self.talk.file) if line else text)
            self.codes[free] = len(self.texts) - 1
            self.talk.asks += [line] * bool(line)

    def put_at(self, rows: Sequence[int], text: str, *, line: str = "") -> None:
        """Give a reason to single values that have none yet; ``line`` would settle it."""
        self.texts.append(with_line(text, line, self.talk.file) if line else text)
        self.talk.asks += [line] * bool(line)
        for row in rows:
            self.codes[row] = self.codes[row] or len(self.texts) - 1

    def put_each(self, codes: np.ndarray, texts: Sequence[str], *, lines: Sequence[str] = ()) -> None:
        """Give the reason ``texts[code]`` to each value that has none yet; empty ones are none."""
        for index in [i for i, text in enumerate(texts) if text]:
            self.put(codes == index, texts[index], line=lines[index] if lines else "")
