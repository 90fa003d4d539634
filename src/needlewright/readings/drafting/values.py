"""Values of the major marks, counted from the few that were typed.

Between two typed marks the majors rise by equal steps, whatever the angles between them do: so
two values serve a scale that bunches up at one end as well as an even one. A scale whose printed
values themselves rise unevenly (0, 1, 2, 5, 10) needs a typed value wherever the step changes.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.errors import FamilyError

ROUND_STEPS: Final = (1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.5)
"""Steps, over a power of ten, that scales are printed in (common practice, no source)."""
ROUNDING: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Counted:
    """Values of marks, and what is odd about them."""

    values: tuple[float | None, ...]
    """None: a minor mark."""
    remarks: tuple[str, ...]


def count_values(
    dial: str, major: NDArray[np.bool_], typed: tuple[tuple[int, float], ...]
) -> Counted:
    """Give each major mark a value.

    Parameters
    ----------
    dial
        Its id, for sentences.
    major
        (n,), of the marks in rising angle, which are major.
    typed
        (mark, value) of two marks or more.

    Returns
    -------
    Counted
        A value for each major mark; the first and last steps are continued to the scale's ends.

    Raises
    ------
    FamilyError
        If the typed values neither all rise nor all fall along the scale.
    """
    known = sorted(typed)
    values = [value for _, value in known]
    rises = np.diff(values)
    if not (np.all(rises > 0) or np.all(rises < 0)):
        along = ", ".join(f"{value:g}" for value in values)
        raise FamilyError(
            f"dial '{dial}': the typed values run {along} along the scale; they must all rise or "
            "all fall, so check each click and its value"
        )
    counted = major.copy()
    counted[[mark for mark, _ in known]] = True
    places = np.flatnonzero(counted)
    at = [int(np.searchsorted(places, mark)) for mark, _ in known]
    result: list[float | None] = [None] * len(major)
    for order, place in enumerate(places):
        result[place] = _value(order, at, values)
    remarks = [
        f"from {values[i]:g} to {values[i + 1]:g} the marks rise by {abs(step):g}: a mark may be "
        "missing or one too many; look at the overlay"
        for i in range(len(values) - 1)
        if not is_round(step := (values[i + 1] - values[i]) / (at[i + 1] - at[i]))
    ]
    return Counted(tuple(result), tuple(remarks))


def _value(order: int, at: list[int], values: list[float]) -> float:
    """Linear in the count of majors, end steps continued; a typed value exactly."""
    i = min(max(int(np.searchsorted(at, order, side="right")) - 1, 0), len(at) - 2)
    share = (order - at[i]) / (at[i + 1] - at[i])
    value = values[i] + share * (values[i + 1] - values[i])
    return float(np.round(value, 9)) + 0.0


def is_round(step: float) -> bool:
    """Whether scales are printed in steps of this size."""
    size = abs(step) / 10.0 ** np.floor(np.log10(abs(step)))
    return any(abs(size - good) < ROUNDING * good for good in (*ROUND_STEPS, 10.0))


def graduation_of(values: tuple[float | None, ...]) -> float | None:
    """Value from mark to mark where majors are divided alike all along the scale.

    Parameters
    ----------
    values
        Of the marks in rising angle; None: minor.

    Returns
    -------
    float | None
        None where steps or divisions differ.
    """
    places = [i for i, value in enumerate(values) if value is not None]
    if len(places) < 2:
        return None
    numbers = [value for value in values if value is not None]
    steps = np.abs(np.diff(numbers))
    parts = np.diff(places)
    if np.ptp(parts) or np.ptp(steps) > ROUNDING * steps.max():
        return None
    return float(np.round(steps[0] / parts[0], 9))
