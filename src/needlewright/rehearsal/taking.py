"""Light to codes, as a camera that stands still takes a frame: its blur, its noise, its tone."""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.rehearsal.exposure import expose
from needlewright.rehearsal.light import Picture

_STEPS: Final = 4096
_NOISE_FRAMES: Final = 3
_READ_SHARE: Final = np.float32(0.004)
"""Light whose photon noise equals the reading noise."""
Grain = tuple[int, int, int]
"""Where in the stock of noise a frame's is taken from: which sheet, rows down, columns right."""


class Taking:
    """Takes frames of one size.

    Parameters
    ----------
    high
        Rows of a frame.
    wide
        Columns.
    softness_px
        Standard deviation of the lens's blur.
    noise
        Standard deviation of the noise of a white pixel, as a share of white; 0 for none.
    seed
        Of the noise.
    """

    def __init__(
        self, high: int, wide: int, *, softness_px: float, noise: float, seed: int
    ) -> None:
        self.softness_px, self.noise, self.seed = softness_px, noise, seed
        self._high, self._wide = high, wide
        self._rng = np.random.default_rng([seed, 5])
        shape = (high + 64, wide + 64, 3)
        self._stock = [
            self._rng.standard_normal(shape, dtype=np.float32) for _ in range(_NOISE_FRAMES)
        ]

    def next_grain(self) -> Grain:
        """The next frame's noise: not drawn anew but taken from another place of a stock.

        Returns
        -------
        tuple
            Where from; a frame that is taken again with it is the same frame.
        """
        sheet = int(self._rng.integers(_NOISE_FRAMES))
        down, right = (int(v) for v in self._rng.integers(0, 64, 2))
        return sheet, down, right

    def levels(self, light: Picture) -> tuple[Picture, Picture]:
        """Steps of the tone curve a picture lies at, and their noise for one standard deviation.

        Parameters
        ----------
        light
            Linear, height x width x 3.

        Returns
        -------
        tuple
            Both of its shape.
        """
        seen = self._blurred(light)
        spread = np.sqrt(np.maximum(seen, 0.0) + _READ_SHARE)
        spread *= np.float32(self.noise * _STEPS)
        return seen * np.float32(_STEPS), spread

    def exposed(self, level: Picture, spread: Picture, grain: Grain) -> NDArray[np.uint8]:
        """A frame of what `levels` gave.

        Parameters
        ----------
        level
            Of the whole frame.
        spread
            Of the whole frame.
        grain
            Its noise.

        Returns
        -------
        ndarray
            Height x width x 3, codes.
        """
        frame = np.empty(level.shape, np.uint8)
        expose(level, spread, self._noise_at(grain), _TONE, frame)
        return frame

    def taken(self, light: Picture, grain: Grain) -> NDArray[np.uint8]:
        """A frame of a picture of which no other frame will be taken.

        Parameters
        ----------
        light
            Linear, of the whole frame.
        grain
            Its noise.

        Returns
        -------
        ndarray
            Height x width x 3, codes.
        """
        seen = self._blurred(light)
        if self.noise > 0:
            spread = np.maximum(seen, 0.0) + _READ_SHARE
            np.sqrt(spread, out=spread)
            spread *= self._noise_at(grain)
            seen = np.asarray(cv2.scaleAdd(spread, self.noise, seen))
        seen *= _STEPS
        return np.asarray(np.take(_TONE, seen.astype(np.int32), mode="clip"))

    def _blurred(self, light: Picture) -> Picture:
        if self.softness_px <= 0:
            return light.copy()
        return np.asarray(cv2.GaussianBlur(light, (0, 0), self.softness_px))

    def _noise_at(self, grain: Grain) -> Picture:
        sheet, down, right = grain
        return self._stock[sheet][down : down + self._high, right : right + self._wide]


def _tone() -> NDArray[np.uint8]:
    x = np.arange(_STEPS + 1) / _STEPS
    coded = np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055)
    return np.round(255 * coded).astype(np.uint8)


_TONE: Final = _tone()
