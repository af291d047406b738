"""Calls that give a public function another thing than it takes are answered in its own words.

Nothing is checked beforehand: only when a function breaks is it asked whether it was given what it takes.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable
from functools import wraps
from numbers import Integral, Real
from pathlib import Path
from types import UnionType
from typing import Any, TypeVar, Union, cast, get_args, get_origin, get_type_hints

import pandas as pd

from soiltrend.errors import CallError, SoiltrendError

Function = TypeVar("Function", bound=Callable[..., Any])

BROKEN = (AttributeError, IndexError, KeyError, NotImplementedError, TypeError, ValueError)
"""What a function raises that was given another thing than it counts on."""

RESULTS = "A garden's results are garden.results, or st.prepared(garden) with what can be computed from them"
FRAMES = {"results": RESULTS, "source": RESULTS, "samples": "A garden's record of sampling is garden.samples",
          "own": "A garden's own materials are garden.materials"}
"""Where the frame comes from that a parameter takes."""

PLAIN = {str: "a text", float: "a number", int: "a whole number", Path: "a path"}
"""Kinds that need no function to make them, in words."""

NUMBERS: dict[Any, type] = {float: Real, int: Integral}
"""What is taken for a number: numpy's own too."""

NAMED = 3
"""So many functions are named of those that give a thing."""


def _kinds(annotation: Any) -> list[Any]:
    """Return the classes that an annotation allows, without what they hold."""
    if isinstance(annotation, TypeVar):
        return list(annotation.__constraints__)
    parts = get_args(annotation) if get_origin(annotation) in (Union, UnionType) else (annotation,)
    return [get_origin(part) or part for part in parts]


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
    """Return in what way an argument is another thing than is taken, and the remedy; or blanks."""
    nouns = (pd.DataFrame, *filter(inspect.isclass, public.values()))
    kinds = _kinds(annotation)
    wanted = [kind for kind in kinds if kind in nouns or kind in PLAIN]
    fits = any(kind is Any or not inspect.isclass(kind) or isinstance(given, NUMBERS.get(kind, kind))
               for kind in kinds)
    shaped = any(getattr(kind, "_is_protocol", False) for kind in kinds)
    if fits or not (wanted or shaped or isinstance(given, nouns)):
        return "", ""
    what = f", {' or '.join(PLAIN.get(kind) or _a(kind) for kind in wanted)}" if wanted else ""
    remedy = ". ".join(filter(None, (_makers(name, kind, public) for kind in wanted if kind not in PLAIN)))
    return f"was given {_a(type(given))} where it takes '{name}'{what}", remedy


def guarded(function: Function, *, public: Callable[[], dict[str, Any]]) -> Function:
    """Return a public function that says so when it is called with another thing than it takes.

    Parameters
    ----------
    function : callable
        Takes one thing first, and everything else by name.
    public : callable
        Gives all that the package shows, by name: the kinds of things there are, and what makes them.

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
        except BROKEN as error:
            hints, known = get_type_hints(function), public()
            for name, given in bound.arguments.items():
                problem, remedy = _misfit(name, given, hints.get(name, Any), known)
                if problem:
                    raise CallError(f"{function.__name__}() {problem}", remedy=remedy) from error
            raise

    asked.__module__ = "soiltrend"  # where it is found again, by pickle too
    return cast(Function, asked)
