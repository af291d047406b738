"""Does a test notice when the arithmetic is wrong? One operator, number or name is changed at a time.

    python tests/mutate.py soiltrend/exchange soiltrend/units.py
    python tests/mutate.py soiltrend/noise.py --most 40 --tests tests/test_noise.py tests/test_compare.py

The tests of the rooms named (tests/test_<room>*.py and the doctests) are run once to learn which of them
reach which line. Then every change is made in a process of its own, in memory, and only the tests that reach
its line are run, the quick ones first. What no test noticed is printed: a line for each survivor. A change
outside functions (a constant, a default) is made in a fresh process that runs all of these tests.
Nothing is written; a clean clone of the repository keeps other people's edits out. ``pip install coverage``.
"""

import argparse
import ast
import functools
import gc
import os
import pickle
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
import types
from collections import defaultdict
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
NEGATED = {ast.Lt: ast.GtE, ast.Gt: ast.LtE, ast.LtE: ast.Gt, ast.GtE: ast.Lt, ast.Eq: ast.NotEq,
           ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn,
           ast.NotIn: ast.In}  # fmt: skip
EDGES = {ast.Lt: ast.LtE, ast.Gt: ast.GtE, ast.LtE: ast.Lt, ast.GtE: ast.Gt}
SWAPS = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
         ast.FloorDiv: ast.Div, ast.Mod: ast.Mult, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd,
         ast.And: ast.Or, ast.Or: ast.And}  # fmt: skip
PAIRS = (("minimum", "maximum"), ("min", "max"), ("floor", "ceil"), ("any", "all"), ("first", "last"),
         ("head", "tail"), ("isna", "notna"), ("mean", "sum"))  # fmt: skip
NAMES = {**dict(PAIRS), **{two: one for one, two in PAIRS}}
NOT_ARITHMETIC = ("strict", "frozen", "eq", "repr", "copy", "maxsize", "encoding")
"""Keywords whose change is not about the result."""


def children(node):
    """Return the parts of a node that are computed with: no decorators, no annotations."""
    for field, value in ast.iter_fields(node):
        if field in ("decorator_list", "annotation", "returns", "format_spec"):
            continue
        for part in value if isinstance(value, list) else [value]:
            told = isinstance(part, ast.keyword) and part.arg in NOT_ARITHMETIC
            if isinstance(part, ast.AST) and not told and not isinstance(node, ast.Raise):
                yield part


