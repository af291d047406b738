"""Where and when each value was sampled: sample, bed, day, season and layer."""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from soiltrend import frames
from soiltrend.reading import answers as answering
from soiltrend.reading import days, layers
from soiltrend.reading.answers import Answers
from soiltrend.reading.gather import Found
from soiltrend.reading.grid import Column, merge, pair, reword
from soiltrend.reading.reasons import Talk

NO_BED = "(bed not stated)"
NAME_IT = "name of the bed"
DAY_IS = 'sampled = "2024-04-12"'
"""The line that would tell the day of sampling."""

ASKED = 200
"""For how many samples without a bed there is a line to fill in; a sheet of more is not filled in by hand."""


@dataclass(frozen=True, eq=False)
class Where:
    """Sample, bed, day and layer of each value.

    Attributes
    ----------
    sample, bed, season : Column
        Names, as text.
    day : array of datetime
        Day of sampling, NaT when not known.
    top, bottom : array of float
        The layer [cm]; NaN when not known.
    """

    sample: Column
    bed: Column
    season: Column
    day: np.ndarray
    top: np.ndarray
    bottom: np.ndarray


def _inside(sample: Column, depth: Column, answers: Answers, talk: Talk) -> dict[str, tuple[str, str]]:
    """Return (name, layer) for sample names that end in a layer whose unit is known."""
    if any(depth.words):
        return {}
    inside = layers.in_names([str(word) for word in sample.words])
    for name, (_, layer) in inside.items():
        if layers.read(layer, unit=answers.depth_unit).problem:
            talk.ask(f"the sample names seem to end in a layer ('{layer}' in '{name}'), whose unit is not "
                     "stated", 'depth_unit = "cm"')
            return {}
    return inside


def _edges(depth: Column, answers: Answers, talk: Talk) -> tuple[np.ndarray, np.ndarray, set[str]]:
    """Return top and bottom of each value, and the depth texts that could not be placed."""
    texts = [str(word) for word in depth.words]
    single = layers.singles(texts)
    read = [layers.read(text, unit=answers.depth_unit, single=single) for text in texts]
    for layer in read:
        if layer.problem:
            line = 'depth_unit = "cm"' if layer.problem.endswith("has no unit") else "depth_cm = [0, 15]"
            talk.ask(f"{layer.problem}; the layer is left open and its text stands behind the bed's name",
                     line)
    answered = layers.Layer(answers.top_cm, answers.bottom_cm)
    known = [layer if text else answered for text, layer in zip(texts, read, strict=True)]
    top, bottom = (np.array([getattr(layer, edge) for layer in known] or [math.nan])[depth.codes]
                   for edge in ("top", "bottom"))
    return top, bottom, {text for text, layer in zip(texts, read, strict=True) if layer.problem}


def _bed(sample: str, bed: str, answers: Answers) -> str:
    """Return the bed's name: by answer, by its column, else the sample's label."""
    answered = answers.of("beds", sample) or (answers.of("beds", bed) if bed else "")
    name = answered or bed or sample or NO_BED
    return f"'{name}'" if name == frames.GARDEN else name


def _ask_beds(sample: Column, bed: Column, answers: Answers, talk: Talk) -> None:
    """Say which samples have neither a bed column nor an answer, with the nearest answered names."""
    _, both = pair(sample, bed)
    nameless = [one for one, two in both if not two and not answers.of("beds", one)]
    if not nameless:
        return
    near = {one: difflib.get_close_matches(answering.plain(one), answers.beds, n=2) for one in nameless}
    lines = [answering.ask("beds", one or "sample", NAME_IT) for one in nameless[:ASKED]]
    talk.ask("no bed is named for some of the samples; each one's label stands in", lines[0])
    talk.asks += [line for line in dict.fromkeys(lines) if line not in talk.asks]
    talk.notes += [f"the sample '{one}' has no answer under [beds]; the nearest names there are "
                   f"{' and '.join(repr(name) for name in names)}" for one, names in near.items() if names]


def _beds(sample: Column, found: Found, unplaced: set[str], answers: Answers, talk: Talk) -> Column:
    """Return the bed of each value; a depth that could not be placed stands behind its name."""
    bed = found.columns["bed"]
    _ask_beds(sample, bed, answers, talk)
    named = merge(sample, bed, lambda one, two: _bed(one, two, answers))
    if not unplaced:
        return named
    return merge(named, found.columns["depth"], lambda one, two: f"{one} ({two})" if two in unplaced else one)


OTHER_WAY = {"DMY": "MDY", "MDY": "DMY"}
"""The other order in which day and month may stand."""


