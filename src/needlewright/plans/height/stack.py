"""The lengths between face and lens, and what follows from them.

All along the shaft, in millimetres. The movement's shaft ends `shaft` above what the face lies on;
the hub is pushed onto it from above and has a bore from below; the needle's bar starts `blade`
above the hub's underside and may droop toward its tip.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from math import isfinite, sqrt
from typing import Final, Literal

from needlewright.errors import PlanError

Shape = Literal["rectangular", "normal"]
CONTACT_MM: Final = 0.3
"""Least clearance of needle and hub to the face (common practice, no source)."""
HALO_MM: Final = 1.2
"""Greatest gap under the hub; through a wider one light shows as a ring (common practice, no
source)."""
LENS_MM: Final = 0.5
"""Least clearance to the lens (common practice, no source)."""
GRIP_MM: Final = 1.5
"""Least length of shaft in the bore that holds a needle (common practice, no source)."""
LONGEST_MM: Final = 100.0


@dataclass(frozen=True, slots=True)
class Toleranced:
    """A length with its limits."""

    mm: float
    tolerance_mm: float = 0.0
    """Limits lie so far on either side."""
    shape: Shape = "rectangular"
    """`rectangular`: only the limits are known; `normal`: 95 % lie within them."""

    @property
    def u_mm(self) -> float:
        """Standard uncertainty (k = 1): JCGM 100:2008, 4.3.7 and 4.3.4."""
        return self.tolerance_mm / (sqrt(3.0) if self.shape == "rectangular" else 2.0)


NOTHING: Final = Toleranced(0.0)


@dataclass(frozen=True, slots=True)
class Stack:
    """The lengths of one dial. What is set on purpose (`set_to`) is either a depth or a gauge."""

    shaft: Toleranced
    """End of the shaft above what the face lies on."""
    bore: Toleranced
    """Depth of the hub's bore from its underside."""
    hub: Toleranced
    """Whole height of the hub."""
    thickness: Toleranced
    """Of the needle's bar."""
    face: Toleranced = NOTHING
    """Thickness of the face; nothing where the shaft is measured from the face itself."""
    blade: Toleranced = NOTHING
    """Underside of the needle's bar above the hub's underside."""
    droop: Toleranced = NOTHING
    """How much lower the tip is than the bar at the hub."""
    lens: Toleranced | None = None
    """Inside of the lens above the face; None: not known, and nothing is said of it."""

    def __post_init__(self) -> None:
        """Refuse what is no stack."""
        for field in fields(self):
            length = getattr(self, field.name)
            if length is not None:
                _refuse_length(field.name, length)
        if self.bore.mm > self.hub.mm:
            raise PlanError(
                f"bore: {self.bore.mm:g} mm is deeper than the hub, which is {self.hub.mm:g} mm "
                "high; measure both from the hub's underside"
            )
        for name in ("shaft", "bore", "hub", "thickness"):
            if getattr(self, name).mm == 0:
                raise PlanError(f"{name}: is 0 mm; measure it, or check that it is not left out")
        if self.shaft.mm <= self.face.mm:
            raise PlanError(
                f"shaft: ends {self.shaft.mm:g} mm above what the face lies on, and the face is "
                f"{self.face.mm:g} mm thick, so nothing stands out to press onto"
            )

    def named(self) -> Mapping[str, Toleranced]:
        """Every length that is known, by name."""
        lengths = {field.name: getattr(self, field.name) for field in fields(self)}
        return {name: one for name, one in lengths.items() if one is not None}


def _refuse_length(name: str, length: Toleranced) -> None:
    for what, value in ((name, length.mm), (f"{name}, tolerance", length.tolerance_mm)):
        if not isfinite(value):
            raise PlanError(f"{what}: is no finite number; type it in mm")
        if value < 0:
            raise PlanError(f"{what}: given {value:g} mm; a length here is 0 or more, in mm")
        if value > LONGEST_MM:
            raise PlanError(f"{what}: given {value:g} mm; no instrument is that deep, check mm")


@dataclass(frozen=True, slots=True)
class HeightLimits:
    """What the clearances must keep, mm."""

    contact_mm: float = CONTACT_MM
    halo_mm: float = HALO_MM
    lens_mm: float = LENS_MM
    grip_mm: float = GRIP_MM
    stated: tuple[str, ...] = ()
    """Which of them the family or a person states; the others are defaults without a source."""

    def __post_init__(self) -> None:
        """Refuse what leaves no room by itself."""
        for name in ("contact", "halo", "lens", "grip"):
            value = getattr(self, f"{name}_mm")
            if not (isfinite(value) and value >= 0):
                raise PlanError(f"{name} limit: given {value:g} mm; 0 or more is expected")
        if self.contact_mm >= self.halo_mm:
            raise PlanError(
                f"limits: the gap under the hub must be {self.contact_mm:g} mm or more against "
                f"contact and {self.halo_mm:g} mm or less against a halo; no hub does both"
            )
