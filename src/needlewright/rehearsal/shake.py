"""A hand that holds the camera."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.rehearsal.camera import Pose

_WAVES: Final = 9
_FREQUENCIES_HZ: Final = (0.3, 9.0)
"""Of a hand's sway and tremor, from memory: tremor of 8 to 12 Hz, sway well below 1 Hz."""


@dataclass(frozen=True, slots=True, eq=False)
class Shake:
    """Six slow random motions: turns about three axes, shifts along them."""

    turns_deg: NDArray[np.float64]
    """Waves x 3, amplitudes about the camera's x, y, z."""
    shifts_mm: NDArray[np.float64]
    """Waves x 3."""
    frequency_hz: NDArray[np.float64]
    """Waves."""
    phase: NDArray[np.float64]
    """Waves x 6."""

    def pose_at(self, pose: Pose, t_s: float) -> Pose:
        """Where the camera stands at a time.

        Parameters
        ----------
        pose
            Where it would stand in a steady hand.
        t_s
            The time.

        Returns
        -------
        Pose
            Near it.
        """
        wave = np.sin(2 * np.pi * self.frequency_hz[:, None] * t_s + self.phase)
        turn = np.radians((self.turns_deg * wave[:, :3]).sum(axis=0))
        shift = (self.shifts_mm * wave[:, 3:]).sum(axis=0)
        return Pose(_turned(turn) @ pose.turn, _turned(turn) @ pose.shift_mm + shift)


def hand_shake(rng: np.random.Generator, turn_deg: float = 0.12, shift_mm: float = 0.5) -> Shake:
    """Invent the shake of a hand.

    Parameters
    ----------
    rng
        Where chance comes from.
    turn_deg
        Standard deviation of each turn.
    shift_mm
        Standard deviation of each shift.

    Returns
    -------
    Shake
        A motion that does not repeat within minutes.
    """
    low, high = np.log(_FREQUENCIES_HZ[0]), np.log(_FREQUENCIES_HZ[1])
    frequency = np.exp(rng.uniform(low, high, _WAVES))
    weight = rng.uniform(0.5, 1.0, (_WAVES, 6)) / np.sqrt(frequency)[:, None]
    weight *= np.sqrt(2.0 / (weight**2).sum(axis=0))
    return Shake(
        turns_deg=weight[:, :3] * turn_deg,
        shifts_mm=weight[:, 3:] * shift_mm,
        frequency_hz=frequency,
        phase=rng.uniform(0, 2 * np.pi, (_WAVES, 6)),
    )


def _turned(angles_rad: NDArray[np.float64]) -> NDArray[np.float64]:
    """Rotation by a small vector (Rodrigues)."""
    x, y, z = angles_rad
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    size = float(np.linalg.norm(angles_rad))
    if size < 1e-12:
        return np.eye(3)
    twice = np.asarray(cross @ cross)
    turned = np.eye(3) + np.sin(size) / size * cross + (1 - np.cos(size)) / size**2 * twice
    return np.asarray(turned)
