"""What a reflow profile is held against, and how far a thermocouple may be off."""

from dataclasses import dataclass
from math import hypot
from typing import Final, Literal

from needlewright.rules.decision import COVERAGE_K

Limit = tuple[float | None, float | None]
"""Lower and upper; None: not limited."""
What = Literal["ramp", "soak", "above", "peak", "rise", "cool"]
Whose = Literal["paste", "standard", "part"]
Stated = Literal["soak_c", "soak_low", "soak_high", "liquidus", "above_low", "above_high",
                 "ramp", "cool", "rise", "peak_low", "peak_high"]  # fmt: skip
"""What the data sheet of a paste may state."""
Alloys = Literal["lead-free", "tin-lead"]
Thermocouple = Literal["K-2", "K-1", "T-2", "T-1", "J-2", "none"]


@dataclass(frozen=True, slots=True)
class ReflowLimits:
    """Limits of a reflow profile: the standard's, but for what a paste or a part states."""

    soak_c: tuple[float, float]
    soak_s: Limit
    """How long the climb may take between those two."""
    liquidus_c: float
    above_s: Limit
    ramp_k_s: float
    cool_k_s: float
    rise_s: float
    """How long it may take from `ROOM_C` to the peak."""
    peak_c: Limit = (None, None)
    """The standard has none: the paste's and the most delicate part's."""
    stated: frozenset[Stated] = frozenset()
    """What of it the paste's data sheet states."""

    def of(self, what: What) -> Limit:
        """The limits of what is measured."""
        return {
            "ramp": (None, self.ramp_k_s),
            "soak": self.soak_s,
            "above": self.above_s,
            "peak": self.peak_c,
            "rise": (None, self.rise_s),
            "cool": (None, self.cool_k_s),
        }[what]

    def whose(self, what: What) -> tuple[Whose | None, Whose | None]:
        """Whose the lower and the upper limit of what is measured is; None: there is none."""
        low, high = SIDES[what]
        rest: Whose = "part" if what == "peak" else "standard"
        owners: list[Whose | None] = []
        for side, limit in zip((low, high), self.of(what), strict=True):
            owner: Whose = "paste" if side in self.stated else rest
            owners.append(None if limit is None else owner)
        return owners[0], owners[1]


SIDES: Final[dict[What, tuple[Stated | None, Stated | None]]] = {
    "ramp": (None, "ramp"),
    "soak": ("soak_low", "soak_high"),
    "above": ("above_low", "above_high"),
    "peak": ("peak_low", "peak_high"),
    "rise": (None, "rise"),
    "cool": (None, "cool"),
}
"""What a data sheet may state of the lower and the upper limit of each."""
LIMITS: Final[dict[Alloys, ReflowLimits]] = {
    "lead-free": ReflowLimits((150.0, 200.0), (60.0, 120.0), 217.0, (60.0, 150.0), 3.0, 6.0, 480.0),
    "tin-lead": ReflowLimits((100.0, 150.0), (60.0, 120.0), 183.0, (60.0, 150.0), 3.0, 6.0, 360.0),
}
"""**Source**: J-STD-020, classification reflow profiles, as makers of parts print its table (seen):
tin-lead by revision C, with six minutes to the peak; lead-free by D, whose soak ends at 120 s where
C had 180."""
ROOM_C: Final = 25.0
BEGINS_BELOW_C: Final = 40.0
"""A recording that begins above has lost too much of the rise to judge it (common practice, no
source)."""

CLASSES: Final[dict[Thermocouple, tuple[float, float]]] = {
    "K-2": (2.5, 0.0075),
    "K-1": (1.5, 0.004),
    "T-2": (1.0, 0.0075),
    "T-1": (0.5, 0.004),
    "J-2": (2.5, 0.0075),
    "none": (0.0, 0.0),
}
"""Degrees, or the share of the temperature, whichever is more. **Source**: IEC 60584-1:2013 (before
it 60584-2), tolerance classes, as makers of thermocouples print them (seen)."""


def thermocouple_limit_k(kind: Thermocouple, celsius: float) -> float:
    """How far a thermocouple of a class may be off.

    Parameters
    ----------
    kind
        Type and class.
    celsius
        Temperature, degC.

    Returns
    -------
    float
        Limit of its error, K.

    Notes
    -----
    **Source**: IEC 60584-1:2013, tolerance classes (as printed by makers).
    """
    least, share = CLASSES[kind]
    return max(least, share * abs(celsius))


def expanded_k(kind: Thermocouple, logger_k: float, celsius: float) -> float:
    """U (k = 2) of a temperature that a thermocouple and its logger read.

    Parameters
    ----------
    kind
        Type and class.
    logger_k
        Limits of the logger's error, K.
    celsius
        Temperature, degC.

    Returns
    -------
    float
        K. Both limits are taken as rectangular (JCGM 100, 4.3.7).
    """
    return COVERAGE_K * hypot(thermocouple_limit_k(kind, celsius), logger_k) / 3**0.5
