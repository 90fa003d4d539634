"""Propagation by trials against the additive model of JCGM 101:2008, clause 9.2."""

import numpy as np
import pytest

from needlewright.plans.height.clearances import deviates, symmetric_interval
from needlewright.plans.height.stack import Toleranced

TRIALS = 400_000


def summed(lengths: list[Toleranced]) -> np.ndarray:
    rng = np.random.default_rng(1)
    return np.sum([deviates(one, TRIALS, rng) for one in lengths], axis=0)


UNIT_NORMAL = Toleranced(0.0, 2.0, "normal")
"""Standard deviation 1."""
UNIT_BOX = Toleranced(0.0, 3**0.5)
"""Rectangular with standard deviation 1."""


@pytest.mark.parametrize(
    ("lengths", "u", "end", "abs_end"),
    [
        # JCGM 101:2008, 9.2.2, table 2: four normal inputs, u = 2.00, [-3.92, 3.92].
        ([UNIT_NORMAL] * 4, 2.00, 3.92, 0.02),
        # 9.2.3, table 3: four rectangular inputs, u = 2.00, [-3.88, 3.88].
        ([UNIT_BOX] * 4, 2.00, 3.88, 0.02),
        # 9.2.4, table 4: one of them ten times as wide, u = 10.1, [-17.0, 17.0].
        ([UNIT_BOX] * 3 + [Toleranced(0.0, 10 * 3**0.5)], 10.1, 17.0, 0.06),
    ],
)
def test_the_additive_model_of_the_guide(lengths, u, end, abs_end):
    seen = summed(lengths)
    assert float(np.std(seen)) == pytest.approx(u, abs=0.05 if u > 5 else 0.01)
    low, high = symmetric_interval(seen)
    assert low == pytest.approx(-end, abs=abs_end)
    assert high == pytest.approx(end, abs=abs_end)
