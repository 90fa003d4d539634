"""A line of values with what is allowed as a band: hollow as read, filled with its uncertainty."""

from dataclasses import dataclass
from typing import Final

from needlewright.papers import ink
from needlewright.papers.sums_curve import ticks
from needlewright.papers.sums_sheet import SMALL_PX, WIDTH, SumSheet

HEIGHT: Final = 150.0
LEFT: Final = 18.0
LINE_Y: Final = 84.0
MARGIN: Final = 0.12


@dataclass(frozen=True, slots=True)
class Band:
    """What is drawn; all in one unit."""

    unit: str
    allowed: tuple[float, float]
    nominal: float
    read: float
    read_words: str
    value: float
    expanded: float
    value_words: str
    conforms: bool


def draw_band(band: Band, what: str) -> str:
    """A value on its line.

    Parameters
    ----------
    band
        What is drawn.
    what
        What it shows, for those who do not see it.

    Returns
    -------
    str
        An SVG document.
    """
    sheet = SumSheet(HEIGHT, what)
    ends = [*band.allowed, band.read, band.value - band.expanded, band.value + band.expanded]
    spread = (max(ends) - min(ends)) * MARGIN
    low, high = min(ends) - spread, max(ends) + spread

    def at(value: float) -> float:
        return LEFT + (WIDTH - 2 * LEFT) * (value - low) / (high - low)

    first, last = (at(value) for value in band.allowed)
    sheet.box(first, LINE_Y - 26, last - first, 26, fill=ink.BAND, colour=ink.FAINT)
    sheet.words((first + last) / 2, LINE_Y - 32, "allowed", anchor="middle", size=SMALL_PX)
    sheet.line(((LEFT, LINE_Y), (WIDTH - LEFT, LINE_Y)))
    for tick in ticks(low, high):
        sheet.line(((at(tick), LINE_Y), (at(tick), LINE_Y + 5)), colour=ink.FAINT, width=1)
        sheet.words(
            at(tick), LINE_Y + 18, f"{tick:g}", anchor="middle", size=SMALL_PX, colour=ink.FAINT
        )
    nominal = at(band.nominal)
    sheet.line(((nominal, LINE_Y - 26), (nominal, LINE_Y)), colour=ink.FAINT, dashed=True)
    sheet.circle(at(band.read), LINE_Y - 13, 4.5)
    _value(
        sheet,
        band,
        at(band.value),
        (at(band.value - band.expanded), at(band.value + band.expanded)),
    )
    for x, words in ((16.0, band.value_words), (WIDTH / 2 + 24, band.read_words)):
        filled = words == band.value_words
        sheet.circle(x, HEIGHT - 17, 4.5, fill=ink.ACCENT if filled else ink.PAPER,
                     colour=ink.ACCENT if filled else ink.INK)  # fmt: skip
        sheet.words(x + 10, HEIGHT - 13, words, size=SMALL_PX)
    sheet.words(WIDTH - LEFT, LINE_Y + 34, band.unit, anchor="end", size=SMALL_PX, colour=ink.FAINT)
    return sheet.svg()


def _value(sheet: SumSheet, band: Band, x: float, bar: tuple[float, float]) -> None:
    y = LINE_Y - 13
    colour = ink.ACCENT if band.conforms else ink.NOT_GOOD
    sheet.line(((bar[0], y), (bar[1], y)), colour=colour, width=2.5)
    for end in bar:
        sheet.line(((end, y - 5), (end, y + 5)), colour=colour, width=2)
    sheet.circle(x, y, 4.5, fill=colour, colour=colour)
    if not band.conforms:
        for way in (-1, 1):
            sheet.line(((x - 9, y - 9 * way), (x + 9, y + 9 * way)), colour=colour, width=1.6)
