"""How much faster two cores read many photos than one, and what memory reading takes.

The whole command is timed, its start with it: bound to one core it reads by itself, on two it
starts a process for each.
"""

import os
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

PHOTOS = 200

_WATCH = """
import resource, subprocess, sys
nowhere = subprocess.DEVNULL
code = subprocess.call(sys.argv[1:], stdout=nowhere, stderr=nowhere)
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
sys.exit(code)
"""
"""A small process between: a child's peak starts at what its parent held when it was started."""


@dataclass(frozen=True, slots=True)
class BatchRate:
    """Photos a second of the command on one core and on two, and the memory it took on one."""

    photos: int
    one_core_per_s: float
    two_cores_per_s: float | None
    """None on a machine with one core."""
    memory_mb: float
    """Largest share of it that was ever in memory."""


def measured(family_folder: Path, photos: list[Path]) -> BatchRate:
    """Read the photos over and over until there are `PHOTOS`, on one core and on two."""
    paths = [photos[i % len(photos)] for i in range(PHOTOS)]
    mine = os.sched_getaffinity(0)
    try:
        os.sched_setaffinity(0, range(os.cpu_count() or 1))
        cores = sorted(os.sched_getaffinity(0))
        one_s, memory_mb = _run(family_folder, paths, cores[-1:])
        two_s = _run(family_folder, paths, cores[-2:])[0] if len(cores) > 1 else None
    finally:
        os.sched_setaffinity(0, mine)
    return BatchRate(PHOTOS, PHOTOS / one_s, None if two_s is None else PHOTOS / two_s, memory_mb)


def _run(family_folder: Path, paths: list[Path], cores: list[int]) -> tuple[float, float]:
    """Seconds by the clock and megabytes of the largest process of one command."""
    os.sched_setaffinity(0, cores)  # the command and what it starts inherit that
    command = Path(sys.executable).with_name("needlewright")
    words = [command, "read", "--family", family_folder, "--json", *paths]
    watched = [sys.executable, "-I", "-S", "-c", _WATCH, *map(str, words)]
    begun = time.perf_counter()
    done = subprocess.run(watched, capture_output=True, text=True, check=False)
    spent_s = time.perf_counter() - begun
    if done.returncode != 0:
        raise SystemExit(f"needlewright read ended with {done.returncode}")
    return spent_s, int(done.stdout) / 1024
