"""Small circuits of the sums: a supply, resistors, and what they feed, each with its voltage."""

from dataclasses import dataclass
from typing import Final

from needlewright.papers import ink
from needlewright.papers.sums_sheet import SMALL_PX, WIDTH, SumSheet

HEIGHT: Final = 134.0
WIRE_Y: Final = 72.0
FROM_X: Final = 18.0
TO_X: Final = WIDTH - 18.0
RESISTOR: Final = (64.0, 20.0)
SHOWN_LEDS: Final = 4
BRANCH_PX: Final = 34.0


@dataclass(frozen=True, slots=True)
class LedCircuit:
    """A supply, a resistor and LEDs in a row; all in words."""

    supply: str
    current: str
    resistor: tuple[str, str]
    """Its value, and the voltage across it."""
    leds: tuple[str, str]
    """Each, and all of them."""
    count: int
    dark: bool


@dataclass(frozen=True, slots=True)
class FilamentCircuit:
    """A supply, resistors side by side and a filament; all in words."""

    supply: str
    resistor: str
    count: int
    crack: str
    """Empty: there is none."""
    crack_in_all: bool
    filament: tuple[str, str]
    """Its voltage and its current."""


def draw_leds(sheet: SumSheet, circuit: LedCircuit) -> None:
    """The circuit of LEDs with their resistor, at the top of a sheet."""
    y = WIRE_Y
    _supply(sheet, circuit.supply)
    width, _ = RESISTOR
    left = 98.0
    sheet.line(((FROM_X, y), (left, y)))
    _arrow(sheet, 60.0, y)
    sheet.words(FROM_X - 4, y + 24, circuit.current, size=SMALL_PX, bold=True)
    _resistor(sheet, left, y)
    sheet.words(left + width / 2, y - 18, circuit.resistor[0], anchor="middle", bold=True)
    sheet.words(left + width / 2, y + 42, circuit.resistor[1], anchor="middle", size=SMALL_PX)
    first, last = left + width + 16, TO_X - 16
    sheet.line(((left + width, y), (TO_X, y)))
    shown = min(circuit.count, SHOWN_LEDS)
    middle = (first + last) / 2
    places = [middle + (n - (shown - 1) / 2) * 38 for n in range(shown)]
    for n, x in enumerate(places):
        if circuit.count > SHOWN_LEDS and n == SHOWN_LEDS - 2:
            sheet.box(x - 14, y - 8, 28, 16, fill=ink.PAPER, colour=ink.PAPER)
            sheet.words(x, y + 4, "…", anchor="middle", bold=True)
        else:
            _led(sheet, x, y, dark=circuit.dark)
    sheet.words(middle, y - 26, circuit.leds[0], anchor="middle", bold=True)
    sheet.words(middle, y + 42, circuit.leds[1], anchor="middle", size=SMALL_PX)
    _ground(sheet)


def draw_filament(sheet: SumSheet, circuit: FilamentCircuit) -> None:
    """The circuit of a filament behind its resistors, at the top of a sheet."""
    y = WIRE_Y
    _supply(sheet, circuit.supply)
    shown = min(circuit.count, 2)
    ways = [y] if shown == 1 else [y - BRANCH_PX / 2, y + BRANCH_PX / 2]
    left, right = 96.0, 208.0
    width, _ = RESISTOR
    sheet.line(((FROM_X, y), (left, y)))
    sheet.line(((right, y), (TO_X, y)))
    if shown == 2:
        for x in (left, right):
            sheet.line(((x, ways[0]), (x, ways[1])))
    for way in ways:
        sheet.line(((left, way), (right, way)))
        _resistor(sheet, left + 8, way)
    middle = left + 8 + width / 2
    more = f"{circuit.count} × " if circuit.count > 1 else ""
    sheet.words(middle, ways[0] - 18, f"{more}{circuit.resistor}", anchor="middle", bold=True)
    if circuit.crack:
        at = (64.0, y) if circuit.crack_in_all else (left + width + 26, ways[-1])
        _crack(sheet, *at)
        sheet.words(
            middle,
            ways[-1] + 28,
            circuit.crack,
            anchor="middle",
            bold=True,
            colour=ink.NOT_GOOD,
        )
    _filament(sheet, 268.0, y)
    sheet.words(268.0, y - 32, circuit.filament[0], anchor="middle", bold=True)
    sheet.words(268.0, y + 42, circuit.filament[1], anchor="middle", size=SMALL_PX)
    _ground(sheet)


def _supply(sheet: SumSheet, words: str) -> None:
    sheet.circle(FROM_X, WIRE_Y, 4)
    sheet.words(FROM_X - 4, WIRE_Y - 18, words, bold=True)


def _ground(sheet: SumSheet) -> None:
    x, y = TO_X, WIRE_Y
    sheet.line(((x, y), (x, y + 22)))
    for n, half in enumerate((10, 6, 2)):
        sheet.line(((x - half, y + 22 + 4 * n), (x + half, y + 22 + 4 * n)))


def _resistor(sheet: SumSheet, x: float, y: float) -> None:
    width, height = RESISTOR
    sheet.box(x, y - height / 2, width, height)


def _arrow(sheet: SumSheet, x: float, y: float) -> None:
    sheet.area(((x + 7, y), (x - 3, y - 5), (x - 3, y + 5)), fill=ink.INK, colour=ink.INK)


def _led(sheet: SumSheet, x: float, y: float, *, dark: bool) -> None:
    fill = ink.PAPER if dark else ink.BAND
    sheet.area(((x - 8, y - 9), (x - 8, y + 9), (x + 7, y)), fill=fill, colour=ink.INK)
    sheet.line(((x + 7, y - 9), (x + 7, y + 9)))
    if dark:
        sheet.line(((x - 11, y - 13), (x + 11, y + 13)), colour=ink.NOT_GOOD, width=2)
        return
    for shift in (0, 7):
        tip = (x + 6 + shift, y - 20)
        sheet.line(((x + shift, y - 12), tip), width=1.2)
        sheet.line(((tip[0] - 4, tip[1] + 1), tip, (tip[0], tip[1] + 5)), width=1.2)


def _filament(sheet: SumSheet, x: float, y: float) -> None:
    sheet.circle(x, y, 20)
    sheet.line(
        ((x - 20, y), (x - 9, y), (x - 5, y - 8), (x + 1, y + 8), (x + 7, y - 8), (x + 9, y),
         (x + 20, y)),
        colour=ink.ACCENT,
        width=2,
    )  # fmt: skip


def _crack(sheet: SumSheet, x: float, y: float) -> None:
    sheet.line(((x - 5, y), (x + 5, y)), colour=ink.PAPER, width=5)
    sheet.line(
        ((x - 2, y - 11), (x + 3, y - 3), (x - 3, y + 3), (x + 2, y + 11)),
        colour=ink.NOT_GOOD,
        width=2.2,
    )
