"""What a sound unit shows at true values, out of its own run: the programme of a dial.

The programme is laid through as few points as the rows ask for: straight lines between points at
commanded values, by weighted least squares, a point added where the rows lie furthest off until
what is left is no more than chance. A run that no such programme explains shows a fault, and gives
none.

Source: weighted least squares with the covariance of its points, JCGM 100:2008 (GUM) 5.1.2 and H.3;
the chi-square test that decides how many points are needed: common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import degrees, hypot, sqrt
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2

from needlewright.errors import ScaleError
from needlewright.families.model import Dial, Programme
from needlewright.findings.signatures.rows import LEAST_U_DEG
from needlewright.plans.rigidity import check_rigidity, describe
from needlewright.plans.seat import fit_seat, seat_rows
from needlewright.readings.runs import RunRow

ENOUGH_CHANCE: Final = 0.05
"""What is left is chance when so much or more is left this often."""
FEWEST_VALUES: Final = 3
LEAST_SPAN: Final = 0.6
"""Of the scale between its end marks, the commanded values must cover so much."""
FLAT: Final = 0.02
"""A stretch in which less than this share of the commanded step is shown stands still."""
LEAST_SEAT_DEG: Final = 0.15
"""Standard uncertainty of a needle's seat in a sound unit: no hand sets it better (common practice,
no source)."""
MANY_POINTS: Final = 5
WAVY: Final = (
    "it takes {count} points to explain the rows, and a design has few; look whether the face and "
    "the signal are the right ones"
)
STEADIED: Final = ("degC", "degF")
"""Units of dials that are steadied on purpose: a flat stretch of theirs is no fault."""

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ProgrammePoint:
    """One point of a programme."""

    true_value: float
    shown_value: float
    u_shown: float
    """Standard uncertainty (k = 1), where the shaft sits in the print included."""


@dataclass(frozen=True, slots=True)
class ProgrammeFit:
    """What a run says about a dial's programme."""

    dial: str
    unit: str
    before: tuple[tuple[float, float], ...]
    """The family's points; none: a sound unit is taken to show the true value."""
    points: tuple[ProgrammePoint, ...]
    """As few as the rows ask for; none where the run shows a fault or too little."""
    is_identity: bool
    """Whether the rows are also explained by showing the true value."""
    faults: tuple[str, ...]
    """Why this is no run of a sound unit, or not enough of one."""
    remarks: tuple[str, ...]
    rows: int
    """Rows that were used."""
    chi2: float | None
    degrees_of_freedom: int | None

    @property
    def programme(self) -> Programme:
        """As a family holds it; without points where showing the true value explains the rows."""
        if self.is_identity:
            return Programme()
        true = tuple(point.true_value for point in self.points)
        return Programme(true, tuple(point.shown_value for point in self.points))


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """The rows that count, as numbers."""

    told: Array
    shown: Array
    u: Array
    """Of shown less told (k = 1), without what all rows share."""
    u_shared: Array
    """By where the shaft sits in the print."""


def fit_programme(dial: Dial, rows: Sequence[RunRow], eccentricity_mm: float) -> ProgrammeFit:
    """Fit the programme of a dial to a run of a unit that is known to be sound.

    Parameters
    ----------
    dial
        The dial.
    rows
        Its rows in time order, completed (`readings.complete.complete_run`).
    eccentricity_mm
        Standard deviation of shaft to printed centre.

    Returns
    -------
    ProgrammeFit
        The points with their uncertainties, or why there are none.

    Raises
    ------
    RunError
        If a commanded value lies further beyond the scale than can be told.
    """
    before = tuple(zip(dial.programme.true_values, dial.programme.shown_values, strict=True))
    found = _rows(dial, rows, eccentricity_mm)
    nothing = ProgrammeFit(
        dial.id, dial.unit, before, (), False, (), tuple(_remarks(dial, rows)), len(found.told),
        None, None,
    )  # fmt: skip
    lacking = _too_little(dial, found)
    if lacking:
        return replace(nothing, faults=(lacking,))
    nodes, shown, covariance, left = _fewest_points(found)
    freedom = len(found.told) - len(nodes)
    shared = np.interp(nodes, found.told, found.u_shared)
    points = tuple(
        ProgrammePoint(float(at), _rounded(value, u), float(u))
        for at, value, u in zip(nodes, shown, np.sqrt(np.diag(covariance) + shared**2), strict=True)
    )
    by_itself = float((((found.shown - found.told) / np.hypot(found.u, found.u_shared)) ** 2).sum())
    fitted = replace(
        nothing,
        points=points,
        is_identity=bool(chi2.sf(by_itself, len(found.told)) >= ENOUGH_CHANCE),
        chi2=left,
        degrees_of_freedom=freedom,
    )
    if len(points) > MANY_POINTS:
        wavy = WAVY.format(count=len(points))
        fitted = replace(fitted, remarks=(*fitted.remarks, wavy))
    faults = tuple(_faults(dial, rows, fitted, eccentricity_mm))
    return replace(fitted, faults=faults, points=() if faults else points)


