"""Needles set under the live picture, as a line of work done that is read back.

What was intended and what came of it stands on the job in one fixed form, so that a shop's own
needles teach how truly its hands press, and the certificate says the same.
"""

import re
from collections.abc import Iterable
from typing import Final

from needlewright.plans.pressing.hand import FURTHEST_TIPS, PressedNeedle
from needlewright.records.opening import Shop
from needlewright.records.sheet import job_sheet
from needlewright.records.shelf import FARTHEST, shelf

_TURN: Final = r"([+\-]\d+\.\d+)°"
_LINE: Final = re.compile(
    rf"^(?P<dial>[^:]+): needle set at .*, intended {_TURN}, achieved {_TURN}, "
    r"tip (\d+\.\d+)°$"
)


def pressed_line(one: PressedNeedle, told: str) -> str:
    """A needle that was set, as work done.

    Parameters
    ----------
    one
        The needle.
    told
        What its movement was told while it was set, in words.

    Returns
    -------
    str
        `speed: needle set at 80 km/h, intended +3.40°, achieved +3.32°, tip 1.77°`.
    """
    return (
        f"{one.dial}: needle set at {told}, intended {one.intended_deg:+.2f}°, achieved "
        f"{one.achieved_deg:+.2f}°, tip {one.tip_deg:.2f}°"
    )


def pressed_in(lines: Iterable[str]) -> tuple[PressedNeedle, ...]:
    """The needles that lines of work done speak of.

    Parameters
    ----------
    lines
        Of one job, in the order they were written.

    Returns
    -------
    tuple of PressedNeedle
        Lines of another form, and turns that no hand meant, are passed over.
    """
    found = []
    for line in lines:
        read = _LINE.match(line)
        if read is None:
            continue
        intended, achieved, tip = (float(part) for part in read.groups()[1:])
        if tip <= 0:
            continue
        one = PressedNeedle(read["dial"], intended, achieved, tip)
        if abs(one.off_tips) <= FURTHEST_TIPS:
            found.append(one)
    return tuple(found)


def shop_pressed(shop: Shop) -> tuple[PressedNeedle, ...]:
    """Every needle a shop has set under the live picture, job by job."""
    found: list[PressedNeedle] = []
    for line in shelf(shop, returned=True, limit=FARTHEST).lines:
        found += pressed_in(job_sheet(shop, line.tag).work_done)
    return tuple(found)
