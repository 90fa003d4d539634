"""What a needle's chart through a video is drawn from."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class ChartMark:
    """One event on a chart.

    Parameters
    ----------
    t_s
        When.
    words
        What, in few words with its size.
    """

    t_s: float
    words: str


@dataclass(frozen=True, slots=True, eq=False)
class SweepChart:
    """What a needle's chart is drawn from.

    Parameters
    ----------
    dial
        Its heading.
    t_s
        Times, seconds.
    angle_deg, speed_deg_s
        By time; NaN where the needle was not seen.
    marks
        Events in time order.
    """

    dial: str
    t_s: NDArray[np.float64]
    angle_deg: NDArray[np.float64]
    speed_deg_s: NDArray[np.float64]
    marks: tuple[ChartMark, ...]
