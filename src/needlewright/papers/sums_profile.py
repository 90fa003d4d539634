"""A reflow profile: temperatures over time, and every limit that is passed marked with a number."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

from needlewright.papers import ink
from needlewright.papers.sums_curve import ticks
from needlewright.papers.sums_sheet import SMALL_PX, WIDTH, SumSheet

Span = tuple[float, float]
Points = tuple[tuple[float, float], ...]
Shape = Literal["bad", "doubt", "unknown"]

LEFT: Final = 40.0
RIGHT: Final = 12.0
HEAD: Final = 28.0
PLOT_PX: Final = 210.0
AXIS_PX: Final = 40.0
ROW_PX: Final = 19.0
MARK_PX: Final = 7.5
MOST_WORDS: Final = 54
SLOPE_K: Final = 60.0
"""Rise or fall of the piece that is drawn of a slope, at most."""
SLOPE_SHARE: Final = 0.12
"""Of the time drawn, which such a piece takes at most."""
SLOPES_AT: Final = (0.17, 0.6)
FOOT_K: Final = 8.0
SHAPE_WORDS: Final[dict[Shape, str]] = {
    "bad": "past a limit",
    "doubt": "in doubt",
    "unknown": "not recorded",
}


@dataclass(frozen=True, slots=True)
class ProfileMark:
    """A limit that is passed, or in doubt."""

    number: int
    shape: Shape
    track: int
    """Place in the lines."""
    spans: tuple[Span, ...]
    """Seconds; empty where it lies outside the recording."""
    words: str


@dataclass(frozen=True, slots=True)
class ProfileLevel:
    """A temperature that a limit speaks of."""

    c: float
    words: str
    at_right: bool = False
    """Where its words stand: at the end of the line, else at its beginning."""
    below: bool = False
    """Under the line, else above it."""


@dataclass(frozen=True, slots=True)
class ProfileSlope:
    """A slope that is the most allowed, to lay beside the profile by eye."""

    k_s: float
    """Above 0 where it climbs, below where it falls."""
    words: str


@dataclass(frozen=True, slots=True)
class ProfileChart:
    """What is drawn."""

    names: tuple[str, ...]
    lines: tuple[Points, ...]
    """Seconds and degC, for each name."""
    soak_c: Span
    levels: tuple[ProfileLevel, ...]
    """The liquidus, and the peak's limits where there are some."""
    slopes: tuple[ProfileSlope, ...]
    limits: tuple[str, ...]
    """Each in words, with whose it is; they stand underneath."""
    marks: tuple[ProfileMark, ...]


def draw_profile(chart: ProfileChart, what: str) -> str:
    """Draw a profile.

    Parameters
    ----------
    chart
        What is drawn.
    what
        What it shows, for those who do not see it.

    Returns
    -------
    str
        An SVG document.
    """
    rows = [*_rows(_lettered(chart.names), "  ·  "), *_rows(("Limits:", *chart.limits), "  ")]
    shapes = len({mark.shape for mark in chart.marks}) > 0
    below = HEAD + PLOT_PX + AXIS_PX
    height = below + ROW_PX * (len(rows) + len(chart.marks) + shapes) + 14
    sheet = SumSheet(height, what)
    frame = _Frame(chart)
    sheet.words(LEFT, 17, "Temperature, °C", bold=True)
    _ground(sheet, frame)
    for i, points in enumerate(chart.lines):
        sheet.line([frame.place(*point) for point in points], colour=ink.INK, width=1.7)
        _letters(sheet, frame, i, points)
    _marks(sheet, frame)
    y = below + 12
    for row in rows:
        sheet.words(LEFT, y, row, size=SMALL_PX)
        y += ROW_PX
    if shapes:
        _shape_row(sheet, y, [mark.shape for mark in chart.marks])
        y += ROW_PX
    for mark in chart.marks:
        _mark(sheet, 16, y - 4, mark)
        sheet.words(30, y, _cut(mark.words, MOST_WORDS), size=SMALL_PX)
        y += ROW_PX
    return sheet.svg()


