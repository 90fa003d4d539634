"""Bars of a few amounts on one axis, against limits that stand upright through them."""

from dataclasses import dataclass
from typing import Final

from needlewright.papers import ink
from needlewright.papers.sums_curve import ticks
from needlewright.papers.sums_sheet import SMALL_PX, WIDTH, SumSheet

LEFT: Final = 16.0
RIGHT: Final = 20.0
HEAD: Final = 74.0
BAR_PX: Final = 16.0
PITCH_PX: Final = 42.0
FOOT: Final = 44.0
LINE_PX: Final = 15.0


@dataclass(frozen=True, slots=True)
class Bars:
    """What is drawn; amounts in one unit."""

    title: str
    axis: str
    last: float
    """End of the axis; what is longer is drawn cut off, with its number."""
    bars: tuple[tuple[str, float, str], ...]
    """Words, amount, the amount in words."""
    limits: tuple[tuple[float, str, bool], ...]
    """Amount, words, whether it is one that must not be passed and is."""


def draw_bars(bars: Bars, what: str) -> str:
    """Bars under each other.

    Parameters
    ----------
    bars
        What is drawn.
    what
        What it shows, for those who do not see it.

    Returns
    -------
    str
        An SVG document.
    """
    floor = HEAD + PITCH_PX * len(bars.bars)
    sheet = SumSheet(floor + FOOT, what)
    sheet.words(LEFT, 18, bars.title, bold=True)

    def at(amount: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * min(amount, bars.last) / bars.last

    for tick in ticks(0.0, bars.last):
        sheet.line(((at(tick), floor), (at(tick), floor + 4)), colour=ink.FAINT, width=1)
        sheet.words(
            at(tick), floor + 17, f"{tick:g}", anchor="middle", size=SMALL_PX, colour=ink.FAINT
        )
    sheet.line(((LEFT, floor), (WIDTH - RIGHT, floor)), colour=ink.FAINT, width=1)
    sheet.words(WIDTH - RIGHT, floor + 34, bars.axis, anchor="end", size=SMALL_PX, colour=ink.FAINT)
    limits = sorted(bars.limits)
    for n, (amount, _, bad) in enumerate(limits):
        ends = ((at(amount), 30.0 + LINE_PX * n), (at(amount), floor))
        sheet.line(ends, colour=_colour(bad), width=1.4, dashed=True)
    for n, (amount, words, bad) in enumerate(limits):
        _limit(sheet, (at(amount), 34.0 + LINE_PX * n), words, bad)
    for n, (words, amount, said) in enumerate(bars.bars):
        top = HEAD + PITCH_PX * n
        sheet.words(LEFT, top + 14, f"{words}: {said}", size=SMALL_PX, halo=True)
        _bar(sheet, top + 20, at(amount), cut=amount > bars.last)
    return sheet.svg()


def _colour(bad: bool) -> str:
    return ink.NOT_GOOD if bad else ink.INK


def _limit(sheet: SumSheet, place: tuple[float, float], words: str, bad: bool) -> None:
    x, top = place
    left = x < WIDTH / 2
    sheet.words(
        x + (5 if left else -5),
        top + 4,
        words,
        anchor="start" if left else "end",
        size=SMALL_PX,
        colour=_colour(bad),
        bold=bad,
        halo=True,
    )


def _bar(sheet: SumSheet, top: float, end: float, *, cut: bool) -> None:
    sheet.box(LEFT, top, max(end - LEFT, 1.0), BAR_PX, fill=ink.ACCENT, colour=ink.ACCENT)
    if cut:
        for shift in (14.0, 20.0):
            x = end - shift
            sheet.line(((x + 4, top - 2), (x - 4, top + BAR_PX + 2)), colour=ink.PAPER, width=3)
