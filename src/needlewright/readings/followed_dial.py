"""One needle followed from frame to frame: predicted, fitted, searched where need be, and doubted.

A coloured needle is fitted twice, in the light and in the colour difference it stands out of.
Print, shadow and coding err differently in the two, so each vouches for the other.

Source: derivation in docs/decisions/0016-following-a-needle.md.
"""

from dataclasses import dataclass
from math import hypot, radians
from typing import Final

import numpy as np

from needlewright.readings.axle import Axle, FreeLine, Siting
from needlewright.readings.dial_view import DialView
from needlewright.readings.frame import Frame, Plane, plane_of
from needlewright.readings.needle_in_plane import NeedleInPlane
from needlewright.readings.needle_lines import FaceInFrame, Line
from needlewright.readings.needle_shade import Light
from needlewright.readings.projection import Array
from needlewright.readings.uncertainty import pitch_deg, registration_deg

WINDOW_DEG: Final = 18.0
"""How far about the predicted direction a needle is looked for first."""
PULL_PX: Final = 2.5
"""A fit that moves the tip further than this from where it was predicted is looked for instead."""
FIRST_RATIO: Final = 1.25
"""A needle found anew must outdo every other direction by this."""
APART_SIGMAS: Final = 4.0
APART_FLOOR_DEG: Final = 0.3
"""Two planes may differ by so many standard uncertainties and this."""
PARALLAX_DOUBT: Final = 0.15
"""Share by which a needle's parallax may be off."""
OFFSET_FLOOR_PX: Final = 0.06
"""What the axle's three numbers leave open of a line's offset."""
SITING_PX: Final = 0.3
"""How wrongly a colour difference may be taken to lie over the light, in the light's pixels."""
FIXED_DEG: Final = 5.0
"""What stays the same in every frame is worked out once for so many degrees."""
ALIKE: Final = 0.5
"""Correlation of what two planes are wrong by: they share axle, registration and the frame."""
QUARTERS: Final = np.array([[0.0, -1.0], [1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]])
"""Directions at 0, 90, 180 and 270 degrees."""
FRESH_FRAMES: Final = 12
"""After so many frames unseen nothing is predicted any more."""


@dataclass(frozen=True, slots=True)
class NeedleSeen:
    """One needle in one frame: an angle with its standard uncertainty, or none and a reason."""

    dial: str
    angle_deg: float | None = None
    u_angle_deg: float | None = None
    u_apart_deg: float | None = None
    """The part of it that differs from frame to frame."""
    reason: str | None = None
    """One of `readings.flags.REASONS`; None when it was read."""
    line_px: tuple[tuple[float, float], tuple[float, float]] | None = None
    """Hub and tip of the fitted needle in the frame (x, y)."""
    lines: tuple[FreeLine, ...] = ()
    """What each plane says by itself, with nothing known of the axle."""
    wheel_px: tuple[tuple[float, float], ...] | None = None
    """Where its tip would stand at 0, 90, 180 and 270 degrees, turning about the printed centre:
    enough to lay any other direction into the frame."""


