"""Why a value cannot be used, what would settle it, and what else there is to say of a file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

NO_DATA = "a line that is no data: "
"""How a remark on a line of a file begins that holds no values, such as a letterhead."""

ELSEWHERE = ("printed again in ", "revised by ", "the same measurement as ", "this file is the same as ")
"""How reasons begin that ask nothing of the grower: what was set aside stands elsewhere, and was read."""


def with_line(text: str, line: str) -> str:
    """Return a question with the line of ``report.toml`` that would settle it.

    Examples
    --------
    >>> with_line("its unit is not stated", '[units] "K" = "mg/kg"')
    'its unit is not stated. To settle it, write in report.toml: [units] "K" = "mg/kg"'
    """
    return f"{text}. To settle it, write in report.toml: {line}"


@dataclass(eq=False)
class Talk:
    """What there is to say of a file.

    Attributes
    ----------
    notes : list of str
        Sentences for the grower.
    asks : list of str
        Lines of ``report.toml`` that would settle what was asked.
    """

    notes: list[str] = field(default_factory=list)
    asks: list[str] = field(default_factory=list)

    def ask(self, text: str, line: str) -> None:
        """Ask a question, once."""
        if line not in self.asks:
            self.notes.append(with_line(text, line))
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
            self.texts.append(with_line(text, line) if line else text)
            self.codes[free] = len(self.texts) - 1
            self.talk.asks += [line] * bool(line)

    def put_at(self, rows: Sequence[int], text: str, *, line: str = "") -> None:
        """Give a reason to single values that have none yet; ``line`` would settle it."""
        self.texts.append(with_line(text, line) if line else text)
        self.talk.asks += [line] * bool(line)
        for row in rows:
            self.codes[row] = self.codes[row] or len(self.texts) - 1

    def put_each(self, codes: np.ndarray, texts: Sequence[str], *, lines: Sequence[str] = ()) -> None:
        """Give the reason ``texts[code]`` to each value that has none yet; empty ones are none."""
        for index in [i for i, text in enumerate(texts) if text]:
            self.put(codes == index, texts[index], line=lines[index] if lines else "")
