"""Drawings of putting back: battery, alignment, order of fasteners, mileage, the road."""

from needlewright.papers import ink
from needlewright.papers.guide_drawings.shapes import DrawnSheet, arc, arrow, at, label, verdict
from needlewright.papers.sums_sheet import SMALL_PX


def battery() -> DrawnSheet:
    """The negative lead off the battery, and a clock that is waited for."""
    sheet = DrawnSheet("Battery with its negative lead taken off; wait before work at an airbag")
    sheet.box(30, 70, 132, 70, fill=ink.BAND)
    for x, sign in ((56.0, "−"), (136.0, "+")):
        sheet.box(x - 8, 58, 16, 12, fill=ink.PAPER)
        sheet.words(x, 92, sign, anchor="middle", bold=True)
    sheet.line(((136, 58), (150, 34), (186, 30)), width=2.6)
    sheet.line(((40, 30), (16, 26)), width=2.6)
    sheet.circle(48, 32, 8)
    arrow(sheet, (60, 54), (60, 22))
    label(sheet, "first", (72, 36))
    sheet.circle(262, 96, 42, fill=ink.PAPER)
    for deg in range(0, 360, 30):
        sheet.line((at((262, 96), 42, deg), at((262, 96), 36, deg)), width=1.2)
    sheet.line((at((262, 96), 30, 60), (262, 96), at((262, 96), 20, 0)), width=2.2)
    sheet.line(tuple(arc((262, 96), 48, 0, 60)), colour=ink.ACCENT, width=3)
    label(sheet, "wait, then the column", (262, 160), anchor="middle")
    label(sheet, "negative off, kept away", (96, 160), anchor="middle")
    return sheet


def align() -> DrawnSheet:
    """Guides find their places by hand before anything is pressed."""
    sheet = DrawnSheet("A cluster before its opening: guides aligned; one askew")
    for left, good in ((18.0, True), (196.0, False)):
        for x in (left + 24, left + 116):
            sheet.box(x - 12, 96, 8, 30, fill=ink.BAND)
            sheet.box(x + 4, 96, 8, 30, fill=ink.BAND)
        tilt = 0.0 if good else 14.0
        sheet.area(
            (
                (left, 44 + tilt),
                (left + 140, 44 - tilt),
                (left + 140, 72 - tilt),
                (left, 72 + tilt),
            ),
            fill=ink.PAPER,
            colour=ink.INK,
        )
        for x, drop in ((left + 24, tilt * 0.66), (left + 116, -tilt * 0.66)):
            shift = 0 if good else 5
            sheet.box(x - 3 + shift, 72 + drop, 6, 20, fill=ink.PAPER)
        verdict(sheet, left, 22, "finds its place" if good else "askew: no force", good=good)
        label(sheet, "guides in, then press" if good else "take out, look why", (left + 70, 150),
              anchor="middle")  # fmt: skip
    return sheet


def order() -> DrawnSheet:
    """Fasteners started by hand, then crosswise."""
    sheet = DrawnSheet("Four fasteners: all started by hand, then tightened crosswise")
    sheet.box(18, 34, 172, 96, fill=ink.BAND)
    places = {1: (36.0, 50.0), 2: (172.0, 114.0), 3: (172.0, 50.0), 4: (36.0, 114.0)}
    arrow(sheet, (48, 56), (160, 108))
    arrow(sheet, (172, 102), (172, 63))
    arrow(sheet, (160, 56), (48, 108))
    for number, (x, y) in places.items():
        sheet.circle(x, y, 11)
        sheet.words(x, y + 4, str(number), anchor="middle", size=SMALL_PX, bold=True)
    for line, words in enumerate(("all two turns in", "each until it lies", "then tight as said")):
        label(sheet, f"{line + 1}. {words}", (206, 62 + line * 26))
    label(sheet, "crosswise, where the family gives no order", (18, 154))
    return sheet


def mileage() -> DrawnSheet:
    """The odometer read before and after: the same to the last digit."""
    sheet = DrawnSheet("Odometer before and after the work: the same to the last digit")
    for x, words in ((24.0, "before"), (200.0, "after")):
        for n, digit in enumerate("000000"):
            sheet.box(x + n * 22, 64, 22, 34, fill=ink.PAPER)
            sheet.words(x + 11 + n * 22, 87, digit, anchor="middle", bold=True, size=17)
        label(sheet, words, (x + 66, 52), anchor="middle")
    sheet.line(((167, 76), (189, 76)), width=2.4, colour=ink.ACCENT)
    sheet.line(((167, 86), (189, 86)), width=2.4, colour=ink.ACCENT)
    label(sheet, "same, to the last digit", (180, 130), anchor="middle")
    label(sheet, "recorded, never altered", (180, 148), anchor="middle")
    return sheet


def road() -> DrawnSheet:
    """A speedometer beside a speed from satellites: it must not show less."""
    sheet = DrawnSheet("Speedometer beside a satellite speed at steady speed: never less")
    centre = (92.0, 112.0)
    sheet.line(tuple(arc(centre, 72, -110, 110)))
    for deg in range(-110, 111, 22):
        sheet.line((at(centre, 72, deg), at(centre, 63, deg)), width=1.3)
    sheet.line((centre, at(centre, 60, 14)), width=3)
    sheet.circle(*centre, 9, fill=ink.BAND)
    label(sheet, "shown", (92, 150), anchor="middle")
    sheet.words(188, 96, "≥", anchor="middle", bold=True, size=26, colour=ink.ACCENT)
    sheet.box(222, 46, 100, 70, fill=ink.PAPER)
    sheet.words(272, 90, "true", anchor="middle", bold=True, size=20)
    label(sheet, "GNSS speed, or dynamometer", (272, 150), anchor="middle")
    label(sheet, "steady, level, straight", (272, 32), anchor="middle")
    return sheet
