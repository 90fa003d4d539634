"""When a photo was taken, as its camera says, and how well that is known.

**Source** Exif 2.32 (CIPA DC-008): DateTimeOriginal, SubSecTimeOriginal, OffsetTimeOriginal.
"""

import re
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from PIL import ExifTags, Image, UnidentifiedImageError

from needlewright.errors import PictureError
from needlewright.readings.picture import stamp_picture

WHOLE_SECOND_S: Final = 1.0
"""A camera that states no parts of a second cuts them off."""
_ZONE: Final = re.compile(r"([+-])(\d{2}):(\d{2})")
_ZONE_TAGS: Final = (
    ExifTags.Base.OffsetTimeOriginal,
    ExifTags.Base.OffsetTimeDigitized,
    ExifTags.Base.OffsetTime,
)


@dataclass(frozen=True, slots=True)
class PhotoMoment:
    """When a photo was taken, by the camera's own clock."""

    photo: str
    """As given by the caller."""
    at: datetime | None
    """Without a zone; the middle of the second where no parts of it are stated. None: not said."""
    zone: timedelta | None
    """What the camera's clock is ahead of UTC; None: not stated."""
    doubt_s: float
    """How far `at` may be off by the way it is written, either way."""
    sha256: str
    """Of the file: two photos with the same one are the same picture."""
    rehearsed: bool = False
    """Whether its EXIF description says that no real cluster is in it."""


def photo_moment(photo: str | Path) -> PhotoMoment:
    """Read when a photo was taken; nothing is decoded.

    Parameters
    ----------
    photo
        A file of `open_picture`'s kinds.

    Returns
    -------
    PhotoMoment
        By the camera's clock, right or wrong.

    Raises
    ------
    PictureError
        If the file is no picture.
    """
    path = Path(photo)
    stamp = stamp_picture(path)
    zone, parts = _stated(path)
    at, doubt_s = stamp.taken, 0.0
    if at is not None and not parts:
        doubt_s = WHOLE_SECOND_S / 2
        at += timedelta(seconds=doubt_s)
    return PhotoMoment(str(photo), at, zone, doubt_s, stamp.sha256, stamp.rehearsed)


def _stated(path: Path) -> tuple[timedelta | None, bool]:
    """The zone, and whether parts of a second are stated with the time that is taken."""
    try:
        with Image.open(path) as image:
            exif = image.getexif()
            tags = {**exif, **exif.get_ifd(ExifTags.IFD.Exif)}
    except UnidentifiedImageError as error:
        raise PictureError(f"{path}: is no picture; leave it out") from error
    except (OSError, ValueError, TypeError, KeyError, SyntaxError):
        return None, False  # a photo is no worse for EXIF that cannot be parsed
    zone = None
    for tag in _ZONE_TAGS:
        with suppress(TypeError, ValueError):
            found = _ZONE.fullmatch(str(tags.get(tag, "")).strip("\0 "))
            if found is not None:
                size = timedelta(hours=int(found[2]), minutes=int(found[3]))
                zone = -size if found[1] == "-" else size
                break
    digits = str(tags.get(ExifTags.Base.SubsecTimeOriginal, "")).strip("\0 ")
    return zone, digits.isascii() and digits.isdigit()
