"""Where a needle is pressed: the scale unrolled about the aim, and what each check leaves it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Final

from needlewright.papers import ink
from needlewright.papers.sums_sheet import SMALL_PX, WIDTH, SumSheet

LEFT: Final = 132.0
RIGHT: Final = 14.0
TOP: Final = 74.0
ROW_PX: Final = 14.0
FOOT_PX: Final = 64.0
COVERAGE_K: Final = 2.0
TICK_PX: Final = 46.0
"""At least so far apart stand the numbers of the axis and the numerals."""
At = Callable[[float], float]


@dataclass(frozen=True, slots=True)
class Room:
    """How far a needle may land for one row; degrees up the scale from the aim."""

    words: str
    low_deg: float
    high_deg: float


@dataclass(frozen=True, slots=True)
class Landing:
    """Where a needle came to stand."""

    off_deg: float
    expanded_deg: float


@dataclass(frozen=True, slots=True)
class PressStrip:
    """What is drawn; degrees up the scale from the aim."""

    title: str
    rooms: Sequence[Room]
    marks: Sequence[tuple[float, str]]
    """Printed marks; a numeral, or nothing."""
    spread_deg: float
    """Standard deviation of where the needle will sit."""
    programme_deg: float
    """Where the programme would have it."""
    not_low_deg: float | None
    """Below that a speedometer reads low; None: no speedometer."""
    tip_deg: float
    landing: Landing | None = None


def press_svg(strip: PressStrip) -> str:
    """Draw where a needle is pressed.

    Parameters
    ----------
    strip
        What is drawn.

    Returns
    -------
    str
        An SVG document.
    """
    foot = TOP + ROW_PX * len(strip.rooms)
    sheet = SumSheet(foot + FOOT_PX, strip.title)
    reach = _reach(strip)

    def x(deg: float) -> float:
        share = (min(max(deg, -reach), reach) + reach) / (2 * reach)
        return LEFT + (WIDTH - LEFT - RIGHT) * share

    sheet.words(10, 18, strip.title, bold=True)
    low = max((one.low_deg for one in strip.rooms), default=-reach)
    high = min((one.high_deg for one in strip.rooms), default=reach)
    if low < high:
        sheet.box(x(low), TOP - 24, x(high) - x(low), foot - TOP + 24, fill=ink.BAND, colour="none")
    _draw_marks(sheet, strip, x, reach)
    _draw_rooms(sheet, strip.rooms, x, reach)
    _draw_aim(sheet, strip, x, foot)
    _draw_axis(sheet, strip, x, foot, reach)
    return sheet.svg()


def _reach(strip: PressStrip) -> float:
    """Degrees shown on either side of the aim."""
    ends = [abs(end) for one in strip.rooms for end in (one.low_deg, one.high_deg) if isfinite(end)]
    nearest = min(ends, default=0.0)
    wanted = max(3.2 * strip.spread_deg, 2.2 * nearest, 1.5 * strip.tip_deg)
    wanted = max(wanted, 1.15 * min((abs(deg) for deg, _ in strip.marks), default=0.0))
    if strip.landing is not None:
        wanted = max(wanted, 1.2 * (abs(strip.landing.off_deg) + strip.landing.expanded_deg))
    return wanted


def _draw_marks(sheet: SumSheet, strip: PressStrip, x: At, reach: float) -> None:
    """The printed scale, as the eye aims by it."""
    y = TOP - 24
    sheet.line(((LEFT, y), (WIDTH - RIGHT, y)), width=1)
    written = -TICK_PX
    for deg, words in sorted(strip.marks):
        if abs(deg) > reach:
            continue
        sheet.line(((x(deg), y), (x(deg), y - (9 if words else 5))), width=1.8 if words else 1)
        if words and x(deg) - written >= TICK_PX:
            written = x(deg)
            sheet.words(x(deg), y - 12, words, anchor="middle", size=SMALL_PX)
    sheet.words(10, y, "printed", size=SMALL_PX, colour=ink.FAINT)


def _draw_rooms(sheet: SumSheet, rooms: Sequence[Room], x: At, reach: float) -> None:
    """A line for each row; an end within the drawing is a limit and has a bar."""
    for i, one in enumerate(rooms):
        y = TOP + ROW_PX * (i + 0.5)
        sheet.words(10, y + 4, one.words, size=SMALL_PX, colour=ink.FAINT)
        if one.high_deg < -reach or one.low_deg > reach:
            sheet.words(WIDTH / 2 + 40, y + 4, "outside", anchor="middle", size=SMALL_PX)
            continue
        sheet.line(((x(one.low_deg), y), (x(one.high_deg), y)), width=2)
        for end in (one.low_deg, one.high_deg):
            if abs(end) <= reach:
                sheet.line(((x(end), y - 5), (x(end), y + 5)), width=2)


def _draw_aim(sheet: SumSheet, strip: PressStrip, x: At, foot: float) -> None:
    """The aim with what may come of it, the programme, and where a needle has landed."""
    if abs(strip.programme_deg) > 0.02 * strip.tip_deg:
        at = x(strip.programme_deg)
        sheet.line(((at, TOP - 24), (at, foot)), colour=ink.FAINT, dashed=True)
    if strip.not_low_deg is not None:
        at = x(strip.not_low_deg)
        sheet.line(((at, TOP - 24), (at, foot)), colour=ink.NOT_GOOD, width=1.2)
    sheet.line(((x(0), TOP - 24), (x(0), foot + 4)), colour=ink.ACCENT, width=2.5)
    y = foot + 9
    ends = [x(way * COVERAGE_K * strip.spread_deg) for way in (-1, 1)]
    sheet.line(((ends[0], y), (ends[1], y)), colour=ink.ACCENT, width=2.5)
    for end in ends:
        sheet.line(((end, y - 4), (end, y + 4)), colour=ink.ACCENT, width=2)
    if strip.landing is not None:
        off, room = strip.landing.off_deg, strip.landing.expanded_deg
        y = TOP - 9
        sheet.line(((x(off - room), y), (x(off + room), y)), width=2)
        sheet.circle(x(off), y, 5, fill=ink.INK)


def _draw_axis(sheet: SumSheet, strip: PressStrip, x: At, foot: float, reach: float) -> None:
    y = foot + 18
    sheet.line(((LEFT, y), (WIDTH - RIGHT, y)), colour=ink.FAINT, width=1)
    step = _step(reach)
    count = int(reach / step)
    for i in range(-count, count + 1):
        deg = i * step
        sheet.line(((x(deg), y), (x(deg), y + 5)), colour=ink.FAINT, width=1)
        words = "0" if i == 0 else f"{deg:+g}°".replace("-", "−")
        sheet.words(x(deg), y + 17, words, anchor="middle", size=SMALL_PX, colour=ink.FAINT)
    said = "aim ± 2 spreads; degrees up the scale"
    if strip.landing is not None:
        said = "dot: as it stands; " + said
    sheet.words(10, y + 36, said, size=SMALL_PX, colour=ink.FAINT)


def _step(reach: float) -> float:
    """A round number of degrees, its numbers far enough apart."""
    across = (WIDTH - LEFT - RIGHT) / (2 * reach)
    steps = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 45.0, 90.0)
    return next((one for one in steps if one * across >= TICK_PX), steps[-1])