def number(value):
    """Return another number: a tenth more of a fraction, one more of a count."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, float) and abs(value) >= 0.001 and value != 1.0:
        return value * 1.1
    return value + 1


def changes(node):
    """Return the nodes that may stand in the place of a node."""
    out = []
    if isinstance(node, ast.BinOp | ast.BoolOp) and type(node.op) in SWAPS:
        out = [{"op": SWAPS[type(node.op)]()}]
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.Not | ast.Invert):
        return [node.operand]
    elif isinstance(node, ast.Compare):
        kinds = [into[type(node.ops[0])] for into in (NEGATED, EDGES) if type(node.ops[0]) in into]
        out = [{"ops": [kind(), *node.ops[1:]]} for kind in kinds]
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        out = [{"value": number(node.value)}]
    elif isinstance(node, ast.Attribute) and node.attr in NAMES:
        out = [{"attr": NAMES[node.attr]}]
    elif isinstance(node, ast.Name) and node.id in ("min", "max", "any", "all"):
        out = [{"id": NAMES[node.id]}]
    fields = dict(ast.iter_fields(node))
    return [ast.copy_location(type(node)(**{**fields, **new}), node) for new in out]


class Put(ast.NodeTransformer):
    """Put one node in the place of another."""

    def __init__(self, old, new):
        self.old, self.new = old, new

    def visit(self, node):
        return self.new if node is self.old else super().generic_visit(node)


def places(tree):
    """Return (node, new node, function it stands in, lines of its statement) of every possible change."""
    out = []

    def walk(node, function, lines):
        if isinstance(node, ast.stmt):
            parts = [part for part in children(node) if not isinstance(part, ast.stmt | ast.excepthandler)]
            lines = {line for part in parts if hasattr(part, "lineno")
                     for line in range(part.lineno, part.end_lineno + 1)} | {node.lineno}  # fmt: skip
        out.extend((node, new, function, lines) for new in changes(node))
        for part in children(node):
            outermost = isinstance(node, ast.FunctionDef) and part in node.body and function is None
            walk(part, node if outermost else function, lines)

    walk(tree, None, set())
    return out


class Change:
    """One change of one module."""

    def __init__(self, module, place):
        """Parse the module and note what is changed where."""
        self.module, self.path = module, str(ROOT / module)
        self.tree = ast.parse(Path(self.path).read_text(encoding="utf-8"))
        self.node, self.new, self.function, self.lines = places(self.tree)[place]
        self.place = place

    def told(self):
        """Return the change in words."""
        return f"{self.module}:{self.node.lineno}: {ast.unparse(self.node)} -> {ast.unparse(self.new)}"

    def code(self):
        """Return the module's code with the change in it; lines keep their numbers."""
        return compile(Put(self.node, self.new).visit(self.tree), self.path, "exec")

    def make(self):
        """Change the functions in memory, whoever holds them, and forget what was computed before."""
        name, line = self.function.name, min(
            part.lineno for part in (self.function, *self.function.decorator_list)
        )  # fmt: skip
        codes, found = [self.code()], None
        while codes:
            code = codes.pop()
            codes += [part for part in code.co_consts if isinstance(part, types.CodeType)]
            if code.co_name == name and code.co_firstlineno == line:
                found = code
        things = gc.get_objects()
        for thing in things:
            own = isinstance(thing, types.FunctionType) and thing.__code__.co_filename == self.path
            if own and (thing.__code__.co_name, thing.__code__.co_firstlineno) == (name, line):
                thing.__code__ = found
        forget(things)


def forget(things=None):
    """Empty every cache of the library and of the tests."""
    for thing in things or gc.get_objects():
        ours = isinstance(thing, functools._lru_cache_wrapper) and str(thing.__module__)
        if ours and ours.split(".")[0] not in ("matplotlib", "pint"):
            thing.cache_clear()


class Watch:
    """Learn which test reaches which line of the modules, and how long it takes, by coverage's tracer."""

    def __init__(self, modules):
        """Watch no line yet; a context of coverage is a test, or a fixture while it is set up."""
        from coverage import Coverage

        self.cover = Coverage(data_file=None, include=[str(ROOT / module) for module in modules])
        self.open, self.seconds = [], {}

    def into(self, name):
        """Note lines under a name, until the next one."""
        self.open.append(name)
        self.cover.switch_context(name)

    def out(self):
        """Note lines under the name before."""
        self.open.pop()
        if self.open:
            self.cover.switch_context(self.open[-1])

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef):
        """What a fixture reaches is reached by every test that uses it, not by the first alone."""
        self.into(f"fixture {id(fixturedef)}")
        try:
            return (yield)
        finally:
            self.out()

    def look(self, items):
        """Run every test once; return {test: (seconds, lines)}."""
        self.cover.start()
        for here, after in zip(items, [*items[1:], None], strict=True):
            start = time.perf_counter()
            forget(self.caches)
            self.into(here.nodeid)
            here.config.hook.pytest_runtest_protocol(item=here, nextitem=after)
            self.out()
            self.seconds[here.nodeid] = time.perf_counter() - start
        self.cover.stop()
        data, reached = self.cover.get_data(), defaultdict(set)
        for file in data.measured_files():
            for line, names in data.contexts_by_lineno(file).items():
                for name in names:
                    reached[name].add((file, line))
        return {item.nodeid: (self.seconds[item.nodeid], self.lines(item, reached)) for item in items}

    def lines(self, item, reached):
        """Return the lines that a test reaches, by itself or by its fixtures."""
        info = getattr(item, "_fixtureinfo", None)
        used = [fixture for used in (info.name2fixturedefs.values() if info else ()) for fixture in used]
        return set().union(reached[item.nodeid], *(reached[f"fixture {id(fixture)}"] for fixture in used))


