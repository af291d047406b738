"""Lint and types are tests like any other."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


@pytest.mark.parametrize("tool", [("ruff", "check", "."), ("mypy",)], ids=["ruff", "mypy"])
def test_the_tools_have_nothing_to_say(tool):
    """ruff over the tree, mypy --strict over the library; the findings are the message."""
    run = subprocess.run([sys.executable, "-m", *tool], cwd=ROOT, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stdout[-3000:] + run.stderr[-1000:]
