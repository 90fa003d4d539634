"""One needle in one photo beside what the diagnostic port said: what a sound unit would show.

Everything is compared in degrees of rise, so that needles of both directions are one.
"""

from dataclasses import dataclass, replace
from math import degrees, hypot
from typing import Final

import numpy as np

from needlewright.families.model import Dial
from needlewright.findings.signatures.rows import LEAST_U_DEG, rise_of
from needlewright.readings.flags import REASONS
from needlewright.readings.model import Reading
from needlewright.rules.book import rule_for
from needlewright.rules.house import HouseRule
from needlewright.signals.port_log.told import NothingSaid, PortValue
from needlewright.units import convert, unit_for_people

SOUND_OF_SPAN: Final = 0.01
"""Where no house rule says it, a sound unit shows what its programme says within this share of the
scale's span (common practice, no source)."""
NEAR_STOP_DEG: Final = 0.3
"""How far a stop may lie from where the family says (common practice, no source)."""
_COVERAGE: Final = 3.0


@dataclass(frozen=True, slots=True)
class Look:
    """One needle in one photo, and what the port said at its moment."""

    photo: str
    reading: Reading | None
    """None: the photo could not be used, or the face was not found in it."""
    said: PortValue | NothingSaid
    why_unread: str = ""
    """For people, where there is no reading."""


@dataclass(frozen=True, slots=True)
class PortRow:
    """What one photo says of one dial; values in the dial's unit, angles in degrees of rise."""

    photo: str
    why_not: str | None
    """Why shown and told cannot be compared; None: they can."""
    told: float | None = None
    u_told: float | None = None
    """Standard uncertainty (k = 1): resolution, and change during the doubt of the moment."""
    expected: float | None = None
    """What a sound unit shows then, by the programme."""
    lowest: float | None = None
    """Between this and `highest` a sound unit shows it: programme and rule."""
    highest: float | None = None
    shown: float | None = None
    u_shown: float | None = None
    seen_deg: float | None = None
    """Where the needle stands."""
    error_deg: float | None = None
    """Where it stands less where it should."""
    u_error_deg: float | None = None
    """Standard uncertainty (k = 1): reading, shaft, movement, and what the port said."""
    low_deg: float = 0.0
    """How far a sound needle may stand below and above where it should."""
    high_deg: float = 0.0

    @property
    def comparable(self) -> bool:
        """Whether the row says anything of the cluster."""
        return self.why_not is None


def compare(dial: Dial, look: Look, ecc_mm: float, *, max_speed: float | None = None) -> PortRow:
    """Hold what a needle shows against what the port said.

    Parameters
    ----------
    dial
        The dial.
    look
        Its reading in one photo, and the port's value at that moment.
    ecc_mm
        Standard deviation of shaft to printed centre.
    max_speed
        The vehicle's maximum design speed in the speedometer's unit.

    Returns
    -------
    PortRow
        Comparable, or the reason why not.

    Raises
    ------
    RuleError
        If the dial's rule does not fit it.

    Notes
    -----
    u^2 = u(angle)^2 + (shaft / needle)^2 + u(movement)^2 + u(told)^2, each in degrees of needle.
    **Source** JCGM 100:2008, 5.1.2; components as on the papers (docs/papers.md).
    """
    said = look.said
    if isinstance(said, NothingSaid):
        return PortRow(look.photo, said.reason)
    told, u_told, low, high = _in_units_of(dial, said)
    reading = look.reading
    if (
        reading is None
        or reading.status != "read"
        or reading.angle_deg is None
        or reading.u_angle_deg is None
    ):
        return PortRow(look.photo, _why_unread(look), told, u_told)
    expected = dial.programme.shown_at(told)
    lowest, highest = sound_range(dial, told, max_speed=max_speed)
    should, at_low, at_high = _rises(dial, expected, lowest, highest)
    u_told_deg = _spread_deg(dial, max(told - u_told, min(told, dial.scale.values[0])), told)
    u_told_deg = max(u_told_deg, _spread_deg(dial, told, told + u_told))
    moved_deg = _spread_deg(dial, low, high)
    row = PortRow(
        photo=look.photo,
        why_not=None,
        told=told,
        u_told=u_told,
        expected=expected,
        lowest=lowest,
        highest=highest,
        shown=reading.value,
        u_shown=reading.u_value,
        seen_deg=dial.scale.sense * dial.scale.on_branch(reading.angle_deg),
        u_error_deg=max(
            hypot(
                reading.u_angle_deg,
                degrees(ecc_mm / dial.needle.length_mm),
                dial.movement.repeatability_deg,
                u_told_deg,
            ),
            LEAST_U_DEG,
        ),
        low_deg=should - at_low,
        high_deg=at_high - should,
    )
    return _placed(dial, row, should, moved_deg, (low, high))


