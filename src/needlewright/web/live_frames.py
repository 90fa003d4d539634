"""Frames as they come over the line: looked over before anything decodes them."""

from io import BytesIO
from struct import Struct, error
from typing import Final

import cv2
import numpy as np
from PIL import Image, UnidentifiedImageError

from needlewright.errors import PictureError
from needlewright.readings.frame import Pixels

HEAD: Final = Struct(">Id")
"""Number of the frame, and its time in seconds, big-endian."""
LARGEST_FRAME: Final = 4 * 1024 * 1024
"""Bytes of one message."""
MOST_PIXELS: Final = 4_200_000
"""A frame of 1920 x 1080 has half as many."""
FEWEST_PX: Final = 64
"""Of the shorter side."""
END_OF_JPEG: Final = b"\xff\xd9"
SHOWN_WIDTH: Final = 960
SHOWN_QUALITY: Final = 82


def taken_apart(message: bytes) -> tuple[int, float, bytes]:
    """Number, time and picture of a message.

    Parameters
    ----------
    message
        `HEAD`, then the picture's file.

    Returns
    -------
    tuple
        Number, seconds, bytes.

    Raises
    ------
    PictureError
        If it is too short, too long, or its time is none.
    """
    if len(message) > LARGEST_FRAME:
        raise PictureError(
            f"live picture: a frame is larger than {LARGEST_FRAME // 1024**2} MB; let the camera "
            "send smaller pictures"
        )
    try:
        number, t_s = HEAD.unpack_from(message)
    except error as short:
        raise PictureError(
            "live picture: a frame broke off before its picture; start the picture again"
        ) from short
    if not np.isfinite(t_s):
        raise PictureError("live picture: a frame says no time; start the picture again")
    return number, t_s, message[HEAD.size :]


def number_of(message: bytes) -> int:
    """Number of a frame that cannot be used, so that its sender knows which; 0: not known."""
    return int(HEAD.unpack_from(message)[0]) if len(message) >= HEAD.size else 0


def decoded(file: bytes) -> Pixels:
    """The pixels of a frame.

    Parameters
    ----------
    file
        A JPEG.

    Returns
    -------
    Pixels
        Height x width x 3, blue, green, red.

    Raises
    ------
    PictureError
        If it is no JPEG, is cut off, or is too large or too small; the header says so before
        anything is decoded.
    """
    try:
        with Image.open(BytesIO(file), formats=("JPEG",)) as picture:
            width, height = picture.size
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, TypeError) as no_jpeg:
        raise PictureError(
            "live picture: what came is no JPEG picture; start the picture again"
        ) from no_jpeg
    if width * height > MOST_PIXELS or min(width, height) < FEWEST_PX:
        raise PictureError(
            f"live picture: a frame has {width} x {height} pixels, from {FEWEST_PX} pixels a side "
            f"to {MOST_PIXELS / 1e6:.1f} million are read; choose another size at the camera"
        )
    pixels = None
    if file.rstrip(b"\x00").endswith(END_OF_JPEG):
        pixels = cv2.imdecode(np.frombuffer(file, np.uint8), cv2.IMREAD_COLOR)
    if pixels is None:
        raise PictureError(
            "live picture: a frame is damaged or cut off; start the picture again if this goes on"
        )
    return np.asarray(pixels, np.uint8)


def to_show(pixels: Pixels) -> bytes:
    """A JPEG of a frame at the size of a screen."""
    height, width = pixels.shape[:2]
    if width > SHOWN_WIDTH:
        size = (SHOWN_WIDTH, round(height * SHOWN_WIDTH / width))
        pixels = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)
    _, file = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, SHOWN_QUALITY])
    return file.tobytes()


def to_keep(pixels: Pixels) -> bytes:
    """A PNG of a frame that came as pixels; nothing is lost in it."""
    _, file = cv2.imencode(".png", pixels)
    return file.tobytes()