def _rows(dial: Dial, rows: Sequence[RunRow], eccentricity_mm: float) -> _Rows:
    free = [
        row
        for row in rows
        if row.commanded is not None and row.indicated is not None and not row.on_stop
    ]
    free.sort(key=lambda row: row.commanded or 0.0)
    told = np.array([row.commanded for row in free], float)
    shown = np.array([row.indicated for row in free], float)
    slopes = np.array([abs(dial.scale.slope_at(row.angle_deg or 0.0)) for row in free])
    repeats = dial.movement.repeatability_deg
    turns = np.array([max(hypot(row.u_angle_deg or 0.0, repeats), LEAST_U_DEG) for row in free])
    u_told = np.array([row.u_commanded or 0.0 for row in free])
    seat_deg = degrees(eccentricity_mm / dial.needle.length_mm)
    return _Rows(told, shown, np.hypot(slopes * turns, u_told), slopes * seat_deg)


def _too_little(dial: Dial, found: _Rows) -> str | None:
    values = np.unique(found.told)
    first, last = dial.scale.values[0], dial.scale.values[-1]
    covered = 0.0 if not len(values) else (values[-1] - values[0]) / (last - first)
    if len(values) >= FEWEST_VALUES and covered >= LEAST_SPAN:
        return None
    return (
        f"not enough data: {len(values)} commanded values were read free of a stop, over "
        f"{100 * covered:.0f} % of the scale; take a run with {FEWEST_VALUES} or more over at "
        f"least {100 * LEAST_SPAN:.0f} % of it, rising and falling"
    )


def _remarks(dial: Dial, rows: Sequence[RunRow]) -> list[str]:
    said = []
    approaches = {row.approach for row in rows if row.commanded is not None}
    if not {"up", "down"} <= approaches:
        said.append(
            "every value was told from one side only, so play would not be seen; take the run "
            "rising and falling"
        )
    if all(row.u_commanded is None for row in rows if row.commanded is not None):
        said.append("the uncertainty of what commanded the dial is not stated and is not in here")
    if not any(row.approach == "rest" for row in rows):
        said.append("the needle was not read at rest, so a needle seated wrong would not be seen")
    return said


def _hats(nodes: Array, at: Array) -> Array:
    """Share of each node in the straight lines between them; end lines go on."""
    i = np.clip(np.searchsorted(nodes, at, side="right") - 1, 0, len(nodes) - 2)
    share = (at - nodes[i]) / (nodes[i + 1] - nodes[i])
    by = np.zeros((len(at), len(nodes)))
    by[np.arange(len(at)), i] = 1 - share
    by[np.arange(len(at)), i + 1] = share
    return by


def _laid(found: _Rows, nodes: Array) -> tuple[Array, Array, Array]:
    """Values at the nodes, their covariance, and what is left of each row, in its own u."""
    by = _hats(nodes, found.told) / found.u[:, None]
    covariance = np.linalg.inv(by.T @ by)
    shown = covariance @ by.T @ (found.shown / found.u)
    return np.asarray(shown), np.asarray(covariance, float), found.shown / found.u - by @ shown


def _fewest_points(found: _Rows) -> tuple[Array, Array, Array, float]:
    values = np.unique(found.told)
    nodes = values[[0, -1]]
    while True:
        shown, covariance, left = _laid(found, nodes)
        total = float((left**2).sum())
        freedom = len(found.told) - len(nodes)
        open_values = np.setdiff1d(values, nodes)
        if chi2.sf(total, max(freedom, 1)) >= ENOUGH_CHANCE or not len(open_values):
            return nodes, shown, covariance, total
        off = [
            abs(left[found.told == value].sum()) / sqrt((found.told == value).sum())
            for value in open_values
        ]
        nodes = np.sort(np.append(nodes, open_values[int(np.argmax(off))]))


def _faults(
    dial: Dial, rows: Sequence[RunRow], fitted: ProgrammeFit, eccentricity_mm: float
) -> list[str]:
    """What a sound unit would not show."""
    said = []
    steps = list(zip(fitted.points, fitted.points[1:], strict=False))
    for low, high in steps:
        rise = high.shown_value - low.shown_value
        at = f"between {low.true_value:g} and {high.true_value:g} {dial.unit}"
        if rise < 0:
            said.append(f"what it shows falls {at}")
        elif rise < FLAT * (high.true_value - low.true_value) and dial.unit not in STEADIED:
            said.append(f"the needle stands still {at}")
    if said:
        return said
    with_it = replace(dial, programme=fitted.programme)
    for known in dict.fromkeys((Programme(), dial.programme)):
        said += _seated_wrong(replace(dial, programme=known), rows, eccentricity_mm)
    try:
        seat = fit_seat(with_it, seat_rows(with_it, rows, eccentricity_mm))
    except ScaleError as error:
        return [str(error)]
    if seat is not None:
        found = check_rigidity(with_it, seat)
        if not found.rigid:
            said.append(describe(seat, found))
    return said


def _seated_wrong(dial: Dial, rows: Sequence[RunRow], eccentricity_mm: float) -> list[str]:
    """Whether one turn of the needle explains every row: a needle is seated so, no programme."""
    try:
        seat = fit_seat(dial, seat_rows(dial, rows, eccentricity_mm))
    except ScaleError:
        return []
    if seat is None or not check_rigidity(dial, seat).rigid:
        return []
    u = hypot(1 / sqrt(sum(1 / row.u_deg**2 for row in seat.used)), LEAST_SEAT_DEG)
    if abs(seat.seat_deg) < 3 * u:
        return []
    return [
        f"every row stands {seat.seat_deg:+.1f} deg from where it should: the needle is seated "
        "wrong; set it first"
    ]


def _rounded(value: float, u: float) -> float:
    """To a tenth of its uncertainty: more digits say nothing."""
    if u <= 0:
        return float(value)
    digits = max(0, -int(np.floor(np.log10(u))) + 1)
    return round(float(value), digits)
