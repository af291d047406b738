"""The house holds: data walk one way, rooms stay small, and the top level stays as agreed."""

import ast
import subprocess
from functools import lru_cache
from inspect import unwrap
from pathlib import Path
from statistics import mean

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "soiltrend"
FLOORS = (
    (
        "calls",
        "chances",
        "composites",
        "errors",
        "frames",
        "limits",
        "present",
        "scales",
        "tables",
        "units",
        "vocabulary",
        "writing",
    ),
    ("folder", "materials", "reading", "region", "slopes", "start", "swing", "verdicts"),
    ("aims", "blend", "comparable", "exchange", "garden", "noise", "reasons", "series"),
    ("bridges", "compare", "detect", "drift", "lime", "odd", "prepare", "simulate", "trend"),
    ("latest",),
    ("budget", "luck", "plan", "sampling", "why", "workshop"),
    ("asked", "story"),
    ("brief", "charts", "desk"),
    ("book", "handouts"),
    ("cli",),
)
GROUND = FLOORS[0]
INSIDE_GROUND = (
    "errors",
    "calls",
    "limits",
    "chances",
    "tables",
    "units",
    "vocabulary",
    "scales",
    "frames",
    "composites",
    "writing",
    "present",
)
WRITES = ("save_", "handout", "slides")
"""What writes a file takes the thing and where to."""

DRAWING = ("matplotlib", "seaborn")
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "soiltrend", "notebooks", "data_demo", "tests"}

MODULES = sorted(PACKAGE.rglob("*.py"))
FLOOR = {room: number for number, rooms in enumerate(FLOORS) for room in rooms}


def room(path):
    """Return the room a module belongs to ("" for the doors, of which ``python -m`` is one)."""
    first = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    return "" if first in ("__init__", "__main__") else first


@lru_cache
def tree(path):
    return ast.parse(path.read_text(encoding="utf-8"))


def names(node):
    """Return the dotted names an import statement brings in."""
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    return [f"{node.module}.{alias.name}" for alias in node.names]


def imports(path):
    """Return every dotted name a module imports, wherever in it."""
    return [
        name
        for node in ast.walk(tree(path))
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in names(node)
    ]


def own(path):
    """Return the rooms of the house that a module imports from."""
    return {name.split(".")[1] for name in imports(path) if name.startswith("soiltrend.")}


def functions():
    """Return (path, function) for every function of the library."""
    return [
        (path, node)
        for path in MODULES
        for node in ast.walk(tree(path))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]


def code_lines(path, node):
    """Return the lines of code in a function, without docstring, comments and blanks."""
    body = node.body[1:] if ast.get_docstring(node) else node.body
    lines = path.read_text(encoding="utf-8").splitlines()
    used = {inner.lineno for part in body for inner in ast.walk(part) if hasattr(inner, "lineno")}
    return sum(1 for number in used if not lines[number - 1].strip().startswith("#"))


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_module_stands_in_a_known_room(path):
    """A new module is given its floor here before it is used."""
    assert room(path) in {*FLOOR, ""}


@pytest.mark.parametrize(
    "path", [p for p in MODULES if room(p)], ids=lambda path: str(path.relative_to(PACKAGE))
)
def test_imports_go_downhill(path):
    """A room imports only from floors beneath it; on the ground floor in the stated order."""
    here = room(path)
    for other in own(path) - {here, "__version__"}:
        if here in GROUND:
            assert INSIDE_GROUND.index(other) < INSIDE_GROUND.index(here), f"{here} imports {other}"
        else:
            assert FLOOR[other] < FLOOR[here], f"{here} imports {other}"


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_cycles_inside_a_room(path):
    """Modules of one room do not import each other in a circle."""
    package = path.parent
    seen, queue = set(), [path]
    while queue:
        for name in imports(queue.pop()):
            parts = name.split(".")
            for depth in range(2, len(parts) + 1):
                target = PACKAGE.parent.joinpath(*parts[:depth]).with_suffix(".py")
                if target.exists() and target.parent == package and target not in seen:
                    seen.add(target)
                    queue.append(target)
    assert path not in seen or path.name == "__init__.py"


