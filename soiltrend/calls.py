"""Calls that give a public function another thing than it takes are answered in its own words.

Nothing is checked beforehand: only when a function breaks is it asked whether it was given what it takes.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import wraps
from numbers import Integral, Real
from pathlib import Path
from types import UnionType
from typing import Any, TypeVar, Union, cast, get_args, get_origin, get_type_hints

import numpy as np
import pandas as pd

from soiltrend.errors import CallError, SoiltrendError

Function = TypeVar("Function", bound=Callable[..., Any])
Tidy = Callable[[pd.DataFrame], object]
"""What refuses a frame that is not tidy."""

RESULTS = "A garden's results are garden.results, or st.prepared(garden) with what can be computed from them"
FRAMES = {"results": RESULTS, "source": RESULTS, "samples": "A garden's record of sampling is garden.samples",
          "own": "A garden's own materials are garden.materials"}
"""Where the frame comes from that a parameter takes."""

TIDY = ("results", "source")
"""Parameters that take a tidy frame, where they take a frame."""

PLAIN: dict[Any, str] = {
    str: "a text", float: "a number", int: "a whole number", Path: "a path", Callable: "a function",
    Mapping: "a mapping", Sequence: "a sequence", tuple: "a tuple", np.ndarray: "an array of numbers",
}  # fmt: skip
"""Kinds that need no function to make them, in words."""

TAKEN: dict[Any, tuple[type, ...]] = {
    float: (Real,), int: (Integral,), np.ndarray: (np.ndarray, pd.Series), tuple: (tuple, list),
    Sequence: (Sequence, np.ndarray, pd.Series, pd.Index),
}  # fmt: skip
"""What is taken for a kind besides itself: numpy's own numbers, columns for sequences."""

LEAST = {"seed": 0}
"""What a parameter of this name must be at least, wherever it stands."""

SHOWN = 40
"""So many characters of a value are quoted."""

NAMED = 3
"""So many functions are named of those that give a thing."""


def _kinds(annotation: Any) -> list[Any]:
    """Return the classes that an annotation allows, without what they hold."""
    return [get_origin(part) or part for part in _choices(annotation)]


def _choices(annotation: Any) -> tuple[Any, ...]:
    """Return the annotations of which one must be met."""
    if isinstance(annotation, TypeVar):
        return annotation.__constraints__
    return get_args(annotation) if get_origin(annotation) in (Union, UnionType) else (annotation,)


def _a(kind: type) -> str:
    """Return the name of a kind of things with its article."""
    return f"{'an' if kind.__name__[0] in 'AEIOUaeio' else 'a'} {kind.__name__}"


def _example(name: str, takes: inspect.Signature) -> str:
    """Return how a function is called: what needs no name by its own, everything else by name."""
    parts = [one.name if one.kind is one.POSITIONAL_OR_KEYWORD else f"{one.name}=..."
             for one in takes.parameters.values()]
    return f"{name}({', '.join(parts)})"


def _makers(name: str, kind: type, public: dict[str, Any]) -> str:
    """Return which public functions give a thing of a kind, or whose frame a parameter takes, as a remedy."""
    if kind is pd.DataFrame:
        return FRAMES.get(name, "")
    names = [f"st.{one.__name__}" for one in public.values()
             if inspect.isfunction(one) and get_type_hints(one).get("return") is kind]
    others = ", for instance," if len(names) > NAMED else ""
    return f"{' or '.join(names[:NAMED])}{others} gives {_a(kind)}" if names else ""


def _misfit(name: str, given: object, annotation: Any, public: dict[str, Any]) -> tuple[str, str]:
    """Return in what way an argument is of another kind than is taken, and the remedy; or blanks."""
    nouns = (pd.DataFrame, *filter(inspect.isclass, public.values()))
    kinds = _kinds(annotation)
    wanted = [kind for kind in kinds if kind in nouns or kind in PLAIN]
    fits = any(kind is Any or not inspect.isclass(kind) or isinstance(given, TAKEN.get(kind, kind))
               for kind in kinds)
    shaped = any(getattr(kind, "_is_protocol", False) for kind in kinds)
    if fits or not (wanted or shaped or isinstance(given, nouns)):
        return "", ""
    what = f", {' or '.join(PLAIN.get(kind) or _a(kind) for kind in wanted)}" if wanted else ""
    told = [_makers(name, kind, public) for kind in wanted if kind not in PLAIN]
    if isinstance(given, (str, int, float, list, tuple)):
        told.append(f"Found: {_quoted(given)}")
    return f"was given {_a(type(given))} where it takes '{name}'{what}", ". ".join(filter(None, told))


