"""From a photo to the needles of one family: the pipeline, and what it refuses.

picture -> face found -> face registered -> for each dial: search, fit, second look, judge.
"""

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.errors import ScaleError
from needlewright.families.model import Dial, Family
from needlewright.readings.dial_view import DialView
from needlewright.readings.face_art import art_of
from needlewright.readings.gates import flags_of, needle_reason, photo_reason
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.readings.needle_fit import NeedleFit, fit_needle
from needlewright.readings.needle_search import search
from needlewright.readings.picture import Picture, open_picture
from needlewright.readings.registration import MIN_SHARE_FOUND, Registration, register
from needlewright.readings.runs import REHEARSED
from needlewright.readings.second_look import look_again
from needlewright.readings.uncertainty import combined_deg, components
from needlewright.readings.viewpoint import viewpoint_of


class FaceReader:
    """Reads photos of one family; what it needs of the artwork is prepared once.

    Parameters
    ----------
    family
        The cluster design.

    Raises
    ------
    PictureError
        If the face's picture cannot be used, or shows too little print to find the face by.
    """

    def __init__(self, family: Family) -> None:
        self.family = family
        self._art = art_of(family)

    def read_photo(self, path: Path, as_given: str | None = None) -> PhotoReadings:
        """Read every needle of a photo.

        Parameters
        ----------
        path
            The photo.
        as_given
            Its name as the caller gave it; None: the path.

        Returns
        -------
        PhotoReadings
            Readings in the family's order, or the reason why there are none.

        Raises
        ------
        PictureError
            If the file cannot be used.
        """
        return self.read_picture(open_picture(path), as_given or str(path))

    def read_picture(self, picture: Picture, as_given: str = "") -> PhotoReadings:
        """Read every needle of a decoded photo; see `read_photo`."""
        seen = self._read(picture, as_given)
        if not picture.rehearsed:
            return seen
        marked = (replace(one, flags=(*one.flags, REHEARSED)) for one in seen.readings)
        return replace(seen, readings=tuple(marked))

    def _read(self, picture: Picture, as_given: str) -> PhotoReadings:
        grey = np.asarray(cv2.cvtColor(picture.pixels, cv2.COLOR_BGR2GRAY), dtype=np.uint8)
        registration = register(grey, self._art)
        if registration is None or registration.share_found < MIN_SHARE_FOUND:
            reason = photo_reason(grey, something_found=registration is not None)
            return PhotoReadings(as_given, False, reason, ())
        viewpoint = viewpoint_of(registration.projection, picture.focal_35mm, grey.shape)
        readings = tuple(
            self._read_dial(
                DialView(
                    picture.pixels,
                    dial,
                    self._art,
                    registration.projection,
                    viewpoint,
                    registration.softness_mm,
                    self.family.eccentricity_mm,
                ),
                registration,
            )
            for dial in self.family.dials
        )
        return PhotoReadings(as_given, True, None, readings, registration.projection)

    def _read_dial(self, view: DialView, registration: Registration) -> Reading:
        refused = Reading(view.dial.id, "refused", view.dial.unit)
        if not view.shows_hub:
            return replace(refused, reason="out_of_frame")
        candidates = search(view)
        reason = needle_reason(view, candidates)
        if reason is not None:
            return replace(refused, reason=reason)
        fit = fit_needle(view, candidates[0])
        second = None if fit is None else look_again(view, fit)
        parts = () if fit is None else components(view, fit, second, registration.covariance)
        reason = needle_reason(view, candidates, fit, second, combined_deg(parts))
        if fit is None or reason is not None:
            return replace(refused, reason=reason or "occluded")
        return _reading(view, fit, parts)


def _reading(view: DialView, fit: NeedleFit, parts: tuple[tuple[str, float], ...]) -> Reading:
    dial = view.dial
    angle = dial.scale.on_branch(fit.angle_deg)
    u_angle = combined_deg(parts)
    value, u_value = value_shown(dial, angle, u_angle, view.eccentricity_mm)
    ends = np.array([-dial.needle.tail_mm, dial.needle.length_mm])
    line = view.projection.to_photo(
        view.along_needle(fit.angle_deg, ends, np.full(2, fit.offset_mm))
    )
    return Reading(
        dial.id,
        "read",
        dial.unit,
        None,
        angle,
        u_angle,
        value,
        u_value,
        fit.offset_mm,
        flags_of(view, fit, angle, u_angle),
        parts,
        (_point(line[0]), _point(line[1])),
    )


def value_shown(
    dial: Dial, angle_deg: float, u_angle_deg: float, eccentricity_mm: float
) -> tuple[float | None, float | None]:
    """Value and its uncertainty: what a driver sees also holds the shaft's eccentricity.

    Parameters
    ----------
    dial
        The dial.
    angle_deg
        Direction of its needle, on the scale's own branch.
    u_angle_deg
        Its standard uncertainty.
    eccentricity_mm
        Standard deviation of where shafts sit beside the printed centre.

    Returns
    -------
    tuple
        Both None where the scale can state no value.
    """
    try:
        value = dial.scale.value_at(angle_deg)
    except ScaleError:
        return None, None
    u_seen = np.hypot(u_angle_deg, np.degrees(eccentricity_mm / dial.needle.length_mm))
    return value, float(abs(dial.scale.slope_at(angle_deg)) * u_seen)


def _point(xy: NDArray[np.float64]) -> tuple[float, float]:
    return float(xy[0]), float(xy[1])