@pytest.mark.parametrize(
    "path", [p for p in MODULES if room(p) != "charts"], ids=lambda path: str(path.relative_to(PACKAGE))
)
def test_only_the_charts_room_draws(path):
    """matplotlib and seaborn stay behind one door."""
    assert not [name for name in imports(path) if name.split(".")[0] in DRAWING]


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_file_is_at_most_400_lines(path):
    """A room that outgrows one screenful of headings is divided."""
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400


def test_own_modules_are_imported_at_the_top():
    """No import of our own hides in a function to dodge a cycle."""
    late = [
        f"{path.name}:{node.name} {name}"
        for path, node in functions()
        for inner in ast.walk(node)
        if isinstance(inner, ast.Import | ast.ImportFrom)
        for name in names(inner)
        if name.startswith("soiltrend")
    ]
    assert late == []


def test_functions_are_short():
    """Mean at most 12 lines of code, nine of ten at most 25, none above 50."""
    lengths = sorted(code_lines(path, node) for path, node in functions())
    assert mean(lengths) <= 12
    assert lengths[int(0.9 * (len(lengths) - 1))] <= 25
    assert lengths[-1] <= 50


def arguments(node):
    """Return the names of a function's arguments, without self."""
    return [arg.arg for arg in (*node.args.args, *node.args.kwonlyargs) if arg.arg != "self"]


def test_signatures_are_narrow():
    """At most six arguments, no **kwargs."""
    assert [
        f"{path.name}:{node.name}"
        for path, node in functions()
        if len(arguments(node)) > 6 or (node.args.kwarg and path.name != "calls.py")  # which passes calls on
    ] == []


def test_public_functions_take_one_positional_argument():
    """Frame or path first, everything else by name; what saves takes the thing and where to."""
    import soiltrend

    public = [getattr(soiltrend, name) for name in soiltrend.__all__ if name[0].islower()]
    loose = [
        function.__name__
        for function in public
        if unwrap(function).__code__.co_argcount > (2 if function.__name__.startswith(WRITES) else 1)
    ]
    assert loose == []


def test_public_names_are_documented():
    """Every public function and class says what it is for; a function inside a function need not."""
    tops = [(path, node) for path in MODULES for node in tree(path).body]
    members = [(path, node) for path, top in tops if isinstance(top, ast.ClassDef) for node in top.body]
    bare = [
        f"{path.name}:{node.name}"
        for path, node in tops + members
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
        and not node.name.startswith("_")
        and not ast.get_docstring(node)
    ]
    assert bare == []


def test_nine_of_ten_errors_say_what_was_found():
    """An error quotes a value; the rest have only one thing to say."""
    raises = [
        node.exc
        for path in MODULES
        for node in ast.walk(tree(path))
        if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call) and node.exc.args
    ]
    quoting = [
        call
        for call in raises
        if any(
            isinstance(part, ast.FormattedValue | ast.Name)
            for argument in call.args
            for part in ast.walk(argument)
        )
    ]
    assert len(quoting) >= 0.9 * len(raises)


def test_every_room_has_its_test_file():
    """Each room is tested under its own name."""
    tests = {path.stem.removeprefix("test_") for path in (ROOT / "tests").glob("test_*.py")}
    rooms = {room(path) for path in MODULES} - {""}
    assert {name for name in rooms if not any(test.startswith(name) for test in tests)} == set()


def test_the_top_level_holds_only_what_was_agreed():
    """What git keeps at the top: seven names and dotfiles."""
    kept = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    tops = {line.split("/")[0] for line in kept.splitlines()}
    assert {name for name in tops if not name.startswith(".")} <= TOP_LEVEL
