"""What a reading process does: one photo after the other, with the readers it has prepared."""

import signal
import warnings
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import cv2
from PIL import Image

from needlewright.composing.overlays import OverlayingReader
from needlewright.errors import PictureError
from needlewright.families.model import Family
from needlewright.readings.batch import Outcome, PhotoReader, PictureProblem
from needlewright.web.serving_memory import give_memory_back

READERS_KEPT: Final = 2
"""Prepared faces in each process; each takes some tens of megabytes."""


LARGE_PX: Final = 30_000_000
"""A photo of more pixels is read while no other is: decoding takes up to ten bytes a pixel."""


@dataclass(frozen=True, slots=True)
class PhotoRead:
    """What came of a photo."""

    outcome: Outcome
    overlay: bytes | None
    """JPEG; None where the photo could not be used."""


class OneByOne:
    """Reads photos of whatever family comes, and hands their overlays over as bytes."""

    def __init__(self) -> None:
        self._readers: OrderedDict[int, tuple[PhotoReader, dict[str, Path]]] = OrderedDict()

    def read(self, version_id: int, family: Family, path: Path) -> PhotoRead:
        """Read one photo.

        Parameters
        ----------
        version_id
            Of the family, by which its reader is kept.
        family
            The cluster design the photo is taken to show.
        path
            The stored photo.

        Returns
        -------
        PhotoRead
            Readings and overlay, or the sentence why there are none.
        """
        name = str(path)
        with TemporaryDirectory(prefix="needlewright-") as folder:
            drawn = Path(folder) / "overlay.jpg"
            reader, files = self._reader(version_id, family)
            files[name] = drawn
            try:
                outcome = reader.read_photo(path, name)
            except PictureError as error:
                return PhotoRead(PictureProblem(name, str(error)), None)
            finally:
                del files[name]
            return PhotoRead(outcome, drawn.read_bytes() if drawn.is_file() else None)

    def _reader(self, version_id: int, family: Family) -> tuple[PhotoReader, dict[str, Path]]:
        if version_id not in self._readers:
            files: dict[str, Path] = {}
            self._readers[version_id] = (OverlayingReader(files, family), files)
            if len(self._readers) > READERS_KEPT:
                self._readers.popitem(last=False)
        self._readers.move_to_end(version_id)
        return self._readers[version_id]


def is_large(path: Path) -> bool:
    """Whether a photo, as its header says, takes so much memory that it is read by itself."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(path) as picture:
                return picture.width * picture.height > LARGE_PX
    except Exception:  # whatever is wrong with it is said when it is read
        return False


_here: OneByOne | None = None


def start_worker() -> None:
    """Prepare a process: Ctrl-C is the parent's business, and each process keeps to one core."""
    global _here  # noqa: PLW0603 - what a process of a pool keeps can stand nowhere else
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    cv2.setNumThreads(1)
    give_memory_back()
    _here = OneByOne()


def read_one(version_id: int, family: Family, path: Path) -> PhotoRead:
    """`OneByOne.read` in the process this is called in."""
    if _here is None:
        start_worker()
    assert _here is not None
    return _here.read(version_id, family, path)