class _Frame:
    def __init__(self, chart: ProfileChart) -> None:
        self.chart = chart
        self.first = min(line[0][0] for line in chart.lines)
        self.last = max(line[-1][0] for line in chart.lines)
        temps = [c for line in chart.lines for _, c in line]
        self.low = min(0.0, *temps)
        self.high = max(*temps, *(level.c for level in chart.levels)) * 1.1 + 8

    def place(self, t_s: float, c: float) -> tuple[float, float]:
        across = (t_s - self.first) / (self.last - self.first)
        up = (c - self.low) / (self.high - self.low)
        return LEFT + (WIDTH - LEFT - RIGHT) * across, HEAD + PLOT_PX * (1 - up)


def _ground(sheet: SumSheet, frame: _Frame) -> None:
    """Axes, the soak as a band, the liquidus and the peak as lines, slopes as slanted ones."""
    chart, right, floor = frame.chart, WIDTH - RIGHT, HEAD + PLOT_PX
    tops = [frame.place(frame.first, c)[1] for c in chart.soak_c]
    sheet.box(LEFT, tops[1], right - LEFT, tops[0] - tops[1], colour="none", fill=ink.BAND)
    for tick in ticks(frame.low, frame.high):
        y = frame.place(frame.first, tick)[1]
        sheet.line(((LEFT, y), (right, y)), colour=ink.HAIRLINE, width=0.7)
        sheet.words(LEFT - 6, y + 4, f"{tick:g}", anchor="end", size=SMALL_PX, colour=ink.FAINT)
    for tick in ticks(frame.first, frame.last):
        x = frame.place(tick, frame.low)[0]
        sheet.line(((x, floor), (x, floor + 4)), colour=ink.FAINT, width=1)
        sheet.words(x, floor + 17, f"{tick:g}", anchor="middle", size=SMALL_PX, colour=ink.FAINT)
    sheet.line(((LEFT, floor), (right, floor)), colour=ink.FAINT, width=1)
    sheet.words(right, floor + 32, "seconds", anchor="end", size=SMALL_PX, colour=ink.FAINT)
    for level in chart.levels:
        _level(sheet, frame, level)
    for share, slope in zip(SLOPES_AT, chart.slopes, strict=True):
        _slope(sheet, frame, slope, share)
    sheet.words(LEFT + 4, tops[1] + 13, "soak", size=SMALL_PX, colour=ink.FAINT, halo=True)


def _level(sheet: SumSheet, frame: _Frame, level: ProfileLevel) -> None:
    y = frame.place(frame.first, level.c)[1]
    right = WIDTH - RIGHT
    sheet.line(((LEFT, y), (right, y)), colour=ink.ACCENT, width=1.2, dashed=True)
    sheet.words(
        right - 4 if level.at_right else LEFT + 4,
        y + 12 if level.below else y - 4,
        level.words,
        anchor="end" if level.at_right else "start",
        size=SMALL_PX,
        colour=ink.ACCENT,
        halo=True,
    )


def _slope(sheet: SumSheet, frame: _Frame, slope: ProfileSlope, share: float) -> None:
    """A piece of the steepest line allowed, in the room under the profile."""
    span = frame.last - frame.first
    rise = min(SLOPE_K, abs(slope.k_s) * SLOPE_SHARE * span)
    t_s, low = frame.first + share * span, frame.low + FOOT_K
    ends = (low, low + rise) if slope.k_s > 0 else (low + rise, low)
    line = [
        frame.place(t, c) for t, c in zip((t_s, t_s + rise / abs(slope.k_s)), ends, strict=True)
    ]
    sheet.line(line, colour=ink.ACCENT, width=1.6, dashed=True)
    y = (line[0][1] + line[1][1]) / 2 + 4
    sheet.words(line[1][0] + 4, y, slope.words, size=SMALL_PX, colour=ink.ACCENT, halo=True)


def _letters(sheet: SumSheet, frame: _Frame, i: int, points: Points) -> None:
    """A letter on a line, where lines differ most: on the way up and on the way down."""
    places = [frame.place(*point) for point in points]
    top = min(range(len(places)), key=lambda j: places[j][1])
    level = HEAD + PLOT_PX - 64 + 13 * (i % 5)
    for j in (_first_above(places[:top], level), _last_above(places, top, level)):
        if j is not None:
            x, y = places[j]
            sheet.words(x, y + 4, _letter(i), anchor="middle", bold=True, size=SMALL_PX, halo=True)


def _first_above(places: list[tuple[float, float]], y: float) -> int | None:
    return next((j for j, place in enumerate(places) if place[1] <= y), None)


