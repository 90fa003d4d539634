"""What the rows of one run have in common of their reading, and what each has of its own.

A camera stands in one place for a whole run and a generator is off by one amount, so part of every
reading's error is the same in all rows: it shifts them together and shows in none of their
residuals. Counted there and with each row once more, it would make a needle look more doubtful
than it is.
"""

from math import hypot, sqrt
from typing import Final

COMMON: Final = 0.5
"""Share of a reading's variance that all rows of a run have in common (common practice, no source;
docs/needle-set.md says what other shares would do)."""


def common_deg(u_seen_deg: float) -> float:
    """Standard deviation (k = 1) of a reading's error that all rows of its run share, degrees."""
    return sqrt(COMMON) * u_seen_deg


def own_deg(repeatability_deg: float, u_seen_deg: float) -> float:
    """Standard deviation (k = 1) of one row about what all rows of its run share, degrees."""
    return hypot(repeatability_deg, sqrt(1.0 - COMMON) * u_seen_deg)
