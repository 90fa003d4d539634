"""A needle as a camera in a hand would report it: frames, noise, shake, a needle hidden at times.

No picture is drawn. What a reader adds to the truth is drawn as numbers: white noise of every
frame, more of it at speed, slow errors that follow the hand, and spells in which the needle is not
seen.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_HAND_HZ: Final = (0.3, 9.0)
"""Of a hand's sway and tremor, from memory."""
_HAND_WAVES: Final = 9
_BLUR_DEG_S: Final = 400.0
"""Speed at which motion blur doubles the noise (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Watching:
    """How a needle is watched."""

    frames_hz: float = 25.0
    uneven: float = 0.0
    """Share of a frame's time by which times vary, 0 to 0.45."""
    skipped: float = 0.0
    """Share of frames the camera never delivers."""
    noise_deg: float = 0.05
    """Standard deviation of every frame's own error, the needle at rest."""
    shake_deg: float = 0.0
    """Standard deviation of the slow error of a shaking hand."""
    hidden_hz: float = 0.0
    """How often a second something comes before the needle."""
    hidden_s: float = 0.2
    """How long it stays, on average."""


def frame_times(watching: Watching, until_s: float, rng: np.random.Generator) -> FloatArray:
    """Presentation times of the frames.

    Parameters
    ----------
    watching
        Frame rate and how uneven it is.
    until_s
        End of the video.
    rng
        Where chance comes from.

    Returns
    -------
    FloatArray
        Rising, from 0.
    """
    count = int(until_s * watching.frames_hz)
    at = np.arange(count) + rng.uniform(-watching.uneven, watching.uneven, count)
    at[0] = 0.0
    kept = rng.uniform(size=count) >= watching.skipped
    kept[0] = True
    return np.asarray(at[kept] / watching.frames_hz, dtype=np.float64)


def watch(
    t_s: FloatArray, true_deg: FloatArray, watching: Watching, rng: np.random.Generator
) -> FloatArray:
    """What is read of a needle.

    Parameters
    ----------
    t_s
        Times of the frames.
    true_deg
        The needle's true angles there.
    watching
        How it is watched.
    rng
        Where chance comes from.

    Returns
    -------
    FloatArray
        Angles; NaN where the needle is hidden.
    """
    speed = np.abs(np.gradient(true_deg, t_s))
    noise = watching.noise_deg * (1.0 + speed / _BLUR_DEG_S) * rng.standard_normal(len(t_s))
    read = true_deg + noise + watching.shake_deg * _hand(t_s, rng)
    return np.where(_hidden(t_s, watching, rng), np.nan, read)


def _hand(t_s: FloatArray, rng: np.random.Generator) -> FloatArray:
    """A slow random motion of unit variance."""
    low, high = np.log(_HAND_HZ[0]), np.log(_HAND_HZ[1])
    frequency = np.exp(rng.uniform(low, high, _HAND_WAVES))
    weight = rng.uniform(0.5, 1.0, _HAND_WAVES) / np.sqrt(frequency)
    weight *= np.sqrt(2.0 / np.sum(weight**2))
    phase = rng.uniform(0.0, 2 * np.pi, _HAND_WAVES)
    wave = np.sin(2 * np.pi * frequency[:, None] * t_s + phase[:, None])
    return np.asarray(np.sum(weight[:, None] * wave, axis=0))


def _hidden(t_s: FloatArray, watching: Watching, rng: np.random.Generator) -> NDArray[np.bool_]:
    hidden = np.zeros(len(t_s), dtype=np.bool_)
    if watching.hidden_hz <= 0.0:
        return hidden
    for begin in rng.uniform(0.0, t_s[-1], rng.poisson(watching.hidden_hz * t_s[-1])):
        hidden |= (t_s >= begin) & (t_s < begin + rng.exponential(watching.hidden_s))
    return hidden
