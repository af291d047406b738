"""The grower's own headline, held against the numbers: it may stand, and a warning stands under it.

Nothing is forbidden: a headline that the numbers do not carry is kept as it was written, and a note
says so wherever it is printed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from soiltrend import frames, present, verdicts
from soiltrend.compare import Comparison
from soiltrend.errors import SoiltrendError
from soiltrend.story import hearing
from soiltrend.story.claims import years_needed
from soiltrend.story.core import is_share, spoken, where
from soiltrend.story.voice import PLAIN, Voice, figure, language_of, listed
from soiltrend.trend import FALLING, RISING, STEADY, TOO_FEW

WAY = {
    verdicts.ROSE: hearing.ROSE,
    RISING: hearing.ROSE,
    verdicts.FELL: hearing.FELL,
    FALLING: hearing.FELL,
    verdicts.HELD: hearing.HELD,
    STEADY: hearing.HELD,
}
"""What a verdict says, in the ways that a headline can be heard to claim."""

CLOSE = 0.1
"""How far a number said may lie from the one found, as a share of it: a headline rounds."""

RATE = 0.05
"""Chance adjusted for all that was looked at up to which a claim stands, where the result does not say."""

COLUMNS = ["said", "carried", "why"]


@dataclass(frozen=True, eq=False)
class OwnHeadline:
    """A headline of the grower's own beside what the numbers say.

    Attributes
    ----------
    text : str
        As it was written.
    table : DataFrame
        One row a claim: ``said``, ``carried`` (whether the numbers carry it) and ``why``.
    note : str
        What is printed under the chart: a warning, or nothing when the numbers carry it all.
    """

    text: str
    table: pd.DataFrame
    note: str

    def __repr__(self) -> str:
        return present.plain(_title(self), self.table)

    def _repr_html_(self) -> str:
        return present.page(_title(self), self.table)


def _title(result: OwnHeadline) -> str:
    if result.table.empty:
        return PLAIN.say("own.title_unknown")
    return PLAIN.say("own.title_good" if result.table["carried"].all() else "own.title_bad")


@dataclass(frozen=True, eq=False)
class _Ground:
    """What claims are held against."""

    table: pd.DataFrame
    result: object
    beds: list[str]
    voice: Voice

    def rate(self) -> float:
        """Return the adjusted chance up to which a claim stands."""
        return 1 - float(getattr(self.result, "confidence", 1 - RATE))


def own_headline(
    result: present.HasTable, *, text: str, bed: str | None = None, voice: Voice = PLAIN
) -> OwnHeadline:
    """Hold a headline of the grower's own against the numbers.

    Parameters
    ----------
    result : Comparison, Trend or whatever carries a table with ``bed``, ``analyte`` and ``verdict``
        What the headline stands over.
    text : str
        The headline.
    bed : str, optional
        The bed it speaks of where it names none; by default the garden.
    voice : Voice
        Language and units.

    Returns
    -------
    OwnHeadline
        Its ``note`` is empty when the numbers carry every claim that was understood.

    Raises
    ------
    SoiltrendError
        When the headline is blank, or the result has no verdicts.

    Examples
    --------
    >>> from soiltrend.compare import compare
    >>> rows = [{"bed": "East", "season": s, "sampled": d, "analyte": "K", "unit": "mg/kg", "value": v}
    ...         for s, d, v in (("spring 2022", "2022-04-09", 80), ("spring 2024", "2024-04-11", 150))]
    >>> found = compare(frames.results(rows), before="spring 2022", after="spring 2024")
    >>> own_headline(found, text="Potassium rose in East").note
    ''
    >>> own_headline(found, text="Potassium fell in East").note
    "The headline is the grower's own. The numbers do not carry it: potassium rose in East."
    """
    if not text.strip():
        raise SoiltrendError(
            f"the headline is blank: {text!r}", remedy="Write what was seen, or leave it out."
        )
    table = result.table
    lacking = [name for name in ("bed", "analyte", "verdict") if name not in table]
    if lacking:
        raise SoiltrendError(
            f"a result without the column '{lacking[0]}' has no verdicts to hold a headline against",
            remedy="Give a comparison or a trend",
        )
    beds = [name for name in table["bed"].unique() if name != frames.GARDEN]
    ground = _Ground(table, result, [bed] if bed else beds if len(beds) == 1 else [frames.GARDEN], voice)
    heard = hearing.hear(text, beds=[*beds, *([bed] if bed else [])], language=language_of(voice))
    rows = [*_claimed(heard, ground), *_worded(heard, ground), *_numbered(heard, ground)]
    found = pd.DataFrame(rows, columns=COLUMNS)
    return OwnHeadline(text, found, _note(found, voice))


def _note(found: pd.DataFrame, voice: Voice) -> str:
    """Return what is printed under the chart."""
    if found.empty:
        return voice.say("own.unknown")
    against = found.loc[~found["carried"].astype(bool), "why"]
    if against.empty:
        return ""
    return voice.say("own.warning", {"why": voice.say("list.join").join(dict.fromkeys(against))})


def _row(said: str, why: str, voice: Voice) -> tuple[str, bool, str]:
    return said, not why, why or voice.say("own.carried")


def _claimed(heard: hearing.Hearing, ground: _Ground) -> list[tuple[str, bool, str]]:
    """Return a row for what is said of each measure in each bed, and for each number said of it."""
    rows = []
    for claim in heard.claims:
        said = f"{spoken(claim.measure)} {_said(claim.way, ground.voice)}".strip()
        rows += [_row(said, _counted(claim, count, ground), ground.voice) for count in claim.counts]
        everywhere = bool(claim.counts or heard.words["all"]) and not claim.beds  # told otherwise
        for bed in [] if everywhere else claim.beds or ground.beds:
            place = where(bed, voice=ground.voice)
            rows.append(_row(f"{said} {place}", _against(claim, bed, ground), ground.voice))
        rows += [_row(number.text, _unlike(claim, number, ground), ground.voice) for number in claim.numbers]
    return rows


def _said(way: str, voice: Voice) -> str:
    return voice.say(f"verb.{way}") if way in hearing.WAYS[:3] else way


def _of(claim: hearing.Claim, bed: str, ground: _Ground) -> pd.DataFrame:
    table = ground.table
    return table[(table["analyte"] == claim.measure) & (table["bed"] == bed)]


def _against(claim: hearing.Claim, bed: str, ground: _Ground) -> str:
    """Return why the numbers do not carry what is said of a measure in a bed, or nothing."""
    voice = ground.voice
    rows = _of(claim, bed, ground)
    told: dict[str, object] = {"name": spoken(claim.measure), "where": where(bed, voice=voice)}
    if rows.empty:
        known = (ground.table["analyte"] == claim.measure).any()
        return voice.say("own.absent_bed" if known else "own.absent", told)
    if not claim.way:
        return ""
    if is_share(claim.measure):
        return voice.say("own.share", told)
    comparison = ground.result if isinstance(ground.result, Comparison) else None
    if comparison and claim.way != hearing.HELD and (years := years_needed(claim.measure, comparison)):
        return voice.say("own.slow", told | {"years": f"{years:g}"})
    reasons = [
        _of_record({str(k): v for k, v in row.items()}, claim.way, ground, told)
        for row in rows.to_dict("records")
    ]
    return "" if "" in reasons else reasons[0]


def _of_record(row: dict[str, object], way: str, ground: _Ground, told: dict[str, object]) -> str:
    """Return why one record does not carry a way, or nothing when it does."""
    voice, verdict = ground.voice, str(row["verdict"])
    q = float(str(row.get("q", np.nan)))
    if verdict == verdicts.NOT_COMPARABLE:
        return voice.say("own.refused", told)
    if verdict == TOO_FEW:
        return voice.say("own.few", told)
    found = WAY.get(verdict, "")
    told = told | {"verb": verdict, "q": present.number(q, digits=2)}
    if not found:
        return voice.say("own.not_held" if way == hearing.HELD else "own.unclear", told)
    moved = found in (hearing.ROSE, hearing.FELL)
    if way == found or (way == hearing.CHANGED and moved):
        return voice.say("own.luck", told) if moved and not q <= ground.rate() else ""
    return voice.say("own.other", told)


def _counted(claim: hearing.Claim, count: tuple[int, int], ground: _Ground) -> str:
    """Return why "in 2 of 7 beds" is not so, or nothing."""
    table = ground.table[(ground.table["analyte"] == claim.measure) & (ground.table["bed"] != frames.GARDEN)]
    beds = list(table["bed"].unique())
    if not beds:
        return ground.voice.say("own.absent", {"name": spoken(claim.measure)})
    refused = (verdicts.NOT_COMPARABLE, TOO_FEW)
    of = table[~table["verdict"].isin(refused)]["bed"].nunique()
    against = {bed: _against(claim, bed, ground) for bed in beds}
    n = sum(not why for why in against.values())
    number, total = count
    if n != (len(beds) if number == hearing.EVERY else number) or total not in (0, of, len(beds)):
        return ground.voice.say("own.count", {"n": n, "beds": ground.voice.counted("count.bed", of)})
    open_ = [why for bed, why in against.items() if not _denied(claim, bed, ground)]
    return open_[0] if number == 0 and open_ else ""


def _denied(claim: hearing.Claim, bed: str, ground: _Ground) -> bool:
    """Return whether all records of a measure in a bed show that it did not go the way claimed."""
    found = [WAY.get(str(verdict), "") for verdict in _of(claim, bed, ground)["verdict"]]
    moved = (hearing.ROSE, hearing.FELL)
    said = moved if claim.way == hearing.CHANGED else (claim.way,)
    return bool(found) and all(way and way not in said for way in found)


def _unlike(claim: hearing.Claim, number: hearing.Number, ground: _Ground) -> str:
    """Return why a number is not what was found for its measure, or nothing."""
    rows = pd.concat([_of(claim, bed, ground) for bed in claim.beds or ground.beds])
    if rows.empty:
        return ""
    records = [{str(k): v for k, v in row.items()} for row in rows.to_dict("records")]
    if any(_near(number, value) for row in records for value in _values(row, percent=number.percent)):
        return ""
    told = {
        "said": number.text,
        "name": spoken(claim.measure),
        "found": listed([_found(row, number.percent, ground.voice) for row in records], voice=ground.voice),
    }
    return ground.voice.say("own.number", told)


def _values(row: dict[str, object], *, percent: bool) -> list[float]:
    """Return the numbers of a record that a headline may repeat."""
    if "slope_per_year" in row:
        names = ["percent_per_year"] if percent else ["slope_per_year", "n", "years", "level"]
    else:
        names = ["percent"] if percent else ["before", "after", "change"]
    if percent and row.get("unit") == "%":
        names += ["before", "after", "change", "slope_per_year"]
    return [float(str(row[name])) for name in names if name in row]


def _near(number: hearing.Number, value: float) -> bool:
    """Return whether a number says a value, to its last digit or to a tenth."""
    text = number.text.split()[0].replace(",", ".")
    digits = len(text.partition(".")[2]) if text[0].isdigit() else 0
    room = max(0.5 * 10.0**-digits, CLOSE * abs(value))
    return bool(np.isfinite(value) and abs(abs(number.value) - abs(value)) <= room)


def _found(row: dict[str, object], percent: bool, voice: Voice) -> str:
    """Return the number that a headline should have said."""
    if "slope_per_year" in row:
        names = {"slope": "slope_per_year", "low": "low", "high": "high"}
        return voice.say(
            "own.found_rate", {key: figure(float(str(row[name]))) for key, name in names.items()}
        )
    if not percent or not np.isfinite(float(str(row.get("percent", np.nan)))):
        return voice.say(
            "own.found_change", {end: figure(float(str(row[end]))) for end in ("before", "after")}
        )
    start = float(str(row["before"]))
    ends = {end: figure(100 * float(str(row[end])) / start, digits=2) for end in ("low", "high")}
    return voice.say("own.found_percent", ends | {"change": figure(float(str(row["percent"])), digits=2)})


def _worded(heard: hearing.Hearing, ground: _Ground) -> list[tuple[str, bool, str]]:
    """Return a row for each word of cause, grade, forecast, trend and all."""
    voice = ground.voice
    rows = [
        _row(word, voice.say(f"own.{kind}", {"word": word}), voice)
        for kind in ("cause", "grade", "forecast")
        for word in _longest(heard.words[kind])
    ]
    if isinstance(ground.result, Comparison) or "slope_per_year" not in ground.table:
        rows += [
            _row(word, voice.say("own.trend", {"word": word}), voice)
            for word in _longest(heard.words["trend"])
        ]
    for word in _longest(heard.words["all"]):
        for claim in heard.claims:
            rows.append(_row(word, _all(claim, word, ground), voice))
    return rows


def _longest(words: list[str]) -> list[str]:
    """Return the words that are no part of a longer one that was found."""
    return [word for word in words if not any(word != other and word in other for other in words)]


def _all(claim: hearing.Claim, word: str, ground: _Ground) -> str:
    """Return why "all beds" is more than was found, or nothing."""
    table = ground.table[(ground.table["analyte"] == claim.measure) & (ground.table["bed"] != frames.GARDEN)]
    beds = list(table["bed"].unique())
    n = sum(not _against(claim, bed, ground) for bed in beds)
    if n == len(beds):
        return ""
    return ground.voice.say("own.everything", {"word": word, "n": n, "of": len(beds)})


def _numbered(heard: hearing.Hearing, ground: _Ground) -> list[tuple[str, bool, str]]:
    """Return a row for each year, and for each number that belongs to no measure."""
    voice = ground.voice
    rows = [
        _row(number.text, voice.say("own.number_nothing", {"said": number.text}), voice)
        for number in heard.loose
    ]
    ends = [str(getattr(ground.result, end, "")) for end in ("before", "after")]
    if not any(ends):
        return rows
    years = [(year, any(year in end for end in ends)) for year in heard.years]
    return rows + [
        _row(year, "" if good else voice.say("own.year", {"said": year}), voice) for year, good in years
    ]
