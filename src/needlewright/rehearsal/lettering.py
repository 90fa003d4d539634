"""Numerals and words in the fonts this machine has."""

import os
import sys
from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

MAX_FONTS: Final = 200
NEEDED: Final = "0123456789/ km°CE"
"""A font that lacks one of these is of no use on a face."""

_UNSUITABLE: Final = ("math", "symbol", "emoji", "icon", "dingbat", "braille", "music")

Font = ImageFont.FreeTypeFont | ImageFont.ImageFont


def font_folders() -> tuple[Path, ...]:
    """Where the usual systems keep fonts for everybody; folders that are not there are left out."""
    home = Path.home()
    if sys.platform == "win32":
        places = [Path(os.environ.get("WINDIR", "C:/Windows")) / "Fonts"]
    elif sys.platform == "darwin":
        places = [Path("/Library/Fonts"), Path("/System/Library/Fonts"), home / "Library/Fonts"]
    else:
        places = [Path("/usr/share/fonts"), Path("/usr/local/share/fonts"), home / ".fonts"]
    return tuple(place for place in places if place.is_dir())


@lru_cache(maxsize=1)
def found_fonts() -> tuple[Path, ...]:
    """TrueType and OpenType fonts with Latin numerals, in the order of their names."""
    files = (
        path
        for folder in font_folders()
        for path in folder.rglob("*")
        if path.suffix.lower() in (".ttf", ".otf")
        and not any(word in path.name.lower() for word in _UNSUITABLE)
    )
    return tuple(p for p in sorted(files, key=lambda p: p.name)[:MAX_FONTS] if _has_numerals(p))


def letters(
    words: str, font: Path | None, cap_height_px: float, squeeze: float = 1.0
) -> NDArray[np.uint8]:
    """Draw words in one line.

    Parameters
    ----------
    words
        What to draw.
    font
        A font file, or None for the one that comes with the drawing library.
    cap_height_px
        Height of a numeral.
    squeeze
        Width against the font's own.

    Returns
    -------
    ndarray
        Cut to the ink; 255 where there is ink.
    """
    face = _sized(font, max(round(cap_height_px / _cap_share(font)), 4))
    left, top, right, bottom = (int(v) for v in face.getbbox(words))
    size = max(right - left, 1) + 4, max(bottom - top, 1) + 4
    picture = Image.new("L", size, 0)
    ImageDraw.Draw(picture).text((2 - left, 2 - top), words, fill=255, font=face)
    if squeeze != 1.0:
        wide = max(round(size[0] * squeeze), 1)
        picture = picture.resize((wide, size[1]), Image.Resampling.LANCZOS)
    return np.asarray(picture, dtype=np.uint8)


@lru_cache(maxsize=256)
def _sized(font: Path | None, size_px: int) -> Font:
    if font is None:
        return ImageFont.load_default(size_px)
    return ImageFont.truetype(str(font), size_px)


@lru_cache(maxsize=256)
def _cap_share(font: Path | None) -> float:
    _, top, _, bottom = _sized(font, 200).getbbox("0")
    return max(float(bottom - top) / 200.0, 0.2)


def _has_numerals(path: Path) -> bool:
    try:
        font = ImageFont.truetype(str(path), 32)
        missing = font.getmask("\uffff").getbbox(), bytes(font.getmask("\uffff"))
        shapes = [bytes(font.getmask(c)) for c in NEEDED if c != " "]
        return all(font.getbbox(c)[2] > 0 for c in NEEDED if c != " ") and missing[1] not in shapes
    except (OSError, ValueError):
        return False
