"""The compiled part of looking for slips: every window at every gap where one may be."""

# ruff: noqa: PLR0917
# Compiled loops over plain arrays: they take what they need by place, and calls cost.
# Whoever edits a kernel called from here also edits this file: numba's cache asks for it alone.

from typing import Any, Final

import numpy as np
from numba import njit
from scipy.special import chdtri

from needlewright.findings import step_kernel as kernel
from needlewright.findings.sound_kernel import bend_chi2, dip_chi2

_SIGNIFICANT: Final = 6.0
_GAIN: Final = 25.0
_SOUND: Final = 9.0
"""A motion without a slip has to fit so much worse, in chi squared."""
_LEAST_DEG_S: Final = 5.0
_SLOWER: Final = 0.25
"""A needle that slips goes on at least at this share of its speed before, or the reverse."""
_ONE_GAP_S: Final = 0.13
"""A slip that takes longer than this cannot be told from a pause without knowing the command."""
_TAKEN: Final = 3
_WHOLE: Final = 3.0
_WHOLE_DEG: Final = 0.05
_MOST_U_CYCLES: Final = 1 / 6
_DEGREES: Final = (2, 3)

LIMIT = np.array([0.0, *(chdtri(free, 1e-3) for free in range(1, 60))])
"""Chi squared that noise exceeds once in a thousand, by degrees of freedom."""


@njit(cache=True, nogil=True, error_model="numpy")
def scan(
    t_s: Any, angle_deg: Any, u_deg: Any, gaps: Any, cycle_deg: float,
    most_deg_s2: float, limit: Any, found: Any,
) -> None:  # fmt: skip
    """The surest slip at each gap: how sure, the frame after it, the step, its uncertainty."""
    answer = np.zeros(kernel.ANSWER)
    for gap in range(len(gaps)):
        if not gaps[gap]:
            continue
        for taken in range(_TAKEN):
            first = gap + 1 + taken
            if first >= len(t_s) or t_s[first] - t_s[gap] > _ONE_GAP_S:
                break
            for side in range(len(kernel.SIDES)):
                before, after = kernel.SIDES[side]
                for degree in _DEGREES:
                    if not kernel.step_at(
                        t_s, angle_deg, u_deg, gap, first, before, after, degree, answer
                    ):
                        continue
                    if not _is_slip(answer, cycle_deg, limit):
                        continue
                    enough = answer[kernel.S_CHI2] + _SOUND
                    bent = bend_chi2(t_s, angle_deg, u_deg, gap, first, before, after)
                    if bent < enough:
                        continue
                    dipped = dip_chi2(
                        t_s, angle_deg, u_deg, gap, first, before, after, degree,
                        answer[kernel.S_STEP], most_deg_s2,
                    )  # fmt: skip
                    if dipped < enough:
                        continue
                    size = abs(answer[kernel.S_STEP]) / answer[kernel.S_U]
                    # frames are left out only when nothing fits with them
                    size /= 1.0 + 2.0 * taken
                    if size > found[gap, 0]:
                        found[gap, 0] = size
                        found[gap, 1] = first
                        found[gap, 2] = answer[kernel.S_STEP]
                        found[gap, 3] = answer[kernel.S_U]


@njit(cache=True, nogil=True, error_model="numpy")
def _is_slip(answer: Any, cycle_deg: float, limit: Any) -> bool:
    step, u, free = answer[kernel.S_STEP], answer[kernel.S_U], int(answer[kernel.S_FREE])
    rate = answer[kernel.S_RATE]
    before, after = answer[kernel.S_RATE_BEFORE], answer[kernel.S_RATE_AFTER]
    if free < 3 or answer[kernel.S_CHI2] > limit[free] or answer[kernel.S_GAIN] < _GAIN:
        return False
    if abs(step) < _SIGNIFICANT * u or u > _MOST_U_CYCLES * cycle_deg or step * rate >= 0.0:
        return False
    if before * rate <= 0.0 or after * rate <= 0.0:
        return False
    slow, fast = min(abs(before), abs(after)), max(abs(before), abs(after))
    if slow < _LEAST_DEG_S or slow < _SLOWER * fast:
        return False
    cycles = round(step / cycle_deg)
    return bool(cycles != 0 and abs(step - cycles * cycle_deg) <= _WHOLE * u + _WHOLE_DEG)
