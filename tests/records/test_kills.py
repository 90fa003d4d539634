"""Killing the process at any moment loses no finished step and leaves nothing half-written."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from records.benches import sqlite_only

ROOT = Path(__file__).parents[2]
KILLS = 110
SEED = 1
"""The same order of work at every run; the moments of the kills are the machine's."""


@sqlite_only
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that can be forked and killed")
def test_a_hundred_kills_under_load_lose_no_finished_step(capsys):
    paths = os.pathsep.join([str(ROOT / "src"), str(ROOT / "tests")])
    done = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("kill_bench.py")), str(KILLS), str(SEED)],
        env={**os.environ, "PYTHONPATH": paths},
        capture_output=True,
        text=True,
        check=False,
    )
    with capsys.disabled():
        print(f"\n{done.stdout}", end="")
    assert done.returncode == 0, done.stdout + done.stderr
    kills, steps = (int(word) for word in done.stdout.split()[:5] if word.isdigit())
    assert kills >= 100
    assert steps >= 100
    assert "lost steps: 0; half-written: 0; unsound databases: 0" in done.stdout
