"""Compiling a kernel: kept on disk between runs where there is a place for it.

A kernel's machine code is written beside its module, or to the user's cache folder where the
module's own cannot be written. Where neither can be, it is compiled anew in every process: slower
by some seconds, and otherwise the same.

Source: derivation in docs/decisions/0006-compiled-kernels.md.
"""

from collections.abc import Callable
from typing import Any, TypeVar, cast

from numba import njit

Kernel = TypeVar("Kernel", bound=Callable[..., Any])


def kernel(function: Kernel) -> Kernel:
    """Compile a function of plain arrays and numbers at its first call.

    Divisions by zero give infinities as in NumPy; other threads run meanwhile.

    Parameters
    ----------
    function
        What to compile.

    Returns
    -------
    Callable
        The compiled function.
    """
    try:
        compiled = njit(cache=True, nogil=True, error_model="numpy")(function)
    except RuntimeError:  # numba found no folder it could write to
        compiled = njit(nogil=True, error_model="numpy")(function)
    return cast("Kernel", compiled)
