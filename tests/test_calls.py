"""A call that gives a function another thing than it takes is told what it takes, and what gives that."""

import copy
import inspect
import pickle
import re
from collections.abc import Mapping, Sequence  # noqa: F401 (in annotations)
from pathlib import Path
from types import SimpleNamespace
from typing import Any, Literal  # noqa: F401 (in annotations)

import numpy as np
import pandas as pd
import pytest

import soiltrend as st
from soiltrend import calls, frames
from soiltrend.errors import CallError, FrameError
from soiltrend.present import HasTable  # noqa: F401 (in annotations)

FUNCTIONS = sorted(name for name in st.__all__ if inspect.isfunction(getattr(st, name)))
KINDS = {"DataFrame", *(name for name in st.__all__ if inspect.isclass(getattr(st, name)))}


OWN_WORDS = {"by_garden": "only asks when its answers are asked for", "layer": "reads all as a text"}
"""Functions that answer such a call in another way, and why."""

BESIDE = {"trick": "cut axis", "path": "a.png", "folder": "plans"}
"""What must be right for the first argument to be looked at."""


def firsts():
    """Return (function, kinds it takes first) for all that name a kind of thing, or several."""
    for name in sorted({*FUNCTIONS} - {*OWN_WORDS}):
        first = next(iter(inspect.signature(getattr(st, name)).parameters.values()), None)
        taken = set(re.findall(r"\w+", str(first.annotation))) & KINDS if first else set()
        if taken and "Sequence" not in str(first.annotation):
            yield name, taken


class Stranger:
    """Something that no function takes."""


@pytest.mark.parametrize(("name", "taken"), list(firsts()))
def test_a_stranger_is_refused_with_what_is_taken_instead(name, taken, tmp_path, monkeypatch):
    """Whatever is needed beside it: each parameter without a default is given a text."""
    monkeypatch.chdir(tmp_path)
    function = getattr(st, name)
    needed = [one for one in inspect.signature(function).parameters.values() if one.default is one.empty][1:]
    with pytest.raises(CallError, match=rf"^{name}\(\) was given a Stranger where it takes '") as caught:
        function(Stranger(), **{one.name: BESIDE.get(one.name, "x") for one in needed})
    assert any(kind in str(caught.value) for kind in taken)


def test_a_garden_is_no_results_and_results_are_no_garden():
    """The two that are mixed up most: the answer says how to come from one to the other."""
    with pytest.raises(CallError, match=r"a DataFrame\. A garden's results are garden\.results, or st\.pre"):
        st.trend(open_one())
    with pytest.raises(CallError, match=r"takes 'garden', a Garden\. st\.open_garden gives a Garden\."):
        st.budget(frames.results())
    with pytest.raises(CallError, match=r"st\.compare or st\.compare_latest gives a Comparison"):
        st.chart_change(frames.results())


def open_one():
    """Return something of a garden's kind."""
    return copy.copy(object.__new__(st.Garden))


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: st.compare(frames.results(), "spring 2024", "spring 2025"),
         "compare(results, before=..., after=..., noise=..., confidence=...)"),
        (lambda: st.compare(frames.results(), befor="spring 2024"),
         "compare() cannot be called like this: missing a required"),
        (lambda: st.speak("US"), "speak(units=..., language=...)"),
    ],
)  # fmt: skip
def test_a_call_in_another_form_is_shown_the_right_one(call, told):
    with pytest.raises(CallError, match=re.escape(told)):
        call()


BED = {"bed": "East", "analyte": "K", "value": 90.0, "unit": "mg/kg", "lab": "a", "season": "spring 2024"}
ROWS = frames.results([{**BED, "sampled": "2024-04-02"},
                       {**BED, "sampled": "2025-04-02", "season": "spring 2025"}])  # fmt: skip
PAIR = {"before": "spring 2024", "after": "spring 2025"}


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: st.compare(ROWS, noise=ROWS, **PAIR),
         "compare() was given a DataFrame where it takes 'noise', a Noise. st.noise_model gives a Noise."),
        (lambda: st.drift(ROWS, noise=Stranger()),
         "drift() was given a Stranger where it takes 'noise', a Noise. st.noise_model gives a Noise."),
        (lambda: st.noise_model(ROWS, samples=open_one()),
         "'samples', a DataFrame. A garden's record of sampling is garden.samples."),
        (lambda: st.known_materials(own=open_one()),
         "'own', a DataFrame. A garden's own materials are garden.materials."),
        (lambda: st.exchange(ROWS, acidity=ROWS), "given a DataFrame where it takes 'acidity', a text."),
        (lambda: st.material_card(5), "material_card() was given an int where it takes 'name', a text"),
        (lambda: st.blend(["straw"], cn="30"), "given a str where it takes 'cn', a number."),
        (lambda: st.acid_extract("chalk", grams="9", litres=1), "given a str where it takes 'grams', a numb"),
        (lambda: st.read_report(5), "given an int where it takes 'path', a text or a path."),
        (lambda: st.open_garden(5), "given an int where it takes 'path', a text or a path."),
        (lambda: st.layer("straw", area_m2="4", kg=1), "given a str where it takes 'area_m2', a number."),
        (lambda: st.chart_plan(open_one(), bed="East"), "was given a Garden where it takes 'plan'"),
        (lambda: st.detectable(3), "was given an int where it takes 'source', a DataFrame or a Noise. A"),
    ],
)  # fmt: skip
def test_each_argument_is_asked_for_not_the_first_alone(call, told):
    with pytest.raises(CallError, match=re.escape(told)):
        call()


