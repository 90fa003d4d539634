"""Shapes that drawings of the guides share: arrows, arcs, joints, words with a line to it."""

from collections.abc import Iterator
from math import cos, radians, sin
from typing import Final

from needlewright.papers import ink
from needlewright.papers.sums_sheet import SMALL_PX, Anchor, SumSheet

HEIGHT: Final = 170.0
SOLDER: Final = "#b9b2a3"
"""Grey that holds against copper and board when it is printed."""
COPPER: Final = "#8a6a3c"
Point = tuple[float, float]


class DrawnSheet(SumSheet):
    """A sheet of the guides' size that still knows what it shows."""

    def __init__(self, title: str) -> None:
        super().__init__(HEIGHT, title)
        self.title = title


def arrow(sheet: SumSheet, start: Point, end: Point, colour: str = ink.ACCENT) -> None:
    """What moves which way: a line with a head."""
    length = ((end[0] - start[0]) ** 2 + (end[1] - start[1]) ** 2) ** 0.5
    x, y = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    back = (end[0] - 8 * x, end[1] - 8 * y)
    sheet.line((start, back), colour=colour, width=2.2)
    head = (end, (back[0] - 4.5 * y, back[1] + 4.5 * x), (back[0] + 4.5 * y, back[1] - 4.5 * x))
    sheet.area(head, fill=colour)


def turn(sheet: SumSheet, centre: Point, radius: float, from_deg: float, to_deg: float) -> None:
    """A turning: an arc with a head at its end, degrees clockwise from 12 o'clock."""
    places = list(arc(centre, radius, from_deg, to_deg))
    sheet.line(places, colour=ink.ACCENT, width=2.2)
    arrow(sheet, places[-2], places[-1])


def arc(centre: Point, radius: float, from_deg: float, to_deg: float) -> Iterator[Point]:
    """Places along an arc, degrees clockwise from 12 o'clock."""
    steps = max(2, int(abs(to_deg - from_deg) / 4))
    for n in range(steps + 1):
        yield at(centre, radius, from_deg + (to_deg - from_deg) * n / steps)


def at(centre: Point, radius: float, deg: float) -> Point:
    """A place about a centre, degrees clockwise from 12 o'clock."""
    angle = radians(deg)
    return centre[0] + radius * sin(angle), centre[1] - radius * cos(angle)


def label(
    sheet: SumSheet, text: str, where: Point, to: Point | None = None, anchor: Anchor = "start"
) -> None:
    """Words, and a thin line from them to what they name."""
    if to is not None:
        across = {"start": -3.0, "middle": 0.0, "end": 3.0}[anchor]
        down = -4.0
        if anchor == "middle":  # not through the words
            down = -12.0 if to[1] < where[1] else 4.0
        sheet.line(((where[0] + across, where[1] + down), to), colour=ink.FAINT, width=0.9)
    sheet.words(*where, text, anchor=anchor, size=SMALL_PX)


def verdict(sheet: SumSheet, x: float, y: float, text: str, *, good: bool) -> None:
    """Good or not good: a shape and a word, told apart without colour."""
    colour = ink.GOOD if good else ink.NOT_GOOD
    if good:
        sheet.line(((x, y - 4), (x + 4, y), (x + 11, y - 10)), colour=colour, width=2.4)
    else:
        sheet.line(((x, y - 9), (x + 9, y)), colour=colour, width=2.4)
        sheet.line(((x, y), (x + 9, y - 9)), colour=colour, width=2.4)
    sheet.words(x + 17, y, text, colour=colour, bold=True)


def board_section(
    sheet: SumSheet, left: float, right: float, top: float, thick: float = 14
) -> None:
    """A board cut through."""
    sheet.box(left, top, right - left, thick, fill=ink.BAND, colour=ink.FAINT)


def joint_section(sheet: SumSheet, x: float, top: float, *, cracked: bool) -> None:
    """A pin in its hole, its foot of solder above the board; cracked: a ring parts pin and foot."""
    thick = 22.0
    board_section(sheet, x - 62, x - 7, top, thick)
    board_section(sheet, x + 7, x + 62, top, thick)
    for side in (-1, 1):
        sheet.area(
            (
                (x + side * 5, top - 34),
                (x + side * 9, top - 20),
                (x + side * 17, top - 9),
                (x + side * 30, top - 3),
                (x + side * 30, top),
                (x + side * 5, top),
            ),
            fill=SOLDER,
            colour=ink.INK,
            width=1.1,
        )
        sheet.line(((x + side * 7, top), (x + side * 32, top)), colour=COPPER, width=3.2)
        sheet.line(((x + side * 7, top), (x + side * 7, top + thick)), colour=COPPER, width=2.4)
    sheet.box(x - 5, top - 42, 10, 84, fill=ink.PAPER)
    if cracked:
        for side in (-1, 1):
            crack = (
                (x + side * 6, top - 35),
                (x + side * 10, top - 25),
                (x + side * 8, top - 17),
                (x + side * 12, top - 9),
                (x + side * 9, top - 1),
            )
            sheet.line(crack, colour=ink.PAPER, width=5)
            sheet.line(crack, colour=ink.NOT_GOOD, width=2)
