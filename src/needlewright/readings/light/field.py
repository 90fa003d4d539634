"""How much light a photo shows beside a reference, place by place over the print.

In each cell of the face the photo's light is held against the reference's by a straight line. Its
slope is what counts: light that lies evenly over a place, from the room or scattered in the lens,
moves the line and does not turn it. The reference is a photo of a healthy unit, or the family's own
print, which passes light as it reflects it.

Source: derivation in docs/decisions/0051-light-from-photos.md; the number of independent pixels
under a Gaussian blur, 1 / (4 pi sigma^2) of them, from memory.
"""

from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.readings.light.laying import LaidLight, Mask
from needlewright.readings.light.linear import Light

CELL_MM: Final = 6.0
ALIKE_MM: Final = 0.45
"""Both pictures are blurred by this, so that neither sharpness nor place tells between them."""
LEAST_SHARE: Final = 0.25
"""Of a cell's pixels that can be used."""
LEAST_CONTRAST: Final = 0.12
"""Contrast of a cell's reference, in that of the strongest cells: less is no print to go by."""
STRONG: Final = 90.0
"""Percentile of the cells' contrasts that counts as the strongest."""

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class LightField:
    """Cells with print in them.

    Parameters
    ----------
    zone
        (n,) number of the zone each belongs to.
    places_mm
        (n, 2) its middle.
    light
        (n,) of the photo's, in the reference's; the common factor is still in it.
    u_light
        (n,) standard uncertainty by noise and by what does not fit.
    saturated
        Zone number to the share of its print that is blown out, in either picture.
    black
        Zone number to the share of its print too dark for its codes to say how dark.
    hidden
        Zone number to the share of its print that is out of the photo.
    contrast
        Of the strongest cells, in the reference's light.
    """

    zone: NDArray[np.int16]
    places_mm: Array
    light: Array
    u_light: Array
    saturated: dict[int, float]
    black: dict[int, float]
    hidden: dict[int, float]
    contrast: float


def light_field(
    photo: LaidLight, reference: LaidLight, zones: NDArray[np.int16], left_out: Mask
) -> LightField:
    """Compare a photo's light with a reference's.

    Parameters
    ----------
    photo
        Laid over the face plane.
    reference
        On the same pixels.
    zones
        Height x width, number of each pixel's zone.
    left_out
        Where neither is looked at: hubs, signs, displays.

    Returns
    -------
    LightField
        Cells that have print and can be seen.
    """
    wanted = (zones > 0) & ~left_out
    blown = photo.saturated | reference.saturated
    seen = photo.seen & reference.seen
    used = wanted & seen & ~blown
    soft_px = ALIKE_MM * photo.px_per_mm
    mine, theirs = (_softened(one.light, soft_px) for one in (photo, reference))
    cells = _Cells(zones, used, CELL_MM * photo.px_per_mm)
    sums = cells.lines(mine, theirs)
    strong = float(np.percentile(sums.contrast, STRONG)) if len(sums.contrast) else 0.0
    kept = sums.contrast > LEAST_CONTRAST * strong
    gains = _channel_gains(sums.covariance[kept], sums.variance[kept])
    slope, u_slope = sums.of(kept).slopes(gains, photo.softness_mm * photo.px_per_mm, soft_px)
    printed = reference.luminance > np.percentile(reference.luminance[wanted], 50) + strong / 2
    return LightField(
        cells.zone[kept],
        cells.middles[kept] / photo.px_per_mm,
        slope,
        u_slope,
        _shares(zones, wanted & printed, blown & seen),
        _shares(zones, wanted & printed, photo.black),
        _shares(zones, wanted & printed, ~seen),
        strong,
    )


def _softened(light: Light, sigma_px: float) -> Light:
    return np.asarray(cv2.GaussianBlur(light, (0, 0), max(sigma_px, 0.3)), np.float32)


def _shares(zones: NDArray[np.int16], printed: Mask, bad: Mask) -> dict[int, float]:
    return {
        int(number): float(bad[printed & (zones == number)].mean())
        for number in np.unique(zones[printed])
    }


