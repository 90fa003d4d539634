"""A benchmark takes a core for itself when it is run, not when a test looks into it."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TAKERS = ("draft", "efficiency", "reading")
SAID = """
import importlib, os, sys
before = os.sched_getaffinity(0)
for name in sys.argv[1:]:
    importlib.import_module(f"benchmarks.{name}")
print(len(before), len(os.sched_getaffinity(0)))
"""


def test_these_are_all_that_take_a_core():
    found = {
        path.stem
        for path in (ROOT / "benchmarks").glob("*.py")
        if 'if __name__ == "__main__" and hasattr(os, "sched_setaffinity")' in path.read_text()
    }
    inside = {
        path.stem
        for path in (ROOT / "benchmarks").glob("*.py")
        if "\nos.sched_setaffinity" in path.read_text()
        or '\nif hasattr(os, "sched_setaffinity")' in path.read_text()
    }
    assert (found, inside) == (set(TAKERS), set())


@pytest.mark.skipif(not hasattr(os, "sched_getaffinity"), reason="cores cannot be asked for here")
def test_looking_into_benchmarks_leaves_all_cores_to_the_tests():
    paths = os.pathsep.join(str(ROOT / folder) for folder in ("", "src", "tests"))
    done = subprocess.run(
        [sys.executable, "-c", SAID, *TAKERS],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": paths},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    before, after = done.stdout.split()
    assert before == after
