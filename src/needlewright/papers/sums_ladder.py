"""Solders on a line of temperature: solid, paste, molten; below them what the vehicle sees."""

from dataclasses import dataclass
from typing import Final

from needlewright.papers import ink
from needlewright.papers.sums_curve import ticks
from needlewright.papers.sums_sheet import SMALL_PX, WIDTH, SumSheet

LEFT: Final = 18.0
RIGHT: Final = 18.0
ROW_PX: Final = 50.0
BAR_PX: Final = 16.0
FOOT_PX: Final = 44.0


@dataclass(frozen=True, slots=True)
class Bar:
    """A solder."""

    words: str
    solidus_c: float
    liquidus_c: float


@dataclass(frozen=True, slots=True)
class Ladder:
    """What is drawn; degC."""

    bars: tuple[Bar, ...]
    vehicle_c: tuple[float, float]
    vehicle_words: str
    work_c: tuple[float, float]
    work_words: str


def draw_ladder(ladder: Ladder, what: str) -> str:
    """Draw solders over temperature.

    Parameters
    ----------
    ladder
        What is drawn.
    what
        What it shows, for those who do not see it.

    Returns
    -------
    str
        An SVG document.
    """
    rows = len(ladder.bars) + 1
    sheet = SumSheet(ROW_PX * rows + FOOT_PX, what)
    low = min(-40.0, ladder.vehicle_c[0]) - 10
    high = max(ladder.work_c[1], ladder.vehicle_c[1]) + 60

    def at(c: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * (c - low) / (high - low)

    foot = ROW_PX * rows + 8
    for tick in ticks(low, high):
        sheet.line(((at(tick), 8), (at(tick), foot)), colour=ink.HAIRLINE, width=0.7)
        sheet.words(
            at(tick), foot + 15, f"{tick:g}", anchor="middle", size=SMALL_PX, colour=ink.FAINT
        )
    sheet.words(WIDTH - RIGHT, foot + 31, "°C", anchor="end", size=SMALL_PX, colour=ink.FAINT)
    for i, bar in enumerate(ladder.bars):
        _bar(
            sheet, bar, i * ROW_PX + 24, (at(low), at(bar.solidus_c), at(bar.liquidus_c), at(high))
        )
    y = len(ladder.bars) * ROW_PX + 24
    _span(sheet, (at(ladder.vehicle_c[0]), at(ladder.vehicle_c[1])), y + 8, ladder.vehicle_words)
    _span(sheet, (at(ladder.work_c[0]), at(ladder.work_c[1])), y + 8, ladder.work_words)
    return sheet.svg()


def _bar(sheet: SumSheet, bar: Bar, y: float, ends: tuple[float, float, float, float]) -> None:
    """Filled while it is solid, hatched while it is paste, empty while it is molten."""
    first, solidus, liquidus, last = ends
    sheet.words(LEFT, y - 6, bar.words, size=SMALL_PX, bold=True, halo=True)
    sheet.box(first, y, solidus - first, BAR_PX, fill=ink.BAND)
    sheet.box(liquidus, y, last - liquidus, BAR_PX)
    if liquidus > solidus:
        sheet.box(solidus, y, liquidus - solidus, BAR_PX, fill=ink.PAPER)
        x = solidus + 2.5
        while x < liquidus:
            sheet.line(((x, y), (x, y + BAR_PX)), width=0.9)
            x += 2.5
    sheet.words(first + 6, y + 12, "solid", size=SMALL_PX)
    sheet.words(last - 4, y + 12, "molten", anchor="end", size=SMALL_PX)


def _span(sheet: SumSheet, ends: tuple[float, float], y: float, words: str) -> None:
    first, last = ends
    sheet.line(((first, y), (last, y)), colour=ink.ACCENT, width=3)
    for x in ends:
        sheet.line(((x, y - 5), (x, y + 5)), colour=ink.ACCENT, width=2)
    middle = min(max((first + last) / 2, LEFT + 3.2 * len(words)), WIDTH - 3.0 * len(words))
    sheet.words(middle, y - 9, words, anchor="middle", size=SMALL_PX, halo=True)