@dataclass(frozen=True, slots=True, eq=False)
class _Lines:
    """Sums of every cell: what the straight lines through its pixels follow from."""

    count: Array
    covariance: Array
    """(n, 3) of photo and reference."""
    variance: Array
    """(n, 3) of the reference."""
    own: Array
    """(n, 3) of the photo."""

    @property
    def contrast(self) -> Array:
        """Of the reference, all colours together."""
        return np.asarray(np.sqrt(self.variance.sum(axis=1)))

    def of(self, kept: NDArray[np.bool_]) -> "_Lines":
        """Some of them."""
        return _Lines(self.count[kept], self.covariance[kept], self.variance[kept], self.own[kept])

    def slopes(self, gains: Array, blur_px: float, soft_px: float) -> tuple[Array, Array]:
        """Slope of every cell with one gain for each colour, and its standard uncertainty."""
        power = self.variance @ gains**2
        slope = (self.covariance @ gains) / power
        left = self.own.sum(axis=1) - 2 * slope * (self.covariance @ gains) + slope**2 * power
        pixels_each = 4 * np.pi * (blur_px**2 + soft_px**2)
        independent = np.maximum(self.count / pixels_each, 1.0)
        return slope, np.sqrt(np.maximum(left, 0.0) / power / independent)


class _Cells:
    """Pixels sorted into squares, each cut where zones meet."""

    def __init__(self, zones: NDArray[np.int16], used: Mask, side_px: float) -> None:
        high, wide = zones.shape
        row = (np.arange(high) / side_px).astype(np.int64)
        column = (np.arange(wide) / side_px).astype(np.int64)
        index = (row[:, None] * (int(column[-1]) + 1) + column[None, :]) * (
            int(zones.max()) + 1
        ) + zones
        self._at = used
        keys, self._which = np.unique(index[used], return_inverse=True)
        count = np.bincount(self._which, minlength=len(keys)).astype(np.float64)
        self._kept = count >= LEAST_SHARE * side_px**2
        self._count = count
        down, along = np.nonzero(used)
        middles = np.column_stack([self._mean(along + 0.5), self._mean(down + 0.5)])
        self.middles: Array = middles[self._kept]
        self.zone = (keys % (int(zones.max()) + 1)).astype(np.int16)[self._kept]

    def lines(self, photo: Light, reference: Light) -> _Lines:
        """Sums of every cell that has pixels enough."""
        mine, theirs = photo[self._at], reference[self._at]
        shape = (len(self._count), 3)
        covariance, variance, own = (np.zeros(shape) for _ in range(3))
        for c in range(3):
            p, r = mine[:, c].astype(np.float64), theirs[:, c].astype(np.float64)
            mean_p, mean_r = self._mean(p), self._mean(r)
            covariance[:, c] = self._mean(p * r) - mean_p * mean_r
            variance[:, c] = np.maximum(self._mean(r * r) - mean_r**2, 0.0)
            own[:, c] = np.maximum(self._mean(p * p) - mean_p**2, 0.0)
        kept = self._kept
        return _Lines(self._count[kept], covariance[kept], variance[kept], own[kept])

    def _mean(self, values: NDArray[Any]) -> Array:
        total = np.bincount(self._which, weights=values, minlength=len(self._count))
        return np.asarray(total / np.maximum(self._count, 1.0))


def _channel_gains(covariance: Array, variance: Array) -> Array:
    """What each colour of the photo is of the reference's, beside the mean of the three.

    Lamps and the camera's white balance change colours; the cells with most of a colour tell.
    """
    gains = np.ones(3)
    for c in range(3):
        if not len(variance):
            continue
        much = variance[:, c] >= np.percentile(variance[:, c], 60)
        gains[c] = max(float(covariance[much, c].sum() / max(variance[much, c].sum(), 1e-12)), 0.0)
    mean = gains.mean()
    return gains / mean if mean > 0 else np.ones(3)
