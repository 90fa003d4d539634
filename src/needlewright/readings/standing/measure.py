"""Height, thickness and pitch of a resting needle, with their uncertainties, or why there are none.

Source: derivation in docs/calibrating.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import degrees, hypot
from pathlib import Path
from typing import Final

import numpy as np

from needlewright.families.model import Dial, Family
from needlewright.readings.face_art import art_of
from needlewright.readings.projection import Array
from needlewright.readings.standing.faces import SeenFace, see_faces
from needlewright.readings.standing.geometry import Frame, Standing
from needlewright.readings.standing.looks import (
    NeedleLook,
    axis_seen,
    look,
    looked_again,
    with_needle,
)
from needlewright.readings.standing.solve import Solution, solve
from needlewright.readings.standing.thickness import U_UNKNOWN_THICKNESS, find_thickness

FEWEST_PHOTOS: Final = 2
ROUNDS: Final = 3
"""Times the needle is fitted anew at the height found: what lies under it depends on that."""
SETTLED_MM: Final = 0.05
LEAST_STEP_MM: Final = 0.05
"""By which the change with the thickness is taken."""
U_SIDE: Final = 0.15
"""Standard uncertainty of the light on a needle's side as a share of its top's, in all photos."""
LEAST_SHARE: Final = 0.015
"""Standard uncertainty of a height by the lens, as a share of it: a lens is not a pinhole."""
MAX_U_HEIGHT_MM: Final = 0.35
MAX_U_PITCH_DEG: Final = 0.6
MAX_U_THICKNESS_MM: Final = 0.25
MOVED: Final = 1e-4
"""Probability below which lines that differ are not chance: the needle moved."""
MOVED_AWAY: Final = "moved"
MOST_LEFT_OUT: Final = 2


@dataclass(frozen=True, slots=True)
class Measured:
    """A number with its standard uncertainty, or why there is none."""

    value: float | None
    u: float | None
    why_not: str = ""
    """A sentence: what is wanting and what to do."""


@dataclass(frozen=True, slots=True)
class NeedleStands:
    """How the needle of one dial stands."""

    dial: str
    photos: tuple[str, ...]
    """Those it was measured in."""
    left_out: tuple[tuple[str, str], ...]
    """Photo and reason: a word of `readings.flags`, or `moved`."""
    height_mm: Measured
    thickness_mm: Measured
    pitch_deg: Measured
    """Positive: the tip is higher."""
    levers: tuple[float, ...]
    """Of each photo: how far a millimetre of height moves the needle sideways there, mm."""
    chi2: float | None
    degrees_of_freedom: int | None


@dataclass(frozen=True, slots=True)
class StandingNeedles:
    """What photos of resting needles say."""

    needles: tuple[NeedleStands, ...]
    """In the family's order."""
    photos: tuple[str, ...]
    without_face: tuple[tuple[str, str], ...]
    """Photo and reason."""


def measure_standing(
    family: Family, paths: Sequence[Path], dials: Sequence[str] = ()
) -> StandingNeedles:
    """Measure how the needles of a cluster stand, from photos in which none of them moved.

    Parameters
    ----------
    family
        The cluster design; heights and thicknesses in it are only where the search begins.
    paths
        Photos from different sides.
    dials
        Ids of those to measure; none: every one.

    Returns
    -------
    StandingNeedles
        In the family's order.

    Raises
    ------
    PictureError
        If a file cannot be used.
    FamilyError
        If the family's face cannot be used.
    """
    faces, without = see_faces(paths, art_of(family))
    wanted = [dial for dial in family.dials if not dials or dial.id in dials]
    needles = tuple(_measure(dial, faces) for dial in wanted)
    return StandingNeedles(needles, tuple(str(path) for path in paths), without)


