"""A photo cut down to one needle, for the page that shows what decides."""

from io import BytesIO
from math import hypot
from pathlib import Path
from typing import Final

from PIL import Image, UnidentifiedImageError

from needlewright.errors import PictureError

Point = tuple[float, float]

ACROSS: Final = 1.5
"""Half the height of the cut, in lengths of the needle: the dial's numerals are on it."""
SHAPE: Final = 4 / 3
LEAST_PX: Final = 120
"""Half the height of the cut at least, so that a small dial keeps its surroundings."""
WIDTH_PX: Final = 900


def needle_crop(photo: Path, line_px: tuple[Point, Point] | None) -> bytes:
    """Cut a photo down to one needle.

    Parameters
    ----------
    photo
        The photo, usually with the readings drawn on it.
    line_px
        Hub end and tip of the needle (x, y); None takes the whole photo.

    Returns
    -------
    bytes
        A JPEG, at most `WIDTH_PX` wide.

    Raises
    ------
    PictureError
        If the photo cannot be opened.
    """
    try:
        with Image.open(photo) as opened:
            picture = opened.convert("RGB")
    except (OSError, UnidentifiedImageError, Image.DecompressionBombError) as error:
        raise PictureError(
            f"{photo}: cannot be opened as a picture; draw the overlays again or leave them out"
        ) from error
    if line_px is not None:
        picture = picture.crop(_box(line_px, picture.size))
    if picture.width > WIDTH_PX:
        height = round(picture.height * WIDTH_PX / picture.width)
        picture = picture.resize((WIDTH_PX, height), Image.Resampling.LANCZOS)
    stream = BytesIO()
    picture.save(stream, "JPEG", quality=88)
    return stream.getvalue()


def _box(line_px: tuple[Point, Point], size_px: tuple[int, int]) -> tuple[int, int, int, int]:
    """The cut around the hub, moved inside the photo."""
    (x0, y0), (x1, y1) = line_px
    half_height = max(LEAST_PX, ACROSS * hypot(x1 - x0, y1 - y0))
    height = min(2 * half_height, size_px[1], size_px[0] / SHAPE)
    width = height * SHAPE
    left = min(max(x0 - width / 2, 0), size_px[0] - width)
    top = min(max(y0 - height / 2, 0), size_px[1] - height)
    return round(left), round(top), round(left + width), round(top + height)
