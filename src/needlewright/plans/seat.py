"""How far a needle sits from where it should, by the rows of one dial.

An error is the needle's angle minus the angle of the dial's programme at the commanded value,
positive clockwise. A needle that is only seated wrong has the same error in every row. A needle on
a stop would stand there or beyond: its row holds the seat back on one side only.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from math import cos, degrees, hypot, radians, sin
from typing import Final

from needlewright.errors import RunError, ScaleError
from needlewright.families.model import Dial
from needlewright.readings.complete import value_uncertainty
from needlewright.readings.runs import RunRow
from needlewright.units import unit_for_people

LEAST_U_DEG: Final = 1e-4
"""Floor of a row's standard uncertainty, so that "zero by definition" can still be a weight."""


@dataclass(frozen=True, slots=True)
class SeatRow:
    """One commanded row that was read, as an error in degrees."""

    row: RunRow
    told: float
    """Commanded value in the dial's unit."""
    angle_deg: float
    error_deg: float
    """Angle minus the programme's angle, positive clockwise."""
    u_seen_deg: float
    """Of reading and stimulus (k = 1): what rows of one run may have in common."""
    u_value: float
    """Of shown value against commanded one (k = 1), in the dial's unit, eccentricity included."""
    repeatability_deg: float
    on_stop: bool

    @property
    def u_deg(self) -> float:
        """Standard uncertainty of the error against one rigid turn: repeatability included."""
        return max(hypot(self.u_seen_deg, self.repeatability_deg), LEAST_U_DEG)

    def on_programme(self) -> "SeatRow":
        """The same row as a sound unit would stand, free of any stop."""
        sound_deg = self.angle_deg - self.error_deg
        return replace(self, angle_deg=sound_deg, error_deg=0.0, on_stop=False)

    @property
    def name(self) -> str:
        """The row for people: `120 km/h up`, `4.8 ×1000 r/min down`."""
        return f"{self.told_words} {self.row.approach}"

    @property
    def told_words(self) -> str:
        """What was commanded, for people."""
        return f"{self.told:g} {unit_for_people(self.row.unit)}"


@dataclass(frozen=True, slots=True)
class SeatFit:
    """The rigid turn that explains the rows best."""

    seat_deg: float
    """How far clockwise of the programme the needle sits."""
    used: tuple[SeatRow, ...]
    """Free rows, and those on a stop that hold the seat back."""
    weights: tuple[float, ...]
    """Of the rows used; they add up to one."""

    @property
    def residuals_deg(self) -> tuple[float, ...]:
        """What the rigid turn leaves of each row used."""
        return tuple(row.error_deg - self.seat_deg for row in self.used)

    @property
    def chi_square(self) -> float:
        """Sum of squared residuals over their standard uncertainties."""
        pairs = zip(self.residuals_deg, self.used, strict=True)
        return sum((left / row.u_deg) ** 2 for left, row in pairs)


def seat_rows(dial: Dial, rows: Sequence[RunRow], eccentricity_mm: float) -> tuple[SeatRow, ...]:
    """Turn the commanded rows that were read into errors.

    Parameters
    ----------
    dial
        The dial.
    rows
        Its rows in time order, completed (`readings.complete`).
    eccentricity_mm
        Standard deviation of shaft to printed centre.

    Returns
    -------
    tuple of SeatRow
        Rows at rest and rows that were not read are left out.

    Raises
    ------
    RunError
        If a commanded value lies further beyond the scale than its programme can tell.
    """
    return tuple(
        _seat_row(dial, row, row.commanded, row.angle_deg, eccentricity_mm)
        for row in rows
        if row.commanded is not None and row.angle_deg is not None
    )