def _open_day(text: str, moment: days.When, answers: Answers, mixed: bool) -> tuple[str, str]:
    """Return what keeps a text from being a day, and the line that would settle it."""
    other = OTHER_WAY.get(answers.dates, "DMY")
    turned = answers.dates in OTHER_WAY and days.proof(text) == other
    said = f"'{text}' is no day by dates = \"{answers.dates}\"" if turned else moment.problem
    return said, f'dates = "{other}"' if (moment.season or turned) and not mixed else DAY_IS


def moments(found: Found, answers: Answers, talk: Talk) -> list[days.When]:
    """Return the moment of each different text under "sampled"; what must be asked goes into ``talk``."""
    texts = [str(word) or answers.sampled for word in found.columns["sampled"].words]
    read = days.column(texts, order=answers.dates, hemisphere=answers.hemisphere)
    shown = [repr(text) for text in days.proofs(texts).values()]
    mixed = len(shown) > 1
    if mixed:
        so = "" if answers.dates else "; each is read in the one order in which it is a day"
        talk.notes.append(f"the days of this file stand in both orders ({' and '.join(shown)}){so}")
    for at, moment in enumerate(read):
        if not moment.problem:
            continue
        if answers.sampled and (mixed or not moment.season) and texts[at] != answers.sampled:
            read[at] = days.read(answers.sampled, hemisphere=answers.hemisphere)
            talk.notes.append(f"{moment.problem}; the answer sampled = {answers.sampled} stands for it")
            continue
        said, line = _open_day(texts[at], moment, answers, mixed)
        talk.ask(f"{said}; the day of sampling is left open", line)
    return read


def _seasons(found: Found, read: list[days.When], day: np.ndarray, answers: Answers) -> Column:
    """Return the season of each value: of its day, else as the file or an answer tells it."""
    known = frames.season(pd.Series(day), hemisphere=answers.hemisphere).tolist()
    told = found.columns["season"]
    spare = {word: days.read(str(word) or answers.season, hemisphere=answers.hemisphere).season
             for word in told.words}
    first = Column(found.columns["sampled"].codes, np.array([str(i) for i in range(len(day))], dtype=object))
    return merge(first, told, lambda i, word: known[int(i)] or spare[word] or (
        read[int(i)].season if read else ""))


def _days(found: Found, answers: Answers, talk: Talk) -> tuple[np.ndarray, Column]:
    """Return the day and the season of each value."""
    read = moments(found, answers, talk)
    none = np.datetime64("NaT", "us")
    day = np.array([none if m.day is None else m.day.to_datetime64() for m in read] or [none],
                   dtype="datetime64[us]")
    season = _seasons(found, read, day, answers)
    if len(found) and not all(season.words) and not any(moment.problem for moment in read):
        talk.ask("the day of sampling is not stated", DAY_IS)
    late = day[day > np.datetime64("now")]
    talk.notes += [f"the day {late[0].astype('datetime64[D]')} lies in the future"] if len(late) else []
    return day[found.columns["sampled"].codes], season


def place(found: Found, answers: Answers, talk: Talk) -> Where:
    """Return where and when each value was sampled; of a row that is no sample nothing is asked.

    Parameters
    ----------
    found : Found
        One row for each value, all text.
    answers : Answers
        What the grower answered.
    talk : Talk
        Takes what must be asked.
    """
    problem, sampled = found.columns["problem"], found.columns["sampled"]
    sound = np.flatnonzero(problem.when(not word for word in problem.words))
    if len(sound) == len(found):
        return _place(found, answers, talk)
    if len(sound):
        _place(found.take(sound), answers, talk)
    undated = merge(sampled, problem, lambda day, fault: "" if fault else day)
    return _place(replace(found, columns={**found.columns, "sampled": undated}), answers, Talk(talk.file))


def _place(found: Found, answers: Answers, talk: Talk) -> Where:
    """Return where and when each value was sampled, asking of all of them."""
    sample, depth = found.columns["sample"], found.columns["depth"]
    inside = _inside(sample, depth, answers, talk)
    if inside:
        unit = f" {answers.depth_unit}" if answers.depth_unit else ""
        depth = reword(sample, [f"{inside[word][1]}{unit}" if word in inside else ""
                                for word in sample.words])
    top, bottom, unplaced = _edges(depth, answers, talk)
    bare = reword(sample, [inside[word][0] if word in inside and not answers.of("beds", word) else word
                           for word in sample.words]) if inside else sample
    bed = _beds(bare, found, unplaced, answers, talk)
    day, season = _days(found, answers, talk)
    return Where(sample, bed, season, day, top, bottom)
