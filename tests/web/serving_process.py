"""`needlewright serve` as people start it: a process of its own, ended when the test is done."""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

WITHIN_S = 180.0
"""For a slow machine: only keeps a fault from hanging, nothing is judged by the clock."""
START = "import sys; from needlewright.cli.main import run; run(sys.argv[1:])"


@dataclass(frozen=True, slots=True)
class Served:
    """What it said when it was ready, and the process."""

    said: dict[str, Any]
    process: "subprocess.Popen[str]"


@contextmanager
def served(folder: Path, *options: str, **variables: str) -> Iterator[Served]:
    """Start it at a free port and wait until it answers."""
    command = [sys.executable, "-c", START, "serve", "--shop", str(folder), "--port", "0"]
    process = subprocess.Popen(
        [*command, "--json", *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | variables,
    )
    try:
        assert process.stdout is not None
        assert process.stderr is not None
        line = process.stdout.readline()
        assert line, process.stderr.read()
        yield Served(json.loads(line), process)
    finally:
        process.send_signal(signal.SIGINT)
        try:
            process.communicate(timeout=WITHIN_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.communicate()
            raise
