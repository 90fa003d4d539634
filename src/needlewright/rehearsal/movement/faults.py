"""What is wrong inside a movement, as its parts would have it.

Nothing here says what the needle shall do. More friction, thicker grease, a snag or a worn train
are put into the equations; lag, lost cycles and play follow from them.
"""

from dataclasses import dataclass
from math import inf
from typing import Final


@dataclass(frozen=True, slots=True)
class MovementFaults:
    """Departures from a sound movement; none by default. Angles in degrees above the low stop."""

    needle_dry_nm: float = 0.0
    """Dry friction at the needle's shaft, beyond that of a sound movement."""
    drag_from_deg: float = -inf
    """Needle angle above which that friction is met."""
    grease_factor: float = 1.0
    """How many times thicker grease or oil has become."""
    more_backlash_deg: float = 0.0
    """Play beyond that of a sound train."""
    block_deg: float = inf
    """Angle the needle cannot pass."""
    snag_deg: float = inf
    """Angle where something catches the rising needle ..."""
    snag_gives_deg: float = 0.0
    """... until the drive has gone so far past it."""
    torque_factor: float = 1.0
    """A weak magnet, or a coil with shorted turns."""
    dead: bool = False
    """No current reaches the coils."""


SOUND: Final = MovementFaults()
