"""Taking a picture in: what it is comes from its content, not from its name."""

import struct
import warnings
import zlib
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import BoundedSemaphore
from typing import Final

from PIL import Image

from needlewright.errors import PictureError, RecordError
from needlewright.readings.picture import stamp_picture
from needlewright.records.opening import Shop
from needlewright.records.originals import StoredFile
from needlewright.records.trouble import said_plainly

MAX_BYTES: Final = 200_000_000
"""Largest file that is taken in as a picture."""
_SMALL: Final = (64, 64)
_decoding = BoundedSemaphore(1)
"""One at a time: other kinds than JPEG are decoded in full."""
_DECODER_ERRORS: Final = (
    OSError,
    SyntaxError,
    ValueError,
    TypeError,
    KeyError,
    IndexError,
    EOFError,
    OverflowError,
    MemoryError,
    struct.error,
    zlib.error,
    Image.DecompressionBombError,
)
"""What decoders are known to raise on damaged files."""
_KINDS: Final = (
    (0, b"\xff\xd8\xff", "jpg"),
    (0, b"\x89PNG", "png"),
    (0, b"II*\0", "tif"),
    (0, b"MM\0*", "tif"),
    (8, b"WEBP", "webp"),
    (0, b"BM", "bmp"),
    (4, b"ftypavi", "avif"),
)


@dataclass(frozen=True, slots=True)
class KeptPicture:
    """A picture in the store."""

    file: StoredFile
    taken: datetime | None
    """As the camera's clock stood."""
    rehearsed: bool = False
    """Whether its file says that no real cluster is in it."""


def keep_picture(
    shop: Shop, content: bytes, name: str, *, must_be_whole: bool = False
) -> KeptPicture:
    """Look at a picture and store the file.

    Parameters
    ----------
    shop
        The shop.
    content
        All of the file.
    name
        As the camera or the person called it; named in sentences.
    must_be_whole
        Whether all of it is decoded now, because nobody reads it later; else its header alone.

    Returns
    -------
    KeptPicture
        Stored.

    Raises
    ------
    PictureError
        If it is empty, no picture, of a kind that cannot be read, too large, or cut short.
    RecordError
        If it cannot be stored.
    """
    if len(content) > MAX_BYTES:
        raise PictureError(
            f"{name}: has {len(content) // 1_000_000} MB; at most {MAX_BYTES // 1_000_000} MB are "
            "taken in; scale it down"
        )
    with said_plainly("looking at a picture", shop.folder), TemporaryDirectory() as folder:
        path = Path(folder) / "picture"
        path.write_bytes(content)
        try:
            stamp = stamp_picture(path)
            if must_be_whole:
                _require_whole(path)
        except PictureError as error:
            raise PictureError(str(error).replace(str(path), name)) from error
    return KeptPicture(shop.originals.put(content, _kind(content)), stamp.taken, stamp.rehearsed)


def picture_bytes(path: Path, *, must_be_whole: bool = False) -> bytes:
    """The content of a picture's file; raises PictureError where there is none."""
    stamp_picture(path)  # says in one sentence what is wrong with it
    if must_be_whole:
        _require_whole(path)
    try:
        return path.read_bytes()
    except OSError as error:
        raise PictureError(
            f"{path}: cannot be read ({error.strerror or error}); check the file and its rights"
        ) from error


def _require_whole(path: Path) -> None:
    """Raise PictureError unless all of a picture can be decoded; a JPEG is, at an eighth."""
    try:
        with warnings.catch_warnings(), _decoding:
            warnings.simplefilter("ignore")  # its size has been looked at
            with Image.open(path) as picture:
                picture.draft("RGB", _SMALL)
                picture.load()
    except _DECODER_ERRORS as error:
        raise PictureError(
            f"{path}: is damaged or cut short ({error}); copy it from the camera again"
        ) from error


def _kind(content: bytes) -> str:
    for start, mark, kind in _KINDS:
        if content[start : start + len(mark)] == mark:
            return kind
    raise RecordError("a picture of an unknown kind cannot be stored; save it as JPEG")