class FollowedDial:
    """Follows one needle.

    Parameters
    ----------
    view
        The dial in the frame the face was registered in.
    frame
        That frame.
    spread
        9 x 9 covariance of the registration, of `Projection.by_parameters`.
    """

    def __init__(self, view: DialView, frame: Frame, spread: Array) -> None:
        self._spread = spread
        self._fixed_deg: dict[int, float] = {}
        self._dial = view.dial
        self._centre = np.asarray(view.dial.centre_mm, float)
        colour = plane_of(view.dial.needle.colour, frame)
        planes: tuple[Plane, ...] = ("light",) if colour == "light" else (colour, "light")
        self._view = view
        self._axle = self._new_axle(None)
        self._planes = tuple(NeedleInPlane(view, frame, plane, self._axle) for plane in planes)
        self._past: list[tuple[float, float]] = []
        self._unseen = 0

    @property
    def length_mm(self) -> float:
        """The needle's length."""
        return self._dial.needle.length_mm

    def settle_ground(self) -> NeedleInPlane:
        """Learn the ground from what was seen so far; the plane that shows the shadow on it."""
        for plane in self._planes:
            plane.settle_ground()
        return self._planes[-1]

    def settle(self, light: Light, siting: Siting | None) -> Siting:
        """Learn needle and axle from what was seen so far.

        Parameters
        ----------
        light
            The light the cluster stands in.
        siting
            How colour lies over light, as far as other needles told.

        Returns
        -------
        Siting
            With what this needle told.
        """
        self._past = []
        self._axle = self._new_axle(siting)
        for plane in self._planes:
            plane.settle(light, self._axle)
        return self._axle.siting

    def _new_axle(self, siting: Siting | None) -> Axle:
        scale = self._view.px_per_mm
        tangent, _ = self._view.viewpoint.slant(self._centre)
        parallax = PARALLAX_DOUBT * self._dial.needle.height_mm * tangent
        spread = hypot(self._view.eccentricity_mm, parallax)
        return Axle(spread, OFFSET_FLOOR_PX / scale, siting or Siting.unknown(SITING_PX / scale))

    def look(self, face: FaceInFrame, t_s: float) -> NeedleSeen:
        """Read the needle in a frame."""
        if not self._inside(face, 0.0, 0.0):
            return self._none("out_of_frame")
        lines, reason = self._followed(face, t_s)
        if not lines:
            lines, reason = self._anew(face, reason)
        return self._taken(face, lines, t_s) if lines else self._none(reason)

    def _followed(self, face: FaceInFrame, t_s: float) -> tuple[dict[int, Line], str]:
        """The needle near where it must be by its last frames."""
        predicted = self._predicted(t_s)
        if predicted is None:
            return {}, "needle_missing"
        lines, _ = self._judged(face, predicted, 0.0)
        if lines:
            turned = radians(next(iter(lines.values())).angle_deg - predicted)
            if abs(turned) * self.length_mm * self._planes[0].px_per_mm < PULL_PX:
                return lines, ""
        reason = "needle_missing"
        for plane in self._planes:
            near = plane.hunt(face, predicted, WINDOW_DEG)
            if near:
                lines, reason = self._judged(face, *near[0])
            if near and lines:
                return lines, ""
        return {}, reason

    def _anew(self, face: FaceInFrame, reason: str) -> tuple[dict[int, Line], str]:
        """The needle anywhere, if in a plane one direction outdoes every other."""
        for plane in self._planes:
            found = plane.hunt(face, 0.0, 180.0)
            if not found:
                continue
            if len(found) > 1 and found[0][1] < FIRST_RATIO * found[1][1]:
                reason = reason if plane.known else "ambiguous"
                continue
            lines, reason = self._judged(face, *found[0])
            if lines:
                return lines, ""
        return {}, reason

    def _judged(
        self, face: FaceInFrame, angle_deg: float, score: float
    ) -> tuple[dict[int, Line], str]:
        """Lines by plane that may stand, or the reason why none does."""
        if not self._inside(face, angle_deg, self.length_mm):
            return {}, "out_of_frame"
        lines: dict[int, Line] = {}
        reason = ""
        for number, plane in enumerate(self._planes):
            line, why = plane.judged(face, angle_deg, score)
            if line is not None:
                lines[number] = line
            reason = reason or why
        if len(lines) == 2:
            one, other = lines.values()
            apart = abs(one.angle_deg - other.angle_deg)
            if apart > APART_FLOOR_DEG + APART_SIGMAS * hypot(one.u_angle_deg, other.u_angle_deg):
                return {}, "estimators_disagree"
        return lines, reason

    def _none(self, reason: str) -> NeedleSeen:
        self._unseen += 1
        if self._unseen > FRESH_FRAMES:
            self._past.clear()
        return NeedleSeen(self._dial.id, reason=reason)

    def _taken(self, face: FaceInFrame, lines: dict[int, Line], t_s: float) -> NeedleSeen:
        each = tuple(lines.values())
        weights = _weights(np.array([line.u_angle_deg for line in each]))
        angle = float(weights @ [line.angle_deg for line in each])
        offset = float(weights @ [line.offset_mm for line in each])
        alike = ALIKE + (1 - ALIKE) * np.eye(len(each))
        parts = weights * [line.u_angle_deg for line in each]
        u_deg = hypot(float(np.sqrt(parts @ alike @ parts)), self._fixed(angle))
        u_apart = float(np.linalg.norm(weights * [line.u_apart_deg for line in each]))
        for number, line in lines.items():
            self._planes[number].learn(face, line, angle)
        self._unseen = 0
        self._past = [*self._past[-2:], (t_s, angle)]
        return NeedleSeen(
            self._dial.id,
            angle,
            u_deg,
            min(u_apart, u_deg),
            None,
            self._drawn(face, angle, offset),
            tuple(line.free for line in each),
            self._wheel(face),
        )

    def _wheel(self, face: FaceInFrame) -> tuple[tuple[float, float], ...]:
        needle = self._dial.needle
        points = self._centre + needle.length_mm * QUARTERS
        at = face.projection.to_photo(face.viewpoint.lifted(points, needle.height_mm))
        return tuple((float(x), float(y)) for x, y in at)

    def _fixed(self, angle_deg: float) -> float:
        """What registration and the needle's pitch leave open of a direction, in every frame."""
        about = round(angle_deg / FIXED_DEG)
        if about not in self._fixed_deg:
            angle = about * FIXED_DEG
            self._fixed_deg[about] = hypot(
                registration_deg(self._view, angle, self._spread), pitch_deg(self._view, angle)
            )
        return self._fixed_deg[about]

    def _drawn(
        self, face: FaceInFrame, angle_deg: float, offset_mm: float
    ) -> tuple[tuple[float, float], tuple[float, float]]:
        needle = self._dial.needle
        ends = np.array([[-needle.tail_mm], [needle.length_mm]])
        a = radians(angle_deg)
        along, across = np.array([np.sin(a), -np.cos(a)]), np.array([np.cos(a), np.sin(a)])
        points = self._centre + ends * along + offset_mm * across
        (x0, y0), (x1, y1) = face.projection.to_photo(
            face.viewpoint.lifted(points, needle.height_mm)
        ).tolist()
        return (x0, y0), (x1, y1)

    def _predicted(self, t_s: float) -> float | None:
        if not self._past:
            return None
        t1, a1 = self._past[-1]
        if len(self._past) == 1 or t_s <= t1:
            return a1
        t0, a0 = self._past[-2]
        return a1 + (a1 - a0) / max(t1 - t0, 1e-6) * min(t_s - t1, 3 * (t1 - t0))

    def _inside(self, face: FaceInFrame, angle_deg: float, r_mm: float) -> bool:
        a = radians(angle_deg)
        point = self._centre + r_mm * np.array([np.sin(a), -np.cos(a)])
        at = face.projection.to_photo(face.viewpoint.lifted(point, self._dial.needle.height_mm))
        height, width = face.frame.light.shape
        return bool(0 <= at[0] <= width - 1 and 0 <= at[1] <= height - 1)


def _weights(u_deg: Array) -> Array:
    """Weights of least variance for lines whose errors go together; none is below nothing."""
    alike = ALIKE + (1 - ALIKE) * np.eye(len(u_deg))
    best = np.linalg.solve(alike * np.outer(u_deg, u_deg), np.ones(len(u_deg)))
    best = np.maximum(best, 0.0)
    return np.asarray(best / best.sum())