def sound_range(dial: Dial, told: float, *, max_speed: float | None = None) -> tuple[float, float]:
    """Between which values a sound unit shows what it is told.

    Parameters
    ----------
    dial
        The dial.
    told
        In its unit.
    max_speed
        As in `compare`.

    Returns
    -------
    tuple of float
        Lowest and highest shown value: the programme's, give or take the house rule's tolerance or
        `SOUND_OF_SPAN`, and on the programme's side of a published rule's limits.

    Raises
    ------
    RuleError
        If the dial's rule does not fit it.
    """
    expected = dial.programme.shown_at(told)
    tolerance = SOUND_OF_SPAN * dial.scale.span
    lowest, highest = expected - tolerance, expected + tolerance
    if dial.rule is None:
        return lowest, highest
    rule = rule_for(
        dial.rule,
        unit=dial.unit,
        scale_values=(dial.scale.values[0], dial.scale.values[-1]),
        graduation=dial.graduation_or_step,
        max_speed=max_speed if dial.is_speedometer else None,
    )
    if isinstance(rule, HouseRule):
        return expected - rule.tolerance, expected + rule.tolerance
    limits = rule.limits(told)
    if limits is not None and limits.lower is not None:
        lowest = max(lowest, min(limits.lower, expected))
    if limits is not None and limits.upper is not None:
        highest = min(highest, max(limits.upper, expected))
    return lowest, highest


def _in_units_of(dial: Dial, said: PortValue) -> tuple[float, float, float, float]:
    """Value, standard uncertainty, lowest and highest, in the dial's unit."""
    value, low, high, off = (
        convert(one, said.pid.unit, dial.unit)
        for one in (said.value, said.low, said.high, said.value + said.u)
    )
    return value, abs(off - value), low, high


def _why_unread(look: Look) -> str:
    if look.reading is None:
        return f"not read: {look.why_unread or 'no reading of this dial'}"
    reason = look.reading.reason or "no angle"
    known = REASONS.get(reason)
    return f"not read: {known.short if known else reason.replace('_', ' ')}"


def _rises(dial: Dial, *values: float) -> tuple[float, ...]:
    return tuple(float(one) for one in rise_of(dial, np.array(values)))


def _spread_deg(dial: Dial, low: float, high: float) -> float:
    """How far a sound needle goes between two told values."""
    one, other = _rises(dial, dial.programme.shown_at(low), dial.programme.shown_at(high))
    return abs(other - one)


def _placed(
    dial: Dial, row: PortRow, should: float, moved_deg: float, said: tuple[float, float]
) -> PortRow:
    """The row's error, or why there is none: it moved, or it stands where every value stands."""
    assert row.seen_deg is not None
    assert row.u_error_deg is not None
    room = row.high_deg + row.low_deg
    unit = unit_for_people(dial.unit)
    if moved_deg > room:
        return replace(
            row,
            why_not=f"changing too fast: {said[0]:.4g} to {said[1]:.4g} {unit} while the photo may "
            f"have been taken, {moved_deg:.1f} degrees of needle where a sound unit keeps within "
            f"{room:.1f}; hold it steady, or know the moment better",
        )
    near = NEAR_STOP_DEG + _COVERAGE * row.u_error_deg
    stop = dial.scale.sense * dial.stop_angle_deg
    top = _rises(dial, dial.scale.values[-1])[0]
    if should <= stop + NEAR_STOP_DEG:
        if row.seen_deg <= stop + near:
            return replace(
                row,
                why_not="the needle lies on its stop, where this value and all below it lie",
            )
        should = stop
    elif should > top + row.high_deg:
        if row.seen_deg >= top - near:
            return replace(
                row,
                why_not="what it is told lies beyond the last mark, and so does the needle",
            )
        should = top
    return replace(row, error_deg=row.seen_deg - should)
