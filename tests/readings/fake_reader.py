"""Readers that look at no photo, for what surrounds the reader; never shipped.

A photo's name says what comes of it: `bad` cannot be used, `lost` shows no face, `kill` ends the
process; every other gives each dial an angle made from the number in its name.
"""

import os
import re
from pathlib import Path

from needlewright.errors import FamilyError, PictureError
from needlewright.families.model import Family
from needlewright.readings.model import PhotoReadings, Reading


class FakeReader:
    def __init__(self, family: Family) -> None:
        self.family = family

    def read_photo(self, path: Path, as_given: str | None = None) -> PhotoReadings:
        name = str(path) if as_given is None else as_given
        if "bad" in path.name:
            raise PictureError(f"{path}: is bad")
        if "kill" in path.name:
            os._exit(9)
        if "lost" in path.name:
            refused = tuple(
                Reading(d.id, "refused", d.unit, "face not found") for d in self.family.dials
            )
            return PhotoReadings(name, False, "face not found", refused)
        number = int((re.findall(r"\d+", path.name) or ["0"])[-1])
        read = tuple(
            Reading(d.id, "read", d.unit, None, float(number), 0.01, 1.0, 0.5, 0.0)
            for d in self.family.dials
        )
        return PhotoReadings(name, True, None, read)


def faceless(family: Family) -> FakeReader:
    raise FamilyError(f"{family.folder}: has no face")


class ThreadTeller(FakeReader):
    """Refuses every photo with the number of threads its process's linear algebra may start."""

    def read_photo(self, path: Path, as_given: str | None = None) -> PhotoReadings:
        raise PictureError(os.environ.get("OPENBLAS_NUM_THREADS", "as many as it likes"))
