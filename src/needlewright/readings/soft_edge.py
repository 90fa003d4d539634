"""A step blurred by a normal spread, out of a table: what every drawn edge of a needle is made of.

Source: derivation in docs/decisions/0016-following-a-needle.md.
"""

from typing import Final

import numpy as np
from scipy.special import ndtr

from needlewright.readings.compiled import kernel

_PER_SIGMA: Final = 64.0
_REACH: Final = 6.0
_STEPS = np.linspace(-_REACH, _REACH, int(2 * _REACH * _PER_SIGMA) + 1)
_PAST = np.ascontiguousarray(ndtr(_STEPS))
_DENSITY = np.ascontiguousarray(np.exp(-0.5 * _STEPS**2) / np.sqrt(2 * np.pi))


@kernel
def soft_step(z: float) -> tuple[float, float]:
    """Share of a normal spread below z standard deviations, and its density there."""
    at = (z + _REACH) * _PER_SIGMA
    if at <= 0.0:
        return 0.0, 0.0
    if at >= 2 * _REACH * _PER_SIGMA:
        return 1.0, 0.0
    k = int(at)
    part = at - k
    past = _PAST[k] + part * (_PAST[k + 1] - _PAST[k])
    density = _DENSITY[k] + part * (_DENSITY[k + 1] - _DENSITY[k])
    return past, density
