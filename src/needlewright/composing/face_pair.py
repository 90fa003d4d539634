"""Two faces beside each other, as a page takes them: pictures, and places in millimetres."""

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from needlewright.errors import PictureError
from needlewright.families.model import Family
from needlewright.readings.face_difference import FaceDifference, compare_face, compare_units
from needlewright.readings.face_laid import FoundPicture, find_picture
from needlewright.readings.picture import open_picture

QUALITY: Final = 90


@dataclass(frozen=True, slots=True)
class Place:
    """A place where two faces differ in print; millimetres from the face's top-left corner."""

    number: int
    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float
    lighter: bool
    """Whether the second is the lighter one there, on average."""
    dial: str | None
    unit: str | None
    near_value: float | None
    """What a needle of that dial would show pointing there; None: off the scale."""


@dataclass(frozen=True, slots=True)
class FacePair:
    """Two faces laid over each other."""

    size_mm: tuple[float, float]
    places: tuple[Place, ...]
    """The largest first, numbered from 1."""
    left_out: int
    """Smaller places beyond the most that are told."""
    share_compared: float
    first: bytes
    second: bytes
    """JPEG, of one size."""


@dataclass(frozen=True, slots=True)
class Unusable:
    """A picture of several that cannot be compared."""

    number: int
    """Which, from 0."""
    what: str


def paired(family: Family, found: FaceDifference) -> FacePair:
    """What a comparison found, for showing.

    Parameters
    ----------
    family
        Whose face was compared.
    found
        By `readings.face_difference`.

    Returns
    -------
    FacePair
        With both pictures as JPEG.
    """
    units = {dial.id: dial.unit for dial in family.dials}
    places = tuple(
        Place(
            number,
            one.left_mm,
            one.top_mm,
            one.width_mm,
            one.height_mm,
            one.by_grey_levels > 0,
            one.dial,
            None if one.dial is None else units[one.dial],
            one.near_value,
        )
        for number, one in enumerate(found.regions, start=1)
    )
    first, second = _jpeg(found.first), _jpeg(found.second)
    return FacePair(
        family.face_size_mm, places, found.left_out, found.share_compared, first, second
    )


def version_pair(first: Family, second: Family) -> FacePair:
    """The faces of two versions of a family.

    Parameters
    ----------
    first
        Loaded.
    second
        Loaded; it is laid over the first.

    Returns
    -------
    FacePair
        In the first's millimetres.

    Raises
    ------
    PictureError
        If one is not found in the other.
    """
    other = open_picture(second.face_path)
    return paired(first, compare_face(first, other, second.name, needles=False))


def found_pictures(
    family: Family, pictures: Sequence[tuple[Path, str]]
) -> tuple[list[FoundPicture], list[Unusable]]:
    """Find a family's face in photos, and say of each that cannot be used why.

    Parameters
    ----------
    family
        The cluster design.
    pictures
        Path of each, and what it is called in sentences.

    Returns
    -------
    tuple
        Those in which it was found, and those in which it was not.
    """
    found, unusable = [], []
    for number, (path, said) in enumerate(pictures):
        try:
            found.append(find_picture(family, open_picture(path), said))
        except PictureError as error:
            unusable.append(Unusable(number, str(error).replace(str(path), said)))
    return found, unusable


def unit_pair(family: Family, found: Sequence[FoundPicture]) -> FacePair:
    """A unit beside the family's own face, or two units beside each other.

    Parameters
    ----------
    family
        The cluster design.
    found
        One or two photos, as `found_pictures` found the face in them.

    Returns
    -------
    FacePair
        What differs.

    Raises
    ------
    PictureError
        If nearly nothing of them is alike.
    """
    if len(found) == 1:
        said, picture = found[0].said, found[0].picture
        return paired(family, compare_face(family, picture, said, needles=True))
    first, second = found
    return paired(family, compare_units(family, first, second))


def _jpeg(pixels: NDArray[np.uint8]) -> bytes:
    out = BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=QUALITY, subsampling=0)
    return out.getvalue()
