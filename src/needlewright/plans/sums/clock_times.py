"""Clock times in the table of a logger, also over midnight."""

from math import isfinite
from typing import Final

DAY_S: Final = 86_400.0
PARTS: Final = 3
"""Hours, minutes, seconds: with fewer, nobody knows the hour."""


class ClockDays:
    """Clock times that pass midnight, so that they rise.

    Parameters
    ----------
    longest_gap_s
        Over which a straight line is believed, s.
    """

    def __init__(self, longest_gap_s: float) -> None:
        self.longest_gap_s = longest_gap_s
        self.passed_s = 0.0
        self.last_s: float | None = None
        self.last_date = ""

    def risen(self, cell: str, t_s: float) -> float:
        """A time with the days since the first; only what can be nothing but midnight adds one.

        Parameters
        ----------
        cell
            As it is written; a date may stand before the time.
        t_s
            The time in it, s.

        Returns
        -------
        float
            s. A clock that falls has passed midnight where the step over it is one that a straight
            line may bridge, and no date beside it says the same day: any other fall stays one.
        """
        if cell.count(":") < PARTS - 1:
            return t_s
        date = _date(cell)
        if self.last_s is not None and t_s + self.passed_s <= self.last_s:
            step_s = t_s + self.passed_s + DAY_S - self.last_s
            same_day = bool(date) and date == self.last_date
            if 0 < step_s <= self.longest_gap_s and not same_day:
                self.passed_s += DAY_S
        self.last_s, self.last_date = t_s + self.passed_s, date
        return self.last_s


def _date(cell: str) -> str:
    """What stands before a clock time; empty where there is nothing."""
    return " ".join(cell.strip().replace("T", " ").split()[:-1])


def clock_s(cell: str) -> float | None:
    """Seconds of `12:34:56.5`, or of `34:56` as minutes; a date before it is left out."""
    parts = [plain_number(part) for part in cell.strip().replace("T", " ").split()[-1].split(":")]
    if len(parts) > PARTS or any(part is None for part in parts):
        return None
    seconds = 0.0
    for part in parts:
        seconds = 60.0 * seconds + (part or 0.0)
    return seconds


def plain_number(cell: str) -> float | None:
    """A finite number with a point; None where it is none."""
    try:
        value = float(cell)
    except ValueError:
        return None
    return value if isfinite(value) else None
