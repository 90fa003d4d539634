"""What a dial strip shows, and where things stand on it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

Side = Literal["found", "left"]
Approach = Literal["up", "down"]

_ROOM: Final = 0.1
"""Free room above and below the band and the points, of their height."""
_BAND_SHARE: Final = 0.25
"""The band never shrinks below this share of the height; a point further out stands at the edge."""


@dataclass(frozen=True, slots=True)
class StripPoint:
    """One reading: where on the scale, how far off, how sure."""

    true_value: float
    error: float
    """Shown minus true, in the strip's unit."""
    expanded: float | None
    """Expanded uncertainty of the error, or None where it is not known."""
    side: Side
    approach: Approach
    conforms: bool | None = None
    """False draws a cross over the point; None where no rule judges it."""


@dataclass(frozen=True, slots=True)
class StripGap:
    """A check point with no error, and why in a word or two: not read, on a stop."""

    true_value: float
    side: Side
    word: str


@dataclass(frozen=True, slots=True)
class StripLimit:
    """Limits of the error at one true value; None: not limited on that side."""

    true_value: float
    lower: float | None
    upper: float | None


@dataclass(frozen=True, slots=True)
class StripData:
    """Everything one strip shows; values and errors in `unit`, angles as the marks have them."""

    title: str
    unit: str
    """For people: `km/h`, `°C`."""
    marks: tuple[tuple[float, float], ...]
    """`(value, angle_deg)` of each mark of the scale, values rising."""
    limits: tuple[tuple[StripLimit, ...], ...]
    """Stretches of the scale the rule speaks of, each sampled finely enough for straight lines."""
    points: tuple[StripPoint, ...]
    gaps: tuple[StripGap, ...] = ()
    programme: tuple[tuple[float, float], ...] = ()
    """`(true value, error)` of a sound unit; empty where it shows the true value."""
    coverage_k: float = 2.0
    """Coverage factor of every `expanded`."""
    rule: str | None = None
    """Title of the rule, for people; None: no rule."""


def unroll(marks: Sequence[tuple[float, float]]) -> Callable[[float], float]:
    """Make the function from a value to its place on the unrolled scale.

    Parameters
    ----------
    marks
        `(value, angle_deg)` of each mark, values rising.

    Returns
    -------
    callable
        Value to degrees of needle past the first mark, positive toward higher values; the end
        segments are continued beyond the end marks.
    """
    sense = 1.0 if marks[-1][1] > marks[0][1] else -1.0
    knots = [(value, sense * (angle - marks[0][1])) for value, angle in marks]

    def place(value: float) -> float:
        i = max((n for n in range(len(knots) - 1) if knots[n][0] <= value), default=0)
        (v0, x0), (v1, x1) = knots[i], knots[i + 1]
        return x0 + (value - v0) * (x1 - x0) / (v1 - v0)

    return place


def error_range(data: StripData) -> tuple[float, float]:
    """Lowest and highest error the drawing has room for.

    A point so far out that the band would shrink to nothing does not stretch the drawing: it
    stands at the edge with its number beside it.

    Parameters
    ----------
    data
        What to show.

    Returns
    -------
    tuple of float
        Lowest and highest error, in the strip's unit.
    """
    band = [b for s in data.limits for p in s for b in (p.lower, p.upper) if b is not None]
    ends = [p.error + s * (p.expanded or 0.0) for p in data.points for s in (-1.0, 1.0)]
    ends += [error for _, error in data.programme]
    low, high = min([0.0, *band, *ends]), max([0.0, *band, *ends])
    if band:
        widest = (max([0.0, *band]) - min([0.0, *band])) / _BAND_SHARE
        low, high = max(low, max(band) - widest), min(high, min(band) + widest)
    room = _ROOM * (high - low) or 1.0
    return low - room, high + room


def reach(data: StripData) -> tuple[float, float]:
    """First and last value on the strip: the scale, and what was commanded beyond it.

    Parameters
    ----------
    data
        What to show.

    Returns
    -------
    tuple of float
        Lowest and highest value, in the strip's unit.
    """
    values = [v for v, _ in data.marks]
    values += [p.true_value for p in data.points] + [g.true_value for g in data.gaps]
    return min(values), max(values)
