"""Does a test notice when the arithmetic is wrong? One operator or number is changed at a time.

    python tests/mutate.py soiltrend/exchange/sums.py tests/test_exchange.py 40

changes so many places of a module, chosen at random with a fixed seed, in a copy of the package,
runs the tests named on each copy and prints the changes that no test noticed (survivors).
"""

import ast
import os
import random
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
PAIRS = (
    (ast.Add, ast.Sub),
    (ast.Mult, ast.Div),
    (ast.Lt, ast.GtE),
    (ast.Gt, ast.LtE),
    (ast.Eq, ast.NotEq),
    (ast.And, ast.Or),
    (ast.BitAnd, ast.BitOr),
    (ast.USub, ast.UAdd),
)
SWAPS = {**dict(PAIRS), **{two: one for one, two in PAIRS}}
SECONDS = 300


def places(tree):
    """Return (node, field, what to put there) of every place that can be changed."""
    out = []
    for node in ast.walk(tree):
        if isinstance(node, ast.BinOp | ast.BoolOp | ast.UnaryOp) and type(node.op) in SWAPS:
            out.append((node, "op", SWAPS[type(node.op)]()))
        elif isinstance(node, ast.Compare) and type(node.ops[0]) in SWAPS:
            out.append((node, "ops", [SWAPS[type(node.ops[0])](), *node.ops[1:]]))
        elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
            out.append((node, "value", node.value + 1 if node.value != 1 else 2))
        elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
            out.append((node, "value", not node.value))
    return out


def changed(text, number):
    """Return the text with one place changed, and what was changed in words."""
    tree = ast.parse(text)
    node, field, new = places(tree)[number]
    before = ast.unparse(node)
    setattr(node, field, new)
    return ast.unparse(tree), f"line {node.lineno}: {before} -> {ast.unparse(node)}"


def noticed(folder, tests):
    """Return whether a test fails on the package in a folder."""
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:nbval", "-p", "no:cacheprovider",
               "-o", "addopts=", *(str(folder / test) for test in tests)]  # fmt: skip
    env = {**os.environ, "PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1"}
    try:
        run = subprocess.run(command, cwd=folder, env=env, capture_output=True, check=False, timeout=SECONDS)
    except subprocess.TimeoutExpired:
        return True
    return run.returncode != 0


def main(module, tests, count):
    """Change so many places of a module and print what survives."""
    text = (ROOT / module).read_text(encoding="utf-8")
    total = len(places(ast.parse(text)))
    chosen = sorted(random.Random(1).sample(range(total), min(count, total)))
    survivors = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for part in ("soiltrend", "tests", "data_demo", "pyproject.toml"):
            source = ROOT / part
            copy = shutil.copytree if source.is_dir() else shutil.copy
            copy(source, folder / part)
        for number in chosen:
            mutant, told = changed(text, number)
            (folder / module).write_text(mutant, encoding="utf-8")
            if not noticed(folder, tests):
                survivors.append(told)
                sys.stdout.write(f"{module} {told}\n")
                sys.stdout.flush()
    sys.stdout.write(f"{module}: {len(chosen)} of {total} places changed, {len(survivors)} not noticed\n")


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2:-1], int(sys.argv[-1]))
