"""A curve of a sum: what comes out over what goes in, its range a band, the case given marked."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor, log10
from typing import Final

from needlewright.papers import ink
from needlewright.papers.sums_sheet import SMALL_PX, TYPE_PX, WIDTH, SumSheet

LEFT: Final = 52.0
RIGHT: Final = 14.0
HEAD: Final = 30.0
FOOT: Final = 40.0
TICKS: Final = 5
PAST_PX: Final = 0.5
NEAR_PX: Final = 30.0
LINE_PX: Final = 12.0
Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Limit:
    """A value that is not to be passed, drawn across."""

    at: float
    words: str
    upright: bool = False
    """Of the x axis."""


@dataclass(frozen=True, slots=True)
class Marked:
    """A point of the curve that is meant."""

    x: float
    y: float
    words: str
    low: float | None = None
    """Its range, as a bar."""
    high: float | None = None
    bad: bool = False


@dataclass(frozen=True, slots=True)
class Curve:
    """One plot."""

    title: str
    x_words: str
    """The axis, with its unit."""
    x: tuple[float, float]
    y: tuple[float, float]
    lines: tuple[Points, ...] = ()
    dashed: tuple[Points, ...] = ()
    band: tuple[Points, Points] | None = None
    """Lower and upper edge."""
    limits: tuple[Limit, ...] = ()
    marked: tuple[Marked, ...] = ()
    logarithmic: bool = False
    """The y axis."""
    height: float = 190.0


def draw_curves(curves: Sequence[Curve], what: str) -> str:
    """Curves under each other.

    Parameters
    ----------
    curves
        In the order of the drawing.
    what
        What they show, for those who do not see it.

    Returns
    -------
    str
        An SVG document.
    """
    sheet = SumSheet(sum(curve.height for curve in curves), what)
    top = 0.0
    for curve in curves:
        draw_curve(sheet, curve, top)
        top += curve.height
    return sheet.svg()


def draw_curve(sheet: SumSheet, curve: Curve, top: float = 0.0) -> None:
    """One curve on a sheet, from `top` on."""
    frame = _Frame(curve, top)
    sheet.words(16, top + 18, curve.title, bold=True)
    if curve.band is not None:
        lower, upper = curve.band
        sheet.area((*frame.clipped(lower), *reversed(frame.clipped(upper))))
    _axes(sheet, frame)
    for points in curve.lines:
        for piece in frame.cut(points):
            sheet.line(piece, colour=ink.ACCENT, width=2)
    for points in curve.dashed:
        for piece in frame.cut(points):
            sheet.line(piece, colour=ink.FAINT, dashed=True)
    for limit in curve.limits:
        _limit(sheet, frame, limit)
    for one in curve.marked:
        _marked(sheet, frame, one)


@dataclass(frozen=True, slots=True)
class _Frame:
    curve: Curve
    top: float

    @property
    def ceiling(self) -> float:
        return self.top + HEAD

    @property
    def floor(self) -> float:
        return self.top + self.curve.height - FOOT

    def x(self, value: float) -> float:
        low, high = self.curve.x
        return LEFT + (WIDTH - LEFT - RIGHT) * (value - low) / (high - low)

    def y(self, value: float) -> float:
        low, high = self.curve.y
        if self.curve.logarithmic:
            low, high, value = log10(low), log10(high), log10(max(value, low * 1e-3))
        return self.floor - (self.floor - self.ceiling) * (value - low) / (high - low)

    def clipped(self, points: Points) -> tuple[tuple[float, float], ...]:
        """Places of points, kept inside the plot's height."""
        low, high = self.ceiling - PAST_PX, self.floor + PAST_PX
        return tuple((self.x(x), min(max(self.y(y), low), high)) for x, y in points)

    def cut(self, points: Points) -> tuple[Points, ...]:
        """Places of a line's points, cut where it leaves the plot's height."""
        low, high = self.ceiling - PAST_PX, self.floor + PAST_PX
        places = [(self.x(x), self.y(y)) for x, y in points]
        pieces: list[list[tuple[float, float]]] = [[]]
        for (x0, y0), (x1, y1) in pairwise(places):
            crossed = [
                (x0 + (x1 - x0) * (edge - y0) / (y1 - y0), edge)
                for edge in (low, high)
                if (y0 - edge) * (y1 - edge) < 0
            ]
            ends = sorted([(x0, y0), *crossed, (x1, y1)], key=lambda place: place[0])
            inside = [place for place in ends if low <= place[1] <= high]
            if pieces[-1] and inside[:1] != pieces[-1][-1:]:
                pieces.append([])
            pieces[-1] += inside[1:] if pieces[-1] else inside
        return tuple(tuple(piece) for piece in pieces if len(piece) > 1)