def _seat_row(
    dial: Dial, row: RunRow, told: float, angle_deg: float, eccentricity_mm: float
) -> SeatRow:
    try:
        programme_deg = dial.programme_angle_deg(told)
    except ScaleError as error:
        raise RunError(
            f"run '{row.run}', dial '{dial.id}', column 'commanded': given {told:g} {dial.unit}; "
            f"{error}; correct the value or leave the row out"
        ) from error
    u_angle_deg = row.u_angle_deg or 0.0
    u_told = row.u_commanded or 0.0
    u_told_deg = u_told * _programme_slope(dial, told) / abs(dial.scale.slope_at(programme_deg))
    u_shown = value_uncertainty(dial, angle_deg, u_angle_deg, eccentricity_mm)
    return SeatRow(
        row=row,
        told=told,
        angle_deg=angle_deg,
        error_deg=angle_deg - programme_deg,
        u_seen_deg=hypot(u_angle_deg, u_told_deg),
        u_value=hypot(row.u_indicated if row.u_indicated is not None else u_shown, u_told),
        repeatability_deg=dial.movement.repeatability_deg,
        on_stop=row.on_stop,
    )


def _programme_slope(dial: Dial, told: float) -> float:
    """Shown per commanded of a sound unit, over one per cent of the span about a value."""
    half = 0.005 * dial.scale.span
    rise = dial.programme.shown_at(told + half) - dial.programme.shown_at(told - half)
    return abs(rise) / (2 * half)


def fit_seat(dial: Dial, rows: Sequence[SeatRow]) -> SeatFit | None:
    """Find the one turn that explains the rows best.

    Parameters
    ----------
    dial
        The dial.
    rows
        Its errors.

    Returns
    -------
    SeatFit or None
        None where no row stands free of a stop.

    Notes
    -----
    Weighted least squares, weights 1/u^2, with a one-sided term for each row on a stop: nothing
    while the seat would put it at the stop or beyond, the square of what is missing else. The sum
    is convex, and its minimum is found by taking in the rows on a stop that the seat contradicts
    until none is left out. **Source** derivation: docs/needle-set.md.
    """
    free = [row for row in rows if not row.on_stop]
    if not free:
        return None
    stopped = [row for row in rows if row.on_stop]
    # The most contradicted first: each one taken in moves the seat toward the stop, never past it.
    stopped.sort(key=lambda row: dial.scale.sense * row.error_deg)
    used = free
    for row in stopped:
        if dial.scale.sense * (_mean(used) - row.error_deg) <= 0:
            break
        used = [*used, row]
    weights = _weights(used)
    return SeatFit(_mean(used), tuple(used), weights)


def _weights(rows: Sequence[SeatRow]) -> tuple[float, ...]:
    parts = [1.0 / row.u_deg**2 for row in rows]
    total = sum(parts)
    return tuple(part / total for part in parts)


def _mean(rows: Sequence[SeatRow]) -> float:
    return sum(w * row.error_deg for w, row in zip(_weights(rows), rows, strict=True))


def turn_components_deg(
    dial: Dial, rows: Sequence[SeatRow], weights: Sequence[float], eccentricity_mm: float
) -> tuple[tuple[str, float], ...]:
    """Standard uncertainties of a turn that is a weighted mean of errors.

    Parameters
    ----------
    dial
        The dial.
    rows
        The rows it was taken from.
    weights
        Of those rows; they add up to one.
    eccentricity_mm
        Standard deviation of shaft to printed centre.

    Returns
    -------
    tuple of (str, float)
        Named components in degrees; they add in quadrature.

    Notes
    -----
    What the rows have in common does not shrink with their number. Reading and stimulus: one
    camera, one face, one generator, so fully correlated (an upper bound). Repeatability: it may be
    of one sign over a whole approach, so it shrinks with the number of approaches only.
    Eccentricity: one shaft, seen from changing directions, so it shrinks as the mean of the
    directions does. **Source** derivation: docs/needle-set.md.
    """
    weighted = list(zip(weights, rows, strict=True))
    seen_deg = sum(w * row.u_seen_deg for w, row in weighted)
    by_approach = [
        sum(w for w, _ in group)
        for _, group in groupby(
            sorted(weighted, key=lambda pair: pair[1].row.approach),
            key=lambda pair: pair[1].row.approach,
        )
    ]
    east = sum(w * sin(radians(row.angle_deg)) for w, row in weighted)
    north = sum(w * cos(radians(row.angle_deg)) for w, row in weighted)
    return (
        ("reading and stimulus", seen_deg),
        ("repeatability", dial.movement.repeatability_deg * hypot(*by_approach)),
        ("eccentricity", degrees(eccentricity_mm / dial.needle.length_mm) * hypot(east, north)),
    )
