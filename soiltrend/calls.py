"""Calls that give a public function another thing than it takes are answered in its own words.

Nothing is checked beforehand: only when a function breaks is it asked whether it was given what it takes.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Iterable
from functools import wraps
from typing import Any, TypeVar, cast

from soiltrend.errors import CallError, SoiltrendError

Function = TypeVar("Function", bound=Callable[..., Any])

BROKEN = (AttributeError, IndexError, KeyError, NotImplementedError, TypeError, ValueError)
"""What a function raises that was given another thing than it counts on."""

FRAME = "DataFrame"
RESULTS = "A garden's results are garden.results, or st.prepared(garden) with what can be computed from them"
NAMED = 3
"""So many functions are named of those that give a thing."""


def _kinds(annotation: object) -> list[str]:
    """Return the names in an annotation."""
    return re.findall(r"\w+", str(annotation))


def _a(kind: str) -> str:
    """Return the name of a kind of things with its article."""
    return f"{'an' if kind[0] in 'AEIOUaeio' else 'a'} {kind}"


def _example(name: str, takes: inspect.Signature) -> str:
    """Return how a function is called: what needs no name by its own, everything else by name."""
    parts = [one.name if one.kind is one.POSITIONAL_OR_KEYWORD else f"{one.name}=..."
             for one in takes.parameters.values()]
    return f"{name}({', '.join(parts)})"


def _makers(first: inspect.Parameter, kind: str, public: Iterable[Callable[..., Any]]) -> str:
    """Return which public functions give a thing of a kind, as a remedy."""
    if kind == FRAME:
        return RESULTS if first.name in ("results", "source") else ""
    names = [f"st.{one.__name__}" for one in public
             if _kinds(inspect.signature(one).return_annotation) == [kind]]
    others = ", for instance," if len(names) > NAMED else ""
    return f"{' or '.join(names[:NAMED])}{others} gives {_a(kind)}" if names else ""


def _misfit(first: inspect.Parameter, given: object, public: dict[str, Any]) -> tuple[str, str]:
    """Return in what way a first argument is another thing than is taken, and the remedy; or blanks."""
    nouns = {FRAME, *(name for name, one in public.items() if inspect.isclass(one))}
    made = [one for one in public.values() if inspect.isfunction(one)]
    taken = _kinds(first.annotation)
    wanted = [kind for kind in taken if kind in nouns]
    kinds = {kind.__name__ for kind in type(given).__mro__}
    if kinds & set(wanted) or not (wanted or kinds & nouns) or (given is None and "None" in taken):
        return "", ""
    what = f", {' or '.join(map(_a, wanted))}" if wanted else ""
    remedy = ". ".join(filter(None, (_makers(first, kind, made) for kind in wanted)))
    return f"was given {_a(type(given).__name__)} where it takes '{first.name}'{what}", remedy


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
    first = next(iter(takes.parameters.values()), None)

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
            if first is None or first.name not in bound.arguments:
                raise
            problem, remedy = _misfit(first, bound.arguments[first.name], public())
            if not problem:
                raise
            raise CallError(f"{function.__name__}() {problem}", remedy=remedy) from error

    asked.__module__ = "soiltrend"  # where it is found again, by pickle too
    return cast(Function, asked)
