"""The compiled part of taking a frame: light and noise to the codes of a picture."""

from typing import Any, Final

from numba import njit

TOP: Final = 4096
"""Steps of the tone curve."""


@njit(cache=True, nogil=True, error_model="numpy")
def expose(level: Any, spread: Any, grain: Any, tone: Any, frame: Any) -> None:
    """Put noise on light, and look each value up in the tone curve.

    Parameters
    ----------
    level
        Height x width x 3: steps of the tone curve.
    spread
        The same: their noise for one standard deviation.
    grain
        The same: standard normal.
    tone
        Code of each step, `TOP` + 1 of them.
    frame
        Height x width x 3, written.
    """
    for y in range(level.shape[0]):
        for x in range(level.shape[1]):
            for c in range(3):
                step = level[y, x, c] + spread[y, x, c] * grain[y, x, c]
                if step < 0.0:
                    step = 0.0
                elif step > TOP:
                    step = TOP
                frame[y, x, c] = tone[int(step)]
