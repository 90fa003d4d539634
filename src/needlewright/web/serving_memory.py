"""Giving memory back that large pictures took for a moment.

The C library of most Linux systems keeps what is freed in case it is wanted again, in one heap for
each of many threads. With pictures of tens of megabytes that adds up.
"""

import ctypes
import sys
from contextlib import suppress
from typing import Final

_MMAP_THRESHOLD: Final = -3
_ARENA_MAX: Final = -8
_LARGE_BYTES: Final = 1024 * 1024
_ARENAS: Final = 2


def give_memory_back() -> None:
    """From now on, give large pieces back at once; elsewhere than on Linux, do nothing."""
    if not sys.platform.startswith("linux"):
        return
    with suppress(OSError, AttributeError):  # another C library than glibc
        mallopt = ctypes.CDLL(None).mallopt
        mallopt(_MMAP_THRESHOLD, _LARGE_BYTES)
        mallopt(_ARENA_MAX, _ARENAS)
