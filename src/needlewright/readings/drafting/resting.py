"""Where needles rest: from photos that are said to show it, or said to be unknown."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np

from needlewright.errors import FamilyError
from needlewright.readings.drafting.model import DraftDial, PictureUse

BELOW_DEG: Final = 2.0
"""From so far below its first mark on, a needle that rests is held by a stop there."""


def check_at_rest(at_rest: Sequence[str], photos: Sequence[str]) -> None:
    """Refuse a photo of resting needles that is not among those of the draft.

    Parameters
    ----------
    at_rest
        Names of photos in which needles are said to rest.
    photos
        Names or paths of all photos of the draft.

    Raises
    ------
    FamilyError
        One sentence on the first that is not there.
    """
    for name in at_rest:
        if not any(_is(photo, name) for photo in photos):
            raise FamilyError(
                f"needles are said to rest in the photo '{name}', which is not among "
                f"{', '.join(Path(photo).name for photo in photos)}; give it too, or correct the "
                "name"
            )


def with_rests(
    dials: Sequence[DraftDial], uses: Sequence[PictureUse], at_rest: Sequence[str]
) -> tuple[tuple[DraftDial, ...], tuple[str, ...]]:
    """Put in where needles were seen to rest.

    Parameters
    ----------
    dials
        Each with the rest that was typed, or its first mark.
    uses
        What each photo gave: the angles of needles.
    at_rest
        Names of the photos in which needles are said to rest.

    Returns
    -------
    tuple
        The dials, and a remark on those whose rest nobody saw or typed. A pin on the face is never
        concluded: a stop inside the movement holds a needle in the same way.
    """
    found = [
        dial if dial.rest_typed else _seen(dial, _angles(dial.id, uses, at_rest)) for dial in dials
    ]
    unknown = [dial.id for dial in found if dial.rest_source == "assumed"]
    if not unknown:
        return tuple(found), ()
    words = (
        f"where the needle rests is not known of {', '.join(unknown)}: its first mark is taken and "
        "no pin; type it, or give a photo in which it rests and say so"
    )
    return tuple(found), (words,)


def _angles(dial_id: str, uses: Sequence[PictureUse], at_rest: Sequence[str]) -> list[float]:
    return [
        angle
        for use in uses
        if any(_is(use.photo, name) for name in at_rest)
        for needle, angle in zip(use.needles, use.angles_deg, strict=True)
        if needle == dial_id
    ]


def _seen(dial: DraftDial, angles_deg: Sequence[float]) -> DraftDial:
    """A dial with the rest its needle was seen at; without one, as it is."""
    if not angles_deg:
        return dial
    rest = float(np.median(angles_deg))
    first = dial.majors[0]
    below = (first.angle_deg - rest) * (1.0 if dial.direction == "cw" else -1.0)
    words = (
        f"the needle rests {below:.1f} degrees below the mark {first.value:g}, so a stop holds it "
        "there: look whether it is a pin on the face, and say so",
    )
    return replace(
        dial,
        rest_angle_deg=rest,
        rest_typed=True,
        rest_source="measured",
        remarks=(*dial.remarks, *(words if below > BELOW_DEG else ())),
    )


def _is(photo: str, name: str) -> bool:
    return photo == name or Path(photo).name == name
