"""What was seen: plain values handed from stage to stage."""

from dataclasses import dataclass
from typing import Literal

from needlewright.readings.outline import ToPhoto

Status = Literal["read", "refused"]


@dataclass(frozen=True, slots=True)
class Reading:
    """One needle in one photo: an angle with its standard uncertainty, or none and a reason."""

    dial: str
    status: Status
    unit: str
    reason: str | None = None
    """Why it was refused, one of `readings.flags.REASONS`; None when read."""
    angle_deg: float | None = None
    u_angle_deg: float | None = None
    """Standard uncertainty (k = 1) of the needle's direction in the face plane."""
    value: float | None = None
    """None, with the flag `beyond_scale`, where the scale can state none."""
    u_value: float | None = None
    """Contains the direction and the eccentricity of shaft to print."""
    offset_mm: float | None = None
    """Sideways distance of the needle's line from the dial's centre, positive clockwise."""
    flags: tuple[str, ...] = ()
    components_deg: tuple[tuple[str, float], ...] = ()
    """Named standard uncertainties that make up `u_angle_deg`, each in degrees."""
    line_px: tuple[tuple[float, float], tuple[float, float]] | None = None
    """Hub end and tip of the fitted needle in the photo (x, y), for overlays."""


@dataclass(frozen=True, slots=True)
class PhotoReadings:
    """All needles of one photo."""

    photo: str
    """As given by the caller."""
    found: bool
    reason: str | None
    readings: tuple[Reading, ...]
    projection: ToPhoto | None = None
    """Where the face plane lies in the photo, when it was found."""
