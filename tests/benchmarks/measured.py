"""Seconds of the processor, peak of memory and growth, as the benchmarks beside this file count them.

What is measured runs in a process of its own, which writes one line of JSON. Seconds are those of the
processor, which other programs stretch less than those of the clock, and the least of some runs.
"""

import ctypes
import gc
import json
import math
import subprocess
import sys
import time
from pathlib import Path


def say(text):
    """Write a line at once."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def best(work, times=3):
    """Return the least seconds of the processor, and of the clock, that some runs take."""
    worked, waited = [], []
    for _ in range(times):
        start, clock = time.process_time(), time.perf_counter()
        work()
        worked.append(time.process_time() - start)
        waited.append(time.perf_counter() - clock)
    return min(worked), min(waited)


def peak(work):
    """Return by how many bytes a piece of work raises this process's memory at most (Linux counts it).

    What was freed before is handed back first, so that it does not hide what is taken.
    """
    gc.collect()
    ctypes.CDLL(None).malloc_trim(0)
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")  # the peak is now what is taken
    before = _memory("VmRSS")
    work()
    return _memory("VmHWM") - before


def _memory(name):
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return next(int(line.split()[1]) * 1024 for line in lines if line.startswith(name))


def alone(script, *given):
    """Return what a script writes when it is run with ``--one`` and some arguments, in its own process."""
    command = [sys.executable, script, "--one", *map(str, given)]
    run = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True)
    return json.loads(run.stdout.splitlines()[-1])


def exponent(sizes, seconds):
    """Return the slope of the last two sizes on a log scale: 1 is linear."""
    return math.log(seconds[-1] / seconds[-2]) / math.log(sizes[-1] / sizes[-2])
