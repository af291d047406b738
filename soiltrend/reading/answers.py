"""What the grower answers for a file that does not say it: the keys of ``report.toml``."""

from __future__ import annotations

import datetime
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from soiltrend import tables, units, vocabulary
from soiltrend.errors import ReadError, UnitError
from soiltrend.reading import days, layers

TEXTS = ("lab", "report", "reported", "sampled", "season", "hemisphere", "depth_unit", "dates", "decimal")
MAPPINGS = ("beds", "units", "methods", "analytes", "ignore", "limits")
NUMBERS = ("depth_cm", "bulk_density")
KEYS = (*TEXTS, *NUMBERS, *MAPPINGS)
CHOICES = {"hemisphere": ("north", "south"), "dates": ("DMY", "MDY", "YMD"), "decimal": (".", ",")}

SATURATION = "% of cec"
"""The unit of a share of the exchange capacity, as an answer may spell it."""


def plain(text: str) -> str:
    r"""Return the spelling under which a label is compared: case and spaces make no difference.

    Examples
    --------
    >>> plain("K\n (ppm)") == plain("k (PPM)")
    True
    """
    return " ".join(text.split()).casefold()


@dataclass(frozen=True)
class Answers:
    """Answers, checked; see :func:`check` for the keys.

    Attributes
    ----------
    lab, report, reported, sampled, season, hemisphere, depth_unit, dates, decimal : str
        Empty when not given.
    top_cm, bottom_cm, bulk_density : float
        NaN when not given [cm, g/cm3].
    beds, units, methods, analytes, ignore, limits : dict
        By :func:`plain` spelling of the sample, label or analyte.
    used : set of (str, str)
        The lines that a value was read by, table and spelling; it fills as a file is read.
    """

    lab: str = ""
    report: str = ""
    reported: str = ""
    sampled: str = ""
    season: str = ""
    hemisphere: str = "north"
    depth_unit: str = ""
    dates: str = ""
    decimal: str = ""
    top_cm: float = math.nan
    bottom_cm: float = math.nan
    bulk_density: float = math.nan
    beds: dict[str, str] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    methods: dict[str, str] = field(default_factory=dict)
    analytes: dict[str, str] = field(default_factory=dict)
    ignore: dict[str, str] = field(default_factory=dict)
    limits: dict[str, str] = field(default_factory=dict)
    used: set[tuple[str, str]] = field(default_factory=set, compare=False, repr=False)

    def of_headings(self) -> Answers:
        """Return the answers by which values are found, without those that tell what is made of them."""
        return Answers(units=self.units, analytes=self.analytes, ignore=self.ignore,
                       depth_unit=self.depth_unit, used=self.used)

    def of(self, table: str, label: str, analyte: str = "") -> str:
        """Return the answer for a label, else for its analyte, else empty."""
        given: dict[str, str] = getattr(self, table)
        for text in (label, analyte) if given else ():
            if text and plain(text) in given:
                self.used.add((table, plain(text)))
                return given[plain(text)]
        return ""


def _fault(key: str, value: object, remedy: str) -> ReadError:
    return ReadError(f"the answer {key} = {value!r} cannot be used", file="report.toml", place=key,
                     remedy=remedy)


def _text(key: str, value: object) -> str:
    if isinstance(value, (datetime.date, datetime.datetime)):
        return value.isoformat()[:10]
    if not isinstance(value, str) or (key in CHOICES and value not in CHOICES[key]):
        raise _fault(key, value, f"Write one of {', '.join(CHOICES.get(key, ('a text between quotes',)))}")
    return value.strip()