@pytest.mark.parametrize(
    ("annotation", "given"),
    [
        ("pd.Series | st.Bridge", pd.Series([1.0])),
        ("Mapping[str, Any] | st.Blend", {"a": 1}),
        ("Sequence[st.Garden | str]", ["a"]),
        ("HasTable", frames.results()),
        ("Any", frames.results()),
        ("Literal[1] | st.Bridge", frames.results()),
        ("float", 3),
        ("float", np.float32(3)),
        ("int", np.int64(3)),
        ("str | Path", Path("a")),
        ("str | None", None),
    ],
)
def test_what_one_of_several_kinds_allows_is_not_blamed(annotation, given):
    """A dictionary is a mapping, a list a sequence, and whatever has a table may be saved."""

    def broken(made: object) -> None:
        raise KeyError("a slip of ours")

    broken.__annotations__["made"] = annotation
    given = SimpleNamespace(table=given) if annotation == "HasTable" else given
    asked = calls.guarded(broken, public=lambda: {name: getattr(st, name) for name in st.__all__})
    with pytest.raises(KeyError, match="a slip of ours"):
        asked(given)


def test_an_error_of_a_right_call_is_left_as_it_is():
    """A frame without its columns is a frame; an error in another room is the engineer's to see."""
    with pytest.raises(st.SoiltrendError) as caught:
        st.trend(pd.DataFrame({"a": [1]}))
    assert not isinstance(caught.value, CallError)

    def broken(results: pd.DataFrame | None = None) -> None:
        raise KeyError("a slip of ours")

    broken.__annotations__["results"] = "pd.DataFrame | None"
    asked = calls.guarded(broken, public=dict)
    for given in ((frames.results(),), (None,), ()):
        with pytest.raises(KeyError, match="a slip of ours"):
            asked(*given)
    with pytest.raises(CallError, match="was given an int") as caught:
        asked(3)
    assert isinstance(caught.value.__cause__, KeyError)


GARDEN = st.simulate_garden(seed=1)
ENDS = {"before": "spring 2022", "after": "spring 2024"}
TEXT_COLUMNS = ("bed", "analyte", "method")
UNTIDY = {
    "categories": GARDEN.astype(dict.fromkeys(TEXT_COLUMNS, "category")),
    "objects": GARDEN.astype({"value": object}),
    "numbers as text": GARDEN.astype({"value": str}),
    "days as objects": GARDEN.assign(sampled=GARDEN["sampled"].dt.date),
    "days as text": GARDEN.astype({"sampled": str}),
    "a time zone": GARDEN.assign(sampled=GARDEN["sampled"].dt.tz_localize("Pacific/Auckland")),
    "no columns": pd.DataFrame(),
    "few columns": GARDEN[["bed", "analyte", "value"]],
    "no method": GARDEN.assign(method=GARDEN["method"].where(GARDEN.index > 0)),
    "no bed": GARDEN.assign(bed=GARDEN["bed"].where(GARDEN.index > 0)),
    "no note": GARDEN.assign(note=GARDEN["note"].where(GARDEN.index > 0)),
}  # fmt: skip
ASKED: dict[str, Any] = {
    "compare": lambda rows: st.compare(rows, **ENDS),
    "comparable": lambda rows: st.comparable(rows, **ENDS),
    "detectable": st.detectable,
    "detectable_slope": st.detectable_slope,
    "drift": st.drift,
    "exchange": st.exchange,
    "humus": st.humus,
    "lime_requirement": lambda rows: st.lime_requirement(rows, target=6.5),
    "noise_model": st.noise_model,
    "odd": st.odd,
    "ratios": st.ratios,
    "trend": st.trend,
}


@pytest.mark.parametrize("asked", ASKED)
@pytest.mark.parametrize("fault", UNTIDY)
def test_a_frame_made_by_hand_that_is_not_tidy_is_refused_with_its_faults(fault, asked):
    """By each question in the same words, those of the one check of frames."""
    with pytest.raises(FrameError, match=r"the frame is not tidy: (row|column)"):
        ASKED[asked](UNTIDY[fault])