def _measure(dial: Dial, faces: Sequence[SeenFace]) -> NeedleStands:
    looks: list[NeedleLook] = []
    left_out: list[tuple[str, str]] = []
    for face in faces:
        one = look(face, dial)
        if isinstance(one, str):
            left_out.append((face.photo, one))
        else:
            looks.append(one)
    while True:
        if len(looks) < FEWEST_PHOTOS:
            return _nothing(dial, looks, left_out, _TOO_FEW.format(seen=len(looks)))
        found = _Needle.of(dial, looks)
        worst = found.moved
        if worst is None:
            return found.said(left_out, doubt=1 + sum(why == MOVED_AWAY for _, why in left_out))
        if len(looks) <= FEWEST_PHOTOS + 1 or len(left_out) >= MOST_LEFT_OUT:
            return _nothing(dial, looks, left_out, _MOVED)
        left_out.append((looks[worst].face.photo, MOVED_AWAY))
        del looks[worst]


_TOO_FEW: Final = (
    "not enough data: the needle was read in {seen} of the photos and two are needed; take photos "
    "in which it is clear, from its left and from its right"
)
_MOVED: Final = (
    "the needle does not stand in the same place in all photos, or one of them is wrong; let it "
    "rest and take all photos again"
)
_ONE_SIDE: Final = (
    "not enough data: the photos look across this needle from too nearly the same side; take one "
    "from its left and one from its right, 20 to 30 degrees from straight on"
)
_NO_SIDE: Final = (
    "not enough data: its side does not show clearly enough to be told from its top; take photos "
    "nearer and more obliquely, across the needle"
)
_NO_PITCH: Final = (
    "not enough data: the direction of this needle hangs too little on the view in these photos; "
    "take them nearer, from its left and from its right"
)


