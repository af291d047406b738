"""How a result shows itself: a title line and a table, in plain text and in HTML.

Numbers are rounded to what the measurement can carry, so that tables read well and stay the
same from run to run.
"""

from __future__ import annotations

import html
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol, runtime_checkable

import numpy as np
import pandas as pd

from soiltrend import writing

SHOWN_ROWS = 60
LEFT = ' style="text-align:left"'
"""Words are read from the left; notebooks would set every cell of a table to the right."""

WIDE = ' style="text-align:left;min-width:22em"'
SOME = ' style="text-align:left;min-width:9em"'

INCH, SQUARE_FOOT = 2.54, 0.09290304
"""Centimetres in an inch and square metres in a square foot (NIST SP 811)."""

SHORT = 18
"""Letters above which a column of texts is given some width."""

FAR = 0.05
"""A number below this share of its interval's width is told as finely as :data:`FINE` allows."""

FINE = 0.025
"""What such a number is rounded to, as a share of that width at most: the power of ten below it."""

LONG = 60
"""A column with a text of more letters than this is a column of sentences, and is given room for them."""


def two_digits(value: float, *, sign: bool = False) -> str:
    """Return a number in two digits without an exponent, with its sign before it where that is asked.

    Examples
    --------
    >>> two_digits(0.0456), two_digits(103.0, sign=True), two_digits(-0.5)
    ('0.046', '+100', '-0.5')
    """
    return np.format_float_positional(value, precision=2, fractional=False, trim="-", sign=sign)


def number(value: float, *, digits: int = 3) -> str:
    """Return a number with so many significant digits, without an exponent.

    Examples
    --------
    >>> number(1234.5), number(0.04567), number(float("nan")), number(float("inf"))
    ('1230', '0.0457', '', 'no limit')
    """
    if value is None or np.isnan(value):
        return ""
    if np.isinf(value):
        return "no limit"
    if value == 0:
        return "0"
    places = digits - 1 - int(np.floor(np.log10(abs(value))))
    rounded = round(value, places)
    grown = abs(rounded) >= 10 ** (digits - places)  # 9.996 became 10.00: one digit too many
    return f"{rounded:.{max(places - grown, 0)}f}"


def _as_given(value: float, one: float) -> float:
    """Return a metric value in another unit where it is a whole number in that one only, else NaN."""
    other = value / one
    whole = abs(other - np.round(other)) < 1e-3 and abs(value - np.round(value, 1)) > 1e-9
    return float(np.round(other)) if whole else np.nan


def layer(top: float, bottom: float) -> str:
    """Return a layer [cm] in words, in inches where it was given so.

    Examples
    --------
    >>> layer(0, 15), layer(0, 15.24), layer(2.5, 7.5)
    ('0-15 cm', '0-6 in', '2.5-7.5 cm')
    """
    upper, lower = (_as_given(end, INCH) if end else 0.0 for end in (top, bottom))
    return f"{top:g}-{bottom:g} cm" if np.isnan(upper + lower) else f"{upper:g}-{lower:g} in"


def area(square_metres: float) -> str:
    """Return an area [m2] in words, in square feet where it was given so.

    Examples
    --------
    >>> area(12), area(9.290304), area(4.25)
    ('12 m2', '100 ft2', '4.25 m2')
    """
    feet = _as_given(square_metres, SQUARE_FOOT)
    return f"{square_metres:g} m2" if np.isnan(feet) else f"{feet:g} ft2"


def within(value: float, *, low: float, high: float, sign: bool = False) -> str:
    """Return a number in two digits; one far below the width of its interval, as finely as that allows.

    What then reads as nothing is below an eightieth of that width; what is more keeps its sign.

    Parameters
    ----------
    value, low, high : float
        A number and its interval, in one unit.
    sign : bool
        Whether a number above nothing bears a plus; nothing itself bears no sign.

    Examples
    --------
    >>> within(1.44, low=-2.0, high=6.0), within(-0.0076, low=-2.2, high=2.1)
    ('1.4', '0.0')
    >>> within(-3.3, low=-43.0, high=64.0), within(4.2e-06, low=-0.03, high=0.03, sign=True)
    ('-3', '0.000')
    """
    width = high - low
    if not (np.isfinite(value) and np.isfinite(width) and abs(value) < FAR * width):
        return two_digits(value, sign=True) if sign else number(value, digits=2)
    places = -int(np.floor(np.log10(FINE * width)))
    rounded = round(value, places) or 0.0  # no -0.0
    return f"{rounded:{'+' if sign and rounded else ''}.{max(places, 0)}f}"


def years_at_most(years: float, *, record: float) -> str:
    """Return the far end of an outlook [years]; what lies beyond twice the record is not told to the year.

    Examples
    --------
    >>> [years_at_most(years, record=8.0) for years in (5.2, 20.0, float("inf"))]
    ['5', 'more than 16', 'never']
    """
    if np.isinf(years):
        return "never"
    return f"{years:.0f}" if years <= 2 * record else f"more than {2 * record:.0f}"


