"""Opening a photo: every way a file can be unusable becomes one sentence."""

import hashlib
import struct
import warnings
import zlib
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, BinaryIO, Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError

from needlewright.errors import PictureError
from needlewright.readings.rehearsed_photo import says_rehearsed

MAX_PIXELS: Final = 120_000_000
"""Largest picture that is decoded: above the largest camera sensors in common use."""
MAX_SIDE_PX: Final = 30_000
"""Longest side that is decoded; OpenCV remaps with 16-bit coordinates, which end at 32,767."""
MIN_SIDE_PX: Final = 64
"""Shortest side in which a face could be looked for at all."""

BAND_ROWS: Final = 1024

FORMATS: Final = ("JPEG", "PNG", "TIFF", "WEBP", "BMP", "AVIF")

_HEIF_BRANDS: Final = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"}
_DECODER_ERRORS: Final = (
    OSError,
    SyntaxError,
    ValueError,
    TypeError,
    KeyError,
    IndexError,
    OverflowError,
    EOFError,
    MemoryError,
    struct.error,
    zlib.error,
    Image.DecompressionBombError,
)
"""What Pillow's decoders are known to raise on damaged files."""

_NEXT: Final = "take the photo again or leave it out"


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A decoded photo, upright as its EXIF orientation says."""

    pixels: NDArray[np.uint8]
    """Height x width x 3, blue, green, red (OpenCV's order)."""
    focal_35mm: float | None
    """EXIF FocalLengthIn35mmFilm: mm on a 36 mm wide frame; None where the camera gave none."""
    taken: datetime | None
    """EXIF time of the exposure, as the camera's clock stood; None where there is none."""
    sha256: str
    """Of the file's bytes, hexadecimal: two photos with the same one are the same picture."""
    rehearsed: bool = False
    """Whether the file says that no real cluster is in it."""


@dataclass(frozen=True, slots=True)
class PictureStamp:
    """What tells two photos apart before either is decoded."""

    taken: datetime | None
    """As in `Picture`."""
    sha256: str
    """As in `Picture`."""
    rehearsed: bool = False
    """As in `Picture`."""


def stamp_picture(path: Path) -> PictureStamp:
    """Read when a photo was taken and the digest of its file; nothing is decoded.

    Parameters
    ----------
    path
        A file of `open_picture`'s kinds.

    Returns
    -------
    PictureStamp
        Time and digest.

    Raises
    ------
    PictureError
        If `open_picture` would refuse the file for its kind, header or size.
    """
    _check_is_file(path)
    try:
        with path.open("rb") as file:
            exif = _exif_of(_open_header(path, file))
            file.seek(0)
            sha256 = hashlib.file_digest(file, "sha256").hexdigest()
            return PictureStamp(_taken(exif), sha256, says_rehearsed(exif))
    except OSError as error:
        raise PictureError(
            f"{path}: cannot be opened ({error.strerror or error}); check the file and its rights"
        ) from error


def open_picture(path: Path) -> Picture:
    """Open a photo.

    The size in the file's header is checked before anything is decoded.

    Parameters
    ----------
    path
        A JPEG, PNG, TIFF, WebP, BMP or AVIF file.

    Returns
    -------
    Picture
        The decoded photo.

    Raises
    ------
    PictureError
        If the file is missing, a folder, empty, no picture, damaged, or of a size outside
        `MIN_SIDE_PX`, `MAX_SIDE_PX` and `MAX_PIXELS`.
    """
    _check_is_file(path)
    try:
        with path.open("rb") as file:
            image = _open_header(path, file)
            exif = _exif_of(image)
            pixels = _decode(path, image)
            file.seek(0)
            sha256 = hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise PictureError(
            f"{path}: cannot be opened ({error.strerror or error}); check the file and its rights"
        ) from error
    return Picture(pixels, _focal_35mm(exif), _taken(exif), sha256, says_rehearsed(exif))


def picture_from_array(pixels: NDArray[np.uint8], focal_35mm: float | None = None) -> Picture:
    """A picture that is already in memory: a camera's frame, or a drawn one.

    Parameters
    ----------
    pixels
        Unsigned bytes, height x width x 3 (blue, green, red), or height x width (grey).
    focal_35mm
        Focal length on a 36 mm wide frame, mm; None: not known.

    Returns
    -------
    Picture
        The picture; `sha256` is that of the pixels.

    Raises
    ------
    PictureError
        If the array has another shape or type, or a size outside the limits of `open_picture`.
    """
    if pixels.ndim == 2:
        pixels = np.repeat(pixels[:, :, None], 3, axis=2)
    if pixels.dtype != np.uint8 or pixels.ndim != 3 or pixels.shape[2] != 3:
        raise PictureError(
            f"picture in memory has shape {pixels.shape} of {pixels.dtype}; "
            "height x width x 3 unsigned bytes are expected"
        )
    _check_size("picture in memory", pixels.shape[1], pixels.shape[0])
    whole = np.ascontiguousarray(pixels)
    return Picture(whole, focal_35mm, None, hashlib.sha256(whole.tobytes()).hexdigest())


def _check_is_file(path: Path) -> None:
    try:
        if path.is_dir():
            raise PictureError(f"{path}: is a folder; name the photos in it, e.g. {path}/*.jpg")
        if not path.exists():
            raise PictureError(f"{path}: there is no such file; check the name and the folder")
        if not path.is_file():
            raise PictureError(f"{path}: is not a file; {_NEXT}")
        if path.stat().st_size == 0:
            raise PictureError(f"{path}: is empty (zero bytes); copy it from the camera again")
    except (OSError, ValueError) as error:  # a name too long, or with a zero byte in it
        raise PictureError(f"{path!r}: cannot be a file's name ({error})") from error


def _open_header(path: Path, file: BinaryIO) -> Image.Image:
    head = file.read(12)
    file.seek(0)
    if head[4:8] == b"ftyp" and head[8:12] in _HEIF_BRANDS:
        raise PictureError(
            f"{path}: is a HEIC picture, which cannot be read here; set the phone's camera to "
            "JPEG, or save the photo as JPEG, and give that"
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what Pillow warns of is refused below
            image = Image.open(file, formats=FORMATS)
    except UnidentifiedImageError as error:
        raise PictureError(
            f"{path}: is not a picture; a JPEG, PNG, TIFF, WebP, BMP or AVIF file is expected"
        ) from error
    except Image.DecompressionBombError as error:
        raise PictureError(f"{path}: is far too large; {_limits()}; scale it down") from error
    except _DECODER_ERRORS as error:
        raise PictureError(f"{path}: its header is damaged ({error}); {_NEXT}") from error
    _check_size(str(path), image.width, image.height)
    return image


def _check_size(name: str, width_px: int, height_px: int) -> None:
    size = f"{width_px} x {height_px} px"
    if width_px * height_px > MAX_PIXELS or max(width_px, height_px) > MAX_SIDE_PX:
        raise PictureError(f"{name}: is {size}; {_limits()}; scale it down")
    if min(width_px, height_px) < MIN_SIDE_PX:
        raise PictureError(
            f"{name}: is {size}; at least {MIN_SIDE_PX} px a side are needed; {_NEXT}"
        )


def _limits() -> str:
    return f"at most {MAX_PIXELS // 1_000_000} megapixels and {MAX_SIDE_PX} px a side are read"


def _decode(path: Path, image: Image.Image) -> NDArray[np.uint8]:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            image.load()
            _turn_upright(image)
            pixels = _eight_bit(image)
    except _DECODER_ERRORS as error:
        raise PictureError(
            f"{path}: is damaged or cut short ({error}); copy it from the camera again"
        ) from error
    if pixels is None:
        raise PictureError(
            f"{path}: has pixels of a kind that is no photo's (mode {image.mode}); "
            "save it as an ordinary JPEG or PNG"
        )
    return pixels


def _turn_upright(image: Image.Image) -> None:
    """Turn a picture as its EXIF orientation says, in place: most need no turning, nor a copy."""
    with suppress(*_DECODER_ERRORS):  # EXIF that cannot be parsed turns nothing
        ImageOps.exif_transpose(image, in_place=True)


def _eight_bit(image: Image.Image) -> NDArray[np.uint8] | None:
    """Blue, green, red bytes of any photo mode; None for pixels that are no photo's."""
    if image.mode.startswith("I"):  # 16-bit grey, also where Pillow widened it to 32 bits
        deep = np.asarray(image)
        if deep.min() < 0 or deep.max() > 0xFFFF:
            return None
        grey = (deep >> 8).astype(np.uint8)
        return np.repeat(grey[:, :, None], 3, axis=2)
    if image.mode == "F":
        return None
    if image.has_transparency_data:
        image = image.convert("RGBA")
        ground = Image.new("RGBA", image.size, (0, 0, 0, 255))
        image = Image.alpha_composite(ground, image)
    if image.mode != "RGB":
        image = image.convert("RGB")
    return _bytes_of(image)


def _bytes_of(image: Image.Image) -> NDArray[np.uint8]:
    """Blue, green, red of an RGB picture, band by band: Pillow gives copies of what it holds."""
    width, height = image.size
    pixels = np.empty((height, width, 3), dtype=np.uint8)
    for top in range(0, height, BAND_ROWS):
        bottom = min(top + BAND_ROWS, height)
        band = np.asarray(image.crop((0, top, width, bottom)))
        cv2.cvtColor(band, cv2.COLOR_RGB2BGR, dst=pixels[top:bottom])
    return pixels


def _exif_of(image: Image.Image) -> Mapping[int, Any]:
    try:
        exif = image.getexif()
        return {**exif, **exif.get_ifd(ExifTags.IFD.Exif)}
    except _DECODER_ERRORS:  # a photo is no worse for EXIF that cannot be parsed
        return {}


def _focal_35mm(exif: Mapping[int, Any]) -> float | None:
    try:
        focal = float(exif[ExifTags.Base.FocalLengthIn35mmFilm])
    except (KeyError, TypeError, ValueError, ZeroDivisionError):
        return None
    return focal if 1 <= focal <= 3000 else None  # EXIF 2.32, 4.6.5: 0 says "unknown"


def _taken(exif: Mapping[int, Any]) -> datetime | None:
    for tag, sub_second_tag in (
        (ExifTags.Base.DateTimeOriginal, ExifTags.Base.SubsecTimeOriginal),
        (ExifTags.Base.DateTimeDigitized, ExifTags.Base.SubsecTimeDigitized),
        (ExifTags.Base.DateTime, ExifTags.Base.SubsecTime),
    ):
        try:
            taken = datetime.strptime(str(exif[tag]).strip("\0 "), "%Y:%m:%d %H:%M:%S")
        except (KeyError, ValueError):
            continue
        digits = str(exif.get(sub_second_tag, "")).strip("\0 ")
        share = float(f"0.{digits}") if digits.isascii() and digits.isdigit() else 0.0
        return taken.replace(microsecond=int(share * 1e6))
    return None
