"""A family from photos: clicks and values in, a draft and its rectified face out."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.errors import PictureError
from needlewright.readings.drafting.bare_face import without_needles
from needlewright.readings.drafting.dial_draft import dial_of
from needlewright.readings.drafting.finding import FoundDial, FoundFace, ends_on_plane, find_dials
from needlewright.readings.drafting.framing import (
    Frame,
    composite,
    frame_of,
    rectified,
    resolution,
)
from needlewright.readings.drafting.inputs import (
    DraftInputs,
    TypedDial,
    TypedMark,
    check_inputs,
)
from needlewright.readings.drafting.level import MM_PER_INCH, Level, level_of, mm_per_unit
from needlewright.readings.drafting.model import Draft, DraftDial, PictureUse
from needlewright.readings.drafting.needle_views import Shown, with_needles
from needlewright.readings.drafting.plane import FittedPlane
from needlewright.readings.drafting.progress import Progress, tell_nobody
from needlewright.readings.drafting.resting import check_at_rest, with_rests
from needlewright.readings.drafting.view import View, first_view
from needlewright.readings.face_art import prepare_art
from needlewright.readings.picture import Picture
from needlewright.readings.projection import Array, Projection
from needlewright.readings.registration import MIN_SHARE_FOUND, register

HUB_SHARE: Final = 0.3
"""Radius, in that of the marks, within which a hub may hide the print."""

Ring = tuple[Array, tuple[float, float]]
"""A dial's centre, and the inner and outer radius of its major marks, millimetres."""


@dataclass(frozen=True, slots=True)
class NamedPicture:
    """A picture and what its file is called."""

    name: str
    picture: Picture


@dataclass(frozen=True, slots=True, eq=False)
class Drafted:
    """A draft and the rectified face that goes with it."""

    draft: Draft
    face: NDArray[np.uint8]
    """Height x width x 3, blue, green, red."""


def draft_family(
    inputs: DraftInputs,
    clicked: NamedPicture,
    others: Sequence[NamedPicture] = (),
    *,
    bare: bool = False,
    on_progress: Progress = tell_nobody,
) -> Drafted:
    """Draft a family.

    Parameters
    ----------
    inputs
        What was typed, its pixels those of `clicked`.
    clicked
        The picture that was clicked in.
    others
        More photos of the same face, needles elsewhere.
    bare
        Whether needles are pulled in `clicked`.
    on_progress
        Told how far the draft is.

    Returns
    -------
    Drafted
        The draft and its face.

    Raises
    ------
    PictureError
        A click that meets nothing, a face without marks, a photo too oblique.
    FamilyError
        Values, a unit or a length that cannot be.
    """
    check_inputs(inputs)
    check_at_rest(inputs.at_rest, [clicked.name, *(other.name for other in others)])
    scan = inputs.dpi is not None
    laid = _laid_flat(inputs, clicked.picture, on_progress, bare=bare)
    found, frame, px_per_mm = laid.found, laid.frame, laid.px_per_mm
    rings = [_ring_mm(dial, frame, found.plane.view.projection) for dial in found.dials]
    on_progress("face", 1, 1)
    shown = _found_again(others, laid, rings, on_progress)
    face = laid.flat if bare else _under_needles(laid, shown, rings)
    if shown and not bare:
        found, frame = _marks_again(inputs, laid, face, on_progress) or (found, frame)
    dials = [_drafted(dial, found, frame, laid.projection) for dial in found.dials]
    own = [] if bare or scan else [Shown.of(clicked.name, clicked.picture, laid.projection)]
    whole, uses = with_needles(
        dials, inputs, [*own, *shown], face, px_per_mm, on_progress=on_progress
    )
    whole, unknown = with_rests(whole, uses, inputs.at_rest)
    seen = {one.name for one in shown}
    unseen = [PictureUse(other.name, False) for other in others if other.name not in seen]
    plane = laid.found.plane
    draft = Draft(
        inputs=inputs,
        photo=clicked.name,
        projection=laid.projection,
        face_size_mm=frame.size_mm,
        px_per_mm=px_per_mm,
        dials=whole,
        found=whole,
        tilt_deg=None if scan else plane.view.tilt_deg,
        u_tilt_deg=None if scan else plane.tilt_doubt_deg,
        u_scale=laid.u_scale,
        pictures=(*uses, *unseen),
        remarks=(f"12 o'clock is taken from {laid.level.words}", *unknown),
    )
    return Drafted(draft, face)


@dataclass(frozen=True, slots=True, eq=False)
class _Laid:
    """The picture that was clicked in, laid flat."""

    found: FoundFace
    frame: Frame
    projection: Projection
    """Face millimetres to picture."""
    px_per_mm: float
    flat: NDArray[np.uint8]
    level: Level
    u_scale: float | None


