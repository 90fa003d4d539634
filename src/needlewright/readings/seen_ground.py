"""The bare face learned from the frames: where the needle stands elsewhere, the face shows.

One look is kept per direction of the needle, so that a needle that dwells counts once; each pixel
takes the median of the looks in which the needle, and what may be its shadow, were clear of it.

Source: derivation in docs/decisions/0016-following-a-needle.md.
"""

# ruff: noqa: PLR0917
# Compiled loops over plain arrays: they take what they need by place, and calls cost.

from dataclasses import replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Needle
from needlewright.readings import plane_kernel
from needlewright.readings.bare_ground import BareGround
from needlewright.readings.compiled import kernel
from needlewright.readings.projection import Array
from needlewright.readings.viewpoint import Viewpoint

LOOK_DEG: Final = 3.0
"""A needle that has turned by so much uncovers ground worth another look."""
MOST_LOOKS: Final = 48
ENOUGH: Final = 5
"""Looks a pixel must be clear in before they are believed."""
SHADE_SHARE: Final = 0.7
"""How far beside a needle its shadow is let fall, in heights of the needle."""
SEEN_DOUBT: Final = 0.8
"""Grey levels by which a learned pixel is off at the least."""
PRINT_DOUBT: Final = 0.25
"""Share of its contrast by which print may look otherwise beside the needle than without it."""


class SeenGround:
    """Learns the bare face about one dial.

    Parameters
    ----------
    drawn
        The face as drawn: what stands where nothing was learned.
    needle
        The needle that moves over it.
    centre_mm
        The dial's centre.
    viewpoint
        Where the camera stands.
    px_per_mm
        Scale of the frame at the dial.
    """

    def __init__(
        self,
        drawn: BareGround,
        needle: Needle,
        centre_mm: Array,
        viewpoint: Viewpoint,
        px_per_mm: float,
    ) -> None:
        self._drawn, self._needle = drawn, needle
        self._clear_mm = SHADE_SHARE * needle.height_mm + 2.0 / px_per_mm
        k = needle.height_mm / (viewpoint.height_mm - needle.height_mm)
        plane = (drawn.face_mm + k * np.asarray(viewpoint.foot_mm)) / (1 + k) - centre_mm
        self._x, self._y = (np.ascontiguousarray(plane[..., i]) for i in (0, 1))
        self._face_x, self._face_y = (np.ascontiguousarray(drawn.face_mm[..., i]) for i in (0, 1))
        self._looks: dict[int, NDArray[np.uint8]] = {}
        self._angles: dict[int, float] = {}

    @property
    def looks(self) -> int:
        """How many directions of the needle were seen."""
        return len(self._looks)

    def wants(self, angle_deg: float) -> bool:
        """Whether a frame with the needle in this direction would tell anything new."""
        return self.looks < MOST_LOOKS and round(angle_deg / LOOK_DEG) not in self._looks

    def see(self, grey: NDArray[np.uint8], face: Array, angle_deg: float, *, moved: bool) -> None:
        """Keep a frame.

        Parameters
        ----------
        grey
            The frame.
        face
            Packed view of the face plane in it.
        angle_deg
            Direction of the needle in it.
        moved
            Whether the camera stands elsewhere than when the face was registered.
        """
        key = round(angle_deg / LOOK_DEG)
        if moved:
            look = plane_kernel.carried_back(grey, face, self._face_x, self._face_y)
        else:
            column, row = (int(c) for c in self._drawn.corner_px)
            height, width = self._x.shape
            look = grey[row : row + height, column : column + width].copy()
        self._looks[key], self._angles[key] = look, angle_deg

    def kept(self) -> list[tuple[float, NDArray[np.uint8]]]:
        """The looks over the ground's pixels, with the needle's direction in each."""
        return [(self._angles[key], look) for key, look in sorted(self._looks.items())]

    def learned(self) -> BareGround:
        """The face as far as it was seen, and as drawn elsewhere."""
        if self.looks < ENOUGH:
            return self._drawn
        needle = self._needle
        shape = np.array(
            [
                needle.base_width_mm / 2,
                (needle.tip_width_mm - needle.base_width_mm) / 2 / needle.length_mm,
                needle.length_mm,
                needle.tail_mm,
                self._clear_mm,
            ]
        )
        angles = np.radians(np.array(list(self._angles.values())))
        stack = np.stack(list(self._looks.values()))
        grey, doubt = self._drawn.grey.copy(), self._drawn.doubt.copy()
        _medians(stack, angles, self._x, self._y, shape, grey, doubt)
        doubt = np.hypot(doubt, PRINT_DOUBT * np.abs(grey - np.median(grey)))
        return replace(self._drawn, grey=grey, doubt=doubt)


@kernel
def _medians(looks: Any, angles: Any, x: Any, y: Any, needle: Any, grey: Any, doubt: Any) -> None:
    """Medians of the looks in which a pixel was clear, into `grey` and `doubt`."""
    count, height, width = looks.shape
    values = np.empty(count, np.float32)
    sines, cosines = np.sin(angles), np.cos(angles)
    for i in range(height):
        for j in range(width):
            kept = 0
            for k in range(count):
                along = x[i, j] * sines[k] - y[i, j] * cosines[k]
                across = x[i, j] * cosines[k] + y[i, j] * sines[k]
                half = needle[0] + needle[1] * abs(along)
                hidden = (
                    abs(across) < half + needle[4]
                    and -needle[3] - needle[4] < along < needle[2] + needle[4]
                )
                if looks[k, i, j] > 0 and not hidden:
                    values[kept] = looks[k, i, j]
                    kept += 1
            if kept >= ENOUGH:
                some = np.sort(values[:kept])
                # neighbours of the median too: levels of eight bits alone are coarse
                low, high = kept // 3, kept - kept // 3
                grey[i, j] = some[low:high].mean()
                spread = 0.74 * (some[(3 * kept) // 4] - some[kept // 4])
                doubt[i, j] = (SEEN_DOUBT**2 + 1.5 * spread * spread / kept) ** 0.5
