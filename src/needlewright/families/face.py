"""Opening `face.png`, the bare face artwork, without trusting it."""

import zlib
from dataclasses import dataclass
from pathlib import Path
from struct import error as StructError
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from PIL.PngImagePlugin import PngImageFile

from needlewright.errors import PictureError

MAX_SIDE_PX: Final = 16_000
"""300 mm of face scanned at 1200 dots per inch is 14,200 px."""
MAX_PIXELS: Final = 100_000_000
MIN_SIDE_PX: Final = 64

SIZE_SLACK_PX: Final = 1.5
"""Rounding of width and height to whole pixels."""
SIZE_REMARK_SHARE: Final = 0.001
SIZE_ERROR_SHARE: Final = 0.05
"""A picture this much off its stated size cannot place a dial."""

_NOT_A_PICTURE = (OSError, SyntaxError, ValueError, EOFError, StructError, zlib.error)


@dataclass(frozen=True, slots=True)
class FaceHeader:
    """What the first bytes of a face picture say."""

    width_px: int
    height_px: int


def face_header(path: Path) -> FaceHeader:
    """Read the size of a face picture from its header; no pixel is decoded.

    Parameters
    ----------
    path
        The family's `face.png`.

    Returns
    -------
    FaceHeader
        Width and height in pixels, within the limits.

    Raises
    ------
    PictureError
        If it is missing, unreadable, no PNG picture, or outside the limits of size.
    """
    with _opened(path) as picture:
        return _header(path, picture)


def open_face(path: Path) -> NDArray[np.uint8]:
    """Decode a face picture.

    Parameters
    ----------
    path
        The family's `face.png`.

    Returns
    -------
    ndarray
        Height x width x 3, RGB; where the picture is transparent, white shows through.

    Raises
    ------
    PictureError
        As `face_header`, and if the picture is damaged.
    """
    with _opened(path) as picture:
        _header(path, picture)
        try:
            picture.load()
            return np.asarray(_as_rgb(picture), dtype=np.uint8)
        except _NOT_A_PICTURE as error:
            raise PictureError(
                f"{path}: the picture is damaged: {error}; scan or export the face again"
            ) from error


def size_disagreement(
    header: FaceHeader, face_size_mm: tuple[float, float], px_per_mm: float
) -> tuple[float, str] | None:
    """Compare a picture's size with what the family says of it.

    Parameters
    ----------
    header
        The picture's size.
    face_size_mm
        Stated width and height, mm.
    px_per_mm
        Stated scale.

    Returns
    -------
    tuple or None
        The larger relative difference and a clause that states both sizes; None when they agree
        within rounding.
    """
    found = (header.width_px, header.height_px)
    stated = tuple(side * px_per_mm for side in face_size_mm)
    off_px = [abs(f - s) for f, s in zip(found, stated, strict=True)]
    shares = [off / s for off, s in zip(off_px, stated, strict=True)]
    if all(
        off <= SIZE_SLACK_PX or share <= SIZE_REMARK_SHARE
        for off, share in zip(off_px, shares, strict=True)
    ):
        return None
    return max(shares), (
        f"expected {stated[0]:.0f} x {stated[1]:.0f} px, which is face_size_mm "
        f"[{face_size_mm[0]:g}, {face_size_mm[1]:g}] times px_per_mm {px_per_mm:g}, found "
        f"{found[0]} x {found[1]} px"
    )


def _opened(path: Path) -> PngImageFile:
    wish = "expected a PNG picture of the bare face"
    try:
        if path.is_dir():
            raise PictureError(f"{path}: {wish}, found a folder")
        if not path.exists():
            raise PictureError(f"{path}: there is no such file; {wish}")
        if not path.is_file():
            raise PictureError(f"{path}: {wish}, found something that is no file")
        if path.stat().st_size == 0:
            raise PictureError(f"{path}: the file is empty; {wish}")
        # Image.open would refuse large pictures in words of its own before giving their size
        return PngImageFile(path)
    except PermissionError as error:
        raise PictureError(f"{path}: cannot be read: {error.strerror}") from error
    except _NOT_A_PICTURE as error:
        raise PictureError(f"{path}: {wish}, found a file that is none") from error


def _header(path: Path, picture: PngImageFile) -> FaceHeader:
    width, height = picture.size
    too_large = max(width, height) > MAX_SIDE_PX or width * height > MAX_PIXELS
    if too_large or min(width, height) < MIN_SIDE_PX:
        raise PictureError(
            f"{path}: expected a picture of {MIN_SIDE_PX} to {MAX_SIDE_PX} px a side and at most "
            f"{MAX_PIXELS // 1_000_000} million pixels, found {width} x {height} px; "
            f"{'scale it down' if too_large else 'scan it larger'} and state its px_per_mm"
        )
    return FaceHeader(width, height)


def _as_rgb(picture: Image.Image) -> Image.Image:
    if picture.mode.startswith("I"):  # 16 bits of grey, which convert() would clip at 255
        grey = np.asarray(picture, dtype=np.int64) >> 8
        return Image.fromarray(grey.clip(0, 255).astype(np.uint8)).convert("RGB")
    if "transparency" in picture.info or picture.mode in ("RGBA", "LA", "PA"):
        on_white = Image.new("RGBA", picture.size, "white")
        on_white.alpha_composite(picture.convert("RGBA"))
        return on_white.convert("RGB")
    return picture.convert("RGB")
