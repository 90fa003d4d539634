"""One needle in one photo, fitted with nothing known of how high it stands or where its shaft sits.

The reader's own fit is used, with its prior of the sideways offset made so wide that it holds
nothing. What comes out is where the needle's axis is seen at two places along it, as the photo has
it, whatever height was assumed for the fit.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Dial
from needlewright.readings.dial_view import DialView
from needlewright.readings.gates import needle_reason
from needlewright.readings.needle_fit import NeedleFit, fit_needle, misfit_of
from needlewright.readings.needle_search import Candidate, search
from needlewright.readings.needle_shape import ANGLE, OFFSET, SIDE, prior_precision, usual_shape
from needlewright.readings.projection import Array
from needlewright.readings.second_look import look_again
from needlewright.readings.standing.faces import SeenFace
from needlewright.readings.standing.geometry import Frame
from needlewright.readings.uncertainty import FIT_FACTOR, combined_deg, components

WIDE_MM: Final = 1.5
"""Standard deviation of the offset the fit is told: no needle is held by it."""
SIDE_OF_LIGHT: Final = 0.75
SIDE_OF_DARK: Final = 1.0
"""Step of the side as a share of the top's: of a needle lighter than the ground, whose side lies in
its own shade, and of a darker one, which is as dark beside as above."""
SIDE_SPREAD: Final = 0.2
ENDS_PX: Final = 0.08
"""How far either end of the axis may lie off what the model sees: shading, light at the hub, print
below the tip; pixels of the photo."""


@dataclass(frozen=True, slots=True, eq=False)
class NeedleLook:
    """A needle that was found in a photo, and how it was looked at."""

    face: SeenFace
    dial: Dial
    """With the height and thickness the fit was made with."""
    view: DialView
    candidate: Candidate
    fit: NeedleFit


@dataclass(frozen=True, slots=True, eq=False)
class AxisSeen:
    """Where a needle's axis is seen in a photo, at two places along it."""

    at_mm: Array
    """(2,) along the frame."""
    beside_mm: Array
    """(2,) across it."""
    covariance: Array
    """(2, 2) of `beside_mm`, mm^2."""
    by_side: Array
    """(2,) change of `beside_mm` with the brightness of the needle's side as a share of its top."""


def with_needle(dial: Dial, height_mm: float, thickness_mm: float) -> Dial:
    """The dial with a needle of another height and thickness."""
    needle = replace(dial.needle, height_mm=height_mm, thickness_mm=thickness_mm)
    return replace(dial, needle=needle)


def look(face: SeenFace, dial: Dial) -> NeedleLook | str:
    """Find and fit a needle in a photo.

    Parameters
    ----------
    face
        The face there.
    dial
        With the height and thickness to begin with.

    Returns
    -------
    NeedleLook or str
        The reason, a word of `readings.flags`, where it is refused.
    """
    view = face.view_of(dial, WIDE_MM)
    if not view.shows_hub:
        return "out_of_frame"
    candidates = search(view)
    reason = needle_reason(view, candidates)
    if reason is not None:
        return reason
    is_light = float(candidates[0].colour_step.sum()) > 0
    usual = SIDE_OF_LIGHT if is_light else SIDE_OF_DARK
    view = replace(view, side_like_top=usual, side_spread=SIDE_SPREAD)
    fit = fit_needle(view, candidates[0])
    second = None if fit is None else look_again(view, fit)
    spread = face.registration.covariance
    parts = () if fit is None else components(view, fit, second, spread)
    reason = needle_reason(view, candidates, fit, second, combined_deg(parts))
    if fit is None or reason is not None:
        return reason or "occluded"
    return NeedleLook(face, dial, view, candidates[0], fit)


def looked_again(before: NeedleLook, dial: Dial) -> NeedleLook | None:
    """The same needle fitted with another height and thickness; None: the fit runs away."""
    view = replace(before.view, dial=dial)
    fit = fit_needle(view, before.candidate)
    return None if fit is None else NeedleLook(before.face, dial, view, before.candidate, fit)


def axis_seen(one: NeedleLook, frame: Frame) -> AxisSeen:
    """Where the axis is seen, on the face plane.

    Parameters
    ----------
    one
        The needle in its photo.
    frame
        Along and across it.

    Returns
    -------
    AxisSeen
        Uncertain by the fit's scatter, the registration's, and what the model does not see.
    """
    view, fit, needle = one.view, one.fit, one.dial.needle
    radii = np.array([view.inner_radius_mm(fit.angle_deg), needle.length_mm])
    seen = view.along_needle(fit.angle_deg, radii, np.full(2, fit.offset_mm)) - frame.centre_mm
    by = np.stack([radii, np.ones(2)], axis=1)
    pair = np.ix_([ANGLE, OFFSET], [ANGLE, OFFSET])
    covariance = FIT_FACTOR**2 * by @ fit.spread[pair] @ by.T
    ends = frame.centre_mm + radii[:, None] * frame.along
    back = np.linalg.inv(view.projection.jacobian(ends))
    steps = view.projection.by_parameters(ends)
    moved = np.einsum("i,nij,njp->np", frame.across, back, steps)
    covariance = covariance + moved @ one.face.registration.covariance @ moved.T
    covariance = covariance + (ENDS_PX / view.px_per_mm) ** 2 * np.eye(2)
    by_side = by @ fit.spread[[ANGLE, OFFSET], SIDE] / fit.spread[SIDE, SIDE]
    return AxisSeen(seen @ frame.along, seen @ frame.across, covariance, np.asarray(by_side))


def misfit(one: NeedleLook, noise: float, accepted: NDArray[np.bool_]) -> float:
    """How badly a fit explains its photo and what is known of needles; see `misfit_of`."""
    if accepted.shape != one.fit.accepted_rows.shape:
        accepted = one.fit.accepted_rows
    known = prior_precision(one.view) * (one.fit.shape - usual_shape(one.view)) ** 2
    known[[ANGLE, OFFSET]] = 0.0
    explained = misfit_of(one.view, one.fit, noise, accepted) / FIT_FACTOR**2
    return explained + float(known.sum())
