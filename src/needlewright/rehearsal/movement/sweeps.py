"""Sweeps a bench or a cluster's own self-test asks for: target angles over time.

Some clusters ask for the far end at once and let the movement's rate and acceleration shape the
way; some ask for a smooth way themselves; a bench also goes from point to point.
"""

from typing import Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Law = Literal["at_once", "smooth", "even", "points"]


def sweep_targets(
    law: Law, top_deg: float, one_way_s: float, tick_s: float, rng: np.random.Generator
) -> FloatArray:
    """Targets of one sweep from the lower stop up and back, with rests before, between and after.

    Parameters
    ----------
    law
        `at_once`: the end is asked for; `smooth`: half a wave of a cosine; `even`: at one rate;
        `points`: in steps with rests.
    top_deg
        How far up, degrees above the lower stop.
    one_way_s
        How long one way takes.
    tick_s
        Of the firmware.
    rng
        Where chance comes from: how long the rests are, where the points lie.

    Returns
    -------
    FloatArray
        One target a tick.
    """
    rests = [round(s / tick_s) for s in rng.uniform(0.3, 1.0, 3)]
    ticks = round(one_way_s / tick_s)
    share = np.arange(1, ticks + 1) / ticks
    if law == "at_once":
        up = np.ones(ticks)
    elif law == "smooth":
        up = 0.5 - 0.5 * np.cos(np.pi * share)
    elif law == "even":
        up = share
    else:
        count = int(rng.integers(3, 9))
        marks = np.sort(rng.uniform(0.0, 1.0, count - 1))
        up = np.append(marks, 1.0)[np.minimum((share * count).astype(np.int64), count - 1)]
    down = up[::-1] if law != "at_once" else np.zeros(ticks)
    parts = [np.zeros(rests[0]), up, np.ones(rests[1]), down, np.zeros(rests[2])]
    return np.asarray(top_deg * np.concatenate(parts), dtype=np.float64)