def _last_above(places: list[tuple[float, float]], top: int, y: float) -> int | None:
    return next((j for j in range(len(places) - 1, top, -1) if places[j][1] <= y), None)


def _marks(sheet: SumSheet, frame: _Frame) -> None:
    """Every stretch as a thick line on its curve, its number above it, numbers side by side."""
    taken: list[tuple[float, float]] = []
    for mark in frame.chart.marks:
        points = frame.chart.lines[mark.track]
        for first, last in mark.spans:
            colour = ink.NOT_GOOD if mark.shape == "bad" else ink.INK
            stretch = [frame.place(*point) for point in _part(points, first, last)]
            if last > first:
                sheet.line(stretch, colour=colour, width=4)
            x = sum(place[0] for place in stretch) / len(stretch)
            y = max(min(place[1] for place in stretch) - 14, HEAD - 12)
            taken.append(_free(x, y, taken))
            _mark(sheet, *taken[-1], mark)


def _free(x: float, y: float, taken: list[tuple[float, float]]) -> tuple[float, float]:
    """The nearest place for a number that touches no other, beside it before under it."""
    apart = 2.3 * MARK_PX
    x = min(max(x, LEFT + MARK_PX), WIDTH - RIGHT - MARK_PX)
    across = [x + apart * step for step in (0, 1, -1, 2, -2, 3, -3)]
    inside = [each for each in across if LEFT < each <= WIDTH - RIGHT - MARK_PX + 0.01]
    rows = [y + apart * row for row in range(12)]
    places = ((each, row) for row in rows for each in inside)
    return next(
        (
            (px, py)
            for px, py in places
            if all(abs(px - a) >= apart - 0.1 or abs(py - b) >= apart - 0.1 for a, b in taken)
        ),
        (x, y),
    )


def _part(points: Points, first: float, last: float) -> Points:
    """The piece of a line between two times."""
    inside = tuple(point for point in points if first < point[0] < last)
    return ((first, _value(points, first)), *inside, (last, _value(points, last)))


def _value(points: Points, t_s: float) -> float:
    for (t0, c0), (t1, c1) in pairwise(points):
        if t0 <= t_s <= t1:
            return c0 + (c1 - c0) * (t_s - t0) / (t1 - t0)
    return points[0][1] if t_s < points[0][0] else points[-1][1]


def _mark(sheet: SumSheet, x: float, y: float, mark: ProfileMark) -> None:
    _shape(sheet, x, y, mark.shape)
    colour = ink.PAPER if mark.shape == "bad" else ink.INK
    sheet.words(x, y + 3.6, str(mark.number), anchor="middle", size=10, colour=colour, bold=True)


def _shape(sheet: SumSheet, x: float, y: float, shape: Shape) -> None:
    """A filled square, a diamond, or a circle."""
    half = MARK_PX
    if shape == "bad":
        sheet.box(x - half, y - half, 2 * half, 2 * half, fill=ink.NOT_GOOD, colour=ink.NOT_GOOD)
    elif shape == "doubt":
        far = 1.35 * half
        corners = ((x - far, y), (x, y - far), (x + far, y), (x, y + far))
        sheet.area(corners, fill=ink.PAPER, colour=ink.INK)
    else:
        sheet.circle(x, y, half)


def _shape_row(sheet: SumSheet, y: float, shapes: list[Shape]) -> None:
    x = LEFT + 6
    for shape in (one for one in SHAPE_WORDS if one in shapes):
        _shape(sheet, x, y - 4, shape)
        sheet.words(x + 14, y, SHAPE_WORDS[shape], size=SMALL_PX, colour=ink.FAINT)
        x += 104


def _lettered(names: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(f"{_letter(i)} {_cut(name, 22)}" for i, name in enumerate(names))


def _rows(pieces: tuple[str, ...], between: str) -> list[str]:
    """Pieces side by side, as many in a row as there is room for."""
    rows: list[str] = []
    for one in pieces:
        if rows and len(rows[-1]) + len(one) < MOST_WORDS - 6:
            rows[-1] += f"{between}{one}"
        else:
            rows.append(one)
    return rows


def _letter(i: int) -> str:
    return chr(ord("A") + i)


def _cut(words: str, most: int) -> str:
    return words if len(words) <= most else f"{words[: most - 1].rstrip()}…"
