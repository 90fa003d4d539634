"""Drawings of mending: a bridged track, a coating, contacts, a foil, an LED."""

from needlewright.papers import ink
from needlewright.papers.guide_drawings.shapes import (
    COPPER,
    SOLDER,
    DrawnSheet,
    arrow,
    board_section,
    label,
    turn,
    verdict,
)


def bridge() -> DrawnSheet:
    """A short break lapped by bare wire, and a long one round by insulated wire; from above."""
    sheet = DrawnSheet("From above: a short break bridged along the track, a long one by wire")
    sheet.box(14, 34, 150, 110, fill=ink.BAND, colour=ink.FAINT)
    sheet.line(((22, 90), (74, 90)), colour=COPPER, width=13)
    sheet.line(((104, 90), (156, 90)), colour=COPPER, width=13)
    for left in (46.0, 104.0):
        sheet.box(left, 82, 28, 16, fill=SOLDER)
    sheet.line(((44, 90), (134, 90)), width=4)
    label(sheet, "lap twice the width", (89, 132), (118, 99), "middle")
    label(sheet, "bare wire", (89, 56), (89, 88), "middle")
    label(sheet, "short", (89, 24), anchor="middle")
    sheet.box(186, 34, 160, 110, fill=ink.BAND, colour=ink.FAINT)
    for places in (((198, 62), (222, 62)), ((318, 118), (338, 118))):
        sheet.line(places, colour=COPPER, width=8)
    for x, y in ((222.0, 62.0), (318.0, 118.0)):
        sheet.circle(x, y, 9, fill=SOLDER)
        sheet.circle(x, y, 3, fill=ink.PAPER)
    route = ((222, 62), (238, 56), (268, 56), (284, 72), (290, 104), (302, 118), (318, 118))
    sheet.line(route, width=5)
    sheet.line(route, colour=ink.ACCENT, width=2.6)
    for x, y in ((253.0, 56.0), (287.0, 88.0)):
        sheet.box(x - 6, y - 6, 12, 12, fill=ink.PAPER)
    sheet.circle(246, 102, 14, fill=ink.PAPER)
    label(sheet, "glued", (306, 60), (259, 56))
    label(sheet, "round a boss", (246, 136), (246, 118), "middle")
    label(sheet, "long: joint to joint", (266, 24), anchor="middle")
    return sheet


def coating() -> DrawnSheet:
    """A coated board in section: a window round a joint, masked contacts, the new coat lapped."""
    sheet = DrawnSheet("Section of a coated board: a window at a joint; coated anew, lapped over")
    for x, anew in ((92.0, False), (268.0, True)):
        board_section(sheet, x - 76, x + 76, 104, 14)
        sheet.box(x - 14, 78, 28, 26, fill=ink.BAND)
        for side in (-1, 1):
            foot = (
                (x + side * 14, 84),
                (x + side * 20, 97),
                (x + side * 30, 103),
                (x + side * 14, 103),
            )
            sheet.area(foot, fill=SOLDER, colour=ink.INK, width=1.1)
        sheet.line(((x - 74, 101), (x - 38, 101)), colour=ink.ACCENT, width=4)
        sheet.line(((x + 38, 101), (x + 50, 101)), colour=ink.ACCENT, width=4)
        sheet.line(((x + 56, 101), (x + 72, 101)), colour=COPPER, width=4)
        if anew:
            new = (
                (x - 54, 97), (x - 34, 97), (x - 20, 80), (x - 16, 73), (x + 16, 73), (x + 20, 80),
                (x + 34, 97), (x + 50, 97),
            )  # fmt: skip
            sheet.line(new, colour=ink.ACCENT, width=3)
            sheet.box(x + 54, 84, 20, 14, fill=ink.PAPER)
    label(sheet, "only a window", (92, 62), anchor="middle")
    label(sheet, "old coat", (34, 82), (40, 98), "middle")
    label(sheet, "contact, bare", (112, 146), (152, 106), "middle")
    label(sheet, "lapped over the old", (216, 146), (220, 101), "middle")
    label(sheet, "masked", (350, 66), (332, 84), "end")
    label(sheet, "two thin coats", (268, 50), (268, 71), "middle")
    return sheet