def _axes(sheet: SumSheet, frame: _Frame) -> None:
    curve, floor_px = frame.curve, frame.floor
    for tick in ticks_log(*curve.y) if curve.logarithmic else ticks(*curve.y):
        at = frame.y(tick)
        sheet.line(((LEFT, at), (WIDTH - RIGHT, at)), colour=ink.HAIRLINE, width=0.8)
        sheet.words(LEFT - 6, at + 4, f"{tick:g}", anchor="end", size=SMALL_PX, colour=ink.FAINT)
    for tick in ticks(*curve.x):
        at = frame.x(tick)
        sheet.line(((at, floor_px), (at, floor_px + 4)), colour=ink.FAINT, width=1)
        sheet.words(
            at, floor_px + 17, f"{tick:g}", anchor="middle", size=SMALL_PX, colour=ink.FAINT
        )
    sheet.line(((LEFT, floor_px), (WIDTH - RIGHT, floor_px)), colour=ink.FAINT, width=1)
    sheet.words(
        WIDTH - RIGHT, floor_px + 33, curve.x_words, anchor="end", size=SMALL_PX, colour=ink.FAINT
    )


def _limit(sheet: SumSheet, frame: _Frame, limit: Limit) -> None:
    if limit.upright:
        at = frame.x(limit.at)
        sheet.line(
            ((at, frame.ceiling), (at, frame.floor)), colour=ink.NOT_GOOD, width=1.4, dashed=True
        )
        left = at < (LEFT + WIDTH - RIGHT) / 2
        sheet.words(
            at + (5 if left else -5),
            frame.ceiling + 11,
            limit.words,
            anchor="start" if left else "end",
            size=SMALL_PX,
            colour=ink.NOT_GOOD,
            halo=True,
        )
        return
    at = frame.y(limit.at)
    sheet.line(((LEFT, at), (WIDTH - RIGHT, at)), colour=ink.NOT_GOOD, width=1.4, dashed=True)
    left = _taken_right(frame, at)
    sheet.words(
        LEFT + 4 if left else WIDTH - RIGHT - 2,
        at - 5,
        limit.words,
        anchor="start" if left else "end",
        size=SMALL_PX,
        colour=ink.NOT_GOOD,
        halo=True,
    )


def _taken_right(frame: _Frame, at: float) -> bool:
    """Whether a point or a line stands where the words of a limit at this height would."""
    middle = (LEFT + WIDTH - RIGHT) / 2
    places = [(frame.x(one.x), frame.y(one.y), NEAR_PX) for one in frame.curve.marked]
    places += [(frame.x(x), frame.y(y), LINE_PX) for line in frame.curve.lines for x, y in line]
    return any(x > middle and abs(y - at + LINE_PX / 2) < near for x, y, near in places)


def _marked(sheet: SumSheet, frame: _Frame, one: Marked) -> None:
    x, y = frame.x(one.x), min(max(frame.y(one.y), frame.ceiling), frame.floor)
    colour = ink.NOT_GOOD if one.bad else ink.INK
    sheet.line(((x, y), (x, frame.floor)), colour=ink.FAINT, width=0.8, dashed=True)
    if one.low is not None and one.high is not None:
        ends = frame.clipped(((one.x, one.low), (one.x, one.high)))
        sheet.line(ends, colour=colour, width=2.5)
    if one.bad:
        for way in (-1, 1):
            sheet.line(((x - 5, y - 5 * way), (x + 5, y + 5 * way)), colour=colour, width=2)
    else:
        sheet.circle(x, y, 4, fill=colour, colour=colour)
    right = _room_right(frame.curve, one, x)
    above = y > frame.ceiling + 22
    sheet.words(
        x + (9 if right else -9),
        y - 8 if above else y + 18,
        one.words,
        anchor="start" if right else "end",
        bold=True,
        colour=colour,
        halo=True,
    )


def _room_right(curve: Curve, one: Marked, x: float) -> bool:
    """Whether its words stand right of a point: where the line does not run, and on the sheet."""
    long = 0.55 * TYPE_PX * len(one.words) + 12
    if x + long > WIDTH or x - long < LEFT:
        return x - long < LEFT
    points = curve.lines[0] if curve.lines else ()
    after = next((y for at, y in points if at > one.x), one.y)
    return after <= one.y


def ticks(low: float, high: float) -> tuple[float, ...]:
    """Round numbers of a range, about five.

    Parameters
    ----------
    low
        First of the range.
    high
        Last of it.

    Returns
    -------
    tuple of float
        Rising, a step of 1, 2 or 5 in its decade apart.
    """
    raw = (high - low) / TICKS
    decade = 10.0 ** floor(log10(raw))
    step = next(one * decade for one in (1, 2, 5, 10) if one * decade >= raw * (1 - 1e-9))
    first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    return tuple(float(f"{n * step:.10g}") for n in range(first, last + 1))


def ticks_log(low: float, high: float) -> tuple[float, ...]:
    """The same for a logarithmic axis: decades, with 2 and 5 where there are few."""
    decades = range(floor(log10(low)), ceil(log10(high)) + 1)
    parts = (1, 2, 5) if high / low < 100 else (1,)
    every = (float(f"{part * 10.0**n:.6g}") for n in decades for part in parts)
    return tuple(one for one in every if low * (1 - 1e-9) <= one <= high * (1 + 1e-9))
