"""A disk of a few megabytes, in memory, that can be filled and freed."""

import errno
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

SIZE = "6m"


@pytest.fixture
def small_disk(tmp_path):
    """A disk of a few megabytes, in memory."""
    place = tmp_path / "disk"
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={SIZE}", "tmpfs", str(place)],
        capture_output=True,
        check=False,
    )
    if mounted.returncode:
        pytest.skip("needs the right to mount a small disk (run the tests as root)")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


@dataclass
class Full:
    """A disk that can be filled and freed."""

    disk: Path
    filler: Path

    def fill(self) -> None:
        with self.filler.open("ab", buffering=0) as stream:
            while self._takes(stream):
                pass

    def _takes(self, stream: Any) -> bool:
        try:
            return bool(stream.write(b"\0" * 4096))
        except OSError as error:
            if error.errno != errno.ENOSPC:
                raise
            return False

    def free(self) -> None:
        self.filler.unlink(missing_ok=True)