def _positive(key: str, value: object) -> float:
    number = float(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else math.nan
    if not (math.isfinite(number) and number > 0):
        raise _fault(key, value, "Write a number above zero")
    most, unit = vocabulary.most_told(key)
    if number > most:
        raise _fault(key, value, f"Write it in {unit}; {most:g} is the most that a soil can have")
    return number


def _layer(value: object) -> tuple[float, float]:
    """Return the edges of the layer that ``depth_cm`` answers."""
    if not isinstance(value, (list, tuple)):
        return 0.0, _positive("depth_cm", value)
    numbers = [float(edge) for edge in value if isinstance(edge, (int, float)) and not isinstance(edge, bool)]
    if len(value) != 2 or len(numbers) != 2 or not 0 <= numbers[0] < numbers[1] < math.inf:
        raise _fault("depth_cm", value, "Write [top, bottom] in cm, such as [0, 15]")
    return numbers[0], numbers[1]


def _mapping(key: str, value: object) -> dict[str, str]:
    if not isinstance(value, Mapping):
        raise _fault(key, value, f"Write it as a table: [{key}] and one line for each label")
    out = {plain(str(name)): str(text).strip() for name, text in value.items()}
    empty = [name for name, text in out.items() if not text]
    if empty:
        raise _fault(f"{key}.{empty[0]}", "", "Write an answer between the quotes, or take the line out")
    return out


def _check_units(given: dict[str, str]) -> None:
    for label, text in given.items():
        if plain(text) != SATURATION:
            try:
                units.parse(text)
            except UnitError as error:
                raise _fault(f"units.{label}", text, error.remedy) from error


def _canonical(given: dict[str, str]) -> dict[str, str]:
    """Return the canonical analyte for every analyte answered."""
    out = {}
    for label, text in given.items():
        known = text if vocabulary.facts(text) else vocabulary.read_label(text).analyte
        if not known:
            raise _fault(f"analytes.{label}", text,
                         "Write one of: " + ", ".join(tables.load("analytes")["analyte"]))
        out[label] = known
    return out


def _check_days(found: Answers) -> None:
    remedies = {"sampled": "; a season alone goes into season", "reported": ""}
    for key, remedy in remedies.items():
        told = getattr(found, key)
        if told and days.read(told, order=found.dates, hemisphere=found.hemisphere).day is None:
            raise _fault(key, told, f"Write the day as 2024-04-12{remedy}")
    moment = days.read(found.season, hemisphere=found.hemisphere)
    if found.season and not moment.season:
        raise _fault("season", found.season, "Write it as spring 2024")
    if found.depth_unit and not layers.known_unit(found.depth_unit):
        raise _fault("depth_unit", found.depth_unit, "Write one of cm, mm, m, in, ft")


def check(answers: Mapping[str, Any] | None) -> Answers:
    """Return the answers in one checked form.

    Parameters
    ----------
    answers : mapping, optional
        lab, report, reported ("2024-05-02", the day of the report), sampled ("2024-04-12"),
        season ("spring 2024"), hemisphere, dates ("DMY", "MDY" or "YMD"), decimal ("." or ","),
        depth_cm (number or [top, bottom]), depth_unit ("cm", "in"), bulk_density [g/cm3], and
        by label or analyte: beds (sample -> bed),
        units, methods, analytes, ignore (-> reason), limits (-> detection limit as printed).

    Raises
    ------
    ReadError
        When a key is not known or an answer cannot be used; it names the key and the value.

    Examples
    --------
    >>> check({"units": {"K": "ppm"}}).of("units", "K (soil)", "K")
    'ppm'
    >>> check({"bed": {"S1": "East"}})  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    soiltrend.errors.ReadError: report.toml, bed: the answer 'bed' is not known. Known answers: lab, ...
    """
    given = dict(answers or {})
    for name in given:
        if name not in KEYS:
            raise ReadError(f"the answer '{name}' is not known", file="report.toml", place=str(name),
                            remedy="Known answers: " + ", ".join(KEYS))
    fields: dict[str, Any] = {key: _text(key, given[key]) for key in TEXTS if key in given}
    fields |= {key: _mapping(key, given[key]) for key in MAPPINGS if key in given}
    if "depth_cm" in given:
        fields["top_cm"], fields["bottom_cm"] = _layer(given["depth_cm"])
    if "bulk_density" in given:
        fields["bulk_density"] = _positive("bulk_density", given["bulk_density"])
    _check_units(fields.get("units", {}))
    fields["analytes"] = _canonical(fields.get("analytes", {}))
    fields["methods"] = {label: vocabulary.find_method(text) or text
                         for label, text in fields.get("methods", {}).items()}
    found = Answers(**fields)
    _check_days(found)
    return found


def quoted(text: str) -> str:
    r"""Return a text as a TOML string.

    Examples
    --------
    >>> quoted('K "ppm"')
    '"K \\"ppm\\""'
    """
    return json.dumps(text, ensure_ascii=False)


def ask(table: str, label: str, example: str) -> str:
    """Return the line of ``report.toml`` that would settle a question.

    Examples
    --------
    >>> ask("units", "K", "mg/kg"), ask("", "depth_unit", "cm")
    ('[units] "K" = "mg/kg"', 'depth_unit = "cm"')
    """
    value = example if table == "" and label == "depth_cm" else quoted(example)
    return f"[{table}] {quoted(label)} = {value}" if table else f"{label} = {value}"


def toml(asks: list[str]) -> str:
    """Return the lines of ``report.toml`` for questions, each table once.

    Examples
    --------
    >>> print(toml(['[units] "K" = "mg/kg"', 'dates = "DMY"', '[units] "P" = "mg/kg"']))
    dates = "DMY"
    <BLANKLINE>
    [units]
    "K" = "mg/kg"
    "P" = "mg/kg"
    """
    lines = pd.Series(list(dict.fromkeys(asks)), dtype="str")
    parts = lines.str.extract(r"^(?:\[(\w+)\] )?(.*)$")
    out = parts.loc[parts[0].isna(), 1].tolist()
    for table, group in parts[parts[0].notna()].groupby(0, sort=False):
        out += ["", f"[{table}]", *group[1]]
    return "\n".join(out).strip()