def _laid_flat(
    inputs: DraftInputs, picture: Picture, on_progress: Progress, *, bare: bool
) -> _Laid:
    pixels, focal = picture.pixels, picture.focal_35mm
    size_px = (pixels.shape[1], pixels.shape[0])
    found = find_dials(
        pixels,
        inputs.dials,
        first_view(size_px, focal),
        focal_stated=focal is not None,
        flat=inputs.dpi is not None,
        bare=bare,
        on_progress=on_progress,
    )
    plane = found.plane.view.projection
    mm, u_scale = mm_per_unit(inputs, found.plane.centres, found.plane.covariances, plane)
    level = level_of(inputs, found.plane.centres, plane)
    frame = frame_of(inputs, found, level, mm, size_px)
    projection = frame.projection(plane)
    own = None if inputs.dpi is None else inputs.dpi / MM_PER_INCH
    px_per_mm = resolution(projection, frame.size_mm, own)
    flat = rectified(pixels, projection, frame.size_mm, px_per_mm)
    return _Laid(found, frame, projection, px_per_mm, flat, level, u_scale)


def _under_needles(laid: _Laid, shown: Sequence[Shown], rings: Sequence[Ring]) -> NDArray[np.uint8]:
    """The face without its needles: from all pictures, or filled in where there is but one."""
    if not shown:
        return without_needles(laid.flat, laid.px_per_mm, rings)
    others = [
        rectified(one.picture.pixels, one.projection, laid.frame.size_mm, laid.px_per_mm)
        for one in shown
    ]
    return composite([laid.flat, *others])


def _drafted(dial: FoundDial, found: FoundFace, frame: Frame, photo: Projection) -> DraftDial:
    at = photo.px_per_mm_at(frame.to_mm(dial.centre))
    return dial_of(dial, frame, found.plane.view.projection, photo_px_per_mm=at)


def draft_dial(
    picture: Picture, typed: TypedDial, *, scan: bool = False
) -> tuple[FoundDial, FittedPlane]:
    """Find one dial alone, as a page does after each few clicks.

    Parameters
    ----------
    picture
        The picture that was clicked in.
    typed
        Clicks and values.
    scan
        Whether it is a scan, seen straight on.

    Returns
    -------
    tuple
        Its marks and centre, on the plane that they alone suggest; `plane.view.projection` brings
        them to the picture.

    Raises
    ------
    PictureError
        As `draft_family`.
    """
    size_px = (picture.pixels.shape[1], picture.pixels.shape[0])
    focal = picture.focal_35mm
    found = find_dials(
        picture.pixels,
        [typed],
        first_view(size_px, focal),
        focal_stated=focal is not None,
        flat=scan,
    )
    return found.dials[0], found.plane


def _ring_mm(dial: FoundDial, frame: Frame, plane: Projection) -> Ring:
    """A dial's centre and the radii its major marks end at, millimetres."""
    major = [t for t, m in zip(dial.chain.ticks, dial.chain.major, strict=True) if m]
    inner, outer = ends_on_plane(major, plane)
    radii = [float(np.median(np.linalg.norm(e - dial.centre, axis=1))) for e in (inner, outer)]
    return frame.to_mm(dial.centre), (radii[0] * frame.mm, radii[1] * frame.mm)


def _found_again(
    others: Sequence[NamedPicture], laid: _Laid, rings: Sequence[Ring], on_progress: Progress
) -> list[Shown]:
    """The other pictures in which the rectified face is found."""
    if not others:
        return []
    art = prepare_art(
        laid.flat,
        laid.px_per_mm,
        laid.frame.size_mm,
        np.array([centre for centre, _ in rings]),
        np.array([HUB_SHARE * outer for _, (_, outer) in rings]),
    )
    found = []
    for number, other in enumerate(others):
        grey = np.asarray(cv2.cvtColor(other.picture.pixels, cv2.COLOR_BGR2GRAY), np.uint8)
        registration = register(grey, art)
        if registration is not None and registration.share_found >= MIN_SHARE_FOUND:
            found.append(Shown.of(other.name, other.picture, registration.projection))
        on_progress("pictures", number + 1, len(others))
    return found


def _marks_again(
    inputs: DraftInputs, laid: _Laid, face: NDArray[np.uint8], on_progress: Progress
) -> tuple[FoundFace, Frame] | None:
    """The marks found anew on the face under the needles; None where it shows fewer."""
    found, frame, px_per_mm = laid.found, laid.frame, laid.px_per_mm
    height, width = face.shape[:2]
    flat = View((0.0, 0.0), float(max(width, height)), 0.0, (width, height))
    photo = found.plane.view.projection

    def moved(at: tuple[float, float]) -> tuple[float, float]:
        x, y = frame.to_mm(photo.to_face(np.array(at))) * px_per_mm - 0.5
        return float(x), float(y)

    typed = [
        replace(
            dial,
            hub_px=moved(dial.hub_px),
            marks=tuple(TypedMark(moved(mark.at_px), mark.value) for mark in dial.marks),
        )
        for dial in inputs.dials
    ]
    try:
        again = find_dials(
            face,
            typed,
            flat,
            focal_stated=True,
            flat=True,
            on_progress=lambda _, done, of: on_progress("again", done, of),
        )
    except PictureError:  # two needles over one place in both photos: the first photo's marks stand
        return None
    counts = [
        (int(d.chain.major.sum()), int(b.chain.major.sum()))
        for d, b in zip(again.dials, found.dials, strict=True)
    ]
    if any(now < before for now, before in counts):
        return None
    corner = flat.projection.to_face(np.array([-0.5, -0.5]))
    dials = tuple(replace(d, typed=t) for d, t in zip(again.dials, inputs.dials, strict=True))
    return FoundFace(dials, again.plane), Frame(1.0 / px_per_mm, 0.0, corner, frame.size_mm)
