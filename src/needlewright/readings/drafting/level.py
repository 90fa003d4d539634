"""Which way is up on a face, and how many millimetres a pixel is."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np

from needlewright.errors import FamilyError
from needlewright.readings.drafting.inputs import DraftInputs
from needlewright.readings.projection import Array, Projection

MOST_ROLLED_DEG: Final = 12.0
"""A line between two dials further from level than this, in the photo, is not taken as level."""
AGREE_DEG: Final = 0.5
"""Lines that agree within this speak for the same level."""
MM_PER_INCH: Final = 25.4


@dataclass(frozen=True, slots=True)
class Level:
    """How far a face is turned in the plane of its photo."""

    turned_deg: float
    """Clockwise, of the face's own right from the plane's x axis."""
    words: str
    """What it was taken from."""


def level_of(inputs: DraftInputs, centres: Array, projection: Projection) -> Level:
    """Find which way is level.

    Parameters
    ----------
    inputs
        What was typed; two level points outrank all else.
    centres
        (dials, 2), on the plane.
    projection
        Plane to photo.

    Returns
    -------
    Level
        From lines between dials that are level or upright and agree with each other, the longer
        weighing more; where there is none, the photo's own.
    """
    if inputs.level_px is not None:
        a, b = projection.to_face(np.array(inputs.level_px))
        if float(np.linalg.norm(b - a)) < 10.0:
            raise FamilyError("the two level points lie on each other; click two further apart")
        return Level(_off_axis_deg(b - a), "the two level points clicked")
    lines = []
    for i, j in combinations(range(len(centres)), 2):
        line = centres[j] - centres[i]
        lines.append((_off_axis_deg(line), float(np.linalg.norm(line)), i, j))
    likely = [line for line in lines if abs(line[0]) < MOST_ROLLED_DEG]
    if not likely:
        return Level(0.0, "the photo's own edges, as no two dials stand level or upright")
    best = max(likely, key=lambda line: _support(line[0], likely) - 1e-3 * abs(line[0]))
    agreeing = [line for line in likely if abs(line[0] - best[0]) < AGREE_DEG]
    weights = np.array([length**2 for _, length, _, _ in agreeing])
    turned = float(weights @ np.array([angle for angle, *_ in agreeing]) / weights.sum())
    names = [f"{inputs.dials[i].id}-{inputs.dials[j].id}" for _, _, i, j in agreeing]
    return Level(turned, f"the line between dials {', '.join(names)}, taken as level or upright")


def _off_axis_deg(line: Array) -> float:
    """Degrees clockwise from the nearer axis, -45 to 45."""
    angle = float(np.degrees(np.arctan2(line[1], line[0])))
    return angle - 90.0 * round(angle / 90.0)


def _support(angle: float, lines: Sequence[tuple[float, float, int, int]]) -> float:
    return sum(length for other, length, *_ in lines if abs(other - angle) < AGREE_DEG)


def mm_per_unit(
    inputs: DraftInputs, centres: Array, covariances: Array, projection: Projection
) -> tuple[float, float | None]:
    """Millimetres of one unit of the plane.

    Parameters
    ----------
    inputs
        What was typed: a scan's resolution or one known length.
    centres
        (dials, 2), on the plane.
    covariances
        (dials, 2, 2), of the centres.
    projection
        Plane to photo.

    Returns
    -------
    tuple
        The scale, and its relative standard uncertainty from where the length's ends were found;
        None where they were clicked or nothing is known of it.

    Raises
    ------
    FamilyError
        If neither is given, or the length's ends lie on each other.
    """
    if inputs.dpi is not None:
        return MM_PER_INCH / inputs.dpi, None
    if inputs.known is None:
        raise FamilyError(
            "nothing says how large the face is; give a scan's resolution (--dpi), or a length "
            "measured on the face (--known-mm), e.g. from hub to hub of two dials with a caliper"
        )
    ids = [dial.id for dial in inputs.dials]
    ends, doubts = [], []
    for end in inputs.known.ends:
        if isinstance(end, str):
            place = ids.index(end)
            ends.append(centres[place])
            doubts.append(float(np.sqrt(np.linalg.eigvalsh(covariances[place])[-1])))
        else:
            ends.append(projection.to_face(np.array(end)))
    length = float(np.linalg.norm(ends[1] - ends[0]))
    if length < 10.0:
        raise FamilyError("the known length's two ends lie on each other; name two places")
    doubt = float(np.hypot(doubts[0], doubts[1])) / length if len(doubts) == 2 else None
    return inputs.known.length_mm / length, doubt