def _quoted(given: object) -> str:
    """Return a value as it is written, the beginning of a long one."""
    told = repr(given)
    return told if len(told) <= SHOWN else f"{told[:SHOWN]}..."


def _flaw(name: str, given: Any, annotation: Any) -> str:
    """Return in what way an argument of the right kind cannot be one; or a blank."""
    kind = getattr(given, "dtype", None)
    if np.ndarray in _kinds(annotation) and kind is not None and not pd.api.types.is_numeric_dtype(kind):
        first = f", such as {_quoted(np.asarray(given).ravel().tolist()[0])}," if len(given) else ""
        return f"was given {_a(type(given))} of {kind}{first} where it takes '{name}', numbers"
    if name in LEAST and isinstance(given, Real) and given < LEAST[name]:
        return f"was given {given} where it takes '{name}', {LEAST[name]} or more"
    sides = get_args(annotation) if get_origin(annotation) is tuple else ()
    if isinstance(given, Sequence) and sides and ... not in sides and len(given) != len(sides):
        return f"was given {len(given)} in {_quoted(given)} where it takes '{name}', {len(sides)}"
    return ""


def _within(name: str, given: object, annotation: Any) -> Iterator[tuple[str, object, Any]]:
    """Yield what a mapping or a sequence holds, each with its place and the annotation it should meet."""
    origin, kinds = get_origin(annotation), get_args(annotation)
    if origin is Mapping and isinstance(given, Mapping):
        yield from ((f"{name}[{key!r}]", value, kinds[1]) for key, value in given.items())
    if origin in (Sequence, tuple, list) and isinstance(given, (list, tuple)):
        sides = kinds if ... not in kinds and len(kinds) == len(given) else kinds[:1] * len(given)
        yield from ((f"{name}[{i}]", *pair) for i, pair in enumerate(zip(given, sides, strict=True)))


def _fault(name: str, given: object, annotation: Any, public: dict[str, Any]) -> tuple[str, str]:
    """Return what is wrong with an argument or with something it holds, and the remedy; or blanks."""
    problem, remedy = _misfit(name, given, annotation, public)
    if problem:
        return problem, remedy
    mine = [part for part in _choices(annotation) if isinstance(given, _class(part))]
    meant = mine[0] if len(mine) == 1 else annotation
    held = (_fault(*one, public) for one in _within(name, given, meant))
    return next((told for told in held if told[0]), (_flaw(name, given, meant), ""))


def _class(annotation: Any) -> Any:
    """Return what an annotation takes as classes, for what may hold something."""
    kind = get_origin(annotation) or annotation
    plain = inspect.isclass(kind) and kind is not Any and not getattr(kind, "_is_protocol", False)
    return TAKEN.get(kind, kind if plain else ())


def _untidy(arguments: Mapping[str, Any], tidy: Tidy | None) -> SoiltrendError | None:
    """Return what is not tidy in a frame of results that was given, if anything."""
    for given in (arguments.get(name) for name in TIDY):
        if tidy and isinstance(given, pd.DataFrame):
            try:
                tidy(given)
            except SoiltrendError as error:
                return error
    return None


def guarded(function: Function, *, public: Callable[[], dict[str, Any]],
            tidy: Tidy | None = None) -> Function:
    """Return a public function that says so when it is called with another thing than it takes.

    Parameters
    ----------
    function : callable
        Takes one thing first, and everything else by name.
    public : callable
        Gives all that the package shows, by name: the kinds of things there are, and what makes them.
    tidy : callable, optional
        Refuses a frame that is not tidy: when a function breaks over such a frame, this is its answer.

    Raises
    ------
    CallError
        By the function returned, which is an error of this family and a TypeError.
    """
    takes = inspect.signature(function)

    @wraps(function)
    def asked(*args: Any, **kwargs: Any) -> Any:
        """Call the function, whose own words stand in the place of these."""
        try:
            bound = takes.bind(*args, **kwargs)
        except TypeError as error:
            raise CallError(
                f"{function.__name__}() cannot be called like this: {error}",
                remedy=f"Write it as {_example(function.__name__, takes)}, without what may stay as it is",
            ) from None
        try:
            return function(*args, **kwargs)
        except SoiltrendError:
            raise
        except Exception as error:
            hints, known = get_type_hints(function), public()
            for name, given in bound.arguments.items():
                problem, remedy = _fault(name, given, hints.get(name, Any), known)
                if problem:
                    raise CallError(f"{function.__name__}() {problem}", remedy=remedy) from error
            if told := _untidy(bound.arguments, tidy):
                raise told from error
            raise

    asked.__module__ = "soiltrend"  # where it is found again, by pickle too
    return cast(Function, asked)
