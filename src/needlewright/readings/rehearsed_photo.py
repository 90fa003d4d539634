"""The mark of a photo that no real cluster is in, so that it passes for a real one nowhere.

It stands in the file beside the pixels, and leaves them as they are. A program that writes the
picture anew, as messengers do, may lose it.

**Source** Exif 2.32 (CIPA DC-008): ImageDescription; ITU-T T.81, B.1.1.4 and B.2.4.6: application
segments of a JPEG file; PNG (W3C, third edition), 5.3 and 11.3.4.5: chunks, and eXIf.
"""

import struct
import zlib
from collections.abc import Mapping
from typing import Any, Final

from PIL import ExifTags, Image

from needlewright.readings.runs import REHEARSED

_JPEG: Final = b"\xff\xd8"
_APP1: Final = b"\xff\xe1"
_PNG: Final = b"\x89PNG\r\n\x1a\n"
_IHDR_BYTES: Final = 25
"""Length, name, content and check sum of the first chunk of every PNG file."""
_EXIF: Final = b"Exif\0\0"


def marked_rehearsed(file: bytes) -> bytes:
    """Mark a picture's file as one of a rehearsal.

    Parameters
    ----------
    file
        A PNG or JPEG file without Exif.

    Returns
    -------
    bytes
        The same file with the mark; of another kind it is left as it is.
    """
    exif = Image.Exif()
    exif[ExifTags.Base.ImageDescription] = REHEARSED
    block = _EXIF + exif.tobytes().removeprefix(_EXIF)
    if file.startswith(_PNG):
        at = len(_PNG) + _IHDR_BYTES
        content = b"eXIf" + block.removeprefix(_EXIF)
        chunk = struct.pack(">I", len(content) - 4) + content
        return file[:at] + chunk + struct.pack(">I", zlib.crc32(content)) + file[at:]
    if file.startswith(_JPEG):
        segment = _APP1 + struct.pack(">H", len(block) + 2) + block
        return _JPEG + segment + file[len(_JPEG) :]
    return file


def says_rehearsed(exif: Mapping[int, Any]) -> bool:
    """Whether a photo's Exif says that no real cluster is in it.

    Parameters
    ----------
    exif
        By tag.

    Returns
    -------
    bool
        By its description.
    """
    return str(exif.get(ExifTags.Base.ImageDescription, "")).strip("\0 ") == REHEARSED
