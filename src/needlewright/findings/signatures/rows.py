"""The rows of one dial as errors against the programme, in degrees of rise.

Rise is needle angle counted the way the needle turns as the value rises, so that every model is
written once for dials of both directions. What leaves the room is clockwise again.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Dial
from needlewright.readings.runs import RunRow

Array = NDArray[np.float64]
NEAR_STOP_DEG: Final = 0.3
LOW_DEG: Final = 12.0
"""How far above its stop a command may be for the needle to have met the stop by a fault."""
_POINT_ALIKE: Final = 0.9
_FAR_OFF_DEG: Final = 120.0
LEAST_U_DEG: Final = 0.02
"""A row that states no uncertainty at all is still no better than this (common practice)."""


@dataclass(frozen=True, slots=True, eq=False)
class DialRows:
    """Commanded rows that were read, in time order; angles in degrees of rise."""

    dial: Dial
    rows: tuple[RunRow, ...]
    shown: Array
    """Value a sound unit shows at each command, in the dial's unit."""
    told_deg: Array
    """Where that stands."""
    seen_deg: Array
    way: Array
    """+1 where the command rose, -1 where it fell."""
    u_read_deg: Array
    """Of reading and stimulus."""
    u_seen_deg: Array
    """Of the reading alone."""
    told_off_deg: Array
    """How far the stimulus moves a needle by its own standard uncertainty."""
    on_stop: NDArray[np.bool_]
    homed: NDArray[np.int_]
    """Number of the stretch between two homings that a row belongs to."""

    @property
    def error_deg(self) -> Array:
        """Where the needle stands less where it should."""
        return self.seen_deg - self.told_deg

    @property
    def told_covariance(self) -> Array:
        """What the stimulus adds, square degrees: told the same, it is off by the same."""
        told = np.array([row.commanded or 0.0 for row in self.rows])
        alike = told[:, np.newaxis] == told[np.newaxis, :]
        return np.where(alike, np.outer(self.told_off_deg, self.told_off_deg), 0.0)

    @property
    def free(self) -> NDArray[np.bool_]:
        """Rows whose needle stands on no stop."""
        return ~self.on_stop

    @property
    def span_deg(self) -> float:
        """Between the end marks."""
        return 2.0 * self.dial.scale.reach_deg

    def rise_at(self, values: Array) -> Array:
        """Where values stand on this dial, see `rise_of`."""
        return rise_of(self.dial, values)

    @property
    def lower_stop_deg(self) -> float:
        """Where a sound needle meets its lower stop."""
        return self.dial.scale.sense * self.dial.stop_angle_deg

    def behind(self, widths_deg: Array) -> Array:
        """How far a needle in play, or held by friction, stands from where it is driven.

        Parameters
        ----------
        widths_deg
            Width of the play, from full contact one way to full contact the other.

        Returns
        -------
        Array
            Widths x rows: half a width below after a long way up, half above after one down, and
            between them after a turn that has not taken the play up yet.
        """
        half = widths_deg / 2
        found = np.empty((len(widths_deg), len(self.told_deg)))
        at = half
        for i, told in enumerate(self.told_deg):
            if i == 0 or self.homed[i] != self.homed[i - 1]:
                at = told - self.way[i] * half
            at = np.clip(at, told - half, told + half)
            found[:, i] = at - told
        return found


def rise_of(dial: Dial, values: Array) -> Array:
    """Where values stand, degrees of rise; the end segments are continued without an end.

    Parameters
    ----------
    dial
        The dial.
    values
        In its unit.

    Returns
    -------
    Array
        Of the same shape.
    """
    scale = dial.scale
    marks, knots = np.array(scale.values), scale.sense * np.array(scale.angles_deg)
    first = (knots[1] - knots[0]) / (marks[1] - marks[0])
    last = (knots[-1] - knots[-2]) / (marks[-1] - marks[-2])
    at = np.interp(values, marks, knots)
    at = np.where(values < marks[0], knots[0] + (values - marks[0]) * first, at)
    at = np.where(values > marks[-1], knots[-1] + (values - marks[-1]) * last, at)
    return np.asarray(at, dtype=np.float64)


def dial_rows(dial: Dial, rows: Sequence[RunRow]) -> DialRows:
    """Gather what a dial's rows say of its error.

    Parameters
    ----------
    dial
        The dial.
    rows
        Its rows in time order, completed (`readings.complete`).

    Returns
    -------
    DialRows
        Rows at rest and rows that were not read take no part; a rest between two rows, or another
        key cycle, is a homing.
    """
    kept, homed = _commanded(rows)
    told = [row.commanded or 0.0 for row in kept]
    u_told = [row.u_commanded or 0.0 for row in kept]
    shown, shown_off = (
        np.array([dial.programme.shown_at(v + more * u) for v, u in zip(told, u_told, strict=True)])
        for more in (0.0, 1.0)
    )
    told_deg = rise_of(dial, shown)
    u_angle = np.array([row.u_angle_deg or 0.0 for row in kept])
    told_off = rise_of(dial, shown_off) - told_deg
    u_read = np.hypot(u_angle, told_off)
    on_branch = [dial.scale.on_branch(row.angle_deg or 0.0) for row in kept]
    seen = _together(dial.scale.sense * np.array(on_branch, dtype=np.float64), told_deg)
    # a needle that is off by as much as its stop lies below the scale meets it in the run
    stop = dial.scale.sense * dial.stop_angle_deg
    near = np.abs(seen - stop) <= NEAR_STOP_DEG + 2 * u_read
    meets = near & (told_deg <= stop + LOW_DEG)
    return DialRows(
        dial=dial,
        rows=tuple(kept),
        shown=shown,
        told_deg=told_deg,
        seen_deg=seen,
        way=np.array([1.0 if row.approach == "up" else -1.0 for row in kept]),
        u_read_deg=np.maximum(u_read, LEAST_U_DEG),
        u_seen_deg=np.maximum(u_angle, LEAST_U_DEG),
        told_off_deg=told_off,
        on_stop=np.array([row.on_stop for row in kept], dtype=np.bool_) | meets,
        homed=np.array(homed, dtype=np.int_),
    )


def _together(seen_deg: Array, told_deg: Array) -> Array:
    """Take whole turns out of a needle that sits about half a turn off.

    Its rows lie on both ends of the scale's branch; they are put on one side of where all of them
    point, which only needles that are off by about the same everywhere do.
    """
    error = seen_deg - told_deg
    pointing = np.exp(1j * np.radians(error)).sum()
    middle = float(np.degrees(np.angle(pointing)))
    if abs(pointing) < _POINT_ALIKE * len(error) or abs(middle) < _FAR_OFF_DEG:
        return seen_deg
    return np.asarray(seen_deg - 360.0 * np.round((error - middle) / 360.0))


def _commanded(rows: Sequence[RunRow]) -> tuple[list[RunRow], list[int]]:
    """Rows that were told something and read, each with the number of its stretch."""
    kept: list[RunRow] = []
    homed: list[int] = []
    stretch, cycle = 0, None
    for row in rows:
        again = row.key_cycle is not None and cycle is not None and row.key_cycle != cycle
        if row.approach == "rest" or again:
            stretch += bool(homed and homed[-1] == stretch)
        cycle = row.key_cycle if row.key_cycle is not None else cycle
        if row.commanded is not None and row.angle_deg is not None:
            kept.append(row)
            homed.append(stretch)
    return kept, homed