def counted(number: int, noun: str) -> str:
    """Return a number of things, one of them without the s.

    Examples
    --------
    >>> counted(1, "bed"), counted(3, "bed"), counted(0, "warning")
    ('1 bed', '3 beds', '0 warnings')
    """
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _cell(value: object) -> str:
    if isinstance(value, (bool, np.bool_)):
        return "yes" if value else "no"
    if isinstance(value, (float, np.floating)):
        return number(float(value))
    if isinstance(value, pd.Timestamp):
        return f"{value:%Y-%m-%d}"
    return "" if value is None or value is pd.NaT else str(value)


def cells(table: pd.DataFrame) -> pd.DataFrame:
    """Return the table with every cell as text, rounded for a reader."""
    return table.map(_cell).astype("str")


def plain(title: str, table: pd.DataFrame) -> str:
    """Return a title line and the table as text.

    Examples
    --------
    >>> print(plain("Two beds", pd.DataFrame({"bed": ["A", "B"], "pH": [6.4, 7.0]})))
    Two beds
    bed   pH
      A 6.40
      B 7.00
    """
    shown = cells(table.head(SHOWN_ROWS))
    rest = len(table) - len(shown)
    body = shown.to_string(index=False) if len(shown) else "(no rows)"
    return f"{title}\n{body}" + (f"\n... and {rest} more rows" if rest else "")


def _style(texts: pd.Series) -> str:
    """Return how wide a column is at least: sentences get room, words do not stand one to a line."""
    longest = texts.str.len().max()
    return WIDE if longest > LONG else SOME if longest > SHORT else LEFT


def page(title: str, table: pd.DataFrame) -> str:
    """Return a caption and the table as HTML with scoped headers; every text is escaped.

    A table wider than the window scrolls by itself, with the keyboard too.

    Examples
    --------
    >>> "&lt;b&gt;" in page("t", pd.DataFrame({"bed": ["<b>"]}))
    True
    """
    shown = cells(table.head(SHOWN_ROWS))
    styles = [_style(shown[name]) for name in shown.columns]
    head = "".join(
        f'<th scope="col"{style}>{html.escape(str(name)).replace("_", "_<wbr>")}</th>'
        for name, style in zip(shown.columns, styles, strict=True)
    )
    rows = "".join(
        "<tr>" + "".join(f"<td{LEFT}>{html.escape(text)}</td>" for text in row) + "</tr>"
        for row in shown.itertuples(index=False, name=None)
    )
    rest = len(table) - len(shown)
    foot = f'<tfoot><tr><td colspan="{len(shown.columns)}">... and {rest} more rows</td></tr></tfoot>'
    name = html.escape(title)
    return (
        f'<div class="soiltrend" role="group" tabindex="0" aria-label="{name}" style="overflow-x:auto">'
        f'<table class="soiltrend"><caption{LEFT}>{name}</caption>'
        f"<thead><tr>{head}</tr></thead><tbody>{rows}</tbody>{foot if rest else ''}</table></div>"
    )


@dataclass(frozen=True, eq=False)
class Listing:
    """A table with a title, as it is shown to a reader.

    Attributes
    ----------
    title : str
        What the table lists.
    table : DataFrame
        Its rows.

    Examples
    --------
    >>> Listing("Beds", pd.DataFrame({"bed": ["East"]}))
    Beds
    bed
    East
    """

    title: str
    table: pd.DataFrame

    def __repr__(self) -> str:
        """Return the listing as plain text."""
        return plain(self.title, self.table)

    def _repr_html_(self) -> str:
        return page(self.title, self.table)


def grouped(rows: pd.DataFrame, *, by: str, listed: tuple[str, ...], title: str) -> Listing:
    """Return a listing of one row for each text of a column, with how many rows bear it.

    Parameters
    ----------
    rows : DataFrame
        What is listed.
    by : str
        The column whose texts are told apart, such as a reason.
    listed : tuple of str
        Columns whose different texts are written one after another.
    title : str
        What the listing is called.

    Examples
    --------
    >>> rows = pd.DataFrame({"bed": ["East", "West"], "reason": ["no buffer pH", "no buffer pH"]})
    >>> grouped(rows, by="reason", listed=("bed",), title="2 samples without a sum")
    2 samples without a sum
    reason rows        bed
    no buffer pH    2 East, West
    """
    told = {name: (name, lambda texts: ", ".join(dict.fromkeys(texts))) for name in listed}
    table = rows.groupby(by, sort=False).agg(rows=(by, "size"), **told)
    return Listing(title, table.reset_index())


@runtime_checkable
class HasTable(Protocol):
    """Any result: it carries a table."""

    @property
    def table(self) -> pd.DataFrame:
        """The rows of the result."""


def save_table(result: HasTable, path: str | Path) -> None:
    """Write a result's whole table as CSV, unrounded; its folder is made when it is not there.

    The file is whole or not there, and lies under ``out/`` when it lies in a garden's folder. A text
    that a spreadsheet program would take for a formula gets an apostrophe before it.

    Parameters
    ----------
    result : any result
        Whatever carries ``.table``.
    path : str or Path
        The file to write.
    """
    writing.table(path, result.table)