@dataclass(slots=True)
class _Needle:
    """One needle on the way: its looks at the best height and thickness."""

    dial: Dial
    looks: list[NeedleLook]
    frame: Frame
    solution: Solution
    thickness_mm: float
    u_thickness_mm: float
    tells_thickness: bool

    @classmethod
    def of(cls, dial: Dial, looks: Sequence[NeedleLook]) -> "_Needle":
        direction = float(np.median([one.fit.angle_deg for one in looks]))
        frame = Frame(np.asarray(dial.centre_mm, float), direction)
        height, thickness = dial.needle.height_mm, dial.needle.thickness_mm
        now = list(looks)
        for _ in range(ROUNDS):
            before, height = height, _sensible(_solved(frame, now, height).standing.height_mm)
            now = _again(now, dial, height, thickness)
            if abs(height - before) < SETTLED_MM:
                break
        first = cls(
            dial,
            now,
            frame,
            _solved(frame, now, height),
            thickness,
            U_UNKNOWN_THICKNESS * thickness,
            tells_thickness=False,
        )
        if first.moved is not None or first.tells_nothing:
            return first
        thickness, u_thickness, tells = find_thickness(now, dial, height)
        height = _sensible(
            _solved(frame, _again(now, dial, height, thickness), height).standing.height_mm
        )
        now = _again(now, dial, height, thickness)
        solution = _solved(frame, now, height)
        return cls(dial, now, frame, solution, thickness, u_thickness, tells)

    @property
    def tells_nothing(self) -> bool:
        """Whether the lines alone leave the height open."""
        return bool(np.sqrt(self.solution.covariance[2, 2]) > MAX_U_HEIGHT_MM)

    @property
    def moved(self) -> int | None:
        """Which photo the needle stands elsewhere in; None: none."""
        if self.solution.degrees_of_freedom < 1 or self.solution.chance > MOVED:
            return None
        return int(np.argmax(self.solution.each))

    def said(self, left_out: Sequence[tuple[str, str]], doubt: float) -> NeedleStands:
        """The numbers that the photos tell.

        Where photos contradicted the others and were left out, those that stay agree by choice:
        their uncertainties count `doubt` times.
        """
        standing = self.solution.standing
        u_height, u_pitch_deg = (doubt * u for u in self._uncertainties())
        too_thin = doubt * self.u_thickness_mm > MAX_U_THICKNESS_MM
        height = Measured(standing.height_mm, u_height)
        thickness = Measured(self.thickness_mm, self.u_thickness_mm)
        pitch = Measured(degrees(standing.pitch_rad), u_pitch_deg)
        if u_height > MAX_U_HEIGHT_MM:
            height = thickness = Measured(None, None, _ONE_SIDE)
        elif not self.tells_thickness or too_thin:
            thickness = Measured(None, None, _NO_SIDE)
        if u_pitch_deg > MAX_U_PITCH_DEG:
            pitch = Measured(None, None, _NO_PITCH)
        return NeedleStands(
            self.dial.id,
            tuple(one.face.photo for one in self.looks),
            tuple(left_out),
            height,
            thickness,
            pitch,
            tuple(self.frame.lever(one.face.viewpoint) for one in self.looks),
            self.solution.chi2,
            self.solution.degrees_of_freedom,
        )

    def _uncertainties(self) -> tuple[float, float]:
        """Of height (mm) and pitch (degrees): the lines' own, and what all photos share."""
        freedom = max(self.solution.degrees_of_freedom, 1)
        wider = max(1.0, self.solution.chi2 / freedom)  # Birge's ratio, where the lines scatter
        by_lines = np.sqrt(wider * np.diag(self.solution.covariance))
        shares = [
            self._by_thickness() * self.u_thickness_mm,
            self._by_side() * U_SIDE,
            self._by_focal(),
        ]
        whole = np.sqrt(by_lines**2 + sum(share**2 for share in shares))
        least = LEAST_SHARE * self.solution.standing.height_mm
        return hypot(float(whole[2]), least), degrees(float(whole[3]))

    def _by_thickness(self) -> Array:
        """Change of the four numbers with the thickness, per mm."""
        step = max(0.15 * self.thickness_mm, LEAST_STEP_MM)
        height = self.solution.standing.height_mm
        ends = [
            _solved(self.frame, _again(self.looks, self.dial, height, at), height)
            for at in (self.thickness_mm - step, self.thickness_mm + step)
            if at > 0
        ]
        if len(ends) < 2:
            return np.zeros(4)
        return (_numbers(ends[1]) - _numbers(ends[0])) / (2 * step)

    def _by_side(self) -> Array:
        """Change of the four numbers with the light on the needle's side, for all of it."""
        seen = [axis_seen(one, self.frame) for one in self.looks]
        other = [replace(one, beside_mm=one.beside_mm + 0.1 * one.by_side) for one in seen]
        views = [one.face.viewpoint for one in self.looks]
        moved = solve(self.frame, other, views, self.solution.standing)
        return (_numbers(moved) - _numbers(self.solution)) / 0.1

    def _by_focal(self) -> Array:
        """One standard deviation of the four numbers by the camera's focal length."""
        seen = [axis_seen(one, self.frame) for one in self.looks]
        views = [one.face.with_focal(1 + one.face.u_log_focal) for one in self.looks]
        moved = solve(self.frame, seen, views, self.solution.standing)
        return _numbers(moved) - _numbers(self.solution)


def _solved(frame: Frame, looks: Sequence[NeedleLook], height_mm: float) -> Solution:
    seen = [axis_seen(one, frame) for one in looks]
    views = [one.face.viewpoint for one in looks]
    return solve(frame, seen, views, Standing(0.0, 0.0, height_mm, 0.0))


def _again(
    looks: Sequence[NeedleLook], dial: Dial, height_mm: float, thickness_mm: float
) -> list[NeedleLook]:
    """Fitted anew; where that fails, as it was."""
    other = with_needle(dial, height_mm, thickness_mm)
    return [looked_again(one, other) or one for one in looks]


def _sensible(height_mm: float) -> float:
    return float(np.clip(height_mm, 0.3, 15.0))


def _numbers(solution: Solution) -> Array:
    s = solution.standing
    return np.array([s.turn_rad, s.beside_mm, s.height_mm, s.pitch_rad])


def _nothing(
    dial: Dial, looks: Sequence[NeedleLook], left_out: Sequence[tuple[str, str]], why: str
) -> NeedleStands:
    none = Measured(None, None, why)
    photos = tuple(one.face.photo for one in looks)
    return NeedleStands(dial.id, photos, tuple(left_out), none, none, none, (), None, None)
