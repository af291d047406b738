"""One family of errors that speak to the grower: file, place, what was found, what to do."""

from __future__ import annotations


class SoiltrendError(Exception):
    """Something in the garden, a report or a call that the tool will not guess its way past.

    Parameters
    ----------
    problem : str
        What was found, with the value itself in it.
    file : str
        The file it was found in; empty when no file is concerned.
    place : str
        Where in the file: line, cell, page or key.
    remedy : str
        What the reader can do about it.

    Examples
    --------
    >>> print(SoiltrendError("'abc' is no date", file="samples.csv", place="line 3",
    ...                      remedy="Write it as 2024-04-12."))
    samples.csv, line 3: 'abc' is no date. Write it as 2024-04-12.
    """

    def __init__(
        self, problem: str, *, file: str = "", place: str = "", remedy: str = ""
    ) -> None:
        self.problem = problem
        self.file = file
        self.place = place
        self.remedy = remedy
        where = ", ".join(part for part in (file, place) if part)
        sentences = [text.rstrip(". ") + "." for text in (problem, remedy) if text]
        super().__init__(f"{where}: {' '.join(sentences)}" if where else " ".join(sentences))


class UnitError(SoiltrendError):
    """A unit that is not known, or a conversion that has no meaning."""


class FrameError(SoiltrendError):
    """A frame that is not a tidy frame; all its faults are listed at once."""


class ReadError(SoiltrendError):
    """A lab file that cannot be opened or understood at all."""


class GardenError(SoiltrendError):
    """A garden folder whose files do not say what they must."""


class CallError(SoiltrendError, TypeError):
    """A call that gives a function another thing than it takes."""