def contacts() -> DrawnSheet:
    """A row of pins: sound, pushed back, bent; and a socket that holds its test pin or lets go."""
    sheet = DrawnSheet("A row of pins, one pushed back and one bent; a socket that holds a pin")
    sheet.box(20, 92, 150, 30, fill=ink.BAND)
    for n in range(5):
        x = 38.0 + n * 28
        if n == 3:
            sheet.line(((x, 92), (x, 66), (x + 14, 46)), width=6)
            sheet.line(((x, 92), (x, 66), (x + 14, 46)), colour=SOLDER, width=3.4)
            continue
        top = 72.0 if n == 1 else 44.0
        sheet.box(x - 3, top, 6, 92 - top, fill=SOLDER)
    sheet.line(((22, 44), (168, 44)), colour=ink.FAINT, width=0.9, dashed=True)
    verdict(sheet, 32, 30, "in line", good=True)
    label(sheet, "pushed back", (66, 146), (66, 124), "middle")
    label(sheet, "bent", (130, 146), (126, 124), "middle")
    for x, holds in ((228.0, True), (312.0, False)):
        gap = 4.0 if holds else 10.0
        for side in (-1, 1):
            spring = (
                (x + side * 20, 118),
                (x + side * 20, 74),
                (x + side * gap, 86),
                (x + side * 16, 102),
            )
            sheet.line(spring, width=3)
        foot = 100.0 if holds else 92.0
        sheet.box(x - 3, 40, 6, foot - 40, fill=SOLDER)
        if not holds:
            arrow(sheet, (x, 112), (x, 136))
        verdict(sheet, x - 34, 30, "holds" if holds else "falls", good=holds)
    label(sheet, "test pin in a socket", (270, 156), anchor="middle")
    return sheet


def foil() -> DrawnSheet:
    """A flexible foil: light behind it shows the break; the mend lies off the bend under film."""
    sheet = DrawnSheet("A foil lit from behind, its track broken; the mend off the bend, film over")
    sheet.area(((20, 58), (156, 58), (156, 112), (20, 112)), fill=ink.PAPER, colour=ink.INK)
    for y in (70.0, 100.0):
        sheet.line(((24, y), (152, y)), colour=COPPER, width=5)
    sheet.line(((24, 85), (82, 85)), colour=COPPER, width=5)
    sheet.line(((92, 85), (152, 85)), colour=COPPER, width=5)
    sheet.line(((84, 78), (90, 92)), colour=ink.NOT_GOOD, width=2.2)
    for x in (44.0, 88.0, 132.0):
        arrow(sheet, (x, 144), (x, 118))
    label(sheet, "light from behind", (88, 160), anchor="middle")
    label(sheet, "break", (116, 44), (89, 80))
    sheet.line(((196, 118), (276, 118), (300, 112), (312, 92), (312, 52)), width=6)
    sheet.line(((196, 118), (276, 118), (300, 112), (312, 92), (312, 52)), colour=COPPER, width=2.4)
    sheet.box(214, 106, 44, 8, fill=SOLDER)
    sheet.line(((204, 102), (268, 102)), colour=ink.ACCENT, width=2.6)
    sheet.line(((204, 126), (268, 126)), colour=ink.ACCENT, width=2.6)
    sheet.circle(288, 84, 14, fill=ink.BAND)
    turn(sheet, (288, 84), 34, 60, 130)
    label(sheet, "mend, film on both sides", (200, 150), (236, 128))
    label(sheet, "bend stays here", (286, 40), (292, 70), "middle")
    return sheet


def led() -> DrawnSheet:
    """An LED from above with its cathode's mark, from the side on its pads, and its row."""
    sheet = DrawnSheet("An LED from above with its cathode's mark, flat on its pads, and its row")
    sheet.box(24, 46, 76, 52, fill=ink.PAPER)
    sheet.circle(62, 72, 20, fill=ink.BAND)
    sheet.area(((24, 46), (40, 46), (24, 62)), fill=ink.ACCENT, colour=ink.INK)
    label(sheet, "cathode's mark", (24, 32), (30, 50))
    label(sheet, "from above", (62, 120), anchor="middle")
    board_section(sheet, 122, 214, 92, 12)
    sheet.box(146, 66, 44, 22, fill=ink.PAPER)
    sheet.area(((154, 66), (158, 56), (178, 56), (182, 66)), fill=ink.BAND, colour=ink.INK)
    for side in (-1, 1):
        near, far = 168 + side * 22, 168 + side * 36
        sheet.area(((near, 78), (far, 91), (near, 91)), fill=SOLDER, colour=ink.INK, width=1.1)
    label(sheet, "flat, both feet", (168, 120), anchor="middle")
    sheet.line(((236, 72), (346, 72)), width=1.8)
    sheet.box(242, 64, 26, 16, fill=ink.BAND)
    for n, x in enumerate((282.0, 306.0, 330.0)):
        sheet.area(((x, 63), (x, 81), (x + 12, 72)), fill=ink.PAPER, colour=ink.INK)
        sheet.line(((x + 13, 63), (x + 13, 81)), width=2)
        if n == 1:
            sheet.line(((x - 4, 56), (x + 18, 88)), colour=ink.NOT_GOOD, width=2.2)
    label(sheet, "+", (232, 62))
    label(sheet, "one open: all dark", (292, 120), (312, 90), "middle")
    label(sheet, "resistor", (255, 50), (255, 63), "middle")
    return sheet
