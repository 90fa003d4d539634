"""The compiled part of a needle's shadow: how much of each lamp it takes, and the shaded ground.

Everything here works on plain arrays, because it is compiled by numba.

Source: derivation in docs/decisions/0016-following-a-needle.md.
"""

# ruff: noqa: PLR0917
# Compiled loops over plain arrays: they take what they need by place, and calls cost.
# Whoever edits a kernel called from here also saves this file: numba's cache asks only for its own.

from typing import Any

import numpy as np

from needlewright.readings.compiled import kernel
from needlewright.readings.soft_edge import soft_step


@kernel
def taken_by(rows: Any, cols: Any, along: Any, across: Any, wider: Any, needle: Any) -> Any:
    """Share of each lamp a needle takes from places beside its axis: (lamps, rows, columns).

    `along` and `across` are where each lamp throws the shadow (mm), `wider` by how much more than
    the needle on either side; `needle` is half its width at the axle and what that changes by per
    millimetre, its length, its tail, and the blur.
    """
    lamps, n, m = len(along), len(rows), len(cols)
    taken = np.zeros((lamps, n, m))
    blur = needle[4]
    for k in range(lamps):
        for i in range(n):
            out = rows[i] - along[k]
            tip, _ = soft_step((needle[2] - out) / blur)
            tail, _ = soft_step((needle[3] + out) / blur)
            share = tip * tail
            if share < 1e-4:
                continue
            half = needle[0] + needle[1] * min(abs(out), needle[2]) + wider[k]
            for j in range(m):
                away = cols[j] - across[k]
                if abs(away) > half + 6.0 * blur:
                    continue
                near, _ = soft_step((away + half) / blur)
                far, _ = soft_step((away - half) / blur)
                taken[k, i, j] = share * (near - far)
    return taken


@kernel
def shaded(bare: Any, rows: Any, cols: Any, axis: Any, loss: Any, place: Any) -> Any:
    """The ground with the needle's shadow on it.

    `axis` is where the needle's axis crosses each row; `loss` what the shadow takes, over rows and
    columns beside that axis, empty where there is none; `place` its first row and column and how
    many of either lie on a millimetre.
    """
    out = bare.copy()
    high, wide = loss.shape
    if high < 2 or wide < 2:
        return out
    n, m = bare.shape
    for i in range(n):
        y = min(max((rows[i] - place[0]) * place[2], 0.0), high - 1.001)
        k = int(y)
        b = y - k
        for j in range(m):
            x = min(max((cols[j] - axis[i] - place[1]) * place[3], 0.0), wide - 1.001)
            q = int(x)
            a = x - q
            above = (1.0 - a) * loss[k, q] + a * loss[k, q + 1]
            below = (1.0 - a) * loss[k + 1, q] + a * loss[k + 1, q + 1]
            out[i, j] *= 1.0 - (1.0 - b) * above - b * below
    return out
