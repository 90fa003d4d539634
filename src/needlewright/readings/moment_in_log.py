"""Where a photo's moment lies in a log of the diagnostic port."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Final

from needlewright.errors import PictureError, SignalError, UsageError
from needlewright.readings.photo_moment import PhotoMoment
from needlewright.signals.port_log.answers import EPOCH_FROM_S, PortLog
from needlewright.signals.port_log.told import LAG_S, OLDEST_S

CLOCK_DOUBT_S: Final = 1.0
"""How far two clocks that somebody set may be apart, either way (common practice, no source)."""
QUARTER_S: Final = 900.0
"""Zones are apart by whole quarters of an hour."""
LONGEST_ZONE_S: Final = 26 * 3600.0
_SECONDS: Final = re.compile(r"[+-]?\d+(\.\d*)?")


@dataclass(frozen=True, slots=True)
class MomentInLog:
    """When a photo was taken, as a log counts."""

    photo: str
    at_s: float | None
    """None: not needed, the log's end is steady."""
    doubt_s: float
    """How far it may be off, either way: as written, and the clocks."""
    remark: str | None = None
    rehearsed: bool = False
    """As in `PhotoMoment`."""


def moments_in_log(
    log: PortLog,
    photos: Sequence[PhotoMoment],
    *,
    at: str | None = None,
    clock_offset_s: float = 0.0,
    clock_doubt_s: float = CLOCK_DOUBT_S,
) -> tuple[MomentInLog, ...]:
    """Find every photo's moment in a log.

    Parameters
    ----------
    log
        The log.
    photos
        At least one.
    at
        When the first photo was taken: seconds from the log's beginning, or a day and time; the
        others follow it by their cameras' clock. None: as the cameras say.
    clock_offset_s
        What the camera's clock is ahead of the log's.
    clock_doubt_s
        How far the two may be apart beyond that, either way, 0 or more.

    Returns
    -------
    tuple of MomentInLog
        In the order given.

    Raises
    ------
    PictureError
        If a photo states no time and needs one, or the same picture is given twice.
    SignalError
        If the log's clock is not known, or no photo lies within the log.
    UsageError
        If `at` is no time.
    """
    _refuse_twice(photos)
    if at is not None:
        found = _from_first(log, photos, _stated(log, at), clock_doubt_s)
    else:
        found = tuple(_by_clock(log, one, clock_offset_s, clock_doubt_s) for one in photos)
    if not any(_within(log, one) for one in found):
        raise SignalError(_apart_words(log, found, stated=at is not None))
    return tuple(
        replace(one, rehearsed=photo.rehearsed) for one, photo in zip(found, photos, strict=True)
    )


def _refuse_twice(photos: Sequence[PhotoMoment]) -> None:
    seen: set[str] = set()
    for one in photos:
        if one.sha256 in seen:
            raise PictureError(
                f"{one.photo}: is the same picture as another one given; give every photo once"
            )
        seen.add(one.sha256)


def _stated(log: PortLog, at: str) -> float:
    if _SECONDS.fullmatch(at.strip()):
        seconds = float(at)
        return seconds if seconds >= EPOCH_FROM_S else log.begin_s + seconds
    try:
        when = datetime.fromisoformat(at.strip())
    except ValueError as error:
        raise UsageError(
            f"--at {at}: is no time; give seconds from the log's beginning, or a day and time such "
            "as 2026-03-02T10:15:00"
        ) from error
    if log.clock == "relative":
        raise UsageError(
            f"--at {at}: {log.path} counts seconds from a beginning that is not known; give "
            f"seconds from its beginning, 0 to {log.end_s - log.begin_s:.1f}"
        )
    if when.tzinfo is None or log.clock == "wall":
        when = when.replace(tzinfo=UTC)
    return when.timestamp()


def _from_first(
    log: PortLog, photos: Sequence[PhotoMoment], first_s: float, clock_doubt_s: float
) -> tuple[MomentInLog, ...]:
    """The first photo at a stated time, the others as much later as their camera says."""
    begin = photos[0]
    found = [MomentInLog(begin.photo, first_s, clock_doubt_s)]
    for one in photos[1:]:
        if one.at is None or begin.at is None:
            late = one if one.at is None else begin
            raise PictureError(
                f"{late.photo}: states no time, so its place after the first photo is not known; "
                "give it alone with --at"
            )
        later_s = (one.at - begin.at).total_seconds()
        doubt_s = clock_doubt_s + one.doubt_s + begin.doubt_s
        found.append(MomentInLog(one.photo, first_s + later_s, doubt_s))
    return tuple(found)


def _by_clock(
    log: PortLog, one: PhotoMoment, clock_offset_s: float, clock_doubt_s: float
) -> MomentInLog:
    if one.at is None:
        raise PictureError(
            f"{one.photo}: states no time of its own; say with --at when it was taken, or with "
            "--steady that nothing changed"
        )
    if log.clock == "relative":
        raise SignalError(
            f"{log.path}: counts seconds from a beginning that is not known, {log.range_words}; "
            "say with --at how many seconds after its beginning the photo was taken"
        )
    remark = None
    ahead = timedelta()
    if log.clock == "utc":
        ahead = one.zone or timedelta()
        if one.zone is None:
            remark = "the camera states no zone: its clock was taken for UTC, as the log's"
    at_s = (one.at - ahead).replace(tzinfo=UTC).timestamp() - clock_offset_s
    return MomentInLog(one.photo, at_s, clock_doubt_s + one.doubt_s, remark)


def _within(log: PortLog, one: MomentInLog) -> bool:
    if one.at_s is None:
        return True
    room = one.doubt_s + OLDEST_S + LAG_S
    return log.begin_s - room <= one.at_s <= log.end_s + room


def _apart_words(log: PortLog, found: Sequence[MomentInLog], *, stated: bool) -> str:
    times = [one.at_s for one in found if one.at_s is not None]
    taken = log.moment_words(min(times))
    if len(times) > 1:
        taken += f" to {log.moment_words(max(times))}"
    words = (
        f"{log.path}: runs from {log.range_words}, and the photo was taken at {taken}, outside it"
    )
    if stated:
        return f"{words}; correct --at"
    middle = (log.begin_s + log.end_s) / 2
    zone = round((times[0] - middle) / QUARTER_S) * QUARTER_S
    fits = log.begin_s - OLDEST_S <= times[0] - zone <= log.end_s + OLDEST_S
    if zone and abs(zone) <= LONGEST_ZONE_S and fits:
        return (
            f"{words}; the clocks seem to be {zone / 3600:+g} h apart: if so, say --clock-offset "
            f"{zone:g}"
        )
    return (
        f"{words}; say with --clock-offset what the camera's clock is ahead of the log's, or --at"
    )