class Campaign:
    """A pytest plugin: instead of running the tests once, ask them about every change."""

    def __init__(self, settings, changes):
        """Keep the settings and the changes to make."""
        self.settings, self.changes = settings, changes
        self.out = os.fdopen(os.dup(1), "w", buffering=1)
        self.folder = tempfile.mkdtemp(prefix="mutate-")
        self.counts = defaultdict(lambda: defaultdict(int))
        self.known = {}
        self.failed = []

    def pytest_runtest_logreport(self, report):
        """Keep the names of tests that fail."""
        if report.failed:
            self.failed.append(report.nodeid)

    def child(self, config, work):
        """Run work in a process of its own; its answer goes through a file. Return (pid, file)."""
        answer = Path(tempfile.mkdtemp(dir=self.folder)) / "answer"
        pid = os.fork()
        if pid:
            return pid, answer
        nothing = os.open(os.devnull, os.O_WRONLY)
        for stream in (1, 2):
            os.dup2(nothing, stream)
        os.setpgid(0, 0)
        config._tmp_path_factory._given_basetemp = answer.parent / "tmp"
        try:
            answer.write_bytes(pickle.dumps(work()))
        except BaseException:
            self.out.write(traceback.format_exc())
        finally:
            os._exit(0)

    def pytest_runtestloop(self, session):
        """Learn what reaches what, then make the changes."""
        gc.collect()
        plain(session.items)
        pid, answer = self.child(session.config, lambda: self.first(session))
        os.waitpid(pid, 0)
        failed, self.known = pickle.loads(answer.read_bytes())
        if failed:
            self.out.write(f"tests fail without any change: {', '.join(failed)}\n")
            return True
        seconds = sum(time for time, _ in self.known.values())
        self.out.write(f"{len(self.known)} tests in {seconds:.0f} s, {len(self.changes)} changes\n")
        self.all(session)
        shutil.rmtree(self.folder, ignore_errors=True)
        return True

    def first(self, session):
        """Run all tests unchanged."""
        watch = Watch({change.module for change in self.changes})
        watch.caches = [t for t in gc.get_objects() if isinstance(t, functools._lru_cache_wrapper)]
        session.config.pluginmanager.register(watch)
        known = watch.look(session.items)
        return self.failed, known

    def all(self, session):
        """Make every change, so many at once, and print what survives."""
        waiting, running = list(reversed(self.changes)), {}
        while waiting or running:
            while waiting and len(running) < self.settings.at_once:
                change = waiting.pop()
                items = self.reaching(session.items, change)
                if not items:
                    self.judge(change, False, 0)
                    continue
                allowed = 20 + 5 * sum(self.known[item.nodeid][0] for item in items)
                pid, answer = self.child(session.config, lambda c=change, i=items: self.ask(session, c, i))
                running[pid] = (change, answer, time.monotonic() + allowed, len(items))
            self.gather(running)

    def gather(self, running):
        """Take the answers that are there; end what takes too long."""
        for pid, (change, answer, until, reached) in list(running.items()):
            if not os.waitpid(pid, os.WNOHANG)[0]:
                if time.monotonic() < until:
                    continue
                os.killpg(pid, signal.SIGKILL)
                os.waitpid(pid, 0)
            del running[pid]
            seen = not answer.exists() or pickle.loads(answer.read_bytes())
            shutil.rmtree(answer.parent, ignore_errors=True)
            self.judge(change, seen, reached)
        time.sleep(0.01)

    def reaching(self, items, change):
        """Return the tests that reach the change, quick ones first."""
        if change.function is None:
            return items
        wanted = {(change.path, line) for line in change.lines}
        reached = [item for item in items if self.known[item.nodeid][1] & wanted]
        return sorted(reached, key=lambda item: self.known[item.nodeid][0])

    def ask(self, session, change, items):
        """Return whether one of these tests fails when the change is made."""
        if change.function is None:
            return afresh(change, [item.nodeid for item in items])
        change.make()
        for here, after in zip(items, [*items[1:], None], strict=True):
            session.config.hook.pytest_runtest_protocol(item=here, nextitem=after)
            if session.testsfailed:
                return True
        return False

    def judge(self, change, seen, reached):
        """Count an answer; print a survivor."""
        counts = self.counts[change.module]
        counts["tried"] += 1
        counts["noticed"] += seen
        if not seen:
            self.out.write(f"{change.told()}   [{reached} tests reach it]\n")
        if counts["tried"] == sum(other.module == change.module for other in self.changes):
            total = len(places(ast.parse((ROOT / change.module).read_text(encoding="utf-8"))))
            self.out.write(
                f"== {change.module}: {total} places, {counts['tried']} tried, {counts['noticed']} noticed\n"
            )


