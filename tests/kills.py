"""A whole report killed at any moment, and two at once: no file of the grower's touched, none half written.

    python tests/kills.py              # 10 kills, and two reports side by side
    python tests/kills.py 40 --seed 2

A report of the demonstration garden is made once; that tells what each file of ``out/`` is when whole.
Then every one of them is made an old one, the command is begun, and killed (SIGKILL) at a moment drawn from
the time that the whole takes. Each file must be the old one or the new one to the byte, the garden as it was,
and no kernel may stay behind. What was half made lies aside; the next reports, two at once, sweep it away.
"""

import argparse
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from test_faults import DEMO, marks
from test_faults_run import gone

from soiltrend import writing

OLD, PLANS = b"of another year", "out/plans/"
"""What an old file holds; plans stay as they are, for a notebook reads them again."""


def begin(garden):
    """Begin the command's report of a garden in a process of its own."""
    command = [
        sys.executable,
        "-c",
        "from soiltrend import cli; raise SystemExit(cli.main())",
        "report",
        garden,
    ]
    env = {**os.environ, "PYTHONPATH": str(DEMO.parents[1])}
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=env)


def finished(*runs):
    """Wait until reports are done; one that failed is told with what it said."""
    said = [run.communicate()[0] for run in runs]
    for run, text in zip(runs, said, strict=True):
        assert run.returncode == 0, text


def made(garden):
    """Return what lies under ``out/``, by name, and how much of it is half made."""
    files = [path for path in (garden / "out").rglob("*") if path.is_file()]
    whole = [path for path in files if not any(part.startswith(writing.ASIDE) for part in path.parts)]
    return {path.relative_to(garden).as_posix(): path.read_bytes() for path in whole}, len(files) - len(whole)


def children(number):
    """Return the numbers of the processes that a process began."""
    listed = Path(f"/proc/{number}/task/{number}/children")
    return [int(text) for text in listed.read_text().split()] if listed.exists() else []


def killed(garden, whole, after):
    """Kill a report after so many seconds; return how many files are new, and how many lie half made."""
    old = {name: content if PLANS in name else OLD for name, content in whole.items()}
    for name, content in old.items():
        (garden / name).write_bytes(content)
    before = marks(garden)
    run = begin(garden)
    time.sleep(after)
    kernels = children(run.pid)
    run.send_signal(signal.SIGKILL)
    run.communicate()
    gone(kernels)
    files, half = made(garden)
    odd = sorted(name for name in files if files[name] not in (old.get(name), whole.get(name)))
    assert not odd, f"neither old nor new after {after:.1f} s: {odd}"
    assert files.keys() == whole.keys(), f"gone or new after {after:.1f} s: {files.keys() ^ whole.keys()}"
    assert marks(garden) == before, f"the garden is not what it was after {after:.1f} s"
    return sum(content != old[name] for name, content in files.items()), half


def main():
    """Kill, count and say."""
    told = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    told.add_argument("kills", nargs="?", type=int, default=10)
    told.add_argument("--seed", type=int, default=1)
    asked = told.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        garden = Path(folder) / DEMO.name
        shutil.copytree(DEMO, garden, ignore=shutil.ignore_patterns("out"))
        before, since = marks(garden), time.monotonic()
        finished(begin(garden))
        seconds, (whole, half) = time.monotonic() - since, made(garden)
        assert not half
        say(f"{len(whole)} files in {seconds:.0f} s")
        luck = random.Random(asked.seed)
        for _ in range(asked.kills):
            after = luck.uniform(0, seconds)
            new, half = killed(garden, whole, after)
            say(f"killed after {after:5.1f} s: {new} new, {len(whole) - new} old, {half} half made and aside")
        finished(begin(garden), begin(garden))
        files, half = made(garden)
        odd = sorted(name for name in whole.keys() | files.keys() if files.get(name) != whole.get(name))
        assert not odd, f"two at once left others than one alone: {odd}"
        assert not half, f"{half} half made files stayed"
        assert marks(garden) == before
        say("two at once: every file as one alone makes it, nothing half made, the garden as it was")


def say(text):
    """Print a line at once."""
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
