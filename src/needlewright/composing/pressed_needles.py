"""Needles set or pressed, as a line of work done that is read back.

What was intended and what came of it stands on the job in one fixed form, so that a shop's own
needles teach how truly its hands press, and the certificate says the same.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from needlewright.papers.wording import MINUS, number, short
from needlewright.plans.pressing.hand import FURTHEST_TIPS, PressedNeedle
from needlewright.readings.runs import Approach
from needlewright.records.jobs import add_note, edit_job
from needlewright.records.opening import Shop
from needlewright.records.views import JobSheet
from needlewright.records.work_done import work_done_of_all
from needlewright.rules.decision import COVERAGE_K

_DEG: Final = r"([+\-−]?\d+\.\d+)°"
"""Older lines have a hyphen where a minus is meant; they are read as well."""
_LINE: Final = re.compile(
    rf"^(?P<dial>[^:]+): needle (?:set|pressed) at .*, intended {_DEG}, achieved {_DEG}"
    r"(?: ± \d+\.\d+°)?, tip (\d+\.\d+)°$"
)
_PRESSED: Final = re.compile(
    r"^(?P<dial>[^:]+): needle pressed at (?P<value>[+\-−]?\d+(?:\.\d+)?(?:e[+\-−]\d+)?) .*? "
    rf"(?P<way>from below|from above) after run (?P<run>.+), intended {_DEG}, "
    rf"achieved {_DEG} ± (\d+\.\d+)°, tip \d+\.\d+°$"
)
REHEARSED: Final = "rehearsed: "
"""Before the line of a needle that was set or pressed in a rehearsal, which is a note."""
_WAYS: Final[dict[str, Approach]] = {"from below": "up", "from above": "down"}


@dataclass(frozen=True, slots=True)
class PressedOnto:
    """A needle that was pressed onto a new movement; angles on the face, positive clockwise."""

    dial: str
    run: str
    """Name of the movement's own run, by which it was aimed."""
    value: float
    """What the movement was told, in the dial's unit."""
    approach: Approach
    intended_deg: float
    achieved_deg: float
    u_deg: float
    """Standard uncertainty (k = 1) of the achieved angle."""
    tip_deg: float


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
        f"{one.dial}: needle set at {told}, intended "
        f"{number(one.intended_deg, 2, signed=True)}°, achieved "
        f"{number(one.achieved_deg, 2, signed=True)}°, tip {one.tip_deg:.2f}°"
    )


def pressed_onto_line(one: PressedOnto, unit: str) -> str:
    """A needle that was pressed onto a new movement, as work done.

    Parameters
    ----------
    one
        The needle.
    unit
        Of its dial, for people.

    Returns
    -------
    str
        `speed: needle pressed at 80 km/h from below after run check, intended +12.40°, achieved
        +12.31° ± 0.24°, tip 1.77°`.
    """
    way = "from below" if one.approach == "up" else "from above"
    return (
        f"{one.dial}: needle pressed at {short(one.value)} {unit} {way} after run {one.run}, "
        f"intended {number(one.intended_deg, 2, signed=True)}°, achieved "
        f"{number(one.achieved_deg, 2, signed=True)}° ± "
        f"{COVERAGE_K * one.u_deg:.2f}°, tip {one.tip_deg:.2f}°"
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
        intended, achieved, tip = (_value(part) for part in read.groups()[1:])
        if tip <= 0:
            continue
        one = PressedNeedle(read["dial"], intended, achieved, tip)
        if abs(one.off_tips) <= FURTHEST_TIPS:
            found.append(one)
    return tuple(found)


def pressed_onto(lines: Iterable[str], run: str) -> dict[str, PressedOnto]:
    """The needles that were pressed on by a run, the last pressing of each.

    Parameters
    ----------
    lines
        Work done of one job, in the order it was written.
    run
        Name of the movements' own run.

    Returns
    -------
    dict
        By dial.
    """
    found = {}
    for line in lines:
        read = _PRESSED.match(line)
        if read is None or read["run"] != run:
            continue
        intended, achieved, expanded = (_value(part) for part in read.groups()[4:])
        tip = float(line.rpartition("tip ")[2].rstrip("°"))
        found[read["dial"]] = PressedOnto(
            read["dial"], run, _value(read["value"]), _WAYS[read["way"]], intended, achieved,
            expanded / COVERAGE_K, tip,
        )  # fmt: skip
    return found


def _value(text: str) -> float:
    return float(text.replace(MINUS, "-"))


def keep_pressed(
    shop: Shop, job: JobSheet, line: str, by: str | None = None, *, rehearsed: bool
) -> JobSheet:
    """Write down a needle that was set or pressed.

    Parameters
    ----------
    shop
        The shop.
    job
        Its sheet, as it was seen.
    line
        As `pressed_line` or `pressed_onto_line` gives it.
    by
        Who does it.
    rehearsed
        Whether it was set by a rehearsed run.

    Returns
    -------
    JobSheet
        With the line among the work done, from which the shop's hand is learned and which stands
        on papers; a rehearsed one is a note and marked, for nobody's hand pressed it.

    Raises
    ------
    RecordError
        If it cannot be saved.
    """
    if rehearsed:
        return add_note(shop, job.tag, f"{REHEARSED}{line}", by)
    changes = {"work_done": [*job.work_done, line]}
    return edit_job(shop, job.tag, changes, by, seen=job.version)


def pressed_lines(job: JobSheet, *, rehearsed: bool) -> tuple[str, ...]:
    """The lines among which needles of a run stand: work done, or notes of a rehearsal."""
    if not rehearsed:
        return tuple(job.work_done)
    texts = [one.text for one in job.notes]
    return tuple(one.removeprefix(REHEARSED) for one in texts if one.startswith(REHEARSED))


def shop_pressed(shop: Shop) -> tuple[PressedNeedle, ...]:
    """Every needle a shop has set under the live picture or pressed on, job by job."""
    return tuple(one for _, lines in work_done_of_all(shop) for one in pressed_in(lines))