def test_a_function_that_breaks_over_an_untidy_frame_says_what_is_not_tidy():
    """Whatever it was that broke; over a tidy one the error is left as it is."""

    def broken(results: pd.DataFrame) -> None:
        raise OverflowError("a slip of ours")

    broken.__annotations__["results"] = "pd.DataFrame"
    asked = calls.guarded(broken, public=dict, tidy=frames.check)
    with pytest.raises(FrameError, match="column 'value' holds values of type str") as caught:
        asked(UNTIDY["numbers as text"])
    assert isinstance(caught.value.__cause__, OverflowError)
    with pytest.raises(OverflowError, match="a slip of ours"):
        asked(GARDEN)


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: st.detectable(GARDEN, power=0.8), "a float where it takes 'power', a sequence. Found: 0.8"),
        (lambda: st.detectable(GARDEN, samplings=[3]), "an int where it takes 'samplings[0]', a Sampling. "),
        (lambda: st.noise_model(overrides="x"), "a str where it takes 'overrides', a mapping. Found: 'x'."),
        (lambda: st.drift(GARDEN, bands="own"), "a str where it takes 'bands', a mapping. Found: 'own'."),
        (lambda: st.drift(GARDEN, bands=5), "an int where it takes 'bands', a mapping. Found: 5."),
        (lambda: st.by_garden(GARDEN.assign(garden="a"), ask="trend"), "takes 'ask', a function. Found: 'tr"),
        (lambda: st.workshop([GARDEN]), "a DataFrame where it takes 'gardens[0]', a Garden or a text"),
        (lambda: st.blend(["straw", "hay"], seed=-1), "given -1 where it takes 'seed', 0 or more."),
        (lambda: st.simulate_garden(seed=-1), "given -1 where it takes 'seed', 0 or more."),
        (lambda: st.luck(st.compare(GARDEN, **ENDS), seed=-1), "given -1 where it takes 'seed', 0 or more."),
        (lambda: st.convert("5", unit="%", to="mg/kg"), "a number or an array of numbers. Found: '5'."),
        (lambda: st.convert(pd.Series(["1", "2"]), unit="%", to="mg/kg"), "a Series of str, such as '1', "),
        (lambda: st.convert(np.array(["a"]), unit="%", to="mg/kg"), "of <U1, such as 'a', where it takes '"),
        (lambda: st.convert(pd.Series([1, 2], dtype="category"), unit="%", to="mg/kg"), "of category, such"),
        (lambda: st.discovery_rate(pd.Series(["a"])), "a Series of str, such as 'a', where it takes 'p', nu"),
    ],
)  # fmt: skip
def test_what_an_argument_holds_is_asked_for_too(call, told):
    """The place in a mapping or a sequence is named, the value quoted, and what stands there instead."""
    with pytest.raises(CallError, match=re.escape(told)):
        call()


@pytest.mark.parametrize(
    ("annotation", "given", "told"),
    [
        ("Mapping[str, Mapping[str, float]]", {"E": {"hay": "a"}}, "takes 'given['E']['hay']', a number. F"),
        ("Mapping[str, Mapping[str, float]]", {"East": 5}, "'given['East']', a mapping. Found: 5."),
        ("tuple[str, str]", ("spring 2022",), "was given 1 in ('spring 2022',) where it takes 'given', 2."),
        ("tuple[str, str] | None", (1, 2), "an int where it takes 'given[0]', a text. Found: 1."),
        ("tuple[str, ...]", ("a", 2), "an int where it takes 'given[1]', a text. Found: 2."),
        ("Sequence[str]", ["x" * 99], None),
        ("Sequence[float]", np.array([1.0]), None),
        ("tuple[float, float]", [1, np.float64(2.0)], None),
        ("Mapping[str, tuple[float | None, float | None] | str]", {"a": (3, None), "b": "own"}, None),
        ("np.ndarray", pd.Series([1.0]), None),
        ("np.ndarray", pd.Series([True]), None),
    ],
)  # fmt: skip
def test_mappings_and_sequences_are_looked_into(annotation, given, told):
    def broken(given: object) -> None:
        raise KeyError("a slip of ours")

    broken.__annotations__["given"] = annotation
    asked = calls.guarded(broken, public=dict)
    with pytest.raises(KeyError if told is None else CallError) as caught:
        asked(given)
    assert (told or "a slip of ours") in str(caught.value)


def test_a_guarded_function_is_found_again_by_pickle():
    """Engines send functions to other processes by their names."""
    for name in ("trend", "chart_change", "handout"):
        assert pickle.loads(pickle.dumps(getattr(st, name))) is getattr(st, name)


def test_a_guarded_function_shows_its_own_words_and_parameters():
    assert st.compare.__doc__ == st.compare.__wrapped__.__doc__
    assert "before" in inspect.signature(st.compare).parameters


def test_one_garden_is_no_workshop():
    """A text would be taken for a folder a letter."""
    with pytest.raises(st.SoiltrendError, match=r"one garden alone was given, 'somewhere'\. Put"):
        st.workshop("somewhere")


@pytest.mark.parametrize(
    "call",
    [
        lambda: st.nitrogen_season("my-garden"),
        lambda: st.bed_layer("my-garden", bed="E", material="straw"),
        lambda: st.chart_plan("my-garden"),
        lambda: st.own_headline("my-garden"),
    ],
)
def test_a_text_in_the_place_of_a_garden_or_a_result_is_answered(call):
    """Where a parameter takes whatever has a certain shape, too."""
    with pytest.raises(CallError):
        call()
