"""How truly a hand presses a needle: the spread of what was achieved about what was intended.

Counted in widths of the needle's tip, because that is what an eye aims by; so needles of any size
teach the same number.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import degrees, hypot, isfinite, sqrt
from statistics import median
from typing import Final

from needlewright.errors import RunError
from needlewright.families.model import Dial

DEFAULT_TIPS: Final = 0.25
"""Standard deviation of a hand of which nothing is known: it lands within half a tip width 95 times
in a hundred (common practice, no source)."""
ENOUGH: Final = 10
"""Needles from which on the hand's own spread is taken."""
LEAST_TIPS: Final = 0.02
"""No hand is taken to be truer, however alike its needles came out (common practice, no source)."""
FURTHEST_TIPS: Final = 20.0
"""A needle that landed further off was not pressed where it was meant to be: a wrong row."""
_NORMAL_MAD: Final = 1.4826
_MAD_SPREAD: Final = 1.1664
"""Relative standard deviation of the estimate times the square root of the number of needles: the
efficiency of the median absolute deviation is 36.74 % of the standard deviation's 1 / sqrt(2 n)."""


@dataclass(frozen=True, slots=True)
class PressedNeedle:
    """One needle as it was set, positive clockwise."""

    dial: str
    intended_deg: float
    achieved_deg: float
    tip_deg: float
    """Width of its tip as an angle about the centre."""

    @property
    def off_tips(self) -> float:
        """Achieved less intended, in tip widths."""
        return (self.achieved_deg - self.intended_deg) / self.tip_deg


@dataclass(frozen=True, slots=True)
class HandSpread:
    """How truly a hand presses, in tip widths."""

    sd_tips: float
    u_tips: float | None
    """Standard uncertainty (k = 1) of `sd_tips`; None: it is the stated default."""
    bias_tips: float
    """Median of achieved less intended, positive clockwise; 0 for the default."""
    count: int
    """Needles seen, whether they were enough or not."""

    @property
    def is_default(self) -> bool:
        """Whether too few needles were seen."""
        return self.u_tips is None

    @property
    def planned_tips(self) -> float:
        """What a plan counts with: the spread, how well it is known, and the habit, together."""
        return hypot(self.sd_tips, self.u_tips or 0.0, self.bias_tips)


def tip_deg(dial: Dial) -> float:
    """Width of the needle's tip as an angle about the dial's centre, degrees."""
    return degrees(dial.needle.tip_width_mm / dial.needle.length_mm)


def hand_spread(needles: Sequence[PressedNeedle]) -> HandSpread:
    """Learn how truly a hand presses.

    Parameters
    ----------
    needles
        As they were set.

    Returns
    -------
    HandSpread
        The stated default until there are `ENOUGH`.

    Raises
    ------
    RunError
        If a row is none of a pressed needle.

    Notes
    -----
    1.4826 times the median absolute deviation about the median, with the small-sample factor
    n / (n - 0.8). **Source** Croux and Rousseeuw, Time-efficient algorithms for two highly robust
    estimators of scale (1992), the factor; Rousseeuw and Croux (1993), efficiency 36.74 %; both
    from memory.
    """
    for place, one in enumerate(needles, start=1):
        _refuse(place, one)
    count = len(needles)
    if count < ENOUGH:
        return HandSpread(DEFAULT_TIPS, None, 0.0, count)
    off = [one.off_tips for one in needles]
    bias = median(off)
    factor = _NORMAL_MAD * count / (count - 0.8)
    sd = max(factor * median(abs(one - bias) for one in off), LEAST_TIPS)
    return HandSpread(sd, sd * _MAD_SPREAD / sqrt(count), bias, count)


def _refuse(place: int, one: PressedNeedle) -> None:
    where = f"pressed needles, row {place}, dial '{one.dial}'"
    if not (isfinite(one.intended_deg) and isfinite(one.achieved_deg)):
        raise RunError(f"{where}: a turn is no number; write both in degrees, or leave the row out")
    if not one.tip_deg > 0:
        raise RunError(f"{where}: given a tip {one.tip_deg:g} deg wide; it must be above 0")
    if abs(one.off_tips) > FURTHEST_TIPS:
        raise RunError(
            f"{where}: achieved {one.achieved_deg:+.1f} deg where {one.intended_deg:+.1f} was "
            f"intended, {abs(one.off_tips):.0f} tip widths off; check the row, or leave it out if "
            "the needle slipped"
        )