def plain(items):
    """Let properties be tried on the same examples each time, without looking for the smallest."""
    from hypothesis import Phase, settings

    for item in items:
        test = getattr(item, "obj", None)
        if hasattr(test, "_hypothesis_internal_use_settings"):
            test._hypothesis_internal_use_settings = settings(
                test._hypothesis_internal_use_settings,
                phases=(Phase.explicit, Phase.generate), database=None, derandomize=True,
            )  # fmt: skip


def afresh(change, tests):
    """Return whether a test fails in a fresh process that imports the changed module."""
    files = sorted({test.split("::")[0] for test in tests})
    command = [sys.executable, __file__, "--one", str(change.place), change.module, "--tests", *files]
    return subprocess.run(command, cwd=ROOT, check=False).returncode != 0


class Finder:
    """Import one module changed."""

    def __init__(self, change):
        """Note the module's dotted name."""
        self.change = change
        self.name = change.module.removesuffix(".py").replace("/", ".").removesuffix(".__init__")

    def find_spec(self, name, path=None, target=None):
        """Return how the module is to be loaded, if it is the one."""
        if name != self.name:
            return None
        sys.meta_path.remove(self)
        spec = __import__("importlib.util").util.find_spec(name)
        spec.loader.get_code = lambda _: self.change.code()
        return spec


OPTIONS = ["-q", "-x", "-n0", "-p", "no:nbval", "-p", "no:cacheprovider", "--capture=sys", "-o",
           "addopts=--doctest-modules", "-o", "python_functions=test_*", f"--rootdir={ROOT}"]  # fmt: skip


def tests_of(modules):
    """Return the test files of the rooms, and the modules themselves for their doctests."""
    rooms = sorted({Path(module).parts[1].removesuffix(".py") for module in modules})
    return [str(file.relative_to(ROOT)) for room in rooms
            for file in sorted((ROOT / "tests").glob(f"test_{room}*.py"))] + list(modules)  # fmt: skip


def chosen(settings):
    """Return the changes asked for: of every module all, or so many at random with a fixed seed."""
    out = []
    for module in settings.modules:
        total = len(places(ast.parse((ROOT / module).read_text(encoding="utf-8"))))
        numbers = range(total)
        if settings.most and settings.most < total:
            numbers = sorted(random.Random(1).sample(numbers, settings.most))
        out += [Change(module, number) for number in numbers]
    lines = {int(line) for line in settings.lines}
    return [change for change in out if not lines or change.node.lineno in lines]


def main():
    """Ask the tests about changes of modules."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("modules", nargs="+", help="modules or folders of the library")
    parser.add_argument("--tests", nargs="*", help="test files (else those of the room and the doctests)")
    parser.add_argument("--most", type=int, help="so many changes a module, chosen with a fixed seed")
    parser.add_argument("--lines", nargs="*", default=[], help="only changes of these lines")
    parser.add_argument("--at-once", type=int, default=2)
    parser.add_argument("--one", type=int, help=argparse.SUPPRESS)
    settings = parser.parse_args()
    sys.path.insert(0, str(ROOT))
    os.chdir(ROOT)
    if settings.one is not None:
        sys.meta_path.insert(0, Finder(Change(settings.modules[0], settings.one)))
        return pytest.main([*OPTIONS, *settings.tests])
    settings.modules = [
        str(file.relative_to(ROOT))
        for name in settings.modules
        for file in (sorted((ROOT / name).rglob("*.py")) if (ROOT / name).is_dir() else [ROOT / name])
    ]
    files = settings.tests or tests_of(settings.modules)
    return pytest.main([*OPTIONS, *files], plugins=[Campaign(settings, chosen(settings))])


if __name__ == "__main__":
    sys.exit(main())
