"""The needles of a draft, measured in every photo in which its face was found."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.drafting.inputs import DraftInputs
from needlewright.readings.drafting.model import DraftDial, PictureUse
from needlewright.readings.drafting.needle import NeedleView, SeenNeedle, measure_needle
from needlewright.readings.drafting.needles import height_of, needle_of, plausible
from needlewright.readings.drafting.progress import Progress, tell_nobody
from needlewright.readings.picture import Picture
from needlewright.readings.projection import Projection
from needlewright.readings.viewpoint import Viewpoint, viewpoint_of


@dataclass(frozen=True, slots=True)
class Shown:
    """A picture in which the drafted face was found."""

    name: str
    picture: Picture
    projection: Projection
    viewpoint: Viewpoint

    @classmethod
    def of(cls, name: str, picture: Picture, projection: Projection) -> "Shown":
        """With the camera's place worked out."""
        place = viewpoint_of(projection, picture.focal_35mm, picture.pixels.shape)
        return cls(name, picture, projection, place)


def with_needles(
    dials: Sequence[DraftDial],
    inputs: DraftInputs,
    shown: Sequence[Shown],
    face: NDArray[np.uint8],
    px_per_mm: float,
    *,
    on_progress: Progress = tell_nobody,
) -> tuple[tuple[DraftDial, ...], tuple[PictureUse, ...]]:
    """Measure the needles.

    Parameters
    ----------
    dials
        Of the draft, in the order of `inputs`.
    inputs
        What was typed: measures taken by hand outrank those of the photos.
    shown
        The photos.
    face
        The bare face, rectified, blue, green, red.
    px_per_mm
        Of the face.
    on_progress
        Told after each needle.

    Returns
    -------
    tuple
        The dials with their needles, and what each photo gave.
    """
    measured: dict[str, list[tuple[str, float]]] = {one.name: [] for one in shown}
    result = []
    for number, (dial, typed) in enumerate(zip(dials, inputs.dials, strict=True)):
        marks = marks_mm(dial)
        height, seen = height_of([]), dict[str, SeenNeedle]()
        for _ in range(2):  # the second time at the height that the first one gave
            taken = height.middle_mm
            looks = {
                one.name: measure_needle(
                    NeedleView(
                        one.picture.pixels,
                        face,
                        px_per_mm,
                        one.projection,
                        one.viewpoint,
                        np.array(dial.centre_mm),
                        marks,
                        taken,
                    )
                )
                for one in shown
            }
            seen = {name: n for name, n in looks.items() if n is not None and plausible(n, marks)}
            height = height_of([(needle, taken) for needle in seen.values()])
        for name, one_seen in seen.items():
            measured[name].append((dial.id, on_branch(dial, one_seen.angle_deg)))
        needle, sources = needle_of(list(seen.values()), height, marks, typed.needle)
        result.append(replace(dial, needle=needle, needle_sources=sources))
        if shown:
            on_progress("needles", number + 1, len(dials))
    uses = tuple(
        PictureUse(name, True, tuple(i for i, _ in found), tuple(angle for _, angle in found))
        for name, found in measured.items()
    )
    return tuple(result), uses


def on_branch(dial: DraftDial, angle_deg: float) -> float:
    """An angle on a dial's branch: the turn of it that is nearest to the middle of the scale."""
    middle = (dial.marks[0].angle_deg + dial.marks[-1].angle_deg) / 2
    return angle_deg - 360.0 * round((angle_deg - middle) / 360.0)


def marks_mm(dial: DraftDial) -> tuple[float, float]:
    """Median inner and outer radius of a dial's major marks."""
    major = [mark for mark in dial.marks if mark.major]
    return (
        float(np.median([mark.inner_mm for mark in major])),
        float(np.median([mark.outer_mm for mark in major])),
    )
